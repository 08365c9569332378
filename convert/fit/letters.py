"""One letter on the lattice: the beads by which a reader tells it from all others.

A letter is looked at in its own frame: *right* the way a line runs, *up* towards its top, in mm
from its middle. The reader knows every letter at many widths, seen a little out of focus, and says
how well some beads agree with each: the model of J. M. Loomis, "A model of character recognition
and legibility", J. Exp. Psychol.: Hum. Percept. Perform. 16 (1990) 106-120 (from memory). Agreement
is linear in the beads, so all beads are compared with all letters by one product of matrices.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from ...core.arrays import Bools, Float32Array, Floats, Ints
from ...core.braid import Lattice
from .optimise import TRACE
from .patch import Patch
from .size import SPACING_PITCHES

if TYPE_CHECKING:
    from ...core.drawing.typeface import Typeface
    from ..options import TextWay

SETS = ("ABCDEFGHIJKLMNOPQRSTUVWXYZ", "0123456789")
SIGNS = "♥.-"
"""A letter is told from all letters and marks, a digit from all digits and marks."""

LETTER_PX_PER_PITCH = 6
"""Of the letters that are compared: some thirty pixels a cell."""

COARSE_PX = 3
"""Of what is out of focus every third pixel is left: one and a half in a standard deviation."""

FOCUS_PITCHES = 0.22
"""Standard deviation, in bead pitches, of how the reader sees. With 0.35, 0.27 and 0.22 another
reader, of another typeface, took 3, 2 and 3 of 26 capitals of 3.4 pitches on 8 strands for others,
and the lower the number, the more strokes stay whole."""

FILLED = (0.35, 0.45, 0.55)
"""A bead is tried in the letter's colour where the letter fills so much of its cell."""

TIMES_WIDE = {"up": (0.9, 1.6), "down": (0.9, 1.6), "below": (0.75, 1.6)}
"""How many times as wide as in the typeface a letter may be. Along the braid there is room."""

NARROW_WIDTHS = (0.5, 0.75)
"""A narrow letter such as J is made so broad, in heights, at least, and may be so broad."""

NEVER_WIDENED = f"I{SIGNS}"
"""But not these, which have nothing to be shown at a side: they are no wider than drawn."""

WIDTHS = 7
"""So many widths are tried."""

BLOOM_PITCHES = (0.3, 0.5)
"""Beads reach beyond what is drawn: how much wider, and higher at most, letters are known."""

ENOUGH = 0.1
"""A margin beyond which nothing is gained."""

MARGIN_WEIGHT = 2.0
"""Of the margin by which a letter agrees better with itself than with any other, beside how well it
agrees with itself. A choice of this project."""

PIECE_PRICE = 0.04
"""Agreement that each piece too many costs: strokes that hang together read better."""

MOST_CHANGES = 12
"""Beads that are changed at most, one after the other."""


@dataclass(frozen=True, eq=False)
class LetterShape:
    """A letter in beads at one place.

    Parameters
    ----------
    character : str
    width_mm : float
        As drawn.
    beads : (k,) int
        Of the patch.
    agrees : float
        How well they agree with the letter, 1 at best.
    margin : float
        How much better than with any other one.
    rival : str
        That other one.
    """

    character: str
    width_mm: float
    beads: Ints
    agrees: float
    margin: float
    rival: str

    @property
    def merit(self) -> float:
        """What is sought."""
        return float(merit(self.agrees, self.margin))


def merit(agrees: Floats | float, margin: Floats | float) -> Floats:
    """Return what is sought: like itself, and unlike all others as far as that is in doubt."""
    return np.asarray(agrees + MARGIN_WEIGHT * np.minimum(margin, ENOUGH))


def unframed(way: TextWay, right: Floats, up: Floats) -> tuple[Floats, Floats]:
    """Return what lies right and up in a letter's frame as right and up on the braid."""
    return {"up": (-up, right), "down": (up, -right), "below": (right, up)}[way]


