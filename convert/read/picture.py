"""Reading a maker's picture: any file Pillow opens becomes linear light, the right way up.

What happens, in this order, and why:

1. The file is read whole and recognised. Drawings in lines, documents and the like are named for
   what they are; the size in the header is judged before a single pixel is decoded.
2. A JPEG is decoded at a half, a quarter or an eighth where there is far more of it than is used.
   The decoder averages in code values, not in light, so it is only trusted with the factor that
   leaves at least another two by two to be averaged properly. For a photograph of 12 megapixels
   the colour of no patch of 40 × 40 stored pixels then strays by more than ΔE00 0.1, for soft
   pencil hatching by 1.4 (decoding at a quarter outright: 0.3 and 5.8).
3. Strip by strip, colours go through the embedded profile to sRGB, from there to linear light, and
   blocks of pixels are averaged in linear light, weighted by their opacity.
4. The result is turned as the file's orientation tag says.

Nothing here keeps state or writes; the result is plain arrays, so it can be made in another process
and handed over.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import math
import re
import sys
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ...core.arrays import Float32Array
from ...core.bounds import most
from ...core.errors import HimotifError
from ...core.findings import Code, Finding
from ...core.names import readable
from ...core.srgb import decode_srgb, srgb_to_linear
from .svg import svg_png

if TYPE_CHECKING:
    from PIL import Image as PillowImage

LinearStrip = tuple[Float32Array, Float32Array | None]
"""Linear light (h, w, 3) and opacity (h, w) of a few rows; None where all is opaque."""

if TYPE_CHECKING:
    _StripReader = Callable[[PillowImage.Image, PillowImage.Image | None], LinearStrip]
    """From a few rows, and the lower eight bits of those that have sixteen."""

_Found = tuple[Code, dict[str, Any]]
"""A finding about a file, without its name."""

PIXEL_LIMIT = most("picture_px")
"""Pictures of more pixels are refused before they are decoded: above the largest common camera,
12,000 × 9,000. Pillow refuses more than some 178 million by itself."""

MOST_PX = 1200
"""Longest stored side: a hundred pixels and more across a bead of the widest design."""

_MOST_BYTES = 512 * 1024 * 1024
"""Of a file: 120 million pixels of four bytes, not compressed."""

_STRIP_PX = 1 << 18  # pixels worked on at a time: small enough to stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture in linear light, the right way up, no larger than is of use.

    Attributes
    ----------
    name : str
        What to call the picture in messages and in the design.
    sha256 : str
        Of the file's bytes, in hexadecimal.
    size_px : (int, int)
        Width and height of the whole original, the right way up.
    linear : (h, w, 3) float32 array
        Linear-light sRGB, 0 to 1, not premultiplied; zero where nothing is opaque. Weight it with
        `alpha` when averaging.
    alpha : (h, w) float32 array
        0 transparent, 1 opaque.
    scale : float
        Stored pixels per original pixel, the same along both axes; 1 divided by a whole number.
        Where the original is no multiple of that number the block at one edge is smaller, so a
        place may be off by less than one stored pixel in a reduced picture, never in a small one.
    findings : tuple of Finding
        What a maker should know about how the picture was read.
    from_sheet : bool
        Whether it is the drawing on a photographed sheet of paper, straightened and evenly lit; its
        size and pixels are those of the drawing.
    """

    name: str
    sha256: str
    size_px: tuple[int, int]
    linear: Float32Array
    alpha: Float32Array
    scale: float
    findings: tuple[Finding, ...] = ()
    from_sheet: bool = False


