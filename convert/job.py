"""One order from a maker, carried out: the command and the page both come through here."""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ..core.braid import Braid, Lattice
from ..core.errors import WrongUsage
from ..core.findings import Code, Finding, Remedy, Weight, by_weight, distinct
from .options import DEFAULT_WRIST_MM, Limits, Order, Papers

if TYPE_CHECKING:
    from ..core.bead import BeadSize
    from ..core.design import Design
    from ..core.findings import Finding
    from ..core.making.lengths import Lengths
    from ..core.making.materials import Materials
    from ..palette import Palette
    from .fit.composed import Composed
    from .fit.fitting import LaidMotif
    from .fit.inks import BeadChoice
    from .fit.motif import Motif
    from .fit.tile import Tile
    from .judge.conversion import Conversion
    from .read import Picture, Sketch
    from .report import Distortion


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
    findings : tuple of Finding
        Everything to be said about the work, in the order it came up.
    by_hand : bool
        Whether beads were coloured since: none of the ways to work it is the one in the lists.
    """

    picture: Picture
    design: Design
    conversion: Conversion
    lengths: Lengths
    materials: Materials
    findings: tuple[Finding, ...]
    by_hand: bool = False

    @cached_property
    def distortion(self) -> Distortion:
        """What the braid does to the sketch."""
        from .report import distort_conversion

        return distort_conversion(self.conversion, self.design)

    def everything(self, report: bool = True) -> list[Finding]:
        """Return all that is to be said, by weight: of the work, the beads it takes, its drops.

        Parameters
        ----------
        report : bool
            What the braid does to the sketch, too.
        """
        from ..core.design import drop_directions, drop_findings

        # of what should be changed, too few beads come first
        short = [one for one in self.materials.findings if one.code is Code.STOCK_SHORT]
        found = [
            *short,
            *self.findings,
            *self.materials.findings,
            *drop_findings(self.design, drop_directions(self.design)),
            *(self.distortion.findings if report else ()),
        ]
        return by_weight(distinct(found))

    def files(self, papers: Papers) -> dict[str, bytes]:
        """Return the files of the folder, by name."""
        from .write.outputs import distortion_files, folder_files, sketch_png

        files = folder_files(self.design, papers)
        if papers.lists_only:
            return files
        from ..core.drawing.png import page_png
        from .judge.choices import sheet_of_choices

        files |= distortion_files(self.distortion)
        composed = self.conversion.composed
        if composed is not None:
            files[composed.picture.name] = composed.png
        elif self.picture.from_sheet:
            files["sketch.png"] = sketch_png(self.picture, self.conversion.sketch)
        ways = () if self.by_hand else self.conversion.choices
        if ways and self.conversion.trials is not None:
            files["choices.png"] = page_png(sheet_of_choices(self.conversion.trials, ways))
        return files

    def missed_limits(self, limits: Limits) -> list[Finding]:
        """Return what misses the limits asked for."""
        if limits == Limits():
            return []
        from ..core.show.distortion_findings import missed_limits

        return missed_limits(self.distortion.report, *astuple(limits))

    def summary(self) -> dict[str, Any]:
        """Return the result as plain values."""
        from ..core.design import drop_directions, drops_dict

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
        } | (drops_dict(design, drops) if drops.count else {})

    @property
    def motifs_left(self) -> int:
        """How many motifs there are; none if nothing of them is left in the beads."""
        design, found = self.design, self.conversion.design
        left = design.beads[found.beads != found.background] != design.background
        return len(self.conversion.placement.centres) if left.any() else 0


def _bead(order: Order, palette: Palette | None) -> BeadSize:
    """The main bead: measured, asked for, the palette's most common known size, or 8/0."""
    from ..core.bead import BeadSize, bead_size, bead_sizes
    from ..core.design import main_size

    size, diameter_mm, length_mm = order.bead_size, order.bead_diameter_mm, order.bead_length_mm
    if diameter_mm is None and length_mm is None:
        usual = None if palette is None else main_size(palette.beads)
        if size is None:
            return bead_size(usual if usual in bead_sizes() else "8/0")
        bead = bead_size(size)
        if palette is not None and usual is not None:
            _check_size(bead, palette, usual)
        return bead
    if size is not None or diameter_mm is None or length_mm is None:
        field = "bead_diameter_mm" if diameter_mm is None else "bead_length_mm"
        raise WrongUsage(
            "give either a bead size, or both measures of a bead, across it and along its hole.",
            field if size is None else "bead_size",
        )
    return BeadSize(None, diameter_mm, length_mm)


