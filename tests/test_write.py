"""Folders and files are written whole or not at all, and nothing of the maker's is ever lost."""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from himotif.convert.write import (
    MANIFEST,
    check_out,
    finish,
    update_folder,
    write_file,
    write_folder,
)
from himotif.core.errors import HimotifError
from himotif.core.findings import Code, Finding

DESIGN = json.dumps({"schema": 1, "braid": {}, "beads": []}).encode()
FILES = {"design.json": DESIGN, "stringing.csv": b"strand,slot,order,bead\n"}
NEW = {"design.json": DESIGN + b"\n", "stringing.csv": b"new", "chart.svg": b"<svg/>"}


def contents(folder: Path) -> dict[str, bytes]:
    """Everything in a folder but its manifest."""
    found = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    found.pop(MANIFEST, None)
    return found


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture
def heron(tmp_path: Path) -> Path:
    write_folder(tmp_path / "heron", FILES)
    return tmp_path / "heron"


# -- a new folder --------------------------------------------------------------------------------


def test_a_folder_is_made_with_the_list_of_its_files(tmp_path, heron):
    assert contents(heron) == FILES
    plain = json.loads((heron / MANIFEST).read_text())
    assert plain["sha256"] == {
        name: hashlib.sha256(content).hexdigest() for name, content in FILES.items()
    }
    assert names(tmp_path) == {"heron"}


def test_an_existing_folder_is_refused_without_force(heron):
    with pytest.raises(HimotifError, match="--force"):
        write_folder(heron, NEW)
    assert contents(heron) == FILES


def test_a_folder_that_comes_late_is_not_replaced(tmp_path, monkeypatch):
    check_out(tmp_path / "heron", force=False)
    fsync = os.fsync

    def slow(handle: int) -> None:
        fsync(handle)
        (tmp_path / "heron").mkdir(exist_ok=True)
        (tmp_path / "heron" / "design.json").write_bytes(b"of another run")

    monkeypatch.setattr("os.fsync", slow)
    with pytest.raises(HimotifError, match="is there already"):
        write_folder(tmp_path / "heron", FILES)
    assert contents(tmp_path / "heron") == {"design.json": b"of another run"}
    assert names(tmp_path) == {"heron"}


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


# -- a folder that is there ----------------------------------------------------------------------


def test_force_replaces_what_is_ours_and_takes_away_what_is_not_wanted(heron):
    assert write_folder(heron, {"design.json": b"new"}, force=True) == []
    assert contents(heron) == {"design.json": b"new"}
    assert names(heron) == {"design.json", MANIFEST}


@pytest.mark.parametrize("foreign", ["thesis.doc", "beads.csv", "sketch.png", "photos/summer.png"])
def test_force_leaves_what_is_not_ours(heron, foreign):
    path = heron / foreign
    path.parent.mkdir(exist_ok=True)
    path.write_text("precious")
    before = path.stat().st_ino
    assert write_folder(heron, NEW, force=True) == []
    assert path.read_text() == "precious"
    assert path.stat().st_ino == before
    assert contents(heron).items() >= NEW.items()


@pytest.mark.parametrize(("name", "kept"), [("stringing.csv", "stringing.kept.csv")])
def test_what_she_changed_is_kept_under_another_name(heron, name, kept):
    for number, expected in enumerate((kept, kept.replace(".kept", ".kept-2"))):
        (heron / name).write_text(f"her edit {number}")
        (said,) = write_folder(heron, NEW, force=True)
        assert said == Finding(Code.FILE_KEPT, {"file": name, "kept_as": expected})
        assert (heron / expected).read_text() == f"her edit {number}"
        assert contents(heron).items() >= NEW.items()


def test_what_she_put_there_under_a_name_of_ours_is_kept(heron):
    (heron / "chart.svg").mkdir()
    (heron / "chart.svg" / "mine.svg").write_text("precious")
    (heron / "preview.png").write_text("precious")
    write_folder(heron, NEW, force=True)
    assert (heron / "chart.kept.svg" / "mine.svg").read_text() == "precious"
    assert (heron / "preview.png").read_text() == "precious"
    assert contents(heron).items() >= NEW.items()


def test_what_she_changed_and_is_not_wanted_now_stays(heron):
    (heron / "stringing.csv").write_text("her edit")
    (said,) = write_folder(heron, {"design.json": b"new"}, force=True)
    assert said == Finding(Code.FILE_STAYS, {"file": "stringing.csv"})
    assert (heron / "stringing.csv").read_text() == "her edit"


