"""The page as a maker uses it, in a real browser."""

from __future__ import annotations

import base64
import io
import json
import os
import re
import signal
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from bead_photo import DrawnHeap, Scene, render
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design import Design, design_from_dict
from himotif.core.design.file import design_json
from himotif.core.making.lengths import lengths
from page_server import served
from PIL import Image, ImageDraw
from pypdf import PdfReader

FIXTURES = Path(__file__).parent.parent / "fixtures"
PATIENCE_MS = 60_000
DESK, TABLET, PHONE = (1366, 768), (820, 1180), (390, 844)


@pytest.fixture(scope="module")
def works(tmp_path_factory):
    return tmp_path_factory.mktemp("works")


@pytest.fixture(scope="module")
def address(works):
    with served(works) as page:
        yield page.address


WITHOUT_WAYS = """
    const given = fetch;
    window.fetch = (url, ...more) =>
        url.endsWith("api/ways") ? Promise.resolve(new Response("")) : given(url, ...more);
"""


class Window:
    """One window for all tests, and the tabs in it that are free.

    A new one, a new tab, another site in it are new processes: they cost more than a page loaded.
    """

    def __init__(self, chromium) -> None:
        self.context = chromium.new_context(reduced_motion="reduce")
        self.free: dict[bool, list] = {True: [], False: []}

    def take(self, ways: bool):
        """Take a free tab, or a new one."""
        if self.free[ways]:
            return self.free[ways].pop()
        page = self.context.new_page()
        if not ways:
            # they are searched for where they are looked at; to hold up all that is asked for
            # until it is looked at here takes longer
            page.add_init_script(WITHOUT_WAYS)
        return page


@pytest.fixture(scope="module")
def window(chromium):
    window = Window(chromium)
    yield window
    window.context.close()


class Tab:
    """A tab of the page, and everything it asks for and complains of."""

    def __init__(self, window, address, ways=False) -> None:
        self.window, self.ways = window, ways
        self.page = window.take(ways)
        self.page.bring_to_front()
        self.look(DESK, color_scheme="light", forced_colors="none")
        self.page.set_default_timeout(PATIENCE_MS)
        self.faults: list[str] = []
        self.asked: list[str] = []
        self.heard = {
            "pageerror": lambda error: self.faults.append(str(error)),
            "console": self.hear,
            "request": lambda request: self.asked.append(request.url),
        }
        for what, hear in self.heard.items():
            self.page.on(what, hear)
        self.go(address)

    def hear(self, message) -> None:
        if message.type == "error":
            self.faults.append(message.text)

    def look(self, size: tuple[int, int], **looks: str) -> None:
        """Look at it in a window of this size, in these colours."""
        self.page.set_viewport_size({"width": size[0], "height": size[1]})
        if looks:
            self.page.emulate_media(**looks)

    def go(self, address: str) -> None:
        self.origin = address.partition("#")[0]
        self.page.goto(address)
        self.page.wait_for_selector("html[data-ready]")

    def again(self) -> None:
        """Load the page again, and wait for its beads."""
        self.page.reload()
        self.page.wait_for_selector("html[data-ready]")
        self.done()

    def drop(self, *files: Path) -> None:
        """Drop files on the page."""
        for path in files:
            self.page.evaluate(
                """([name, text]) => {
                    const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
                    const carried = new DataTransfer();
                    carried.items.add(new File([bytes], name));
                    for (const kind of ["dragenter", "dragover", "drop"]) {
                        const event = new DragEvent(kind, { dataTransfer: carried, bubbles: true });
                        document.body.dispatchEvent(event);
                    }
                }""",
                [path.name, base64.b64encode(path.read_bytes()).decode()],
            )

    def motif(self, name: str = "letter_f.png") -> None:
        """Drop a bundled sketch and wait for its beads."""
        self.drop(FIXTURES / "motifs" / name)
        self.done()

    def done(self, how: str = "done") -> None:
        """Wait until what is seen is what was asked for."""
        self.page.wait_for_selector(f"html[data-work='{how}']", state="attached")

    def saved(self) -> None:
        self.page.wait_for_selector("#saved:text-is('saved')")

    def design(self, works: Path) -> Design:
        """The design that is saved with the work."""
        self.saved()
        with zipfile.ZipFile(works / f"{self.page.url.split('#')[1]}.himotif") as packed:
            return design_from_dict(json.loads(packed.read("design.json")), "this work")

    def counts(self) -> dict[str, int]:
        """How many beads are taken of each dish."""
        rows = self.page.eval_on_selector_all(
            ".dish",
            "all => all.map((one) => [one.dataset.code, one.querySelector('.note').textContent])",
        )
        return {code: int(note) for code, note in rows if note.isdecimal()}

    def colour(self, code: str, right: float = 0.5, down: float = 0.5) -> None:
        """Colour a bead of the braid with a dish."""
        dish = self.page.locator(f".dish[data-code='{code}']")
        if dish.get_attribute("aria-pressed") != "true":
            dish.click()
        self.page.mouse.click(*self.point("#braid", right, down))
        self.done()

    def lists_only(self) -> None:
        """Ask for a folder without pictures, where they are not looked at: they take long."""
        self.page.evaluate("document.querySelector('#lists_only').value = 'yes'")
        self.page.dispatch_event("#lists_only", "input")

    def folder(self, tmp_path: Path, clicks: int = 1) -> Path:
        """Make the folder and unpack it."""
        with self.page.expect_download() as coming:
            self.page.click("#folder", click_count=clicks)
        with zipfile.ZipFile(coming.value.path()) as packed:
            packed.extractall(tmp_path)
            return tmp_path / packed.namelist()[0].split("/")[0]

    def point(self, selector: str, right: float = 0.5, down: float = 0.5) -> tuple[float, float]:
        # the frame is there as soon as the sketch is
        self.page.wait_for_selector(selector)
        box = self.page.locator(selector).bounding_box()
        return box["x"] + right * box["width"], box["y"] + down * box["height"]

    def drag(self, selector: str, right: float, down: float, from_: tuple = (0.5, 0.5)) -> None:
        x, y = self.point(selector, *from_)
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.mouse.move(x + right, y + down, steps=4)
        self.page.mouse.up()

    def close(self) -> None:
        for what, hear in self.heard.items():
            self.page.remove_listener(what, hear)
        # nothing goes on there any more, in the same process; what a window keeps is not for the
        # next test
        self.page.goto(f"{self.origin}static/mark.svg")
        self.page.evaluate("localStorage.clear(), sessionStorage.clear()")
        self.window.free[self.ways].append(self.page)
        assert self.faults == []