def read_picture(
    source: str | Path | bytes,
    name: str | None = None,
    most_px: int = MOST_PX,
) -> Picture:
    """Read a picture file into linear light.

    Parameters
    ----------
    source : str, Path or bytes
        A file, ``"-"`` for standard input, or the bytes of a file.
    name : str, optional
        What to call it; by default the name of the file.
    most_px : int
        Longest stored side. Smaller pictures are kept pixel by pixel.

    Raises
    ------
    HimotifError
        The file is missing, is no picture, is damaged, or is too large; one message that says
        which, and what to do.
    """
    data, found_name = _read_bytes(source)
    name = readable(name or found_name)
    if not data:
        raise HimotifError(f"{name}: the file is empty. Save or copy the picture again.")
    _refuse_other_kinds(data, name)
    shown = svg_png(data, name, most_px) if _is_svg(data) else data
    with warnings.catch_warnings():
        # Pillow warns of odd metadata and of large pictures; makers can change neither.
        warnings.simplefilter("ignore")
        picture = _decode(shown, name, most_px)
    return picture if shown is data else replace(picture, sha256=hashlib.sha256(data).hexdigest())


# --- the file ------------------------------------------------------------------------------------


def _read_bytes(source: str | Path | bytes) -> tuple[bytes, str]:
    """Read the whole file, and say what to call it."""
    if isinstance(source, bytes):
        return source, "the picture"
    if source == "-":
        return _within_limit(sys.stdin.buffer.read(_MOST_BYTES + 1), "standard input")
    path = Path(source)
    try:
        with path.open("rb") as file:
            return _within_limit(file.read(_MOST_BYTES + 1), path.name)
    except FileNotFoundError:
        why = "there is no such file. Check the spelling and the folder."
    except IsADirectoryError:
        why = "this is a folder. Name the picture inside it."
    except PermissionError:
        why = (
            "this is a folder. Name the picture inside it."
            if path.is_dir()
            else "this file may not be read. Change its permissions or copy it elsewhere."
        )
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        why = f"the file cannot be read ({reason}). Check the name, or copy it elsewhere."
    raise HimotifError(f"{source}: {why}")


def _within_limit(data: bytes, name: str) -> tuple[bytes, str]:
    if len(data) > _MOST_BYTES:
        raise HimotifError(
            f"{name}: the file is larger than {_MOST_BYTES // 1024**2} MB. "
            "Save a smaller copy as JPEG or PNG."
        )
    return data, name


_DRAWING = "Export it as PNG, about 1000 pixels on its longer side."
_PHOTO = "Save or export it as JPEG or PNG."
_HEIF_PHOTO = "Save or export it as JPEG, or add what reads it: pip install pillow-heif."

_OTHER_KINDS: tuple[tuple[bytes, str, str], ...] = (
    (b"%PDF-", "a PDF document", "Export the page with the motif as PNG."),
    (b"%!PS", "a PostScript drawing", _DRAWING),
    (b"\xc5\xd0\xd3\xc6", "a PostScript drawing", _DRAWING),
    (b"\xd7\xcd\xc6\x9a", "a Windows metafile drawing", _DRAWING),
    (b"\xff\x0a", "a JPEG XL picture, which cannot be read here", _PHOTO),
    (b"\0\0\0\x0cJXL ", "a JPEG XL picture, which cannot be read here", _PHOTO),
    (b"PK\x03\x04", "a ZIP archive or an office document", "Take the picture out of it first."),
    (b"\x1f\x8b", "a compressed file", "Unpack it first."),
    (b"Rar!\x1a\x07", "an archive", "Unpack it first."),
    (b"7z\xbc\xaf\x27\x1c", "an archive", "Unpack it first."),
    (b"{\\rtf", "a text document", "Save the picture in it as PNG."),
    (b"\x1aE\xdf\xa3", "a film", "Save one picture of it as PNG."),
)
"""First bytes of files that are not pictures in pixels, what they are, and what to do."""

_PICTURE_STARTS = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"II*\0", b"MM\0*", b"RIFF", b"BM")

_HEIF = {b"heic", b"heix", b"hevc", b"heim", b"mif1", b"msf1"}