def test_a_folder_from_before_there_were_lists_of_files(heron):
    (heron / MANIFEST).unlink()
    (heron / "sheet.pdf").write_bytes(b"old")
    (heron / "beads.csv").write_text("precious")
    said = write_folder(heron, NEW, force=True)
    # what can have been edited by hand is kept: nobody knows whether it was
    assert [one.data["file"] for one in said] == ["design.json", "stringing.csv"]
    assert contents(heron) == NEW | {
        "beads.csv": b"precious",
        "design.kept.json": FILES["design.json"],
        "stringing.kept.csv": FILES["stringing.csv"],
    }
    assert write_folder(heron, NEW, force=True) == []


@pytest.mark.parametrize("name", ["summer.png", "design.json", "compare.json"])
def test_a_folder_that_holds_nothing_of_ours_is_refused(tmp_path, name):
    (tmp_path / name).write_bytes(b'{"name": "another program\'s"}')
    with pytest.raises(HimotifError, match="holds no design"):
        check_out(tmp_path, force=True)


def test_what_file_managers_leave_is_in_nobodys_way(tmp_path):
    (tmp_path / ".DS_Store").write_bytes(b"x")
    write_folder(tmp_path, NEW, force=True)
    assert contents(tmp_path) == NEW | {".DS_Store": b"x"}


def test_a_design_that_papers_are_made_from_need_not_be_kept(heron):
    edited = b"her edit"
    (heron / "design.json").write_bytes(edited)
    spent = {"design.json": hashlib.sha256(edited).hexdigest()}
    assert update_folder(heron, NEW, spent=spent) == []
    assert contents(heron) == NEW
    # but what she wrote while they were made is
    (heron / "design.json").write_bytes(b"later edit")
    update_folder(heron, NEW, spent=spent)
    assert (heron / "design.kept.json").read_bytes() == b"later edit"


def test_files_that_are_not_made_again_stay_ours(heron):
    update_folder(heron, {"design.json": b"new"})
    assert write_folder(heron, {"design.json": b"newer"}, force=True) == []
    assert contents(heron) == {"design.json": b"newer"}


# -- stopped runs --------------------------------------------------------------------------------

STEPS = ("mkdir", "rename", "replace", "unlink", "rmdir", "fsync", "link")


def stop_at_step(step: int, work: Callable[[], object], stop: Callable[[], None]) -> bool:
    """Do some work and call `stop` after so many steps on the file system; whether it was met."""
    left = step

    def counted(real: Callable[..., object]) -> Callable[..., object]:
        def wrapped(*args: object, **kwargs: object) -> object:
            nonlocal left
            done = real(*args, **kwargs)
            left -= 1
            if left == 0:
                stop()
            return done

        return wrapped

    with pytest.MonkeyPatch.context() as patch:
        for name in STEPS:
            patch.setattr(os, name, counted(getattr(os, name)))
        work()
    return left <= 0


def killed_at(step: int, work: Callable[[], object]) -> bool:
    """Do some work in a process that ends without any farewell after a step; whether it did."""
    child = os.fork()
    if child == 0:
        try:
            stop_at_step(step, work, lambda: os._exit(9))
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9


unix = pytest.mark.skipif(sys.platform == "win32", reason="needs fork")


@unix
def test_a_new_folder_is_whole_or_not_at_all_wherever_it_is_killed(tmp_path):
    steps = 0
    for step in range(1, 100):
        out = tmp_path / f"heron{step}"
        if not killed_at(step, lambda out=out: write_folder(out, FILES)):
            break
        steps += 1
        assert not out.exists() or contents(out) == FILES
    assert steps > 5
    # and what they left is swept
    write_folder(tmp_path / "last", FILES)
    assert all(name.startswith(("heron", "last")) for name in names(tmp_path))


@unix
def test_a_folder_is_old_or_new_wherever_its_writing_is_killed(tmp_path):
    found = set()
    for step in range(1, 100):
        folder = tmp_path / f"heron{step}"
        write_folder(folder, FILES | {"sheet.pdf": b"old"})
        (folder / "beads.csv").write_text("precious")
        (folder / "stringing.csv").write_text("her edit")
        before = contents(folder)
        after = NEW | {"beads.csv": b"precious", "stringing.kept.csv": b"her edit"}
        killed = killed_at(step, lambda folder=folder: write_folder(folder, NEW, force=True))
        for again in range(1, 100):  # the completing is killed as well, again and again
            if not killed_at(again, lambda folder=folder: finish(folder)):
                break
        finish(folder)
        assert contents(folder) in (before, after), step
        found.add(contents(folder) == after)
        # nothing stands in the way of the next run, and nothing is left of the killed one
        write_folder(folder, NEW, force=True)
        assert contents(folder) == after
        assert names(folder) == {*after, MANIFEST}
        if not killed:
            break
    assert found == {True, False}
    assert step > 15