@pytest.fixture
def tab(window, address):
    tab = Tab(window, address)
    yield tab
    tab.close()


def checked(folder: Path) -> dict:
    """The design of a folder whose lists, worked on the disc, give it."""
    result = CliRunner().invoke(main, ["check", str(folder)])
    assert result.exit_code == 0, result.output
    return json.loads((folder / "design.json").read_text(encoding="utf-8"))


# -- the main way ----------------------------------------------------------------------------------


def test_three_actions_from_a_sketch_to_the_folder_and_the_sheet(tab, tmp_path):
    tab.motif()
    assert tab.page.inner_text("#word") == "Reads."
    folder = tab.folder(tmp_path, clicks=2)
    assert sum(url.endswith("api/folder") for url in tab.asked) == 1
    design = checked(folder)
    codes = [bead["code"] for bead in design["palette"]]
    assert tab.counts() == {
        code: design["beads"].count(k) for k, code in enumerate(codes) if k in design["beads"]
    }
    assert {path.name for path in folder.iterdir()} >= {
        "design.json", "stringing.csv", "sheet.pdf", "chart.svg", "preview.png", "ring.png",
        "distortion.png",
    }  # fmt: skip
    # nothing was asked of anybody else
    hosts = {url.split("/")[2] for url in tab.asked if not url.startswith(("blob:", "data:"))}
    assert hosts == {tab.page.url.split("/")[2]}
    with tab.page.expect_popup() as opened:
        tab.page.click("#print")
    assert opened.value.url.startswith("blob:")
    opened.value.close()


def test_the_first_way_that_reads_is_taken_and_a_click_takes_another(window, address, tmp_path):
    # a heart in outlines: on 8 strands its line is lost, what it encloses reads
    turn = np.linspace(0, 2 * np.pi, 200)
    across = 200 + 176 * np.sin(turn) ** 3
    high = 13 * np.cos(turn) - 5 * np.cos(2 * turn) - 2 * np.cos(3 * turn) - np.cos(4 * turn)
    heart = Image.new("RGB", (400, 400), (243, 238, 225))
    outline = np.stack([across, 190 - 11 * high], axis=1).ravel().tolist()
    ImageDraw.Draw(heart).line(outline, fill=(28, 41, 71), width=14, joint="curve")
    heart.save(tmp_path / "heart.png")
    tab = Tab(window, address, ways=True)
    page = tab.page
    tab.drop(tmp_path / "heart.png")
    tab.done()
    # nothing is called done before that
    assert page.inner_text("#word") == "Reads."
    page.wait_for_selector(".way[aria-pressed='true'] .word.reads")
    page.wait_for_selector("#ways:not([aria-busy])")
    words = page.locator(".way .word").all_inner_texts()
    assert words[0] != "reads"
    taken = page.inner_text(".way[aria-pressed='true']")
    assert page.input_value("#strands") == re.match(r"\d+", taken)[0]
    tab.done()
    page.click(".way >> nth=0")
    tab.done()
    assert page.inner_text("#word") != "Reads."
    assert page.get_attribute(".way >> nth=0", "aria-pressed") == "true"
    # what she chose stays chosen, and goes back in one step
    page.click("#undo")
    tab.done()
    assert page.inner_text(".way[aria-pressed='true']") == taken
    assert page.locator(".way").count() == len(words)
    # what was found for one sketch is not asked of the next
    tab.motif()
    assert page.inner_text(".way[aria-pressed='true']").startswith("8 strands")
    # the whole motif is seen, however tall it becomes
    page.click(".way >> nth=0")
    page.evaluate("document.querySelector('#stretch').value = '3'")
    page.dispatch_event("#stretch", "input")
    tab.done()
    box, room = (page.locator(one).bounding_box() for one in ("#frame", "#stage"))
    assert box["y"] >= room["y"]
    assert box["height"] < room["height"]
    tab.close()


