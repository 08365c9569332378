"""One order from a maker, carried out: the command and the page both come through here."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import astuple, dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ..core.braid.braid import Braid
from ..core.braid.lattice import Lattice
from ..core.errors import WrongUsage
from .options import DEFAULT_WRIST_MM, Limits, Order, Papers

if TYPE_CHECKING:
    import numpy.typing as npt

    from ..core.bead import BeadSize
    from ..core.design.design import Design
    from ..core.making.lengths import Lengths
    from ..core.making.materials import Materials
    from ..core.making.swatch import Readings
    from ..palette.palette import Palette
    from .conversion import Conversion, ConvertOptions
    from .read.flat_colours import Kind
    from .read.picture import Picture
    from .report.distort import Distortion


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
        from .report.distort import distort_conversion

        return distort_conversion(self.conversion, self.picture, self.design)

    def files(self, papers: Papers) -> dict[str, bytes]:
        """Return the files of the folder, by name."""
        from .write.outputs import distortion_files, folder_files

        files = folder_files(self.design, papers)
        return files if papers.lists_only else files | distortion_files(self.distortion)

    def missed_limits(self, limits: Limits) -> list[str]:
        """Return what misses the limits asked for."""
        from ..core.show.distortion import missed_limits

        if limits == Limits():
            return []
        return missed_limits(self.distortion.report, *astuple(limits))

    def summary(self) -> dict[str, Any]:
        """Return the result as plain values."""
        from ..core.design.drops import drop_directions, drops_dict

        design, lattice = self.design, self.design.lattice
        found = self.conversion.likeness(design)
        drops = drop_directions(design)
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
        } | (drops_dict(design, drops) if drops.count else {})

    def lines(self, unit: str | None = None) -> list[str]:
        """Return the result for people; `unit` as on the papers."""
        from ..core.design.drops import drop_directions, drop_lines
        from ..core.making.lengths import format_length

        unit = "in" if unit == "in" else None
        design, lattice = self.design, self.design.lattice
        counts = ", ".join(
            f"{need.count} {need.bead.code} ({need.bead.name})" for need in self.materials.needs
        )
        reach = self.materials.reach
        stock = None if reach is None or reach.enough else self.materials.stock_line(unit)
        drops = drop_directions(design)
        return [
            f"{design.braid.strands} strands, {design.braid.lay} lay, {design.bead.label} beads: "
            f"{len(design.beads)} beads, {self.lengths.beads_per_strand} on each strand; "
            f"{format_length(design.length_mm, unit)} beaded, "
            f"{format_length(lattice.thickness_mm, 'mm')} thick.",
            f"{self._motifs()} Beads: {counts}.",
            *([] if stock is None else [stock]),
            *(drop_lines(design, drops) if drops.count else []),
        ]

    def _motifs(self) -> str:
        """How many motifs there are, if anything of them is left."""
        design, found = self.design, self.conversion.design
        motifs = len(self.conversion.placement.centres)
        left = design.beads[found.beads != found.background] != design.background
        if not left.any():
            return "No motif: nothing of it is left in the beads."
        return f"{motifs} motif{'s' if motifs != 1 else ''}."


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
    from ..core.design.mixed_sizes import main_size

    if diameter_mm is None and length_mm is None:
        usual = main_size(palette.beads) if palette is not None and size is None else None
        return bead_size(size or (usual if usual in bead_sizes() else None) or "8/0")
    if size is not None or diameter_mm is None or length_mm is None:
        field = "bead_diameter_mm" if diameter_mm is None else "bead_length_mm"
        raise WrongUsage(
            "give either a bead size, or both measures of a bead, across it and along its hole.",
            field if size is None else "bead_size",
        )
    return BeadSize(None, diameter_mm, length_mm)


def lattice_of(
    braid: Braid, bead: BeadSize, readings: Readings | None = None
) -> tuple[Lattice, list[str]]:
    """Return the lattice of a braid, and the questions that a swatch's readings raise."""
    from ..core.making.swatch import questions

    lattice = Lattice.computed(braid, bead)
    if readings is None:
        return lattice, []
    return Lattice.computed(braid, bead, readings.swatch), questions(readings, lattice)


DROP_TWIN_DE00 = 10.0
"""A drop is not chosen by mere colour where a round bead is this near to it."""


