"""The set-up sheet as one web page: whole, safe, without outside requests, and working."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from himotif.core.design.loads import beads_from_lists
from himotif.core.findings import remark
from himotif.core.paper.html import sheet_html
from himotif.core.paper.sheet_content import SheetContent
from himotif.core.paper.shopping_wording import format_grams
from sheet_designs import marsh

VOID = {"meta", "input", "br", "img", "link", "hr"}


class Page(HTMLParser):
    """Reads a page strictly: elements must be closed in order."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[tuple[str, dict[str, str | None]]] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.beads: list[tuple[int, str]] = []
        self.titles = 0
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.styles: list[str] = []
        self.text = ""
        self.feed(html)
        self.close()
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append((tag, dict(attrs)))

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop()[0] == tag

    def handle_data(self, data):
        tags = [tag for tag, _ in self.open]
        if "script" in tags:
            self.scripts.append((self.open[-1][1], data))
        elif "style" in tags:
            self.styles.append(data)
        else:
            self.text += data
            if tags[-2:] == ["polygon", "title"]:
                self.titles += 1
            for tag, attributes in self.open:
                if tag == "span" and "data-n" in attributes:
                    own = (attributes["data-n"] or "").split()
                    self.beads += [(int(n), data) for n in own]


@pytest.mark.parametrize(("strands", "lay"), [(8, "S"), (12, "Z"), (24, "S")])
def test_every_bead_is_on_the_page(strands, lay):
    design = marsh(strands, lay, colours=6)
    page = Page(sheet_html(SheetContent(design, "Heron")))
    assert [code for _, code in sorted(page.beads)] == design.codes
    assert page.titles == len(design.beads)
    # a strand's beads are braided in the order in which they are strung
    number = {bead.code: index for index, bead in enumerate(design.palette)}
    strand = design.braid.strand_of(np.arange(len(design.beads)))
    codes = np.array([number[code] for _, code in sorted(page.beads)])
    lists = [codes[strand == one] for one in range(strands)]
    np.testing.assert_array_equal(beads_from_lists(lists, design.braid), design.beads)


