"""A start of the page for the desktop: a plain text file that the system runs at a double click."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ...core.errors import HimotifError
from ..write import write_file

MARK = "Written by himotif page --launcher"
"""Stands in every such file: one without it is not ours to replace."""


@dataclass(frozen=True)
class Launcher:
    """A file for the desktop.

    Parameters
    ----------
    path : Path
    content : bytes
    runnable : bool
        Whether the system starts it only if its executable bit is set.
    """

    path: Path
    content: bytes
    runnable: bool

    def lines(self) -> list[str]:
        """Return what it holds, to be shown."""
        return os.fsdecode(self.content).splitlines()

    def write(self) -> None:
        """Put it on the desktop, whole or not at all.

        Raises
        ------
        HimotifError
            If there is no desktop, or something there of that name that is not ours.
        """
        self.check()
        write_file(self.path, self.content, os.path.lexists(self.path), self.runnable)

    def check(self) -> None:
        """See that it can be put there; see `write`."""
        if not self.path.parent.is_dir():
            raise HimotifError(
                f"{self.path.parent}: there is no such folder, so there is no desktop to put a "
                "start on. Make the folder, or start with himotif page."
            )
        if os.path.lexists(self.path) and not self._ours():
            raise HimotifError(
                f"{self.path}: is there already and not written by himotif. Give it another name."
            )

    def _ours(self) -> bool:
        try:
            return self.path.is_file() and MARK.encode() in self.path.read_bytes()
        except OSError:
            return False


def launcher(
    arguments: Sequence[str], system: str = sys.platform, desktop: Path | None = None
) -> Launcher:
    """Return the start of the page for a system.

    Parameters
    ----------
    arguments : sequence of str
        Of the command ``himotif``.
    system : str
        As in `sys.platform`.
    desktop : Path, optional
        The folder; the user's own desktop if not given.

    Raises
    ------
    HimotifError
        If such a file cannot name the place where himotif is installed.
    """
    from platformdirs import user_desktop_path

    desktop = desktop or user_desktop_path()
    # -P: a folder named himotif where it is started is not taken for himotif
    command = [sys.executable, "-P", "-m", "himotif.convert", *arguments]
    if any(ord(letter) < 32 for letter in sys.executable):
        raise _unnamed("a line break or another control character")
    if system == "win32":
        return Launcher(desktop / "himotif.bat", _bat(command), False)
    if system == "darwin":
        return Launcher(desktop / "himotif.command", _command(command), True)
    return Launcher(desktop / "himotif.desktop", _entry(command), True)


def _unnamed(what: str) -> HimotifError:
    return HimotifError(
        f"{sys.executable}: holds {what}, which a start on the desktop cannot. Install himotif "
        "in a folder of another name."
    )


def _entry(command: Sequence[str]) -> bytes:
    """A desktop entry; see freedesktop.org, Desktop Entry Specification 1.4."""
    # the specification excludes =, and GLib 2.74 looks for the program before it reads %% as %
    if "=" in command[0] or "%" in command[0]:
        raise _unnamed("an equals or a percent sign")
    return os.fsencode(
        f"""[Desktop Entry]
# {MARK}
Type=Application
Version=1.4
Name=himotif
Comment=From a sketch to a beaded braid
Exec={" ".join(map(_entry_word, command))}
Terminal=true
Categories=Graphics;
"""
    )


def _entry_word(word: str) -> str:
    """A word of a command: in quotes, then as a string of the file, without field codes."""
    quoted = "".join(f"\\{letter}" if letter in '"`$\\' else letter for letter in word)
    return f'"{quoted}"'.replace("\\", "\\\\").replace("%", "%%")


def _command(command: Sequence[str]) -> bytes:
    """A script that the terminal of macOS runs at a double click."""
    return os.fsencode(f"#!/bin/sh\n# {MARK}\nexec {shlex.join(command)}\n")


def _bat(command: Sequence[str]) -> bytes:
    """A batch file, in letters that are the same on every code page."""
    program, *rest = command
    home = str(Path.home()).rstrip("\\")
    if program.lower().startswith(f"{home}\\".lower()):
        # the name of a user may hold any letter; the system knows it
        program = "%USERPROFILE%" + program[len(home) :].replace("%", "%%")
    else:
        program = program.replace("%", "%%")
    if not program.isascii():
        raise _unnamed("letters that are not the same on every code page")
    lines = (
        "@echo off",
        f"rem {MARK}",
        f'"{program}" {" ".join(rest)}',
        "if errorlevel 1 pause",
    )
    return "".join(f"{line}\r\n" for line in lines).encode("ascii")
