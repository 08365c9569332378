"""How near `palette from-photo` comes to the colours of beads, on drawn photographs.

    python tests/benchmarks/photo.py            20 scenes, about a minute of one core
    python tests/benchmarks/photo.py --write    and the table beside this file
    python tests/benchmarks/photo.py --picture  only the README's picture

Every scene is drawn by `bead_photo.py`: 9 to 12 heaps of 20 to 300 beads on paper, in dishes, tubes
or loose; opaque glossy and matte, transparent and metallic beads; a lamp, sky light, uneven light,
noise. Reflectances are the published ColorChecker spectra ("BabelColor Average") and smooth ones
made here; lamps are CIE A, D50, D65 and the phosphor LEDs B1 to B5 of CIE 015:2018 (2733 to
6598 K); all from colour-science, which also has the sensor of a Nikon 5100 measured by NPL. The
sensors: one that sees as the CIE 1931 observer, and that camera with the matrix that fits the
ColorChecker under D65 best. In half the pictures the white balance is a little off (by a tenth of
the lamp's cast), in the others half of the cast is left.

The column "patch" is what a flat patch on a perfect white, without noise, would be off by: what
lamp, sensor and balance alone do. Truth is the reflectance seen under D65 by the 2° observer: of an
opaque bead that of its surface, of a transparent or metallic one, which has none, the mean over its
disc in even light, above a table half as bright as the sky.

Nothing here is a photograph: the drawn scenes have no lens flare, no tone curve of a camera, no
real glass.
"""

from __future__ import annotations

import sys
import warnings
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
warnings.filterwarnings("ignore")

import colour  # noqa: E402
from bead_photo import FINISHES, HOLDERS, DrawnHeap, Scene, render  # noqa: E402
from himotif.core.errors import HimotifError  # noqa: E402
from himotif.core.srgb import srgb_to_linear  # noqa: E402
from himotif.palette.colour import XYZ_FROM_LINEAR, linear_to_lab, srgb_to_lab  # noqa: E402
from himotif.palette.difference import ciede2000  # noqa: E402
from himotif.palette.files import read_palette  # noqa: E402
from himotif.palette.from_photo import palette_of_photo  # noqa: E402
from himotif.palette.photo import even_light, find_heaps, to_d65  # noqa: E402

