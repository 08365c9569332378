"""A sheet of paper photographed on a table: found, straightened, evenly lit, its paper white.

1. *Photograph*: much of a drawing made on a screen has exactly one colour, hardly anything of a
   photograph has. Only a photograph is looked at further.
2. *Sheet*: the best quadrilateral that edges suggest (`sheet_sides`) with paper inside.
3. *Straight*: the homography of its corners; its proportions follow from the perspective.
4. *Light*: paper is white whatever the lamp, shadows are gone (`sheet_light`).
5. *Grain*: strokes of wax and lead become areas of one colour.

`tests/benchmarks/photographed.py` measures all of it on rendered scenes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Float32Array, Floats
from ...core.errors import WrongUsage
from ...core.findings import Code, Finding, Remedy
from .flat_colours import read_picture_colours
from .lighting import to_tones
from .picture import MOST_PX, Picture, read_picture
from .sheet_light import LIGHT_PX, evenly_lit, like_paper, margin_share
from .sheet_sides import area, candidates, convex, in_order
from .source import box_mean, enlarged

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    Corners = Sequence[tuple[float, float]]

MOST_ALIKE = 0.12
"""Share of exactly one colour above which a picture is no photograph: rendered photographs have up
to 0.03, drawings saved as PNG or JPEG from 0.40 up."""


def is_photograph(linear: Float32Array) -> bool:
    """Whether no colour but a blown-out white comes often: noise is everywhere in a photograph."""
    every = tuple(slice(None, None, max(1, side // 200)) for side in linear.shape[:2])
    tones = to_tones(linear[every]).reshape(-1, 3).astype(np.intp)
    tones = tones[tones.min(axis=1) < 252]
    if not len(tones):
        return False
    often = np.unique(tones @ np.array([1 << 16, 1 << 8, 1]), return_counts=True)[1]
    return bool(often.max() < MOST_ALIKE * len(tones))


FOUND = 0.8
"""Score from which a quadrilateral is a sheet; see `candidates`."""

LARGER = 1.3
"""Weight of the size of a sheet, in parts of the photograph's: what the edge of a shadow cuts off
is bare all round, too."""

BARE_MARGIN = 0.9
"""How much of the margin of a sheet is paper, at least."""

MOST_UNSEEN = 0.5
"""How much of a sheet whose corners are given may be out of the frame; a choice of this project."""

TRIMMED = 0.012
"""Cut off all round, in parts of the longer side: the table beside an edge that is not straight."""


def read_drawing(
    source: str | Path | bytes, name: str | None = None, corners_px: Corners | None = None
) -> Picture:
    """Read a picture file; of a photographed sheet what is drawn on it.

    Parameters
    ----------
    source : str, Path or bytes
        As for `read_picture`.
    name : str, optional
    corners_px : four of (float, float), optional
        Corners of the sheet in the photograph, pixels from its top left corner; none of them if it
        is no sheet; found if left out.

    Raises
    ------
    HimotifError
        If there is no such picture, or the corners lie in no photograph of a sheet.
    """
    return drawing_of(read_picture(source, name), corners_px)


def drawing_of(picture: Picture, corners_px: Corners | None = None) -> Picture:
    """Return the drawing on a photographed sheet; the picture itself where none is found."""
    if corners_px is not None:
        if not corners_px:
            return picture
        corners = (in_order(np.array(corners_px, dtype=np.float64))) * picture.scale - 0.5
        if not convex(corners[None])[0]:
            raise WrongUsage(
                "these are no corners of a sheet: give four, one after the other round it.",
                "paper_corners",
            )
        flat = _trimmed(straightened(picture.linear, corners))
        if np.isnan(flat).any(axis=-1).mean() > MOST_UNSEEN:
            raise WrongUsage(
                "most of this sheet lies outside the photograph: give its corners in pixels from "
                "the top left.",
                "paper_corners",
            )
        return _taken(picture, corners, _plainly_lit(flat))
    if (picture.alpha < 1).any() or min(picture.alpha.shape) < LEAST_SHEET_PX:
        return picture
    if not is_photograph(picture.linear):
        return picture
    quads = [quad for quad in candidates(picture.linear) if quad[0] >= FOUND]
    bare = [one for one in quads if _margin(picture.linear, one[1]) >= BARE_MARGIN]
    size = np.sqrt(picture.alpha.size)
    for _, corners in sorted(bare, key=lambda one: -one[0] - LARGER * np.sqrt(area(one[1])) / size):
        drawn = evenly_lit(_trimmed(straightened(picture.linear, corners)))
        if drawn is not None:
            return _taken(picture, corners, drawn)
    if like_paper(picture.linear) and read_picture_colours(picture).found.kind == "shaded":
        said = Finding(
            Code.SHEET_NOT_FOUND, {"file": picture.name}, (Remedy("paper_corners", None),)
        )
        return replace(picture, findings=(*picture.findings, said))
    return picture


def _margin(linear: Float32Array, corners: Floats) -> float:
    """How much of the margin of a quadrilateral is paper."""
    return margin_share(_trimmed(straightened(linear, corners, LIGHT_PX)))


def _trimmed(flat: Float32Array) -> Float32Array:
    edge = max(1, round(TRIMMED * max(flat.shape[:2])))
    return flat[edge:-edge, edge:-edge]


def _plainly_lit(flat: Float32Array) -> Float32Array:
    """The sheet in even light, or, where that cannot be found, as bright as its brightest tenth."""
    drawn = evenly_lit(flat)
    if drawn is not None:
        return drawn
    white = np.nanquantile(flat, 0.9, axis=(0, 1))
    return np.asarray(np.clip(np.nan_to_num(flat / white, nan=1.0), 0, 1), dtype=np.float32)


def _taken(picture: Picture, corners: Floats, drawn: Float32Array) -> Picture:
    """The drawing as a picture, with what was found."""
    linear, times = without_grain(drawn)
    high, wide = linear.shape[:2]
    at = ((corners + 0.5) / picture.scale).round().astype(int).tolist()
    said = Finding(
        Code.SHEET_FOUND, {"file": picture.name, "corners_px": at}, (Remedy("paper_corners", None),)
    )
    taken = replace(
        picture,
        size_px=(wide, high),
        linear=linear,
        alpha=np.ones((high, wide), dtype=np.float32),
        scale=1.0,
        findings=(*picture.findings, said),
        from_sheet=True,
    )
    return in_its_inks(taken, drawn, times)


LEAST_SHEET_PX = 200
"""Shorter side of the smallest photograph of a sheet that shows more than its edges."""


# -- straight --------------------------------------------------------------------------------------


def proportions(corners: Floats, size: tuple[int, int]) -> float:
    """Return how many times as wide as high a sheet is (Zhang & He 2007, equations 11 to 21).

    Parameters
    ----------
    corners : (4, 2) float
        Clockwise from the top left, in pixels.
    size : (int, int)
        Width and height of the photograph: its optical axis meets its middle.
    """
    at = np.c_[corners - np.array(size) / 2, np.ones(4)]
    m1, m2, m4, m3 = at
    k2 = (np.cross(m1, m4) @ m3) / (np.cross(m2, m4) @ m3)
    k3 = (np.cross(m1, m4) @ m2) / (np.cross(m3, m4) @ m2)
    n2, n3 = k2 * m2 - m1, k3 * m3 - m1
    long = max(size)
    with np.errstate(divide="ignore", invalid="ignore"):
        square = -(n2[0] * n3[0] + n2[1] * n3[1]) / (n2[2] * n3[2])
    if not (FOCAL[0] * long) ** 2 < square < (FOCAL[2] * long) ** 2:
        square = (FOCAL[1] * long) ** 2
    lengths = [(n[0] ** 2 + n[1] ** 2) / square + n[2] ** 2 for n in (n2, n3)]
    return float(np.sqrt(lengths[0] / lengths[1]))


FOCAL = (0.5, 0.75, 3.0)
"""Focal length in longer sides of the picture: the least, a telephone's 27 mm of 36 mm film, the
most; from memory. Seen nearly from above it cannot be known, and matters little."""


def straightened(linear: Float32Array, corners: Floats, most_px: int = MOST_PX) -> Float32Array:
    """Return the sheet seen from above, (h, w, 3), not a number where it was not in the frame.

    Parameters
    ----------
    linear : (H, W, 3) float32
    corners : (4, 2) float
        Clockwise from the top left, in pixels.
    most_px : int
        Longest side of what is returned.
    """
    from skimage.transform import ProjectiveTransform, warp

    high, wide = linear.shape[:2]
    ratio = proportions(corners, (wide, high))
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    tall = min(max(sides[1], sides[3], max(sides[0], sides[2]) / ratio), most_px)
    tall = min(tall, most_px / ratio)
    size = np.array([max(8, round(tall * ratio)), max(8, round(tall))])
    ends = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size - 0.5
    seen = ProjectiveTransform(_homography(ends, corners))
    flat = warp(linear, seen, output_shape=tuple(size[::-1]), order=1, cval=np.nan)
    return np.asarray(flat, dtype=np.float32)


def _homography(ends: Floats, corners: Floats) -> Floats:
    """The homography (3, 3) from four points to four others."""
    rows = []
    for (x, y), (u, v) in zip(ends, corners, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    found = np.linalg.solve(np.array(rows), corners.ravel())
    return np.append(found, 1.0).reshape(3, 3)


# -- what is drawn ---------------------------------------------------------------------------------


def without_grain(drawn: Float32Array) -> tuple[Float32Array, int]:
    """Return an evenly lit sheet with strokes of wax and lead as areas of one colour.

    It is reduced to what is of use, and total variation is taken away (Chambolle, "An algorithm for
    total variation minimization", J. Math. Imaging Vis. 20 (2004) 89-97).

    Parameters
    ----------
    drawn : (h, w, 3) float32
        Linear, paper 1.

    Returns
    -------
    (h', w', 3) float32, int
        Reduced to what is of use, and how many times.
    """
    from skimage.restoration import denoise_tv_chambolle

    rows, columns = np.nonzero((drawn < 0.8).any(axis=-1))
    if not len(rows):
        return drawn, 1
    long = max(np.ptp(rows), np.ptp(columns)) + 1
    times = max(1, round(long / DRAWN_PX))
    light = box_mean(drawn, times)
    top, bottom, left, right = (
        int(v) // times for v in (rows.min(), rows.max(), columns.min(), columns.max())
    )
    own = np.s_[max(top - 8, 0) : bottom + 9, max(left - 8, 0) : right + 9]
    tones = np.sqrt(light[own])
    tones = denoise_tv_chambolle(tones, weight=GRAIN_WEIGHT, max_num_iter=80, channel_axis=-1)
    light[own] = np.clip(tones, 0, 1) ** 2
    return light, times


DRAWN_PX = 360
"""The longest side, in pixels, of what is drawn: twenty and more across a bead of the widest."""

GRAIN_WEIGHT = 0.25
"""Of total variation; rendered crayon and pencil become flat, lines of two pixels stay."""


def in_its_inks(picture: Picture, drawn: Float32Array, times: int) -> Picture:
    """Return a flat drawing in its own flat colours; any other as it is.

    The colour of an area is the one that half of it is lighter than: gaps in wax are not of it.

    Parameters
    ----------
    picture : Picture
        Without grain.
    drawn : (h, w, 3) float32
        With it.
    times : int
        Pixels of it, in each direction, in a pixel of the picture.
    """
    from scipy import ndimage

    reading = read_picture_colours(picture)
    if reading.found.kind != "flat":
        return picture
    high, wide = picture.alpha.shape
    label = enlarged(reading.label, -(-max(high, wide) // max(reading.label.shape)), (high, wide))
    fine = enlarged(label, times, drawn.shape[:2])
    colours = reading.found.linear.copy()
    for number in range(len(colours)):
        own = ndimage.binary_erosion(fine == number, iterations=INSIDE_PX)
        if own.sum() >= LEAST_INK_PX:
            colours[number] = np.median(drawn[own], axis=0)
    return replace(picture, linear=colours[np.maximum(label, 0)])


INSIDE_PX, LEAST_INK_PX = 3, 40
"""The soft edge of an area, and so many pixels within it that tell its colour, in pixels."""
