"""The command ``himotif``: takes the options, calls the library, reports.

stdout carries the result, stderr what is said about the work. Exit codes: 0 done, 1 the work
failed, 2 wrong usage, 3 done but a limit asked for was missed. Everything heavy is imported inside
the functions, so that ``--help`` is quick.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from ..core.errors import HimotifError

if TYPE_CHECKING:
    from ..core.bead import BeadSize
    from ..core.braid.lattice import Lattice
    from ..core.design.design import Design
    from .job import Order

_F = TypeVar("_F", bound=Callable[..., Any])

LIMIT_MISSED = 3

IN_INCHES = "himotif.in_inches"
"""Whether a length on the command line was given in inches."""


class _Command(click.Command):
    """A command whose foreseen errors are one clear message and an exit code."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except HimotifError as error:
            for line in str(error).splitlines():
                click.echo(f"himotif: {line}", err=True)
            ctx.exit(error.exit_code)
        except BrokenPipeError:
            # whoever read our output has seen enough; nothing more can be written there
            sys.stdout = None
            ctx.exit(0)
        except MemoryError:
            click.echo("himotif: not enough memory; use a smaller picture or braid.", err=True)
            ctx.exit(1)


class _Group(click.Group):
    """The command itself: what the system refuses is one clear message, too."""

    command_class = _Command

    def main(self, *args: Any, **more: Any) -> Any:
        for stream in (sys.stdout, sys.stderr):
            # names of files may hold bytes that are no text; JSON, too, writes them as \udcff
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="backslashreplace")
        try:
            return super().main(*args, **more)
        except OSError as error:
            sys.exit(_refused(error))


def _refused(error: OSError) -> int:
    """Say what the system refuses, if that can still be said; return the exit code."""
    where = f"{error.filename}: " if error.filename else "the result: "
    with contextlib.suppress(OSError):
        said = f"himotif: {where}cannot be read or written ({error.strerror or error})."
        click.echo(said, err=True)
    # what is left in their buffers would be written, and fail, once more
    sys.stdout = sys.stderr = None
    return 1


class _Length(click.ParamType):  # type: ignore[type-arg]
    """A length in mm from 18cm, 180mm, 7in or a bare number."""

    name = "length"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        if isinstance(value, float):
            return value
        from ..core.making.lengths import in_inches, parse_length

        if ctx is not None and in_inches(str(value)):
            ctx.meta[IN_INCHES] = True
        try:
            return parse_length(str(value), "")
        except HimotifError as error:
            self.fail(str(error).strip(), param, ctx)


class _Number(click.ParamType):  # type: ignore[type-arg]
    """A number of something, such as degrees, within its bounds; endless ones are refused.

    Parameters
    ----------
    what : str
        In the words of the message, such as ``a number of degrees``.
    low, high : float, optional
    """

    name = "number"
    kind: Callable[[str], float] = float

    def __init__(self, what: str, low: float | None = None, high: float | None = None) -> None:
        self.low = -math.inf if low is None else low
        self.high = math.inf if high is None else high
        if low is not None:
            what += f" from {low:g} " + ("up" if high is None else f"to {high:g}")
        self.what = what

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        try:
            number = self.kind(str(value))
            fits = math.isfinite(number) and self.low <= number <= self.high
        except (ValueError, OverflowError):
            fits = False
        if not fits:
            self.fail(f"{str(value)!r} is not {self.what}.", param, ctx)
        return number


class _Whole(_Number):
    """A whole number."""

    kind = int


LENGTH = _Length()
PATH = click.Path(path_type=Path)


def say(lines: str | Iterable[str]) -> None:
    """Say something about the work, on stderr."""
    for line in [lines] if isinstance(lines, str) else lines:
        click.echo(line, err=True)


def answer(as_json: bool, plain: dict[str, Any], lines: Iterable[str]) -> None:
    """Give the result, on stdout."""
    if as_json:
        click.echo(json.dumps(plain, ensure_ascii=False, indent=2))
    else:
        for line in lines:
            click.echo(line)


