"""The work at the disc, of a saved work: its lists, every crossing, and the lost place."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from ...core._data import parse_json
from ...core.design import design_from_dict, drop_directions
from ...core.errors import HimotifError, WrongUsage

if TYPE_CHECKING:
    from ...core.design import Design
    from .works import Work

NAME = "this work"


def design_of(work: Work) -> Design:
    """Return the design of a saved work.

    Raises
    ------
    HimotifError
        If there is none yet.
    """
    if work.design is None:
        raise HimotifError("This work has no beads yet. Bring a sketch first.")
    return design_from_dict(parse_json(work.design, NAME, "Save the work again."), NAME)


def view(work: Work, place: Mapping[str, Any]) -> dict[str, Any]:
    """Return everything that the work at the disc needs.

    Parameters
    ----------
    work : Work
    place : mapping
        Where she was; see `place_from`.

    Returns
    -------
    dict
        Slots and strands count from 1. ``moves``: for every crossing strand, from, to and the
        bead's place in ``palette``; ``starts``: the slot of each strand at the first bead, after
        the plain braid, as on the sheet; ``lists``: runs of beads by strand: count, place in
        ``palette``, and which way round to string a drop, in words.
    """
    from ...core.making.where import place_at
    from ...core.paper.drop_key import TURNED

    design = design_of(work)
    braid, count = design.braid, len(design.beads)
    plain_sets = design.papers.plain_sets
    strand = braid.strand_of(np.arange(count))
    beads = np.stack([design.beads, drop_directions(design).direction], axis=1)
    # each strand in stringing order, as runs: how many, which, which way round
    lists = [
        [[len([*run]), bead, TURNED[way]] for (bead, way), run in groupby(beads[own].tolist())]
        for own in (strand == number for number in range(braid.strands))
    ]
    return {
        "name": str(work.plain.get("name", "")),
        "slots": braid.start.slots,
        "starts": list(braid.slots_after(plain_sets)),
        "lay": braid.lay,
        "per_round": braid.beads_per_round,
        "facing": [slot for slot, _ in place_at(design, 0).facing],
        "palette": [bead.code_and_name | {"rgb": list(bead.rgb)} for bead in design.on_cord],
        "moves": [
            [move.strand + 1, move.from_slot, move.to_slot, int(design.beads[move.crossing])]
            for move in braid.work(count, plain_sets)
        ],
        "lists": lists,
        "place": place_from(place),
    }


def place_from(plain: Mapping[str, Any]) -> dict[str, Any]:
    """Return a place: ``done``, crossings worked; ``ticks``, runs that are strung, by strand."""
    done, ticks = plain.get("done"), plain.get("ticks")
    return {
        "done": done if type(done) is int and done >= 0 else 0,
        "ticks": [one if type(one) is int and one >= 0 else 0 for one in ticks[:1000]]
        if isinstance(ticks, list)
        else [],
    }


def where(work: Work, plain: Mapping[str, Any]) -> dict[str, Any]:
    """Find the place from counted beads.

    Parameters
    ----------
    work : Work
    plain : mapping
        ``beads``: text such as ``3:16, 5:17``, strand and beads used.
    """
    from ...core.making.where import find_place, parse_used
    from ...core.paper.place_wording import counted_lines

    design = design_of(work)
    try:
        found = find_place(design, parse_used(str(plain.get("beads", ""))[:400]))
    except WrongUsage as error:
        raise HimotifError(str(error)) from None
    return {"done": found.place.crossings, "lines": counted_lines(found)}
