"""Functions that fit on a screen and take few values: else there is a reason beside them.

The reason is a comment in the line above the function (or above its decorators):
``# long: why`` for more than 50 lines, ``# many: why`` for more than 7 parameters.
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
