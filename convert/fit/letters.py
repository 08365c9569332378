"""One letter on the lattice: the beads by which a reader tells it from all others.

A letter is looked at in its own frame: *right* the way a line runs, *up* towards its top, in mm
from its middle. The reader knows every letter in two weights, at many widths, seen a little out of
focus, and says how well some beads agree with each: the model of J. M. Loomis, "A model of
character recognition and legibility", J. Exp. Psychol.: Hum. Percept. Perform. 16 (1990) 106-120
(from memory). Agreement is linear in the beads, so all beads are compared with all letters by one
product of matrices.
"""

from __future__ import annotations

import unicodedata
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

FOCUS_PITCHES = 0.3
"""Standard deviation, in bead pitches, of how the reader sees. With 0.22, 0.3 and 0.35 a reader of
Lato and Manrope took 4, 3 and 6 of 29 capitals for others, of those on 8 to 20 strands that are
easily taken so."""

FILLED = (0.35, 0.45, 0.55)
"""A bead is tried in the letter's colour where the letter fills so much of its cell."""

TIMES_WIDE = {"up": (0.9, 1.4), "down": (0.9, 1.4), "below": (0.75, 1.2)}
"""How many times as wide as in the typeface a letter may be. Along the braid there is room, but
capitals of the bundled typeface are a tenth wider than those of Lato, Manrope, Hanken Grotesk and
Red Hat Display, bold: with 1.6 an H on 8 strands was wider than any H that a reader knew. One below
the other these read 489 of 492 letters and digits; with 1.1, 1.3 and 1.4 they read 486, 489 and
485, with 1.3 by a little less."""

WEIGHTS = (1.0, 0.7)
"""Letters are known, and may be drawn, with strokes of these shares of the typeface's. Those of the
bundled one are 0.27 of a capital's height; of the four typefaces above 0.19 to 0.21. Known in the
first weight alone, an I was made so broad that it was read as S, and B and Q as O. Of 465 letters
and digits Lato and Manrope read 458; with 0.6 or 0.8 in place of 0.7 they read 455."""

NARROW_WIDTHS = (0.5, 0.75)
"""A narrow letter such as J is made so broad, in heights, at least, and may be so broad."""

NEVER_WIDENED = f"I{SIGNS}"
"""But not these, which have nothing to be shown at a side: they are no wider than drawn."""

NARROWEST = 0.6
"""Of the least width of a letter: so narrow it is known as another one. With 0.72 an S is known no
narrower than 0.41 of its height, and an I was read as S on 20 strands."""

WIDTHS = 7
"""So many widths are tried."""

SHIFTS_PX = (-3, 0, 3)
"""Letters are known half a bead to either side. With a third of a bead Lato and Manrope read 276 of
280 letters and digits alone, so 279."""

BLOOM_PITCHES = (0.3, 0.5)
"""Beads reach beyond what is drawn: how much wider, and higher at most, letters are known."""

ENOUGH = 0.15
"""A margin beyond which nothing is gained. Of 804 letters and digits, alone and in words, Lato,
Manrope, Hanken Grotesk and Red Hat Display read 792; with 0.1, 0.12 and 0.2 they read 787, 785 and
791."""

MARGIN_WEIGHT = 2.0
"""Of the margin by which a letter agrees better with itself than with any other, beside how well it
agrees with itself. A choice of this project."""

PIECE_PRICE = 0.2
"""Merit that each piece too many costs: strokes that hang together read better. With 0.08 an H on 8
strands fell into two."""

HOLE_PRICE = 0.05
"""Merit that each hole too many or too few costs: an A has one, without which it loses its bar, and
an O that is open reads as C. A choice of this project."""

