"""What the papers say: one set of sentences for the printed sheet, the page and reading aloud."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from ..braid import FRONT_DEG
from ..design import (
    FoldedRun,
    drop_directions,
    drop_findings,
    fold_parts,
    marked_codes,
    settings_dict,
)
from ..making.cautions import cautions
from ..making.lengths import INCH_MM, cut_length, format_length
from ..making.materials import materials
from .wording import sentence

if TYPE_CHECKING:
    from ..design import Design
    from ..findings import Finding
    from ..making.materials import Materials, Need


STOCK_HEADS = ("at hand", "to buy", "weight to buy")
"""Heads of the columns that follow from a stock."""


def stock_words(need: Need) -> tuple[str, str]:
    """Return what stands under "at hand" and "to buy"; dashes where the stock is not known."""
    if need.bead.stock is None:
        return "–", "–"
    return f"{need.bead.stock}", f"{need.buy}" if need.buy else "enough"


class Strand(NamedTuple):
    """One strand's list.

    Attributes
    ----------
    number, slot : int
        1-based.
    beads : tuple of int
        Rows of the palette, the first strung first.
    codes : tuple of str
        The same as written: drops carry the mark of their direction.
    parts : tuple of FoldedRun
        The codes as counted runs with repeats folded.
    """

    number: int
    slot: int
    beads: tuple[int, ...]
    codes: tuple[str, ...]
    parts: tuple[FoldedRun, ...]

    @property
    def folded(self) -> str:
        """The list in one line: ``3 A, 1 B, then 12 × (3 A, 1 C)``."""
        return ", then ".join(map(str, self.parts))


@dataclass(frozen=True, eq=False)
class SheetContent:
    """Everything the papers say about one design.

    Parameters
    ----------
    design : Design
    title : str
        Heading; the picture's name if empty.
    unit : 'cm' or 'in'
        For lengths; beads, cord and braid are so thin that their thickness stands in mm.
    finished_mm : float, optional
        Finished length, clasp and caps included; what the design says if not given.
    findings : sequence of Finding
        What is to be said about the design at the end.
    """

    design: Design
    title: str = ""
    unit: Literal["cm", "in"] = "cm"
    finished_mm: float | None = None
    findings: Sequence[Finding] = ()

    @cached_property
    def heading(self) -> str:
        """The title, the picture's name without its ending, or a plain word."""
        if self.title:
            return self.title
        picture = self.design.picture
        if picture is None:
            return "Test braid" if self.test_braid else "Beaded braid"
        return picture.file.rpartition(".")[0] or picture.file

    @property
    def length_unit(self) -> str | None:
        """The unit as the functions of `lengths` take it: inches, or cm and mm by the length."""
        return "in" if self.unit == "in" else None

    def length(self, mm: float) -> str:
        """A length for people."""
        return format_length(mm, self.length_unit)

    @cached_property
    def test_braid(self) -> bool:
        """Whether it is worked to be measured, not to be worn."""
        return self.design.origin.test_braid

    @property
    def plain(self) -> str:
        """Length of the plain braid at each end."""
        return "1 to 2 cm" if self.unit == "cm" else "3/8 to 3/4 in"

    @cached_property
    def strands(self) -> tuple[Strand, ...]:
        """The lists, in the order of the strands' numbers."""
        design = self.design
        codes = np.array(marked_codes(design, self.drops), dtype=object)
        numbers = design.braid.strand_of(np.arange(len(design.beads)))
        return tuple(
            Strand(
                strand + 1,
                slot,
                tuple(design.beads[numbers == strand].tolist()),
                tuple(codes[numbers == strand].tolist()),
                tuple(fold_parts(codes[numbers == strand].tolist())),
            )
            for strand, slot in enumerate(design.braid.start_slots)
        )

    @cached_property
    def drops(self) -> Any:
        """Which way round the drop beads go on."""
        return drop_directions(self.design)

    # -- what it is and what it takes ------------------------------------------------------------

    @property
    def about(self) -> str:
        """The braid in one sentence."""
        design, lattice = self.design, self.design.lattice
        braid = design.braid
        rounds = f"{design.rounds:g} rounds"
        thick = format_length(lattice.thickness_mm, "mm")
        return (
            f"Round braid of {braid.strands} strands, {braid.lay} lay, {braid.turn} turn, "
            f"{design.bead.label} beads. {rounds}, {len(design.beads)} beads: "
            f"{self.length(design.length_mm)} beaded ({lattice.source['rise_mm']}), "
            f"{thick} thick ({lattice.source['radius_mm']})."
        )

    @cached_property
    def shopping(self) -> Materials:
        """Beads with their allowance, and the cord."""
        return materials(self.design, finished_mm=self.finished_mm)

    @property
    def needs(self) -> list[str]:
        """Cord, disc, findings and tools, one sentence each."""
        braid = self.design.braid
        wanted = self.shopping.cord
        if self.test_braid:
            counted = (
                "Make each longer by twice the width of your disc: so short a braid leaves too "
                "little to hold."
            )
        else:
            counted = f"Counted for a finished length of {self.length(wanted.finished_mm)}."
        lines = [f"Cord: {wanted.cutting(self.length_unit)}. {counted}", wanted.choice]
        if wanted.core_mm:
            lines.append(
                f"Core cord: {cut_length(wanted.core_mm[1], self.length_unit)}, about "
                f"{wanted.core_mm[0]:.1f} mm thick (estimate), down the middle of the braid."
            )
        lines.append(f"A braiding disc with {braid.start.slots} slots and a hole in the middle.")
        tools = f"{braid.strands} bobbins or stoppers, a weight."
        if self.test_braid:
            return [
                *lines,
                f"Binding thread, a needle or stiffened cord ends for threading, {tools}",
                "A caliper to measure it with. No clasp and no end caps: it is not worn.",
            ]
        return [
            *lines,
            "A clasp with two end caps: the beaded braid is "
            f"{format_length(wanted.thickness_braid_mm, 'mm')} thick, its hollow "
            f"{format_length(wanted.hollow_mm, 'mm')}; measure your bound end.",
            "Binding thread, glue for the ends, a needle or stiffened cord ends for threading, "
            f"{tools}",
        ]

    @property
    def shopping_words(self) -> list[str]:
        """What it costs if all of it is known, how far the stock goes, and what is not known."""
        return [sentence(one, self.unit) for one in self.shopping.printed]

    @property
    def remarks(self) -> list[str]:
        """What is to be said about the design."""
        return [sentence(one, self.unit) for one in self.findings]

    @property
    def front_deg(self) -> float:
        """Azimuth of the middle of the front."""
        picture = self.design.picture
        return FRONT_DEG if picture is None else picture.front_deg

    @property
    def _front_side(self) -> str:
        """Where the front points, for somebody who sits at six o'clock."""
        halves = round(self.front_deg / 15.0) % 24
        hour = halves // 2 or 12
        if halves % 2:
            return f"points between {hour} and {hour % 12 + 1} o'clock (you sit at 6 o'clock)"
        sides = {6: "faces you", 12: "faces away from you"}
        return sides.get(hour, f"points to {hour} o'clock (you sit at 6 o'clock)")

    # -- how it is done --------------------------------------------------------------------------

    @property
    def threading(self) -> list[str]:
        """From the cord to the disc."""
        braid = self.design.braid
        slots = braid.start_slots
        return [
            "Bind the folds of all pieces together. Put the bound end down through the hole of the "
            f"disc and lay the {braid.strands} strands into the slots: strand 1 in slot "
            f"{slots[0]}, strand 2 in slot {slots[1]}, and so on clockwise to strand "
            f"{braid.strands} in slot {slots[-1]}. Hang the weight on the bound end.",
            "Thread every strand from its loose end, reading its list from left to right. The "
            "first bead of the list goes on first and is pushed up to the disc; the last bead "
            "stays nearest the loose end. Then close the loose end with a bobbin or a stopper.",
        ]

    @property
    def steps(self) -> tuple[str, str, str]:
        """The two crossings and the turn, as they are repeated all the way."""
        braid = self.design.braid
        first, second = braid.work(2)
        one, two = ("left", "right") if braid.lay == "S" else ("right", "left")
        way = "clockwise" if braid.turn_sense < 0 else "counter-clockwise"
        top = braid.start.starts[braid.turn_sense % braid.pairs]
        return (
            f"Take the {one} strand of the top pair down, into the empty slot to the {one} of the "
            f"bottom pair. (The first time: strand {first.strand + 1}, from slot "
            f"{first.from_slot} to slot {first.to_slot}.)",
            f"Take the {two} strand of the bottom pair up, into the empty slot to the {two} of the "
            f"top pair. (The first time: strand {second.strand + 1}, from slot "
            f"{second.from_slot} to slot {second.to_slot}.)",
            f"Turn the disc {way} until the next pair is at the top. (The first time: the pair in "
            f"slots {top[0]} and {top[1]}.) Go on with step 1.",
        )

    @property
    def beading(self) -> list[str]:
        """How the beads go in, and how to keep count."""
        braid = self.design.braid
        return [
            "Beads: one bead goes in with every crossing. Before the strand crosses, slide its "
            "next bead down to the middle of the disc, tuck it under the strand that lies across "
            "there, then cross and pull gently.",
            f"{braid.axes} turns make one round of {braid.beads_per_round} beads. After "
            f"{braid.strands} turns (four rounds) every strand has used two beads, and the "
            "strands stand in the order of the start again.",
            "A good place to stop: between step 1 and step 2, with three strands at the bottom "
            "and one at the top. Go on with step 2.",
        ]

    @property
    def plain_start(self) -> list[str]:
        """Braid without beads before the first bead, and the front mark."""
        braid = self.design.braid
        slot = _slot_of_first(self.design, 2 * braid.strands)
        way = "clockwise" if braid.lay == "S" else "counter-clockwise"
        shift = min((slot - braid.start_slots[0]) % braid.start.slots, _back(self.design, slot))
        return [
            f"Start with {self.plain} of plain braid, without beads"
            f"{'' if self.test_braid else ', for the end cap'}. Work it "
            f"in whole sets of {braid.strands} turns: only then do the strands stand in the order "
            f"of the start again, {shift} slots further {way}. (After the first set strand 1 is in "
            f"slot {slot}.)",
            "Front mark: begin the beads after a whole set, when strands 1 and 2 are the pair at "
            "the top again. Before the first bead tie a coloured thread round the plain braid, "
            f"with its knot on the side that {self._front_side}: that side is the front, the "
            "middle line of the chart.",
        ]

    @property
    def disc_words(self) -> str:
        """What the drawing of the disc shows."""
        braid = self.design.braid
        return (
            "Seen from above; you sit at the lower edge. Each strand is drawn with its number and "
            "its first beads, the one that is braided first nearest the disc. Arrows 1 and 2 are "
            "the first two crossings, arrow 3 the turn; the mark in the middle points to the "
            f"front. {braid.lay} lay, {braid.turn} turn."
        )

    @property
    def front_words(self) -> str:
        """Caption under the disc."""
        front = ": the front of the braid" if self._front_side == "faces you" else ""
        return f"▲ your side{front}"

    @property
    def list_words(self) -> str:
        """How the lists are read."""
        return (
            "Thread each strand from its loose end, from left to right: the first bead goes on "
            "first and comes to lie nearest the disc. The line in words and the drawn beads say "
            "the same; tick a box after every ten beads."
        )

    @property
    def finish(self) -> list[str]:
        """After the last bead."""
        return [
            f"After the last bead work {self.plain} of plain braid. Lift the strands out of the "
            "disc and hold them together. Bind the plain braid tightly with thread, close to the "
            "last beads, and knot the thread.",
            *([] if self.test_braid else [self._capping]),
        ]

    @property
    def _capping(self) -> str:
        return (
            "Cut the strands just beyond the binding. Glue the bound end into the end cap and let "
            "it dry. Take out the first binding and do the same at the other end; the front marks "
            "of both ends must lie in one line."
        )

    @cached_property
    def drop_words(self) -> list[str]:
        """Legend and warnings of drop beads; empty without drops."""
        return [sentence(one, self.unit) for one in drop_findings(self.design, self.drops)]

    @property
    def cautions(self) -> list[str]:
        """The usual cautions."""
        return list(cautions(fittings=not self.test_braid, drops=bool(self.drops.count)))

    @property
    def settings(self) -> list[str]:
        """What is needed to make the papers again."""
        design = self.design
        lattice, braid = design.lattice, design.braid
        lines = [
            "himotif sheet makes it again from the folder's design.json; himotif convert from the "
            f"picture: {braid.strands} strands, {braid.lay} lay, {braid.turn} turn, "
            f"{design.bead.label} beads"
        ]
        lines += _flat(settings_dict(design.origin), self.length_unit)
        lines += [
            f"radius {lattice.radius_mm:.3f} mm ({lattice.source['radius_mm']})",
            f"rise {lattice.rise_mm:.3f} mm ({lattice.source['rise_mm']})",
            f"drift {lattice.drift_deg:.3f}° ({lattice.source['drift_deg']})",
        ]
        if design.picture is not None:
            version = design.picture.sha256[:_VERSION]
            lines.append(
                f"picture {design.picture.file}{f', version {version}' if version else ''}"
            )
        return lines