def test_sketch_is_moved_sized_and_turned_on_the_braid(tab):
    page = tab.page
    page.fill("#repeat", "once")
    tab.motif()
    before = tab.counts()
    asked = len(tab.asked)
    tab.drag("#frame", 6, -60)
    tab.done()
    assert sum(url.endswith("api/tally") for url in tab.asked[asked:]) == 1
    up = page.input_value("#up")
    assert float(up) > 1
    assert float(page.input_value("#width")) > 1
    box = page.locator("#frame").bounding_box()
    tab.drag("#frame .se", -box["width"] / 5, -box["height"] / 5)
    tab.done()
    assert page.locator("#frame").bounding_box()["height"] < 0.9 * box["height"]
    assert page.input_value("#up") == up
    smaller = page.input_value("#width")
    # while it is held nothing is said to read
    x, y = tab.point("#frame .se")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 2, y + 2, steps=2)
    assert re.fullmatch(r"[\d.]+ mm wide, [\d.]+ mm tall\.", page.inner_text("#status").strip())
    page.mouse.move(x, y, steps=2)
    page.mouse.up()
    tab.done()
    smaller = page.input_value("#width")
    box = page.locator("#frame").bounding_box()
    page.focus("#frame")
    page.keyboard.press("}")
    tab.done()
    assert float(page.input_value("#rotate")) == pytest.approx(15, abs=4)
    page.click("#undo")
    tab.done()
    assert (page.input_value("#rotate"), page.input_value("#width")) == ("", smaller)
    for _ in range(3):
        page.click("#undo")
    tab.done()
    assert page.input_value("#up") == ""
    assert tab.counts() == before
    # loaded anew while the hand still holds it: what was seen is there, and the step back
    x, y = tab.point("#frame")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 50, steps=3)
    held = page.input_value("#up")
    assert float(held) > 1
    tab.again()
    page.mouse.up()
    assert page.input_value("#up") == held
    page.click("#undo")
    tab.done()
    assert tab.counts() == before


def test_keyboard_alone_does_the_whole_job(tab, tmp_path):
    page = tab.page
    focus(page, "#samples button:last-child")
    page.keyboard.press("Enter")
    tab.done()
    focus(page, ".dish[data-code='M']")
    page.keyboard.press("Enter")
    focus(page, "#braid")
    page.keyboard.press("ArrowUp")
    first = page.inner_text("#cursor-words")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowRight")
    assert page.inner_text("#cursor-words") != first
    page.keyboard.press("Space")
    tab.done()
    assert page.inner_text("#cursor-words").startswith("M crab rust: strand")
    motifs = tab.counts()["M"]
    page.keyboard.press("Escape")
    page.keyboard.press("ArrowLeft")
    assert "Turned" in page.inner_text("#cursor-words")
    focus(page, "#more")
    page.keyboard.press("Enter")
    focus(page, "#lists_only")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Escape")
    tab.done()
    focus(page, "#folder")
    with page.expect_download() as coming:
        page.keyboard.press("Enter")
    with zipfile.ZipFile(coming.value.path()) as packed:
        packed.extractall(tmp_path)
    design = checked(tmp_path / "letter_f")
    assert not (tmp_path / "letter_f/preview.png").exists()
    codes = [bead["code"] for bead in design["palette"]]
    assert design["beads"].count(codes.index("M")) == motifs


