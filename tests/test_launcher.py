"""The start of the page on the desktop: what is written is what the system runs."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.convert.page.launcher import MARK, launcher
from himotif.core.errors import HimotifError

unix = pytest.mark.skipif(sys.platform == "win32", reason="such names are not allowed there")
ARGUMENTS = ["page", "--port", "8700"]
ODD = 'reed & tide\'s (50) "new" $HOME `id` \\n \\ ~é'


@pytest.fixture
def python(tmp_path, monkeypatch):
    """Stands for the interpreter, in a folder of an odd name; writes down how it was started."""
    folder = tmp_path / ODD
    folder.mkdir()
    path = folder / "python 3"
    path.write_text(f"#!/bin/sh\nprintf '%s\\n' \"$0\" \"$@\" > '{tmp_path}/started'\n")
    path.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(path))
    return path


def started(tmp_path):
    return (tmp_path / "started").read_text(encoding="utf-8").splitlines()


@unix
def test_script_for_macos_starts_what_is_installed(python, tmp_path):
    made = launcher(ARGUMENTS, "darwin", tmp_path)
    made.write()
    assert made.path.name == "himotif.command"
    subprocess.run([made.path], check=True)
    assert started(tmp_path) == [str(python), "-P", "-m", "himotif.convert", *ARGUMENTS]


def words_of(entry: str) -> list[str]:
    """The command of a desktop entry, read as the specification says.

    freedesktop.org, Desktop Entry Specification 1.4: "Possible value types", escapes of strings;
    "The Exec key", quoting of arguments and field codes.
    """
    value = re.search("^Exec=(.*)$", entry, re.MULTILINE)[1]
    escapes = {"s": " ", "n": "\n", "t": "\t", "r": "\r", "\\": "\\"}
    value = re.sub(r"\\(.)", lambda found: escapes[found[1]], value)
    words = re.findall(r'"((?:[^"`$\\]|\\["`$\\])*)"(?: |$)', value)
    assert " ".join(f'"{word}"' for word in words) == value
    return [re.sub(r"\\(.)", r"\1", word).replace("%%", "%") for word in words]


@unix
def test_desktop_entry_starts_what_is_installed(python, tmp_path):
    made = launcher(ARGUMENTS, "linux", tmp_path)
    made.write()
    assert os.access(made.path, os.X_OK)
    entry = made.path.read_text(encoding="utf-8")
    assert words_of(entry) == [str(python), "-P", "-m", "himotif.convert", *ARGUMENTS]


@unix
@pytest.mark.skipif(shutil.which("gio") is None, reason="GLib's gio is not installed")
def test_desktop_entry_is_run_by_glib(python, tmp_path):
    made = launcher(ARGUMENTS, "linux", tmp_path)
    # there may be no terminal here; all else is as it is written
    (tmp_path / "bare.desktop").write_bytes(made.content.replace(b"Terminal=true\n", b""))
    subprocess.run(["gio", "launch", tmp_path / "bare.desktop"], check=True, timeout=30)
    for _ in range(300):
        if (tmp_path / "started").exists() and len(started(tmp_path)) == 7:
            break
        subprocess.run(["sleep", "0.1"], check=True)
    assert started(tmp_path) == [str(python), "-P", "-m", "himotif.convert", *ARGUMENTS]


@pytest.mark.skipif(
    shutil.which("desktop-file-validate") is None, reason="desktop-file-utils is not installed"
)
def test_desktop_entry_is_valid(tmp_path):
    made = launcher(ARGUMENTS, "linux", tmp_path)
    made.write()
    told = subprocess.run(["desktop-file-validate", made.path], capture_output=True, text=True)
    assert (told.returncode, told.stdout) == (0, "")


def test_batch_file_is_the_same_on_every_code_page(tmp_path, monkeypatch):
    home = "C:\\Users\\Zoë"
    monkeypatch.setattr(Path, "home", lambda: Path(home))
    monkeypatch.setattr(sys, "executable", f"{home}\\50% reed & tide\\Scripts\\python.exe")
    content = launcher(ARGUMENTS, "win32", tmp_path).content
    lines = content.decode("ascii").split("\r\n")
    # a percent sign stands doubled in a batch file, and & is plain in quotes: from memory
    started = '"%USERPROFILE%\\50%% reed & tide\\Scripts\\python.exe" -P -m himotif.convert '
    assert started + " ".join(ARGUMENTS) in lines
    assert lines[0] == "@echo off"
    assert b"\n" not in content.replace(b"\r\n", b"")
    monkeypatch.setattr(sys, "executable", "D:\\Gezeiten über\\python.exe")
    with pytest.raises(HimotifError, match="Install himotif in a folder of another name"):
        launcher(ARGUMENTS, "win32", tmp_path)


@pytest.mark.parametrize("name", ["a=b", "a%b", "a\nb"])
def test_a_place_that_no_entry_can_name_is_refused(tmp_path, monkeypatch, name):
    monkeypatch.setattr(sys, "executable", f"/opt/{name}/python")
    with pytest.raises(HimotifError, match="another name"):
        launcher(ARGUMENTS, "linux", tmp_path)


def page(*words, desktop, answer=None):
    env = {"XDG_DESKTOP_DIR": str(desktop)}
    return CliRunner().invoke(main, ["page", "--launcher", *words], input=answer, env=env)


@pytest.mark.skipif(sys.platform != "linux", reason="finds the desktop as Linux names it")
def test_launcher_is_shown_asked_about_and_never_replaces_what_is_not_ours(tmp_path):
    path = tmp_path / "himotif.desktop"
    declined = page(desktop=tmp_path, answer="n\n")
    assert declined.exit_code == 1
    assert "not written" in declined.stderr
    assert not path.exists()
    taken = page("--port", "8700", desktop=tmp_path, answer="y\n")
    assert taken.exit_code == 0, taken.output
    assert taken.stdout == path.read_text(encoding="utf-8")
    assert '"page" "--port" "8700"' in taken.stdout
    # ours is replaced, hers is not
    assert page("--yes", desktop=tmp_path).exit_code == 0
    assert "8700" not in path.read_text(encoding="utf-8")
    path.write_text(path.read_text().replace(MARK, ""), encoding="utf-8")
    hers = path.read_bytes()
    refused = page("--yes", desktop=tmp_path)
    assert refused.exit_code == 1
    assert "not written by himotif" in refused.stderr
    assert path.read_bytes() == hers
    missing = page("--yes", desktop=tmp_path / "none")
    assert missing.exit_code == 1
    assert "there is no such folder" in missing.stderr
    assert [item.name for item in tmp_path.iterdir()] == ["himotif.desktop"]