def _slot_of_first(design: Design, crossings: int) -> int:
    """Slot of strand 1 after so many crossings, by working the disc."""
    slot = design.braid.start_slots[0]
    for move in design.braid.work(crossings):
        if move.strand == 0:
            slot = move.to_slot
    return slot


def _back(design: Design, slot: int) -> int:
    return (design.braid.start_slots[0] - slot) % design.braid.start.slots


_VERSION = 8
"""Digits of a picture's digest that distinguish its versions on paper; design.json has them all."""

_SAID_ELSEWHERE = {"strands", "lay", "turn", "bead_size", "findings"}
_THIN = {"bead_diameter", "bead_length", "thickness"}
"""Given in mm whatever the unit, as they are everywhere else."""

_UNITS = {"deg": "°", "rounds": " rounds"}


def _flat(settings: Mapping[str, Any], unit: str | None, before: str = "") -> list[str]:
    """Settings as names with values and units; what was not given is left out."""
    rows: list[str] = []
    for name, value in settings.items():
        if value is None or (not before and name in _SAID_ELSEWHERE):
            continue
        stem, _, last = name.rpartition("_")
        known = bool(stem) and (last in _UNITS or last == "mm")
        plain = before + (stem if known else name).replace("_", " ")
        if isinstance(value, Mapping):
            rows += _flat(value, unit, f"{plain} ")
        elif value is True:
            rows.append(plain)
        elif last == "mm" and known:
            rows.append(f"{plain} {_length_value(value, 'mm' if stem in _THIN else unit)}")
        else:
            rows.append(f"{plain} {_plain_value(value)}{_UNITS[last] if known else ''}")
    return rows


def _length_value(value: Any, unit: str | None) -> str:
    """A length, or several, to the hundredth of a mm; `unit` as in `format_length`."""
    several = value if isinstance(value, list | tuple) else [value]
    if not all(isinstance(mm, int | float) for mm in several):
        return _plain_value(value)
    unit = unit or ("cm" if max(map(abs, several), default=0) >= 100 else "mm")
    one, digits = {"mm": (1.0, 2), "cm": (10.0, 3), "in": (INCH_MM, 3)}[unit]
    return f"{', '.join(f'{round(mm / one, digits):g}' for mm in several)} {unit}"


def _plain_value(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return ", ".join(map(_plain_value, value))
    return str(value)