def _given(*names: str) -> list[str]:
    """The options among these that stand on the command line."""
    context = click.get_current_context()
    given = click.core.ParameterSource.COMMANDLINE
    return [
        f"--{name.replace('_', '-')}"
        for name in names
        if context.get_parameter_source(name) is given
    ]


def _stack(*decorators: Callable[[_F], _F]) -> Callable[[_F], _F]:
    def wrap(function: _F) -> _F:
        for decorator in reversed(decorators):
            function = decorator(function)
        return function

    return wrap


json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print the result as one JSON object."
)
out_options = _stack(
    click.option(
        "--out", "out", required=True, type=PATH, metavar="FOLDER", help="Folder to make."
    ),
    click.option(
        "--force",
        is_flag=True,
        help="If the folder is there already, replace what himotif made in it; all else stays.",
    ),
)
strands_option = click.option(
    "--strands",
    type=click.Choice(["8", "12", "16", "20", "24"]),
    default="8",
    show_default=True,
    help="Working strands.",
)
lay_options = _stack(
    click.option(
        "--lay",
        type=click.Choice(["S", "Z"]),
        default="S",
        show_default=True,
        help="S: top left goes down, bottom right goes up. Z: the other hand.",
    ),
    click.option(
        "--turn",
        type=click.Choice(["usual", "other"]),
        default="usual",
        show_default=True,
        help="Usual: the disc turns against the drift of the pairs.",
    ),
)
braid_options = _stack(strands_option, lay_options)
bead_options = _stack(
    click.option("--bead-size", metavar="SIZE", help="Trade size, such as 11/0.  [default: 8/0]"),
    click.option("--bead-diameter", type=LENGTH, help="Measured across the bead."),
    click.option("--bead-length", type=LENGTH, help="Measured along its hole."),
)
papers_options = _stack(
    click.option(
        "--paper",
        type=click.Choice(["a4", "letter"]),
        help="Paper of the sheet.  [default: a4, or as before]",
    ),
    click.option(
        "--unit",
        type=click.Choice(["cm", "in"]),
        help="Unit of lengths on the papers.  [default: cm, or as before]",
    ),
    click.option(
        "--tally/--no-tally",
        default=None,
        help="The round-by-round tally on the sheet.  [default: none, or as before]",
    ),
    click.option(
        "--svg/--no-svg",
        default=None,
        help="The pages of the sheet as SVG, too.  [default: none, or as before]",
    ),
)
swatch_option = click.option(
    "--swatch", type=PATH, metavar="FILE", help="Measured values of a worked swatch."
)