_CONTAINER_BRANDS = {
    b"heic": "a HEIC photograph, which cannot be read here",
    b"heix": "a HEIC photograph, which cannot be read here",
    b"hevc": "a HEIC photograph, which cannot be read here",
    b"heim": "a HEIC photograph, which cannot be read here",
    b"mif1": "a HEIF photograph, which cannot be read here",
    b"msf1": "a HEIF photograph, which cannot be read here",
    b"crx ": "a raw camera file, which cannot be read here",
}


def _reads_heif() -> bool:
    """Whether the library for HEIF is there; Pillow then reads such files."""
    try:
        from pillow_heif import register_heif_opener
    except ImportError:
        return False
    register_heif_opener()
    return True


def _refuse_other_kinds(data: bytes, name: str) -> None:
    """Name what was given by mistake. No program that draws such files is ever started."""
    for start, what, remedy in _OTHER_KINDS:
        if data.startswith(start):
            raise HimotifError(f"{name}: this is {what}. {remedy}")
    if data[4:8] == b"ftyp":
        brands = {data[8:12]} | {data[k : k + 4] for k in range(16, 64, 4)}
        if data[8:12] in _CONTAINER_BRANDS and not brands & {b"avif", b"avis"}:
            if _HEIF & brands and _reads_heif():
                return
            to_do = _HEIF_PHOTO if _HEIF & brands else _PHOTO
            raise HimotifError(f"{name}: this is {_CONTAINER_BRANDS[data[8:12]]}. {to_do}")
        if not brands & {b"avif", b"avis"}:
            raise HimotifError(f"{name}: this is a film. Save one picture of it as PNG.")
    if data[:4] == b"\1\0\0\0" and data[40:44] == b" EMF":
        raise HimotifError(f"{name}: this is a Windows metafile drawing. {_DRAWING}")
    text = _markup(data)
    page = min((text.find(b) for b in (b"<html", b"<!doctype html") if b in text), default=-1)
    if page >= 0 and b"<svg" not in text[:page]:
        raise HimotifError(
            f"{name}: this is a web page, not the picture on it. Save the picture itself."
        )


def _markup(data: bytes) -> bytes:
    """The beginning of a file of markup, in small letters; nothing of any other."""
    text = data[:2048].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").lower()
    return text if text.startswith(b"<") else b""


def _is_svg(data: bytes) -> bool:
    return b"<svg" in _markup(data)


# --- decoding ------------------------------------------------------------------------------------


def _decode(data: bytes, name: str, most_px: int) -> Picture:
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(data)) as image:
            return _from_open(image, data, name, most_px)
    except HimotifError:
        raise
    except UnidentifiedImageError as error:
        what = "this is not a picture that can be read. Save it as PNG or JPEG."
        if data.startswith(_PICTURE_STARTS):
            what = _what_broke(error)
        raise HimotifError(f"{name}: {what}") from None
    except Image.DecompressionBombError:
        limit = min(PIXEL_LIMIT, 2 * (Image.MAX_IMAGE_PIXELS or PIXEL_LIMIT))
        raise _too_large(name, f"more than {limit:,} pixels", limit) from None
    except MemoryError:
        raise HimotifError(
            f"{name}: the picture does not fit into memory. Save a smaller copy of it."
        ) from None
    except Exception as error:
        # Decoders meet hostile and broken bytes with every kind of exception.
        raise HimotifError(f"{name}: {_what_broke(error)}") from None


def _what_broke(error: Exception) -> str:
    text = str(error).lower()
    if isinstance(error, EOFError) or "truncated" in text or "not enough" in text:
        return "the picture breaks off before its end. Copy or download it once more."
    return (
        "the picture is damaged, cut short or of a kind that cannot be read. Copy it once more, "
        "or open it in a picture program and save it again as PNG or JPEG."
    )


def _too_large(name: str, how_large: str, limit: int) -> HimotifError:
    return HimotifError(
        f"{name}: the picture has {how_large}; at most {limit:,} are read. "
        "Save a smaller copy of it: 2000 pixels on the longer side are plenty."
    )


