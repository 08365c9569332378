"""How long the preview and the closed bracelet take: python tests/benchmarks/bench_preview.py"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design
from himotif.core.paper.preview_sheet import four_sides
from himotif.core.paper.ring_sheet import ring_picture
from himotif.core.show.preview import Look, braid_view
from himotif.core.show.ring import ring_of

PALETTE = (Bead("A", "oyster", (243, 238, 225)), Bead("B", "night tide", (34, 52, 86)))


def best_s(work: Callable[[], object], times: int = 3) -> float:
    """Shortest time of the processor of a few runs."""
    taken = []
    for _ in range(times):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


def main() -> None:
    """Print a line for each size of braid."""
    print("strands beads  4 views s  whole picture s  ring s")
    for strands, beads in ((8, 320), (8, 500), (16, 500), (16, 2000), (8, 2000)):
        lattice = Lattice.computed(Braid(strands), bead_size("8/0"))
        index = np.random.default_rng(0).integers(0, 2, beads)
        rgb = np.array([bead.rgb for bead in PALETTE], dtype=np.uint8)[index]
        design = Design(lattice, bead_size("8/0"), PALETTE, index)

        ring = ring_of(design)
        assert ring is not None

        def views(lattice: Lattice = lattice, rgb: np.ndarray = rgb) -> None:
            for view_deg in (180.0, 90.0, 0.0, 270.0):
                braid_view(Look(lattice, rgb), view_deg, 10.0)

        print(
            f"{strands:7d} {beads:5d} {best_s(views):10.2f}"
            f" {best_s(lambda: four_sides(design)):16.2f}"  # noqa: B023
            f" {best_s(lambda: ring_picture(design, ring)):7.2f}"  # noqa: B023
        )


if __name__ == "__main__":
    main()
