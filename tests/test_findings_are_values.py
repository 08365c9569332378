"""Nothing reads what is said to people, and the core names no option of the command."""

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
"""Where words are made; they may be broken into lines there."""

SPOKEN = re.compile(
    r"(^|_)(notes?|told|said|words|sentences?|remarks?|findings?|questions?|advice|unrecognised)$"
    r"|^errors?$"
)
"""Names of what is said."""

READING = {"startswith", "endswith", "find", "index", "count", "search", "match", "fullmatch"}
READING |= {"findall", "removeprefix", "removesuffix"}
SPLITTING = {"partition", "replace", "split", "sub"}


def modules() -> Iterator[str]:
    for room in ("core", "palette", "convert"):
        for path in sorted((ROOT / room).rglob("*.py")):
            yield path.relative_to(ROOT).as_posix()


def _spoken(node: ast.AST) -> bool:
    """Whether an expression is something said: a name such as notes, made.words or str(error)."""
    match node:
        case ast.Subscript(slice=ast.Constant(value=str(key))) if SPOKEN.search(key):
            return True
        case ast.Subscript(value=inner) | ast.Call(func=ast.Attribute(value=inner)):
            return _spoken(inner)
        case ast.Call(func=ast.Name(id="str" | "repr"), args=[inner]):
            return _spoken(inner)
        case ast.Call(func=inner):
            return _spoken(inner)
        case ast.BinOp(left=one, right=other):
            return _spoken(one) or _spoken(other)
    return bool(SPOKEN.search(getattr(node, "id", getattr(node, "attr", ""))))


def _text(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


def readings(source: str, edge: bool = False) -> list[int]:
    """Return the lines in which what is said is parsed or compared as text."""
    found = []
    reading = READING if edge else READING | SPLITTING
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Call(func=ast.Attribute(value=of, attr=name), args=args):
                if name in reading and any(map(_spoken, (of, *args))):
                    found.append(node.lineno)
            case ast.Compare(left=one, ops=[ast.In() | ast.NotIn()], comparators=[other]):
                if (_text(one) or _spoken(one)) and _spoken(other):
                    found.append(node.lineno)
            case ast.Compare(left=one, ops=[ast.Eq() | ast.NotEq()], comparators=[other]):
                if any(_spoken(a) and _text(b) for a, b in ((one, other), (other, one))):
                    found.append(node.lineno)
    return found


SCRIPT_READING = re.compile(
    r"\b(?:error|message|notes?|lines?|said|textContent|innerText)\b(?:[.\w()\[\]]*)"
    r"\.(?:startsWith|endsWith|includes|indexOf|match|search)\("
    r"|\.(?:startsWith|endsWith|includes|indexOf)\(labelOf\(|\.test\((?:\w+\.)*(?:error|message|note|line|said)\b"
)
"""What the server says, read by a script of the page."""


def options(source: str) -> list[int]:
    """Return the lines in which a text names an option of the command."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.search(r"(?<![-\w])--[a-z]", node.value)
    ]


def test_nothing_reads_what_is_said() -> None:
    read = {
        name: readings((ROOT / name).read_text(encoding="utf-8"), name.startswith(EDGES))
        for name in modules()
    }
    assert len(read) > 150
    assert not {name: where for name, where in read.items() if where}


def test_no_script_of_the_page_reads_what_is_said() -> None:
    scripts = sorted((ROOT / "convert/page/static").glob("*.js"))
    assert len(scripts) > 20
    read = {path.name: SCRIPT_READING.findall(path.read_text("utf-8")) for path in scripts}
    assert not {name: found for name, found in read.items() if found}


def test_the_core_names_no_option() -> None:
    named = {
        name: options((ROOT / name).read_text(encoding="utf-8"))
        for name in modules()
        if name.startswith(("core/", "palette/")) and not name.startswith(EDGES)
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
        "str(error).lower().startswith(name)",
        "'memory' in str(error)",
        "sentence(finding) == 'Lost.'",
        "answer['notes'][0] != f'{name} is lost'",
        "sentence(one).find('lost')",
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
        "error.field == field",
        "text.count(',') or 'a' in names",
    ],
)
def test_what_compares_values_is_not(source: str) -> None:
    assert not readings(source)


@pytest.mark.parametrize(
    "script",
    [
        "error.message.startsWith('Lost')",
        "said.text.toLowerCase().includes('lost')",
        "/lost/.test(error.message)",
        "text.toLowerCase().startsWith(labelOf(first).toLowerCase())",
    ],
)
def test_a_script_that_reads_sentences_is_found(script: str) -> None:
    assert SCRIPT_READING.search(script)


def test_options_are_found() -> None:
    assert options("f'turn it (--rotate {turn})'")
    assert not options("'a -- b', '----'")
