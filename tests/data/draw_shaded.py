"""Draw conversions of pictures with shades, to be labelled by looking.

    python tests/data/draw_shaded.py convert FOLDER    # writes shaded.csv, without labels
    python tests/data/draw_shaded.py sheets FOLDER     # contact sheets: beads, and then pictures

The pictures are the two shaded ones of the sketch book, photographs that come with scikit-image
(whole or a part of them), and motifs of the sketch book in soft side light, as a painter would
shade them. Each is worked by the program as it stands, in the colours of the salt marsh, on 8, 16
and 24 strands, at the size that it finds and a third of the way round.

``shaded.csv`` holds of every conversion S and J over the motif, the beads that are not ground, what
`himotif.convert.judge.shades` sees, and the label. How they were labelled: one reader saw the
sheets of beads first, in random order, a bead 10 pixels wide, the braid unrolled, and wrote down
what each was taken for; then saw the same sheets with the pictures, and labelled:

    reads   named at once before the picture was seen
    hint    named by a guess, as something much like it, or with the picture beside it one sees how
            the beads mean it
    no      anything else

The reader had chosen the pictures, so names come easier than to somebody who had not. The labels
belong to the conversions stored: with another program ``convert`` draws others, which want new
labels.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import skimage.data
from himotif.convert.job import convert as work
from himotif.convert.judge.conversion import Conversion
from himotif.convert.judge.shades import seen_in
from himotif.convert.options import Order
from himotif.convert.read.picture import read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.palette.files import read_palette
from PIL import Image, ImageDraw, ImageFilter

HERE = Path(__file__).parent
FIXTURES = HERE.parents[1] / "fixtures"
CONVERSIONS = HERE / "shaded.csv"
MEASURES = ("S", "J", "beads", "alike", "contrast")
COLUMNS = ("id", "picture", "strands", "width_mm", *MEASURES, "seen_as", "label")
PHOTOGRAPHS: dict[str, tuple[str, tuple[int, int, int, int] | None]] = {
    "coffee": ("coffee", None),
    "cup": ("coffee", (150, 30, 480, 370)),
    "cat": ("chelsea", None),
    "cat_face": ("chelsea", (110, 10, 340, 260)),
    "rocket": ("rocket", (250, 0, 400, 400)),
    "coins": ("coins", None),
    "coin": ("coins", (300, 30, 370, 100)),
    "portrait": ("astronaut", (80, 0, 400, 420)),
    "photographer": ("camera", (90, 50, 420, 480)),
    "eye_ground": ("retina", None),
}
LIT = ("heart", "crescent", "leaf", "minnow", "paw", "sea_aster", "curlew", "letter_k")
"""Sketches lit from the side. The curlew was labelled in an earlier drawing: wide, a thin bill."""
STRANDS = (8, 16, 24)
PX = 10


def lit(name: str) -> Image.Image:
    """Return a motif of the sketch book in soft side light."""
    flat = Image.open(FIXTURES / "motifs" / f"{name}.png").convert("RGB")
    soft = np.array(flat.filter(ImageFilter.GaussianBlur(max(flat.size) / 80)), dtype=float)
    down, across = np.mgrid[0 : flat.height, 0 : flat.width]
    light = 0.65 + 0.55 * (1 - across / flat.width) * (1 - 0.5 * down / flat.height)
    drawn = np.linalg.norm(soft - soft[0, 0], axis=-1, keepdims=True) > 12
    return Image.fromarray(
        np.where(drawn, soft * light[..., None], soft).clip(0, 255).astype(np.uint8)
    )


def photograph(name: str) -> Image.Image:
    """Return a photograph of scikit-image or a part of it."""
    source, box = PHOTOGRAPHS[name]
    one = Image.fromarray(getattr(skimage.data, source)()).convert("RGB")
    return one.crop(box) if box else one


def pictures() -> dict[str, Callable[[], Image.Image]]:
    """Return how to get each picture, by name."""
    book = {
        name: lambda name=name: Image.open(FIXTURES / "motifs" / f"{name}.png").convert("RGB")
        for name in ("dusk", "moonlit_pond")
    }
    shot = {name: lambda name=name: photograph(name) for name in PHOTOGRAPHS}
    return book | shot | {f"lit_{name}": lambda name=name: lit(name) for name in LIT}


@cache
def picture(name: str) -> Image.Image:
    """Return a picture by name, 600 px at most."""
    one = pictures()[name]()
    one.thumbnail((600, 600))
    return one


def worked(name: str, strands: int, part: float | None) -> Conversion:
    """Return the program's own conversion: at the size it finds, or at part of the way round."""
    file = io.BytesIO()
    picture(name).save(file, "PNG")
    lattice = Lattice.computed(Braid(strands), bead_size("8/0"))
    order = Order(
        kind="shaded",
        repeat="once",
        width_mm=None if part is None else round(part * lattice.circumference_mm, 1),
    )
    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    read = read_picture(file.getvalue(), name)
    return work(order, read, palette, lattice, bead_size("8/0"), 160)


