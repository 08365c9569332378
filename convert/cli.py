"""The command ``himotif``: takes the options, calls the library, reports.

stdout carries the result, stderr what is said about the work. Exit codes: 0 done, 1 the work
failed, 2 wrong usage, 3 done but a limit asked for was missed. Everything heavy is imported inside
the functions, so that ``--help`` is quick.
"""

from __future__ import annotations

import contextlib
import io
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from ..core._data import json_text
from ..core.errors import HimotifError, WrongUsage, first_of
from ..core.names import LAY_MOVES, counted
from .options import (
    READINGS,
    BeadPlace,
    ColourText,
    Flag,
    Group,
    Length,
    Limits,
    Number,
    Option,
    Order,
    Papers,
    PicturePlace,
    Several,
    SizeName,
    ValueKind,
    Whole,
    named,
    order_of,
    read_values,
    table,
)

if TYPE_CHECKING:
    from ..core.bead import BeadSize
    from ..core.braid import Lattice
    from ..core.design import Design
    from ..core.findings import Finding
    from ..palette import Palette, SortBy
    from .read import Picture

_F = TypeVar("_F", bound=Callable[..., Any])

LIMIT_MISSED = 3
"""Exit code."""


class _Option(click.Option):
    """An option of the table: its text is read when all are there, so that all errors come at once.

    Parameters
    ----------
    fields : sequence of str
        The one field.
    option : Option
    """

    def __init__(self, fields: Sequence[str], option: Option) -> None:
        self.of_table = option
        flag = isinstance(option.kind, Flag)
        off = f"/{option.kind.off}" if isinstance(option.kind, Flag) and option.kind.off else ""
        usual = option.usual
        if not usual and option.default and not flag:
            usual = option.kind.write(option.default)
        super().__init__(
            [option.command + off, *fields],
            is_flag=flag,
            default=None if not flag or off else False,
            multiple=option.collect is not None,
            metavar=None if flag else option.kind.metavar,
            help=option.help + (f"  [default: {usual}]" if usual else ""),
        )


class _Command(click.Command):
    """A command whose foreseen errors are one clear message and an exit code."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except HimotifError as error:
            for line in self._lines(error):
                click.echo(f"himotif: {line}", err=True)
            ctx.exit(error.exit_code)
        except BrokenPipeError:
            # whoever read our output has seen enough; nothing more can be written there
            sys.stdout = None
            ctx.exit(0)
        except MemoryError:
            click.echo("himotif: not enough memory; use a smaller picture or braid.", err=True)
            ctx.exit(1)

    def _lines(self, error: HimotifError) -> list[str]:
        """What is wrong, each with its option in front and with what would do behind."""
        if not isinstance(error, WrongUsage):
            return str(error).splitlines()
        lines = []
        for part in error.parts:
            remedies = [
                param.of_table.words(remedy.value)
                for remedy in part.remedies
                if (param := self._option(remedy.field)) is not None
            ]
            does = f" Try {' or '.join(remedies)}." if remedies else ""
            at = self._option(part.field)
            lines += f"{f'{at.opts[0]}: ' if at else ''}{part}{does}".splitlines()
        return lines

    def _option(self, field: str | None) -> _Option | None:
        """The option of this command that gives a field, or a part of one."""
        for param in self.params:
            if isinstance(param, _Option) and (
                field == param.name or any(field == part.name for part in param.of_table.page)
            ):
                return param
        return None

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options in their groups."""
        sections: dict[Group, list[tuple[str, str]]] = {group: [] for group in Group}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx) if isinstance(param, click.Option) else None
            if record is not None:
                group = param.of_table.group if isinstance(param, _Option) else Group.OTHER
                sections[group].append(record)
        for group, records in sections.items():
            if records:
                with formatter.section(group.value):
                    formatter.write_dl(records)


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


PATH = click.Path(path_type=Path)


def say(lines: str | Iterable[str]) -> None:
    """Say something about the work, on stderr."""
    for line in [lines] if isinstance(lines, str) else lines:
        click.echo(line, err=True)


def remarks(findings: Iterable[Finding], unit: str | None = None) -> dict[str, Any]:
    """All findings for machines: as data, and as sentences."""
    from .wording import lines

    found = [*findings]
    return {"findings": [one.as_dict() for one in found], "notes": lines(found, unit)}


def answer(as_json: bool, plain: dict[str, Any], lines: Iterable[str]) -> None:
    """Give the result, on stdout."""
    if as_json:
        click.echo(json_text(plain), nl=False)
    else:
        for line in lines:
            click.echo(line)


