"""What is said of lost parts, and what would keep them: named only once it was carried out.

A way is a change of what is asked for, or of the sketch: the part drawn broader. It keeps a part if
that is no longer lost, nothing else is lost in its stead, and the verdict is no worse.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...core.findings import Code, Finding, Remedy
from ..fit.features import pixels_of
from ..fit.size import flat_sketch
from .choices import size_ways
from .lost import CODES, Key, Lost, find_lost
from .verdict import VERDICTS, help_ways, remedy

if TYPE_CHECKING:
    from ...core.arrays import Ints
    from ...palette import Palette
    from ..fit.energy import FlatSketch
    from ..fit.fitting import Flat
    from .trials import Changes, Trials

NAMED_LOST = 3
"""So many are named one by one; the others are counted."""

MOST_SEARCHES = 5
"""Searches that are made for the lost parts of a motif beyond those that its verdict has taken. Of
20 sketches of ``tests/benchmarks/advice.py`` on 8 strands 4 took any, one 3.7 times as long."""

TRIED_PITCHES = (1.2, 1.7)
"""How broad a lost part is drawn to see whether it is kept, in bead pitches. The first gets a bead
wherever it lies, but not a whole row of them everywhere."""

Keep = tuple[float | None, tuple[Remedy, ...]]
"""How broad a part is kept if it is drawn so, mm on the braid, and the options that keep it."""


def lost_findings(flat: Flat, palette: Palette, trials: Trials) -> list[Finding]:
    """Return what is to be said about lost parts, at most three of them one by one.

    Parameters
    ----------
    flat : Flat
        A motif as it was fitted.
    palette : Palette
    trials : Trials
        Other ways to work it: what is said to keep a part was carried out.
    """
    lost, pitch_mm = find_lost(flat), flat.fitted.patch.lattice.pitch_mm
    ways = what_keeps(lost[:NAMED_LOST], lost, flat, trials)
    findings = [
        _finding(one, palette, pitch_mm, draw_mm, remedies)
        for one, (draw_mm, remedies) in zip(lost[:NAMED_LOST], ways, strict=True)
    ]
    if len(lost) > NAMED_LOST:
        more = {"count": len(lost) - NAMED_LOST}
        findings.append(Finding(Code.LOST_MORE, more))
    return findings


def _finding(
    one: Lost,
    palette: Palette,
    pitch_mm: float,
    draw_mm: float | None,
    remedies: tuple[Remedy, ...],
) -> Finding:
    bead = palette.beads[one.within]
    data = {
        "name": bead.name,
        "code": bead.code,
        "where": list(one.where),
        "width_mm": round(one.width_mm, 1),
        "pitch_mm": round(pitch_mm, 2),
        "piece": one.piece,
        "line": one.line,
        "draw_mm": draw_mm and round(draw_mm, 1),
        "draw_times": draw_mm and round(draw_mm / one.width_mm, 1),
    }
    return Finding(CODES[one.kind], data, remedies)


def what_keeps(
    named: Sequence[Lost], lost: Sequence[Lost], flat: Flat, trials: Trials
) -> list[Keep]:
    """Return what keeps each of some lost parts, as far as it was carried out.

    Parameters
    ----------
    named : sequence of Lost
    lost : sequence of Lost
        All of the motif.
    flat : Flat
        The motif as it was fitted.
    trials : Trials
    """
    if not named:
        return []
    search = _Search({one.key for one in lost}, flat, trials, MOST_SEARCHES)
    # where nothing can be recognised, the verdict's remedies are what counts
    drawn = flat.fitted.legibility.verdict != "lost"
    broad = [search.broad_mm(one) if drawn else None for one in named]
    return [*zip(broad, search.options(named), strict=True)]


@dataclass(eq=False)
class _Search:
    """Looks for what keeps lost parts, by their keys; so many searches are left."""

    lost: set[Key]
    flat: Flat
    trials: Trials
    left: int

    def options(self, named: Sequence[Lost]) -> list[tuple[Remedy, ...]]:
        """Return the first change of the order that keeps each part."""
        found: dict[Key, tuple[Remedy, ...]] = {}
        for changes in self._ways():
            fresh = not self.trials.known(changes)
            if fresh and self.left <= 0:
                break
            self.left -= fresh
            done = self.trials.carried_out(changes)
            if done is None or done[1].flat is None:
                continue
            for key in self._kept(done[1].flat):
                found.setdefault(key, (remedy(changes),))
            if all(one.key in found for one in named):
                break
        return [found.get(one.key, ()) for one in named]

    def _ways(self) -> Iterator[Changes]:
        """Changes of the order, the least first; those that the verdict has tried cost nothing.

        Other outlines are other parts: what is not drawn is not kept.
        """
        trials = self.trials
        if not self.flat.fitted.legibility.reads:
            yield from (changes for changes in help_ways(trials) if "outlines" not in changes)
            return
        yield from (changes for _, changes in size_ways(trials, self.flat))
        yield from trials.smaller_beads()
        for strands in trials.strands()[1]:
            yield trials.settled({"strands": strands})

    def broad_mm(self, one: Lost) -> float | None:
        """Return how broad a part is to be drawn to be kept; None if no breadth that was tried."""
        pitch_mm = self.flat.fitted.patch.lattice.pitch_mm
        for pitches in TRIED_PITCHES:
            if pitches * pitch_mm <= one.width_mm:
                continue
            sketch = self._drawn(one, pitches * pitch_mm)
            if sketch is None or self.left <= 0:
                return None
            self.left -= 1
            if one.key in self._kept(self.trials.fit_again(self.flat, sketch)):
                return pitches * pitch_mm
        return None

    def _drawn(self, one: Lost, width_mm: float) -> FlatSketch | None:
        """The sketch with a part drawn so broad; None if it then has other parts than before."""
        sketch = self.flat.sketch
        ink = sketch.ground if one.kind == "opening" else one.within
        half = width_mm / 2 / self.flat.fitted.size.width_mm
        drawn = _broader(sketch.labels, sketch.ground, one, ink, half)
        broader = flat_sketch(drawn, sketch.ground)
        same = _parts(broader) == _parts(sketch)
        return broader if same else None

    def _kept(self, after: Flat) -> set[Key]:
        """What is lost no longer; nothing if the verdict is worse, or other parts are lost."""
        verdicts = [VERDICTS.index(one.fitted.legibility.verdict) for one in (after, self.flat)]
        if verdicts[0] < verdicts[1]:
            return set()
        still = {one.key for one in find_lost(after)}
        return self.lost - still if still <= self.lost else set()


def _broader(labels: Ints, ground: int, one: Lost, ink: int, half: float) -> Ints:
    """Labels (h, w) with ink so far around a lost part, in widths of the motif; maybe larger."""
    from scipy import ndimage

    wide = labels.shape[1]
    room = int(np.ceil(half * wide)) + 1
    padded = np.pad(labels, room, constant_values=ground)
    away = np.ones(padded.shape, dtype=bool)
    row, column = pixels_of(one.points, labels)
    away[row + room, column + room] = False
    near = ndimage.distance_transform_edt(away) <= half * wide
    return np.where(near, ink, padded)


def _parts(sketch: FlatSketch) -> Counter[tuple[int, bool, bool]]:
    """How many parts of each colour a sketch has, and openings, and how many are enclosed."""
    return Counter((one.ink, one.kind == "opening", one.closed) for one in sketch.features)
