"""A text in place of a sketch: its beads, and the picture of it as it lies on the braid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Bytes
from ...core.braid import FRONT_DEG, STRANDS, Braid, Lattice
from ...core.drawing.typeface import Typeface
from ...core.errors import WrongUsage
from ...core.findings import Code, Finding, Remedy
from ..read import MOST_PX
from .composed import Composed, motif_of, picture_of, refuse_idle
from .fitting import LaidMotif
from .inks import BeadChoice
from .lettering import LEAST_PITCHES, SPACE_ROUNDS, Lettering, TextFitter, doubts
from .letters import unframed
from .place import Place, place_motif, room_mm
from .placement import Placement, check_width

if TYPE_CHECKING:
    from ...core.bead import BeadSize
    from ...palette import Palette
    from ..options import Order

TEXT_PX_PER_PITCH = 24.0
"""Of the picture, as long as it is not larger than what is kept of pictures."""

IDLE_FOR_TEXT = (
    "outlines",
    "fit",
    "stretch",
    "rotate_deg",
    "kind",
    "most",
    "keep",
    "pin",
    "choice",
    "all_round",
)
"""What cannot be asked for of a text."""


def compose_text(
    order: Order, palette: Palette, lattice: Lattice, bead: BeadSize, rounds: int
) -> Composed:
    """Put a text on the braid.

    Parameters
    ----------
    order : Order
        With a text.
    palette : Palette
    lattice : Lattice
    bead : BeadSize
    rounds : int
        Beaded length, even.

    Raises
    ------
    WrongUsage
        If the typeface lacks a letter, or there is no room for the text.
    """
    refuse_idle(order, IDLE_FOR_TEXT, "A text")
    choice = letter_beads(order, palette)
    fitter = _fitter(order, lattice)
    lettering, place = _placed(fitter, order, rounds)
    ink = int(choice.usable[choice.usable != choice.ground][0])
    colours = np.full(place.tile.beads, choice.ground)
    for one in lettering.letters:
        colours[place.tile.within(one.crossings)[1]] = ink
    pixels, placement = _drawn(
        lettering, place, fitter.typeface, palette.seen_rgb[[choice.ground, ink]]
    )
    picture, png = picture_of(pixels)
    size_mm = placement.width_mm, placement.height_mm
    middle_mm = placement.centres[0][1]
    below, above = middle_mm - lettering.span_mm[0], lettering.span_mm[1] - middle_mm
    reach_mm = below + lattice.rise_mm / 2, above + lattice.rise_mm / 2
    fitted = LaidMotif(place, place.repeated(placement), size_mm, colours, reach_mm=reach_mm)
    found = text_findings(order, lettering, fitter, bead, rounds)
    return Composed(picture, png, motif_of(picture, choice), fitted, tuple(found))


def letter_beads(order: Order, palette: Palette) -> BeadChoice:
    """Choose the bead of the letters and that of the ground.

    The ground is the lightest round bead, the letters have the bead that differs most from it;
    either can be asked for.
    """
    from ...palette import ciede2000_matrix

    alike = ciede2000_matrix(palette.lab, palette.lab)
    drop = np.array([bead.shape == "drop" for bead in palette.beads])
    may = ~drop if not drop.all() else np.ones(len(palette), dtype=bool)
    ink = None if order.letter_bead is None else palette.index(order.letter_bead)
    if order.background is not None:
        ground = palette.index(order.background)
    elif ink is not None and palette.lab[ink, 0] > np.median(palette.lab[may, 0]):
        ground = int(np.argmax(np.where(may, alike[ink], -1.0)))
    else:
        ground = int(np.argmax(np.where(may, palette.lab[:, 0], -1.0)))
    if ink is None:
        ink = int(np.argmax(np.where(may, alike[ground], -1.0)))
    if ink == ground:
        raise WrongUsage(
            "The letters and the ground need two beads.",
            "background" if order.background is not None else "letter_bead",
        )
    both = np.array(sorted((ink, ground)))
    return BeadChoice(palette, both, both, ground, ())


def _fitter(order: Order, lattice: Lattice) -> TextFitter:
    assert order.text is not None
    face = order.font or Typeface.bundled()
    missing = [one for one in dict.fromkeys(order.text) if one != " " and not face.holds(one)]
    if missing:
        raise WrongUsage(f"{face.name} has no {' '.join(missing)}. Name another font.", "text")
    across_mm = check_width(order.width_mm, lattice, "wrap")
    if across_mm is not None and across_mm < LEAST_PITCHES * lattice.pitch_mm:
        least = np.ceil(10 * LEAST_PITCHES * lattice.pitch_mm) / 10
        raise WrongUsage(
            f"{across_mm:g} mm is too small for letters.", "width_mm", (Remedy("width_mm", least),)
        )
    return TextFitter(order.text, lattice, order.letters, face, across_mm)


def _placed(fitter: TextFitter, order: Order, rounds: int) -> tuple[Lettering, Place]:
    """The text where it is asked for, and the piece of braid that holds it."""
    lattice = fitter.lattice
    along_mm = room_mm(lattice, rounds, order) - (1 + SPACE_ROUNDS) * lattice.rise_mm
    right_mm, up_mm = order.moved_mm or (0.0, 0.0)
    azimuth = FRONT_DEG - float(np.rad2deg(right_mm / lattice.radius_mm))
    middle_mm = (rounds * lattice.rise_mm - lattice.step_mm) / 2 + up_mm
    # where it is asked for, as far as there is room; more of them are laid out by their tile
    middle_mm -= up_mm if abs(up_mm) > (rounds * lattice.rise_mm - along_mm) / 2 else 0.0
    lettering = fitter.fit(azimuth, middle_mm, along_mm)
    low, high = lettering.span_mm
    # one text is no nearer to the next than word to word
    size_mm = lettering.height_mm, high - low + (1 + SPACE_ROUNDS) * lattice.rise_mm
    place = place_motif(size_mm, lattice, rounds, order)
    there = place.tile.middle_mm
    if abs(there - middle_mm) > 1e-6 or abs(place.first_deg - azimuth) > 1e-6:
        again = fitter.again(lettering, place.first_deg, there, size_mm[1])
        lettering = again or lettering
    return lettering, place


def _drawn(
    lettering: Lettering, place: Place, face: Typeface, rgb: Bytes
) -> tuple[Bytes, Placement]:
    """The text as it lies on the braid, in the two colours (2, 3), and where it lies."""
    lattice = place.tile.lattice
    boxes = np.array([*_boxes(lettering)])
    (left, low), (right, high) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    longer_mm = float(max(right - left, high - low))
    px_per_mm = min(TEXT_PX_PER_PITCH / lattice.pitch_mm, (MOST_PX - 2) / longer_mm)
    wide, tall = (max(2, round(side * px_per_mm)) for side in (right - left, high - low))
    drawn = np.zeros((tall, wide), dtype=bool)
    turns = {"up": 1, "down": -1, "below": 0}[lettering.way]
    for one, (x0, y0, x1, y1) in zip(lettering.letters, boxes, strict=True):
        mask = np.rot90(face.glyph(one.shape.character), turns)
        columns = np.arange(wide)[None, :] + 0.5 - (x0 - left) * px_per_mm
        rows = np.arange(tall)[:, None] + 0.5 - (high - y1) * px_per_mm
        across = np.floor(columns / ((x1 - x0) * px_per_mm) * mask.shape[1]).astype(np.intp)
        down = np.floor(rows / ((y1 - y0) * px_per_mm) * mask.shape[0]).astype(np.intp)
        inside = (across >= 0) & (across < mask.shape[1]) & (down >= 0) & (down < mask.shape[0])
        drawn |= (
            inside
            & mask[np.clip(down, 0, mask.shape[0] - 1), np.clip(across, 0, mask.shape[1] - 1)]
        )
    azimuth = lettering.azimuth_deg - float(np.rad2deg((left + right) / 2 / lattice.radius_mm))
    placement = Placement(
        "wrap",
        px_per_mm,
        0.0,
        (wide, tall),
        lattice.radius_mm,
        azimuth % 360.0,
        ((azimuth % 360.0, float(low + high) / 2),),
    )
    return rgb[drawn.astype(np.intp)], placement


def _boxes(lettering: Lettering) -> Iterator[tuple[float, float, float, float]]:
    """What each letter fills as drawn: left, low, right, high; mm from the line, on the braid."""
    for one in lettering.letters:
        half = np.array([one.shape.width_mm / 2]), np.array([lettering.height_mm / 2])
        across, along = (float(abs(side[0])) for side in unframed(lettering.way, *half))
        x, y = one.right_mm, one.height_mm
        yield x - across, y - along, x + across, y + along


# -- what is to be said ------------------------------------------------------------------------


def text_findings(
    order: Order, lettering: Lettering, fitter: TextFitter, bead: BeadSize, rounds: int
) -> list[Finding]:
    """Return how a text is worked, and which of its letters are in doubt."""
    low, high = lettering.span_mm
    data = {
        "text": fitter.text,
        "letters": lettering.way,
        "letter_mm": round(lettering.height_mm, 1),
        "length_mm": round(high - low + fitter.lattice.rise_mm, 1),
    }
    found = [Finding(Code.TEXT_WORKED, data)]
    if lettering.doubtful:
        doubtful = {"letters": list(doubts(lettering))}
        remedies = () if order.quick else tuple(_clearer(order, fitter, bead, rounds))
        found.append(Finding(Code.LETTERS_IN_DOUBT, doubtful, remedies[:1]))
    return found


def _clearer(order: Order, fitter: TextFitter, bead: BeadSize, rounds: int) -> Iterator[Remedy]:
    """Ways to work the text in which no letter is in doubt; the first that is found."""
    length_mm = rounds * fitter.lattice.rise_mm
    here = fitter.lattice.braid
    ways: list[tuple[Remedy, TextFitter]] = []
    if order.width_mm is not None:
        ways.append((Remedy("width_mm", None), replace_fitter(fitter, across_mm=None)))
    if order.readings is None and not here.own_start:
        for strands in STRANDS:
            if strands <= here.strands:
                continue
            try:
                lattice = Lattice.computed(Braid(strands, here.lay, here.turn), bead)
            except WrongUsage:
                continue
            ways.append((Remedy("strands", strands), replace_fitter(fitter, lattice=lattice)))
    if order.letters != "below" and order.width_mm is None:
        ways.append((Remedy("letters", "below"), replace_fitter(fitter, way="below")))
    for remedy, other in ways:
        try:
            if not other.fit(FRONT_DEG, length_mm / 2, length_mm).doubtful:
                yield remedy
                return
        except WrongUsage:
            continue


def replace_fitter(fitter: TextFitter, **changes: object) -> TextFitter:
    """Return a fitter of the same text with changes, which has not looked at anything yet."""
    return replace(fitter, _letters={}, _shapes={}, **changes)  # type: ignore[arg-type]