sketch_options = _stack(
    click.argument("picture", metavar="PICTURE"),
    click.option(
        "--palette",
        "palette_file",
        type=PATH,
        required=True,
        metavar="FILE",
        help="Your beads: a CSV with code,name,colour, or a .gpl file.",
    ),
    out_options,
)
motif_options = _stack(
    click.option("--wrist", type=LENGTH, help="Round the wrist.  [default: 165mm]"),
    click.option("--length", type=LENGTH, help="Instead of a wrist: the finished length."),
    click.option("--ease", type=LENGTH, help="Room between wrist and bracelet.  [default: 15mm]"),
    click.option("--clasp", type=LENGTH, help="What the closed clasp adds.  [default: 0]"),
    click.option("--caps", type=LENGTH, help="Both end caps together.  [default: 20mm to a wrist]"),
    click.option(
        "--fit",
        type=click.Choice(["wrap", "face"]),
        default="wrap",
        show_default=True,
        help="wrap: true along the circumference. face: true seen from the front.",
    ),
    click.option(
        "--width", type=LENGTH, help="Of the motif across.  [default: half the way round]"
    ),
    click.option(
        "--rotate",
        type=_Number("a number of degrees"),
        default=0.0,
        metavar="DEG",
        help="Turn the motif clockwise.",
    ),
    click.option(
        "--move",
        metavar="RIGHT,UP",
        help="Put the motif there, mm from the middle.  [default: found]",
    ),
    click.option(
        "--pin",
        multiple=True,
        type=click.Choice(["shift", "scale", "turn"]),
        help="Leave that as it is while searching where the motif reads best; repeatable.",
    ),
    click.option(
        "--repeat",
        default="fill",
        show_default=True,
        metavar="N|fill|once",
        help="How often the motif comes.",
    ),
    click.option(
        "--gap",
        type=_Number("a number of rounds", 0, 1000),
        default=1.0,
        show_default=True,
        metavar="ROUNDS",
        help="Least room between motifs, half of it at either end.",
    ),
    click.option("--background", metavar="CODE", help="Bead round the motif.  [default: found]"),
    click.option(
        "--kind", type=click.Choice(["flat", "shaded"]), help="Kind of picture.  [default: found]"
    ),
    click.option(
        "--most",
        type=_Whole("a whole number of bead colours, the background among them,", 2),
        metavar="N",
        help="Use at most N bead colours.",
    ),
    click.option("--keep", multiple=True, metavar="CODE", help="Always among these; repeatable."),
    click.option(
        "--plain-back",
        type=_Number("a number of degrees", 0, 360),
        default=0.0,
        metavar="DEG",
        help="Keep that much of the back in the background bead.",
    ),
    click.option(
        "--scatter",
        multiple=True,
        metavar="CODE=SHARE",
        help="Strew accents near the motif, such as R=0.1; repeatable.",
    ),
    click.option("--scatter-anew", is_flag=True, help="Strew them differently at each repeat."),
    click.option(
        "--seed",
        type=_Whole("a whole number", 0),
        default=0,
        help="Another number strews differently.",
    ),
    click.option("--quick", is_flag=True, help="A first look: a shorter search."),
)


def bead_of(size: str | None, diameter_mm: float | None, length_mm: float | None) -> BeadSize:
    """The bead that the options ask for."""
    from . import job

    return job.bead_of(size, diameter_mm, length_mm)


def lattice_of(
    strands: str, lay: str, turn: str, bead: BeadSize, swatch: Path | None = None
) -> Lattice:
    """The braid and its lattice that the options ask for; unlikely swatch readings are said."""
    from ..core.braid.braid import Braid
    from . import job

    braid = Braid(int(strands), lay, turn)  # type: ignore[arg-type]
    lattice, doubts = job.lattice_of(braid, bead, job.read_order_files(None, swatch)[1])
    say(doubts)
    return lattice


def read_folder(folder: Path) -> Design:
    """Read the design of a folder; what a stopped run left unfinished there is completed first."""
    from ..core.design.design import read_design
    from .write import finish

    say(finish(folder))
    return read_design(folder)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="himotif")
def main() -> None:
    """Turn a motif sketch and a bead palette into stringing lists for a beaded kongo gumi."""


