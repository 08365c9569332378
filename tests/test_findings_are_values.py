"""Nothing below the edges reads its own sentences, and the core names no option of the command."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
EDGES = (
    "convert/cli.py",
    "convert/page/",
    "convert/wording.py",
    "convert/advice.py",
    "core/paper/",
)
"""Where words are made."""

STILL_READ = {
    "convert/compare.py",
}
"""Files in which sentences are still parsed."""

SPOKEN = re.compile(
    r"(^|_)(notes?|told|said|words|sentences?|remarks?|findings?|questions?|advice|unrecognised)$"
)
"""Names of what is said."""

READING = {"startswith", "endswith", "find", "index", "partition", "replace", "split"}
READING |= {"removeprefix", "removesuffix", "search", "match", "fullmatch", "findall", "sub"}


def modules() -> Iterator[str]:
    for room in ("core", "palette", "convert"):
        for path in sorted((ROOT / room).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            if not name.startswith(EDGES):
                yield name


def _spoken(node: ast.AST) -> bool:
    """Whether an expression is something said: a name such as notes, told or made.words."""
    if isinstance(node, ast.Subscript):
        return _spoken(node.value)
    name = getattr(node, "id", getattr(node, "attr", ""))
    return bool(SPOKEN.search(name))


def readings(source: str) -> list[int]:
    """Return the lines in which what is said is parsed or compared as text."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            handled = [node.func.value, *node.args]
            if node.func.attr in READING and any(map(_spoken, handled)):
                found.append(node.lineno)
        elif isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
            text = isinstance(node.left, ast.Constant | ast.JoinedStr) or _spoken(node.left)
            if text and _spoken(node.comparators[0]):
                found.append(node.lineno)
    return found


def options(source: str) -> list[int]:
    """Return the lines in which a text names an option of the command."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.search(r"(?<![-\w])--[a-z]", node.value)
    ]


def test_nothing_below_the_edges_reads_what_is_said() -> None:
    read = {name: readings((ROOT / name).read_text(encoding="utf-8")) for name in modules()}
    assert {name for name, where in read.items() if where} == STILL_READ, read


def test_the_core_names_no_option() -> None:
    named = {
        name: options((ROOT / name).read_text(encoding="utf-8"))
        for name in modules()
        if name.startswith(("core/", "palette/"))
    }
    assert not [name for name, where in named.items() if where], named


@pytest.mark.parametrize(
    "source",
    [
        "any(note.startswith('Lost') for note in made.notes)",
        "f'opening in {name}' in note",
        "words not in made.notes",
        "re.search('left', sentence)",
        "_WAY.sub('', told[0])",
        "report['unrecognised'].startswith('x') or unrecognised.startswith('x')",
    ],
)
def test_what_reads_sentences_is_found(source: str) -> None:
    assert readings(source)


@pytest.mark.parametrize(
    "source",
    [
        "[note for note in notes]",
        "one.code in codes",
        "finding not in found",
        "text.startswith('#')",
        "Code.COST in [one.code for one in findings]",
    ],
)
def test_what_compares_values_is_not(source: str) -> None:
    assert not readings(source)


def test_options_are_found() -> None:
    assert options("f'turn it (--rotate {turn})'")
    assert not options("'a -- b', '----'")
