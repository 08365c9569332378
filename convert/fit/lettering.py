"""A text on the braid: each letter where it is told from all others, all of one height in a line.

Letters are placed one after the other by dynamic programming: where a letter lies decides which
beads there are for it, and whole beads of ground lie between two letters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ...core.arrays import Floats, Ints
from ...core.braid import Lattice
from ...core.errors import WrongUsage
from .laying import nearest_bead
from .letters import Letters, LetterShape
from .size import MOST_ROUND

if TYPE_CHECKING:
    from ...core.drawing.typeface import Typeface
    from ..options import TextWay

HEIGHTS_PITCHES: dict[TextWay, tuple[float, ...]] = {
    "up": (3.4, 4.0, 4.8, 5.6),
    "down": (3.4, 4.0, 4.8, 5.6),
    "below": (4.2, 5.0, 6.0, 7.0),
}
"""Heights of letters that are tried, in bead pitches."""

SEEN_ROUND = 0.45
"""Of the way round: letters along the braid are as high as that, if all are read then; more of the
front is bent out of sight, and less shows them in fewer beads than there are."""

LEAST_PITCHES = 2.5
"""Letters less high than so many bead pitches cannot be told apart: E has three bars."""

READABLE = 0.05
"""The margin by which a letter must agree better with itself than with any other."""

DOUBT_PRICE = 0.3
"""Merit that a letter must gain by standing where it is in doubt: a gap that is a round too wide or
too narrow is better."""

GAP_ROUNDS = 2.0
"""From the last bead centre of a letter to the first of the next one: a whole bead between."""

LEAST_GAP_ROUNDS = 1.6
"""As little as it may be: more than from a bead to its neighbour on braids as computed, 1.5."""

SPACE_ROUNDS = 2.0
"""What a space adds to that."""

GAP_PRICE = 0.3
"""Merit that a gap a round wider or narrower must gain. With 0.03 the gaps of names had a standard
deviation of 0.30 to 0.36 rounds on 8 and 12 strands, with 0.15 of 0.17 to 0.27, with 0.3 of 0.10 to
0.20."""

LENGTH_PRICE = 0.002
"""Merit that a text a bead pitch longer must gain."""

ASIDE_PRICE = 0.004
"""Merit that a text whose middle lies a bead pitch aside must gain."""

SAME_PRICE = 0.2
"""Merit that a letter must gain that is not in the same beads as where it stood before in the text.
A choice of this project: a maker takes two kinds of A in ANNA for a mistake."""

LIKELIEST = 6
"""So many of the best forms of a letter that comes more than once are tried."""

ASIDE = np.array([0, -1, 1, -2, 2])
"""How far the line may lie beside the place that is asked for, in distances of places."""


class PlacedLetter(NamedTuple):
    """A letter on the braid.

    Attributes
    ----------
    shape : LetterShape
    crossings : (k,) int
        Its beads; below 0 before the braid's first one.
    right_mm, height_mm : float
        Its middle: to the right of the line's middle, and its height on the braid.
    """

    shape: LetterShape
    crossings: Ints
    right_mm: float
    height_mm: float


@dataclass(frozen=True, eq=False)
class Lettering:
    """A text on the braid.

    Parameters
    ----------
    letters : tuple of PlacedLetter
    way : 'up', 'down' or 'below'
    height_mm : float
        Of capitals, as drawn.
    span_mm : (float, float)
        Heights of its outermost bead centres.
    azimuth_deg : float
        Of the line's middle.
    narrow : bool
        Whether letters take no more room than they need.
    cost : float
    """

    letters: tuple[PlacedLetter, ...]
    way: TextWay
    height_mm: float
    span_mm: tuple[float, float]
    azimuth_deg: float
    narrow: bool
    cost: float

    @property
    def doubtful(self) -> list[LetterShape]:
        """The letters that are hardly told from another one, each once."""
        found = {one.shape.character: one.shape for one in self.letters}
        return [one for one in found.values() if one.margin < READABLE]


class _Stand(NamedTuple):
    """A letter wherever it may stand on the line.

    Attributes
    ----------
    shapes : list of LetterShape
    seeds : (n,) int
        Crossings.
    places : (n,) int
    first, last : (n,) float
        Its outermost bead centres along the line, mm.
    merit : (n,) float
    form : (n,) int
        A number that is the same where its beads lie to each other as elsewhere.
    """

    shapes: list[LetterShape]
    seeds: Ints
    places: Ints
    first: Floats
    last: Floats
    merit: Floats
    form: Ints


@dataclass(eq=False)
class TextFitter:
    """A text that is to be put on a braid.

    Parameters
    ----------
    text : str
        Capitals, digits, marks and spaces.
    lattice : Lattice
    way : 'up', 'down' or 'below'
    typeface : Typeface
    across_mm : float, optional
        How far letters may reach across the braid, as drawn; None if that is to be found.
    """

    text: str
    lattice: Lattice
    way: TextWay
    typeface: Typeface
    across_mm: float | None = None
    _letters: dict[tuple[float, bool], Letters] = field(default_factory=dict)
    _shapes: dict[tuple[float, bool, str], list[LetterShape]] = field(default_factory=dict)

    def heights_mm(self) -> list[float]:
        """Return the heights of letters that are tried."""
        pitch_mm = self.lattice.pitch_mm
        tried = [times * pitch_mm for times in HEIGHTS_PITCHES[self.way]]
        if self.way == "below":
            return tried
        if self.across_mm is not None:
            return [self.across_mm]
        # a letter as drawn ends within its outermost beads
        most_mm = MOST_ROUND * self.lattice.circumference_mm + pitch_mm / 2
        tried = [one for one in tried if one <= most_mm] or [most_mm]
        seen_mm = SEEN_ROUND * self.lattice.circumference_mm
        return sorted(tried, key=lambda one: (one > seen_mm, one if one > seen_mm else -one))

    def fit(self, azimuth_deg: float, middle_mm: float, room_mm: float) -> Lettering:
        """Put the text on the braid: the first height at which all letters are told apart.

        Parameters
        ----------
        azimuth_deg, middle_mm : float
            Where the middle of the text is to lie.
        room_mm : float
            As long as it may be, from its first bead centre to its last.

        Raises
        ------
        WrongUsage
            If there is not so much room.
        """
        found = []
        for narrow in (False, True):
            for height_mm in self.heights_mm():
                one = self.fit_at(height_mm, narrow, azimuth_deg, middle_mm, room_mm)
                if one is None:
                    continue
                if not one.doubtful:
                    return one
                found.append(one)
            if found:
                return min(found, key=lambda one: (len(one.doubtful), one.cost))
        raise WrongUsage(
            f"“{self.text}” does not fit on {room_mm:.0f} mm. Take a shorter text, smaller beads "
            "or a longer braid.",
            "text",
        )

    def again(
        self, found: Lettering, azimuth_deg: float, middle_mm: float, room_mm: float
    ) -> Lettering | None:
        """Put the text as it was found elsewhere; None if there is no room."""
        return self.fit_at(found.height_mm, found.narrow, azimuth_deg, middle_mm, room_mm)

    def fit_at(
        self, height_mm: float, narrow: bool, azimuth_deg: float, middle_mm: float, room_mm: float
    ) -> Lettering | None:
        """Put the text on the braid with letters of one height; None if there is no room."""
        key = height_mm, narrow
        if key not in self._letters:
            most_mm = self.across_mm or MOST_ROUND * self.lattice.circumference_mm
            self._letters[key] = Letters(
                self.lattice,
                self.way,
                height_mm,
                self.typeface,
                self.text.replace(" ", ""),
                most_width_mm=most_mm if self.way == "below" else np.inf,
                narrow=narrow,
            )
        letters = self._letters[key]
        if self._shortest_mm(letters) > room_mm:
            return None
        spacing_mm = letters.spacing_mm
        found = [
            self._line(letters, key, azimuth_deg + aside, middle_mm, room_mm)
            for aside in np.rad2deg(ASIDE * spacing_mm / self.lattice.radius_mm)
        ]
        there = [one for one in found if one is not None]
        return min(there, key=lambda one: one.cost, default=None)

    def _shortest_mm(self, letters: Letters) -> float:
        """Less than the text can be."""
        if self.way == "below":
            each = len(self.text) * [letters.height_mm]
        else:
            each = [letters.least_mm(one) for one in self.text if one != " "]
        gaps = len(each) * (GAP_ROUNDS - 1) * self.lattice.rise_mm
        return sum(each) + gaps - 2 * self.lattice.pitch_mm

    def _line(
        self,
        letters: Letters,
        key: tuple[float, bool],
        azimuth_deg: float,
        middle_mm: float,
        room_mm: float,
    ) -> Lettering | None:
        """The best line round one middle, one azimuth."""
        along = 1.0 if self.way == "up" else -1.0
        reach = room_mm / 2 + letters.spacing_mm
        steps = np.arange(-int(reach / letters.spacing_mm), int(reach / letters.spacing_mm) + 1)
        heights = middle_mm + along * steps * letters.spacing_mm
        lies = [nearest_bead(self.lattice, azimuth_deg, float(one)) for one in heights]
        seeds = np.array([seed for seed, _ in lies])
        away = np.array([offset for _, offset in lies])[:, None] - letters.places_mm
        places = np.asarray((away**2).sum(axis=2).argmin(axis=1))
        stands = {}
        for one in set(self.text) - {" "}:
            if (*key, one) not in self._shapes:
                self._shapes[*key, one] = letters.shapes(one)
            shapes = self._shapes[*key, one]
            stands[one] = self._stand(letters, shapes, seeds, places, along)
        chosen, cost = self._alike(stands, along * middle_mm, room_mm)
        if chosen is None:
            return None
        stood = list(zip([stands[one] for one in self.text if one != " "], chosen, strict=True))
        first, last = stood[0][0].first[stood[0][1]], stood[-1][0].last[stood[-1][1]]
        low, high = sorted((along * float(first), along * float(last)))
        placed = tuple(self._placed(letters, stand, at, azimuth_deg) for stand, at in stood)
        return Lettering(
            placed, self.way, letters.height_mm, (low, high), azimuth_deg, letters.narrow, cost
        )

    def _stand(
        self, letters: Letters, shapes: list[LetterShape], seeds: Ints, places: Ints, along: float
    ) -> _Stand:
        low, high = [], []
        for shape in shapes:
            up = along * letters.patch.y_mm[shape.beads]
            low.append(up.min())
            high.append(up.max())
        middle = along * self.lattice.height_mm(seeds)
        merit = np.array(
            [shape.merit - DOUBT_PRICE * (shape.margin < READABLE) for shape in shapes]
        )
        return _Stand(
            shapes,
            seeds,
            places,
            middle + np.array(low)[places],
            middle + np.array(high)[places],
            merit[places],
            np.array([letters.form(shape) for shape in shapes])[places],
        )

    def _alike(
        self, stands: dict[str, _Stand], middle_mm: float, room_mm: float
    ) -> tuple[list[int] | None, float]:
        """The best line in which the same letter is in the same beads, as far as that goes."""
        line = self._chosen(stands, middle_mm, room_mm)
        letters = self.text.replace(" ", "")
        for one in dict.fromkeys(letters):
            if line[0] is None or letters.count(one) == 1:
                continue
            here = stands[one]
            forms = dict.fromkeys(here.form[np.argsort(-here.merit, kind="stable")].tolist())
            stood = [
                here.form[at] for at, letter in zip(line[0], letters, strict=True) if letter == one
            ]
            tried = [
                here._replace(merit=here.merit - SAME_PRICE * (here.form != form))
                for form in dict.fromkeys([*map(int, stood), *[*forms][:LIKELIEST]])
            ]
            lines = [self._chosen({**stands, one: stand}, middle_mm, room_mm) for stand in tried]
            best = min(range(len(tried)), key=lambda number: lines[number][1])
            stands = {**stands, one: tried[best]}
            line = lines[best]
        return line

    def _chosen(
        self, stands: dict[str, _Stand], middle_mm: float, room_mm: float
    ) -> tuple[list[int] | None, float]:
        """Where each letter stands in the best line, and what that costs."""
        rise_mm, pitch_mm = self.lattice.rise_mm, self.lattice.pitch_mm
        # a bead of one letter beside a bead of the next would join them
        beside_mm = float(self.lattice.offsets_mm[:, 1].max())
        least_mm = max(LEAST_GAP_ROUNDS * rise_mm, beside_mm + 0.01 * rise_mm)
        came: list[Ints] = []
        cost, start, before = np.zeros(0), np.zeros(0), None
        for one, wanted_mm in _with_gaps(self.text, rise_mm):
            here = stands[one]
            if before is None:
                cost, start = -here.merit, here.first
            else:
                gap = here.first[None] - before.last[:, None]
                price = GAP_PRICE * ((gap - wanted_mm) / rise_mm) ** 2
                total = np.where(gap < least_mm, np.inf, cost[:, None] + price)
                best = total.argmin(axis=0)
                came.append(best)
                cost = total[best, np.arange(len(best))] - here.merit
                start = start[best]
            before = here
        assert before is not None
        length = before.last - start
        aside = np.abs((before.last + start) / 2 - middle_mm)
        cost = cost + (LENGTH_PRICE * length + ASIDE_PRICE * aside) / pitch_mm
        cost = np.where(length + 2 * aside > room_mm + 1e-6, np.inf, cost)
        at = int(np.argmin(cost))
        if not np.isfinite(cost[at]):
            return None, np.inf
        chosen, whole = [at], float(cost[at])
        for best in reversed(came):
            chosen.append(int(best[chosen[-1]]))
        return chosen[::-1], whole

    def _placed(self, letters: Letters, stand: _Stand, at: int, azimuth_deg: float) -> PlacedLetter:
        shape = stand.shapes[stand.places[at]]
        step, side = np.divmod(int(stand.seeds[at]), 2)
        patch = letters.patch
        beads = 2 * (step + patch.step[shape.beads]) + (side ^ patch.side[shape.beads])
        right, up = letters.places_mm[stand.places[at]]
        seed_x = float(
            self.lattice.chart_x_mm(self.lattice.azimuth_deg(2 * step + side), azimuth_deg)
        )
        return PlacedLetter(
            shape, beads, seed_x + float(right), float(self.lattice.height_mm(2 * step)) + float(up)
        )


def _with_gaps(text: str, rise_mm: float) -> Iterator[tuple[str, float]]:
    """Each letter with the gap before it, mm."""
    gap = GAP_ROUNDS
    for one in text:
        if one == " ":
            gap += SPACE_ROUNDS
            continue
        yield one, gap * rise_mm
        gap = GAP_ROUNDS


def doubts(lettering: Lettering) -> Sequence[dict[str, str]]:
    """Return which letters may be taken for which, as plain values."""
    return [{"letter": one.character, "like": one.rival} for one in lettering.doubtful]
