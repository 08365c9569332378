"""Works on disk: each is one file, written whole after every change of it.

A work file is a zip: ``about.json`` (its name, and when it was saved), ``work.json`` (what stands
on the page, with the way back and forth), ``files/ID/NAME`` (sketches and designs that were
brought), ``picture.png`` (for the list of recent works), ``design.json`` (the beads as they are,
for the work at the disc). The place at the disc lies beside it, as it changes with every crossing.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import secrets
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Lock
from typing import Any, BinaryIO

from ...core._data import parse_json
from ...core.errors import HimotifError
from ..write import PATIENCE_S, write_file

SCHEMA = 1
"""Of a work file: a program refuses one that it does not know."""

SUFFIX = ".himotif"
ID = re.compile(r"[0-9a-f]{32}")
FILE_ID = re.compile(r"[0-9a-f]{8,64}")

ABOUT = ("name", "rev", "saved")
"""What is read of every work at the start, and of a work before it is saved again."""

MOST_WORK_BYTES = 120 * 1024**2
"""Of a work file, unpacked: two sketches of the largest size that is taken, and the rest."""

MOST_RECENT = 24
"""Works that are listed at the start, the newest; older ones stay where they are."""


class Conflict(HimotifError):
    """The work was changed elsewhere since it was read."""


@dataclass(frozen=True)
class Brought:
    """A file as it was brought."""

    name: str
    data: bytes


@dataclass(frozen=True)
class Work:
    """What a work file holds.

    Parameters
    ----------
    plain : dict
        ``name``, ``rev``, ``saved``, ``now``, ``past``, ``future``; states are the page's.
    files : mapping of str to Brought
        By the ids that the states name.
    picture, design : bytes, optional
        PNG for the list; the design as JSON.
    """

    plain: dict[str, Any]
    files: Mapping[str, Brought] = field(default_factory=dict)
    picture: bytes | None = None
    design: bytes | None = None

    def packed(self) -> bytes:
        """Return the work file."""
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as packed:
            plain = {"himotif": "work", "schema": SCHEMA, **self.plain}
            about = {name: plain.get(name) for name in ABOUT}
            for name, content in (
                ("about.json", json.dumps(about)),
                ("work.json", json.dumps(plain)),
                ("picture.png", self.picture),
                ("design.json", self.design),
            ):
                if content is not None:
                    packed.writestr(name, content, zipfile.ZIP_DEFLATED, 1)
            for key, brought in self.files.items():
                packed.writestr(f"files/{key}/{brought.name}", brought.data)
        return out.getvalue()


def unpacked(data: bytes, name: str) -> Work | None:
    """Read a work file; None if it is another zip.

    Raises
    ------
    HimotifError
        If it is broken, or too large to be one.
    """
    held = unzipped(io.BytesIO(data), name)
    return _work(held, name) if "work.json" in held else None


def _work(held: dict[str, bytes], name: str) -> Work:
    plain = parse_json(held.pop("work.json"), name, "Open a work that this page has saved.")
    if not isinstance(plain, dict) or not isinstance(plain.get("now"), dict):
        raise HimotifError(f"{name} is no work of this page. Open one that it has saved.")
    if plain.get("schema") != SCHEMA:
        raise HimotifError(f"{name} was saved by a newer himotif. Open it with that one.")
    files = {}
    for path, content in held.items():
        folder, _, rest = path.partition("/")
        key, _, given = rest.partition("/")
        if folder == "files" and FILE_ID.fullmatch(key) and given:
            files[key] = Brought(given, content)
    return Work(plain, files, held.get("picture.png"), held.get("design.json"))


def unzipped(file: Path | BinaryIO, name: str, parts: tuple[str, ...] = ("",)) -> dict[str, bytes]:
    """Return the files of a zip by name.

    Parameters
    ----------
    file : Path or binary file
    name : str
        As it is called in messages.
    parts : tuple of str
        How the names begin of those that are wanted; no others are unpacked.

    Raises
    ------
    HimotifError
        If it is broken, or would unpack to too much.
    """
    try:
        with zipfile.ZipFile(file) as packed:
            return dict(_members(packed, name, parts))
    except FileNotFoundError:
        raise
    except (
        *(zipfile.BadZipFile, zlib.error, NotImplementedError),
        *(RuntimeError, EOFError, OSError),
        ValueError,  # names that are no UTF-8, places before the beginning
    ) as error:
        raise HimotifError(f"{name} is broken ({error}). Open an older copy of it.") from None


def _members(
    packed: zipfile.ZipFile, name: str, parts: tuple[str, ...]
) -> Iterator[tuple[str, bytes]]:
    items = [item for item in packed.infolist() if not item.is_dir()]
    if len(items) > 256 or sum(item.file_size for item in items) > MOST_WORK_BYTES:
        raise HimotifError(f"{name} holds more than a work or a folder does. Open another one.")
    for item in (item for item in items if item.filename.startswith(parts)):
        with packed.open(item) as content:
            # what a zip says of its sizes need not be true
            data = content.read(item.file_size + 1)
        if len(data) > item.file_size:
            raise HimotifError(f"{name} is broken. Open an older copy of it.")
        yield item.filename, data


def new_id() -> str:
    """Return an id that no other work has."""
    return secrets.token_hex(16)


class Works:
    """The works in a folder.

    Parameters
    ----------
    folder : Path
        Made as soon as something is saved.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = Lock()

    def recent(self) -> list[dict[str, Any]]:
        """Return the newest works, newest first: id, name, saved; and whether it has a picture."""
        found = []
        with contextlib.suppress(OSError):
            paths = sorted(self.folder.glob(f"*{SUFFIX}"), key=_changed, reverse=True)
            for path in paths[:MOST_RECENT]:
                with contextlib.suppress(HimotifError, OSError):
                    work = self.about(path.stem)
                    found.append(
                        {
                            "id": path.stem,
                            "name": str(work.plain.get("name") or ""),
                            "saved": str(work.plain.get("saved") or ""),
                            "picture": work.picture is not None,
                        }
                    )
        return found

    def read(self, key: str, *parts: str) -> Work:
        """Return a work.

        Parameters
        ----------
        key : str
        *parts : str
            How the names begin of the files that are wanted beside what stands on the page; a
            work may hold large sketches. All if not given.

        Raises
        ------
        HimotifError
            If it is not there, or broken.
        """
        held = self._held(key, ("work.json", *parts) if parts else ("",))
        if "work.json" not in held:
            raise HimotifError("This file is no work of this page. Open another one.")
        return _work(held, f"{key}{SUFFIX}")

    def about(self, key: str) -> Work:
        """Return a work's name, revision, time and picture, and nothing else of it; see `read`."""
        held = self._held(key, ("about.json", "picture.png"))
        if "about.json" not in held:  # saved by an earlier version
            return self.read(key, "picture.png")
        plain = parse_json(held["about.json"], f"{key}{SUFFIX}", "Open an older copy of it.")
        return Work(plain if isinstance(plain, dict) else {}, picture=held.get("picture.png"))

    def _held(self, key: str, parts: tuple[str, ...]) -> dict[str, bytes]:
        try:
            return unzipped(self._path(key), f"{key}{SUFFIX}", parts)
        except FileNotFoundError:
            raise HimotifError("This work is not there any more. Open another one.") from None

    def save(self, key: str, work: Work) -> dict[str, Any]:
        """Write a work, whole or not at all.

        Parameters
        ----------
        key : str
        work : Work
            Its ``rev`` is that of the work it came from; 0 for a new one.

        Returns
        -------
        dict
            ``rev``, ``saved``: as it is kept.

        Raises
        ------
        Conflict
            If the work was changed elsewhere.
        """
        path = self._path(key)
        with self._lock:
            before = self.about(key).plain if path.exists() else {"rev": 0}
            if before.get("rev") != work.plain["rev"]:
                raise Conflict("This work was changed in another window.")
            kept = {"rev": work.plain["rev"] + 1, "saved": _now()}
            _write(path, replace(work, plain=work.plain | kept).packed())
        return kept

    def remove(self, key: str) -> None:
        """Remove a work and its place at the disc."""
        for path in (self._path(key), self._beside(key)):
            path.unlink(missing_ok=True)

    def place(self, key: str) -> dict[str, Any]:
        """Return the place at the disc; none at the beginning."""
        try:
            plain = json.loads(self._beside(key).read_text("utf-8"))
        except (OSError, ValueError):
            return {}
        return plain if isinstance(plain, dict) else {}

    def keep_place(self, key: str, place: Mapping[str, Any]) -> None:
        """Keep the place at the disc."""
        with self._lock:
            _write(self._beside(key), json.dumps(dict(place)).encode())

    def close(self) -> None:
        """End saving: wait for what is being written, and begin nothing more.

        The threads of the server end with the process, wherever they are.
        """
        self._lock.acquire(timeout=PATIENCE_S)

    def _path(self, key: str) -> Path:
        if not ID.fullmatch(key):
            raise HimotifError("There is no such work.")
        return self.folder / f"{key}{SUFFIX}"

    def _beside(self, key: str) -> Path:
        return self._path(key).with_suffix(".place.json")


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    write_file(path, content, force=True)


def _changed(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def users_folder() -> Path:
    """Return where the works of whoever started the page lie."""
    from platformdirs import user_data_path

    return Path(user_data_path("himotif", appauthor=False)) / "works"