EDGE_PRICE = 0.1
"""Merit that a top or a foot must gain that lies a bead pitch higher or lower than those of other
letters. Without it the heights of letters below each other on 12 strands had a standard deviation
of 0.39 pitches, with it 0.31. A letter that needs more is not kept from it."""

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
    merit : float
        What is sought.
    margin : float
        How much better they agree with the letter than with any other one.
    rival : str
        That other one.
    """

    character: str
    width_mm: float
    beads: Ints
    merit: float
    margin: float
    rival: str


def merit(agrees: Floats, margin: Floats) -> Floats:
    """Return what is sought: like itself, and unlike all others as far as that is in doubt."""
    return np.asarray(agrees + MARGIN_WEIGHT * np.minimum(margin, ENOUGH))


def unframed(way: TextWay, right: Floats, up: Floats) -> tuple[Floats, Floats]:
    """Return what lies right and up in a letter's frame as right and up on the braid."""
    return {"up": (-up, right), "down": (up, -right), "below": (right, up)}[way]


def _framed_up(way: TextWay, right: Floats, up: Floats) -> Floats:
    """Return what lies right and up on the braid as up in a letter's frame."""
    return {"up": -right, "down": right, "below": up}[way]


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
    up_mm : (k,) float
        From the letter's middle to a bead's centre.
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
    up_mm: Floats
    neighbours: Ints
    agrees: Float32Array
    products: Float32Array

    def seen(self, drawn: Bools) -> _Seen:
        """Return how sets of beads (n, k) are seen."""
        ink = drawn.astype(np.float32)
        return _Seen(ink @ self.agrees, ((ink @ self.products) * ink).sum(axis=1))


class _Templates(NamedTuple):
    """What the reader knows: `each` forms of every character in every weight.

    Attributes
    ----------
    width_mm : (characters, each) float
        As drawn in the first weight.
    seen : (weights * characters * each, pixels) float32
        Of unit norm.
    """

    width_mm: Floats
    seen: Float32Array


class _Seen(NamedTuple):
    """Sets of beads as they are seen.

    Attributes
    ----------
    sums : (n, templates) float32
        What their beads add to the agreement with each template.
    energy : (n,) float32
        Square of their norm.
    """

    sums: Float32Array
    energy: Float32Array


