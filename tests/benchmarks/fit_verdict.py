"""Fit the verdicts of `himotif.convert.fit.legibility` and `himotif.convert.judge.shades`.

    python tests/benchmarks/fit_verdict.py            # under a minute
    python tests/benchmarks/fit_verdict.py shaded     # pictures with shades: a second

Every conversion of ``tests/data/labelled.json`` is measured as the program measures its own, and
two logistic regressions are fitted on ``labels.csv``: whether it reads, and whether it reads or
hints. Each is tested on motifs that it was not fitted on: all conversions of a motif are left out
at once. Printed are the weights, how often the held-out verdict is the label, and the area under
the curve: how often of one that reads and one that does not the first has the higher score.

Pictures with shades are fitted in the same way on ``tests/data/shaded.csv``; beside the measures
that the verdict goes by stand others, for comparison.
"""

from __future__ import annotations

import csv
import importlib.util
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt
from himotif.convert.fit.energy import Overlay, Size, extent_mm
from himotif.convert.fit.laying import nearest_bead
from himotif.convert.fit.legibility import Evidence, legibility_of
from himotif.convert.fit.patch import Patch
from himotif.convert.fit.size import flat_sketch
from himotif.core.arrays import Bools, Floats

DATA = Path(__file__).parents[1] / "data"
SHADED = ("S", "J", "alike", "contrast")
PENALTY = 0.1
"""Of squared weights, against those that grow without end where two groups can be parted."""


def drawing() -> ModuleType:
    """Return the script that drew the conversions."""
    spec = importlib.util.spec_from_file_location("draw_labels", DATA / "draw_labels.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def measured(item: Mapping[str, Any], draw: ModuleType) -> tuple[Floats, str]:
    """Return the evidence of a labelled conversion, and the verdict on it."""
    lattice = draw.lattice_of(item["strands"])
    sketch = flat_sketch(draw.labels_of(item["sketch"]), 0, lattice)
    stretch = item["height_mm"] / item["width_mm"] / sketch.aspect
    size = Size(item["width_mm"], stretch, item["rotate_deg"])
    around_deg = (item["x_mm"] - float(lattice.x_mm(0))) / lattice.circumference_mm * 360
    seed, offset = nearest_bead(lattice, float(lattice.azimuth_deg(0)) - around_deg, item["z_mm"])
    half = extent_mm(sketch, size)[1] / 2 + 1.5 * lattice.covering_radius_mm
    patch = Patch.of(lattice, half)
    overlay = Overlay(sketch, size, patch, np.array([offset]))
    step, side = divmod(seed, 2)
    place = 2 * (step + patch.step) + (side ^ patch.side) - item["first"]
    beads = np.array([int(one) for one in item["beads"]])
    there = (place >= 0) & (place < len(beads))
    colours = np.where(there, beads[np.clip(place, 0, len(beads) - 1)], 0)
    colours = np.searchsorted(overlay.inks, colours)[None]
    kept, energy = overlay.kept(colours)[0], float(overlay.energy(colours)[0])
    drawn = int(np.count_nonzero(colours != overlay.ground))
    seen = Evidence(1.0 - energy, drawn, overlay.broader, sketch.things)
    found = legibility_of(sketch.features, kept, seen, overlay.apart(colours[0]))
    return found.evidence.row, found.verdict


def fitted(x: Floats, y: Bools) -> Floats:
    """Return the weights of a logistic regression of `y` (n,) on `x` (n, k), a constant first."""
    x = np.c_[np.ones(len(x)), x]
    weights, penalty = np.zeros(x.shape[1]), PENALTY * np.diag([0.0] + [1.0] * (x.shape[1] - 1))
    for _ in range(50):
        chance = 1 / (1 + np.exp(-x @ weights))
        slope = x.T @ (y - chance) - penalty @ weights
        weights = weights + np.linalg.solve((x.T * (chance * (1 - chance))) @ x + penalty, slope)
    return np.asarray(weights)


def held_out(x: Floats, y: Bools, motif: npt.NDArray[np.str_]) -> Floats:
    """Return the score of each conversion by the fit on all other motifs."""
    score = np.zeros(len(y))
    for name in np.unique(motif):
        here = motif == name
        weights = fitted(x[~here], y[~here])
        score[here] = weights[0] + x[here] @ weights[1:]
    return score


def under_curve(score: Floats, y: Bools) -> float:
    """Return the share of pairs in which the one with `y` has the higher score."""
    more = score[y][:, None] - score[~y][None]
    return float(((more > 0) + 0.5 * (more == 0)).mean()) if more.size else float("nan")


def shaded() -> None:
    """Print the fit of pictures with shades."""
    lines = (DATA / "shaded.csv").read_text("utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    label = np.array([row["label"] for row in rows])
    picture = np.array([row["picture"] for row in rows])
    drawn = np.char.startswith(picture, "lit_")
    measures = {name: np.array([float(row[name]) for row in rows]) for name in SHADED}
    for what, y in (("reads", label == "reads"), ("reads or hints", label != "no")):
        print(f"{what}: {y.sum()} of {len(y)}, of photographs and paintings {y[~drawn].sum()} of "
              f"{(~drawn).sum()}")  # fmt: skip
        for names in (("alike", "contrast"), ("S",), ("J",), ("S", "J"), ("alike",), ("contrast",)):
            x = np.stack([measures[name] for name in names], axis=1)
            middle, spread = x.mean(axis=0), x.std(axis=0)
            score = held_out((x - middle) / spread, y, picture)
            weights = fitted((x - middle) / spread, y)
            slope = weights[1:] / spread
            weights = np.array([weights[0] - slope @ middle, *slope])
            right, area = (score > 0) == y, under_curve(score, y)
            other = f"photographs and paintings {right[~drawn].mean():.2f}"
            found = f"{(score > 0)[y].mean():.2f} of them found, {(score <= 0)[~y].mean():.2f} of"
            print(f"    {', '.join(names)}: {np.round(weights, 3).tolist()}; held out "
                  f"{right.mean():.2f} right ({other}), {found} the others, "
                  f"area {area:.2f}")  # fmt: skip


def main() -> int:
    """Print the fit."""
    if sys.argv[1:] == ["shaded"]:
        shaded()
        return 0
    draw = drawing()
    items = json.loads((DATA / "labelled.json").read_text("utf-8"))
    lines = (DATA / "labels.csv").read_text("utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    label = np.array([row["label"] for row in rows])
    found = [measured(item, draw) for item in items]
    x = np.array([one for one, _ in found])
    verdict = np.array([one.replace("a hint", "hint").replace("lost", "no") for _, one in found])
    motif = np.array([item["sketch"] for item in items])
    strands = np.array([item["strands"] for item in items])
    sizes = [(str(n), strands == n) for n in np.unique(strands)] + [("all", strands > 0)]
    for what, y in (("reads", label == "reads"), ("reads or hints", label != "no")):
        print(f"{what}: constant and weights {np.round(fitted(x, y), 2).tolist()}")
        score = held_out(x, y, motif)
        for name, here in sizes:
            right = ((score > 0) == y)[here].mean()
            area = under_curve(score[here], y[here])
            about = f"{here.sum()} conversions, {y[here].sum()} of them"
            print(f"    {name:>3} strands: {about}; held out {right:.2f} right, area {area:.2f}")
    print("verdict as it stands, label by verdict (reads, hint, no):")
    for one in ("reads", "hint", "no"):
        print(f"    {one:>5}:", [int(((label == one) & (verdict == v)).sum())
                                 for v in ("reads", "hint", "no")])  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
