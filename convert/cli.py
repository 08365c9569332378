"""The command ``himotif``: takes the options, calls the library, reports.

stdout carries the result, stderr what is said about the work. Exit codes: 0 done, 1 the work
failed, 2 wrong usage, 3 done but a limit asked for was missed. Everything heavy is imported inside
the functions, so that ``--help`` is quick.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from ..core.errors import HimotifError

if TYPE_CHECKING:
    pass

_F = TypeVar("_F", bound=Callable[..., Any])

LIMIT_MISSED = 3


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
    command_class = _Command


class _Length(click.ParamType):  # type: ignore[type-arg]
    """A length in mm from 18cm, 180mm, 7in or a bare number."""

    name = "length"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        if isinstance(value, float):
            return value
        from ..core.lengths import parse_length

        try:
            return parse_length(str(value), (param.name if param else None) or "length")
        except HimotifError as error:
            self.fail(str(error), param, ctx)


LENGTH = _Length()
EXISTING = click.Path(exists=False, path_type=Path)


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
        "--out", "out", required=True, type=EXISTING, metavar="FOLDER", help="Folder to make."
    ),
    click.option("--force", is_flag=True, help="Replace the folder if it is there already."),
)
braid_options = _stack(
    click.option(
        "--strands",
        type=click.Choice(["8", "12", "16", "20", "24"]),
        default="8",
        show_default=True,
        help="Working strands.",
    ),
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


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="himotif")
def main() -> None:
    """Turn a motif sketch and a bead palette into stringing lists for a beaded kongo gumi."""


@main.command()
@json_option
def braids(as_json: bool) -> None:
    """List the braids: strands, starting slots, thickness and rise in 8/0 beads."""
    from ..core.bead import bead_size
    from ..core.braid import LAYS, STRANDS, TURNS, Braid
    from ..core.errors import WrongUsage
    from ..core.lattice import Lattice

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


@main.command()
@click.argument("folder", type=EXISTING)
@json_option
def check(folder: Path, as_json: bool) -> None:
    """Work the stringing lists of FOLDER slot by slot and compare with its design."""
    from ..core.design import read_design
    from ..core.loads import beads_from_lists, first_difference, read_stringing_csv

    design = read_design(folder)
    lists = read_stringing_csv(folder / "stringing.csv", design)
    difference = first_difference(lists, design)
    if difference is not None:
        raise HimotifError(f"{folder / 'stringing.csv'}: {difference.sentence()}")
    worked = beads_from_lists(lists, design.braid)
    wrong = (worked != design.beads).nonzero()[0]
    if len(wrong):
        raise HimotifError(
            f"{folder}: worked on the disc, crossing {wrong[0] + 1} drops another bead than the "
            "design says. Make the lists again with himotif sheet."
        )
    answer(
        as_json,
        {"folder": str(folder), "beads": len(worked), "strands": design.braid.strands, "ok": True},
        [
            f"{folder}: all {len(worked)} beads on {design.braid.strands} strands, worked slot by "
            "slot, give the design."
        ],
    )
