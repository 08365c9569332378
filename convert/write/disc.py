"""One file written whole or not at all; the lock and the sweeping that all writing shares.

Everything is first written under a name ``.himotif-new-XXXXXXXX`` in the directory where it is to
be, synced to the disc, and then renamed. A rename within a directory is atomic: whoever looks sees
the old or the new, and a run that stops before it leaves the old.

Whoever stages or sweeps holds the directory's lock, which the system releases when a process ends,
however it ends. So a staged name that is seen under the lock belongs to no living run, and goes.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import stat
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

from ...core.errors import HimotifError

_STAGED = re.compile(r"\.himotif-new-[0-9a-f]{8}")
PATIENCE_S = 10.0
"""How long to wait for another run's writing, which takes well under a second."""
_STALE_S = 3600.0
"""Where there is no lock, what was staged longer ago than this is of no living run."""


@contextlib.contextmanager
def locked(directory: Path) -> Iterator[None]:
    """Hold a directory's lock, and sweep from it what killed runs had staged.

    Where the file system or the system knows no lock for a directory (Windows, some network
    drives) two runs at once on the same directory are not kept apart.

    Raises
    ------
    HimotifError
        If another run holds it for longer than a writing takes.
    """
    handle = _open_directory(directory)
    try:
        holds = handle is not None and _lock(handle, directory)
        _sweep(directory, 0.0 if holds else _STALE_S)
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _open_directory(directory: Path) -> int | None:
    """Open a directory, where the system can."""
    try:
        return os.open(directory, os.O_RDONLY)
    except OSError:
        return None


if sys.platform == "win32":

    def _lock(handle: int, directory: Path) -> bool:
        """No directory can be locked here."""
        return False

else:
    import fcntl

    def _lock(handle: int, directory: Path) -> bool:
        """Lock an open directory; return whether it can be locked."""
        end = time.monotonic() + PATIENCE_S
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                if time.monotonic() > end:
                    raise HimotifError(
                        f"{directory}: another himotif is writing there. Wait until it is done, or "
                        "end it."
                    ) from None
                time.sleep(0.02)
            except OSError:
                return False
            else:
                return True


def _sweep(directory: Path, age_s: float) -> None:
    """Remove what stopped runs have staged in a directory."""
    with contextlib.suppress(OSError):
        for entry in list(os.scandir(directory)):
            if _STAGED.fullmatch(entry.name):
                with contextlib.suppress(OSError):
                    if time.time() - entry.stat(follow_symlinks=False).st_mtime >= age_s:
                        discard(Path(entry.path))


def staged_name(directory: Path) -> Path:
    """Return a new name for what is to be written in a directory."""
    return directory / f".himotif-new-{secrets.token_hex(4)}"


def discard(staged: Path) -> None:
    """Remove something staged, a file or a folder of files, if it is there still."""
    with contextlib.suppress(FileNotFoundError):
        if staged.is_symlink() or not staged.is_dir():
            staged.unlink()
            return
        for path in staged.iterdir():
            path.unlink()
        staged.rmdir()


def write_synced(path: Path, content: bytes) -> None:
    """Write a new file, down to the disc."""
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def sync_directory(directory: Path) -> None:
    """Bring the names in a directory down to the disc, where the system can."""
    handle = _open_directory(directory)
    if handle is None:
        return
    try:
        os.fsync(handle)
    except OSError:  # some network drives
        pass
    finally:
        os.close(handle)


def write_file(path: Path, content: bytes, force: bool = False, runnable: bool = False) -> None:
    """Write one file whole or not at all.

    Parameters
    ----------
    path : Path
    content : bytes
    force : bool
        Replace what is there; a link stays, and what it leads to is replaced.
    runnable : bool
        Let whoever may read it run it.

    Raises
    ------
    HimotifError
        If it may not be replaced or cannot be written; then what was there is there still.
    """
    try:
        mode = path.stat().st_mode if path.exists() else None
        if mode is not None and not force:
            raise _taken(path)
        if mode is not None and not stat.S_ISREG(mode):
            path.write_bytes(content)  # a pipe or a device holds nothing that could be lost
            return
        target = Path(os.path.realpath(path))
        with locked(target.parent):
            staged = staged_name(target.parent)
            try:
                write_synced(staged, content)
                if mode is not None:
                    staged.chmod(stat.S_IMODE(mode))
                if runnable:
                    kept = stat.S_IMODE(staged.stat().st_mode)
                    staged.chmod(kept | (kept & 0o444) >> 2)
                if force:
                    os.replace(staged, target)
                else:
                    _give_name(staged, target)
            finally:
                discard(staged)
            sync_directory(target.parent)
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        reason = error.strerror or "no reason is given"
        raise HimotifError(f"{path}: cannot be written ({reason}). Choose another place.") from None


def write_files(files: Mapping[Path, bytes], force: bool = False) -> None:
    """Write some files, each whole or not at all, and none if one of them may not be replaced.

    Raises
    ------
    HimotifError
        As for `write_file`.
    """
    for path in files:
        if path.exists() and not force:
            raise _taken(path)
    for path, content in files.items():
        write_file(path, content, force)


def _taken(path: Path) -> HimotifError:
    return HimotifError(
        f"{path}: is there already. Choose another name, or add --force to replace it."
    )


def _give_name(staged: Path, target: Path) -> None:
    """Give a staged file its name, unless something of that name has come meanwhile.

    Raises
    ------
    FileExistsError
    """
    try:
        os.link(staged, target)
    except FileExistsError:
        raise
    except OSError:  # no second names on this file system
        if os.path.lexists(target):
            raise FileExistsError(target) from None
        os.rename(staged, target)