def _from_open(image: PillowImage.Image, data: bytes, name: str, most_px: int) -> Picture:
    width, height = image.size
    if width < 1 or height < 1:
        raise HimotifError(f"{name}: the picture has no pixels. Save it again.")
    if width * height > PIXEL_LIMIT:
        raise _too_large(name, f"{width:,} × {height:,} = {width * height:,} pixels", PIXEL_LIMIT)
    low = _low_bytes(image, data)
    drafted, block = _load_small(image, most_px)
    if drafted == 1:
        width, height = image.size  # a TIFF turns itself when it is loaded
    orientation = _orientation(image)
    if orientation >= 5:
        width, height = height, width

    to_linear, found = _strip_reader(image)
    linear, alpha = _reduce(image, to_linear, block, low)
    return Picture(
        name=name,
        sha256=hashlib.sha256(data).hexdigest(),
        size_px=(width, height),
        linear=_turned(linear, orientation),
        alpha=_turned(alpha, orientation),
        scale=1.0 / (drafted * block),
        findings=tuple(
            Finding(code, {"file": name, **data})
            for code, data in (*_frames_left_out(image), *found)
        ),
    )


_DEEP = re.compile(r"RGBA?;16[BLN]")
"""Pillow's names for colours of sixteen bits, by the byte that comes first; N is the machine's."""


def _low_bytes(image: PillowImage.Image, data: bytes) -> PillowImage.Image | None:
    """Return the lower eight bits of the values of a picture with sixteen, None of any other.

    Pillow keeps the upper eight. Read as if the other byte came first, the file gives the lower.
    """
    from PIL import Image

    other = {"B": "L", "L": "B", "N": "B" if sys.byteorder == "little" else "L"}
    turned = []
    for codec, extents, offset, args in getattr(image, "tile", ()):
        mode, *more = args if isinstance(args, tuple) else (args,)
        if not isinstance(mode, str) or not _DEEP.fullmatch(mode):
            return None
        mode = mode[:-1] + other[mode[-1]]
        turned.append((codec, extents, offset, (mode, *more) if more else mode))
    if not turned:
        return None
    low: Any = Image.open(io.BytesIO(data))
    low.tile = [
        old._replace(args=new[3]) if hasattr(old, "_replace") else new
        for old, new in zip(low.tile, turned, strict=True)
    ]
    low.load()
    return low if isinstance(low, Image.Image) and low.mode in ("RGB", "RGBA") else None


