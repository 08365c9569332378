"""Folders are made whole or not at all, and nothing foreign is ever deleted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from himotif.convert.write.outputs import (
    Papers,
    check_out,
    folder_files,
    remake_folder,
    write_folder,
)
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design, read_design
from himotif.core.errors import HimotifError
from pypdf import PdfReader

FILES = {"design.json": b"{}", "stringing.csv": b"strand,slot,order,bead\n"}


def reed_design() -> Design:
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    beads = (Bead("A", "oyster", (243, 238, 225)), Bead("B", "reed", (120, 130, 60)))
    return Design(lattice, bead_size("8/0"), beads, np.arange(80) % 3 % 2, 0, None, None, {})


def test_a_folder_is_made(tmp_path):
    write_folder(tmp_path / "heron", FILES)
    assert {p.name: p.read_bytes() for p in (tmp_path / "heron").iterdir()} == FILES
    assert [p.name for p in tmp_path.iterdir()] == ["heron"]


def test_an_existing_folder_is_refused_without_force(tmp_path):
    write_folder(tmp_path / "heron", FILES)
    with pytest.raises(HimotifError, match="--force"):
        write_folder(tmp_path / "heron", {"design.json": b"new"})
    assert (tmp_path / "heron" / "design.json").read_bytes() == b"{}"


def test_force_replaces_the_folder_whole(tmp_path):
    write_folder(tmp_path / "heron", FILES)
    write_folder(tmp_path / "heron", {"design.json": b"new"}, force=True)
    assert [p.name for p in (tmp_path / "heron").iterdir()] == ["design.json"]


@pytest.mark.parametrize("foreign", ["thesis.doc", "photos/summer.png"])
def test_force_never_deletes_what_is_not_ours(tmp_path, foreign):
    write_folder(tmp_path / "heron", FILES)
    path = tmp_path / "heron" / foreign
    path.parent.mkdir(exist_ok=True)
    path.write_text("precious")
    with pytest.raises(HimotifError, match="Choose another folder"):
        write_folder(tmp_path / "heron", FILES, force=True)
    assert path.read_text() == "precious"


def test_pictures_that_are_no_design_are_not_deleted(tmp_path):
    (tmp_path / "summer.png").write_bytes(b"precious")
    with pytest.raises(HimotifError):
        check_out(tmp_path, force=True)


def test_a_file_in_the_way_and_a_missing_parent_are_named(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(HimotifError, match="not a folder"):
        check_out(tmp_path / "file", force=True)
    with pytest.raises(HimotifError, match="Make it first"):
        check_out(tmp_path / "no" / "such", force=False)


def test_looking_whether_a_folder_can_be_made_leaves_nothing(tmp_path):
    check_out(tmp_path / "heron", force=False)
    assert list(tmp_path.iterdir()) == []
    # a name that no file system takes
    with pytest.raises(HimotifError, match="cannot be made"):
        check_out(tmp_path / ("x" * 300), force=False)


def test_nothing_is_left_when_writing_fails(tmp_path):
    # a name that no file system takes stops the work half way
    with pytest.raises(HimotifError, match="cannot be written"):
        write_folder(tmp_path / "heron", {"design.json": b"{}", "x" * 300: b""})
    assert list(tmp_path.iterdir()) == []


def test_the_old_folder_comes_back_when_the_new_one_cannot_take_its_place(tmp_path, monkeypatch):
    write_folder(tmp_path / "heron", FILES)
    rename = Path.rename

    def full_disk(self, target):
        if self.name == "new":
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", full_disk)
    with pytest.raises(HimotifError, match="No space left"):
        write_folder(tmp_path / "heron", {"design.json": b"new"}, force=True)
    assert {p.name: p.read_bytes() for p in (tmp_path / "heron").iterdir()} == FILES
    assert [p.name for p in tmp_path.iterdir()] == ["heron"]


def test_what_file_managers_leave_is_in_nobodys_way(tmp_path):
    write_folder(tmp_path / "heron", FILES)
    (tmp_path / "heron" / ".DS_Store").write_bytes(b"x")
    write_folder(tmp_path / "heron", {"design.json": b"new"}, force=True)
    assert [p.name for p in (tmp_path / "heron").iterdir()] == ["design.json"]


def test_papers_are_made_again_beside_what_else_is_in_the_folder(tmp_path):
    folder = tmp_path / "heron"
    write_folder(folder, folder_files(reed_design(), Papers("letter", "in", lists_only=True)))
    (folder / "photos").mkdir()
    (folder / "photo.jpg").write_bytes(b"precious")
    (folder / "distortion.json").write_bytes(b"{}")
    (folder / "sheet-99.svg").write_bytes(b"<svg/>")
    design = read_design(folder)
    edited = replace(design, beads=1 - design.beads)
    made, told = remake_folder(folder / "design.json", edited, Papers())
    assert (folder / "photo.jpg").read_bytes() == b"precious"
    assert (folder / "photos").is_dir()
    assert not (folder / "sheet-99.svg").exists()
    assert not (folder / "distortion.json").exists()
    assert "distortion.json" in told[0]
    assert set(made) <= {path.name for path in folder.iterdir()}
    assert not list(folder.glob(".new*"))
    # paper and unit are those of the first time
    assert " in " in (folder / "stringing.txt").read_text(encoding="utf-8")
    box = PdfReader(folder / "sheet.pdf").pages[0].mediabox
    assert float(box.width) == pytest.approx(612, abs=0.5)
    assert read_design(folder).beads.tolist() == edited.beads.tolist()
