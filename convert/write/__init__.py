"""Writing files and folders whole or not at all, and nothing of the maker's lost."""

from __future__ import annotations

from .disc import PATIENCE_S, write_file, write_files
from .folder import check_out, finish, update_folder, write_folder
from .manifest import MANIFEST, digest, listed, sha256, with_manifest

__all__ = [
    "MANIFEST",
    "PATIENCE_S",
    "check_out",
    "digest",
    "finish",
    "listed",
    "sha256",
    "update_folder",
    "with_manifest",
    "write_file",
    "write_files",
    "write_folder",
]