def beads_drawn(made: Conversion) -> Image.Image:
    """Draw the beads of the motif's tile, unrolled, the middle of the motif in the middle."""
    raster, choice = made.drawn.raster, made.motif.choice
    rgb = choice.palette.rgb[made.fitted.colours[raster.owner]]
    drawn = Image.fromarray(rgb.astype(np.uint8))
    down, across = raster.px_per_bead
    drawn = drawn.resize((round(drawn.width * PX / across), round(drawn.height * PX / down)))
    there = np.flatnonzero((made.drawn.cover > 0.5).any(axis=1)) * drawn.height / raster.shape[0]
    return drawn.crop((0, max(0, int(there.min()) - PX), drawn.width, int(there.max()) + PX))


def conversions() -> Iterator[tuple[str, int, float | None]]:
    """Return what is converted, in an order that does not give it away."""
    all_of = [(n, s, p) for n in pictures() for s in STRANDS for p in (None, 0.33)]
    for at in np.random.default_rng(7).permutation(len(all_of)).tolist():
        yield all_of[at]


def convert(folder: Path) -> None:
    """Convert all, write the measures, and contact sheets into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    rows: list[dict[str, Any]] = []
    for number, (name, strands, part) in enumerate(conversions(), 1):
        made = worked(name, strands, part)
        motif, choice = made.judgement.likeness.motif, made.motif.choice
        linear = choice.palette.linear
        beads = linear[made.fitted.colours][made.drawn.raster.owner]
        seen = seen_in(made.drawn, beads, linear[choice.ground])
        rows.append(
            {
                "id": number,
                "picture": name,
                "strands": strands,
                "width_mm": round(made.placement.width_mm, 1),
                "S": round(motif.structure, 4),
                "J": round(motif.score, 3),
                "beads": int((made.fitted.colours != choice.ground).sum()),
                "alike": round(seen.alike, 4),
                "contrast": round(seen.contrast, 2),
            }
        )
        beads_drawn(made).save(folder / f"{number:03}.png")
    with CONVERSIONS.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        out.writeheader()
        out.writerows(rows)


def sheets(folder: Path, wide: int = 130, high: int = 230, each: int = 20) -> None:
    """Write contact sheets of what lies in `folder`: beads alone, and with their pictures."""
    with CONVERSIONS.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    for start in range(0, len(rows), each):
        for kind in ("beads", "pictures"):
            sheet = Image.new("RGB", (each // 2 * wide, 2 * high), (120, 120, 120))
            draw = ImageDraw.Draw(sheet)
            for k, row in enumerate(rows[start : start + each]):
                left, top = k % (each // 2) * wide, k // (each // 2) * high
                one = Image.open(folder / f"{int(row['id']):03}.png")
                one.thumbnail((wide - 6, high - 16))
                if kind == "pictures":
                    small = picture(row["picture"]).copy()
                    small.thumbnail((wide - 6, 60))
                    one.thumbnail((wide - 6, high - 80))
                    sheet.paste(small, (left, top + high - 62))
                sheet.paste(one, (left, top + 14))
                draw.text((left + 2, top + 1), row["id"], fill=(255, 255, 0))
            sheet.save(folder / f"{kind}_{start // each + 1}.png")


if __name__ == "__main__":
    if sys.argv[1:2] == ["convert"] and len(sys.argv) == 3:
        convert(Path(sys.argv[2]))
    elif sys.argv[1:2] == ["sheets"] and len(sys.argv) == 3:
        sheets(Path(sys.argv[2]))
    else:
        sys.exit(__doc__)