def _stack(*decorators: Callable[[_F], _F]) -> Callable[[_F], _F]:
    def wrap(function: _F) -> _F:
        for decorator in reversed(decorators):
            function = decorator(function)
        return function

    return wrap


json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print the result as one JSON object."
)
verbose_option = click.option(
    "-v", "--verbose", is_flag=True, help="Say everything, not only the three that matter most."
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
beads_and_out = _stack(
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
sketch_options = _stack(
    click.argument("picture", metavar="[PICTURE]", required=False), beads_and_out
)


def table_options(options: Mapping[str, Option]) -> Callable[[_F], _F]:
    """Give a command options of the table."""
    return _stack(
        *(click.option(name, cls=_Option, option=option) for name, option in options.items())
    )


ORDER, PAPERS, LIMITS = table(Order), table(Papers), table(Limits)
SHEET = {name: option for name, option in PAPERS.items() if name != "lists_only"}
BRAID = {name: ORDER[name] for name in ("strands", "lay", "turn")}
BEAD = {name: option for name, option in ORDER.items() if option.group is Group.BEAD}
PLAIN_BEAD = {name: option for name, option in BEAD.items() if name != "readings"}
SIZE = {name: option for name, option in ORDER.items() if option.group is Group.SIZE}


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="himotif")
def main() -> None:
    """Turn a motif sketch and a bead palette into stringing lists for a beaded kongo gumi."""


@main.command()
@sketch_options
@table_options(ORDER | PAPERS | LIMITS)
@verbose_option
@json_option
def convert(
    picture: str | None,
    palette_file: Path,
    out: Path,
    force: bool,
    verbose: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Turn PICTURE (a file, or - for standard input), or --text, into a folder to work from."""
    from ..palette import read_palette
    from .job import make
    from .wording import brief, lines, result_lines
    from .write import check_out, write_folder

    before = check_out(out, force)
    say(lines(before))
    asked = read_values(given, ORDER | PAPERS | LIMITS)
    papers = Papers(**_only(asked, PAPERS))
    limits = Limits(**_only(asked, LIMITS))
    order = _order(_only(asked, ORDER) | {"unit": papers.unit})
    palette = read_palette(palette_file)
    made = make(order, _drawing(picture, order), palette)
    found = made.everything(report=not papers.lists_only)
    say(brief(found, order.unit, verbose=verbose, papers=True))
    files = made.files(papers)
    missed = made.missed_limits(limits)
    kept = write_folder(out, files, force)
    say(lines(kept))
    said = remarks([*before, *kept, *found], order.unit)
    said["findings"] += [one.as_dict() for one in missed]
    missed_limits = lines(missed, order.unit)
    answer(
        as_json,
        {
            "folder": str(out),
            "files": sorted(files),
            **made.summary(),
            **said,
            "missed_limits": missed_limits,
            "choices": [] if papers.lists_only else [c.as_dict() for c in made.conversion.choices],
        },
        [*result_lines(made, papers.unit), f"Written to {out}."],
    )
    if missed:
        say(missed_limits)
        click.get_current_context().exit(LIMIT_MISSED)


def _order(asked: Mapping[str, Any]) -> Order:
    """An order of the command, whose strands are those of its own disc if it has one."""
    order = order_of(asked)
    if asked.get("strands", order.strands) != order.strands:
        raise WrongUsage(
            f"your own disc has {order.strands} strands, not {asked['strands']}. Leave this out, "
            "or take another disc.",
            "strands",
        )
    return order


def _only(values: Mapping[str, Any], options: Mapping[str, Option]) -> dict[str, Any]:
    """The values that are of these options."""
    return {name: value for name, value in values.items() if name in options}


def _drawing(picture: str | None, order: Order) -> Picture | None:
    """The picture of an order; None if it has a text."""
    from .read import read_drawing

    if (picture is None) == (order.text is None):
        raise WrongUsage("give either a picture or a text to work.", "text")
    if picture is None:
        return None
    from .fit.composed import refuse_idle

    refuse_idle(order, ("letters", "letter_bead", "font"), "A picture")
    return read_drawing(picture, corners_px=order.paper_corners)


SHARED = {
    name: option
    for name, option in ORDER.items()
    if option.group is not Group.BEAD and name not in ("strands", "disc")
}
COMPARED = named(
    {
        "strands": Option(
            Several("N,N,…", of=Whole()), Group.BRAID, "Working strands.", (8, 12, 16)
        ),
        "bead_size": Option(
            Several("SIZE,SIZE,…", of=SizeName()), Group.BEAD, "Trade sizes, such as 11/0,8/0.", ()
        ),
    }
)


@main.command("compare")
@sketch_options
@table_options(COMPARED | SHARED)
@verbose_option
@json_option
def compare_braids(
    picture: str | None,
    palette_file: Path,
    out: Path,
    force: bool,
    verbose: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Compare PICTURE, or --text, on several braids on one sheet, best first."""
    from ..core.paper.conversion_wording import braid_title
    from ..palette import read_palette
    from .compare import compare
    from .wording import brief, lines
    from .write import check_out, write_folder

    before = check_out(out, force)
    say(lines(before))
    asked = read_values(given, COMPARED | SHARED)
    order = order_of(_only(asked, SHARED))
    compared = compare(
        order,
        _drawing(picture, order),
        read_palette(palette_file),
        *(asked.get(name, option.default) for name, option in COMPARED.items()),
    )
    files = compared.files()
    kept = write_folder(out, files, force)
    say([*brief(compared.findings, verbose=verbose, papers=True), *lines(kept)])
    said = remarks([*before, *kept, *compared.findings])
    titles = [braid_title(braided.name) for braided in compared.braids]
    answer(
        as_json,
        {"folder": str(out), "files": sorted(files), **compared.report, **said},
        [f"Best first: {'; '.join(titles)}.", f"Written to {out}."],
    )


picture_option = click.option(
    "--picture",
    type=PATH,
    metavar="FILE",
    help="The sketch, to report again what the braid does to it.  "
    "[default: looked for near FOLDER]",
)


@main.command()
@click.argument("folder", type=PATH)
@click.option(
    "--from-list",
    is_flag=True,
    help="Take the beads from FOLDER's stringing.csv, edited and saved by a spreadsheet.",
)
@table_options(SHEET)
@picture_option
@verbose_option
@json_option
def sheet(
    folder: Path,
    from_list: bool,
    picture: Path | None,
    verbose: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Make the lists and papers of FOLDER again from its design.json, after an edit."""
    from ..core.design import design_from_lists
    from .write import digest

    papers = Papers(**read_values(given, SHEET))
    before, spent, design = _as_it_is(folder)
    if from_list:
        if not folder.is_dir():
            raise WrongUsage(f"{folder}: is no folder; name the folder that holds stringing.csv.")
        lists = folder / "stringing.csv"
        spent = {lists.name: digest(lists)}
        design = design_from_lists(lists, design)
    made, found = _remake(folder, design, papers, picture, spent, verbose)
    answer(
        as_json,
        {"folder": str(folder), "files": made, **remarks([*before, *found], design.unit)},
        [f"{folder}: made again: {', '.join(made)}."],
    )


def _as_it_is(folder: Path) -> tuple[list[Finding], dict[str, str | None], Design]:
    """Complete what a stopped run left unfinished in a folder, and read its design.

    Returns
    -------
    (list of Finding, dict of str to str, Design)
        What is to be said, which is said, too; the hash of the file that was read; the design.
    """
    from ..core.design import read_design
    from .wording import lines
    from .write import digest, finish

    before = finish(folder)
    say(lines(before))
    spent = {"design.json": digest(folder / "design.json" if folder.is_dir() else folder)}
    return before, spent, read_design(folder)


def read_folder(folder: Path) -> Design:
    """Read the design of a folder; what a stopped run left unfinished there is completed first."""
    return _as_it_is(folder)[2]


# many: what a folder is made again from, and how much is said
def _remake(
    folder: Path,
    design: Design,
    papers: Papers,
    picture: Path | None,
    spent: Mapping[str, str | None],
    verbose: bool,
) -> tuple[list[str], list[Finding]]:
    """Make a folder again and say what is to be said; return its files and the findings."""
    from .wording import brief
    from .write.outputs import remake_folder

    made, found = remake_folder(folder, design, papers, picture, spent)
    say(brief(found, papers.choice(design.papers).unit, verbose=verbose, papers=True))
    return made, found


CHANGE = named(
    {
        "bead": Option(
            BeadPlace(),
            help="A bead and its new code; repeatable. 3:17=B: on strand 3, bead 17. r12:3=B: in "
            "round 12 of the chart, the third from the left.",
            collect=tuple,
        ),
        "once": Option(
            Flag(), help="Only the beads named, not those in the same place of other motifs."
        ),
    }
)


@main.command()
@click.argument("folder", type=PATH)
@table_options(CHANGE)
@picture_option
@verbose_option
@json_option
def change(folder: Path, picture: Path | None, verbose: bool, as_json: bool, **given: Any) -> None:
    """Change beads of the design in FOLDER, at every motif alike; all files follow."""
    from ..core.design import change_beads

    asked = read_values(given, CHANGE)
    if not asked.get("bead"):
        raise WrongUsage("name a bead and its new code, such as 3:17=B.", "bead")
    before, spent, design = _as_it_is(folder)
    design, changed = change_beads(design, asked["bead"], asked["once"])
    made, found = _remake(folder, design, Papers(), picture, spent, verbose)
    lines = [
        f"Strand {one.strand}, bead {one.order}: {one.before} becomes {one.after}."
        for one in changed
    ]
    why = "" if changed else ": they had these codes already"
    if changed and not asked["once"] and design.origin.order.get("all_round"):
        why = ", where they were named: a pattern all round has no motifs to change alike"
    answer(
        as_json,
        {
            "folder": str(folder),
            "files": made,
            "beads": [one._asdict() for one in changed],
            **remarks([*before, *found], design.unit),
        },
        [
            *first_of(lines, "beads"),
            f"{folder}: {counted(len(changed), 'bead')} changed{why}.",
        ],
    )


BLANK = BRAID | PLAIN_BEAD


@main.command()
@click.option(
    "--blank",
    type=PATH,
    metavar="FILE",
    help="Write the cells of one braid to draw on: a name ending in .png or .svg.",
)
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@table_options(BLANK)
@json_option
def braids(blank: Path | None, force: bool, as_json: bool, **given: Any) -> None:
    """List the braids: strands, starting slots, thickness and rise in 8/0 beads."""
    asked = read_values(given, BLANK)
    if blank is not None:
        _write_blank(blank, force, asked, as_json)
        return
    if asked:
        idle = ", ".join(BLANK[name].command for name in asked)
        raise WrongUsage(f"{idle}: all braids are listed. Name a file for a blank with --blank.")
    _list_braids(as_json)


def _write_blank(path: Path, force: bool, asked: Mapping[str, Any], as_json: bool) -> None:
    """Write the cells of a braid, to be drawn on and converted all round."""
    from .job import lattice_asked
    from .write import write_file
    from .write.outputs import blank_file

    lattice, _, _ = lattice_asked(Order(**asked))
    write_file(path, blank_file(lattice, path.suffix), force)
    wide_mm = round(lattice.circumference_mm, 1)
    words = ["--all-round", ORDER["width_mm"].words(wide_mm)]
    words += [BLANK[name].words(value) for name, value in asked.items()]
    answer(
        as_json,
        {"file": str(path), "strands": lattice.braid.strands, "width_mm": wide_mm},
        [f"{path}: fill cells in, do not crop it, and convert it with {' '.join(words)}."],
    )


def _list_braids(as_json: bool) -> None:
    from ..core.bead import bead_size
    from ..core.braid import LAYS, STRANDS, TURNS, Braid, Lattice

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
    lines += [f"{lay} lay: {moves}." for lay, moves in LAY_MOVES.items()]
    answer(as_json, {"bead": "8/0", "slots": 32, "braids": rows}, lines)


class _Palettes(_Group):
    """Commands for palettes; given a file at once, it is shown."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if args and args[0] not in (*self.commands, *ctx.help_option_names):
            args = ["show", *args]
        return super().parse_args(ctx, args)


@main.group("palette", cls=_Palettes)
def palette_group() -> None:
    """Check a palette FILE (himotif palette FILE), or make, search and change one."""


palette_out = _stack(
    click.option(
        "--out",
        type=PATH,
        metavar="FILE",
        help="Write it there: a name ending in .csv, .gpl or .json.",
    ),
    click.option("--force", is_flag=True, help="Replace the file if it is there already."),
)


def _give_palette(
    palette: Palette,
    out: Path | None,
    force: bool,
    as_json: bool,
    others: Mapping[Path, bytes] | None = None,
) -> None:
    """Write a palette, and files that belong to it, and show it."""
    from ..palette import PaletteReport, palette_file
    from .wording import lines, palette_lines
    from .write import write_files

    said = [*palette.findings]
    if out is not None:
        content, lost = palette_file(palette, out)
        write_files({**(others or {}), out: content}, force)
        said += lost
    say(lines(said))
    report = PaletteReport.of(palette)
    answer(as_json, report.as_dict(), palette_lines(report))


@palette_group.command("show")
@click.argument("file", type=PATH, required=False)
@click.option("--starter", type=click.Choice(["bright", "muted"]), help="Begin with such beads.")
@palette_out
@json_option
def show_palette(
    file: Path | None, starter: str | None, out: Path | None, force: bool, as_json: bool
) -> None:
    """Check a palette FILE; list its beads and those that are hard to tell apart."""
    from ..palette import read_palette, starter_palette

    if (file is None) == (starter is None):
        raise WrongUsage("Give a palette FILE, or --starter bright or --starter muted.")
    palette = starter_palette(starter or "") if file is None else read_palette(file)
    _give_palette(palette, out, force, as_json)


PHOTOGRAPHED = named(
    {
        "white": Option(
            PicturePlace(), help="A white or grey place, such as a grey card.", usual="the paper"
        ),
        "at": Option(PicturePlace(), help="A single bead; repeatable.", collect=tuple),
    }
)


@palette_group.command("from-photo")
@click.argument("picture", metavar="PICTURE")
@palette_out
@table_options(PHOTOGRAPHED)
@json_option
def palette_from_photo(
    picture: str, out: Path | None, force: bool, as_json: bool, **given: Any
) -> None:
    """Find the colours of beads in PICTURE: in dishes, in tubes or loose on white paper.

    Beside the palette comes a picture with every heap outlined, NAME-found.png.
    """
    from ..palette import palette_of_photo
    from .read import read_picture

    asked = read_values(given, PHOTOGRAPHED)
    photo = read_picture(picture)
    found = palette_of_photo(
        photo.linear, photo.name, photo.scale, asked.get("white"), asked.get("at", ())
    )
    others = {} if out is None else {out.with_name(f"{out.stem}-found.png"): found.check_png()}
    _give_palette(found.palette, out, force, as_json, others)


BUY = named({"count": Option(Whole(low=1, high=20), help="So many, at most.", default=3)})
COUNT = named({"count": Option(Whole(low=1, high=100), help="So many, at most.", default=5)})


@palette_group.command("near")
@click.argument("colour")
@click.argument("file", type=PATH)
@table_options(COUNT)
@json_option
def palette_near(colour: str, file: Path, as_json: bool, **given: Any) -> None:
    """Find the beads of FILE nearest to COLOUR, such as teal, '#a33' or 'lab(45 -12 -24)'."""
    from ..palette import near_beads, parse_colour, read_palette
    from .wording import near_lines

    count = read_values(given, COUNT).get("count", COUNT["count"].default)
    rgb = parse_colour(ColourText().read(colour)).rgb
    found = near_beads(read_palette(file), rgb, count)
    answer(as_json, {"beads": [one.as_dict() for one in found]}, near_lines(found))


@palette_group.command("sort")
@click.argument("file", type=PATH)
@click.option(
    "--by",
    type=click.Choice(["hue", "lightness", "stock"]),
    default="hue",
    show_default=True,
    help="Greys first, then hue by hue; the lightest first; the most at hand first.",
)
@palette_out
@json_option
def palette_sort(file: Path, by: SortBy, out: Path | None, force: bool, as_json: bool) -> None:
    """Put the beads of FILE in order."""
    from ..palette import read_palette, sorted_palette

    _give_palette(sorted_palette(read_palette(file), by), out, force, as_json)


@palette_group.command("join")
@click.argument("files", type=PATH, nargs=-1, required=True, metavar="FILE...")
@palette_out
@json_option
def palette_join(files: tuple[Path, ...], out: Path | None, force: bool, as_json: bool) -> None:
    """Put several palettes together; the same bead in two of them is one."""
    from ..palette import joined, read_palettes

    name = files[0].stem if out is None else out.stem
    _give_palette(joined(read_palettes(files), name), out, force, as_json)


@palette_group.command("use")
@click.argument("folder", type=PATH)
@click.argument("file", type=PATH)
@click.option("--yes", is_flag=True, help="Do not ask.")
@json_option
def palette_use(folder: Path, file: Path, yes: bool, as_json: bool) -> None:
    """Take what the finished bracelet of FOLDER took off the stock in FILE."""
    from ..palette import counts, read_palette, rewritten, used_dict, used_up
    from .wording import lines
    from .write import write_file

    design = read_folder(folder)
    took = counts(design.palette, design.beads)
    left = used_up(read_palette(file), took)
    content = rewritten(left, file)
    say(lines(left.findings))
    for bead, count in took.items():
        click.echo(f"{count} {bead.code} ({bead.name})", err=as_json)
    if not yes and not click.confirm(f"Take these off the stock in {file}?", err=True):
        raise HimotifError(f"{file}: left as it is.")
    write_file(file, content, force=True)
    done = f"{file}: the stock is less by {sum(took.values())} beads."
    answer(as_json, used_dict(took, left), [done])


@palette_group.command("suggest")
@click.argument("picture", metavar="PICTURE")
@click.option("--have", type=PATH, required=True, metavar="FILE", help="The beads at hand.")
@click.option(
    "--from", "source", type=PATH, required=True, metavar="FILE", help="Beads that can be bought."
)
@table_options(BUY | BRAID)
@json_option
def palette_suggest(picture: str, have: Path, source: Path, as_json: bool, **given: Any) -> None:
    """Name the few beads to buy that help the sketch in PICTURE most."""
    from ..palette import read_palettes
    from .read import read_drawing
    from .suggest import suggest, suggestions_dict
    from .wording import suggestion_lines

    asked = read_values(given, BUY | BRAID)
    count = asked.pop("count", BUY["count"].default)
    at_hand, stock = read_palettes([have, source])
    before, found = suggest(Order(**asked), read_drawing(picture), at_hand, stock, count)
    answer(as_json, suggestions_dict(before, found), suggestion_lines(before, found))


@main.command()
@click.argument("folder", type=PATH)
@json_option
def check(folder: Path, as_json: bool) -> None:
    """Work the stringing lists of FOLDER slot by slot and compare with its design."""
    from ..core.design import (
        beads_from_lists,
        first_difference,
        first_turned,
        read_directions,
        read_stringing_csv,
    )

    design = read_folder(folder)
    path = folder / "stringing.csv"
    lists = read_stringing_csv(path, design)
    turned = read_directions(path)
    difference = first_difference(lists, design) or first_turned(design, turned)
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
    drops = ", every drop the right way round" if turned and any(turned.values()) else ""
    answer(
        as_json,
        result | {"ok": True, "beads": len(worked), "directions": turned is not None},
        [
            f"{folder}: all {len(worked)} beads on {design.braid.strands} strands, worked slot by "
            f"slot, give the design{drops}."
        ],
    )


@main.command()
@click.argument("folder", type=PATH)
@out_options
@verbose_option
@json_option
def mirror(folder: Path, out: Path, force: bool, verbose: bool, as_json: bool) -> None:
    """Make the exact mirror set-up of the design in FOLDER: letters flip.

    For the same picture worked with the other hand, letters readable, convert it again with the
    other --lay.
    """
    from ..core.design import mirror_design, mirror_findings, mirror_strands
    from .wording import brief, lines
    from .write import check_out, write_folder
    from .write.outputs import folder_files

    before = check_out(out, force)
    say(lines(before))
    design = read_folder(folder)
    mirrored = mirror_design(design)
    found = mirror_findings(design, mirrored)
    kept = write_folder(out, folder_files(mirrored), force)
    say([*brief(found, verbose=verbose), *lines(kept)])
    answer(
        as_json,
        {
            "folder": str(out),
            "lay": mirrored.braid.lay,
            "mirrored": mirrored.origin.mirrored,
            "list_of_strand_goes_on": [number + 1 for number in mirror_strands(design.braid)],
            **remarks([*before, *kept, *found]),
        },
        [
            f"Mirrored: {mirrored.braid.lay} lay, {LAY_MOVES[mirrored.braid.lay]}.",
            f"Written to {out}.",
        ],
    )


@main.command()
@click.option("--out", type=PATH, metavar="FOLDER", help="Folder to make, with a test braid.")
@click.option("--record", type=PATH, metavar="FILE", help="Swatch file to make from readings.")
@click.option("--force", is_flag=True, help="Replace what is there already.")
@table_options(BRAID | PLAIN_BEAD | READINGS)
@verbose_option
@json_option
def swatch(
    out: Path | None,
    record: Path | None,
    force: bool,
    verbose: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Make a short test braid (--out), or a swatch file from its readings (--record)."""
    from .job import lattice_asked

    asked = read_values(given, BRAID | PLAIN_BEAD | READINGS)
    lattice, bead, _ = lattice_asked(Order(**_only(asked, BRAID | PLAIN_BEAD)))
    if (out is None) == (record is None):
        raise WrongUsage("Give either --out FOLDER for a test braid, or --record FILE.")
    if out is not None:
        _make_swatch(out, force, lattice, bead, verbose, as_json)
        return
    assert record is not None
    readings = {name: asked.get(name) for name in READINGS}
    if readings["reads_right"] is not None:
        readings["reads_right"] = readings["reads_right"] == "yes"
    _record_swatch(record, force, lattice, readings, verbose, as_json)


def _make_swatch(
    out: Path, force: bool, lattice: Lattice, bead: BeadSize, verbose: bool, as_json: bool
) -> None:
    from .wording import brief, lines
    from .write import check_out, write_folder
    from .write.outputs import swatch_files

    before = check_out(out, force)
    say(lines(before))
    made, files = swatch_files(lattice, bead)
    kept = write_folder(out, files, force)
    say([*brief(made.findings, verbose=verbose, papers=True), *lines(kept)])
    recorded = (
        "Then record them: himotif swatch --record FILE --thickness MM --rounds "
        f"{made.rounds} --length MM --column-rounds N --reads-right yes"
    )
    answer(
        as_json,
        {
            "folder": str(out),
            "beads": len(made.design.beads),
            "rounds_between_rings": made.rounds,
            **remarks([*before, *kept, *made.findings]),
        },
        [recorded, f"Written to {out}."],
    )


def _record_swatch(
    path: Path,
    force: bool,
    lattice: Lattice,
    readings: dict[str, Any],
    verbose: bool,
    as_json: bool,
) -> None:
    from ..core.making.swatch import questions, readings_json, record
    from .wording import brief
    from .write import write_file

    taken = record(lattice, **readings)
    asked = questions(taken, lattice)
    write_file(path, readings_json(taken).encode(), force)
    say(brief(asked, verbose=verbose))
    measured = taken.swatch
    plain = {
        "file": str(path),
        "thickness_mm": measured.thickness_mm,
        "rise_mm": measured.rise_mm,
        "drift_deg": measured.drift_deg,
        "questions": [one.as_dict() for one in asked],
        **remarks(asked),
    }
    names = {"thickness_mm": "thickness", "rise_mm": "round height", "drift_deg": "drift"}
    given = [name for key, name in names.items() if plain[key] is not None]
    said = f"Measured: {', '.join(given)}." if given else "No measured length or drift."
    answer(as_json, plain, [f"{path}: {said} Use it with --swatch {path}."])


PIECE = named(
    {"thickness_mm": Option(Length(), Group.SIZE, "Of the beaded braid.", usual="computed")}
)
BUYING = named(
    {
        "spare": Option(
            Number("SHARE", what="a number for the share, such as 0.1"),
            help="Share of beads extra.",
            default=0.1,
        ),
        "packet_g": Option(
            Number("GRAMS", unit="g", what="a number of grams"),
            help="Weight of a packet of beads.",
        ),
    }
)
# a plan assumes no wrist
PLANNED = SIZE | {"wrist_mm": replace(SIZE["wrist_mm"], usual="")}


@main.command()
@click.argument("folder", type=PATH, required=False)
@table_options(PLANNED | PIECE | BRAID | BEAD | BUYING)
@verbose_option
@json_option
def plan(folder: Path | None, verbose: bool, as_json: bool, **given: Any) -> None:
    """Plan lengths, beads and cord from a wrist, or list what the design in FOLDER takes."""
    from ..core.findings import by_weight
    from ..core.making.materials import plan as plan_piece
    from ..core.paper.cautions import cautions
    from .wording import brief

    asked = read_values(given, PLANNED | PIECE | BRAID | BEAD | BUYING)
    spare, packet_g = asked.get("spare", BUYING["spare"].default), asked.get("packet_g")
    own = PLANNED | PIECE | BRAID | BEAD
    if folder is not None:
        idle = [own[name].command for name in own if name in asked]
        _refuse_idle(folder, idle)
        _plan_of(folder, spare, packet_g, verbose, as_json)
        return
    from ..core.making.lengths import in_inches, lengths
    from ..core.paper.shopping_wording import plan_lines
    from .job import lattice_asked

    lattice, bead, doubts = lattice_asked(Order(**_only(asked, BRAID | BEAD)))
    measures = PLANNED | PIECE | BEAD
    texts = [given[name] for name in measures if isinstance(measures[name].kind, Length)]
    unit = "in" if any(text is not None and in_inches(text) for text in texts) else None
    planned = lengths(lattice, **_only(asked, PLANNED | PIECE), unit=unit)
    piece = plan_piece(lattice, bead, planned, spare=spare, packet_g=packet_g)
    found = by_weight([*doubts, *planned.findings])
    say(brief(found, unit, verbose=verbose))
    answer(
        as_json,
        piece.as_dict() | remarks(found, unit),
        [*plan_lines(piece, unit), *cautions(making=False)],
    )


def _refuse_idle(folder: Path, idle: list[str]) -> None:
    """Refuse measures beside a design that has its own."""
    if idle:
        raise WrongUsage(
            f"{', '.join(idle)}: the design in {folder} has its own, and its beads are strung for "
            "it. Leave that out; for other measures convert the sketch again with them, or leave "
            "out the folder to plan a braid from its measures alone."
        )


def _plan_of(
    folder: Path, spare: float, packet_g: float | None, verbose: bool, as_json: bool
) -> None:
    """List what a design takes."""
    from ..core.design import size_findings
    from ..core.findings import by_weight
    from ..core.making.materials import materials
    from ..core.paper.cautions import cautions
    from ..core.paper.shopping_wording import shopping_lines
    from .wording import brief

    design = read_folder(folder)
    needed = materials(design, spare=spare, packet_g=packet_g)
    found = by_weight([*needed.findings, *size_findings(design)])
    say(brief(found, design.unit, verbose=verbose))
    drops = any(need.bead.shape == "drop" for need in needed.needs)
    care = cautions(making=False, fittings=not design.origin.test_braid, drops=drops)
    answer(
        as_json,
        needed.as_dict() | remarks(found, design.unit),
        [*shopping_lines(needed, design.unit or "mm"), *care],
    )


DONE = named(
    {
        "crossing": Option(Whole(), help="Number of the last crossing done."),
        "beads": Option(ValueKind("LIST"), help="Beads used on some strands, such as 3:16,5:17."),
    }
)
PLAIN_SETS = {"plain_sets": PAPERS["plain_sets"]}


@main.command()
@click.argument("folder", type=PATH)
@table_options(DONE | PLAIN_SETS)
@json_option
def where(folder: Path, as_json: bool, **given: Any) -> None:
    """Find one's place in the half-worked braid of FOLDER.

    Slots are named as they are after the plain braid that the sheet asks for; --plain-sets if
    another number of sets was worked.
    """
    from ..core.making.where import find_place, parse_used, place_at
    from ..core.paper.place_wording import counted_lines, place_lines

    done = read_values(given, DONE)
    if len(done) != 1:
        raise WrongUsage("Give either --crossing N or --beads 3:16,5:17 (strand:beads used).")
    design = read_folder(folder)
    papers = Papers(**read_values(given, PLAIN_SETS)).choice(design.papers)
    design = replace(design, papers=papers)
    if "crossing" in done:
        place = place_at(design, done["crossing"])
        answer(as_json, place.as_dict(), place_lines(place))
    else:
        found = find_place(design, parse_used(done["beads"]))
        answer(as_json, found.as_dict(), counted_lines(found))


PORT_OPTION = named(
    {
        "port": Option(
            Whole(low=0, high=65535), help="Of this machine.", usual="8641, or one that is free"
        )
    }
)


@main.command()
@table_options(PORT_OPTION)
@click.option("--no-open", is_flag=True, help="Only show the address.")
@click.option(
    "--launcher", is_flag=True, help="Put a start of the page on your desktop, to double-click."
)
@click.option("--yes", is_flag=True, help="With --launcher: do not ask.")
def page(no_open: bool, launcher: bool, yes: bool, **given: Any) -> None:
    """Open the page that does the whole job in your browser; Ctrl-C ends it."""
    from .page.server import run_page

    port = read_values(given, PORT_OPTION).get("port")
    if launcher:
        put_launcher([] if port is None else ["--port", str(port)], yes)
        return

    def announce(address: str) -> None:
        click.echo(address)
        say("Open this address in a browser on this machine. Ctrl-C ends the page.")

    run_page(port, not no_open, announce)


def put_launcher(arguments: Sequence[str], yes: bool) -> None:
    """Show a start of the page for the desktop, ask, and put it there."""
    from .page.launcher import launcher

    made = launcher(["page", *arguments])
    made.check()
    answer(False, {}, made.lines())
    if not yes and not click.confirm(f"Write this to {made.path}?", err=True):
        raise HimotifError(f"{made.path}: not written.")
    made.write()
    say(f"{made.path}: double-click it to open the page.")
    if made.path.suffix == ".desktop":
        say("Some desktops want to be asked first: right-click it, Allow Launching.")
