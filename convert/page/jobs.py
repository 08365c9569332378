"""What a worker does for the page: the same functions that the command calls."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ...core.arrays import Ints
from ..judge.verdict import VERDICTS
from .drawing import piece
from .form import form_of_remedy
from .wording import verdict

if TYPE_CHECKING:
    from ...core.bead import BeadSize
    from ...core.braid import Lattice
    from ...core.design import Design
    from ...core.findings import Finding
    from ...core.paper.sheet_content import SheetContent
    from ...core.show.ring import Ring
    from ...palette import Palette
    from ..job import Made
    from ..options import Order, Papers
    from ..read import Picture, Sketch

    Corners = tuple[tuple[float, float], ...]


MOST_SUGGESTED = 3
"""Beads to buy, as the command suggests if nothing is said of it."""


def get_ready_to_decode() -> None:
    """Import what reading a picture needs."""
    import PIL.Image

    from .. import read  # noqa: F401

    PIL.Image.init()


def get_ready() -> None:
    """Import what the work on a picture needs."""
    import scipy.ndimage
    import scipy.spatial  # noqa: F401
    import skimage.filters
    import skimage.measure
    import skimage.morphology  # noqa: F401

    from .. import job  # noqa: F401
    from ..fit import fitting  # noqa: F401
    from ..judge import judgement  # noqa: F401
    from ..write import outputs  # noqa: F401


def decode(data: bytes, name: str, corners_px: Corners | None = None) -> Picture:
    """Read a picture; of a photographed sheet, with such corners, what is drawn on it."""
    from ..read import read_drawing

    return read_drawing(data, name, corners_px)


def check_font(data: bytes, name: str) -> None:
    """Refuse what is no font."""
    from ...core.drawing.typeface import Typeface

    Typeface(data, name).checked(name)


def beads_in_photo(
    picture: Picture, white: tuple[float, float] | None, at: tuple[tuple[float, float], ...]
) -> dict[str, Any]:
    """Return the beads in a photograph.

    Parameters
    ----------
    picture : Picture
    white : (x, y), optional
        A white or grey place, in pixels of the photograph.
    at : sequence of (x, y)
        Single beads; all heaps are looked for if there are none.

    Returns
    -------
    dict
        ``beads``, each with ``name``, ``rgb`` and ``outline``: points in parts of the photograph's
        width and height; ``findings``.
    """
    from ...palette import palette_of_photo

    found = palette_of_photo(picture.linear, picture.name, picture.scale, white, at)
    high, wide = picture.linear.shape[:2]
    return {
        "beads": [
            {
                "name": bead.name,
                "rgb": list(bead.rgb),
                "outline": [[round(x / wide, 4), round(y / high, 4)] for x, y in heap.outline],
            }
            for bead, heap in zip(found.palette.beads, found.heaps, strict=True)
        ],
        "findings": found.palette.findings,
    }


def beads_to_buy(
    order: Order, picture: Picture, have: Palette, shop: Palette
) -> tuple[list[str], list[str]]:
    """Return the codes of the beads to buy, and lines that say how far they help."""
    from ..suggest import suggest
    from ..wording import suggestion_lines

    before, found = suggest(order, picture, have, shop, MOST_SUGGESTED)
    return [one.bead.code for one in found], suggestion_lines(before, found)


def work(order: Order, picture: Picture | None, palette: Palette, sketch: Sketch | None) -> Made:
    """Carry out an order; the sketch is read from the picture if it was not before."""
    from ..job import make

    # the asking process has the picture; it need not be sent back
    return replace(make(order, picture, palette, sketch), picture=None)  # type: ignore[arg-type]


def ways(made: Made) -> Iterator[dict[str, Any]]:
    """Return ways to work a motif as they are found, what was worked first.

    Returns
    -------
    iterator of dict
        ``way``, ``verdict`` (None where nobody judged), ``strands``, ``form``: what it changes in
        the form; ``piece`` and ``view_deg`` to draw it from.
    """
    from ..judge.choices import each_choice, sight
    from ..judge.verdict import remedy

    trials = made.conversion.trials
    if trials is None:
        yield from _braids(made)
        return
    for one in each_choice(trials):
        shown, plain = sight(trials, one), one.as_dict()
        yield {
            "way": one.way,
            "verdict": plain["verdict"],
            "strands": plain["strands"],
            "form": form_of_remedy(remedy(one.changes)) if one.changes else {},
            "piece": piece(
                one.lattice, shown.palette.on_cord, shown.beads, shown.window_mm, shown.lean
            ),
            "view_deg": shown.azimuth_deg,
        }


MORE_BRAIDS = 2
"""So many braids of more strands are worked beside a shaded picture."""


def _braids(made: Made) -> Iterator[dict[str, Any]]:
    """A shaded picture or a text as it is worked, and on the next braids: the eye must choose."""
    from ...core.braid import STRANDS

    order, braid = made.conversion.order, made.design.braid
    yield _as_worked(made)
    judged = made.conversion.kind != "shaded" and order.text is None
    if braid.own_start or order.readings is not None or judged:
        return
    # what would make a text clearer is not asked of its other braids: they are looked at themselves
    quick = order.quick or order.text is not None
    for strands in [many for many in STRANDS if many > braid.strands][:MORE_BRAIDS]:
        tried = _tried(made, replace(order, strands=strands, quick=quick))
        if tried is not None:
            form = {"strands": str(strands)}
            yield {**_as_worked(tried), "way": f"{strands} strands", "form": form}


def _as_worked(made: Made) -> dict[str, Any]:
    from ...core.design import drop_directions

    design, placement = made.design, made.conversion.placement
    azimuth, middle = placement.centres[len(placement.centres) // 2]
    half = placement.height_mm / 2 + design.lattice.pitch_mm
    window_mm, lean = (middle - half, middle + half), drop_directions(design).drawn
    return {
        "way": "as worked",
        "verdict": verdict(made),
        "strands": design.braid.strands,
        "form": {},
        "piece": piece(design.lattice, design.on_cord, design.beads, window_mm, lean),
        "view_deg": azimuth,
    }


NEAR_COLOUR = 25.0
"""CIEDE2000 of a bead that may stand in for another: of one kind of colour, plainly another bead.
A choice of this project."""


def remedies(made: Made) -> list[dict[str, Any]]:
    """Return what helps if beads are short: fewer motifs, another bead; each is tried.

    Returns
    -------
    list of dict
        ``label``, and ``form`` (texts by field) or ``off`` (codes out of play besides).
    """
    short = made.materials.short
    if not short:
        return []
    found = [_fewer(made, [need.bead.code for need in short])]
    if len(short) == 1:
        found.append(_instead(made, short[0].bead.code, short[0].with_spare))
    return [one for one in found if one is not None]


def _fewer(made: Made, short: list[str]) -> dict[str, Any] | None:
    """The most motifs for which there are beads enough."""
    conversion, needs = made.conversion, {need.bead.code: need for need in made.materials.needs}
    motifs = len(conversion.placement.centres)
    if any(made.design.palette[made.design.background].code == code for code in short):
        return None  # fewer motifs take more of it
    share = min((needs[code].bead.stock or 0) / needs[code].with_spare for code in short)
    for count in range(min(motifs - 1, int(share * motifs) + 1), 0, -1):
        tried = _tried(made, replace(conversion.order, repeat=count))
        if tried is not None and not tried.materials.short:
            left = "one motif" if motifs - count == 1 else f"{motifs - count} motifs"
            return {"label": f"Leave out {left}", "form": {"repeat": str(count)}}
    return None


def _instead(made: Made, code: str, wanted: int) -> dict[str, Any] | None:
    """The bead nearest in colour of which there are enough, if it reads as well with it."""
    import numpy as np

    from ...palette import ciede2000_matrix

    palette = made.conversion.motif.choice.palette
    used = {need.bead.code: need.with_spare for need in made.materials.needs}
    place = palette.codes.index(code)
    away = ciede2000_matrix(palette.lab[place : place + 1], palette.lab)[0]
    for other in np.argsort(away).tolist():
        bead = palette.beads[other]
        enough = (bead.stock or 0) - used.get(bead.code, 0) >= wanted
        if other == place or bead.shape == "drop" or not enough:
            continue
        if away[other] > NEAR_COLOUR:
            return None
        others = palette.subset([k for k in range(len(palette)) if k != place])
        tried = _tried(made, made.conversion.order, others)
        same = tried is not None and not tried.materials.short
        if tried is not None and same and tried.motifs_left and _as_good(tried, made):
            names = [need.bead.name for need in tried.materials.needs if need.bead == bead]
            return {"label": f"Use {bead.name}", "off": [code]} if names else None
    return None


def _as_good(tried: Made, made: Made) -> bool:
    return VERDICTS.index(verdict(tried) or "reads") >= VERDICTS.index(verdict(made) or "reads")


def _tried(made: Made, order: Order, palette: Palette | None = None) -> Made | None:
    from ...core.errors import HimotifError
    from ..job import make

    conversion = made.conversion
    if order.all_round:
        return None  # what was put together of a sketch is no sketch to begin with
    palette = palette or conversion.motif.choice.palette
    try:
        return make(order, made.picture, palette, conversion.sketch)
    except HimotifError:
        return None


def comparison(
    order: Order,
    picture: Picture,
    palette: Palette,
    strands: tuple[int, ...],
    sizes: tuple[str, ...],
) -> tuple[list[dict[str, Any]], list[str], dict[str, bytes]]:
    """Compare a sketch on several braids.

    Returns
    -------
    list of dict, list of str, dict of str to bytes
        The braids, best first, as `ways` returns them; what it comes to; the files of the sheet.
    """
    from ...core.paper.conversion_wording import braid_title
    from ..compare import compare

    found = compare(order, picture, palette, strands, sizes)
    braids = []
    for one in found.braids:
        form = {"strands": str(one.made.design.braid.strands)}
        form |= {"bead_size": str(one.made.design.bead.name)} if sizes else {}
        braids.append({**_as_worked(one.made), "way": braid_title(one.name), "form": form})
    return braids, found.words, found.files()


def swatch_folder(
    lattice: Lattice, bead: BeadSize, asked: Papers
) -> tuple[list[str], dict[str, bytes]]:
    """Return what to measure on a test braid, and the files of its folder."""
    from ..wording import lines
    from ..write.outputs import swatch_files

    made, files = swatch_files(lattice, bead, asked)
    return lines(made.findings, asked.unit), files


def recoloured(made: Made, beads: Ints) -> Made:
    """Return what was made with other beads."""
    from ...core.making.materials import materials

    design = replace(made.design, beads=beads)
    needed = materials(design)
    by_hand = made.by_hand or bool((beads != made.design.beads).any())
    return replace(made, design=design, materials=needed, by_hand=by_hand)


def ring_png(design: Design, ring: Ring) -> bytes:
    """Return the bracelet closed as PNG."""
    from ...core.drawing.png import png_bytes
    from ...core.paper.ring_sheet import ring_picture

    return png_bytes(ring_picture(design, ring))


def sheet_svgs(content: SheetContent) -> list[str]:
    """Return the pages of the set-up sheet as SVG."""
    from ...core.drawing.svg import to_svg
    from ...core.paper.setup import setup_pages

    return [to_svg(page) for page in setup_pages(content)]


def distortion(made: Made) -> tuple[list[Finding], bytes]:
    """Return what the braid does to the sketch, and the picture as SVG."""
    from ...core.drawing.svg import to_svg

    found = made.distortion
    return found.findings, to_svg(found.page).encode()