class _Read(NamedTuple):
    """What sets of beads are read as.

    Attributes
    ----------
    agrees, margin : (n,) float
        How well they agree with their letter, and how much better than with the likeliest other
        one: means of the weights.
    rival : (n,) int
        Number of that other one.
    """

    agrees: Floats
    margin: Floats
    rival: Ints


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
        self._masks: dict[tuple[str, float], Float32Array] = {}
        glyphs = {one: typeface.glyph(one) for one in self.known}
        self._tall = {one for one, mask in glyphs.items() if mask[0].any() and mask[-1].any()}
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
        widths = np.tile(self._widths_mm(character), len(WEIGHTS))
        weights = np.repeat(WEIGHTS, len(widths) // len(WEIGHTS))
        planes = [
            self._drawn(character, width, self.height_mm, weight).ravel()
            for width, weight in zip(widths, weights, strict=True)
        ]
        which = np.tile(np.arange(len(widths)), len(FILLED))
        found = []
        for place in self._places:
            owner, count = place.owner.ravel(), len(place.beads)
            share = np.array([np.bincount(owner, plane, count) for plane in planes])
            share = np.where(place.near, share / np.bincount(owner), 0.0)
            # a dot that fills no bead so far takes the one that it fills most
            least = np.minimum(np.array(FILLED)[:, None, None], share.max(axis=1, keepdims=True))
            drawn = (share >= least).reshape(-1, count)
            read = self._read(character, place.seen(drawn), widths[which])
            best = int(np.argmax(self._merit(character, place, drawn, read)))
            width, share = float(widths[which[best]]), share[which[best]]
            found.append(self._improved(character, place, drawn[best], share, width))
        return found

    def form(self, shape: LetterShape) -> int:
        """Return a number that is the same for beads that lie to each other alike."""
        patch, beads = self.patch, shape.beads
        first = beads[np.lexsort((patch.x_mm[beads], patch.step[beads]))[0]]
        step, side = patch.step[beads] - patch.step[first], patch.side[beads] ^ patch.side[first]
        return hash(frozenset(zip(step.tolist(), side.tolist(), strict=True)))

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

    def _drawn(
        self, character: str, width_mm: float, height_mm: float, weight: float
    ) -> Float32Array:
        """How much of each pixel a character in their middle fills, 0..1."""
        return self._spread(self._weighted(character, weight), width_mm, height_mm)

    def _spread(self, mask: Float32Array, width_mm: float, height_mm: float) -> Float32Array:
        """How much of each pixel a mask in their middle fills, 0..1."""
        rows, columns = self._shape_px
        down = _overlap(mask.shape[0], height_mm * self._px_per_mm, rows)
        across = _overlap(mask.shape[1], width_mm * self._px_per_mm, columns)
        return np.asarray(down @ mask @ across.T, dtype=np.float32)

    def _weighted(self, character: str, weight: float) -> Float32Array:
        """A character with thinner strokes, (h, w); signs have none."""
        if (character, weight) not in self._masks:
            mask = self.typeface.glyph(character)
            if weight < 1 and character not in SIGNS:
                inside = _inside(mask)
                edge = (1 - weight) * _inside(self.typeface.glyph("L")).max()
                mask = (inside > edge) | _middle(inside)
                rows = np.flatnonzero(mask.any(axis=1))
                mask = mask[rows[0] : rows[-1] + 1]
            self._masks[character, weight] = mask.astype(np.float32)
        return self._masks[character, weight]

    # -- the reader ----------------------------------------------------------------------------

    @cached_property
    def _focus(self) -> tuple[Float32Array, Float32Array]:
        """How much of each row and column of what is drawn is seen in each that is left."""
        high, wide = self._shape_px
        return _blurred(high), _blurred(wide)

    def _out_of_focus(self, planes: Float32Array) -> Float32Array:
        """Planes (k, h, w) as the reader sees them, (k, pixels), less their mean."""
        down, across = self._focus
        seen = (down @ planes @ across.T).reshape(len(planes), -1)
        return np.asarray(seen - seen.mean(axis=1, keepdims=True), dtype=np.float32)

    @cached_property
    def _templates(self) -> _Templates:
        """Every letter that is known, in every weight, at many widths, and a little aside."""
        wider, higher = (bloom * self.lattice.pitch_mm for bloom in BLOOM_PITCHES)
        heights_mm = self.height_mm, self.height_mm + higher
        width = np.array([self._known_widths_mm(one) for one in self.known])
        planes = [
            np.roll(plane, shift, axis=1)
            for weight in WEIGHTS
            for one, widths_mm in zip(self.known, width, strict=True)
            for width_mm in widths_mm
            for height_mm in heights_mm
            for plane in [self._drawn(one, float(width_mm) + wider, height_mm, weight)]
            for shift in SHIFTS_PX
        ]
        seen = self._out_of_focus(np.stack(planes))
        seen /= np.linalg.norm(seen, axis=1, keepdims=True)
        return _Templates(np.repeat(width, len(heights_mm) * len(SHIFTS_PX), axis=1), seen)

    def _known_widths_mm(self, character: str) -> Floats:
        least, most = self._range_mm(character)
        return np.geomspace(NARROWEST * least, most, WIDTHS + 1)

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
        right = patch.x_mm[beads] - offset_mm[0]
        right -= lattice.circumference_mm * np.rint(right / lattice.circumference_mm)
        number = np.full(len(patch) + 1, -1)
        number[beads] = np.arange(len(beads))
        alone = owner[None] == np.arange(len(beads))[:, None, None]
        seen = self._out_of_focus(alone.astype(np.float32))
        return _Place(
            beads,
            owner,
            np.abs(right) <= lattice.circumference_mm / 3 + 1e-6,
            _framed_up(self.way, right, patch.y_mm[beads] - offset_mm[1]),
            number[patch.neighbours[beads]],
            seen @ self._templates.seen.T,
            seen @ seen.T,
        )

    def _read(self, character: str, seen: _Seen, width_mm: npt.ArrayLike) -> _Read:
        """Read beads that are to be a letter of some width."""
        templates, number = self._templates, self.known.index(character)
        agrees = seen.sums / np.sqrt(np.maximum(seen.energy, 1e-9))[:, None]
        agrees = agrees.reshape(len(agrees), len(WEIGHTS), *templates.width_mm.shape)
        # its own letter as it was drawn, others at any width
        width = np.log(np.broadcast_to(width_mm, len(agrees)))[:, None]
        same = np.abs(np.log(templates.width_mm[number]) - width) < np.log(1.19)
        mine = np.where(same[:, None], agrees[:, :, number], -1.0).max(axis=2)
        rivals = np.flatnonzero(self._rivals(character))
        others = agrees.max(axis=3)[:, :, rivals]
        apart = (mine[:, :, None] - others).mean(axis=1)
        likeliest = apart.argmin(axis=1)
        margin = apart[np.arange(len(apart)), likeliest]
        return _Read(mine.mean(axis=1), margin, rivals[likeliest])

    def _merit(self, character: str, place: _Place, drawn: Bools, read: _Read) -> Floats:
        """What is sought of sets of beads (n, k), (n,).

        Pieces and holes are counted as long as a set may still be the best.
        """
        found = merit(read.agrees, read.margin)
        if character in self._tall:
            found -= EDGE_PRICE * self._uneven(place, drawn)
        best = -np.inf
        for one in np.argsort(-found, kind="stable"):
            if found[one] <= best:
                break
            found[one] -= self._topology_price(character, place, drawn[one])
            best = max(best, found[one])
        return found

    def _uneven(self, place: _Place, drawn: Bools) -> Floats:
        """How far top and foot of sets of beads (n, k) lie off, squares of bead pitches, (n,)."""
        pitch_mm = self.lattice.pitch_mm
        edge_mm = (self.height_mm + BLOOM_PITCHES[1] * pitch_mm - pitch_mm) / 2
        # without any bead, as far as the frame goes
        top, foot = (
            np.where(drawn, sign * place.up_mm, -self.height_mm).max(axis=1) for sign in (1, -1)
        )
        off = (top - edge_mm) ** 2 + (foot - edge_mm) ** 2
        return np.asarray(off / pitch_mm**2)

    def _topology_price(self, character: str, place: _Place, drawn: Bools) -> float:
        pieces, holes = self._pieces[character]
        more = _pieces(drawn, place.neighbours) - pieces
        away = abs(_pieces(~drawn, place.neighbours) - 1 - holes)
        return PIECE_PRICE * max(more, 0) + HOLE_PRICE * away

    def _rivals(self, character: str) -> Bools:
        """Which of the known characters one must be told from."""
        among = "".join(one for one in SETS if character in one) or "".join(SETS)
        return np.array([one != character and one in among + SIGNS for one in self.known])

    def _glyph_pieces(self, character: str) -> tuple[Ints, int]:
        """The number of the piece of a character at each pixel, 0 for none; how many there are."""
        from scipy import ndimage

        piece, count = ndimage.label(self.typeface.glyph(character), np.ones((3, 3)))
        return piece, int(count)

    def _own_pieces(self, character: str) -> tuple[int, int]:
        """In how many pieces a character is drawn, and how many holes it has."""
        from scipy import ndimage

        bare = ~np.pad(self.typeface.glyph(character), 1)
        return self._glyph_pieces(character)[1], int(ndimage.label(bare)[1]) - 1

    def _kept_apart(self, character: str, place: _Place, drawn: Bools, width_mm: float) -> bool:
        """Whether each piece of a character, such as a dot, is one piece in beads of its own."""
        piece, count = self._glyph_pieces(character)
        planes = [
            self._spread((piece == one + 1).astype(np.float32), width_mm, self.height_mm)
            for one in range(count)
        ]
        owner = place.owner.ravel()
        share = np.array([np.bincount(owner, one.ravel(), len(place.beads)) for one in planes])
        filled, mostly = share.max(axis=0) > 0, share.argmax(axis=0)
        worked = [
            {int(mostly[bead]) for bead in group if filled[bead]}
            for group in _groups(drawn, place.neighbours)
        ]
        return sorted(map(list, worked)) == [[one] for one in range(count)]

    def _improved(
        self, character: str, place: _Place, drawn: Bools, share: Floats, width_mm: float
    ) -> LetterShape:
        """Change single beads as long as that helps."""
        may = np.flatnonzero((share > TRACE) & (share < 1 - TRACE))
        own = np.diagonal(place.products)[may]
        seen = place.seen(drawn[None])
        read, at = self._read(character, seen, width_mm), 0
        so_far = float(self._merit(character, place, drawn[None], read)[0])
        for _ in range(MOST_CHANGES if len(may) else 0):
            sign = np.where(drawn[may], -1, 1).astype(np.float32)
            beside = (place.products @ drawn.astype(np.float32))[may]
            tried = _Seen(
                seen.sums + sign[:, None] * place.agrees[may],
                np.asarray(seen.energy + 2 * sign * beside + own, dtype=np.float32),
            )
            trials = np.repeat(drawn[None], len(may), axis=0)
            trials[np.arange(len(may)), may] ^= True
            tried_read = self._read(character, tried, width_mm)
            found = self._merit(character, place, trials, tried_read)
            found[~trials.any(axis=1)] = -np.inf
            best = int(np.argmax(found))
            if found[best] <= so_far + 1e-4:
                break
            so_far, drawn, read, at = float(found[best]), trials[best], tried_read, best
            seen = _Seen(tried.sums[best : best + 1], tried.energy[best : best + 1])
        margin, rival = float(read.margin[at]), self.known[read.rival[at]]
        letter = unicodedata.normalize("NFD", character)[0]
        if letter != character and not self._kept_apart(character, place, drawn, width_mm):
            margin, rival = min(margin, 0.0), letter
        return LetterShape(character, width_mm, place.beads[drawn], so_far, margin, rival)


def _overlap(parts: int, size_px: float, pixels: int) -> Float32Array:
    """How much of each pixel each part of a row of some length in their middle fills."""
    edge = (pixels - size_px) / 2 + np.arange(parts + 1) * (size_px / parts)
    pixel = np.arange(pixels)[:, None]
    covered = np.clip(edge[None] - pixel, 0, 1)
    return np.asarray(np.diff(covered, axis=1), dtype=np.float32)


def _blurred(pixels: int) -> Float32Array:
    """Weights (rows, pixels) by which a row of pixels is out of focus, every third one left."""
    at = np.arange(COARSE_PX // 2, pixels, COARSE_PX)
    sigma = FOCUS_PITCHES * LETTER_PX_PER_PITCH
    weight = np.exp(-(((np.arange(pixels) - at[:, None]) / sigma) ** 2) / 2)
    return np.asarray(weight / (np.sqrt(2 * np.pi) * sigma), dtype=np.float32)


def _inside(mask: Bools) -> Floats:
    """How far inside a mask each of its pixels lies, px."""
    from scipy import ndimage

    return np.asarray(ndimage.distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1])


def _middle(inside: Floats) -> Bools:
    """The pixels that lie no less far inside than those beside them: no stroke is without any."""
    from scipy import ndimage

    return np.asarray((inside > 0) & (inside >= ndimage.maximum_filter(inside, 3)))


def _pieces(drawn: Bools, neighbours: Ints) -> int:
    """In how many pieces some beads (k,) hang together."""
    return len(_groups(drawn, neighbours))


def _groups(drawn: Bools, neighbours: Ints) -> list[list[int]]:
    """The pieces in which some beads (k,) hang together."""
    near = dict(zip(np.flatnonzero(drawn).tolist(), neighbours[drawn].tolist(), strict=True))
    groups = []
    while near:
        bead, edge = near.popitem()
        group = [bead]
        while edge:
            bead = edge.pop()
            if bead in near:
                group.append(bead)
                edge += near.pop(bead)
        groups.append(group)
    return groups
