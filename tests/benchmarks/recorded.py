"""What conversions come to, recorded, so that a change of the code can be held against it.

    python tests/benchmarks/recorded.py --write recorded.json     # the record
    python tests/benchmarks/recorded.py --compare recorded.json   # every difference; exit 1 if any
    python tests/benchmarks/recorded.py --compare recorded.json --said   # wording as well

About a hundred conversions go through the installed command, in this process: every bundled sketch
with every bundled palette, and a case or two of each option; some must fail. Everything is read
from what the command leaves: its exit code, its ``--json``, ``design.json``, ``stringing.csv`` and
``distortion.json``. The record holds digests of beads and lists, counts, figures, and findings as
data; the sentences (`said`) are kept beside them and compared only on demand.

It is no test of what is right: a difference is a fault, or it is wanted and the record is written
again in the same commit, which says why.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
import json
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
STRANDS = ("8", "12", "16", "20", "24")
Facts = dict[str, Any]

# -- the cases -------------------------------------------------------------------------------------

INPUTS = {
    # a file of stock too small for any bracelet, of two sizes, with its drop
    "few.csv": """code,name,colour,size,shape,finish,stock
W,white,#f5f3ea,8/0,round,matte,200
N,navy,#1c2947,8/0,round,opaque,30
NB,navy blue,#2f4a86,11/0,round,opaque,
R,red,#c02a2a,8/0,round,opaque,4
P,pale drop,#d8e4ea,,drop,transparent,6
""",
    "drops.csv": """code,name,colour,shape
V,white drop,#f5f3ea,drop
X,navy drop,#1c2947,drop
""",
    "petals.csv": """code,name,colour,size,shape