def test_a_folder_is_old_or_new_wherever_its_writing_is_interrupted(tmp_path):
    def interrupt() -> None:
        raise KeyboardInterrupt

    for step in range(1, 100):
        folder = tmp_path / f"heron{step}"
        write_folder(folder, FILES)
        try:
            met = stop_at_step(
                step, lambda folder=folder: write_folder(folder, NEW, force=True), interrupt
            )
        except KeyboardInterrupt:
            met = True
        # no other run is needed to complete it
        assert contents(folder) in (FILES, NEW), step
        if not met:
            break
    assert step > 15


@pytest.mark.parametrize("step", range(1, len(NEW) + 3))
def test_a_full_disc_leaves_the_old(heron, monkeypatch, step):
    left, fsync = step, os.fsync

    def full(handle: int) -> None:
        nonlocal left
        left -= 1
        if left == 0:
            raise OSError(28, "No space left on device")
        fsync(handle)

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(HimotifError, match="No space left on device"):
        write_folder(heron, NEW, force=True)
    assert contents(heron) == FILES
    assert names(heron) == {*FILES, MANIFEST}


def test_what_a_living_run_has_staged_is_not_swept(tmp_path):
    fcntl = pytest.importorskip("fcntl")
    staged = tmp_path / ".himotif-new-0123abcd"
    staged.mkdir()
    handle = os.open(tmp_path, os.O_RDONLY)
    fcntl.flock(handle, fcntl.LOCK_EX)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("himotif.convert.write.disc.PATIENCE_S", 0.05)
        with pytest.raises(HimotifError, match="another himotif is writing"):
            write_folder(tmp_path / "heron", FILES)
    assert staged.is_dir()
    os.close(handle)
    write_folder(tmp_path / "heron", FILES)
    assert names(tmp_path) == {"heron"}


def test_only_what_we_staged_is_swept(tmp_path):
    for name in (".himotif-new-0123abc", ".himotif-new-precious", ".heron.0123abcd"):
        (tmp_path / name).mkdir()
    before = names(tmp_path)
    write_folder(tmp_path / "heron", FILES)
    assert names(tmp_path) == before | {"heron"}


@pytest.mark.parametrize(
    "journal", [None, b"{", b"[]", b'{"schema": 1, "ours": {}, "gone": ["../precious"]}']
)
def test_an_unfinished_run_that_is_not_ours_is_refused_and_touches_nothing(heron, journal):
    (heron / "himotif-unfinished").mkdir()
    (heron / "himotif-unfinished" / "stringing.csv").write_text("new")
    if journal is not None:
        (heron / "himotif-unfinished" / "journal.json").write_bytes(journal)
    with pytest.raises(HimotifError, match="Move it elsewhere"):
        finish(heron)
    assert contents(heron) == FILES


# -- one file ------------------------------------------------------------------------------------


def test_a_file_is_written_and_replaced_only_with_force(tmp_path):
    path = tmp_path / "beads.csv"
    write_file(path, b"one")
    with pytest.raises(HimotifError, match="is there already"):
        write_file(path, b"two")
    assert path.read_bytes() == b"one"
    path.chmod(0o640)
    write_file(path, b"two", force=True)
    assert path.read_bytes() == b"two"
    assert path.stat().st_mode & 0o777 == 0o640
    assert names(tmp_path) == {"beads.csv"}
    with pytest.raises(HimotifError, match="cannot be written"):
        write_file(tmp_path / "nowhere" / "beads.csv", b"one")


def test_a_link_stays_and_its_file_is_replaced(tmp_path):
    (tmp_path / "drawer").mkdir()
    real, link = tmp_path / "drawer" / "beads.csv", tmp_path / "beads.csv"
    real.write_bytes(b"one")
    link.symlink_to(real)
    write_file(link, b"two", force=True)
    assert link.is_symlink()
    assert real.read_bytes() == b"two"


def test_a_file_that_comes_late_is_not_replaced(tmp_path, monkeypatch):
    path = tmp_path / "beads.csv"
    monkeypatch.setattr("os.fsync", lambda handle: path.write_bytes(b"of another run"))
    with pytest.raises(HimotifError, match="is there already"):
        write_file(path, b"one")
    assert contents(tmp_path) == {"beads.csv": b"of another run"}


@unix
def test_a_file_is_old_or_new_wherever_its_writing_is_killed(tmp_path):
    path = tmp_path / "beads.csv"
    for step in range(1, 20):
        path.write_bytes(b"one")
        if not killed_at(step, lambda: write_file(path, b"two", force=True)):
            break
        assert path.read_bytes() in (b"one", b"two")
    assert step > 2
    assert names(tmp_path) == {"beads.csv"}
