"""The files of a folder, as bytes, and writing them whole or not at all."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

from ..core.errors import HimotifError

OURS = frozenset({".json", ".csv", ".txt", ".pdf", ".svg", ".png", ".html"})


def check_out(out: Path, force: bool) -> None:
    """Refuse a folder that cannot be made, before any work is done.

    Raises
    ------
    HimotifError
        If it exists and may not be replaced, or there is no place for it.
    """
    if out.is_symlink() or (out.exists() and not out.is_dir()):
        raise HimotifError(f"{out}: is there already and is not a folder. Choose another name.")
    if out.exists():
        if not force:
            raise HimotifError(
                f"{out}: is there already. Choose another folder, or add --force to replace it."
            )
        foreign = sorted(
            path.name for path in out.iterdir() if path.is_dir() or path.suffix not in OURS
        )
        if foreign or not ((out / "design.json").exists() or not any(out.iterdir())):
            held = f"holds {foreign[0]}" if foreign else "holds no design"
            raise HimotifError(
                f"{out}: {held}, so it does not look like a folder of himotif; --force would "
                "delete it whole. Choose another folder."
            )
    if not out.absolute().parent.is_dir():
        raise HimotifError(f"{out}: there is no folder {out.absolute().parent}. Make it first.")


def write_folder(out: Path, files: Mapping[str, bytes], force: bool = False) -> None:
    """Write a folder whole or not at all.

    Parameters
    ----------
    out : Path
    files : mapping of str to bytes
        Content by file name.
    force : bool
        Replace a folder of ours.

    Raises
    ------
    HimotifError
        If the folder may not be replaced or cannot be written.
    """
    check_out(out, force)
    place = out.absolute()
    try:
        with tempfile.TemporaryDirectory(prefix=f".{place.name}.", dir=place.parent) as work:
            made = Path(work) / "new"
            made.mkdir()
            for name, content in files.items():
                (made / name).write_bytes(content)
            if place.exists():
                place.rename(Path(work) / "old")
            made.rename(place)
    except OSError as error:
        raise HimotifError(f"{out}: cannot be written ({error.strerror}).") from None
