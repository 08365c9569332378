"""What a piece takes, in words: the sum from a wrist, beads, weights and cord."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ..making.lengths import CORD_FACTOR, INCH_MM, cut_length, format_length, plain_length
from ..names import counted

if TYPE_CHECKING:
    from ..making.lengths import Cord, Lengths
    from ..making.materials import Materials, Need, Plan


def length_lines(planned: Lengths, unit: str | None = None) -> list[str]:
    """Return the sum as a maker would write it down, all of it in mm or all in inches.

    `unit` is 'in' for inches; measures of beads and braid stand in mm beside them.
    """
    unit = "in" if unit == "in" else "mm"
    finished = format_length(planned.finished_mm, unit)
    thick, rise = format_length(planned.thickness_mm, "mm"), f"{planned.rise_mm:.2f} mm"
    if unit == "in":
        thick = f"{format_length(planned.thickness_mm, 'in')} ({thick}, {planned.thickness_source})"
        rise = f"{planned.rise_mm / INCH_MM:.3f} in ({rise}, {planned.rise_source})"
    else:
        thick, rise = f"{thick} ({planned.thickness_source})", f"{rise} ({planned.rise_source})"
    if planned.wrist_mm is not None and planned.ease_mm is not None:
        total = (
            f"Wrist {plain_length(planned.wrist_mm, unit)} + ease "
            f"{plain_length(planned.ease_mm, unit)} + π × thickness {thick} = {finished} along "
            "the middle of the braid."
        )
    else:
        total = f"Finished length {finished}."
    if planned.extension_mm:
        longest = format_length(planned.finished_mm + planned.extension_mm, unit)
        total += f" With the extension it can be closed at up to {longest}."
    return [
        total,
        f"Less clasp {plain_length(planned.clasp_mm, unit)} and end caps "
        f"{plain_length(planned.caps_mm, unit)}: {format_length(planned.beaded_mm, unit)} of "
        "beads.",
        f"{planned.rounds} rounds of {rise} = "
        f"{format_length(planned.worked_mm, unit)}: {planned.beads_per_strand} beads on each of "
        f"{planned.strands} strands, {planned.beads} beads in all.",
    ]


def cord_lines(cord: Cord, unit: str | None = None) -> list[str]:
    """Return what to buy and cut; `unit` as in `format_length`, thickness always in mm."""
    reason = "" if cord.factor == CORD_FACTOR else ", the longer way across the braid included"
    hollow = format_length(cord.hollow_mm, "mm")
    core = f"No core cord: the hollow of {hollow} is filled by the strands themselves."
    if cord.core_mm:
        core = (
            f"Core cord: {cut_length(cord.core_mm[1], unit)}, about {cord.core_mm[0]:.1f} mm thick "
            f"(estimate: the hollow is {hollow} across, less what the strands fill)."
        )
    return [
        f"Cord: {cutting(cord, unit)}; for each strand {cord.factor:.1f} × the finished length "
        f"of {format_length(cord.finished_mm, unit)}{reason}.",
        cord_thickness(cord),
        core,
        f"End caps: about {hollow} inside for the bare, bound ends (estimate; measure your bound "
        f"end), {format_length(cord.thickness_braid_mm, 'mm')} to take the edge of the beads as "
        "well.",
    ]


def cutting(cord: Cord, unit: str | None = None) -> str:
    """Return the pieces of cord to cut; `unit` as in `cut_length`."""
    return (
        f"{cord.pieces} pieces of {cut_length(cord.piece_mm, unit)}, each folded in the middle "
        f"to make two strands, {cut_length(cord.piece_mm, unit, cord.pieces)} in all"
    )


def cord_thickness(cord: Cord) -> str:
    """Return how thick a cord to take."""
    if cord.thickness_mm is None:
        return "Cord thickness: half to two thirds of the bead's hole; measure the hole."
    ends = _range(*cord.thickness_mm, digits=2)
    return f"Cord thickness: {ends} mm, half to two thirds of the smallest hole."


def need_line(need: Need) -> str:
    """Return one line of the shopping list."""
    line = f"{need.bead.code}  {need.bead.name}: {need.count}, with spare {need.with_spare}"
    if need.grams is not None:
        line += f", {format_grams(need.grams)}"
    if need.bead.stock is not None:
        line += f"; {at_hand(need)}"
    if need.packets is not None and need.buy:
        line += f"; {counted(need.packets, 'packet')}"
        if need.cost is not None:
            line += f", {need.cost:.2f}"
    return line


def at_hand(need: Need) -> str:
    """Return the stock, and what is to buy beside it; empty if the stock is not known."""
    if need.bead.stock is None:
        return ""
    line = f"{need.bead.stock} at hand"
    if not need.buy:
        return f"{line}, enough"
    weight = "" if need.buy_grams is None else f" ({format_grams(need.buy_grams)})"
    return f"{line}, {need.buy} to buy{weight}"


def shopping_lines(needed: Materials, unit: str | None = None) -> list[str]:
    """Return the shopping list; `unit` as in `format_length`."""
    return [
        f"{needed.total} beads, {needed.per_strand} on a strand; {needed.spare:.0%} spare for "
        "broken and odd ones:",
        *(f"  {need_line(need)}" for need in needed.needs),
        *cord_lines(needed.cord, unit),
    ]


def plan_lines(plan: Plan, unit: str | None = None) -> list[str]:
    """Return the plan of a piece, lengths in mm, or in inches if `unit` is 'in'."""
    grams = "" if plan.grams is None else f", {format_grams(plan.grams)}"
    packets = ""
    if plan.packets is not None:
        packets = (
            f", {counted(plan.packets, 'packet')} of {plan.packet_g:g} g in all if it is one colour"
        )
    return [
        *length_lines(plan.lengths, unit),
        f"{plan.bead.label} beads: {plan.lengths.beads}, with {plan.spare:.0%} spare "
        f"{plan.with_spare}{grams}{packets}.",
        *cord_lines(plan.cord, "in" if unit == "in" else "mm"),
    ]


def format_grams(grams: tuple[float, float]) -> str:
    """Return a weight to buy or weigh out, each end rounded up to the tenth of a gram."""
    low, high = (math.ceil(end * 10 - 1e-9) / 10 for end in grams)
    return f"{_range(low, high)} g"


def _range(low: float, high: float, digits: int = 1) -> str:
    """``'3.1'`` or ``'3.1-3.5'``: both ends, once if they read alike."""
    ends = f"{low:.{digits}f}", f"{high:.{digits}f}"
    return ends[0] if ends[0] == ends[1] else "-".join(ends)
