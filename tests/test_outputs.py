"""Folders are made whole or not at all, and nothing foreign is ever deleted."""

from __future__ import annotations

import pytest
from himotif.convert.outputs import check_out, write_folder
from himotif.core.errors import HimotifError

FILES = {"design.json": b"{}", "stringing.csv": b"strand,slot,order,bead\n"}


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


def test_nothing_is_left_when_writing_fails(tmp_path):
    # a name that no file system takes stops the work half way
    with pytest.raises(HimotifError, match="cannot be written"):
        write_folder(tmp_path / "heron", {"design.json": b"{}", "x" * 300: b""})
    assert list(tmp_path.iterdir()) == []
