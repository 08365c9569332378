"""The labelled conversions are whole: each has its sketch, its lattice, its beads and its label."""

from __future__ import annotations

import csv
import importlib.util
import json
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="module")
def drawing() -> ModuleType:
    spec = importlib.util.spec_from_file_location("draw_labels", DATA / "draw_labels.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_conversion_has_one_label() -> None:
    items = json.loads((DATA / "labelled.json").read_text(encoding="utf-8"))
    lines = (DATA / "labels.csv").read_text(encoding="utf-8").splitlines()
    labels = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(items) >= 200
    assert [(str(item["id"]), item["sketch"]) for item in items] == [
        (row["id"], row["sketch"]) for row in labels
    ]
    assert {row["label"] for row in labels} == {"reads", "hint", "no"}
    assert all(row["seen_as"] for row in labels if row["label"] == "reads")


def test_the_beads_lie_where_the_sketch_is_drawn(drawing: ModuleType) -> None:
    items = json.loads((DATA / "labelled.json").read_text(encoding="utf-8"))
    looked_at = 0
    for item in [one for one in items if one["by"] in ("shares", "program")][:60]:
        beads = np.array([int(bead) for bead in item["beads"]])
        if not beads.any():
            continue
        share = drawing.shares(item, np.arange(item["first"] + len(beads) + 40))
        drawn = share[item["first"] :][: len(beads), 1:].sum(axis=1)
        under = {ink: drawn[(beads > 0) == ink].mean() for ink in (True, False)}
        assert under[True] > 0.15 + under[False], item["id"]
        looked_at += 1
    assert looked_at > 50
