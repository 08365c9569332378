"""Functions that fit on a screen and take few values, numbers that say what they are.

A longer function has a reason in a comment in the line above it (or above its decorators):
``# long: why`` for more than 50 lines, ``# many: why`` for more than 7 parameters.

A number with a name of its own at the top of a module has a docstring below it, a comment above it
or behind it, with its unit and where it is from; one docstring or comment may speak of several that
follow each other without an empty line.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MOST_LINES = 50
MOST_PARAMETERS = 7

# the command's functions take one parameter an option, as click has it
COMMAND = "convert/cli.py"

Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions(source: str) -> Iterator[Function]:
    """Every function of a module, those inside others too."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def lines_of(function: Function) -> int:
    """Lines from ``def`` to the end, but for the docstring."""
    first = function.body[0]
    documented = ast.get_docstring(function, clean=False) is not None
    end = first.end_lineno or 0
    text = end - first.lineno + 1 if documented else 0
    return (function.end_lineno or 0) - function.lineno + 1 - text


def parameters_of(function: Function) -> int:
    """Parameters, but for self or cls."""
    given = function.args
    names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    names += [one.arg for one in (given.vararg, given.kwarg) if one is not None]
    return len(names) - (names[:1] in (["self"], ["cls"]))


def reasons(source: str, function: Function) -> set[str]:
    """Which of ``long`` and ``many`` are given a reason just above the function."""
    above = min([function.lineno, *(one.lineno for one in function.decorator_list)]) - 1
    found = set()
    for line in reversed(source.splitlines()[:above]):
        comment = re.fullmatch(r"\s*#(?: (long|many): \S.*| .*)", line)
        if comment is None:
            break
        found.add(comment[1])
    return found


def faults(source: str, count_parameters: bool = True) -> list[str]:
    """What is too long or takes too much without a reason."""
    found = []
    for function in functions(source):
        given = reasons(source, function)
        if (lines := lines_of(function)) > MOST_LINES and "long" not in given:
            found.append(f"{function.name}: {lines} lines")
        many = count_parameters and (taken := parameters_of(function)) > MOST_PARAMETERS
        if many and "many" not in given:
            found.append(f"{function.name}: {taken} parameters")
    return found


def modules() -> list[str]:
    """Every module, from the top of the repository."""
    found = (
        path for room in ("core", "palette", "convert") for path in (ROOT / room).rglob("*.py")
    )
    return sorted(path.relative_to(ROOT).as_posix() for path in found)


def test_functions_are_short_and_take_few_values():
    names = modules()
    assert len(names) > 50
    found = {
        name: wrong
        for name in names
        if (wrong := faults((ROOT / name).read_text(encoding="utf-8"), name != COMMAND))
    }
    assert not found


@pytest.mark.parametrize("reason", ["", "# long: a table\n", "# many: by name\n# long: a table\n"])
def test_what_is_counted(reason):
    body = "    x = 1\n" * 50
    eight = ", ".join("abcdefgh")
    source = f'{reason}@wrapped\ndef f({eight}):\n    """Says.\n\n    More.\n    """\n{body}'
    expected = [] if "long" in reason else ["f: 51 lines"]
    expected += [] if "many" in reason else ["f: 8 parameters"]
    assert faults(source) == expected
    assert faults(source.replace(body, body[10:]).replace("a, b", "b")) == []
    assert faults("class C:\n    def f(self, a, b, c, d, e, f, *, g):\n        pass\n") == []


def is_number(value: ast.expr | None) -> bool:
    """Whether an expression is a number, or numbers: no colour, no table with words."""
    match value:
        case ast.Constant(value=number):
            return isinstance(number, int | float) and not isinstance(number, bool)
        case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Dict(values=parts):
            return bool(parts) and all(map(is_number, parts))
        case ast.UnaryOp(operand=inner):
            return is_number(inner)
        case ast.BinOp(left=left, right=right):
            return is_number(left) or is_number(right)
        case ast.Call(func=ast.Attribute(value=ast.Name(id="np")), args=parts):
            return any(map(is_number, parts))
    return False


