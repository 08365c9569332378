"""Whether the beads that `palette suggest` names help more than those nearest to the colours.

    python tests/benchmarks/suggest.py [--write]    about two minutes of one core

Ten bundled sketches, five beads at hand, two at most to buy out of 55 (the salt-marsh palette and
the two to begin with, of one size). The other way takes as many: for each of the colours of the
sketch that count most (share times squared CIEDE2000 to the beads at hand) the nearest bead of the
stock. Both are measured alike: a first look, J and its two parts over the motif.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from himotif.convert.fit.inks import colours_of
from himotif.convert.options import Order
from himotif.convert.read import Picture, read_picture, read_sketch
from himotif.convert.suggest import Standing, standing, suggest
from himotif.palette import Palette, ciede2000_matrix, joined, read_palette, starter_palette

FIXTURES = Path(__file__).parents[2] / "fixtures"
TABLE = Path(__file__).with_name("suggest_table.txt")
SKETCHES = (
    "boat", "crab", "curlew", "dusk", "heron", "leaf", "minnow", "moonlit_pond", "sea_aster",
    "tide",
)  # fmt: skip
AT_HAND = ("A", "B", "E", "H", "L")
COUNT = 2


def nearest_choice(picture: Picture, have: Palette, stock: Palette, count: int) -> Palette:
    """Return the beads at hand with those nearest to the colours that count most."""
    lab, weights = colours_of(read_sketch(picture))
    for _ in range(count):
        off = weights * ciede2000_matrix(lab, have.lab).min(axis=1) ** 2
        wanted = lab[int(off.argmax())]
        bead = int(ciede2000_matrix(wanted[None], stock.lab).argmin())
        have = joined([have, stock.subset([bead])], have.name)
    return have


def row(label: str, before: Standing, ours: Standing, nearest: Standing) -> str:
    cells = "".join(
        f"{one.score:9.2f}{one.kept_percent:6.0f}{one.colour_de00:6.1f}"
        for one in (before, ours, nearest)
    )
    return f"{label:14}{cells}"


def main() -> None:
    marsh = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    have = marsh.subset([marsh.index(code) for code in AT_HAND])
    stock = joined([marsh, starter_palette("bright"), starter_palette("muted")], "stock")
    lines = [
        f"{'':14}{'at hand':>21}{'suggested':>21}{'nearest':>21}",
        f"{'sketch':14}" + 3 * f"{'J':>9}{'S %':>6}{'C':>6}",
    ]
    results = []
    for name in SKETCHES:
        picture = read_picture(FIXTURES / "motifs" / f"{name}.png")
        before, found = suggest(Order(), picture, have, stock, COUNT)
        ours = found[-1].standing if found else before
        nearest = standing(Order(), picture, nearest_choice(picture, have, stock, len(found)))
        results.append((before, ours, nearest))
        codes = " ".join(one.bead.code for one in found)
        lines.append(f"{row(name, before, ours, nearest)}  {codes}")
        print(lines[-1], flush=True)
    means = [
        Standing(*np.mean([(o.score, o.colour_de00, o.kept_percent) for o in column], axis=0))
        for column in zip(*results, strict=True)
    ]
    lines.append(row("mean", *means))
    text = "\n".join(lines) + "\n"
    print(text)
    if "--write" in sys.argv:
        head = "Two beads to buy, by what a first look makes of them; see suggest.py.\n\n"
        TABLE.write_text(head + text, encoding="utf-8")


if __name__ == "__main__":
    main()
