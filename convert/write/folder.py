"""Folders written whole or not at all, beside whatever else the maker keeps in them.

**A new folder** is made under a staged name, synced, and renamed to its own: one atomic step.

**A folder that is there already** stays the same folder, since other files, other folders and
perhaps the maker's shell are in it. Its files are replaced in these steps:

1. All new files and a journal are written into a staged folder inside it, and synced.
2. The staged folder is renamed to ``himotif-unfinished``. This is atomic and is the decision:
   before it the folder holds the old files, untouched; from here on the new ones are owed.
3. Each new file is renamed from there into the folder; files of ours that are not wanted now go.
4. The folder is synced; the journal goes, and with it ``himotif-unfinished``.

A run that stops before step 2 has changed nothing, and what it staged is swept by the next. A run
that stops after step 2 has left the journal and every file not yet in place. Whatever command is
next given the folder calls `finish` before it reads anything, and `finish` is step 3: a file that
has left the staged folder is in place already, any other is put there, so it may be stopped and
begun again as often as one likes and always ends with the whole new set. Step 4 comes only when
nothing is owed. Nothing after the decision needs room for content, so a full disc is met before it.

**What is not ours stays.** Step 3 replaces or removes a file only if its hash stands in the journal
as that of a file we made. Anything else that has the name of a new file is renamed, not replaced:
``stringing.csv`` becomes ``stringing.kept.csv``. This looks at the file as it is at that moment, so
it also holds for what was edited since the decision.

A person or program that looks into the folder between steps 2 and 4, a few milliseconds or after a
kill in them, sees ``himotif-unfinished`` beside the files.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

from ...core.errors import HimotifError
from ...core.findings import Code, Finding
from .disc import discard, locked, staged_name, sync_directory, write_synced
from .manifest import (
    MANIFEST,
    digest,
    is_plain_name,
    listed,
    looks_ours,
    manifest_bytes,
    sha256,
    with_manifest,
)

UNFINISHED = "himotif-unfinished"
_JOURNAL = "journal.json"
_LITTER = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""What file managers leave in folders: nothing of anybody's."""


# -- what the commands call ----------------------------------------------------------------------


def check_out(out: Path, force: bool) -> list[Finding]:
    """Refuse a folder that cannot be made or written, before any work is done.

    Returns
    -------
    list of Finding
        What is to be said, if a stopped run had left the folder unfinished.

    Raises
    ------
    HimotifError
        If it exists and may not be written, or there is no place for it.
    """
    with _failing_as(out, "made", " Choose another place or name for it."):
        said = finish(out) if force else []
        _refuse(out, force)
        place = out.absolute()
        directory = place if place.is_dir() else place.parent
        with locked(directory):
            staged = staged_name(directory)
            try:
                os.mkdir(staged)
            finally:
                discard(staged)
    return said


def write_folder(out: Path, files: Mapping[str, bytes], force: bool = False) -> list[Finding]:
    """Write a folder whole or not at all.

    Parameters
    ----------
    out : Path
    files : mapping of str to bytes
        Content by file name; the manifest is added.
    force : bool
        Write into a folder of ours that is there: its files of ours are replaced, all else stays.

    Returns
    -------
    list of Finding
        What is to be said: which files were kept.

    Raises
    ------
    HimotifError
        If the folder may not be written or cannot be.
    """
    with _failing_as(out):
        said = finish(out) if force else []
        _refuse(out, force)
        place = out.absolute()
        if place.is_dir():
            return said + _put(place, files, lambda before: before.keys() - files.keys())
        with locked(place.parent):
            staged = staged_name(place.parent)
            try:
                _stage(staged, with_manifest(files))
                if os.path.lexists(place):
                    _refuse(out, force=False)
                os.rename(staged, place)
            finally:
                discard(staged)
            sync_directory(place.parent)
    return said


def update_folder(
    folder: Path,
    files: Mapping[str, bytes],
    gone: Iterable[str] = (),
    spent: Mapping[str, str] | None = None,
) -> list[Finding]:
    """Replace some files in a folder of ours, whole or not at all.

    Parameters
    ----------
    folder : Path
    files : mapping of str to bytes
        Content by file name; the manifest is brought up to date.
    gone : iterable of str
        Files that are not wanted any more.
    spent : mapping of str to str, optional
        Hashes, by name, of files that all of this was made from: they need not be kept.

    Returns
    -------
    list of Finding
        What is to be said: which files were kept.

    Raises
    ------
    HimotifError
        If the folder cannot be written.
    """
    names = frozenset(gone)
    with _failing_as(folder):
        return _put(folder.absolute(), files, lambda _: names, spent)


def finish(folder: Path) -> list[Finding]:
    """Complete what a stopped run has decided to write into a folder, before it is read.

    Parameters
    ----------
    folder : Path
        Or a file in it. One that is not there, or holds nothing unfinished, is left alone.

    Returns
    -------
    list of Finding
        What is to be said about it.

    Raises
    ------
    HimotifError
        If it cannot be completed.
    """
    if folder.is_file():
        folder = folder.parent
    if not (folder / UNFINISHED).is_dir():
        return []
    with _failing_as(folder), locked(folder):
        if not (folder / UNFINISHED).is_dir():
            return []  # by now another run has completed it
        return [Finding(Code.RUN_COMPLETED, {"folder": str(folder)}), *_finish(folder)]


# -- refusing ------------------------------------------------------------------------------------


@contextlib.contextmanager
def _failing_as(out: Path, done: str = "written", mend: str = "") -> Iterator[None]:
    """Say of a folder why it cannot be written, or made."""
    try:
        yield
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise HimotifError(f"{out}: cannot be {done} ({reason}).{mend}") from None