def beads_by_colour(palette: Palette, kind: Kind, asked: Collection[str]) -> list[int]:
    """Return the places of the beads that may be chosen by their colour alone.

    A drop bead stands out of the braid. It is used for a plain colour that no round bead has;
    otherwise, and in shaded pictures, it is left to the maker to ask for it.

    Parameters
    ----------
    palette : Palette
    kind : 'flat' or 'shaded'
        Of the picture.
    asked : collection of str
        Codes that she asks for.
    """
    from ..palette.difference import ciede2000_matrix

    drop = _drops(palette)
    if drop.all() or not drop.any():
        return list(range(len(palette)))
    alone = ciede2000_matrix(palette.lab, palette.lab[~drop]).min(axis=1) > DROP_TWIN_DE00
    return [
        place
        for place, bead in enumerate(palette.beads)
        if not drop[place] or (alone[place] and kind == "flat") or bead.code in asked
    ]


def _drops(palette: Palette) -> npt.NDArray[np.bool_]:
    return np.array([bead.shape == "drop" for bead in palette.beads])


@dataclass(frozen=True)
class _Choice:
    """The beads that may be chosen by colour, the ground's code, and what is to be said."""

    allowed: list[int]
    background: str | None
    notes: list[str]


def _choose(order: Order, picture: Picture, palette: Palette) -> _Choice:
    from .conversion import background_index
    from .read.sketch import read_sketch

    drop = _drops(palette)
    if drop.all() or not drop.any():
        return _Choice(list(range(len(palette))), order.background, [])
    kind = order.kind or read_sketch(picture).kind
    asked = {*order.keep, *([order.background] if order.background else [])}
    allowed = beads_by_colour(palette, kind, asked)
    background = order.background
    if background is None:
        # a ground of drops would cover the skin side, too: only on her word
        round_ones = palette.subset(np.flatnonzero(~drop).tolist())
        background = round_ones.codes[background_index(picture, round_ones, None)]
    left_out = [
        bead.code
        for place, bead in enumerate(palette.beads)
        if place not in allowed and bead.code not in order.scatter
    ]
    notes = []
    if left_out:
        one = len(left_out) == 1
        notes.append(
            f"Drop {'bead' if one else 'beads'} {', '.join(left_out)} {'was' if one else 'were'} "
            "left out: round beads do for the picture's colours. Ask for a drop "
            f"(--keep {left_out[0]}), or strew it (--scatter {left_out[0]}=0.1)."
        )
    return _Choice(allowed, background, notes)


SPECK = 0.004
"""Part of a column of a picture that is drawn on by accident."""

ROOMY = 0.7
"""A motif that takes less of its picture's width than this could be larger."""


def _margin_notes(order: Order, picture: Picture, palette: Palette, ground: int) -> list[str]:
    """Say so if wide margins of the picture, turned by quarters, make the motif small."""
    if order.width_mm is not None or order.rotate_deg % 90:
        return []
    drawn = _drawn(picture, order.kind, palette, ground)
    along = 1 if order.rotate_deg % 180 else 0
    # a speck is no motif
    columns = np.flatnonzero(drawn.sum(axis=along) > SPECK * drawn.shape[along])
    share = 0.0 if not len(columns) else (np.ptp(columns) + 1) / drawn.shape[1 - along]
    if not 0 < share < ROOMY:
        return []
    return [
        f"The motif takes only {share:.0%} of the picture's width; crop the picture's margins, or "
        "make it wider (--width), to have the motif larger."
    ]


def _drawn(
    picture: Picture, kind: Kind | None, palette: Palette, ground: int
) -> npt.NDArray[np.bool_]:
    """Where anything but ground is drawn: paper may be far from its bead's colour."""
    from ..core.srgb import srgb_to_linear
    from .fit.comparison import linear_lab
    from .read.sketch import match_linear, read_sketch

    sketch = read_sketch(picture, kind)
    planes = sketch.source.planes
    if sketch.kind == "flat":
        paper = match_linear(sketch.colours.linear, palette) == ground
        return np.asarray(planes[..., 3] - planes[..., 4:][..., paper].sum(axis=-1) > 0.5)
    bead = linear_lab(srgb_to_linear(palette.rgb[ground]))
    away = np.abs(linear_lab(planes[..., :3]) - bead).max(axis=-1)
    return np.asarray((away > 10) & (planes[..., 3] > 0.5))


