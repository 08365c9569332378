"""What the braid does to a sketch, measured again of a design that was edited since."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ...core._data import file_sha256
from ...core.errors import HimotifError
from ...core.findings import first_with

if TYPE_CHECKING:
    from ...core.design import ConversionFacts, Design
    from ..fit.inks import BeadChoice
    from ..fit.placement import Placement
    from ..options import Order
    from ..read import Picture, Sketch
    from .distort import Distortion


def find_sketch(folder: Path, design: Design) -> Path | None:
    """Return the picture a design was made from, if it lies in its folder, beside it or here.

    Parameters
    ----------
    folder : Path
        Of the design.
    design : Design

    Returns
    -------
    Path or None
        A file of the same name and content.
    """
    if design.picture is None or not comparable(design):
        return None
    # a design may come from anybody: its name of the picture leads to no other place
    name = Path(design.picture.file).name
    for place in (folder, folder.absolute().parent, Path()):
        path = place / name
        if name and path.is_file() and file_sha256(path) == design.picture.sha256:
            return path
    return None


def distortion_again(design: Design, sketch: Path) -> Distortion:
    """Measure a design against the picture it was made from, where that lies on the braid.

    Raises
    ------
    HimotifError
        If the design has no such picture, or it is another one.
    """
    from ..fit.motif import as_worked
    from ..fit.placement import Placement
    from ..judge.verdict import UNRECOGNISED
    from ..read import read_drawing, read_sketch
    from .distort import distort

    placed = design.picture
    if placed is None or not comparable(design):
        raise HimotifError(
            f"{sketch}: this design does not lie on a picture as it was drawn, so there is nothing "
            "to compare. Leave the picture out."
        )
    corners_px = design.origin.order.get("paper_corners")
    picture = read_drawing(sketch, corners_px=corners_px)
    if picture.sha256 != placed.sha256:
        raise HimotifError(
            f"{sketch}: is not the picture that this design was made from ({placed.file}), or was "
            "changed since. Give that one, or leave it out."
        )
    placement = Placement(
        placed.fit,
        placed.px_per_mm,
        placed.rotate_deg,
        placed.frame_size_px,
        design.lattice.radius_mm,
        placed.front_deg,
        placed.centres,
        placed.stretch,
    )
    facts = design.origin.conversion
    kind = design.origin.order.get("kind") if facts is None else facts.kind
    read = read_sketch(picture, kind if kind in ("flat", "shaded") else None)
    order, choice = _chosen_again(design, picture, read)
    read = as_worked(read, choice, order)
    if facts is None:
        facts = _older_facts(design, order, choice, read, placement)
    # letters are judged one by one, where they are put together
    lost = None if design.origin.order.get("text") is None else ()
    doubt = first_with(design.origin.findings, *UNRECOGNISED)
    return distort(design, placement, read, facts, lost=lost, unrecognised=doubt)


def _chosen_again(design: Design, picture: Picture, sketch: Sketch) -> tuple[Order, BeadChoice]:
    """The order of a design, as far as it chooses beads, and the beads that it chooses."""
    from ...palette import Palette
    from ..fit.inks import choose_inks
    from ..options import Order

    palette, order = Palette.of(design), design.origin.order
    most, keep, turn, outlines = (
        order.get(key) for key in ("most", "keep", "rotate_deg", "outlines")
    )
    asked = Order(
        background=palette.codes[design.background],
        most=most if isinstance(most, int) and most >= 2 else None,
        keep=tuple(code for code in palette.codes if isinstance(keep, list) and code in keep),
        outlines=outlines if outlines in ("strokes", "mass") else None,
        rotate_deg=float(turn) if isinstance(turn, int | float) else 0.0,
    )
    return asked, choose_inks(sketch, picture, palette, asked)


def _older_facts(
    design: Design, order: Order, choice: BeadChoice, sketch: Sketch, placement: Placement
) -> ConversionFacts:
    """Work out what the file of an older design does not say, from its order.

    The beads of its colours are chosen again. Beads of a code that was scattered count as accents
    if no colour of a flat sketch became that bead; in a shaded one they count as its own.
    """
    from ..judge.memory import facts_of

    asked = replace(placement, rotate_deg=order.rotate_deg)
    facts = facts_of(sketch, choice, asked, placement, {})
    if sketch.kind != "flat":
        return facts
    codes, scatter = choice.palette.codes, design.origin.order.get("scatter", {})
    drawn = {colour.bead for colour in facts.colours}
    accents = {
        code: tuple(np.flatnonzero(design.beads == codes.index(code)).tolist())
        for code in codes
        if code in scatter and code not in drawn
    }
    return replace(facts, accents=accents)


def comparable(design: Design) -> bool:
    """Whether the picture lies on the braid as it was drawn: not mirrored, its places known."""
    picture = design.picture
    return picture is not None and bool(picture.centres) and not design.origin.mirrored
