"""Which files of a folder are ours: those that stand, with their hash, in its manifest.

A file that the maker put there, or one of ours that she changed, has another hash or no place in
the manifest, so no run takes it for its own.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ...core._data import file_sha256, json_text

MANIFEST = "made-by-himotif.json"
SCHEMA = 1
"""Of the file of a manifest: a program refuses one that it does not know."""

_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")
_BEFORE_MANIFESTS = re.compile(
    r"design\.json|stringing\.(csv|txt)|sheet\.(pdf|html)|sheet-\d\d+\.svg|chart\.svg|preview\.png"
    r"|distortion\.(json|svg|png)|compare\.(json|svg|png)"
)
"""All names that were written when there was no manifest."""
_EDITED_BY_HAND = frozenset({"design.json", "stringing.csv"})
"""Of these, those that makers edit: without a manifest nobody knows whether one did."""


def sha256(content: bytes) -> str:
    """Return the hash of some content, in hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def digest(path: Path) -> str | None:
    """Return the hash of a file's content; None for what is no file or cannot be read."""
    return None if path.is_symlink() or not path.is_file() else file_sha256(path)


def is_plain_name(name: str) -> bool:
    """Whether a name leads to no other folder on any system."""
    return _PLAIN_NAME.fullmatch(name) is not None


def manifest_bytes(hashes: Mapping[str, str]) -> bytes:
    """Return the content of the manifest; equal hashes give equal bytes."""
    return json_text({"schema": SCHEMA, "sha256": dict(sorted(hashes.items()))}).encode()


def with_manifest(files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return the files of a new folder with their manifest."""
    hashes = {name: sha256(content) for name, content in files.items()}
    return {**files, MANIFEST: manifest_bytes(hashes)}


def read_manifest(folder: Path) -> dict[str, str] | None:
    """Return the hashes in a folder's manifest by file name; None if it has none we can read."""
    plain = _read_object(folder / MANIFEST)
    hashes = plain.get("sha256")
    if plain.get("schema") != SCHEMA or not isinstance(hashes, dict):
        return None
    return {
        name: value
        for name, value in hashes.items()
        if is_plain_name(name) and isinstance(value, str)
    }


def _read_object(path: Path) -> dict[str, Any]:
    """Return a file's JSON object; an empty one if it cannot be read or is something else."""
    try:
        plain = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return {}
    return plain if isinstance(plain, dict) else {}


def looks_ours(folder: Path) -> bool:
    """Whether a folder holds a manifest, a design or a comparison."""
    return (
        read_manifest(folder) is not None
        or {"braid", "beads"} <= _read_object(folder / "design.json").keys()
        or "best_first" in _read_object(folder / "compare.json")
    )


def listed(folder: Path) -> dict[str, str | None]:
    """Return the files that we made in a folder, with the hash that they had then.

    In a folder from before there were manifests that is every file of a name that was written
    then, as it is now; None instead of the hash of one that may have been edited by hand.

    Parameters
    ----------
    folder : Path
        One that looks like ours.
    """
    hashes = read_manifest(folder)
    if hashes is not None:
        return dict(hashes)
    names = sorted(path.name for path in folder.iterdir())
    return {
        name: None if name in _EDITED_BY_HAND else digest(folder / name)
        for name in names
        if _BEFORE_MANIFESTS.fullmatch(name)
    }