def _check_codes(order: Order, palette: Palette) -> None:
    """Name every code that is asked for and not in the palette, all together."""
    asked = {
        "background": [] if order.background is None else [order.background],
        "keep": order.keep,
        "scatter": order.scatter,
    }
    unknown = [
        WrongUsage(
            f"{code} is not in {palette.name}; its codes are {', '.join(palette.codes)}.", field
        )
        for field, codes in asked.items()
        for code in codes
        if code not in palette.codes
    ]
    if unknown:
        raise WrongUsage.together(unknown)


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
    from ..core.design.mixed_sizes import size_lines
    from ..core.making.materials import materials
    from .conversion import convert_picture

    _check_codes(order, palette)
    bead = bead_of(order.bead_size, order.bead_diameter_mm, order.bead_length_mm, palette)
    braid = Braid(order.strands, order.lay, order.turn, order.disc)
    lattice, doubts = lattice_of(braid, bead, order.readings)
    planned, assumed = _planned(order, lattice)
    choice = _choose(order, picture, palette)
    conversion = convert_picture(
        picture,
        palette.subset(choice.allowed),
        lattice,
        bead,
        _options(order, planned, choice),
        order.settings() | {"finished_mm": round(planned.finished_mm, 2)},
    )
    design, changes = _finished(order, _with_all_beads(conversion.design, palette, choice))
    short = None if order.moved_mm is None else conversion.tile.shortfall(order.moved_mm[1])
    notes = [
        *planned.questions,
        *doubts,
        *picture.notes,
        *palette.notes,
        *assumed,
        *planned.notes,
        *choice.notes,
        *_margin_notes(order, picture, palette, design.background),
        *conversion.notes,
        *([] if short is None else [short]),
        *changes,
        *size_lines(design),
    ]
    told = tuple(dict.fromkeys(notes))
    # the papers can be made again from the design alone
    design = replace(design, settings={**design.settings, "notes": list(told)})
    needed = materials(design, finished_mm=planned.finished_mm)
    return Made(picture, design, conversion, planned, needed, told)


def _planned(order: Order, lattice: Lattice) -> tuple[Lengths, list[str]]:
    """Lengths and rounds, with the note if a wrist had to be assumed."""
    from ..core.making.lengths import lengths, plain_length
    from .fit.placement import check_place

    wrist_mm, notes = order.wrist_mm, []
    if wrist_mm is None and order.length_mm is None:
        wrist_mm = DEFAULT_WRIST_MM
        told = plain_length(wrist_mm, order.unit)
        notes.append(f"A wrist of {told} assumed; give yours (--wrist).")
    planned = lengths(
        lattice,
        wrist_mm=wrist_mm,
        length_mm=order.length_mm,
        ease_mm=order.ease_mm,
        clasp_mm=order.clasp_mm,
        caps_mm=order.caps_mm,
        unit="in" if order.unit == "in" else None,
    )
    check_place(order.moved_mm or (0.0, 0.0), lattice, planned.worked_mm)
    return planned, notes


def _options(order: Order, planned: Lengths, choice: _Choice) -> ConvertOptions:
    """What the conversion is to do; what an order and it both know goes by the same names."""
    from .conversion import ConvertOptions

    shared = {
        item.name: getattr(order, item.name)
        for item in fields(ConvertOptions)
        if hasattr(order, item.name)
    }
    return ConvertOptions(**shared | {"rounds": planned.rounds, "background": choice.background})


def _with_all_beads(design: Design, palette: Palette, choice: _Choice) -> Design:
    """The design in the whole palette, drops and all, not only the beads chosen by colour."""
    return replace(
        design,
        palette=palette.beads,
        beads=np.array(choice.allowed)[design.beads],
        background=choice.allowed[design.background],
    )


def _finished(order: Order, design: Design) -> tuple[Design, list[str]]:
    """The design with its plain back and its accents, and what is to be said about them."""
    from ..core.design.scatter import plain_back, scatter

    notes = []
    if order.plain_back_deg:
        bare = plain_back(design, order.plain_back_deg)
        cut = int((bare.beads != design.beads).sum())
        if cut:
            whole = (bare.beads == bare.background).all()
            notes.append(
                f"The plain back covers {cut} bead{'s' if cut > 1 else ''} of the motif"
                f"{', which is all of it' if whole else ''}; a "
                "narrower back (--plain-back) or motif (--width) leaves them."
            )
        design = bare
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
    return design, notes
