"""The files of a folder, as bytes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ...core._data import json_text
from ...core.drawing.png import page_png, png_bytes
from ..options import Papers

if TYPE_CHECKING:
    from ...core.bead import BeadSize
    from ...core.braid import Lattice
    from ...core.design import Design
    from ...core.findings import Finding
    from ...core.making.swatch_braid import SwatchBraid
    from ..read import Picture, Sketch
    from ..report import Distortion

SHEET_PAGE = re.compile(r"sheet-\d+\.svg")


def folder_files(design: Design, papers: Papers = Papers()) -> dict[str, bytes]:
    """Return the files that a design's folder holds, by name, distortion left out.

    The same design gives the same bytes. Finished length and findings come from its origin.
    """
    from ...core.design import design_json, mirrored_finding, still_true, stringing_csv
    from ...core.paper.read_aloud import stringing_text
    from ...core.paper.sheet_content import SheetContent

    findings = design.origin.findings
    if design.origin.mirrored:
        findings = (mirrored_finding(design), *still_true(findings))
    design = replace(design, papers=papers.choice(design.papers))
    content = SheetContent(design, findings=findings)
    files = {
        "design.json": design_json(design).encode(),
        "stringing.csv": stringing_csv(design).encode(),
        "stringing.txt": stringing_text(content).encode(),
    }
    if papers.lists_only:
        return files
    from ...core.drawing.pdf import to_pdf
    from ...core.drawing.svg import to_svg
    from ...core.paper.chart import chart_page
    from ...core.paper.html import sheet_html
    from ...core.paper.preview_sheet import four_sides
    from ...core.paper.ring_sheet import ring_picture
    from ...core.paper.setup import setup_pages, sheet_title
    from ...core.show.ring import ring_of

    pages = setup_pages(content)
    title = sheet_title(content)
    files["sheet.pdf"] = to_pdf(pages, title)
    files["sheet.html"] = sheet_html(content).encode()
    if design.papers.svg:
        for number, page in enumerate(pages, start=1):
            files[f"sheet-{number:02d}.svg"] = to_svg(page, f"{title}, page {number}").encode()
    chart = chart_page(design, content.heading)
    files["chart.svg"] = to_svg(chart, content.heading).encode()
    files["preview.png"] = png_bytes(four_sides(design))
    ring = ring_of(design)
    if ring is not None:
        files["ring.png"] = png_bytes(ring_picture(design, ring))
    return files


def swatch_files(
    lattice: Lattice, bead: BeadSize, papers: Papers = Papers()
) -> tuple[SwatchBraid, dict[str, bytes]]:
    """Return a test braid in two beads, a light and a dark one, and the files of its folder."""
    from ...core.bead import Bead
    from ...core.making.swatch_braid import swatch_braid

    made = swatch_braid(
        lattice,
        bead,
        (
            Bead("L", "light", (243, 238, 225), finish="any light colour"),
            Bead("D", "dark", (28, 41, 71), finish="any dark colour"),
        ),
    )
    # how to work it and what to measure goes on its papers
    origin = replace(made.design.origin, findings=tuple(made.findings))
    return made, folder_files(replace(made.design, origin=origin), papers)


def blank_file(lattice: Lattice, suffix: str) -> bytes:
    """Return a blank of a braid's cells to draw on.

    Parameters
    ----------
    lattice : Lattice
    suffix : '.png' or '.svg'

    Raises
    ------
    WrongUsage
        If it is to be another kind of file.
    """
    from ...core.drawing.svg import to_svg
    from ...core.errors import WrongUsage
    from ...core.show.blank import BLANK_PX_PER_PITCH, blank_page

    page = blank_page(lattice)
    if suffix.lower() == ".svg":
        return to_svg(page, f"{lattice.braid.strands} strands, {lattice.braid.lay} lay").encode()
    if suffix.lower() == ".png":
        return page_png(page, BLANK_PX_PER_PITCH / lattice.pitch_mm)
    raise WrongUsage("A blank is a .png or an .svg file.")


def distortion_files(distortion: Distortion) -> dict[str, bytes]:
    """Return the files that say what the braid does to the sketch, by name."""
    from ...core.drawing.svg import to_svg

    page = distortion.page
    return {
        "distortion.json": json_text(distortion.as_dict()).encode(),
        "distortion.svg": to_svg(page).encode(),
        "distortion.png": page_png(page),
    }


def sketch_png(picture: Picture, sketch: Sketch) -> bytes:
    """Return the sketch as it was understood, pixel by pixel, white where nothing is drawn.

    Parameters
    ----------
    picture : Picture
    sketch : Sketch
        What was read from it.
    """
    from ...core.srgb import linear_to_srgb
    from ..read import redrawn

    seen = picture if sketch.label is None else redrawn(picture, sketch)
    light = seen.linear * seen.alpha[..., None] + 1 - seen.alpha[..., None]
    return png_bytes(linear_to_srgb(light))


def remake_folder(
    folder: Path,
    design: Design,
    papers: Papers,
    sketch: Path | None = None,
    spent: Mapping[str, str | None] | None = None,
) -> tuple[list[str], list[Finding]]:
    """Make the lists and papers of a folder again, in place, from its edited design.

    What the braid does to the sketch was measured on the beads as they were. After a change of the
    beads it is measured anew if the sketch is at hand; otherwise those files go, and so do the ways
    to work it, the first of which no longer is what the lists give. What she put there
    or changed herself, other than what the design was made from, is kept.

    Parameters
    ----------
    folder : Path
    design : Design
    papers : Papers
    sketch : Path, optional
        The picture of the design; looked for in the folder, beside it and where she stands
        if not given.
    spent : mapping of str to str, optional
        Hashes by name of the files that the design was made from, as they were read;
        ``design.json`` as it is now, if not given.

    Returns
    -------
    (list of str, list of Finding)
        Names of the files made; what is to be said about it.
    """
    if folder.is_file():
        folder = folder.parent
    from ..report import distortion_again, find_sketch
    from . import digest, listed, sha256, update_folder

    if spent is None:
        spent = {"design.json": digest(folder / "design.json")}
    asked = sketch is not None
    sketch = sketch or find_sketch(folder, design)
    other_unit = papers.choice(design.papers).unit != design.papers.unit
    design = replace(design, papers=papers.choice(design.papers))
    files = folder_files(design, papers)
    made = listed(folder)
    # pages that the sheet may no longer have
    gone = [name for name in made if SHEET_PAGE.fullmatch(name) and name not in files]
    found: list[Finding] = []
    changed = made.get("stringing.csv") != sha256(files["stringing.csv"])
    gone += [name for name in made if name == "choices.png" and changed]
    stale = sorted(name for name in made if name.startswith("distortion.")) if changed else []
    if sketch is not None and (stale or asked or other_unit):
        again = distortion_again(design, sketch)
        files |= distortion_files(again)
        found += again.findings
    elif stale:
        found.append(_report_gone(folder, design, stale))
        gone += stale
    found += _of_beads(design) if changed else []
    found += update_folder(folder, files, gone, {n: h for n, h in spent.items() if h is not None})
    return sorted(files), found


def _of_beads(design: Design) -> list[Finding]:
    """What is wrong with beads that are not as they were: too few at hand, drops on the skin."""
    from ...core.design import drop_directions, drop_findings
    from ...core.findings import Weight
    from ...core.making.materials import materials

    found = [*materials(design).findings, *drop_findings(design, drop_directions(design))]
    return [one for one in found if one.weight > Weight.NOTE]


def _report_gone(folder: Path, design: Design, names: list[str]) -> Finding:
    """Of a report that no longer holds, and of the picture that a new one can be made from."""
    from ...core.findings import Code, Finding
    from ..report import comparable

    placed = design.picture if comparable(design) else None
    picture = None if placed is None else placed.file
    return Finding(Code.REPORT_GONE, {"files": names, "folder": str(folder), "picture": picture})
