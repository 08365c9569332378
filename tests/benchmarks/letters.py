"""Can a text be read? Every capital and every digit, alone and in words, on every braid.

    python tests/benchmarks/letters.py                 # some eight minutes on two cores
    python tests/benchmarks/letters.py --strands 8 --way up
    python tests/benchmarks/letters.py --write         # also into letters_table.txt

The texts are worked by the program from its own typeface. The reader is that of ``reading.py``: it
shares no code with the program, opens the design's values, unrolls it and compares what it sees
with every capital, or every digit, place and size free. It knows other typefaces only, the bold
cuts of Source Sans Pro (SIL Open Font License 1.1) and Roboto (Apache License 2.0), from the
packages font-source-sans-pro and font-roboto: ``pip install himotif[benchmark]``.

A letter alone is the whole text. In words of six or seven letters each is cut out at the bare beads
between them; a word whose letters cannot be told apart so counts as not read at all.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import string
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.core.design import design_json
from himotif.palette import read_palette
from reading import (
    FARTHEST_ROUND,
    PALETTE,
    Candidate,
    Motif,
    candidate,
    capital,
    lie,
    likeliest,
    unrolled,
)

TABLE = Path(__file__).with_name("letters_table.txt")
FACES = (("font_source_sans_pro", "SourceSansPro-Bold.ttf"), ("font_roboto", "Roboto-Bold.ttf"))
SETS = (string.ascii_uppercase, string.digits)
AIM = {8: 24, 12: 26, 16: 26, 20: 26, 24: 26}
"""Of 26 capitals alone, letter by letter along the braid or one below the other."""
WORDS = ("QUARTZ", "JACKDAW", "SPHINX", "VEGBOM", "FLYTINE", "0123456", "789410")
"""Each capital, and each digit, at least once."""
WAYS = ("up", "below")
TURNS = {"up": -1, "down": 1, "below": 0}
STRETCHED = 1.6
"""A reader of letters that are all of one height takes none for another that is more than so many
times as wide or as narrow: an I for no squeezed B. Ours; letters that are worked wider are lost."""
GAP_ROUNDS = 1.55
"""Bare beads between letters are further apart than the beads of a letter: ours."""


@cache
def candidates(characters: str) -> tuple[Candidate, ...]:
    """Return every character of a set in every typeface that the reader knows."""
    found = []
    for package, file in FACES:
        path = Path(str(resources.files(package) / "files" / file))
        found += [candidate(one, capital(path, one)) for one in characters]
    return tuple(found)


def designed(text: str, way: str, strands: int) -> tuple[dict[str, Any], float]:
    """Return the plain values of a text's design, and how long it took in seconds."""
    import json

    start = time.process_time()
    order = Order(text=text, letters=way, strands=strands)  # type: ignore[arg-type]
    made = make(order, None, read_palette(PALETTE))
    seconds = time.process_time() - start
    return json.loads(design_json(made.design)), seconds


def cut(plain: Mapping[str, Any], way: str) -> Iterator[Motif]:
    """Yield the letters of a text in their order, cut at the bare beads between them, upright."""
    beads = np.array(plain["beads"])
    ground = [bead["code"] for bead in plain["palette"]].index(plain["background"])
    drawn = np.flatnonzero(beads != ground)
    height = lie(plain, len(beads)).z_mm[drawn]
    order = np.argsort(height, kind="stable")
    breaks = np.flatnonzero(np.diff(height[order]) > GAP_ROUNDS * plain["lattice"]["rise_mm"]) + 1
    pieces = np.split(drawn[order], breaks)
    for piece in pieces if way == "up" else reversed(pieces):
        alone = np.full(len(beads), ground)
        alone[piece] = beads[piece]
        seen = unrolled({**plain, "beads": alone.tolist(), "repeat": None})
        assert seen is not None
        yield Motif(np.rot90(seen.pixels, TURNS[way]), seen.round)


@dataclass(frozen=True)
class Read:
    """What a text was read as; ? is a letter that cannot be seen at once."""

    text: str
    read_as: str
    seconds: float


def read(way: str, strands: int, text: str) -> Read:
    """Work a text and read it."""
    plain, seconds = designed(text, way, strands)
    seen = [*cut(plain, way)]
    if len(seen) != len(text):
        return Read(text, "?" * len(text), seconds)
    read_as = ""
    for motif, letter in zip(seen, text, strict=True):
        among = next(one for one in SETS if letter in one)
        named = likeliest(motif, candidates(among), STRETCHED, STRETCHED)[0][1]
        read_as += named if motif.round <= FARTHEST_ROUND + 1e-6 else "?"
    return Read(text, read_as, seconds)


def row(kind: str, way: str, strands: int, found: Sequence[Read], aim: int | None) -> str:
    """Return the line of the table for some texts."""
    pairs = [pair for one in found for pair in zip(one.text, one.read_as, strict=True)]
    wrong = ", ".join(f"{letter} (as {seen})" for letter, seen in pairs if letter != seen)
    right = sum(letter == seen for letter, seen in pairs)
    told = f"{way:<6}{strands:>3} strands  {kind:<15}{right:>3} of {len(pairs)} read"
    told += "" if aim is None else f" (aim {aim})"
    told += f"; {np.median([one.seconds for one in found]):.1f} s each"
    return told + (f"; not: {wrong}" if wrong else "")


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table, and write it if asked for."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    options.add_argument("--strands", type=int, choices=tuple(AIM), action="append")
    options.add_argument("--way", choices=(*WAYS, "down"), action="append")
    options.add_argument("--processes", type=int, default=os.cpu_count())
    options.add_argument("--write", action="store_true", help=f"write {TABLE.name}")
    chosen = options.parse_args(arguments)
    lines = []
    with multiprocessing.Pool(chosen.processes) as pool:
        for way in chosen.way or WAYS:
            for strands in chosen.strands or AIM:
                for kind, texts, aim in (
                    ("capitals alone", SETS[0], AIM[strands]),
                    ("digits alone", SETS[1], None),
                    ("in words", WORDS, None),
                ):
                    found = pool.map(partial(read, way, strands), texts, 1)
                    lines.append(row(kind, way, strands, found, aim))
                    print(lines[-1], flush=True)
    if chosen.write:
        TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
