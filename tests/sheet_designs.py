"""Designs for the tests of the papers: a maker's motifs of the salt marsh, and arbitrary ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design, Repeat
from himotif.core.design.origin import Origin, PaperChoice

NAMES = (
    ("A", "oyster", (243, 238, 225)),
    ("B", "deep water", (24, 46, 92)),
    ("C", "reed green", (110, 140, 70)),
    ("D", "heron grey", (120, 128, 140)),
    ("E", "moon silver", (205, 210, 215)),
    ("F", "tide blue", (70, 130, 180)),
)


def palette(count: int) -> tuple[Bead, ...]:
    """So many beads; from the seventh on with codes like AB and drawn colours."""
    rng = np.random.default_rng(7)
    beads = [Bead(code, name, rgb) for code, name, rgb in NAMES[:count]]
    for number in range(len(beads), count):
        letters = divmod(number, 26)
        code = (chr(64 + letters[0]) if letters[0] else "") + chr(65 + letters[1])
        red, green, blue = (int(value) for value in rng.integers(0, 256, 3))
        beads.append(Bead(code, f"marsh colour {number + 1}", (red, green, blue)))
    return tuple(beads)


def marsh(
    strands: int = 8,
    lay: str = "S",
    turn: str = "usual",
    colours: int = 4,
    rounds: int = 40,
    size: str = "8/0",
    seed: int = 0,
) -> Design:
    """A design whose beads are drawn by chance, with all colours in it and a repeat marked."""
    braid = Braid(strands, lay, turn)
    bead = bead_size(size)
    lattice = Lattice.computed(braid, bead)
    count = rounds * braid.beads_per_round
    rng = np.random.default_rng(seed)
    beads = rng.integers(0, colours, count)
    beads[rng.random(count) < 0.6] = 0
    beads[:colours] = np.arange(colours)
    back = lattice.face_return(2)
    repeat = Repeat(0, back.rounds, back.flip, rounds // back.rounds)
    order = {"strands": strands, "lay": lay, "bead_size": size, "wrist_mm": 165.0}
    return Design(lattice, bead, palette(colours), beads, 0, None, repeat, Origin(order))


def printed(design: Design, **papers: object) -> Design:
    """A design whose papers are made so."""
    return replace(design, papers=PaperChoice(**papers))


def unfold(text: str) -> list[str]:
    """Read a folded list back: ``3 A, 1 B, then 12 × (3 A, 1 C)``."""
    out: list[str] = []
    # on the sheet a swatch stands between a bracket and the first count
    text = text.replace("\u00a0", " ").replace("( ", "(")
    for part in text.split(", then "):
        times, inner = 1, part
        if " × (" in part:
            head, inner = part.split(" × (", 1)
            times, inner = int(head), inner.removesuffix(")")
        beads: list[str] = []
        for run in inner.split(", "):
            number, code = run.split(" ", 1)
            beads += [code] * int(number)
        out += beads * times
    return out