def names_of(statement: ast.stmt) -> list[str]:
    """The names in capitals that a statement gives to numbers; none if it does something else."""
    match statement:
        case ast.Assign(targets=[target], value=value):
            colour = False
        case ast.AnnAssign(target=target, annotation=kind, value=value):
            colour = ast.unparse(kind) == "Rgb"
        case _:
            return []
    names = [one.id for one in ast.walk(target) if isinstance(one, ast.Name)]
    return names if is_number(value) and not colour and "".join(names).isupper() else []


def silent_numbers(source: str) -> list[str]:
    """Numbers at the top of a module of which nothing is said."""
    lines, silent = source.splitlines(), []
    runs: list[list[ast.stmt]] = []
    for statement in ast.parse(source).body:
        if not runs or (runs[-1][-1].end_lineno or 0) + 1 < statement.lineno:
            runs.append([])
        runs[-1].append(statement)
    for run in runs:
        spoken = lines[run[0].lineno - 2].startswith("#") and run[0].lineno > 1
        for statement in reversed(run):
            if isinstance(statement, ast.Expr):
                spoken = True  # a docstring, of what stands above it
            own = lines[statement.lineno - 1 : statement.end_lineno]
            if not spoken and not any("#" in line for line in own):
                silent += names_of(statement)[::-1]
    return silent[::-1]


def test_numbers_say_what_they_are():
    found = {
        name: silent
        for name in modules()
        if (silent := silent_numbers((ROOT / name).read_text(encoding="utf-8")))
    }
    assert not found


@pytest.mark.parametrize(
    ("source", "silent"),
    [
        ("A = 3", ["A"]),
        ("A, _B = 3.0, -1 / 6", ["A", "_B"]),
        ("A = np.deg2rad(15)\n\nB = 2  # beads", ["A"]),
        ('A = 3\n"""Beads."""', []),
        ("# mm\nA = 3\nB = {'a': 1.0}\n\nC = (1, 2)", ["C"]),
        ('A = 3\nB: float = 2.0\n"""mm"""', []),
        ("INK: Rgb = (0, 0, 0)\nWORDS = ('a', 1)\nTHERE = True\na = 3\nF = f(3)", []),
    ],
)
def test_which_numbers_are_silent(source, silent):
    assert silent_numbers(source) == silent


# -- tests that pass over cases --------------------------------------------------------------------


def uncounted(source: str) -> list[str]:
    """Tests with a loop that passes over cases and no assertion after it."""
    found = []
    for function in functions(source):
        if not function.name.startswith("test_"):
            continue
        loops = [
            loop
            for loop in ast.walk(function)
            if isinstance(loop, ast.For | ast.While)
            and any(isinstance(node, ast.Continue) for node in ast.walk(loop))
            and any(isinstance(node, ast.Assert) for node in ast.walk(loop))
        ]
        asserts = [node.lineno for node in ast.walk(function) if isinstance(node, ast.Assert)]
        if loops and max(asserts) <= min(loop.end_lineno or 0 for loop in loops):
            found.append(function.name)
    return found


def test_tests_that_pass_over_cases_count_the_others():
    paths = sorted((ROOT / "tests").glob("test_*.py"))
    assert len(paths) > 70
    found = {path.name: uncounted(path.read_text(encoding="utf-8")) for path in paths}
    assert not {name: tests for name, tests in found.items() if tests}


@pytest.mark.parametrize("counts", ["", "    assert looked_at\n"])
def test_what_counts_as_counting(counts):
    source = (
        "def test_it():\n    for one in found():\n        if one.bare:\n            continue\n"
        f"        assert one.fits\n        looked_at = True\n{counts}"
    )
    assert uncounted(source) == ([] if counts else ["test_it"])