def test_the_numbers_of_the_turning_view_are_the_lattice():
    design = marsh(16, "Z")
    page = Page(sheet_html(SheetContent(design)))
    facts = json.loads(next(text for kind, text in page.scripts if kind.get("id") == "design"))
    count = np.arange(len(design.beads))
    azimuth = (facts["stepDeg"] * (count // 2) + 180 * (count % 2)) % 360
    lattice = design.lattice
    np.testing.assert_allclose(np.cos(np.radians(azimuth - lattice.azimuth_deg(count))), 1.0)
    np.testing.assert_allclose(facts["stepMm"] * (count // 2), lattice.height_mm(count))
    assert facts["beads"] == design.beads.tolist()
    worked = [move.strand + 1 for move in design.braid.work(len(count))]
    assert facts["strand"] == worked


def test_the_policy_names_all_code_and_forbids_the_rest():
    """Content Security Policy Level 3 (W3C): digests of what lies between the tags."""
    html = sheet_html(SheetContent(marsh(8, colours=5)))
    page = Page(html)
    policy = next(
        attributes["content"]
        for tag, attributes in page.elements
        if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
    )
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    code = [text for kind, text in page.scripts if kind.get("type") != "application/json"]
    for given, wanted in ((code, rules["script-src"]), (page.styles, rules["style-src"])):
        (text,) = given
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert wanted == f"'sha256-{digest}'"
    assert "unsafe" not in policy
    for _, attributes in page.elements:
        assert not {"style", "onclick", "onload", "src", "srcset", "action"} & set(attributes)
        assert not (attributes.get("href") or "").startswith(("http", "//", "file"))
    assert not re.search(r"url\(|@import|fetch\(|XMLHttpRequest|eval\(|innerHTML", html)


def test_names_cannot_become_code():
    design = marsh(8, colours=3)
    bad = "</script><script>alert(1)</script><b>&\"'"
    palette = tuple(replace(bead, name=bad, finish=bad) for bead in design.palette)
    content = SheetContent(replace(design, palette=palette), bad, findings=(remark(bad),))
    page = Page(sheet_html(content))
    assert len(page.scripts) == 2
    assert not [tag for tag, _ in page.elements if tag == "b"]
    assert page.text.count(bad) >= 5


def test_boxes_have_names_of_their_own():
    page = Page(sheet_html(SheetContent(marsh(8, colours=5))))
    ticks = [a["data-tick"] for tag, a in page.elements if tag == "input"]
    assert len(ticks) == len(set(ticks))
    assert {"strand-1", "strand-1-10", "strand-8-20", "bead-0"} <= set(ticks)


def test_same_design_same_page():
    assert sheet_html(SheetContent(marsh(8))) == sheet_html(SheetContent(marsh(8)))


# -- in a browser --------------------------------------------------------------------------------


@pytest.fixture
def design():
    return marsh(8, "S", colours=5)


@pytest.fixture(scope="module")
def window(chromium):
    """One window for all sheets: a new one is a new process, which costs more than a sheet."""
    opened = chromium.new_page()
    yield opened
    opened.close()


@pytest.fixture
def show(window, tmp_path):
    """Show a sheet in the window, so wide; it complains of nothing and asks for nothing else."""
    heard, asked = [], []
    notes = {
        "console": lambda message: heard.append(message.text),
        "pageerror": lambda error: heard.append(str(error)),
        "request": lambda request: asked.append(request.url),
    }
    for what, note in notes.items():
        window.on(what, note)

    def shown(html, width=1000):
        file = tmp_path / "sheet.html"
        file.write_text(html, encoding="utf-8")
        window.set_viewport_size({"width": width, "height": 900})
        window.goto(file.as_uri())
        return window

    yield shown
    window.evaluate("localStorage.clear(), sessionStorage.clear()")
    for what, note in notes.items():
        window.remove_listener(what, note)
    assert heard == []
    assert asked
    assert all(url.startswith("file:") for url in asked)


@pytest.fixture
def page(show, design):
    return show(sheet_html(SheetContent(design, "Heron")))


def bead_line(page) -> str:
    return page.inner_text("#bead-line")


def sentence(design, crossing: int) -> str:
    """What must be said of a bead, worked slot by slot."""
    used = [0] * design.braid.strands
    for move in design.braid.work(crossing + 1):
        used[move.strand] += 1
    count = np.bincount([move.strand for move in design.braid.work(len(design.beads))])
    bead = design.palette[design.beads[crossing]]
    return (
        f"{bead.code}, {bead.name}: strand {move.strand + 1}, bead {used[move.strand]} of "
        f"{count[move.strand]}"
    )


def test_ticks_are_remembered(page):
    page.check('input[data-tick="strand-3-20"]')
    page.reload()
    page.wait_for_selector('input[data-tick="strand-3-20"]:checked')
    assert not page.is_checked('input[data-tick="strand-3-10"]')
    page.click("#clear")
    page.reload()
    assert not page.is_checked('input[data-tick="strand-3-20"]')


def test_a_bead_says_where_it_is_strung(page, design):
    page.hover('.b[data-n="37"]')
    assert bead_line(page).startswith(sentence(design, 37))
    cell = page.locator("#chart polygon", has=page.locator("title")).nth(52)
    cell.hover(force=True)
    assert bead_line(page).startswith(sentence(design, 52))


def test_the_view_answers_hand_and_keys(page, design):
    box = page.locator("#braid").bounding_box()
    before = page.locator("#braid").screenshot()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y, steps=4)
    page.mouse.up()
    assert page.locator("#braid").screenshot() != before
    page.mouse.move(2, 2)
    page.focus("#braid")
    for _ in range(3):
        page.keyboard.press("n")
    assert bead_line(page).startswith(sentence(design, 2))
    page.keyboard.press("b")
    assert bead_line(page).startswith(sentence(design, 1))


def test_the_front_is_in_front(page, design):
    """Bead 2 lies on the front line, its opposite one behind: a tap in the middle finds bead 2.

    With 8 strands in S lay the second crossing leaves the worker's side, the first the far one.
    """
    page.focus("#braid")
    page.keyboard.press("n")
    assert bead_line(page).startswith(sentence(design, 0))
    page.keyboard.press("Home")
    box = page.locator("#braid").bounding_box()
    # the view stays at the height of the first two beads
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert bead_line(page).startswith(sentence(design, 1))


@pytest.mark.parametrize("width", [1000, 380])
def test_nothing_makes_the_page_wider_than_the_screen(show, width):
    design = marsh(24, colours=6, rounds=90)
    # the first strand repeats nine beads, with a box for each time
    crossing = np.arange(len(design.beads))
    ninth = design.braid.order_of(crossing) % 9 == 8
    beads = np.where(design.braid.strand_of(crossing) == 0, ninth, design.beads)
    # and of every colour there are too few
    stocked = tuple(replace(bead, stock=20, finish="transparent") for bead in design.palette)
    content = SheetContent(replace(design, beads=beads, palette=stocked), "Heron")
    html = sheet_html(content)
    assert "5 × (8 " in html
    opened = show(html, width)
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    shown = opened.inner_text("table")
    for need in content.shopping.needs:
        assert re.search(rf"\b20\s+{need.buy}\s+{re.escape(format_grams(need.buy_grams))}", shown)


def test_drops_lean_in_the_turning_view_as_in_the_lists(show):
    design = marsh(12, "Z", colours=3, rounds=30)
    drops = replace(design.palette[2], shape="drop", rgb=(200, 30, 30))
    content = SheetContent(replace(design, palette=(*design.palette[:2], drops)))
    html = sheet_html(content)
    facts = json.loads(re.search(r'id="design">(.*?)</script>', html)[1])
    assert sorted(map(int, facts["drops"])) == np.flatnonzero(design.beads == 2).tolist()
    for crossing, lean in facts["drops"].items():
        np.testing.assert_allclose(lean, content.drops.drawn_mm[int(crossing)], atol=1e-4)
    assert "wide end" in html.split("Stringing lists")[1].split("Strand 1,")[0]
    opened = show(html)
    # red beyond the outline of the round beads: a drop stands out
    found = opened.evaluate(
        """() => {
          const canvas = document.getElementById("braid"), pen = canvas.getContext("2d");
          const data = JSON.parse(document.getElementById("design").textContent);
          const half = 0.5 * 0.8 * canvas.width / 2;
          const pixels = pen.getImageData(0, 0, canvas.width, canvas.height).data;
          let out = 0;
          for (let i = 0; i < pixels.length; i += 4) {
            const x = Math.abs((i / 4) % canvas.width - canvas.width / 2);
            if (x > half && pixels[i] > 2 * pixels[i + 1]) out += 1;
          }
          return out;
        }"""
    )
    assert found > 100
