"""How much hangs on the tuning numbers: each is made smaller and larger, one at a time.

    python tests/benchmarks/tuning.py              # the table
    python tests/benchmarks/tuning.py --write      # and tests/benchmarks/tuning_table.txt

Read are bundled sketches as they were drawn, saved lossily, dithered to 32 colours, photographed
(uneven light, a soft lens, grain), and drawings with 6 % of grain; and pictures of shades in the
same ways. A reading counts as changed if flat becomes shaded or the other way, if the number of
flat colours changes, or if more than one pixel in 200 gets another colour; those that a quarter
more or less changes are named. Not every picture may be
read rightly: what is measured is whether the number decides it.
"""

from __future__ import annotations

import argparse
import importlib
import io
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from himotif.convert.read import Picture, read_picture
from himotif.convert.read.flat_colours import Reading, read_picture_colours
from PIL import Image, ImageFilter

ROOT = Path(__file__).resolve().parents[2]
TABLE = Path(__file__).with_name("tuning_table.txt")
FLAT = ("heron", "crab", "letter_k", "sea_aster", "leaf", "paw")
SHADED = ("dusk", "moonlit_pond")
CHANGED_SHARE = 0.005
TIMES = (0.25, 0.75, 1.25, 4.0)

NUMBERS = {
    "flat_colours": (
        "MOST_COLOURS", "LEAST_SHARE", "CORE", "SHELL", "BROAD", "TIGHT", "NOISE", "OWN", "SLANT",
        "LOSSY_RADIUS", "MOST_LEFT", "LEAST_OTHERS", "EVEN", "PURE_PX",
    ),
    "lighting": (
        "LABEL_PX", "UNIFORM_STEP", "MOST_TEXTURE", "DENOISED_WIDTH", "TILE_PX",
        "_TEXTURE_PX",
    ),
}  # fmt: skip


def lossy(image: Image.Image) -> Image.Image:
    """Saved as JPEG of quality 50."""
    file = io.BytesIO()
    image.save(file, "JPEG", quality=50)
    return Image.open(file)


def dithered(image: Image.Image) -> Image.Image:
    """In 32 colours, dithered."""
    few = image.quantize(32)
    return image.quantize(palette=few, dither=Image.Dither.FLOYDSTEINBERG).convert("RGB")


def photographed(image: Image.Image) -> Image.Image:
    """On paper lit from the left, a little out of focus, with grain."""
    soft = np.asarray(image.filter(ImageFilter.GaussianBlur(1.2)), dtype=float)
    light = np.linspace(1.0, 0.75, image.width)[None, :, None]
    grain = np.random.default_rng(1).normal(0, 4, soft.shape)
    return Image.fromarray(np.clip(soft * light + grain, 0, 255).astype(np.uint8))


WAYS: dict[str, Callable[[Image.Image], Image.Image]] = {
    "drawn": lambda image: image,
    "lossy": lossy,
    "dithered": dithered,
    "photographed": photographed,
}


def pictures() -> Iterator[tuple[str, Picture]]:
    """Yield every picture by its name."""
    for name in (*FLAT, *SHADED):
        image = Image.open(ROOT / "fixtures/motifs" / f"{name}.png").convert("RGB")
        for way, changed in WAYS.items():
            file = io.BytesIO()
            changed(image).save(file, "PNG")
            yield f"{name}, {way}", read_picture(file.getvalue(), f"{name}.png")


def differs(one: Reading, other: Reading) -> bool:
    """Whether two readings of a picture differ."""
    kinds = {one.found.kind, other.found.kind}
    if kinds == {"shaded"}:
        return False
    if len(kinds) > 1 or len(one.found.linear) != len(other.found.linear):
        return True
    if one.label.shape != other.label.shape:
        return False  # of another resolution, with the same colours
    return float(np.mean(one.label != other.label)) > CHANGED_SHARE


def scaled(value: float, times: float) -> Any:
    """A number made larger; whole numbers stay whole and change by one at least."""
    if isinstance(value, int):
        return max(1, round(value * times) if round(value * times) != value else value + 1)
    return value * times


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--write", action="store_true")
    options.add_argument("--only", default="", help="numbers whose names hold this")
    asked = options.parse_args()
    modules = {name: importlib.import_module(f"himotif.convert.read.{name}") for name in NUMBERS}
    shown = dict(pictures())
    usual = {name: read_picture_colours(one) for name, one in shown.items()}
    lines = [
        f"{len(shown)} pictures; how many are read otherwise with so many times the number",
        f"{'':<13} {'':<15} {'':>8}  " + " ".join(f"{times:>4g}" for times in TIMES),
    ]
    for room, names in NUMBERS.items():
        for name in names:
            if asked.only in name:
                lines.append(_row(modules, room, name, shown, usual))
                print(lines[-1], flush=True)
    if asked.write:
        TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _row(
    modules: dict[str, ModuleType],
    room: str,
    name: str,
    shown: dict[str, Picture],
    usual: dict[str, Reading],
) -> str:
    """What a number decides."""
    value = getattr(modules[room], name)
    holders = [module for module in modules.values() if hasattr(module, name)]
    found = []
    for times in TIMES:
        for module in holders:
            setattr(module, name, scaled(value, times))
        changed = [one for one in shown if differs(usual[one], read_picture_colours(shown[one]))]
        found.append(changed)
    for module in holders:
        setattr(module, name, value)
    about = "; ".join(sorted({*found[1], *found[2]}))
    counts = " ".join(f"{len(changed):>4}" for changed in found)
    return f"{room:<13} {name:<15} {value:>8g}  {counts}  {about}".rstrip()


if __name__ == "__main__":
    main()