W,white,#ffffff,6/0,round
Y,yellow,#f2c21c,6/0,round
G,leaf,#3f7d3a,6/0,round
D,red drop,#c01f2e,,drop
""",
    "twice.csv": "code,name,colour\nA,one,#ffffff\nA,two,#zzzzzz\n",
    "swatch.json": json.dumps({"schema": 1, "thickness_mm": 8.4, "rounds": 16, "length_mm": 35.2}),
    "drift.json": json.dumps(
        {"schema": 1, "thickness_mm": 11.4, "rounds": 16, "length_mm": 35.0, "column_rounds": 16.4}
    ),
    "spiral.json": json.dumps({"schema": 1, "column_rounds": 8.4}),
    "far.json": json.dumps({"schema": 1, "thickness_mm": 14.0, "rounds": 16, "length_mm": 60.0}),
    "wrong.json": json.dumps({"schema": 1, "thickness_mm": -2}),
    "start.json": json.dumps({"slots": 48, "pairs": [[48, 1], [12, 13], [24, 25], [36, 37]]}),
    "collide.json": json.dumps({"slots": 32, "pairs": [[32, 1], [2, 3]]}),
    "no_picture.png": "this is no picture",
}


def draw_inputs() -> None:
    """Draw what the bundled sketches lack: margins, transparency, greys, nothing, petals."""
    import numpy as np
    from PIL import Image, ImageDraw

    def sheet(size: tuple[int, int], ground: str) -> tuple[Image.Image, ImageDraw.ImageDraw]:
        image = Image.new("RGBA", size, ground)
        return image, ImageDraw.Draw(image)

    image, pen = sheet((500, 500), "#ffffff")
    pen.ellipse((210, 200, 300, 290), fill="#1c2947")
    image.convert("RGB").save("margins.png")
    image, pen = sheet((240, 300), "#00000000")
    pen.polygon([(120, 10), (230, 290), (120, 220), (10, 290)], fill="#c02a2a")
    image.save("clear.png")
    Image.new("RGB", (90, 90), "#ffffff").save("blank.png")
    y, x = np.mgrid[0:240, 0:240] / 240
    grey = (255 * (0.15 + 0.7 * x * (1 - 0.5 * y))).astype(np.uint8)
    Image.fromarray(grey).save("greys.png")
    image, pen = sheet((600, 600), "#ffffff")
    for turn in range(6):
        petal, brush = sheet((600, 600), "#c01f2e00")
        brush.ellipse((240, 20, 360, 260), fill="#c01f2eff")
        image.alpha_composite(petal.rotate(60 * turn, Image.Resampling.BICUBIC))
    ImageDraw.Draw(image).ellipse((240, 240, 360, 360), fill="#f2c21c")
    image.convert("RGB").save("flower.png")


def cases() -> Iterator[tuple[str, bool]]:
    """Yield the command's words after ``convert``, and whether the whole folder is made.

    A bare name is a bundled sketch or palette.
    """
    motifs = sorted(path.stem for path in (ROOT / "fixtures/motifs").glob("*.png"))
    palettes = sorted(path.name for path in (ROOT / "fixtures/palettes").iterdir())
    for i, motif in enumerate(motifs):
        for j, palette in enumerate(palettes):
            k = i + 2 * j
            lay = "SZ"[(i + j) % 2]
            yield f"{motif}.png --palette {palette} --strands {STRANDS[k % 5]} --lay {lay}", False
    for motif in motifs:
        yield f"{motif}.png --palette saltmarsh.csv --quick", False
    bundled = {
        "letter_f": """--strands 16 --turn other
            --strands 12 --lay Z --turn other --repeat 3
            --strands 24 --fit face --repeat once
            --strands 16 --fit face --width 6mm
            --strands 12 --move 2,-3 --repeat 2
            --strands 8 --move 0,40
            --strands 16 --pin shift --pin scale
            --strands 16 --pin turn --rotate 10
            --strands 16 --wrist 17cm --ease 1cm --clasp 12mm --caps 1cm
            --strands 16 --length 7in --unit in --repeat 3 --gap 2
            --strands 16 --wrist 400mm --repeat once
            --strands 20 --bead-size 11/0
            --strands 16 --bead-diameter 3.4 --bead-length 2.4
            --strands 12 --background B
            --start start.json
            --swatch swatch.json
            --strands 16 --swatch drift.json
            --strands 12 --swatch far.json
            --swatch spiral.json
            --strands 16 --most 2
            --strands 16 --kind shaded""",
        "heron": """--strands 16 --most 4 --keep A
            --strands 24 --most 3 --keep P
            --strands 16 --plain-back 120 --scatter H=0.1
            --strands 12 --plain-back 330
            --strands 16 --scatter P=0.2 --scatter C=0.15 --seed 7
            --strands 16 --scatter C=0.2 --scatter-anew --repeat 3
            --strands 16 --keep P --background P
            --strands 16 --kind flat --rotate 90 --width 14mm
            --strands 16 --rotate -35 --pin turn""",
        "sea_aster": """--strands 8 --width 13mm
            --strands 12 --rotate 180 --repeat 5
            --strands 8 --rotate 90""",
        "tide": """--strands 16 --rotate 90
            --strands 12 --gap 0
            --strands 20 --wrist 150 --repeat fill --fit face""",
        "dusk": """--strands 16 --most 5 --background night
            --strands 16 --kind flat --most 4
            --strands 12 --rotate 270 --quick""",
        "heron_line": """--strands 24 --width 30mm
            --strands 16 --most 3""",
    }
    for motif, ways in bundled.items():
        palette = "dusk.csv" if motif == "dusk" else "saltmarsh.csv"
        for way in ways.splitlines():
            yield f"{motif}.png --palette {palette} {way.strip()}", False
    yield "margins.png --palette few.csv --strands 12", False
    yield "clear.png --palette few.csv --strands 16", False
    yield "clear.png --palette drops.csv --strands 8", False
    yield "blank.png --palette few.csv --strands 8 --scatter NB=0.1", False
    yield "greys.png --palette first_light.gpl --strands 16", False
    yield "flower.png --palette petals.csv --plain-back 120 --wrist 17cm", False
    yield "flower.png --palette petals.csv --width 13mm", False
    # whole folders: the report beside the lists
    yield "sea_aster.png --palette saltmarsh.csv --strands 16", True
    yield "sea_aster.png --palette saltmarsh.csv --strands 8 --scatter P=0.1", True
    yield "letter_f.png --palette saltmarsh.csv --strands 12 --tally --svg --paper letter", True
    yield "crab.png --palette saltmarsh.csv --strands 20 --lay Z --fit face", True
    yield "heron.png --palette saltmarsh.csv --strands 24 --plain-back 90", True
    yield "moonlit_pond.png --palette saltmarsh.csv --strands 16", True
    yield "clear.png --palette few.csv --strands 12 --most 2", True
    yield "tide.png --palette saltmarsh.csv --strands 16 --swatch drift.json --rotate 90", True
    # limits that are missed and kept
    yield "reed.png --palette saltmarsh.csv --strands 8 --require-kept 90", False
    yield "crescent.png --palette saltmarsh.csv --strands 16 --require-edge 0.1mm", False
    yield "letter_f.png --palette first_light.gpl --strands 16 --require-colour 0.5", False
    yield "crescent.png --palette saltmarsh.csv --strands 24 --require-kept 10", False
    # what cannot be done
    for wrong in """--keep Q --background QQ --scatter Z=0.1
            --width 90mm
            --wrist 5mm
            --wrist 17cm --length 18cm
            --repeat 40
            --repeat none
            --move 1
            --move 0,900
            --strands 10
            --most 1
            --bead-size 99/0
            --bead-diameter 3
            --swatch wrong.json
            --start collide.json
            --scatter C=2
            --plain-back 400
            --rotate nan
            --most 2 --keep A --keep B --keep C""".splitlines():
        yield f"letter_f.png --palette saltmarsh.csv {wrong.strip()}", False
    yield "letter_f.png --palette twice.csv", False
    yield "no_picture.png --palette few.csv", False
    yield "absent.png --palette few.csv", False


# -- running them ----------------------------------------------------------------------------------


def run(command: Callable[..., Any], words: str, whole: bool) -> Facts:
    """Carry out one case in the current folder and return what came of it."""
    out = Path("out")
    shutil.rmtree(out, ignore_errors=True)
    args = ["convert", *words.split(), "--out", str(out), "--json"]
    stdout, stderr = io.StringIO(), io.StringIO()
    code: Any = 0
    with contextlib.redirect_stdout(stdout), contextlib.redirect_stderr(stderr):
        try:
            command(args if whole else [*args, "--lists-only"], prog_name="himotif")
        except SystemExit as end:
            code = end.code
    facts: Facts = {"exit": code, "said": stderr.getvalue().splitlines()}
    left = sorted(path.name for path in Path().glob("*out*"))
    if left != (["out"] if stdout.getvalue() else []):
        facts["left"] = left
    if not stdout.getvalue():
        return facts | {
            "refusals": sum(line.startswith(("himotif:", "Error:")) for line in facts["said"])
        }
    result = json.loads(stdout.getvalue())
    facts["said"] = result["notes"] + result["missed_limits"]
    facts |= design_facts(out, result) | {"findings": findings(result)}
    report = out / "distortion.json"
    if report.is_file():
        facts["files"] = sorted(path.name for path in out.iterdir())
        facts["report"] = report_facts(json.loads(report.read_bytes()))
    return facts


def digest(text: str) -> str:
    """Return a short digest."""
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def design_facts(out: Path, result: Facts) -> Facts:
    """Return what was made, from the folder and from the result for machines."""
    design = json.loads((out / "design.json").read_bytes())
    placement, repeat = design["placement"], design.get("repeat")
    return {
        "beads": digest(json.dumps([design["background"], design["beads"]])),
        "lists": digest((out / "stringing.csv").read_text()),
        "counts": {code: count for code, count in result["counts"].items() if count},
        "size": [result["strands"], result["beads"], result["rounds"], result["length_mm"]],
        "kind": result["kind"],
        "motifs": [
            len(placement["centres"]),
            None if repeat is None else [repeat[k] for k in ("count", "rounds", "flip")],
        ],
        "placed": [
            round(number, 3)
            for number in (
                placement["px_per_mm"],
                placement["rotate_deg"],
                *placement["centres"][0].values(),
            )
        ],
        "likeness": result["likeness"],
    }


def findings(result: Facts) -> Facts:
    """Return the findings by code, each with its data and remedies, and what the stock does."""
    found: Facts = {}
    for one in result["findings"]:
        said = [one.get("data", {}), one.get("remedies", [])]
        found.setdefault(one["code"], []).append(said)
    stock = result["materials"]["stock"]
    if stock is not None:
        found["stock"] = [stock[key] for key in ("runs_out_first", "at_crossing", "enough")]
        found["short"] = stock["short"]
    if "drops" in result:
        ways = Counter(drop["wide_end"] for drop in result["drops"])
        found["drops"] = [ways, len(result["on_skin_crossings"]), result["centred"]]
    return found


def report_facts(report: Facts) -> Facts:
    """Return the figures of a distortion report."""
    colour = report["colour"]
    return {
        "edges": {key: v for key, v in report["edges"].items() if key != "worst_place"},
        "kept": report["motif"]["kept_percent"],
        "squared_kept": (report["squared_paper"] or {}).get("motif_kept_percent"),
        "regions": [
            [
                region[key]
                for key in (
                    "code",
                    "beads",
                    "kept_percent",
                    "pieces_before",
                    "pieces_after",
                    "pieces_lost",
                    "holes_before",
                    "holes_after",
                )
            ]
            for region in report["regions"]
        ],
        "colour": [colour["mean_de00"], colour["p95_de00"], *map(len, _colour_lists(colour))],
        "likeness": report["likeness"],
        "seen": report["visibility"],
        "seams": {
            name: None if seam is None else seam["differ_percent"]
            for name, seam in report["seam"].items()
        },
        "recognised": report["unrecognised"] is None,
        "lost": None if report["lost"] is None else len(report["lost"]),
    }


def _colour_lists(colour: Facts) -> tuple[list[Any], ...]:
    out_of_reach = colour["out_of_reach"]
    return colour["lost_in_ground"], out_of_reach["colours"], colour.get("merged", [])


def record(only: str) -> tuple[dict[str, Facts], float]:
    """Run every case whose words hold `only`; return what came of each, and the seconds taken."""
    (script,) = entry_points(group="console_scripts", name="himotif")
    command = script.load()
    recorded: dict[str, Facts] = {}
    back = Path.cwd()
    with tempfile.TemporaryDirectory() as place:
        os.chdir(place)
        try:
            for path in (ROOT / "fixtures").glob("*/*"):
                if path.parent.name in ("motifs", "palettes"):
                    shutil.copy(path, path.name)
            for name, text in INPUTS.items():
                Path(name).write_text(text)
            draw_inputs()
            start = time.perf_counter()
            for words, whole in cases():
                name = f"{words} (whole)" if whole else words
                assert name not in recorded, name
                if only in name:
                    recorded[name] = json.loads(json.dumps(run(command, words, whole)))
            return recorded, time.perf_counter() - start
        finally:
            os.chdir(back)


# -- the record ------------------------------------------------------------------------------------


def as_text(recorded: dict[str, Facts]) -> str:
    """Return the record as JSON, one case a line."""
    lines = [
        f"{json.dumps(name)}: {json.dumps(facts, sort_keys=True, ensure_ascii=False)}"
        for name, facts in sorted(recorded.items())
    ]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def differences(before: Any, after: Any, where: str = "") -> Iterator[str]:
    """Yield every value that differs."""
    if isinstance(before, dict) and isinstance(after, dict):
        for key in sorted(before.keys() | after.keys()):
            yield from differences(before.get(key), after.get(key), f"{where} / {key}")
    elif before != after:
        yield f"{where[3:]}: {json.dumps(before)} became {json.dumps(after)}"


def main() -> int:
    """Write or compare the record; return the exit code."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    which = options.add_mutually_exclusive_group(required=True)
    which.add_argument("--write", type=Path, metavar="FILE")
    which.add_argument("--compare", type=Path, metavar="FILE")
    options.add_argument("--said", action="store_true", help="compare the sentences, too")
    options.add_argument("--only", default="", metavar="WORDS", help="only cases that hold them")
    given = options.parse_args()
    recorded, seconds = record(given.only)
    print(f"{len(recorded)} conversions in {seconds:.0f} s")
    if given.write:
        given.write.write_text(as_text(recorded))
        return 0
    before = {
        name: facts
        for name, facts in json.loads(given.compare.read_text()).items()
        if given.only in name
    }
    if not given.said:
        for facts in (*before.values(), *recorded.values()):
            facts.pop("said", None)
    found = list(differences(before, recorded))
    print("\n".join(found) or "no difference")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