def lattice_asked(
    order: Order, palette: Palette | None = None
) -> tuple[Lattice, BeadSize, list[Finding]]:
    """Return the lattice and the main bead of an order, and what its swatch's readings ask about.

    Raises
    ------
    WrongUsage
        If there is no such braid, the size of the bead is unknown or none of the palette's, or
        size and measures are mixed.
    """
    from ..core.making.swatch import questions

    bead = _bead(order, palette)
    lattice = Lattice.computed(Braid(order.strands, order.lay, order.turn, order.disc), bead)
    if order.readings is None:
        return lattice, bead, []
    measured = Lattice.computed(lattice.braid, bead, order.readings.swatch)
    return measured, bead, questions(order.readings, lattice)


def _check_codes(order: Order, palette: Palette) -> None:
    """Name every code that is asked for and not in the palette, all together."""
    asked = {
        "background": [] if order.background is None else [order.background],
        "letter_bead": [] if order.letter_bead is None else [order.letter_bead],
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


def _check_size(asked: BeadSize, palette: Palette, usual: str) -> None:
    """Ask which beads are meant if the palette has none of the size that is asked for."""
    from ..core.design import round_sizes

    sizes = round_sizes(palette.beads)
    if asked.name in sizes:
        return
    raise WrongUsage(
        f"the beads of {palette.name} are {', '.join(sizes)}, and {asked.name} is asked for: which "
        f"will you string? For these colours in {asked.name} write that into the palette's column "
        "size, or leave it empty.",
        "bead_size",
        (Remedy("bead_size", usual),),
    )


@dataclass(frozen=True)
class Setup:
    """The braid that an order asks for.

    Parameters
    ----------
    lattice : Lattice
    bead : BeadSize
        The main bead.
    lengths : Lengths
    questions, assumed : tuple of Finding
    """

    lattice: Lattice
    bead: BeadSize
    lengths: Lengths
    questions: tuple[Finding, ...]
    assumed: tuple[Finding, ...]


def make(
    order: Order, picture: Picture | None, palette: Palette, sketch: Sketch | None = None
) -> Made:
    """Carry out an order: settle the braid, convert the picture, finish the design.

    Parameters
    ----------
    order : Order
    picture : Picture or None
        None if the order has a text.
    palette : Palette
    sketch : Sketch, optional
        Of the same picture, if it was read before.

    Raises
    ------
    HimotifError
        If it cannot be done; the message says how to mend it.
    """
    _check_codes(order, palette)
    from ..palette import palette_on_cord

    setup = settle(order, palette)
    rounds, worked = setup.lengths.rounds, palette_on_cord(palette, order.cord_colour)
    conversion = convert(order, picture, worked, setup.lattice, setup.bead, rounds, sketch)
    if order.choice > 1:
        return make(_chosen(order, conversion), picture, palette, sketch)
    if conversion.composed is not None:
        picture = conversion.composed.picture
    assert picture is not None
    return _finish(order, setup, picture, conversion)


def _chosen(order: Order, conversion: Conversion) -> Order:
    """The order with the changes of the choice that is asked for."""
    choices = conversion.choices
    if order.choice > len(choices):
        raise WrongUsage(
            f"there are {len(choices)} choices, and no number {order.choice}."
            if choices
            else "a first look, a shaded picture and an empty one have no choices.",
            "choice",
        )
    return replace(order, choice=1, **choices[order.choice - 1].changes)


def convert(
    order: Order,
    picture: Picture | None,
    palette: Palette,
    lattice: Lattice,
    bead: BeadSize,
    rounds: int,
    sketch: Sketch | None = None,
) -> Conversion:
    """Turn a picture into a design: read, ink, fit, judge.

    Each step takes what the ones before it returned and looks back at none.

    Parameters
    ----------
    order : Order
    picture : Picture or None
        None if the order has a text.
    palette : Palette
    lattice : Lattice
    bead : BeadSize
    rounds : int
        Beaded length, even.
    sketch : Sketch, optional
        Of the same picture, if it was read before.

    Raises
    ------
    WrongUsage
        If the motif does not fit on the braid.
    """
    from .fit.fitting import fit
    from .fit.motif import find_motif
    from .judge.conversion import Conversion
    from .judge.judgement import judge
    from .judge.trials import Trials

    if order.text is not None:
        from .fit.text import compose_text

        return _composed(order, compose_text(order, palette, lattice, bead, rounds), bead, rounds)
    if picture is not None and order.all_round:
        from .fit.all_round import compose_all_round

        made = compose_all_round(order, picture, palette, lattice, rounds)
        return _composed(order, made, bead, rounds)
    if picture is None:
        raise WrongUsage("give a picture, or a text.", "text")
    from .read import read_sketch

    sketch = sketch or read_sketch(picture, order.kind)
    motif = find_motif(sketch, picture, palette, order)
    fitted = fit(motif, lattice, rounds, order)
    trials = None
    if fitted.flat is not None and not order.quick:
        trials = Trials(picture, sketch, motif, order, lattice, bead, rounds, fitted)
    judgement = judge(motif, motif.cut(picture), fitted, order, trials)
    design = _design(picture, motif, fitted, bead, rounds)
    return Conversion(order, sketch, motif, fitted, judgement, design, trials)


def _composed(order: Order, made: Composed, bead: BeadSize, rounds: int) -> Conversion:
    """What came of a picture that was put together on the braid."""
    from .judge.conversion import Conversion
    from .judge.judgement import judge

    picture, motif, fitted = made.picture, made.motif, made.fitted
    judgement = judge(motif, picture, fitted, order, None)
    judgement = replace(judgement, findings=(*made.findings, *judgement.findings))
    design = _design(picture, motif, fitted, bead, rounds)
    return Conversion(order, motif.sketch, motif, fitted, judgement, design, None, made)


def settle(order: Order, palette: Palette) -> Setup:
    """Settle the braid, the bead and the lengths of an order.

    Raises
    ------
    HimotifError
        If there is no such braid, or it would not be a bracelet.
    """
    from .fit.placement import check_place

    lattice, bead, doubts = lattice_asked(order, palette)
    planned = lengths_of(order, lattice)
    check_place(order.moved_mm or (0.0, 0.0), lattice, planned.worked_mm)
    assumed = planned.findings
    if order.wrist_mm is None and order.length_mm is None:
        data = {"wrist_mm": DEFAULT_WRIST_MM}
        assumed = (Finding(Code.WRIST_ASSUMED, data, (Remedy("wrist_mm", None),)), *assumed)
    return Setup(lattice, bead, planned, (*planned.questions, *doubts), assumed)


def lengths_of(order: Order, lattice: Lattice) -> Lengths:
    """Return the lengths of an order's bracelet; a wrist is assumed if no length is asked for.

    Raises
    ------
    WrongUsage
        If there is no such bracelet.
    """
    from ..core.making.lengths import lengths

    assumed_mm = DEFAULT_WRIST_MM if order.length_mm is None else None
    return lengths(
        lattice,
        wrist_mm=assumed_mm if order.wrist_mm is None else order.wrist_mm,
        length_mm=order.length_mm,
        ease_mm=order.ease_mm,
        clasp_mm=order.clasp_mm,
        caps_mm=order.caps_mm,
        extension_mm=order.extension_mm,
        sample_mm=order.sample_mm,
        unit=order.unit,
    )


def _design(
    picture: Picture, motif: Motif, fitted: LaidMotif, bead: BeadSize, rounds: int
) -> Design:
    """The design that was found, of the whole palette."""
    from ..core.design import Design, PlacedPicture, Repeat

    tile, placement = fitted.place.tile, fitted.placement
    lattice, choice = tile.lattice, motif.choice
    beads = fitted.beads(rounds, choice.ground)
    crossings = np.arange(len(beads))
    where_px = placement.picture_px(lattice.azimuth_deg(crossings), lattice.height_mm(crossings))
    where_px += motif.frame[:2]
    placed = PlacedPicture(
        file=picture.name,
        sha256=picture.sha256,
        size_px=picture.size_px,
        fit=placement.fit,
        px_per_mm=placement.px_per_mm,
        front_deg=(placement.front_deg + fitted.place.ahead_deg) % 360.0,
        where_px=where_px,
        rotate_deg=placement.rotate_deg,
        centres=placement.centres,
        stretch=placement.stretch,
        frame_px=motif.frame,
    )
    repeat = Repeat(tile.first, tile.shift.rounds, tile.shift.flip, tile.count)
    return Design(
        lattice,
        bead,
        choice.palette.beads,
        beads,
        choice.ground,
        placed,
        repeat if tile.count > 1 else None,
        cord_rgb=choice.palette.cord_rgb,
    )


# -- the finish --------------------------------------------------------------------------------


def _finish(order: Order, setup: Setup, picture: Picture, conversion: Conversion) -> Made:
    """The design with its plain back, its accents and all that is said about it."""
    from ..core.design import Origin, PaperChoice, size_findings
    from ..core.making.materials import materials
    from .judge.alike import alike_findings
    from .judge.memory import remember

    planned, choice = setup.lengths, conversion.motif.choice
    design, changes, accents = _changed(order, conversion.design)
    said: list[Finding] = [
        *setup.questions,
        *picture.findings,
        *choice.palette.findings,
        *setup.assumed,
        *_left_out(choice),
        *conversion.findings,
        *short_of_room(order, conversion.tile),
        *changes,
        *size_findings(design),
        *(alike_findings(design) if conversion.kind == "flat" else ()),
    ]
    # that a motif cannot be recognised is said before all else
    said = sorted(distinct(said), key=lambda one: one.weight is not Weight.READS)
    asked = order.settings()
    papers = PaperChoice(unit=asked.pop("unit", "cm"))
    # the papers can be made again from the design alone
    origin = Origin(
        order=asked,
        finished_mm=round(planned.finished_mm, 2),
        findings=tuple(said),
        conversion=remember(conversion, accents),
    )
    design = replace(design, origin=origin, papers=papers)
    needed = materials(design)
    return Made(picture, design, conversion, planned, needed, tuple(said))


def _changed(
    order: Order, design: Design
) -> tuple[Design, list[Finding], dict[str, tuple[int, ...]]]:
    """The design with its plain back and its accents, what is to be said, and where these lie."""
    from ..core.design import plain_back, scatter

    said: list[Finding] = []
    accents: dict[str, tuple[int, ...]] = {}
    if order.plain_back_deg:
        bare = plain_back(design, order.plain_back_deg)
        cut = int((bare.beads != design.beads).sum())
        if cut:
            whole = bool((bare.beads == bare.background).all())
            data = {"beads": cut, "whole": whole}
            said.append(Finding(Code.PLAIN_BACK_COVERS, data))
        design = bare
    if order.scatter:
        scattered = scatter(
            design,
            order.scatter,
            seed=order.seed,
            plain_back_deg=order.plain_back_deg,
            alike=order.scatter_alike,
        )
        design, accents = scattered.design, scattered.crossings
        said += scattered.findings
    return design, said, accents


def _left_out(choice: BeadChoice) -> list[Finding]:
    if not choice.left_out:
        return []
    codes = [choice.palette.codes[place] for place in choice.left_out]
    remedies = (Remedy("keep", codes[:1]), Remedy("scatter", {codes[0]: 0.1}))
    return [Finding(Code.DROPS_LEFT_OUT, {"codes": codes}, remedies)]


def short_of_room(order: Order, tile: Tile) -> list[Finding]:
    """Say so if there was less room than the motifs were to be moved up by."""
    if order.moved_mm is None or abs(tile.up_mm - order.moved_mm[1]) < 0.1:
        return []
    data = {"up_mm": round(tile.up_mm, 1), "motifs": tile.count}
    remedies = (Remedy("repeat", tile.count - 1),) if tile.count > 1 else ()
    return [Finding(Code.SHORT_OF_ROOM, data, remedies)]
