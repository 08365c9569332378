"""An order carried out: what the maker does not say is chosen for her, and said."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from converting import read_once
from himotif.convert import job
from himotif.convert.fit.inks import beads_by_colour
from himotif.convert.job import Made
from himotif.convert.options import Order
from himotif.convert.read.picture import Picture, read_picture
from himotif.convert.wording import result_lines
from himotif.core.bead import Bead
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code, Finding
from himotif.palette.files import read_palette
from himotif.palette.palette import Palette

FIXTURES = Path(__file__).parent.parent / "fixtures"
SALTMARSH = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
ORDER = Order(length_mm=60.0, quick=True)


@cache
def picture(name: str):
    return read_picture(FIXTURES / "motifs" / f"{name}.png")


def make(order: Order, sketch: Picture, palette: Palette) -> Made:
    """Carry out an order; a sketch is read once."""
    return job.make(order, sketch, palette, read_once(sketch, order.kind))


def said(made: Made, code: Code) -> Finding | None:
    """The one finding of a code, None without."""
    found = [one for one in made.everything(report=False) if one.code is code]
    assert len(found) <= 1
    return found[0] if found else None


def test_a_drop_is_not_put_on_for_its_colour_where_a_round_bead_has_it():
    # the curlew's sky is the colour of the foam drop, and nearly that of mist
    made = make(ORDER, picture("curlew"), SALTMARSH)
    drop = SALTMARSH.index("P")
    assert made.design.palette == SALTMARSH.beads
    assert not np.any(made.design.beads == drop)
    assert said(made, Code.DROPS_LEFT_OUT).data["codes"] == ["P"]
    asked = make(replace(ORDER, background="P"), picture("curlew"), SALTMARSH)
    assert asked.design.background == drop
    assert np.any(asked.design.beads == drop)


def test_a_drop_of_its_own_colour_is_used_in_flat_sketches_only():
    red = Bead("R", "berry", (176, 30, 36), shape="drop")
    cream, rust = Bead("A", "oyster", (243, 238, 225)), Bead("M", "rust", (180, 36, 40))
    assert beads_by_colour(Palette((cream, red)), "flat", ()) == [0, 1]
    assert beads_by_colour(Palette((cream, red)), "shaded", ()) == [0]
    assert beads_by_colour(Palette((cream, red, rust)), "flat", ()) == [0, 2]
    assert beads_by_colour(Palette((cream, red, rust)), "shaded", ("R",)) == [0, 1, 2]
    assert beads_by_colour(Palette((red,)), "flat", ()) == [0]


def test_drops_are_never_the_ground_unless_asked_for():
    palette = Palette(
        (
            Bead("S", "sky drop", (224, 233, 236), shape="drop"),
            Bead("L", "mud", (100, 65, 42)),
            Bead("B", "deep water", (29, 44, 80)),
        )
    )
    made = make(ORDER, picture("curlew"), palette)
    assert made.design.palette[made.design.background].shape != "drop"
    asked = make(replace(ORDER, background="S"), picture("curlew"), palette)
    assert asked.design.palette[asked.design.background].code == "S"
    # what lies against the skin is said on the spot
    on_skin = said(asked, Code.DROPS_ON_SKIN)
    assert asked.everything(report=False)[0] == on_skin
    # a program reads the same from the summary
    summary = asked.summary()
    drops = np.flatnonzero(asked.design.beads == asked.design.background) + 1
    assert [row["crossing"] for row in summary["drops"]] == drops.tolist()
    assert set(summary["on_skin_crossings"]) <= set(drops.tolist())
    assert "drops" not in make(ORDER, picture("crescent"), SALTMARSH).summary()


def test_all_unknown_codes_are_named_together():
    order = replace(ORDER, background="QQ", keep=("A", "XX"), scatter={"YY": 0.1})
    with pytest.raises(WrongUsage) as caught:
        make(order, picture("crescent"), SALTMARSH)
    refused = str(caught.value)
    assert all(code in refused for code in ("QQ", "XX", "YY", "A, B, C"))


def test_a_short_stock_is_reported():
    few = Palette(tuple(replace(bead, stock=5) for bead in SALTMARSH.beads))
    made = make(ORDER, picture("crescent"), few)
    assert said(made, Code.STOCK_SHORT).data["missing"]
    enough = Palette(tuple(replace(bead, stock=5000) for bead in SALTMARSH.beads))
    assert said(make(ORDER, picture("crescent"), enough), Code.STOCK_SHORT) is None


def test_the_palette_s_own_size_is_the_default():
    dusk = read_palette(FIXTURES / "palettes" / "dusk.csv")
    assert make(ORDER, picture("crescent"), dusk).design.bead.name == "11/0"
    assert make(ORDER, picture("crescent"), SALTMARSH).design.bead.name == "8/0"


def test_everything_said_is_kept_for_the_papers():
    made = make(Order(quick=True), picture("crescent"), SALTMARSH)
    assert made.design.origin.findings == made.findings
    assert said(made, Code.WRIST_ASSUMED).data == {"wrist_mm": 165.0}


def test_what_is_asked_about_comes_first():
    made = make(Order(quick=True, ease_mm=45.0), picture("heart"), SALTMARSH)
    assert said(made, Code.HARD_TO_RECOGNISE) is None
    first, *others = made.findings
    assert first.code is Code.LENGTH_UNUSUAL
    assert (first.data["what"], first.data["value_mm"]) == ("ease", 45.0)
    assert said(made, Code.WRIST_ASSUMED) in others


def test_a_motif_is_not_moved_off_the_braid():
    crescent = picture("crescent")
    made = make(ORDER, crescent, SALTMARSH)
    round_mm, beaded_mm = made.design.lattice.circumference_mm, made.lengths.worked_mm
    for right, up, refused in (
        (900.0, 0.0, "900 mm is more than once round the braid"),
        (-round_mm - 0.1, 0.0, f"Give up to {np.floor(5 * round_mm) / 10:.1f} mm"),
        (0.0, beaded_mm / 2 + 0.1, f"there are {beaded_mm // 2:.0f} mm up"),
    ):
        with pytest.raises(WrongUsage) as caught:
            make(replace(ORDER, moved_mm=(right, up)), crescent, SALTMARSH)
        assert refused in str(caught.value)
        assert [part.field for part in caught.value.parts] == ["right" if right else "up"]
    with pytest.raises(WrongUsage) as caught:
        make(replace(ORDER, moved_mm=(900.0, 900.0)), crescent, SALTMARSH)
    assert len(str(caught.value).splitlines()) == 2
    once = replace(ORDER, repeat="once")
    for order, up, fewer in ((once, -beaded_mm / 2, False), (ORDER, beaded_mm / 2, True)):
        made = make(replace(order, moved_mm=(round_mm / 2, up)), crescent, SALTMARSH)
        short = said(made, Code.SHORT_OF_ROOM)
        assert [remedy.field for remedy in short.remedies] == (["repeat"] if fewer else [])
        # so far it went from where it lies unmoved
        lies, unmoved = (
            m.conversion.placement.centres[0][1]
            for m in (made, make(replace(order, moved_mm=(0.0, 0.0)), crescent, SALTMARSH))
        )
        assert short.data["up_mm"] == pytest.approx(lies - unmoved, abs=0.051)
    made = make(replace(once, moved_mm=(round_mm / 2, 5.0)), crescent, SALTMARSH)
    assert said(made, Code.SHORT_OF_ROOM) is None


def test_motifs_are_not_counted_where_none_shows():
    # one bead colour shows nothing, however much is scattered on it
    grey = Palette((Bead("G", "grey", (128, 128, 128)), Bead("D", "dew", (20, 120, 20))))
    shown = make(ORDER, picture("crescent"), SALTMARSH)
    assert re.match(r"[1-9]\d* motifs?\. Beads: ", result_lines(shown)[1])
    order = replace(ORDER, most=1, keep=("G",), scatter={"D": 0.1})
    bare = make(order, picture("crescent"), grey)
    assert "No motif: nothing of it is left" in result_lines(bare)[1]
    # the accents may be of the bead that the motif is of
    code = next(
        shown.design.palette[bead].code
        for bead in np.unique(shown.design.beads)
        if bead != shown.design.background
    )
    alike = make(replace(ORDER, scatter={code: 0.05}), picture("crescent"), SALTMARSH)
    assert result_lines(alike)[1].split(".")[0] == result_lines(shown)[1].split(".")[0]


def test_a_plain_back_that_takes_the_motif_is_said_and_measured():
    letter = picture("letter_f")
    whole = make(ORDER, letter, SALTMARSH)
    bare = make(replace(ORDER, plain_back_deg=360.0), letter, SALTMARSH)
    covered = int((whole.design.beads != whole.design.background).sum())
    assert said(bare, Code.PLAIN_BACK_COVERS).data == {"beads": covered, "whole": True}
    # nothing of the motif is left, and the numbers know it
    assert bare.summary()["likeness"]["J"] > 2 * whole.summary()["likeness"]["J"]
    numbers = bare.distortion.report.likeness.whole
    assert pytest.approx(bare.summary()["likeness"]["J"], abs=0.01) == numbers.J
    assert whole.conversion.likeness(whole.design) is whole.conversion.judgement.likeness


def test_a_changed_bead_in_any_motif_changes_the_likeness():
    made = make(replace(ORDER, length_mm=150.0), picture("heart"), SALTMARSH)
    repeat = made.design.repeat
    assert repeat is not None
    beads = made.design.beads.copy()
    last = repeat.first + (repeat.count - 1) * repeat.rounds * made.design.braid.beads_per_round
    drawn = last + np.flatnonzero(beads[last:] != made.design.background)
    beads[drawn] = made.design.background
    edited = replace(made.design, beads=beads)
    assert made.conversion.likeness(edited).score > 2 * made.conversion.judgement.likeness.score


def test_blank_paper_and_dust_are_margins(tmp_path):
    from PIL import Image

    paper = np.full((500, 500, 3), (204, 194, 168), dtype=np.uint8)  # far from oyster, the bead
    paper[200:300, 200:300] = (28, 41, 71)
    paper[2, 3] = 0  # a speck
    Image.fromarray(paper).save(tmp_path / "paper.png")
    made = make(ORDER, read_picture(tmp_path / "paper.png"), SALTMARSH)
    assert made.conversion.motif.frame == pytest.approx((200, 200, 300, 300), abs=1)