class _Place(NamedTuple):
    """The beads round a letter's middle at one place.

    Attributes
    ----------
    beads : (k,) int
        Of the patch.
    owner : (h, w) int
        Number among them of the bead at each pixel.
    near : (k,) bool
        Whether a bead can be seen together with the letter's middle.
    neighbours : (k, 6) int
        Numbers among them; -1 is none.
    agrees : (k, templates) float32
        What each bead adds to the agreement with each template.
    products : (k, k) float32
        Of what is seen of one bead and of another.
    """

    beads: Ints
    owner: Ints
    near: Bools
    neighbours: Ints
    agrees: Float32Array
    products: Float32Array


class _Templates(NamedTuple):
    """What the reader knows.

    Attributes
    ----------
    character : (t,) int
        Number of the character.
    width_mm : (t,) float
        As drawn.
    seen : (t, pixels) float32
        Of unit norm.
    """

    character: Ints
    width_mm: Floats
    seen: Float32Array


class Letters:
    """All letters of one height on one lattice.

    Parameters
    ----------
    lattice : Lattice
    way : 'up', 'down' or 'below'
    height_mm : float
        Of capitals.
    typeface : Typeface
    characters : str
        Those of the text.
    most_width_mm : float
        Of a letter.
    narrow : bool
        Letters take no more room than they need.
    """

    def __init__(
        self,
        lattice: Lattice,
        way: TextWay,
        height_mm: float,
        typeface: Typeface,
        characters: str,
        *,
        most_width_mm: float = np.inf,
        narrow: bool = False,
    ) -> None:
        self.lattice, self.way, self.height_mm = lattice, way, height_mm
        self.typeface, self.most_width_mm, self.narrow = typeface, most_width_mm, narrow
        needed = "".join(one for one in SETS if set(one) & set(characters)) or SETS[0]
        known = dict.fromkeys(needed + SIGNS + characters)
        self.known = [one for one in known if typeface.holds(one)]
        self._pieces = {one: self._own_pieces(one) for one in self.known}
        pitch_mm, round_mm = lattice.pitch_mm, lattice.circumference_mm
        widest_mm = min(max(self._range_mm(one)[1] for one in characters), most_width_mm)
        half = [widest_mm / 2 + 1.2 * pitch_mm, height_mm / 2 + 1.2 * pitch_mm]
        across = 0 if way == "below" else 1
        half[across] = min(half[across], round_mm / 2)
        self.patch = Patch.of(lattice, half[1 - across] + 2 * lattice.covering_radius_mm)
        self.spacing_mm = SPACING_PITCHES * pitch_mm
        self.places_mm = self.patch.offsets_mm(self.spacing_mm)
        self._px_per_mm = LETTER_PX_PER_PITCH / pitch_mm
        wide, high = (2 * COARSE_PX * round(side * self._px_per_mm / COARSE_PX) for side in half)
        self._shape_px = high, wide

    def shapes(self, character: str) -> list[LetterShape]:
        """Return the best beads of a letter at each place."""
        widths = self._widths_mm(character)
        planes = [self._drawn(character, width, self.height_mm).ravel() for width in widths]
        found = []
        for place in self._places:
            owner, count = place.owner.ravel(), len(place.beads)
            share = np.array([np.bincount(owner, plane, count) for plane in planes])
            share = np.where(place.near, share / np.bincount(owner), 0.0)
            # a dot that fills no bead so far takes the one that it fills most
            least = np.minimum(np.array(FILLED)[:, None, None], share.max(axis=1, keepdims=True))
            drawn = (share >= least).reshape(-1, count)
            which = np.tile(np.arange(len(widths)), len(FILLED))
            agrees, margin, _ = self._read(character, place, drawn, widths[which])
            best = int(np.argmax(merit(agrees, margin)))
            width, share = widths[which[best]], share[which[best]]
            found.append(self._improved(character, place, drawn[best], share, float(width)))
        return found

    # -- letters as drawn ----------------------------------------------------------------------

    def own_mm(self, character: str) -> float:
        """Return how wide a character is in the typeface."""
        high, wide = self.typeface.glyph(character).shape
        return float(self.height_mm * wide / high)

    def _range_mm(self, character: str) -> tuple[float, float]:
        """The least and the greatest width of a character."""
        own, (least, most) = self.own_mm(character), TIMES_WIDE[self.way]
        if character in NEVER_WIDENED:
            return own * least**2, own
        low, high = (share * self.height_mm for share in NARROW_WIDTHS)
        least_mm = max(own * least, low)
        return least_mm, least_mm if self.narrow else max(own * most, high)

    def least_mm(self, character: str) -> float:
        """Return the least width of a character."""
        return self._range_mm(character)[0]

    def _widths_mm(self, character: str) -> Floats:
        least, most = (min(side, self.most_width_mm) for side in self._range_mm(character))
        return np.unique(np.geomspace(least, most, WIDTHS))

    def _drawn(self, character: str, width_mm: float, height_mm: float) -> Float32Array:
        """How much of each pixel a character in their middle fills, 0..1."""
        mask = self.typeface.glyph(character).astype(np.float32)
        rows, columns = self._shape_px
        down = _overlap(mask.shape[0], height_mm * self._px_per_mm, rows)
        across = _overlap(mask.shape[1], width_mm * self._px_per_mm, columns)
        return np.asarray(down @ mask @ across.T, dtype=np.float32)

    # -- the reader ----------------------------------------------------------------------------

    def _out_of_focus(self, planes: Float32Array) -> Float32Array:
        """Planes (k, h, w) as the reader sees them, (k, pixels), less their mean."""
        from scipy import ndimage

        sigma, first = FOCUS_PITCHES * LETTER_PX_PER_PITCH, COARSE_PX // 2
        seen = ndimage.gaussian_filter(planes, (0, sigma, sigma), mode="constant", truncate=3)
        seen = seen[:, first::COARSE_PX, first::COARSE_PX].reshape(len(planes), -1)
        return np.asarray(seen - seen.mean(axis=1, keepdims=True), dtype=np.float32)

    @cached_property
    def _templates(self) -> _Templates:
        """Every letter that is known, at many widths, and a third of a bead to either side."""
        wider, higher = (bloom * self.lattice.pitch_mm for bloom in BLOOM_PITCHES)
        character, widths, planes = [], [], []
        for number, one in enumerate(self.known):
            least, most = self._range_mm(one)
            for width in np.geomspace(0.72 * least, most, WIDTHS + 1):
                for height in (self.height_mm, self.height_mm + higher):
                    plane = self._drawn(one, float(width) + wider, height)
                    for shift in (-2, 0, 2):
                        character.append(number)
                        widths.append(float(width))
                        planes.append(np.roll(plane, shift, axis=1))
        seen = self._out_of_focus(np.stack(planes))
        seen /= np.linalg.norm(seen, axis=1, keepdims=True)
        return _Templates(np.array(character), np.array(widths), seen)

    @cached_property
    def _places(self) -> list[_Place]:
        rows, columns = self._shape_px
        right = (np.arange(columns) + 0.5 - columns / 2) / self._px_per_mm
        up = (rows / 2 - np.arange(rows) - 0.5) / self._px_per_mm
        points = np.stack(unframed(self.way, *np.meshgrid(right, up)), axis=-1)
        return [self._place(points, offset) for offset in self.places_mm]

    def _place(self, points_mm: Floats, offset_mm: Floats) -> _Place:
        lattice, patch = self.lattice, self.patch
        under = patch.owner_map.at(points_mm + offset_mm)
        beads, owner = np.unique(under, return_inverse=True)
        owner = owner.reshape(under.shape)
        across = np.abs(patch.x_mm[beads] - offset_mm[0])
        across = np.minimum(across, lattice.circumference_mm - across)
        number = np.full(len(patch) + 1, -1)
        number[beads] = np.arange(len(beads))
        alone = owner[None] == np.arange(len(beads))[:, None, None]
        seen = self._out_of_focus(alone.astype(np.float32))
        return _Place(
            beads,
            owner,
            across <= lattice.circumference_mm / 3 + 1e-6,
            number[patch.neighbours[beads]],
            seen @ self._templates.seen.T,
            seen @ seen.T,
        )

    def _read(
        self, character: str, place: _Place, drawn: Bools, width_mm: npt.ArrayLike
    ) -> tuple[Floats, Floats, Ints]:
        """Read beads (n, k) that are to be a letter of some width.

        Returns
        -------
        (n,) float, (n,) float, (n,) int
            How well they agree with it, less what its pieces cost; the margin to the likeliest
            other one; the number of that one.
        """
        templates = self._templates
        ink = drawn.astype(np.float32)
        norm = np.sqrt(np.maximum(((ink @ place.products) * ink).sum(axis=1), 1e-9))
        agrees = ink @ place.agrees / norm[:, None]
        own = templates.character == self.known.index(character)
        # its own letter as it was drawn, others at any width
        width = np.log(np.broadcast_to(width_mm, len(ink)))[:, None]
        same = np.abs(np.log(templates.width_mm[own]) - width) < np.log(1.19)
        mine = np.where(same, agrees[:, own], -1.0).max(axis=1)
        rivals = np.flatnonzero(self._rivals(character)[templates.character])
        others = agrees[:, rivals]
        likeliest = others.argmax(axis=1)
        margin = mine - others[np.arange(len(ink)), likeliest]
        pieces = _pieces(drawn, place.neighbours) - self._pieces[character]
        mine = mine - PIECE_PRICE * np.maximum(pieces, 0)
        return mine, margin, templates.character[rivals[likeliest]]

    def _rivals(self, character: str) -> Bools:
        """Which of the known characters one must be told from."""
        among = "".join(one for one in SETS if character in one) or "".join(SETS)
        return np.array([one != character and one in among + SIGNS for one in self.known])

    def _own_pieces(self, character: str) -> int:
        """In how many pieces a character is drawn."""
        from scipy import ndimage

        return int(ndimage.label(self.typeface.glyph(character), np.ones((3, 3)))[1])

    def _improved(
        self, character: str, place: _Place, drawn: Bools, share: Floats, width_mm: float
    ) -> LetterShape:
        """Change single beads as long as that helps."""
        may = np.flatnonzero((share > TRACE) & (share < 1 - TRACE))
        best, so_far = None, -np.inf
        trials = drawn[None]
        for _ in range(MOST_CHANGES):
            agrees, margin, rival = self._read(character, place, trials, width_mm)
            found = merit(agrees, margin)
            first = int(np.argmax(found))
            if found[first] <= so_far + 1e-4:
                break
            so_far, drawn = float(found[first]), trials[first]
            best = float(agrees[first]), float(margin[first]), self.known[rival[first]]
            trials = np.array([*_changed(drawn, may)])
            if not len(trials):
                break
        assert best is not None
        return LetterShape(character, width_mm, place.beads[drawn], *best)


