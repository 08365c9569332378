"""One order from a maker, carried out: the command and the page both come through here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ..core.braid import Braid, Disc, Lay, Turn
from ..core.design import Fit
from ..core.errors import WrongUsage
from ..core.lattice import Lattice

if TYPE_CHECKING:
    from ..core.bead import BeadSize
    from ..core.design import Design
    from ..core.lengths import Lengths
    from ..core.materials import Materials
    from ..core.swatch import Readings
    from ..palette.palette import Palette
    from .colouring import Kind
    from .conversion import Conversion, Pin
    from .distort import Distortion
    from .outputs import Papers
    from .picture import Picture

DEFAULT_WRIST_MM = 165.0


@dataclass(frozen=True)
class Order:
    """What the maker asked for; lengths in mm, None where she left it to us.

    Parameters
    ----------
    strands, lay, turn
        The braid.
    disc : Disc, optional
        Her own start.
    bead_size : str, optional
        Trade size; the palette's main size, else 8/0, if nothing is said.
    bead_diameter_mm, bead_length_mm : float, optional
        Instead of a size, both.
    readings : Readings, optional
        Of a worked swatch.
    wrist_mm, length_mm, ease_mm, clasp_mm, caps_mm : float, optional
        See `himotif.core.lengths.lengths`.
    fit, width_mm, rotate_deg, repeat, gap_rounds, background, kind, most, keep, moved_mm, pin,
    quick, seed
        See `himotif.convert.conversion.ConvertOptions`.
    plain_back_deg : float
        Sector of the back that stays in the background bead.
    scatter : mapping of str to float
        Share of the background beads near a motif, by bead code.
    scatter_anew : bool
        Scatter differently at each repeat.
    """

    strands: int = 8
    lay: Lay = "S"
    turn: Turn = "usual"
    disc: Disc | None = None
    bead_size: str | None = None
    bead_diameter_mm: float | None = None
    bead_length_mm: float | None = None
    readings: Readings | None = None
    wrist_mm: float | None = None
    length_mm: float | None = None
    ease_mm: float | None = None
    clasp_mm: float | None = None
    caps_mm: float | None = None
    fit: Fit = "wrap"
    width_mm: float | None = None
    rotate_deg: float = 0.0
    repeat: int | Literal["fill", "once"] = "fill"
    gap_rounds: float = 1.0
    background: str | None = None
    kind: Kind | None = None
    most: int | None = None
    keep: tuple[str, ...] = ()
    moved_mm: tuple[float, float] | None = None
    pin: tuple[Pin, ...] = ()
    quick: bool = False
    seed: int = 0
    plain_back_deg: float = 0.0
    scatter: Mapping[str, float] = field(default_factory=dict)
    scatter_anew: bool = False

    def settings(self) -> dict[str, Any]:
        """Return what differs from the defaults, as plain values: enough to order again."""
        plain: dict[str, Any] = {}
        for item in fields(self):
            value = getattr(self, item.name)
            default = {} if item.name == "scatter" else item.default
            if value == default or item.name == "disc":
                continue
            if item.name == "readings":
                plain["swatch"] = {
                    part.name: getattr(value, part.name)
                    for part in fields(value)
                    if getattr(value, part.name) is not None
                }
            elif item.name == "scatter":
                plain["scatter"] = dict(value)
            else:
                plain[item.name] = list(value) if isinstance(value, tuple) else value
        return plain


@dataclass(frozen=True, eq=False)
class Made:
    """What came of an order.

    Parameters
    ----------
    picture : Picture
    design : Design
    conversion : Conversion
    lengths : Lengths
    materials : Materials
    notes : tuple of str
        Everything to be said about the work, in the order it came up.
    """

    picture: Picture
    design: Design
    conversion: Conversion
    lengths: Lengths
    materials: Materials
    notes: tuple[str, ...]

    @cached_property
    def distortion(self) -> Distortion:
        """What the braid does to the sketch."""
        from .distort import distort_conversion

        return distort_conversion(self.conversion, self.picture, self.design)

    def files(self, papers: Papers) -> dict[str, bytes]:
        """Return the files of the folder, by name."""
        from .outputs import distortion_files, folder_files

        files = folder_files(self.design, papers)
        return files if papers.lists_only else files | distortion_files(self.distortion)

    def missed_limits(self, *limits: float | None) -> list[str]:
        """Return what misses the limits asked for (edge mm, kept percent, colour CIEDE2000)."""
        from ..core.distortion import missed_limits

        return missed_limits(self.distortion.report, *limits)

    def summary(self) -> dict[str, Any]:
        """Return the result as plain values."""
        design, lattice = self.design, self.design.lattice
        found = self.conversion.found
        return {
            "strands": design.braid.strands,
            "lay": design.braid.lay,
            "beads": len(design.beads),
            "beads_per_strand": self.lengths.beads_per_strand,
            "rounds": self.lengths.rounds,
            "length_mm": round(design.length_mm, 2),
            "thickness_mm": round(lattice.thickness_mm, 2),
            "motifs": max(1, len(self.conversion.placement.centres)),
            "kind": self.conversion.kind,
            "counts": {need.bead.code: need.count for need in self.materials.needs},
            "materials": self.materials.as_dict(),
            "likeness": {
                "C": round(found.whole.colour, 3),
                "S": round(found.whole.structure, 4),
                "J": round(found.score, 3),
            },
            "notes": list(self.notes),
        }

    def lines(self) -> list[str]:
        """Return the result for people."""
        design, lattice = self.design, self.design.lattice
        counts = ", ".join(
            f"{need.count} {need.bead.code} ({need.bead.name})" for need in self.materials.needs
        )
        motifs = len(self.conversion.placement.centres)
        return [
            f"{design.braid.strands} strands, {design.braid.lay} lay, {design.bead.label} beads: "
            f"{len(design.beads)} beads, {self.lengths.beads_per_strand} on each strand; "
            f"{design.length_mm:.0f} mm beaded, {lattice.thickness_mm:.1f} mm thick.",
            f"{motifs} motif{'s' if motifs != 1 else ''}. Beads: {counts}.",
        ]


def bead_of(
    size: str | None,
    diameter_mm: float | None,
    length_mm: float | None,
    palette: Palette | None = None,
) -> BeadSize:
    """Return the main bead: measured, asked for, the palette's most common known size, or 8/0.

    Raises
    ------
    WrongUsage
        If the size is unknown, or size and measures are mixed.
    """
    from ..core.bead import BeadSize, bead_size, bead_sizes
    from ..core.mixed_sizes import main_size

    if diameter_mm is None and length_mm is None:
        usual = main_size(palette.beads) if palette is not None and size is None else None
        return bead_size(size or (usual if usual in bead_sizes() else None) or "8/0")
    if size is not None or diameter_mm is None or length_mm is None:
        raise WrongUsage(
            "Give either --bead-size, or both --bead-diameter and --bead-length; measure along "
            "the hole for the length."
        )
    return BeadSize(None, diameter_mm, length_mm)


def lattice_of(
    braid: Braid, bead: BeadSize, readings: Readings | None = None
) -> tuple[Lattice, list[str]]:
    """Return the lattice of a braid, and the questions that a swatch's readings raise."""
    from ..core.swatch import questions

    lattice = Lattice.computed(braid, bead)
    if readings is None:
        return lattice, []
    return Lattice.computed(braid, bead, readings.swatch), questions(readings, lattice)


