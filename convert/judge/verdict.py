"""Whether what a sketch shows can be recognised in its beads, and what would help.

Size, place and colours are the best that were found; of a motif one bead wide nothing can be read
all the same. That has to be said before anything is strung.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from ...core.findings import Code, Finding, Remedy
from ..fit.legibility import Legibility, Verdict

if TYPE_CHECKING:
    from ..fit.fitting import Flat
    from .trials import Changes, Trials

UNRECOGNISED = (Code.HARD_TO_RECOGNISE, Code.TOO_SMALL)
"""What says so, the lesser doubt first."""


VERDICTS: tuple[Verdict, ...] = ("lost", "a hint", "reads")
"""The better later."""


def verdict_findings(flat: Flat, trials: Trials | None) -> list[Finding]:
    """Return what to say of a sketch that cannot be recognised; nothing if it can.

    Parameters
    ----------
    flat : Flat
        A motif as it was fitted.
    trials : Trials or None
        Other ways to work it, if they are to be tried.
    """
    legibility = flat.fitted.legibility
    if legibility.reads:
        return []
    remedies, sure = ([], False) if trials is None else _remedies(trials, legibility)
    data = {"beads": legibility.beads, "sure": sure, "tried": trials is not None}
    return [_doubt(legibility.verdict, flat.size_mm, data, tuple(remedies))]


def shaded_findings(verdict: Verdict, size_mm: tuple[float, float], beads: int) -> list[Finding]:
    """Return what to say of a shaded picture that cannot be recognised; nothing if it can.

    Parameters
    ----------
    verdict : 'reads', 'a hint' or 'lost'
    size_mm : tuple of float
        Width and height on the braid.
    beads : int
        Beads that are not ground.
    """
    if verdict == "reads":
        return []
    data = {"beads": beads, "shaded": True, "sure": False, "tried": False}
    return [_doubt(verdict, size_mm, data)]


def _doubt(
    verdict: Verdict,
    size_mm: tuple[float, float],
    data: Mapping[str, Any],
    remedies: tuple[Remedy, ...] = (),
) -> Finding:
    size = {"width_mm": round(size_mm[0], 1), "height_mm": round(size_mm[1], 1)}
    code = Code.HARD_TO_RECOGNISE if verdict == "a hint" else Code.TOO_SMALL
    return Finding(code, {**size, **data}, remedies)


def _remedies(trials: Trials, legibility: Legibility) -> tuple[list[Remedy], bool]:
    """What makes it read, and else what gives a hint of it at least; whether it then reads."""
    tried: list[tuple[Changes, Verdict]] = []
    for changes in help_ways(trials):
        verdict = _verdict(trials, changes)
        tried.append((changes, verdict))
        if verdict == "reads" and "strands" in changes:
            break  # more strands still are not called for
    for verdict in reversed(VERDICTS[1:]):
        better = [changes for changes, found in tried if found == verdict]
        if better and VERDICTS.index(verdict) > VERDICTS.index(legibility.verdict):
            return [remedy(changes) for changes in better[:2]], verdict == "reads"
    return [], False


def help_ways(trials: Trials) -> Iterator[Changes]:
    """Yield what may help: another size, along the braid, its outlines, the next braids."""
    order = trials.order
    if order.width_mm is not None or order.stretch is not None or order.pin:
        yield trials.settled({})
    yield trials.settled({"rotate_deg": (order.rotate_deg + 90) % 360})
    for outlines in trials.outlines():
        yield trials.settled({"outlines": outlines})
    for strands in trials.strands()[1]:
        yield trials.settled({"strands": strands})


def _verdict(trials: Trials, changes: Changes) -> Verdict:
    done = trials.carried_out(changes) if changes else None
    if done is None or done[1].flat is None:
        return "lost"
    return done[1].flat.fitted.legibility.verdict


def remedy(changes: Changes) -> Remedy:
    """Return changes as one remedy."""
    first, *also = (Remedy(name, value) for name, value in changes.items())
    return Remedy(first.field, first.value, tuple(also))