@main.command()
@sketch_options
@braid_options
@click.option(
    "--start", type=PATH, metavar="FILE", help="Own disc: a JSON file with slots and pairs."
)
@bead_options
@swatch_option
@motif_options
@papers_options
@click.option("--lists-only", is_flag=True, help="Only design.json and the stringing lists.")
@click.option("--require-edge", type=LENGTH, help="95 % of the edges must lie this near.")
@click.option(
    "--require-kept",
    type=_Number("a number in percent", 0, 100),
    metavar="PERCENT",
    help="Of every colour of the motif at least this much must be kept.",
)
@click.option(
    "--require-colour",
    type=_Number("a number for the colour difference", 0),
    metavar="DE",
    help="The mean colour difference (CIEDE2000; 10 is plain to see) may be this much.",
)
@json_option
def convert(picture: str, palette_file: Path, out: Path, force: bool, **given: Any) -> None:
    """Turn PICTURE (a file, or - for standard input) into a folder to work from."""
    from ..palette.files import read_palette
    from .job import make
    from .read.picture import read_picture
    from .wording import lines, result_lines
    from .write import check_out, write_folder
    from .write.outputs import Papers

    say(check_out(out, force))
    order = _order(given)
    palette = read_palette(palette_file)
    sketch = read_picture(picture)
    made = make(order, sketch, palette)
    notes = lines(made.findings, order.unit)
    say(notes)
    papers = Papers(
        given["paper"], given["unit"], given["tally"], given["lists_only"], given["svg"]
    )
    limits = (given["require_edge"], given["require_kept"], given["require_colour"])
    files = made.files(papers)
    asked = any(limit is not None for limit in limits)
    missed = made.missed_limits(*limits) if asked else []
    say(write_folder(out, files, force))
    told = [] if papers.lists_only else made.distortion.words
    told = [words for words in told if words not in notes]
    answer(
        given["as_json"],
        {
            "folder": str(out),
            "files": sorted(files),
            **made.summary(),
            "notes": notes,
            "missed_limits": missed,
        },
        [*result_lines(made, given["unit"]), *told, f"Written to {out}."],
    )
    if missed:
        say(missed)
        click.get_current_context().exit(LIMIT_MISSED)


@main.command("compare")
@sketch_options
@click.option(
    "--strands", default="8,12,16", show_default=True, metavar="N,N,…", help="Working strands."
)
@lay_options
@click.option(
    "--bead-size", "sizes", default="", metavar="SIZE,SIZE,…", help="Trade sizes, such as 11/0,8/0."
)
@motif_options
@json_option
def compare_braids(
    picture: str,
    palette_file: Path,
    out: Path,
    force: bool,
    strands: str,
    sizes: str,
    as_json: bool,
    **given: Any,
) -> None:
    """Compare PICTURE on several braids on one sheet, best first."""
    from ..core.errors import WrongUsage
    from ..palette.files import read_palette
    from .read.picture import read_picture
    from .report.compare import compare
    from .write import check_out, write_folder

    say(check_out(out, force))
    counts = [part.strip() for part in strands.split(",") if part.strip()]
    if not counts or not all(count.isdecimal() and len(count) < 9 for count in counts):
        raise WrongUsage(f"--strands {strands!r}: give numbers with commas, such as 8,12,16.")
    alike = {"strands": "8", "start": None, "swatch": None}
    alike |= dict.fromkeys(("bead_size", "bead_diameter", "bead_length"))
    compared = compare(
        _order(given | alike),
        read_picture(picture),
        read_palette(palette_file),
        [int(count) for count in counts],
        [part.strip() for part in sizes.split(",") if part.strip()],
    )
    files = compared.files()
    say(write_folder(out, files, force))
    answer(
        as_json,
        {"folder": str(out), "files": sorted(files), **compared.report},
        [*compared.lines, f"Written to {out}."],
    )


def _order(given: dict[str, Any]) -> Order:
    """The order that the options of convert make."""
    from ..core.design.scatter import parse_scatter
    from ..core.errors import WrongUsage
    from .job import Order, read_order_files

    repeat = given["repeat"]
    if repeat not in ("fill", "once"):
        if not repeat.isdecimal() or len(repeat) > 9 or int(repeat) < 1:
            raise WrongUsage(f"--repeat {repeat!r}: give fill, once, or a number from 1.")
        repeat = int(repeat)
    if given["wrist"] is not None and given["length"] is not None:
        raise WrongUsage("Give either --wrist or --length, not both.")
    disc, readings = read_order_files(given["start"], given["swatch"])
    return Order(
        strands=int(given["strands"]) if disc is None else 2 * len(disc.starts),
        lay=given["lay"],
        turn=given["turn"],
        disc=disc,
        unit=given.get("unit"),
        bead_size=given["bead_size"],
        bead_diameter_mm=given["bead_diameter"],
        bead_length_mm=given["bead_length"],
        readings=readings,
        wrist_mm=given["wrist"],
        length_mm=given["length"],
        ease_mm=given["ease"],
        clasp_mm=given["clasp"],
        caps_mm=given["caps"],
        fit=given["fit"],
        width_mm=given["width"],
        rotate_deg=given["rotate"],
        repeat=repeat,
        gap_rounds=given["gap"],
        background=given["background"],
        kind=given["kind"],
        most=given["most"],
        keep=given["keep"],
        moved_mm=_moved(given["move"]),
        pin=given["pin"],
        quick=given["quick"],
        seed=given["seed"],
        plain_back_deg=given["plain_back"],
        scatter=dict(parse_scatter(text) for text in given["scatter"]),
        scatter_anew=given["scatter_anew"],
    )