def focus(page, wanted: str, most: int = 90) -> None:
    """Press Tab until the wanted element has the focus, as a maker without a mouse would."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
            return
    pytest.fail(f"{wanted} is never reached with Tab")


# -- her own beads ---------------------------------------------------------------------------------


def test_beads_coloured_by_hand_are_a_layer_that_stays(tab):
    page = tab.page
    tab.motif()
    found = tab.counts()
    tab.colour("K")
    amber = tab.counts()["K"]
    # one bead of every motif
    assert amber == int(page.get_attribute("#repeat", "placeholder").split()[-1])
    page.uncheck("#every")
    tab.colour("M", 0.5, 0.7)
    hers = tab.counts()
    assert hers["M"] == 1
    page.click("#colouring-done")
    # off and on as a whole
    page.uncheck("#hand-on")
    tab.done()
    assert tab.counts() == found
    page.check("#hand-on")
    tab.done()
    assert tab.counts() == hers
    # another wrist has the same places
    page.fill("#wrist", "175")
    tab.done()
    assert tab.counts()["M"] == 1
    # another braid has not: they can be carried over, and everything goes back
    page.select_option("#strands", "12")
    tab.done()
    assert "M" not in tab.counts()
    page.click("#remedies >> text=Carry them over")
    tab.done()
    assert tab.counts()["M"] == 1
    for _ in range(3):
        page.click("#undo")
    tab.done()
    assert tab.counts() == hers


def test_a_bead_is_changed_by_its_place_and_a_test_braid_is_recorded(tab):
    page = tab.page
    tab.motif()
    found = tab.counts()
    page.click("#more")
    page.click("[data-open='change']")
    page.fill("#change-places", "3:x=K")
    page.click("#change button")
    page.wait_for_selector("#tool-error:has-text('3:17=B')")
    page.fill("#change-places", "3:2=K")
    page.check("#change [name=once]")
    page.click("#change button")
    page.wait_for_selector("#tool-lines li")
    tab.done()
    assert tab.counts()["K"] == found.get("K", 0) + 1
    page.keyboard.press("Escape")
    page.keyboard.press("Escape")
    # one bead for another, all of them
    page.click(".dish[data-code='M']")
    page.check("#alike")
    tab.colour("M")
    (gone,) = found.keys() - tab.counts().keys()
    assert tab.counts()["M"] >= found[gone] - 1
    page.click("#undo")
    page.click("#more")
    page.click("[data-open='measured']")
    page.fill("#thickness", "7.6")
    with page.expect_download() as coming:
        page.click("#measured button")
    assert json.loads(Path(coming.value.path()).read_text())["thickness_mm"] == 7.6
    assert page.inner_text("#swatch-words") == coming.value.suggested_filename
    tab.faults.clear()  # the browser notes the refusal


def test_braid_and_roll_out_are_the_right_way_round(tab, works):
    """What lies right on the braid is drawn right, what is newer is drawn higher, in its colour."""
    page = tab.page
    page.select_option("#strands", "16")
    tab.motif()
    design = tab.design(works)
    lattice = design.lattice
    page.fill("#fade", "100")
    for rolled in (False, True):
        if rolled:
            page.click("#colouring-done")
            page.click("#roll")
            page.wait_for_selector("#roll:has-text('Roll up')")
        box = page.locator("#braid").bounding_box()
        image = Image.open(io.BytesIO(page.locator("#braid").screenshot())).convert("RGB")
        page.click(".dish[data-code='A']")
        seen = []
        for right in np.linspace(-0.08, 0.08, 5):
            for down in (0.15, 0.3, 0.5, 0.7, 0.85):
                page.mouse.move(*tab.point("#braid", 0.5 + right, down))
                words = page.inner_text("#bead-words")
                found = re.search(r"strand (\d+), bead (\d+)", words)
                if found is None:
                    continue
                strand, order = (int(text) - 1 for text in found.groups())
                crossing = crossing_of(design, strand, order)
                bead = design.palette[design.beads[crossing]]
                assert words.startswith(f"{bead.code} {bead.name}:")
                at = int((0.5 + right) * box["width"]), int(down * box["height"])
                away = np.deg2rad(lattice.azimuth_deg(crossing) - design.picture.front_deg)
                alike = np.abs(np.subtract(image.getpixel(at), bead.rgb)).max() <= 3
                height = float(lattice.height_mm(crossing))
                seen.append((right, down, float(-np.sin(away)), height, alike))
        assert len(seen) >= 15
        rights, downs, across, heights, alike = zip(*seen, strict=True)
        assert np.corrcoef(rights, across)[0, 1] > 0.9
        assert np.corrcoef(downs, heights)[0, 1] < -0.99
        # a few points may lie on a line between two beads
        assert np.mean(alike) > 0.8 or not rolled


QUARTERS = {  # newer, to the right on the upright front
    (True, True): (192, 32, 32),
    (True, False): (32, 64, 192),
    (False, True): (32, 150, 60),
    (False, False): (208, 160, 0),
}


def quartered() -> Design:
    """A bracelet with a square of four colours in the middle of its front."""
    # every turn of it is drawn without a graphics card: of few beads, in a small window
    lattice = Lattice.computed(Braid(8), bead_size("6/0"))
    crossings = np.arange(lengths(lattice, wrist_mm=165.0).beads)
    palette = [Bead("A", "oyster", (250, 250, 248))]
    palette += [Bead(f"Q{k}", f"quarter {k}", rgb) for k, rgb in enumerate(QUARTERS.values())]
    right = lattice.x_mm(crossings)
    up = lattice.height_mm(crossings) - lattice.height_mm(crossings[-1]) / 2
    beads = np.zeros(len(crossings), dtype=int)
    for k, (newer, rightwards) in enumerate(QUARTERS, start=1):
        quarter = ((up > 0) == newer) & ((right > 0) == rightwards)
        beads[quarter & (np.abs(up) < 12) & (np.abs(right) < 6)] = k
    return Design(lattice, bead_size("6/0"), tuple(palette), beads)


def test_ring_is_fetched_when_asked_for_and_is_no_mirror_image(tab, tmp_path):
    page = tab.page
    file = tmp_path / "design.json"
    file.write_text(design_json(quartered()), encoding="utf-8")
    tab.look((DESK[0] // 2, DESK[1] // 2))
    tab.drop(file)
    tab.done()
    assert not any("vendor" in url for url in tab.asked)
    page.click("#ring")
    page.wait_for_selector("#ring-canvas[data-turned='0']")
    assert sum("vendor" in url for url in tab.asked) == 2
    assert "round inside" in page.inner_text("#ring-words")

    def seen():
        drawn = page.locator("#ring-canvas").screenshot()
        return np.asarray(Image.open(io.BytesIO(drawn)).convert("RGB"), dtype=int)

    pixels = seen()
    middles = {}
    for quarter, rgb in QUARTERS.items():
        rows, columns = np.nonzero(np.abs(pixels - rgb).max(2) <= 40)
        assert len(rows) > 100
        middles[quarter] = columns.mean(), rows.mean()
    # the middle is on top, the newest beads on the right: so the upright right lies below
    across, down = (np.array([[middles[n, r][k] for r in (0, 1)] for n in (0, 1)]) for k in (0, 1))
    centre = pixels.shape[1] / 2
    assert np.all(across[1] > centre + 5)
    assert np.all(across[0] < centre - 5)
    assert np.all(down[:, 1] > down[:, 0] + 5)
    assert down.max() < pixels.shape[0] / 2
    red = [(np.abs(pixels - QUARTERS[True, True]).max(2) <= 40).sum()]
    for button in ("#larger", "#smaller"):
        page.click(button)
        red.append((np.abs(seen() - QUARTERS[True, True]).max(2) <= 40).sum())
    assert red[1] > 1.2 * red[0]
    assert red[2] == pytest.approx(red[0], rel=0.05)
    # turned by keys and by the button, and told
    page.focus("#ring-canvas")
    page.keyboard.press("End")
    page.wait_for_selector("#ring-canvas[data-turned='180']")
    assert page.text_content("#cursor-words") == "Turned 180 degrees: the join is on top."
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("#ring-canvas[data-turned='165']")
    page.click("#turn-braid")
    page.wait_for_selector("#ring-canvas[data-turned='210']")
    tab.drag("#ring-canvas", 100, 0)
    page.wait_for_selector("#ring-canvas:not([data-turned='210'])")
    # to colour a bead the bracelet is laid open
    page.click(".dish[data-code='A']")
    assert page.get_attribute("#ring", "aria-pressed") == "false"
    assert page.is_visible("#braid")


def test_without_webgl_the_folders_picture_stands_in(tab):
    page = tab.page
    page.evaluate(
        """() => {
            const given = HTMLCanvasElement.prototype.getContext;
            HTMLCanvasElement.prototype.getContext = function (kind, ...more) {
                return kind === "webgl2" ? null : given.call(this, kind, ...more);
            };
        }"""
    )
    tab.motif()
    page.click("#ring")
    page.wait_for_selector("#ring-picture[src^='blob:']")
    assert page.evaluate("document.getElementById('ring-picture').decode()") is None
    assert "18.0 cm round inside" in page.get_attribute("#ring-picture", "alt")
    assert not page.is_visible("#turn-braid")
    assert not any("vendor" in url for url in tab.asked)


def crossing_of(design, strand: int, order: int) -> int:
    crossings = np.arange(len(design.beads))
    own = crossings[design.braid.strand_of(crossings) == strand]
    return int(own[order])


# -- the tray --------------------------------------------------------------------------------------


def test_tray_is_changed_shows_what_is_short_and_is_saved(tab):
    page = tab.page
    tab.motif()
    used = next(code for code in tab.counts() if code != "A")
    page.click(f".dish[data-code='{used}']")
    page.click("#change-bead")
    page.fill("#bead-stock", "20")
    page.click("text=Put it in the tray")
    page.wait_for_selector(f".dish.short[data-code='{used}']")
    tab.done()
    assert "short" in page.inner_text("#line-text")
    # a remedy does what it says
    remedy = page.locator("#remedies button").first
    remedy.click()
    page.wait_for_selector(".dish.short", state="detached")
    tab.done()
    page.click("#add-bead")
    page.fill("#bead-name", "plover")
    page.fill("#bead-colour", "#a08060")
    page.fill("#bead-code", used)
    page.click("text=Put it in the tray")
    page.wait_for_selector(f"#bead-error:text-is('Code {used} is used already; choose another')")
    tab.faults.clear()  # the browser notes the refusal
    page.fill("#bead-code", "Z")
    page.fill("#bead-stock", "90")
    page.click("text=Put it in the tray")
    page.wait_for_selector(".dish:has-text('plover')")
    page.click(".dish[data-code='A']")
    page.click("#play-bead")
    page.wait_for_selector(".dish.off[data-code='A']")
    tab.done()
    assert "A" not in tab.counts()
    page.click("#more-tray")
    with page.expect_download() as coming:
        page.click("#save-tray")
    rows = Path(coming.value.path()).read_text().splitlines()
    assert any(row.startswith(f"{used},") and ",20," in row for row in rows)
    assert any("plover,#a08060" in row for row in rows)


def test_a_beads_colour_comes_from_a_photo_and_corners_are_put_on_one(tab, tmp_path):
    page = tab.page
    photo = tmp_path / "tray.png"
    heaps = [
        DrawnHeap(110, 90, 40, "dish", "matte", (0.42, 0.05, 0.06)),
        DrawnHeap(300, 90, 40, "dish", "matte", (0.03, 0.05, 0.20)),
    ]
    Image.fromarray(render(Scene(400, 180, 12, tuple(heaps)))[0]).save(photo)
    page.click("#from-photo")
    tab.drop(photo)
    page.wait_for_selector("#photo-beads li >> nth=1")
    page.click("#photo-beads li >> nth=1 >> button")
    page.fill("#photo-beads li >> nth=0 >> input", "rowan")
    # a click takes the bead under it
    page.mouse.click(*tab.point("#photo", 300 / 400, 0.5))
    page.wait_for_selector("#photo-beads li >> nth=1")
    page.click("#photo-put")
    dish = page.locator(".dish", has_text="rowan")
    dish.wait_for()
    red, _, blue = page.evaluate(
        "dish => getComputedStyle(dish).backgroundColor.match(/\\d+/g).map(Number)",
        dish.locator("i").element_handle(),
    )
    assert red > 2 * blue
    # the same photo as a sketch: a corner is moved with the keys, and the sheet is another one
    tab.drop(photo)
    page.wait_for_selector("#name:text-is('tray')")
    page.click("#more")
    page.click("#corners")
    page.wait_for_selector("#corners-photo circle")
    page.focus("#corners-photo")
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Enter")
    with page.expect_request(lambda one: ".png?" in one.url and "corners=180" in one.url):
        page.click("#corners-take")
    # inset by a tenth at first, and the nearest of them put 0.05 left of the middle
    assert page.input_value("#paper_corners") == "180,90 360,18 360,162 40,162"


def test_without_beads_one_clear_sentence_stands_there(tab, tmp_path):
    page = tab.page
    tray = tmp_path / "two.csv"
    tray.write_text("code,name,colour\nO,oyster,#efe9dc\nW,deep water,#1c3f5e\n")
    tab.drop(tray)
    page.wait_for_selector(".dish >> nth=2", state="detached")
    tab.motif()
    page.click(".dish >> nth=1")
    page.click("#play-bead")
    tab.done("refused")
    assert "at least two beads" in page.inner_text("#alert")
    page.click("#undo")
    tab.done()
    assert page.is_hidden("#alert")
    tab.faults = [fault for fault in tab.faults if "422" not in fault]


# -- what is refused -------------------------------------------------------------------------------


def test_refused_value_is_said_in_the_line_and_taken_back(tab):
    page = tab.page
    tab.motif()
    before = tab.counts()
    page.click("#more")
    page.fill("#width", "999")
    tab.done("refused")
    assert page.get_attribute("#width", "aria-invalid") == "true"
    assert page.get_attribute("#width", "aria-errormessage") == "error-width"
    page.click("#more-dialog [data-close]")
    assert page.inner_text("#alert").startswith("Width: 999 mm")
    assert tab.counts() == before
    asked = len(tab.asked)
    page.click("#folder")
    page.wait_for_selector("#alert:has-text('Mend “Width” first')")
    assert not [address for address in tab.asked[asked:] if address.endswith("api/folder")]
    page.click("#undo")
    tab.done()
    assert page.is_hidden("#alert")
    assert page.locator("#error-width").count() == 0
    tab.faults.clear()  # the browser notes the refusal


def test_huge_and_broken_files_are_refused_and_work_goes_on(tab, tmp_path):
    page = tab.page
    huge, broken = tmp_path / "huge.png", tmp_path / "<b>broken.png"
    with huge.open("wb") as file:
        file.truncate(60 * 1024 * 1024)
    broken.write_bytes((FIXTURES / "motifs/heron.png").read_bytes()[:3000])
    with page.expect_file_chooser() as chooser:
        page.click("#choose-sketch")
    chooser.value.set_files(huge)
    page.wait_for_selector("#alert:has-text('huge.png has 60 MB; at most 50 MB')")
    assert not [url for url in tab.asked if "/api/bring/" in url]
    tab.drop(broken)
    page.wait_for_selector("#alert:has-text('<b>broken.png')")
    tab.faults.clear()  # the browser notes the refusal of the file
    tab.motif()
    assert page.is_hidden("#alert")


# -- nothing is lost -------------------------------------------------------------------------------


def start_server(folder: Path) -> tuple[subprocess.Popen, str]:
    server = subprocess.Popen(
        [sys.executable, "-m", "himotif.convert", "page", "--no-open", "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env={**os.environ, "XDG_DATA_HOME": str(folder), "TMPDIR": str(folder)},
        # what a shell starts in the background is started deaf to Ctrl-C, and so are its children
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    return server, server.stdout.readline().strip()


def test_letters_are_written_and_remembered(tab):
    page = tab.page
    page.fill("#write-letters", "it")
    page.click("text=Write letters")
    tab.done()
    assert page.inner_text("#word") == "Judge it by eye."
    assert page.is_hidden("#frame")
    counts = tab.counts()
    assert len(counts) == 2
    tab.saved()
    tab.again()
    assert tab.counts() == counts
    assert page.input_value("#text") == "it"


def test_the_page_prints_as_the_set_up_sheet(tab):
    def printed() -> PdfReader:
        return PdfReader(io.BytesIO(tab.page.pdf(format="A4")))

    (bare,) = printed().pages
    assert bare.extract_text().strip() == "Print it when the beads are found."
    tab.motif()
    tab.colour("K")
    asked = len(tab.asked)
    pages = printed().pages
    assert sum(url.endswith("api/sheet-pages") for url in tab.asked[asked:]) == 1
    text = pages[0].extract_text()
    assert "What you need" in text
    assert f"{tab.counts()['K']} " in text
    assert f"page {len(pages)} of {len(pages)}" in pages[-1].extract_text()
    assert pages[0].images


def test_a_killed_server_loses_nothing(window, tmp_path):
    data = tmp_path / "data"
    data.mkdir()
    server, address = start_server(data)
    tab = Tab(window, address)
    tab.lists_only()
    tab.motif()
    tab.colour("K")
    hers = tab.counts()
    tab.saved()
    os.killpg(server.pid, signal.SIGKILL)
    server.communicate()
    tab.page.fill("#wrist", "170")
    tab.page.wait_for_selector("#alert:has-text('himotif has stopped')")
    tab.page.close()
    server, address = start_server(data)
    try:
        tab = Tab(window, address)
        day = re.compile("letter f, (today|yesterday)")
        tab.page.locator("#recent button").filter(has_text=day).click()
        tab.done()
        assert tab.counts() == hers
        tab.again()
        assert tab.counts() == hers
        tab.folder(tmp_path / "folder")
        # with its steps back
        tab.page.click("#undo")
        tab.done()
        assert "K" not in tab.counts()
        tab.page.click("#undo")
        tab.done("nothing")
        tab.saved()
        tab.close()
        os.killpg(server.pid, signal.SIGINT)
        _, said = server.communicate(timeout=30)
        assert server.returncode == 0
        assert "Traceback" not in said
        # nothing but the work was written to disk, not even for a time where files are left
        written = [path for path in data.rglob("*") if path.is_file()]
        assert [(path.parent.name, path.suffix) for path in written] == [("works", ".himotif")]
    finally:
        server.kill()
        server.communicate()


def test_one_work_in_two_windows_becomes_two_works(window, tab):
    tab.motif()
    tab.saved()
    two = Tab(window, tab.page.url)
    two.done()
    tab.colour("K")
    tab.saved()
    two.colour("M")
    two.page.wait_for_function("before => location.href !== before", arg=tab.page.url)
    two.saved()
    two.faults.clear()  # the browser notes the refusal
    for one, code, other in ((tab, "K", "M"), (two, "M", "K")):
        one.again()
        assert code in one.counts()
        assert other not in one.counts()
    two.close()


def test_folder_design_and_work_are_opened_again(window, address, tmp_path):
    tab = Tab(window, address, ways=True)
    page = tab.page
    tab.motif()
    tab.lists_only()
    tab.colour("N")
    counts = tab.counts()
    folder = tab.folder(tmp_path)
    page.click("#works")
    with page.expect_download() as coming:
        page.click("#save-copy")
    work = tmp_path / "mine.himotif"
    coming.value.save_as(work)
    packed = tmp_path / "folder.zip"
    with zipfile.ZipFile(packed, "w") as out:
        out.write(folder / "design.json", "letter_f/design.json")
    for file in (packed, folder / "design.json", work):
        page.keyboard.press("Escape")
        page.click("#works")
        page.click("#new-work")
        tab.done("nothing")
        tab.drop(file)
        tab.done()
        assert tab.counts() == counts
        # the work has its sketch, the design has not
        if file == work:
            page.wait_for_selector(".way")
        else:
            assert page.locator(".way").count() == 0
    tab.close()


# -- at the disc -----------------------------------------------------------------------------------


def test_at_the_disc_goes_crossing_by_crossing_and_keeps_its_place(tab):
    tab.motif()
    tab.saved()
    with tab.window.context.expect_page() as opened:
        tab.page.click("#disc")
    disc = opened.value
    disc.wait_for_selector("html[data-ready]")
    total = sum(tab.counts().values())
    assert disc.inner_text("#far").startswith(f"0 of {total} crossings")
    first = disc.inner_text(".next .way")
    for _ in range(3):
        disc.keyboard.press("Space")
    assert disc.inner_text("#far").startswith("3 of")
    disc.click("#back")
    with disc.expect_response("**/place"):
        disc.click("#next")
    disc.click("#lists-open")
    disc.locator("#strands section").nth(1).locator("input").first.check()
    disc.click("#lists [data-close]")
    disc.click("#lost-open")
    disc.fill("#used", "1:1, 2:1")
    disc.click("text=Find it")
    disc.click("#go")
    place = disc.inner_text("#far")
    assert disc.inner_text(".next .way") != first
    disc.wait_for_function("() => !Object.keys(localStorage).some((key) => key.includes('place'))")
    disc.reload()
    disc.wait_for_selector("html[data-ready]")
    assert disc.inner_text("#far") == place
    disc.click("#lists-open")
    assert disc.locator("#strands section").nth(1).locator("input").first.is_checked()


# -- manners ---------------------------------------------------------------------------------------


def words_in_sight(page) -> int:
    return page.evaluate(
        """() => {
            const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
            const words = [];
            while (walk.nextNode()) {
                const { parentElement: element, data } = walk.currentNode;
                const unseen = element.closest(".unseen, .skip, option");
                if (unseen || !element.checkVisibility()) continue;
                words.push(...data.split(/\\s+/).filter(Boolean));
            }
            return words.length;
        }"""
    )


def test_page_is_accessible_and_fits(window, address):
    axe = pytest.importorskip("axe_core_python.sync_playwright").Axe()
    tab = Tab(window, address, ways=True)
    page = tab.page
    found: dict[str, list] = {}
    looks = {
        "desk, light": (DESK, {"color_scheme": "light"}),
        "tablet, dark": (TABLET, {"color_scheme": "dark"}),
        "phone, forced colours": (PHONE, {"color_scheme": "light", "forced_colors": "active"}),
    }

    page.evaluate(axe.axe_script)

    def look_at(what: str, where: str = "html") -> Iterator[tuple[int, int]]:
        # what lies behind a dialog was looked at before it was opened
        for name, (size, colours) in looks.items():
            tab.look(size, **{"forced_colors": "none", **colours})
            asked: dict = {"resultTypes": ["violations"]}
            if size != DESK and what != "table":
                # the same elements as on the desk, in other colours and at another place
                asked["runOnly"] = ["color-contrast", "scrollable-region-focusable"]
            ask = "([where, asked]) => axe.run(where, asked).then((found) => found.violations)"
            found[f"{what}, {name}"] = page.evaluate(ask, [where, asked])
            yield size

    for _ in look_at("bare"):
        assert 30 < words_in_sight(page) < 150
    tab.motif()
    page.wait_for_selector(".way >> nth=1")
    for size in look_at("table"):
        # nothing reaches over the side of the window, and on a desk all is in sight
        wide, high = page.evaluate(
            "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
        )
        assert wide <= size[0]
        assert high <= size[1] or size != DESK
        # the wheel is never caught: a page that is longer than the window goes on
        if size != DESK:
            page.mouse.move(*tab.point("#braid"))
            page.mouse.wheel(0, 300)
            page.wait_for_function("() => scrollY > 0")
            page.evaluate("scrollTo(0, 0)")
    page.click("#ring")
    page.wait_for_selector("#ring-words:not(:empty)")
    list(look_at("ring"))
    page.click("#ring")
    page.click("#more")
    list(look_at("more", "#more-dialog"))
    page.click("[data-open='measured']")
    list(look_at("a tool", "#tool-dialog"))
    page.click("#tool-dialog [data-close]")
    page.click("#more-dialog [data-close]")
    for opens, dialog in (("#more-tray", "#tray-dialog"), ("#from-photo", "#photo-dialog")):
        page.click(opens)
        list(look_at(dialog, dialog))
        page.click(f"{dialog} [data-close]")
    page.click("#why")
    page.wait_for_selector("#report li")
    list(look_at("why", "#why-dialog"))
    faults = [
        f"{where}: {one['id']}: {one['help']}: {node['html'][:160]}"
        for where, violations in found.items()
        for one in violations
        for node in one["nodes"]
    ]
    assert faults == []
    tab.close()