DROP_TWIN_DE00 = 10.0
"""A drop is not chosen by mere colour where a round bead is this near to it."""


def beads_by_colour(palette: Palette, wanted: set[str | None]) -> list[int]:
    """Return the places of the beads that may be chosen by their colour alone.

    A drop bead stands out of the braid: where a round bead has nearly its colour, it is left to
    the maker to ask for the drop by its code.

    Parameters
    ----------
    palette : Palette
    wanted : set of str
        Codes that she asks for.
    """
    from ..palette.difference import ciede2000_matrix

    drop = np.array([bead.shape == "drop" for bead in palette.beads])
    if drop.all() or not drop.any():
        return list(range(len(palette)))
    nearest = ciede2000_matrix(palette.lab, palette.lab[~drop]).min(axis=1)
    return [
        place
        for place, bead in enumerate(palette.beads)
        if not drop[place] or nearest[place] > DROP_TWIN_DE00 or bead.code in wanted
    ]


def make(order: Order, picture: Picture, palette: Palette) -> Made:
    """Carry out an order.

    Parameters
    ----------
    order : Order
    picture : Picture
    palette : Palette

    Raises
    ------
    HimotifError
        If it cannot be done; the message says how to mend it.
    """
    from ..core.lengths import lengths
    from ..core.materials import materials
    from ..core.mixed_sizes import size_lines
    from ..core.scatter import plain_back, scatter
    from .conversion import ConvertOptions, convert_picture

    bead = bead_of(order.bead_size, order.bead_diameter_mm, order.bead_length_mm, palette)
    braid = Braid(order.strands, order.lay, order.turn, order.disc)
    lattice, notes = lattice_of(braid, bead, order.readings)
    notes = [*picture.notes, *palette.notes, *notes]
    wrist_mm = order.wrist_mm
    if wrist_mm is None and order.length_mm is None:
        wrist_mm = DEFAULT_WRIST_MM
        notes.append(f"A wrist of {wrist_mm:g} mm assumed; give yours with --wrist.")
    planned = lengths(
        lattice,
        wrist_mm=wrist_mm,
        length_mm=order.length_mm,
        ease_mm=order.ease_mm,
        clasp_mm=order.clasp_mm,
        caps_mm=order.caps_mm,
    )
    notes += planned.notes
    allowed = beads_by_colour(palette, {order.background, *order.keep})
    left_out = [palette.beads[i].code for i in range(len(palette)) if i not in allowed]
    if left_out:
        notes.append(
            f"Drop beads {', '.join(left_out)} were left out: round beads have nearly their "
            f"colour; ask for one with --keep, or strew it with --scatter {left_out[0]}=0.1."
        )
    conversion = convert_picture(
        picture,
        palette.subset(allowed),
        lattice,
        bead,
        ConvertOptions(
            rounds=planned.rounds,
            fit=order.fit,
            width_mm=order.width_mm,
            rotate_deg=order.rotate_deg,
            repeat=order.repeat,
            gap_rounds=order.gap_rounds,
            background=order.background,
            kind=order.kind,
            most=order.most,
            keep=order.keep,
            moved_mm=order.moved_mm,
            pin=order.pin,
            quick=order.quick,
            seed=order.seed,
        ),
        order.settings() | {"finished_mm": round(planned.finished_mm, 2)},
    )
    notes += conversion.notes
    # the design's palette is the whole one, drops and all
    found = conversion.design
    design = replace(
        found,
        palette=palette.beads,
        beads=np.array(allowed)[found.beads],
        background=allowed[found.background],
    )
    if order.plain_back_deg:
        design = plain_back(design, order.plain_back_deg)
    if order.scatter:
        scattered = scatter(
            design,
            order.scatter,
            seed=order.seed,
            plain_back_deg=order.plain_back_deg,
            each_different=order.scatter_anew,
        )
        design = scattered.design
        notes += scattered.lines()
    told = tuple(dict.fromkeys([*notes, *size_lines(design)]))
    # the papers can be made again from the design alone
    design = replace(design, settings={**design.settings, "notes": list(told)})
    return Made(
        picture,
        design,
        conversion,
        planned,
        materials(design, finished_mm=planned.finished_mm),
        told,
    )


def read_order_files(
    start: Path | None, swatch: Path | None
) -> tuple[Disc | None, Readings | None]:
    """Read a maker's own start and her swatch, where she gives them."""
    from ..core.own_start import read_own_start
    from ..core.swatch import read_readings

    return (
        None if start is None else read_own_start(start),
        None if swatch is None else read_readings(swatch),
    )
