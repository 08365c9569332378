"""What is wanted now and then: the mirror, other braids, lengths alone, a test braid, one bead.

Each tool returns ``lines`` to be read and, where it makes a file, its ``file``: the id under which
the workspace holds it. What is asked for names its ``work`` and the browser ``tab``; older work of
the same kind for that tab is ended.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ...core.errors import HimotifError, WrongUsage
from ..options import Several, SizeName, Whole, all_options
from . import jobs
from .order import papers_from, readings_from
from .wording import texts

if TYPE_CHECKING:
    from ..job import Setup
    from .workspace import Workspace


def mirrored(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Make the exact mirror set-up of a design: ``key``, ``beads``, ``order``."""
    from ...core.design import mirror_design, mirror_findings
    from ..write.outputs import folder_files

    form = _form(asked)
    subject = workspace.seen(asked.get("key"), asked.get("beads"), form)
    other = mirror_design(subject.design)
    files = workspace.workers.call(folder_files, other, papers_from(form))
    name = f"{subject.name} mirrored"
    return {
        "lines": texts(mirror_findings(subject.design, other), subject.design.unit),
        "file": workspace.keep_folder(name, files),
    }


def compared(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Compare a sketch on several braids.

    Parameters
    ----------
    workspace : Workspace
    asked : mapping
        As `Workspace.work`, and ``braids``, ``sizes``: texts such as ``8,12`` and ``8/0,11/0``.

    Returns
    -------
    dict
        ``lines``, ``file``; ``braids``, best first, as `jobs.ways`.
    """
    order, picture, palette = workspace.asked(asked)
    if picture is None:
        raise HimotifError("Bring a sketch first; letters are read on each braid by working them.")
    strands = Several(of=Whole()).read(str(asked.get("braids") or ""))
    sizes = Several(of=SizeName()).read(str(asked.get("sizes") or ""))
    braids, lines, files = workspace.workers.call(
        jobs.comparison, order, picture, palette, strands, sizes,
        tab=f"{asked['tab']} compared",
    )  # fmt: skip
    return {"braids": braids, "lines": lines, "file": workspace.keep_folder("compared", files)}


def planned(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Plan length, rounds, beads and cord without a sketch: ``order``, ``palette``."""
    from ...core.findings import by_weight
    from ...core.making.materials import plan
    from ...core.paper.cautions import cautions
    from ...core.paper.shopping_wording import plan_lines

    setup = _setup(workspace, asked)
    unit = papers_from(_form(asked)).unit
    piece = plan(setup.lattice, setup.bead, setup.lengths)
    found = by_weight([*setup.questions, *setup.assumed])
    said = [*plan_lines(piece, unit), *texts(found, unit), *cautions(making=False)]
    return {"lines": said}


def blank(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Make the cells of a braid, to draw on: ``order``, ``palette``, ``kind``: png or svg."""
    from ..write.outputs import blank_file

    lattice = _setup(workspace, asked).lattice
    kind = "svg" if asked.get("kind") == "svg" else "png"
    wide_mm = round(lattice.circumference_mm, 1)
    where, width = (all_options()[field].page[0] for field in ("all_round", "width_mm"))
    return {
        "lines": [
            f"Fill cells in and do not crop it. Then bring it as a PNG, with “{where.label}” "
            f"{where.yes} and “{width.label}” {wide_mm:g} mm."
        ],
        "file": workspace.keep_file(
            f"blank {lattice.braid.strands} strands.{kind}", blank_file(lattice, f".{kind}")
        ),
    }


def swatch(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Make a short test braid: ``order``, ``palette``."""
    setup, papers = _unmeasured(workspace, asked), papers_from(_form(asked))
    lines, files = workspace.workers.call(jobs.swatch_folder, setup.lattice, setup.bead, papers)
    name = f"test braid {setup.lattice.braid.strands} strands"
    return {"lines": lines, "file": workspace.keep_folder(name, files)}


def recorded(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Record what was measured on a test braid: ``order``, ``palette``, ``readings``.

    Returns
    -------
    dict
        ``lines``, ``file``; ``swatch``, as `Workspace.bring_swatch` returns it.
    """
    from ...core.making.swatch import questions, readings_json, record

    plain = asked.get("readings")
    lattice = _unmeasured(workspace, asked).lattice
    taken = record(lattice, **readings_from(plain if isinstance(plain, Mapping) else {}))
    content = readings_json(taken).encode()
    name = f"swatch {lattice.braid.strands} strands.json"
    return {
        "lines": texts(questions(taken, lattice), papers_from(_form(asked)).unit),
        "file": workspace.keep_file(name, content),
        "swatch": workspace.bring_swatch(content, name),
    }


def changed(workspace: Workspace, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Change beads by their place.

    Parameters
    ----------
    workspace : Workspace
    asked : mapping
        ``key``, ``beads``, ``order``; ``change``: such as ``3:17=B``, several with blanks between;
        ``once``: only there, and not at every motif.

    Returns
    -------
    dict
        ``lines``; ``spots``: crossing and code of every bead that becomes another.
    """
    from ...core.design import change_beads, parse_change

    design = workspace.seen(asked.get("key"), asked.get("beads"), _form(asked)).design
    words = str(asked.get("change") or "")[:400].split()
    if not words:
        raise WrongUsage("name a bead and its new code, such as 3:17=B.", "change")
    other, done = change_beads(
        design, [parse_change(one) for one in words], bool(asked.get("once"))
    )
    places = (other.beads != design.beads).nonzero()[0]
    return {
        "lines": [
            f"Strand {one.strand}, bead {one.order}: {one.before} becomes {one.after}."
            for one in done[:MOST_LINES]
        ],
        "spots": [[int(n), other.palette[other.beads[n]].code] for n in places],
    }


MOST_LINES = 12
"""Changed beads that are named one by one."""


def _form(asked: Mapping[str, Any]) -> Mapping[str, Any]:
    form = asked.get("order")
    return form if isinstance(form, Mapping) else {}


def _setup(workspace: Workspace, asked: Mapping[str, Any]) -> Setup:
    """The braid, bead and lengths of an order, without its sketch."""
    from ..job import settle

    order, _, palette = workspace.asked({**asked, "picture": None})
    return settle(order, palette)


def _unmeasured(workspace: Workspace, asked: Mapping[str, Any]) -> Setup:
    """The same as computed: without the readings of a swatch, to make one or to measure it."""
    return _setup(workspace, {**asked, "order": {**_form(asked), "swatch": None}})
