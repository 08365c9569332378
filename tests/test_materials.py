"""The shopping list: counts, spare, weight, packets, cost, stock; mixed bead sizes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from himotif.core.bead import Bead, BeadSize, bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design
from himotif.core.design.mixed_sizes import main_size, odd_sizes, size_findings
from himotif.core.design.origin import Origin
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code
from himotif.core.making.materials import materials, stock_reach, with_spare
from himotif.core.paper.html import sheet_html
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.sheet_content import SheetContent
from himotif.core.paper.shopping_wording import need_line, shopping_lines
from himotif.core.paper.wording import sentence
from hypothesis import given
from hypothesis import strategies as st

EIGHT = bead_size("8/0")
OYSTER, TIDE = (243, 238, 225), (28, 41, 71)


def design_of(palette: tuple[Bead, ...], beads) -> Design:
    return Design(Lattice.computed(Braid(8), EIGHT), EIGHT, palette, np.asarray(beads))


def test_a_shopping_list_worked_by_hand():
    palette = (
        Bead("A", "oyster", OYSTER, grams=5, price=2.50),
        Bead("B", "tide", TIDE, stock=30, grams=10, price=4.00),
        Bead("C", "reed", (90, 120, 60)),
    )
    design = design_of(palette, [0] * 280 + [1] * 40)
    made = materials(replace(design, origin=Origin(finished_mm=205.0)))
    a, b = made.needs  # C does not occur
    # 280 + 10 % = 308 beads; 35-40 to a gram (common practice): 7.7-8.8 g, two packets of 5 g
    assert (a.count, a.with_spare, a.packets) == (280, 308, 2)
    assert a.grams == pytest.approx((7.7, 8.8))
    assert a.cost == pytest.approx(5.00)
    # 44 needed, 30 at hand, 14 to buy: one packet
    assert (b.with_spare, b.buy, b.packets, b.cost) == (44, 14, 1, 4.00)
    assert made.cost == pytest.approx(9.00)
    assert made.per_strand == 40
    assert made.cord.strand_mm == pytest.approx(615)
    text = "\n".join(shopping_lines(made))
    for part in ("2 packets", "30 at hand, 14 to buy"):
        assert part in text
    assert [one.code for one in made.findings] == [Code.STOCK_SHORT, Code.COST]
    # of 5 g packets 280 beads of 35-40 to a gram take 7.5 g in the mean, 3.75; of a 10 g one 40
    # take 1.07 g, 0.43
    assert made.findings[1].data["worth"] == pytest.approx(3.75 + 0.43)


def test_the_papers_say_the_cost_and_what_is_not_in_it():
    palette = (
        Bead("A", "oyster", OYSTER, grams=5, price=2.50),
        Bead("B", "tide", TIDE, stock=30, grams=10, price=4.00),
    )
    beads = [0] * 280 + [1] * 40
    short, cost = materials(design_of(palette, beads)).findings
    assert short.code is Code.STOCK_SHORT
    assert (cost.code, cost.data["cost"], cost.data["without"]) == (Code.COST, 9.0, [])
    assert cost.data["packets"] == [{"code": "A", "packets": 2}, {"code": "B", "packets": 1}]
    cost_words = sentence(cost)
    content = SheetContent(design_of(palette, beads))
    assert cost_words in content.shopping_words
    assert cost_words in stringing_text(content)
    assert cost_words in sheet_html(content).replace("&#x27;", "'").replace("&#39;", "'")
    assert SheetContent(design_of(palette, beads)).shopping_words[0] == sentence(short)
    # one price missing: the sum is the least there will be
    part = (palette[0], replace(palette[1], price=None))
    cost = materials(design_of(part, beads)).findings[1]
    assert (cost.data["cost"], cost.data["without"], cost.data["worth"]) == (5.0, ["B"], None)
    assert "at least 5.00" in sentence(cost)
    assert "what B will cost is not known" in sentence(cost)
    # nothing to buy: what the beads in the piece cost remains
    full = tuple(replace(bead, stock=900) for bead in palette)
    cost = materials(design_of(full, beads)).findings[1]
    assert (cost.data["packets"], cost.data["worth"]) == ([], pytest.approx(4.18))
    said = "The beads in the piece alone cost about 4.18 in the palette's currency."
    assert sentence(cost) == said


def test_drops_and_odd_beads_by_the_gram_and_by_the_packet():
    # 8.5 drops to a gram (from memory: 8-9), sold by 50; 9/0 beads, counted, 60 to a gram
    palette = (
        Bead("D", "tide drop", TIDE, shape="drop", per_gram=8.5, packet=50, price=4.80),
        Bead("B", "tide", TIDE, size="9/0", per_gram=60, grams=2, price=1.00),
        Bead("E", "foam drop", OYSTER, shape="drop", packet=20, price=2.00),
    )
    made = materials(design_of(palette, [0] * 100 + [1] * 200 + [2] * 20))
    drop, odd, foam = made.needs
    # 110 drops are 12.94 g and three packets; 220 beads are 3.67 g, two packets of 2 g
    assert drop.grams == pytest.approx((12.94, 12.94), abs=0.005)
    assert (drop.packets, drop.cost, drop.worth) == (3, pytest.approx(14.40), pytest.approx(9.60))
    assert odd.grams == pytest.approx((3.67, 3.67), abs=0.005)
    assert (odd.packets, odd.worth) == (2, pytest.approx(200 / 120))
    # without a weight, but sold by the bead
    assert (foam.grams, foam.packets, foam.cost) == (None, 2, 4.00)
    assert [one.code for one in made.findings] == [Code.COST]
    assert made.findings[0].data["without"] == []


def test_enough_at_hand_costs_nothing():
    palette = (Bead("A", "oyster", OYSTER, stock=400, grams=5, price=2.5),)
    (need,) = materials(design_of(palette, [0] * 320)).needs
    assert (need.buy, need.packets, need.cost) == (0, 0, 0.0)
    assert "400 at hand, enough" in need_line(need)


def test_unknown_weight_and_price_are_said():
    palette = (
        Bead("A", "oyster", OYSTER, price=3.0),
        Bead("D", "tide drop", TIDE, shape="drop", grams=5, price=2.0),
    )
    made = materials(design_of(palette, [0] * 300 + [1] * 20))
    assert made.cost is None
    # A lacks the grams of its packet; D, a drop, has them and lacks beads per gram
    found = {one.code: one.data for one in made.findings}
    assert found[Code.PACKET_NOT_KNOWN] == {"codes": ["A"]}
    drop = {"code": "D", "kind": "drop", "with_spare": 22}  # 20 beads and 10 %
    assert found[Code.WEIGHT_NOT_KNOWN] == {"beads": [drop], "priced": True}
    # a packet size given by hand mends A, not the drop of unknown weight
    made = materials(design_of(palette, [0] * 300 + [1] * 20), packet_g=10)
    assert made.cost == pytest.approx(3.0)
    assert [one.data["without"] for one in made.findings if one.code is Code.COST] == [["D"]]


@given(st.integers(0, 5000), st.floats(0, 1))
def test_the_spare_is_never_short(count, spare):
    total = with_spare(count, spare)
    assert count * (1 + spare) - 1e-6 <= total < count * (1 + spare) + 1


@given(
    beads=st.lists(st.integers(0, 2), min_size=8, max_size=120),
    stocks=st.tuples(*[st.integers(0, 300) | st.none()] * 3),
    spare=st.sampled_from([0.0, 0.1, 0.25]),
)
def test_the_stock_runs_out_where_working_it_does(beads, stocks, spare):
    palette = tuple(
        Bead(code, code, OYSTER, stock=stock) for code, stock in zip("ABC", stocks, strict=True)
    )
    design = design_of(palette, beads)
    reach = stock_reach(design, spare)
    used = [0, 0, 0]
    if not any(stocks[index] is not None for index in set(beads)):
        assert reach is None
        return
    # bead by bead, the pattern over and over, each colour's spare kept back
    for crossing in range(len(beads) * 400):
        index = beads[crossing % len(beads)]
        used[index] += 1
        if stocks[index] is not None and with_spare(used[index], spare) > stocks[index]:
            assert reach is not None
            assert reach.crossing == crossing
            assert reach.first_out.code == "ABC"[index]
            assert reach.enough == (crossing >= len(beads))
            assert reach.rounds * 4 <= crossing < (reach.rounds + 2) * 4
            return
    pytest.fail("the stock never ran out")


def test_every_short_bead_is_named():
    palette = (
        Bead("A", "oyster", OYSTER, stock=100),
        Bead("B", "tide", TIDE, stock=40),
        Bead("C", "reed", TIDE, stock=400),
        Bead("D", "moon", TIDE),
    )
    made = materials(design_of(palette, ([0] * 6 + [1, 2, 3, 0]) * 40))
    # 280 A with 10 % are 308, 40 B are 44, 40 C are 44 of 400; of D the stock is not known
    assert [(need.bead.code, need.buy) for need in made.short] == [("A", 208), ("B", 4)]
    (short,) = [one for one in made.findings if one.code is Code.STOCK_SHORT]
    assert short.data["missing"] == [
        {"code": "A", "name": "oyster", "count": 208},
        {"code": "B", "name": "tide", "count": 4},
    ]
    assert made.as_dict()["stock"]["short"] == {"A": 208, "B": 4}
    # 35-40 of 8/0 to a gram (common practice), rounded up: 208 are 5.2 to 5.943 g
    assert "100 at hand, 208 to buy (5.2-6.0 g)" in need_line(made.needs[0])


def test_what_is_missing_of_a_weight_is_what_is_asked_for():
    measured = BeadSize(None, 3.1, 2.2)
    palette = (
        Bead("A", "oyster", OYSTER, grams=5, price=2.0),
        Bead("B", "tide", TIDE, size="9/0", grams=5, price=2.0),
        Bead("C", "reed", TIDE, size="8/0", price=2.0),
    )
    design = Design(Lattice.computed(Braid(8), measured), measured, palette, np.arange(240) % 3)
    sizeless, untabled, packetless = materials(design).findings
    assert (sizeless.code, sizeless.data["codes"]) == (Code.SIZE_NOT_GIVEN, ["A"])
    assert sizeless.data["sizes"] == ["15/0", "11/0", "8/0", "6/0"]
    assert untabled.code is Code.WEIGHT_NOT_KNOWN
    assert untabled.data["beads"] == [{"code": "B", "kind": "9/0", "with_spare": 88}]
    assert (packetless.code, packetless.data["codes"]) == (Code.PACKET_NOT_KNOWN, ["C"])
    # each remedy works
    mended = tuple(replace(bead, size="8/0", grams=5) for bead in palette)
    assert [one.code for one in materials(replace(design, palette=mended)).findings] == [Code.COST]


def test_short_stock_says_how_long_a_braid_it_allows():
    palette = (Bead("A", "oyster", OYSTER), Bead("B", "tide", TIDE, stock=22))
    design = design_of(palette, [0, 0, 0, 1] * 80)
    (short,) = materials(design).findings[:1]
    # 20 beads and their spare: the 21st is wanted in round 21; 20 rounds of 2.1 mm
    assert short.data["first_out"] == {"code": "B", "name": "tide"}
    assert (short.data["crossing"], short.data["rounds"]) == (84, 20)
    assert short.data["length_mm"] == pytest.approx(42.0)


@pytest.mark.parametrize("values", [{"spare": -0.1}, {"spare": 2}, {"packet_g": 0}])
def test_values_out_of_range(values):
    with pytest.raises(WrongUsage):
        materials(design_of((Bead("A", "oyster", OYSTER),), [0] * 80), **values)


# -- mixed sizes -----------------------------------------------------------------------------------


def test_the_main_size_is_the_most_common():
    palette = (
        Bead("A", "oyster", OYSTER, size="11/0"),
        Bead("B", "tide", TIDE, size="8/0"),
        Bead("C", "reed", TIDE, size="8/0"),
        Bead("D", "drop", TIDE, size="6/0", shape="drop"),
    )
    assert main_size(palette) == "8/0"
    assert main_size((Bead("A", "oyster", OYSTER),)) is None


def test_other_sizes_bulge():
    palette = (
        Bead("A", "oyster", OYSTER, size="8/0"),
        Bead("B", "moon", TIDE, size="6/0"),
        Bead("C", "reed", TIDE, size="11/0"),
        Bead("D", "tide", TIDE, size="15/0"),
    )
    design = design_of(palette, [0] * 300 + [1] * 10 + [2] * 10)
    big, small = odd_sizes(design)
    # 6/0 is 4.0 mm, 8/0 3.0 mm wide (common practice): one stands out by a mm; a braid of them
    # is 2.66 times their difference thicker (the contact of spheres)
    assert big.one_mm == pytest.approx(1.0)
    assert big.all_round_mm == pytest.approx(2.6604, abs=1e-3)
    lattice = Lattice.computed(Braid(8), bead_size("11/0"))
    assert small.all_round_mm == pytest.approx(lattice.thickness_mm - design.lattice.thickness_mm)
    mixed, *odd = size_findings(design)
    assert (mixed.code, mixed.data["main"]) == (Code.SIZES_MIXED, "8/0")
    assert [one.data["size"] for one in odd] == ["6/0", "11/0"]
    assert odd[0].data["one_mm"] == pytest.approx(1.0)
    assert odd[1].data["wider_mm"] < 0


def test_one_size_says_nothing():
    palette = (Bead("A", "oyster", OYSTER, size="8/0"), Bead("B", "tide", TIDE))
    assert size_findings(design_of(palette, [0, 1] * 40)) == []
    strange = (Bead("A", "oyster", OYSTER, size="9/0"),)
    last = size_findings(design_of(strange, [0] * 80))[-1]
    assert last.data == {"beads": [{"code": "A", "size": "9/0"}]}


def test_a_measured_bead_is_one_of_the_palettes_main_size():
    measured = BeadSize(None, 3.1, 2.2)

    def design(*sizes: str) -> Design:
        palette = tuple(Bead(f"B{i}", "oyster", OYSTER, size=size) for i, size in enumerate(sizes))
        beads = np.arange(80) % len(sizes)
        return Design(Lattice.computed(Braid(8), measured), measured, palette, beads)

    for size in ("8/0", "9/0"):  # in the table of sizes or not: all are the one that was measured
        assert size_findings(design(size, size)) == []
    (big,) = odd_sizes(design("8/0", "8/0", "6/0"))
    assert big.size.name == "6/0"
    assert big.one_mm == pytest.approx(1.0)  # 4.0 less 3.0 mm (common practice)
    mixed = size_findings(design("8/0", "8/0", "6/0"))[0]
    assert mixed.data == {"main": "3.1 × 2.2 mm", "measured": "8/0"}


def test_cord_is_counted_for_the_length_the_design_was_made_for():
    made = design_of((Bead("A", "oyster", OYSTER),), [0] * 320)
    made = replace(made, origin=Origin(finished_mm=230.0))
    assert materials(made).cord.finished_mm == 230.0