SHAPE = colour.SpectralShape(400, 700, 10)
LAMPS = ("A", "D50", "D65", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")
SENSORS = ("observer", "camera")
ROOT = Path(__file__).parents[2]
TABLE = Path(__file__).with_name("photo_table.txt")
XYZ_TO_SRGB = colour.models.RGB_COLOURSPACE_sRGB.matrix_XYZ_to_RGB


def spectra(spectrum: Any) -> np.ndarray:
    """Return a spectrum, or several, at the wavelengths used here."""
    return spectrum.copy().align(SHAPE).values


OBSERVER = spectra(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
CAMERA = spectra(colour.MSDS_CAMERA_SENSITIVITIES["Nikon 5100 (NPL)"])
CHART = np.array([spectra(one) for one in colour.SDS_COLOURCHECKERS["BabelColor Average"].values()])
BRADFORD = colour.adaptation.CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"]
LIGHT = {name: spectra(colour.SDS_ILLUMINANTS[name]) for name in LAMPS}
CHART_XYZ = CHART * LIGHT["D65"] @ OBSERVER / (LIGHT["D65"] @ OBSERVER[:, 1])
CHART_SRGB = CHART_XYZ @ XYZ_TO_SRGB.T


def seen(reflectance: np.ndarray, lamp: str, sensor: str, left: Any = 0.0) -> np.ndarray:
    """Return linear sRGB of reflectances (k, n) as a camera gives them.

    It divides its raw values by those of the lamp, but for the power `left`, and then takes the
    matrix that is right under D65. The observer's raw values are the Bradford receptors.
    """
    to_raw = OBSERVER @ BRADFORD.T if sensor == "observer" else CAMERA
    white, daylight = LIGHT[lamp] @ to_raw, LIGHT["D65"] @ to_raw
    # the lamp's cast is what differs from daylight
    cast = white / white[1] / (daylight / daylight[1])
    raw = reflectance * LIGHT[lamp] @ to_raw / white * cast**left
    matrix = np.linalg.lstsq(CHART * LIGHT["D65"] @ to_raw / daylight, CHART_SRGB, rcond=None)[0]
    return raw @ matrix


def smooth_reflectance(random: np.random.Generator) -> np.ndarray:
    """A reflectance like those of pigments: a level with one smooth step or hump."""
    nm = SHAPE.wavelengths
    low, high = np.sort(random.uniform(0.03, 0.88, 2))
    centre, width = random.uniform(430, 660), random.uniform(15, 40)
    step = 1 / (1 + np.exp(-(nm - centre) / width))
    hump = np.exp(-(((nm - centre) / (2.5 * width)) ** 2))
    kind = random.integers(4)
    return low + (high - low) * (step, 1 - step, hump, 1 - hump)[kind]


def true_of(body: np.ndarray, finish: str) -> np.ndarray:
    """Return the reflectance of a bead, or the mean over its disc where that has none."""
    if finish == "metallic":
        return 0.75 * body
    if finish == "transparent":
        # at r of the radius, by equal areas; see `bead_photo.py` for the path
        r = np.sqrt((np.arange(50) + 0.5) / 50)
        path = 0.4 + 0.6 * 2 * np.sqrt(1 - r**2) / (4 / 3)
        return (np.maximum(body, 0.005) ** path[:, None]).mean(axis=0)
    return body


@dataclass(frozen=True)
class Measured:
    """One heap: what it is, whether it was found, and how far off its colour is."""

    finish: str
    holder: str
    lamp: str
    sensor: str
    colour: str
    found: bool
    de00: float
    patch: float


def scene(number: int) -> tuple[Scene, np.ndarray, list[str], str, str]:
    """Return a scene, the true Lab of its heaps, where those come from, the lamp and sensor."""
    random = np.random.default_rng(1000 + number)
    lamp, sensor = LAMPS[number % len(LAMPS)], SENSORS[number // 2 % 2]
    bead = float(random.uniform(8, 16))
    columns, rows = 4, 3
    width, height = 1000, 760
    body, source, heaps = [], [], []
    for place in range(columns * rows):
        if random.uniform() < 0.5:
            patch = int(random.integers(len(CHART)))
            body.append(CHART[patch])
            source.append("chart")
        else:
            body.append(smooth_reflectance(random))
            source.append("smooth")
        holder = HOLDERS[random.integers(3)]
        room = {"dish": 110, "tube": 100, "loose": 55}[holder] * (12 / bead) ** 2 * 1.3
        count = int(np.clip(random.uniform(20, room), 20, 300))
        x = (place % columns + 0.5) * width / columns + random.uniform(-8, 8)
        y = (place // columns + 0.5) * height / rows + random.uniform(-8, 8)
        finish = FINISHES[random.integers(4)]
        heaps.append(DrawnHeap(x, y, count, holder, finish, (0.0, 0.0, 0.0)))
    left = random.normal(0, 0.1, 3) if number % 2 else 0.5
    white = np.ones((1, len(SHAPE.wavelengths)))
    linear = np.maximum(seen(np.array(body), lamp, sensor, left), 0)
    light = seen(white, lamp, sensor, left)[0]
    top = light.max()
    paper = light / top * random.uniform(0.82, 0.9) * (1 + random.normal(0, 0.01, 3))
    heaps = [replace(h, body=tuple(c)) for h, c in zip(heaps, linear / top, strict=True)]
    tilt, turn = random.uniform(0.1, 0.9), random.uniform(0, 2 * np.pi)
    lamp_from = (np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt))
    drawn = Scene(
        width, height, bead, tuple(heaps), tuple(light / top), tuple(paper),
        float(random.uniform(0.2, 0.7)), lamp_from,
        (random.uniform(-0.2, 0.2), random.uniform(-0.2, 0.2), random.uniform(0, 0.15)),
        float(random.uniform(0.003, 0.012)), number,
    )  # fmt: skip
    truth = np.array([true_of(one, heap.finish) for one, heap in zip(body, heaps, strict=True)])
    xyz = truth * LIGHT["D65"] @ OBSERVER / (LIGHT["D65"] @ OBSERVER[:, 1])
    d65 = np.array([0.95047, 1.0, 1.08883])
    lab = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(d65))
    return drawn, lab, source, lamp, sensor


def measure(number: int) -> tuple[list[Measured], int]:
    """Return the heaps of one scene, and how many were found that are none."""
    from skimage.draw import polygon

    drawn, truth, source, lamp, sensor = scene(number)
    pixels, owner = render(drawn)
    try:
        found = find_heaps(even_light(srgb_to_linear(pixels)))
    except HimotifError as error:
        print(f"scene {number}: {error}", file=sys.stderr)
        found = ()
    beads = np.bincount(owner[owner >= 0], minlength=len(drawn.heaps))
    best: dict[int, Any] = {}
    false = 0
    for heap in found:
        inside = polygon(heap.outline[:, 1], heap.outline[:, 0], owner.shape)
        own = owner[inside]
        shares = np.bincount(own[own >= 0], minlength=len(beads))
        false += shares.sum() < 0.2 * len(own)
        most = int(shares.argmax())
        if shares[most] > 0.5 * beads[most] and shares[most] > 0.8 * shares.sum():
            best[most] = heap
    rows = []
    for place, heap in enumerate(drawn.heaps):
        at = best.get(place)
        de00 = np.nan
        if at is not None:
            lab = srgb_to_lab(np.array(at.rgb, np.uint8))
            de00 = float(ciede2000(lab, truth[place]))
        kind = (heap.finish, heap.holder, lamp, sensor, source[place])
        rows.append(Measured(*kind, at is not None, de00, patch_off(drawn, heap, truth[place])))
    return rows, false


def patch_off(drawn: Scene, heap: DrawnHeap, truth: np.ndarray) -> float:
    """Return CIEDE2000 of a flat patch of a heap's colour, evened by the lamp's own colour."""
    if heap.finish in ("transparent", "metallic"):
        return np.nan
    light = np.array(drawn.light)
    bright = light @ XYZ_FROM_LINEAR[1]
    evened = to_d65(np.array(heap.body, np.float32), light) / bright
    return float(ciede2000(linear_to_lab(np.clip(evened, 0, 1).astype(np.float64)), truth))


def table(rows: list[Measured], false: int) -> str:
    """Return the results by everything that varies."""
    lines = [f"{'':24}{'heaps':>6}{'found':>8}{'median':>8}{'95 %':>8}{'below 6':>9}{'patch':>8}"]

    def line(label: str, some: list[Measured]) -> None:
        off = np.array([row.de00 for row in some if row.found])
        share = f"{100 * len(off) / len(some):.0f} %"
        values = f"{np.median(off):8.1f}{np.quantile(off, 0.95):8.1f}"
        below = f"{100 * (off < 6).mean():.0f} %"
        flat = [row.patch for row in some if not np.isnan(row.patch)]
        patch = f"{np.median(flat):8.1f}" if flat else ""
        lines.append(f"{label:24}{len(some):6}{share:>8}{values}{below:>9}{patch}")

    line("all", rows)
    line("opaque", [row for row in rows if row.finish in ("glossy", "matte")])
    for name in ("finish", "holder", "lamp", "sensor", "colour"):
        for value in dict.fromkeys(sorted(getattr(row, name) for row in rows)):
            line(f"{name} {value}", [row for row in rows if getattr(row, name) == value])
    return "\n".join([*lines, f"heaps found that are none: {false}"]) + "\n"


def readme_picture() -> None:
    """Draw a tray of the bundled salt-marsh beads, and what is found in it."""
    beads = read_palette(ROOT / "fixtures" / "palettes" / "saltmarsh.csv").beads[1:15]
    bodies = srgb_to_linear(np.array([bead.rgb for bead in beads], np.uint8)).tolist()
    light = np.array([1.0, 0.86, 0.66])
    heaps = tuple(
        DrawnHeap(
            85.0 + 140 * (k % 7),
            95.0 + 150 * (k // 7),
            (70, 60, 45)[k % 3],
            HOLDERS[k % 3],
            FINISHES[k % 2],
            tuple(body * light),
        )
        for k, body in enumerate(bodies)
    )
    tray = Scene(
        1000, 330, 11, heaps, tuple(light), tuple(0.86 * light), 0.4, gradient=(0.15, -0.1, 0.05)
    )
    found = palette_of_photo(srgb_to_linear(render(tray)[0]), "tray")
    (ROOT / "fixtures" / "pictures" / "tray_found.png").write_bytes(found.check_png())


def main() -> None:
    if "--picture" in sys.argv:
        readme_picture()
        return
    count = 20
    rows, false = [], 0
    for number in range(count):
        found, wrong = measure(number)
        rows += found
        false += wrong
    text = table(rows, false)
    print(text)
    if "--write" in sys.argv:
        head = "CIEDE2000 of bead colours found in drawn photographs; see photo.py.\n\n"
        TABLE.write_text(head + text, encoding="utf-8")


if __name__ == "__main__":
    main()
