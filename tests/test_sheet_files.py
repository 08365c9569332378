"""The papers as files of a design's folder: which there are, and made again without a trace."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from himotif.convert.options import Papers
from himotif.convert.write import write_folder
from himotif.convert.write.outputs import folder_files, remake_folder
from himotif.core.design.file import read_design
from himotif.core.design.loads import beads_from_lists
from sheet_designs import marsh, unfold

SVG = "{http://www.w3.org/2000/svg}"


MARSH = marsh(12, "Z", colours=6, rounds=24)


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    return folder_files(MARSH, Papers(tally=True, svg=True))


def test_the_pages_as_svg_are_the_pages_of_the_pdf(files):
    pages = sorted(name for name in files if re.fullmatch(r"sheet-\d\d\.svg", name))
    text = ""
    for number, name in enumerate(pages, start=1):
        root = ElementTree.fromstring(files[name])
        assert (root.get("width"), root.get("height")) == ("210mm", "297mm")
        lines = [element.text or "" for element in root.iter(f"{SVG}text")]
        assert f"page {number} of {len(pages)}" in lines
        text += " ".join(lines).replace("\u00a0", " ") + " "
        assert not [
            value
            for element in root.iter()
            for key, value in element.attrib.items()
            if key.endswith("href") and not value.startswith("data:")
        ]
    number_of = {bead.code: index for index, bead in enumerate(MARSH.palette)}
    lists = [
        [number_of[code] for code in unfold(folded)]
        for folded in re.findall(r"Strand \d+, slot \d+: (.*?) = \d+ beads", text)
    ]
    np.testing.assert_array_equal(beads_from_lists(lists, MARSH.braid), MARSH.beads)


def test_same_design_same_files(files):
    again = folder_files(MARSH, Papers(tally=True, svg=True))
    assert {name for name in files if files[name] != again[name]} == set()


def test_plain_papers_have_no_loose_pages():
    names = set(folder_files(marsh(8, rounds=8)))
    assert {"sheet.pdf", "sheet.html", "chart.svg", "stringing.txt"} <= names
    assert not [name for name in names if name.startswith("sheet-")]


def test_an_edited_design_gives_new_papers(tmp_path):
    design = marsh(8, rounds=8, colours=3)
    out = tmp_path / "braid"
    write_folder(out, folder_files(design, Papers(svg=True, tally=True)))
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    beads = design.beads.copy()
    beads[7] = (beads[7] + 1) % 3
    (out / "design.json").write_bytes(folder_files(replace(design, beads=beads))["design.json"])
    remake_folder(out, read_design(out), Papers())
    after = {path.name: path.read_bytes() for path in out.iterdir()}
    for name in ("stringing.csv", "stringing.txt", "sheet.pdf", "sheet.html", "chart.svg"):
        assert after[name] != before[name], name
    # pages of the older sheet would show the older beads
    assert not [name for name in after if name.startswith("sheet-")]
    remake_folder(out, read_design(out), Papers())
    assert {path.name: path.read_bytes() for path in out.iterdir()} == after
