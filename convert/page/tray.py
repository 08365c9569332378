"""The bead tray: colours from photographs, trays put in order and together, stock, what to buy.

What is asked for names its ``work`` and the browser ``tab``; older work of the same kind for that
tab is ended.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ...core.errors import HimotifError
from . import jobs
from .wording import texts

if TYPE_CHECKING:
    from .workspace import Workspace


def photographed(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Find the colours of beads in a photograph.

    Parameters
    ----------
    workspace : Workspace
    asked : mapping
        ``id`` of the photograph, ``work`` that may hold it; ``white``: a place, ``at``: places,
        each right and down in parts of the photograph's width and height.
    """
    picture = workspace.picture(asked.get("id"), str(asked.get("work") or ""), ())
    white = _place(asked.get("white"), picture.size_px)
    at = asked.get("at")
    places = [_place(one, picture.size_px) for one in (at if isinstance(at, list) else [])]
    found = workspace.workers.call(
        jobs.beads_in_photo,
        picture,
        white,
        tuple(one for one in places if one is not None),
        tab=f"{asked['tab']} photograph",
    )
    return {"beads": found["beads"], "notes": texts(found["findings"])}


def _place(part: Any, size_px: tuple[int, int]) -> tuple[float, float] | None:
    """A place in pixels, of one in parts of the sides."""
    if not isinstance(part, list) or len(part) != 2:
        return None
    try:
        x, y = (float(value) for value in part)
    except (TypeError, ValueError, OverflowError):
        return None
    return x * size_px[0], y * size_px[1]


def in_order(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return a tray put in order: ``name``, ``beads``, and ``by``: hue, lightness or stock."""
    from ...palette import sorted_palette

    by = asked.get("by")
    if by not in ("hue", "lightness", "stock"):
        raise HimotifError("Put them in order by hue, lightness or stock.")
    return workspace.take(sorted_palette(workspace.tray(asked), by))


def together(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return a tray with the beads of another: ``name``, ``beads``, ``more``."""
    from ...palette import joined

    tray = workspace.tray(asked)
    more = workspace.tray({"name": "the other tray", "beads": asked.get("more")})
    return workspace.take(joined([tray, more], tray.name))


def used(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return a tray with what a finished bracelet took off its stock.

    Parameters
    ----------
    workspace : Workspace
    asked : mapping
        ``name``, ``beads`` of the tray; ``key`` of the design, ``edited``: its beads.
    """
    from ...palette import counts, used_up

    design = workspace.seen(asked.get("key"), asked.get("edited"), {}).design
    took = counts(design.palette, design.beads)
    left = used_up(workspace.tray(asked), took)
    lines = [f"{count} {bead.code} {bead.name}" for bead, count in took.items()]
    return {**workspace.take(left), "lines": [*lines, *texts(left.findings)]}


def suggested(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return the few beads to buy that help a sketch most.

    Parameters
    ----------
    workspace : Workspace
    asked : mapping
        As `Workspace.work`, and ``shop``: the beads that can be bought.

    Returns
    -------
    dict
        ``beads`` to buy, best first; ``lines`` that say how far each of them helps.
    """
    order, picture, have = workspace.asked(asked)
    if picture is None:
        raise HimotifError("Bring a sketch first: what helps depends on it.")
    shop = workspace.tray({"name": "the shop", "beads": asked.get("shop")})
    beads, lines = workspace.workers.call(
        jobs.beads_to_buy,
        order,
        picture,
        have,
        shop,
        tab=f"{asked['tab']} suggested",
    )
    known = {bead["code"]: bead for bead in workspace.take(shop)["beads"]}
    return {"beads": [known[code] for code in beads], "lines": lines}
