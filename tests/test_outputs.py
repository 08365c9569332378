"""The files of a folder, and making them again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from himotif.convert.write import write_folder
from himotif.convert.write.outputs import Papers, folder_files, remake_folder
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design
from himotif.core.design.file import read_design
from himotif.core.findings import Code
from pypdf import PdfReader

pytestmark = pytest.mark.usefixtures("plain_pictures")


def reed_design() -> Design:
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    beads = (Bead("A", "oyster", (243, 238, 225)), Bead("B", "reed", (120, 130, 60)))
    return Design(lattice, bead_size("8/0"), beads, np.arange(80) % 3 % 2)


def test_papers_are_made_again_beside_what_else_is_in_the_folder(tmp_path):
    folder = tmp_path / "heron"
    files = folder_files(reed_design(), Papers("letter", "in", lists_only=True))
    write_folder(folder, {**files, "distortion.json": b"{}", "sheet-99.svg": b"<svg/>"})
    (folder / "photos").mkdir()
    (folder / "photo.jpg").write_bytes(b"precious")
    (folder / "distortion.txt").write_bytes(b"her own")
    (folder / "sheet-98.svg").write_bytes(b"her own")
    design = read_design(folder)
    edited = replace(design, beads=1 - design.beads)
    made, (gone,) = remake_folder(folder / "design.json", edited, Papers())
    assert (folder / "photo.jpg").read_bytes() == b"precious"
    assert (folder / "photos").is_dir()
    assert (folder / "distortion.txt").read_bytes() == b"her own"
    assert (folder / "sheet-98.svg").read_bytes() == b"her own"
    assert not (folder / "sheet-99.svg").exists()
    assert not (folder / "distortion.json").exists()
    assert gone.code is Code.REPORT_GONE
    # the design has no picture to measure it against
    assert gone.data == {"files": ["distortion.json"], "folder": str(folder), "picture": None}
    assert set(made) <= {path.name for path in folder.iterdir()}
    # paper and unit are those of the first time
    assert " in " in (folder / "stringing.txt").read_text(encoding="utf-8")
    box = PdfReader(folder / "sheet.pdf").pages[0].mediabox
    assert float(box.width) == pytest.approx(612, abs=0.5)
    assert read_design(folder).beads.tolist() == edited.beads.tolist()
