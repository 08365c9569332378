"""What all workers need, imported: they are forked from a process that has done so."""

from __future__ import annotations

from .jobs import get_ready, get_ready_to_decode

get_ready()
get_ready_to_decode()
