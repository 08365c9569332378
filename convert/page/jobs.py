"""What a worker does for the page: the same functions that the command calls."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ...core.arrays import Ints

if TYPE_CHECKING:
    from ...core.design import Design
    from ...core.findings import Finding
    from ...palette import Palette
    from ..job import Made
    from ..options import Order
    from ..read import Picture, Sketch


def get_ready_to_decode() -> None:
    """Import what reading a picture needs."""
    import PIL.Image

    from .. import read  # noqa: F401

    PIL.Image.init()


def get_ready() -> None:
    """Import what the work on a picture needs."""
    import scipy.fft
    import scipy.ndimage  # noqa: F401
    import skimage.color  # noqa: F401

    from .. import job  # noqa: F401
    from ..fit import fitting  # noqa: F401
    from ..judge import judgement  # noqa: F401
    from ..write import outputs  # noqa: F401


def decode(data: bytes, name: str) -> Picture:
    """Read a picture."""
    from ..read import read_drawing

    return read_drawing(data, name)


def work(order: Order, picture: Picture, palette: Palette, sketch: Sketch | None) -> Made:
    """Carry out an order; the sketch is read from the picture if it was not before."""
    from ..job import make

    # the asking process has the picture; it need not be sent back
    return replace(make(order, picture, palette, sketch), picture=None)  # type: ignore[arg-type]


def recoloured(made: Made, beads: Ints) -> Made:
    """Return what was made with other beads."""
    from ...core.making.materials import materials

    design = replace(made.design, beads=beads)
    needed = materials(design, finished_mm=made.lengths.finished_mm)
    return replace(made, design=design, materials=needed)


def papers(made: Made) -> dict[str, bytes]:
    """Return the files of the folder, the same as the command writes."""
    from ..options import Papers

    return made.files(Papers())


def design_papers(design: Design) -> dict[str, bytes]:
    """Return the files of a design that came without its picture."""
    from ..options import Papers
    from ..write.outputs import folder_files

    return folder_files(design, Papers())


def sheet(design: Design, finished_mm: float | None, findings: tuple[Finding, ...]) -> bytes:
    """Return the set-up sheet as PDF."""
    from ...core.paper.setup import setup_pdf
    from ...core.paper.sheet_content import SheetContent

    return setup_pdf(SheetContent(design, finished_mm=finished_mm, findings=findings))


def report(made: Made) -> tuple[list[Finding], bytes]:
    """Return what the braid does to the sketch, and the picture as SVG."""
    from ...core.drawing.svg import to_svg

    found = made.distortion
    return found.findings, to_svg(found.page).encode()