def _refuse(out: Path, force: bool) -> None:
    """Refuse a place where something else is, or that is nowhere."""
    if out.is_symlink():
        raise HimotifError(f"{out}: is a link. Name the folder that it leads to.")
    if out.exists() and not out.is_dir():
        raise HimotifError(f"{out}: is there already and is not a folder. Choose another name.")
    if out.exists():
        if not force:
            raise HimotifError(
                f"{out}: is there already. Choose another folder, or add --force to replace what "
                "himotif made in it."
            )
        empty = all(path.name in _LITTER for path in out.iterdir())
        if not empty and not looks_ours(out):
            raise HimotifError(
                f"{out}: holds no design, so it does not look like a folder of himotif. Choose "
                "another folder."
            )
    elif out.absolute().parent.is_file():
        raise HimotifError(f"{out}: {out.absolute().parent} is a file. Choose another place.")
    elif not out.absolute().parent.is_dir():
        raise HimotifError(f"{out}: there is no folder {out.absolute().parent}. Make it first.")
    else:
        with contextlib.suppress(FileNotFoundError):
            os.lstat(out)  # raises for a name that no file system takes


# -- the steps -----------------------------------------------------------------------------------


def _stage(staged: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a new folder, down to the disc."""
    staged.mkdir()
    for name, content in files.items():
        if not is_plain_name(name):
            raise ValueError(f"{name!r} is not a plain file name")
        write_synced(staged / name, content)
    sync_directory(staged)


def _put(
    folder: Path,
    files: Mapping[str, bytes],
    unwanted: Callable[[Mapping[str, str | None]], Iterable[str]],
    spent: Mapping[str, str] | None = None,
) -> list[Finding]:
    """Put files into a folder that is there: steps 1 to 4."""
    with locked(folder):
        said = _finish(folder) if (folder / UNFINISHED).is_dir() else []
        before = listed(folder)
        gone = sorted(set(unwanted(before)) - files.keys())
        new = {name: sha256(content) for name, content in files.items()}
        stays = {name: value for name, value in before.items() if value and name not in gone}
        content = {**files, MANIFEST: manifest_bytes(stays | new)}
        ours: dict[str, list[str]] = {}
        for hashes in (before, new, spent or {}, {MANIFEST: digest(folder / MANIFEST)}):
            for name, value in hashes.items():
                if value is not None:
                    ours.setdefault(name, []).append(value)
        journal = {"schema": 1, "ours": ours, "gone": gone}
        staged = staged_name(folder)
        try:
            _stage(staged, {**content, _JOURNAL: json.dumps(journal, indent=2).encode()})
            os.rename(staged, folder / UNFINISHED)  # the decision
            said += _finish(folder)
        except KeyboardInterrupt:
            if (folder / UNFINISHED).is_dir():
                _finish(folder)
            raise
        finally:
            discard(staged)
    return said


def _finish(folder: Path) -> list[Finding]:
    """Do steps 3 and 4 as far as they are not done; return what was kept."""
    staged = folder / UNFINISHED
    journal = staged / _JOURNAL
    owed = sorted(path.name for path in staged.iterdir() if path.name != _JOURNAL)
    said = []
    if journal.exists() or owed:
        sync_directory(folder)
        ours, gone = _read_journal(journal)
        try:
            for name in owed:
                said += _make_room(folder / name, ours.get(name, []))
                os.replace(staged / name, folder / name)
            for name in gone:
                said += _remove(folder / name, ours.get(name, []))
        except OSError as error:
            reason = error.strerror or "no reason is given"
            raise HimotifError(
                f"{folder / name}: cannot be replaced ({reason}), so the folder is unfinished. "
                "Close what has the file open, or free some room; then use the folder again, and "
                "it is completed."
            ) from None
        sync_directory(folder)
        journal.unlink()
    staged.rmdir()
    return said


def _read_journal(journal: Path) -> tuple[dict[str, list[str]], list[str]]:
    """Return the hashes of what may be replaced, by name, and the names of what is to go."""
    try:
        plain = json.loads(journal.read_text(encoding="utf-8"))
        ours = {str(name): [str(one) for one in hashes] for name, hashes in plain["ours"].items()}
        gone = [str(name) for name in plain["gone"]]
        if plain["schema"] != 1 or not all(is_plain_name(name) for name in gone):
            raise ValueError
    except (OSError, ValueError, RecursionError, KeyError, TypeError, AttributeError):
        raise HimotifError(
            f"{journal.parent}: is not as a stopped run of himotif leaves it. Move it elsewhere, "
            "and make the folder again."
        ) from None
    return ours, gone


def _make_room(path: Path, ours: list[str]) -> list[Finding]:
    """Rename what has the name of a new file, unless it is ours; say so."""
    if not os.path.lexists(path) or digest(path) in ours:
        return []
    kept, number = path.with_name(f"{path.stem}.kept{path.suffix}"), 1
    while os.path.lexists(kept):
        number += 1
        kept = path.with_name(f"{path.stem}.kept-{number}{path.suffix}")
    os.rename(path, kept)
    return [Finding(Code.FILE_KEPT, {"file": path.name, "kept_as": kept.name})]


def _remove(path: Path, ours: list[str]) -> list[Finding]:
    """Remove a file if it is ours; say so if it is not."""
    if not os.path.lexists(path):
        return []
    if digest(path) not in ours:
        return [Finding(Code.FILE_STAYS, {"file": path.name})]
    path.unlink()
    return []