def _overlap(parts: int, size_px: float, pixels: int) -> Float32Array:
    """How much of each pixel each part of a row of some length in their middle fills."""
    edge = (pixels - size_px) / 2 + np.arange(parts + 1) * (size_px / parts)
    pixel = np.arange(pixels)[:, None]
    covered = np.clip(edge[None] - pixel, 0, 1)
    return np.asarray(np.diff(covered, axis=1), dtype=np.float32)


def _changed(drawn: Bools, may: Ints) -> Iterator[Bools]:
    """Beads (k,) with one of some beads changed, as long as any is left."""
    for bead in may:
        trial = drawn.copy()
        trial[bead] ^= True
        if trial.any():
            yield trial


def _pieces(drawn: Bools, neighbours: Ints) -> Ints:
    """How many connected pieces each of some beads (n, k) make, (n,)."""
    own = np.where(drawn, np.arange(drawn.shape[1]), -1)
    first = own
    while True:
        # each bead takes the greatest number in reach; none is looked up last
        beside = np.concatenate([first, np.full((len(own), 1), -1)], axis=1)[:, neighbours]
        spread = np.where(drawn, np.maximum(first, beside.max(axis=2)), -1)
        if (spread == first).all():
            return np.asarray((drawn & (first == own)).sum(axis=1))
        first = spread
