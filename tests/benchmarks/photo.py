"""How near `palette from-photo` comes to the colours of beads, on drawn photographs.

    python tests/benchmarks/photo.py            20 scenes, about two minutes of one core
    python tests/benchmarks/photo.py --write    and the table beside this file
    python tests/benchmarks/photo.py --tuned    the scenes that the reader was made with
    python tests/benchmarks/photo.py --picture  only the README's picture

Every scene is drawn by `bead_photo.py`: 9 to 12 heaps of 20 to 300 beads on paper, in dishes, tubes
or loose; opaque glossy and matte, transparent and metallic beads; a lamp, sky light, uneven light,
noise. Reflectances are the published ColorChecker spectra ("BabelColor Average") and smooth ones
made here; lamps are CIE A, D50, D65 and the phosphor LEDs B1 to B5 of CIE 015:2018 (2733 to
6598 K); all from colour-science, which also has the sensor of a Nikon 5100 measured by NPL. The
sensors: one that sees as the CIE 1931 observer, and that camera with the matrix that fits the
ColorChecker under D65 best. In half the pictures the white balance is a little off (by a tenth of
the lamp's cast), in the others half of the cast is left.

What is wrong stems from one step after the other. "shape" is what is left if the pixels of the
beads are known, "light" if the light on them is, too, "bright" if their lightness is, and "patch"
what a flat patch on a perfect white, without noise, would be off by: what lamp, sensor and balance
alone do. The second table is what no reader of pictures can do better.

Truth is the reflectance seen under D65 by the 2° observer: of an opaque bead that of its surface.
Metallic and clear beads have none. Of a metallic one it is the mean over its disc above a table
half as bright as the sky: a mirroring ball shows all directions by equal areas. A clear bead over
others is darker than alone, and a picture does not tell two beads of one glass from one of a
darker, so it is the mean in even light over what is seen of the heap as it lies; "as one bead on
paper" compares with the mean over the disc of a bead by itself, which only loose ones can show.

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
from bead_photo import FINISHES, HOLDERS, DrawnHeap, Scene, gradient, render  # noqa: E402
from himotif.core.errors import HimotifError  # noqa: E402
from himotif.core.srgb import srgb_to_linear  # noqa: E402
from himotif.palette.colour import XYZ_FROM_LINEAR, linear_to_lab  # noqa: E402
from himotif.palette.difference import ciede2000  # noqa: E402
from himotif.palette.files import read_palette  # noqa: E402
from himotif.palette.from_photo import palette_of_photo  # noqa: E402
from himotif.palette.photo import (  # noqa: E402
    EvenedPhoto,
    body_colour,
    even_light,
    find_heaps,
    to_d65,
)
from scipy import ndimage  # noqa: E402

SHAPE = colour.SpectralShape(400, 700, 10)
LAMPS = ("A", "D50", "D65", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")
SENSORS = ("observer", "camera")
TUNED, HELD_OUT = range(20), range(200, 220)
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


def lab_of(reflectances: np.ndarray) -> np.ndarray:
    """Return CIE Lab of reflectances (k, n) under D65."""
    xyz = reflectances * LIGHT["D65"] @ OBSERVER / (LIGHT["D65"] @ OBSERVER[:, 1])
    white = colour.XYZ_to_xy(np.array([0.95047, 1.0, 1.08883]))
    return np.asarray(colour.XYZ_to_Lab(xyz, white))


def true_of(body: np.ndarray, finish: str, path: np.ndarray) -> np.ndarray:
    """Return the reflectance of a bead, or the mean over what is seen of it where that has none.

    `path` is what light passes of clear beads at the pixels that show it.
    """
    if finish == "metallic":
        return 0.75 * body
    if finish == "transparent":
        ways = np.quantile(path, (np.arange(50) + 0.5) / 50)
        return (np.maximum(body, 0.005) ** ways[:, None]).mean(axis=0)
    return body


def alone() -> np.ndarray:
    """Return the paths over the disc of one bead, by equal areas."""
    r = np.sqrt((np.arange(50) + 0.5) / 50)
    return np.asarray(0.4 + 0.6 * 2 * np.sqrt(1 - r**2) / (4 / 3))


@dataclass(frozen=True)
class Measured:
    """One heap: what it is, and how far off its colour is, by `oracles`; `found` if it was."""

    finish: str
    holder: str
    lamp: str
    sensor: str
    colour: str
    de00: dict[str, float]


def scene(number: int) -> tuple[Scene, list[np.ndarray], list[str], str, str]:
    """Return a scene, its reflectances, where those come from, the lamp and sensor."""
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
    return drawn, body, source, lamp, sensor


def measure(number: int) -> tuple[list[Measured], int]:
    """Return the heaps of one scene, and how many were found that are none."""
    from skimage.draw import polygon

    drawn, bodies, source, lamp, sensor = scene(number)
    pixels, owner, path = render(drawn)
    linear = srgb_to_linear(pixels)
    try:
        photo = even_light(linear)
        found = find_heaps(photo)
    except HimotifError as error:
        print(f"scene {number}: {error}", file=sys.stderr)
        return [], 0
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
            best[most] = srgb_to_linear(np.array(heap.rgb, np.uint8))
    rows = []
    for place, heap in enumerate(drawn.heaps):
        shown = owner == place
        through = path[shown & ~np.isnan(path)]
        truth = lab_of(true_of(bodies[place], heap.finish, through))
        de00 = {"found": off(best[place], truth)} if place in best else {}
        if place in best and heap.finish == "transparent":
            de00["alone"] = off(best[place], lab_of(true_of(bodies[place], heap.finish, alone())))
        de00 |= oracles(drawn, heap, truth, (photo, linear, shown))
        kind = (heap.finish, heap.holder, lamp, sensor, source[place])
        rows.append(Measured(*kind, de00))
    return rows, false


def off(linear: np.ndarray, truth: np.ndarray) -> float:
    """Return CIEDE2000 of linear light to a Lab colour."""
    return float(ciede2000(linear_to_lab(np.clip(linear, 0, 1).astype(np.float64)), truth))


def oracles(
    drawn: Scene, heap: DrawnHeap, truth: np.ndarray, seen: tuple[EvenedPhoto, Any, np.ndarray]
) -> dict[str, float]:
    """Return what is left if steps of the reader are replaced by the truth, one after the other.

    `shape`: the pixels of the beads are known; `light`: the light on them, too; `bright`: and how
    bright they are; `patch`: and their colour as the camera gives it on a flat patch.
    """
    photo, linear, shown = seen
    inner = shown & (ndimage.distance_transform_edt(shown) > 2) & ~photo.clipped
    if inner.sum() < 50:
        inner = shown & ~photo.clipped
    known = body_colour(photo.linear[inner], photo.linear[shown])
    lamp = np.array(drawn.light)
    bright = float(lamp @ XYZ_FROM_LINEAR[1])
    even = to_d65((linear / gradient(drawn)).astype(np.float32), lamp) / np.float32(bright)
    lit = body_colour(even[inner], even[shown])
    result = {
        "shape": off(known, truth),
        "light": off(lit, truth),
        "bright": min(off(lit * times, truth) for times in np.linspace(0.4, 2.5, 64)),
    }
    if heap.finish not in ("transparent", "metallic"):
        result["patch"] = off(to_d65(np.array(heap.body, np.float32), lamp) / bright, truth)
    return result


COLUMNS = ("found", "shape", "light", "bright", "patch")


def table(rows: list[Measured], false: int) -> str:
    """Return the results by everything that varies."""
    heads = "".join(f"{name:>13}" for name in COLUMNS)
    lines = [f"{'':24}{'heaps':>6}{'found':>7}{'below 6':>9}{heads}"]

    def line(label: str, some: list[Measured], first: str = "found") -> None:
        off = {
            name: np.array([row.de00[name] for row in some if name in row.de00])
            for name in (first, *COLUMNS[1:])
        }
        share = f"{100 * len(off[first]) / len(some):.0f} %"
        below = f"{100 * (off[first] < 6).mean():.0f} %"
        cells = "".join(
            f"{np.median(one):7.1f}{np.quantile(one, 0.95):6.1f}" if len(one) else 13 * " "
            for one in (off.values() if first == "found" else [off[first]])
        )
        lines.append(f"{label:24}{len(some):6}{share:>7}{below:>9}{cells}".rstrip())

    line("all", rows)
    line("opaque", [row for row in rows if row.finish in ("glossy", "matte")])
    for name in ("finish", "holder", "lamp", "sensor", "colour"):
        for value in dict.fromkeys(sorted(getattr(row, name) for row in rows)):
            line(f"{name} {value}", [row for row in rows if getattr(row, name) == value])
    clear = [row for row in rows if row.finish == "transparent"]
    for holder in HOLDERS:
        some = [row for row in clear if row.holder == holder]
        line(f"transparent {holder}", some)
        line("  as one bead on paper", some, "alone")
    return "\n".join([*lines, f"heaps found that are none: {false}"]) + "\n"


def limits() -> str:
    """Return what a camera cannot know: CIEDE2000 of the ColorChecker by the best matrices.

    `matrix`: 3 × 3, fitted to this chart under this lamp; `root`: root-polynomial of degree 2 (G.
    Finlayson, M. Mackiewicz, A. Hurlbert, IEEE Trans. Image Process. 24 (2015) 1460-1470), fitted
    likewise; `as given`: the matrix that is right under D65, all that a picture file holds.
    """
    lines = [f"{'':18}" + "".join(f"{name:>13}" for name in ("matrix", "root", "as given"))]
    truth = lab_of(CHART)
    to_xyz = np.linalg.inv(XYZ_TO_SRGB).T
    weight = 1 / (0.05 + CHART_XYZ[:, 1:2])
    for sensor in SENSORS:
        to_raw = OBSERVER @ BRADFORD.T if sensor == "observer" else CAMERA
        for lamp in LAMPS:
            raw = CHART * LIGHT[lamp] @ to_raw / (LIGHT[lamp] @ to_raw)
            r, g, b = np.maximum(raw, 1e-6).T
            roots = np.stack([r, g, b, np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)], axis=1)
            got = [
                terms @ np.linalg.lstsq(terms * weight, CHART_XYZ * weight, rcond=None)[0]
                for terms in (raw, roots)
            ]
            got.append(seen(CHART, lamp, sensor) @ to_xyz)
            white = colour.XYZ_to_xy(np.array([0.95047, 1.0, 1.08883]))
            cells = ""
            for xyz in got:
                one = ciede2000(colour.XYZ_to_Lab(np.maximum(xyz, 1e-6), white), truth)
                cells += f"{np.median(one):7.1f}{np.quantile(one, 0.95):6.1f}"
            lines.append(f"{sensor:10}{lamp:8}{cells}")
    return "\n".join(lines) + "\n"


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
    rows, false = [], 0
    for number in TUNED if "--tuned" in sys.argv else HELD_OUT:
        found, wrong = measure(number)
        rows += found
        false += wrong
    text = table(rows, false)
    print(text)
    if "--write" in sys.argv:
        head = (
            "CIEDE2000 of bead colours found in drawn photographs, median and 95 %; see photo.py."
        )
        limit = "What camera and lamp leave of the ColorChecker, median and 95 %.\n\n" + limits()
        TABLE.write_text(f"{head}\n\n{text}\n{limit}", encoding="utf-8")


if __name__ == "__main__":
    main()
