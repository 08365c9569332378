"""Findings in words: one golden file for each reader of them.

Run as a script it writes the files anew, to be read before they are committed:

    python tests/test_wording.py
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from finding_examples import EXAMPLES, NAVY, VARIANTS
from himotif.convert.page.wording import said
from himotif.convert.wording import lines
from himotif.convert.write.outputs import Papers, folder_files
from himotif.core.design.design import Design
from himotif.core.design.file import design_dict, design_from_dict
from himotif.core.design.mirror import mirror_design
from himotif.core.design.origin import Origin
from himotif.core.errors import HimotifError, Problems
from himotif.core.findings import Code, Finding, Remedy, distinct, remark
from himotif.core.paper.making_wording import Unit
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.sheet_content import SheetContent
from himotif.core.paper.wording import sentence
from sheet_designs import marsh

GOLDEN = Path(__file__).parent / "golden"


def _page(finding: Finding, unit: Unit) -> str:
    shown = said(finding, unit)
    buttons = [f"[{one['label']} | {one['field']}={one['value']}]" for one in shown["buttons"]]
    return " ".join([shown["text"], *buttons])


READERS: dict[str, Callable[[Finding, Unit], str]] = {
    "paper": sentence,
    "command": lambda finding, unit=None: lines([finding], unit)[0],
    "page": _page,
}


def golden_text(reader: str) -> str:
    """Return a line for every code, another where inches make a difference, and the variants."""
    return "".join(f"{row}\n" for row in _rows(READERS[reader]))


def _rows(words: Callable[[Finding, Unit], str]) -> Iterator[str]:
    for code in Code:
        in_cm, in_inches = (words(EXAMPLES[code], unit) for unit in ("cm", "in"))
        yield f"{code.value}: {in_cm}"
        if in_inches != in_cm:
            yield f"{code.value} (in): {in_inches}"
    for finding in VARIANTS:
        yield f"{finding.code.value}, too: {words(finding, None)}"


@pytest.mark.parametrize("reader", READERS)
def test_every_finding_is_said_as_it_stands_in_the_golden_file(reader: str) -> None:
    expected = (GOLDEN / f"findings_{reader}.txt").read_text(encoding="utf-8")
    assert golden_text(reader).splitlines() == expected.splitlines()


def test_only_the_command_names_options() -> None:
    assert "--lay Z" in golden_text("command")
    for reader in ("paper", "page"):
        assert not re.search(r"--[a-z]", golden_text(reader))


def test_sentences_end_and_begin_as_sentences_do() -> None:
    for code, finding in EXAMPLES.items():
        words = sentence(finding)
        assert words == words.rstrip()
        assert words[-1] in ".:?" or code is Code.MIRROR_STRAND, words


@pytest.mark.parametrize("code", Code)
def test_findings_go_through_json_and_are_said_alike(code: Code) -> None:
    finding = EXAMPLES[code]
    back = Finding.from_dict(json.loads(json.dumps(finding.as_dict())))
    assert back == finding
    assert sentence(back) == sentence(finding)


def test_remedies_are_options_as_they_are_typed() -> None:
    both = Remedy("wrist_mm", 170.0, (Remedy("lay", "Z"),))
    (words,) = lines([Finding(Code.ALL_OF_IT_BEADED, {}, (both, Remedy("caps_mm", None)))])
    assert "(--wrist 170mm --lay Z or --caps)" in words


# -- distinguished by code and data ----------------------------------------------------------------


def _odd(name: str) -> Finding:
    data = EXAMPLES[Code.SIZE_ODD].data | {"bead": {"code": "N", "name": name}}  # type: ignore[operator]
    return Finding(Code.SIZE_ODD, data)


def test_a_bead_whose_name_begins_with_another_s_silences_nothing() -> None:
    blue, navy = _odd("navy blue"), _odd(NAVY["name"])
    found = distinct([blue, navy, _odd("navy blue")])
    assert found == [blue, navy]
    # nor does a remark that holds the very words
    found = distinct([remark(sentence(navy)), *found])
    printed = stringing_text(SheetContent(marsh(8), findings=found)).splitlines()
    for one in (blue, navy):
        assert sentence(one) in printed
        assert sentence(one) in lines(found)


# -- in a design's file ----------------------------------------------------------------------------


def test_a_design_keeps_its_findings_and_older_texts() -> None:
    kept = [EXAMPLES[Code.EASE_ASSUMED], EXAMPLES[Code.MIRRORED]]
    plain = design_dict(replace(marsh(8), origin=Origin(findings=tuple(kept))))
    plain["settings"]["notes"] = ["The tide comes in."]
    back = design_from_dict(json.loads(json.dumps(plain)))
    assert back.origin.findings == (*kept, remark("The tide comes in."))


def test_older_texts_go_on_paper_without_options_and_not_into_the_mirror() -> None:
    old = remark("The moon lies 2 mm left (--move 0,0).")
    origin = Origin(findings=(EXAMPLES[Code.ALL_OF_IT_BEADED], old))
    design = replace(marsh(8), origin=origin)

    def notes(one: Design) -> list[str]:
        text = folder_files(one, Papers(lists_only=True))["stringing.txt"].decode()
        return text.split("Notes:\n")[1].splitlines()

    beads = "All of the finished length is beads."
    assert notes(design) == [beads, "The moon lies 2 mm left."]
    # nobody knows whether an old text is about left and right
    assert notes(mirror_design(design)) == [sentence(EXAMPLES[Code.MIRRORED]), beads]


@pytest.mark.parametrize("wrong", [{}, ["text"], [{"code": "tide"}], [{"data": {}}], [[1]]])
def test_a_list_of_anything_else_is_refused(wrong: object) -> None:
    plain = design_dict(marsh(8)) | {"settings": {"findings": wrong}}
    with pytest.raises(Problems, match=r"settings\.findings: .* must be a list of findings"):
        design_from_dict(plain)


def test_damaged_data_are_one_clear_message() -> None:
    for code, finding in EXAMPLES.items():
        if finding.data:
            with pytest.raises(HimotifError, match=f"finding {code.value}: its data are damaged"):
                sentence(Finding(code))


if __name__ == "__main__":
    for name in READERS:
        (GOLDEN / f"findings_{name}.txt").write_text(golden_text(name), encoding="utf-8")