def _moved(text: str | None) -> tuple[float, float] | None:
    """The place that --move asks for."""
    from ..core.errors import WrongUsage

    if text is None:
        return None
    try:
        right, up = (float(part) for part in text.split(","))
    except ValueError:
        right = up = float("nan")
    if not (abs(right) < 1e4 and abs(up) < 1e4):
        raise WrongUsage(f"--move {text!r}: give two numbers in mm, right and up, such as 1.5,-4.")
    return right, up


@main.command()
@click.argument("folder", type=PATH)
@papers_options
@click.option(
    "--picture",
    type=PATH,
    metavar="FILE",
    help="The sketch, to tell again what the braid does to it.  [default: looked for near FOLDER]",
)
@json_option
def sheet(
    folder: Path,
    paper: str | None,
    unit: str | None,
    tally: bool | None,
    svg: bool | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Make the lists and papers of FOLDER again from its design.json, after an edit."""
    from .write import digest, finish
    from .write.outputs import Papers, remake_folder

    say(finish(folder))
    read_as = digest(folder / "design.json" if folder.is_dir() else folder)
    design = read_folder(folder)
    papers = Papers(paper, unit, tally, svg=svg)  # type: ignore[arg-type]
    made, told = remake_folder(folder, design, papers, picture, read_as)
    say(told)
    answer(
        as_json,
        {"folder": str(folder), "files": sorted(made)},
        [f"{folder}: made again: {', '.join(sorted(made))}."],
    )


@main.command()
@json_option
def braids(as_json: bool) -> None:
    """List the braids: strands, starting slots, thickness and rise in 8/0 beads."""
    from ..core.bead import bead_size
    from ..core.braid.braid import LAYS, STRANDS, TURNS, Braid
    from ..core.braid.lattice import Lattice
    from ..core.errors import WrongUsage

    rows, lines = [], []
    for strands in STRANDS:
        for turn in TURNS:
            row: dict[str, Any] = {"strands": strands, "turn": turn, "lays": [], "refused": {}}
            for lay in LAYS:
                try:
                    braid = Braid(strands, lay, turn)
                except WrongUsage as error:
                    row["refused"][lay] = str(error)
                    continue
                lattice = Lattice.computed(braid, bead_size("8/0"))
                row["lays"].append(lay)
                row |= {
                    "starts": [list(pair) for pair in braid.start.starts],
                    "beads_per_round": braid.beads_per_round,
                    "thickness_mm": round(lattice.thickness_mm, 2),
                    "rise_mm": round(lattice.rise_mm, 2),
                    "hollow_mm": round(lattice.hollow_mm, 2),
                    "return_rounds": lattice.face_return().rounds,
                }
            rows.append(row)
            if not row["lays"]:
                lines.append(f"{strands} strands, {turn} turn: cannot be worked on this disc.")
                continue
            starts = " · ".join(f"{a},{b}" for a, b in row["starts"])
            lines += [
                f"{strands} strands, {turn} turn, {' and '.join(row['lays'])} lay: "
                f"{row['beads_per_round']} beads a round; in 8/0 beads {row['thickness_mm']:.1f} "
                f"mm thick, {row['rise_mm']:.2f} mm a round",
                f"    pairs start in slots {starts}",
            ]
    answer(as_json, {"bead": "8/0", "slots": 32, "braids": rows}, lines)


@main.command("palette")
@click.argument("file", type=PATH)
@click.option(
    "--out",
    type=PATH,
    metavar="FILE",
    help="Write it there too: a name ending in .csv or .gpl.",
)
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@json_option
def show_palette(file: Path, out: Path | None, force: bool, as_json: bool) -> None:
    """Check a palette FILE; list its beads and those that are hard to tell apart."""
    from ..palette.files import palette_file, read_palette
    from ..palette.show import palette_facts, palette_text
    from .write import write_file

    palette = read_palette(file)
    say(palette.notes)
    if out is not None:
        content, lost = palette_file(palette, out)
        write_file(out, content, force)
        say(lost)
    answer(as_json, palette_facts(palette), palette_text(palette).splitlines())


@main.command()
@click.argument("folder", type=PATH)
@json_option
def check(folder: Path, as_json: bool) -> None:
    """Work the stringing lists of FOLDER slot by slot and compare with its design."""
    from ..core.design.loads import beads_from_lists, first_difference, read_stringing_csv

    design = read_folder(folder)
    path = folder / "stringing.csv"
    lists = read_stringing_csv(path, design)
    difference = first_difference(lists, design)
    result: dict[str, Any] = {"folder": str(folder), "strands": design.braid.strands}
    if difference is not None:
        if as_json:
            answer(True, result | {"ok": False, "differs": difference._asdict()}, [])
        raise HimotifError(f"{path}: {difference.sentence()}")
    worked = beads_from_lists(lists, design.braid)
    wrong = (worked != design.beads).nonzero()[0]
    if len(wrong):
        raise HimotifError(
            f"{folder}: worked on the disc, crossing {wrong[0] + 1} drops another bead than the "
            "design says. Make the lists again with himotif sheet."
        )
    answer(
        as_json,
        result | {"ok": True, "beads": len(worked)},
        [
            f"{folder}: all {len(worked)} beads on {design.braid.strands} strands, worked slot by "
            "slot, give the design."
        ],
    )


@main.command()
@click.argument("folder", type=PATH)
@out_options
@json_option
def mirror(folder: Path, out: Path, force: bool, as_json: bool) -> None:
    """Make the exact mirror set-up of the design in FOLDER: letters flip.

    For the same picture worked with the other hand, letters readable, convert it again with the
    other --lay.
    """
    from ..core.design.mirror import mirror_design, mirror_lines, mirror_strands
    from .write import check_out, write_folder
    from .write.outputs import folder_files

    say(check_out(out, force))
    design = read_folder(folder)
    mirrored = mirror_design(design)
    told = mirror_lines(design, mirrored)
    say(write_folder(out, folder_files(mirrored), force))
    answer(
        as_json,
        {
            "folder": str(out),
            "lay": mirrored.braid.lay,
            "mirrored": bool(mirrored.settings.get("mirrored", False)),
            "list_of_strand_goes_on": [number + 1 for number in mirror_strands(design.braid)],
        },
        [*told, f"Written to {out}."],
    )


def _design_files(design: Design, notes: Iterable[str]) -> dict[str, bytes]:
    """The files of a design's folder, with notes to go on its papers."""
    from dataclasses import replace

    from .write.outputs import folder_files

    return folder_files(replace(design, settings={**design.settings, "notes": list(notes)}))


@main.command()
@click.option("--out", type=PATH, metavar="FOLDER", help="Folder to make, with a test braid.")
@click.option("--record", type=PATH, metavar="FILE", help="Swatch file to make from readings.")
@click.option("--force", is_flag=True, help="Replace what is there already.")
@braid_options
@bead_options
@click.option("--thickness", type=LENGTH, help="Reading: outer diameter of the braid.")
@click.option(
    "--rounds", type=_Whole("a whole number of rounds"), help="Reading: so many rounds ..."
)
@click.option("--length", type=LENGTH, help="Reading: ... are so long.")
@click.option(
    "--column-rounds",
    type=_Number("a number of rounds"),
    help="Reading: rounds for a column to go once round.",
)
@click.option(
    "--reads-right", type=click.Choice(["yes", "no"]), help="Reading: does the letter read right?"
)
@json_option
def swatch(
    out: Path | None,
    record: Path | None,
    force: bool,
    strands: str,
    lay: str,
    turn: str,
    bead_size: str | None,
    bead_diameter: float | None,
    bead_length: float | None,
    thickness: float | None,
    rounds: int | None,
    length: float | None,
    column_rounds: float | None,
    reads_right: str | None,
    as_json: bool,
) -> None:
    """Make a short test braid (--out), or a swatch file from its readings (--record)."""
    from ..core.errors import WrongUsage

    bead = bead_of(bead_size, bead_diameter, bead_length)
    lattice = lattice_of(strands, lay, turn, bead)
    if (out is None) == (record is None):
        raise WrongUsage("Give either --out FOLDER for a test braid, or --record FILE.")
    if out is not None:
        _make_swatch(out, force, lattice, bead, as_json)
        return
    assert record is not None
    readings = {
        "thickness_mm": thickness,
        "rounds": rounds,
        "length_mm": length,
        "column_rounds": column_rounds,
        "reads_right": None if reads_right is None else reads_right == "yes",
    }
    _record_swatch(record, force, lattice, readings, as_json)


def _make_swatch(out: Path, force: bool, lattice: Lattice, bead: BeadSize, as_json: bool) -> None:
    from ..core.bead import Bead
    from ..core.making.swatch_braid import swatch_braid
    from .write import check_out, write_folder

    say(check_out(out, force))
    palette = (
        Bead("L", "light", (243, 238, 225), finish="any light colour"),
        Bead("D", "dark", (28, 41, 71), finish="any dark colour"),
    )
    made = swatch_braid(lattice, bead, palette)
    say(write_folder(out, _design_files(made.design, made.lines()), force))
    answer(
        as_json,
        {"folder": str(out), "beads": len(made.design.beads), "rounds_between_rings": made.rounds},
        [*made.lines(), made.record_line(), f"Written to {out}."],
    )


def _record_swatch(
    path: Path, force: bool, lattice: Lattice, readings: dict[str, Any], as_json: bool
) -> None:
    from ..core.making.swatch import questions, readings_json, record
    from .write import write_file

    taken = record(lattice, **readings)
    asked = questions(taken, lattice)
    write_file(path, readings_json(taken).encode(), force)
    say(asked)
    measured = taken.swatch
    plain = {
        "file": str(path),
        "thickness_mm": measured.thickness_mm,
        "rise_mm": measured.rise_mm,
        "drift_deg": measured.drift_deg,
        "questions": asked,
    }
    names = {"thickness_mm": "thickness", "rise_mm": "round height", "drift_deg": "drift"}
    given = [name for key, name in names.items() if plain[key] is not None]
    told = f"Measured: {', '.join(given)}." if given else "No measured length or drift."
    answer(as_json, plain, [f"{path}: {told} Use it with --swatch {path}."])


@main.command()
@click.argument("folder", type=PATH, required=False)
@click.option("--wrist", type=LENGTH, help="Round the wrist.")
@click.option("--length", type=LENGTH, help="Wanted length of the finished piece instead.")
@click.option("--ease", type=LENGTH, help="Snug 6 to 12.5 mm, comfortable to 25, loose to 30.")
@click.option("--thickness", type=LENGTH, help="Of the beaded braid.  [default: computed]")
@click.option("--clasp", type=LENGTH, help="What the closed clasp adds.")
@click.option("--caps", type=LENGTH, help="Both end caps together.")
@click.option(
    "--spare",
    type=_Number("a number for the share, such as 0.1"),
    default=0.1,
    show_default=True,
    help="Share of beads extra.",
)
@click.option(
    "--packet",
    type=_Number("a number of grams"),
    metavar="GRAMS",
    help="Weight of a packet of beads.",
)
@braid_options
@bead_options
@swatch_option
@json_option
def plan(
    folder: Path | None,
    wrist: float | None,
    length: float | None,
    ease: float | None,
    thickness: float | None,
    clasp: float | None,
    caps: float | None,
    spare: float,
    packet: float | None,
    strands: str,
    lay: str,
    turn: str,
    bead_size: str | None,
    bead_diameter: float | None,
    bead_length: float | None,
    swatch: Path | None,
    as_json: bool,
) -> None:
    """Plan lengths, beads and cord from a wrist, or list what the design in FOLDER takes."""
    from ..core.design.mixed_sizes import size_lines
    from ..core.making.lengths import lengths
    from ..core.making.materials import materials
    from ..core.making.materials import plan as plan_piece

    measures = {
        "wrist_mm": wrist,
        "length_mm": length,
        "ease_mm": ease,
        "thickness_mm": thickness,
        "clasp_mm": clasp,
        "caps_mm": caps,
    }
    if folder is None:
        bead = bead_of(bead_size, bead_diameter, bead_length)
        lattice = lattice_of(strands, lay, turn, bead, swatch)
        unit = "in" if click.get_current_context().meta.get(IN_INCHES) else None
        planned = lengths(lattice, **measures, unit=unit)
        piece = plan_piece(lattice, bead, planned, spare=spare, packet_g=packet)
        answer(as_json, piece.as_dict(), piece.lines(unit))
        return
    from ..core.errors import WrongUsage

    braid = ("strands", "lay", "turn", "bead_size", "bead_diameter", "bead_length", "swatch")
    idle = _given("wrist", "length", "ease", "thickness", "clasp", "caps", *braid)
    if idle:
        raise WrongUsage(
            f"{', '.join(idle)}: the design in {folder} has its own, and its beads are strung for "
            "it. Leave that out; for other measures convert the sketch again with them, or leave "
            "out the folder to plan a braid from its measures alone."
        )
    design = read_folder(folder)
    needed = materials(design, spare=spare, packet_g=packet)
    answer(as_json, needed.as_dict(), [*needed.lines(design.unit or "mm"), *size_lines(design)])


@main.command()
@click.argument("folder", type=PATH)
@click.option(
    "--crossing",
    type=_Whole("a whole number"),
    help="Number of the last crossing done.",
)
@click.option("--beads", metavar="LIST", help="Beads used on some strands, such as 3:16,5:17.")
@json_option
def where(folder: Path, crossing: int | None, beads: str | None, as_json: bool) -> None:
    """Find one's place in the half-worked braid of FOLDER."""
    from ..core.errors import WrongUsage
    from ..core.making.where import find_place, parse_used, place_at

    if (crossing is None) == (beads is None):
        raise WrongUsage("Give either --crossing N or --beads 3:16,5:17 (strand:beads used).")
    design = read_folder(folder)
    if crossing is not None:
        place = place_at(design, crossing)
        answer(as_json, place.as_dict(), place.lines())
    else:
        found = find_place(design, parse_used(beads or ""))
        answer(as_json, found.as_dict(), found.lines())


@main.command()
@click.option(
    "--port",
    type=_Whole("a whole number", 0, 65535),
    default=0,
    metavar="N",
    help="Of this machine.  [default: any that is free]",
)
@click.option("--no-open", is_flag=True, help="Only show the address.")
def page(port: int, no_open: bool) -> None:
    """Open the page that does the whole job in your browser; Ctrl-C ends it."""
    from .page.server import run_page

    def tell(address: str) -> None:
        click.echo(address)
        say("Open this address in a browser on this machine. Ctrl-C ends the page.")

    run_page(port, not no_open, tell)