def _load_small(image: PillowImage.Image, most_px: int) -> tuple[int, int]:
    """Decode, and return the factors: of the decoder's own reduction, and still to be averaged."""
    wanted = math.ceil(max(image.size) / most_px)
    drafted = 1
    if wanted >= 4:
        original_width = image.width
        target = (max(1, 2 * image.width // wanted), max(1, 2 * image.height // wanted))
        drawn = image.draft(None, target)
        if drawn is not None:
            drafted = round(original_width / drawn[1][2])
    image.load()
    return drafted, math.ceil(wanted / drafted)


def _frames_left_out(image: PillowImage.Image) -> Iterator[_Found]:
    """Yield that a file holds more pictures than the one that is used."""
    if image.format in {"MPO", "PSD", "ICO", "ICNS"}:
        return  # a camera's previews, layers and sizes of one and the same picture
    several = False
    with contextlib.suppress(Exception):  # a broken second frame is none
        several = bool(getattr(image, "is_animated", False))
    if several and image.format == "TIFF":
        yield Code.PICTURE_PAGES, {}
    elif several:
        yield Code.PICTURE_ANIMATED, {}


def _orientation(image: PillowImage.Image) -> int:
    """Return the orientation tag, 1 to 8; 1 where it is missing or makes no sense."""
    with contextlib.suppress(Exception):  # broken metadata must not cost the picture
        tag = image.getexif().get(0x0112)
        if isinstance(tag, int) and 1 <= tag <= 8:
            return tag
    return 1


def _turned(array: Float32Array, orientation: int) -> Float32Array:
    """Turn rows and columns as the orientation tag says (Exif 2.3, tag 274).

    The tag names the visual sides that row 0 and column 0 of the file lie on: 1 top left, 2 top
    right, 3 bottom right, 4 bottom left, 5 left top, 6 right top, 7 right bottom, 8 left bottom.
    """
    if orientation >= 5:
        array = array.swapaxes(0, 1)
    if orientation in (3, 4, 7, 8):
        array = array[::-1]
    if orientation in (2, 3, 6, 7):
        array = array[:, ::-1]
    return np.ascontiguousarray(array)


# --- averaging in linear light -------------------------------------------------------------------


def _reduce(
    image: PillowImage.Image, to_linear: _StripReader, block: int, low: PillowImage.Image | None
) -> tuple[Float32Array, Float32Array]:
    """Average blocks of `block` × `block` pixels, weighted by opacity, strip by strip."""
    width, height = image.size
    rows = block * max(1, _STRIP_PX // (width * block))
    linear = np.empty((-(-height // block), -(-width // block), 3), np.float32)
    alpha = np.ones(linear.shape[:2], np.float32)
    for top in range(0, height, rows):
        bottom = min(top + rows, height)
        box = (0, top, width, bottom)
        light, opacity = to_linear(image.crop(box), None if low is None else low.crop(box))
        here = slice(top // block, -(-bottom // block))
        if opacity is None:
            linear[here] = _block_means(light, block)
        else:
            alpha[here] = _block_means(opacity, block)
            weighted = _block_means(light * opacity[..., None], block)
            linear[here] = weighted / np.maximum(alpha[here], 1e-6)[..., None]
    return linear, alpha


def _block_means(values: Float32Array, block: int) -> Float32Array:
    """Average blocks; the last ones are smaller where the size is no multiple of `block`."""
    for axis in (0, 1):
        lines = np.moveaxis(values, axis, 0)
        total = lines[::block].copy()
        for k in range(1, block):
            part = lines[k::block]
            total[: len(part)] += part
        total[: len(lines) // block] /= np.float32(block)
        total[len(lines) // block :] /= np.float32(len(lines) % block or 1)
        values = np.moveaxis(total, 0, axis)
    return values


# --- colours -------------------------------------------------------------------------------------


def _strip_reader(image: PillowImage.Image) -> tuple[_StripReader, list[_Found]]:
    """Choose how rows of this picture become linear light, and find what a maker should know."""
    found: list[_Found] = []
    deep = image.mode[0] in "IF"  # grey with more than eight bits
    profile = image.info.get("icc_profile")
    if deep and (image.mode == "F" or not profile):
        read_grey = _deep_grey_reader(image, found)
        return lambda strip, low: read_grey(strip), found
    to_srgb = _srgb_converter("L" if deep else image.mode, profile, found)

    def read(strip: PillowImage.Image, low: PillowImage.Image | None) -> LinearStrip:
        alpha = _opacity(strip)
        strip.info.pop("transparency", None)
        if low is None or to_srgb is not _as_rgb:  # profiles are applied to eight bits
            codes = to_srgb(_eight_bit_grey(strip) if deep else strip)
            return srgb_to_linear(np.asarray(codes)), alpha
        full = np.asarray(strip, np.float32) * 256 + np.asarray(low, np.float32)
        full /= np.float32(65535)
        return decode_srgb(full[..., :3]), full[..., 3] if full.shape[2] == 4 else alpha

    return read, found


def _as_rgb(strip: PillowImage.Image) -> PillowImage.Image:
    return strip.convert("RGB")


def _opacity(strip: PillowImage.Image) -> Float32Array | None:
    """Return 0 (transparent) to 1, from an alpha channel or from the value that stands for it."""
    key = strip.info.get("transparency")
    if strip.mode[0] in "IF":
        return (np.asarray(strip) != key).astype(np.float32) if isinstance(key, int) else None
    if strip.mode in ("RGBA", "LA", "PA"):
        channel = strip.getchannel("A")
    elif key is not None and strip.mode in ("1", "L", "P", "RGB"):
        channel = strip.convert("RGBA").getchannel("A")
    else:
        return None
    return np.asarray(channel, np.float32) / np.float32(255)


def _srgb_converter(
    mode: str, profile: bytes | None, found: list[_Found]
) -> Callable[[PillowImage.Image], PillowImage.Image]:
    """Return what turns rows of this mode into sRGB, by their colour profile where it is sound."""
    if mode == "LAB" or profile:
        try:
            return _profile_converter(mode, profile)
        except (OSError, ValueError, TypeError):
            found.append((Code.PICTURE_PROFILE, {}))
    elif mode == "CMYK":
        found.append((Code.PICTURE_INKS, {}))
    return _as_rgb


def _profile_converter(
    mode: str, profile: bytes | None
) -> Callable[[PillowImage.Image], PillowImage.Image]:
    from PIL import Image, ImageCms

    if mode == "LAB":
        source, inks = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")), "LAB"
    else:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile or b""))
        space = source.profile.xcolor_space.strip()
        inks = {"GRAY": "L", "CMYK": "CMYK"}.get(space, "RGB")
        if (mode == "CMYK") != (inks == "CMYK") or (inks == "L" and mode[0] not in "1L"):
            raise ValueError("the profile is for another kind of picture")
    transform = ImageCms.ImageCmsTransform(
        source,
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")),
        inks,
        "RGB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    if inks == "RGB":
        codes = np.mgrid[0:256:15, 0:256:15, 0:256:15].reshape(3, 1, -1).transpose(1, 2, 0)
        probe = Image.fromarray(np.ascontiguousarray(codes, np.uint8))
        if np.abs(np.asarray(transform.apply(probe), np.int16) - codes).max() <= 1:
            return _as_rgb  # sRGB under another name: save the time
    return lambda strip: transform.apply(strip if strip.mode == inks else strip.convert(inks))


# --- grey with more than eight bits --------------------------------------------------------------


def _eight_bit_grey(strip: PillowImage.Image) -> PillowImage.Image:
    from PIL import Image

    codes = np.clip(np.asarray(strip, np.float32) / 257 + 0.5, 0, 255)
    return Image.fromarray(codes.astype(np.uint8))


def _deep_grey_reader(
    image: PillowImage.Image, found: list[_Found]
) -> Callable[[PillowImage.Image], LinearStrip]:
    """Read whole numbers as sRGB values of 16 bits, floating-point values as linear light."""
    floating = image.mode == "F"
    white = _white(image)
    if floating:
        found.append((Code.PICTURE_LINEAR, {"white": white}))
    negative = image.format == "TIFF" and _tiff_tag(image, 262) == 0

    def read(strip: PillowImage.Image) -> LinearStrip:
        grey = np.nan_to_num(np.asarray(strip, np.float32), posinf=white) / np.float32(white)
        grey = np.clip(1 - grey if negative else grey, 0, 1)
        light = grey if floating else decode_srgb(grey)
        return np.repeat(light[..., None], 3, axis=2), _opacity(strip)

    return read


def _white(image: PillowImage.Image) -> float:
    """Return the value that means white: what the format says, or the largest where it is more."""
    values = np.asarray(image)
    largest = float(np.max(values, initial=0, where=np.isfinite(values)))
    if image.mode == "F":
        return max(1.0, largest)
    bits = _tiff_tag(image, 258) if image.format == "TIFF" else None
    return max(4095.0 if bits == 12 else 65535.0, largest)


def _tiff_tag(image: PillowImage.Image, tag: int) -> int | None:
    value = getattr(image, "tag_v2", {}).get(tag)
    value = value[0] if isinstance(value, tuple) and value else value
    return value if isinstance(value, int) else None
