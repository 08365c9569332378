"""How soon the page answers, as a maker sees it in a browser.

    python tests/benchmarks/page.py [--strands 8 24] [--tabs 16]

Measures, on 8 and 24 strands: the first look after a drop, the search, the ways, a drag of the
sketch (from the pointer's move to the frame with the beads that follow), a bead coloured by hand,
turning the braid (one frame). With ``--tabs`` so many tabs drop a sketch at once, and the page is
asked for its start meanwhile. Needs Chromium and playwright.
"""

from __future__ import annotations

import argparse
import base64
import sys
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from page_server import browser, served

MOTIF = Path(__file__).resolve().parents[2] / "fixtures" / "motifs" / "sea_aster.png"
DROP = """([name, text]) => {
    const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const carried = new DataTransfer();
    carried.items.add(new File([bytes], name));
    document.body.dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true }));
}"""
TIMES = 5


def opened(chromium, address, strands):
    page = chromium.new_context(viewport={"width": 1366, "height": 768}).new_page()
    page.set_default_timeout(120_000)
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    page.select_option("#strands", str(strands))
    return page


def drop(page):
    page.evaluate(DROP, [MOTIF.name, base64.b64encode(MOTIF.read_bytes()).decode()])


def wait(page, how="done"):
    page.wait_for_selector(f"html[data-work='{how}']", state="attached")


def ms(began):
    return 1000 * (time.perf_counter() - began)


def measured(chromium, address, strands):
    """Milliseconds by what is measured, of one tab."""
    page, found = opened(chromium, address, strands), {}
    began = time.perf_counter()
    drop(page)
    page.wait_for_selector("body:not(.bare)")
    found["first look"] = ms(began)
    wait(page)
    found["search"] = ms(began)
    page.wait_for_selector(".way >> nth=2")
    found["ways"] = ms(began)
    box = page.locator("#frame").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    drags = []
    for k in range(1, TIMES + 1):
        began = time.perf_counter()
        page.mouse.move(x + 3 * k, y - 6 * k)
        page.evaluate("() => new Promise(requestAnimationFrame)")
        drags.append(ms(began))
    page.mouse.up()
    found["drag"] = median(drags)
    wait(page)
    page.click(".dish[data-code='M']")
    page.focus("#braid")
    strokes = []
    for _ in range(TIMES):
        page.keyboard.press("ArrowUp")
        before = page.inner_text(".dish[data-code='M'] .note")
        began = time.perf_counter()
        page.keyboard.press("Space")
        page.wait_for_function(
            "before => document.querySelector(\".dish[data-code='M'] .note\").innerText != before",
            arg=before,
        )
        strokes.append(ms(began))
        page.keyboard.press("Control+z")
    found["colouring"] = median(strokes)
    found["turning"] = page.evaluate(
        """async () => {
            const frames = [];
            document.querySelector("#braid").focus();
            for (let k = 0; k < 20; k += 1) {
                const began = performance.now();
                document.querySelector("#turn-braid").click();
                await new Promise(requestAnimationFrame);
                await new Promise(requestAnimationFrame);
                frames.push(performance.now() - began);
            }
            return frames.sort((a, b) => a - b)[10];
        }"""
    )
    page.context.close()
    return found


def many(chromium, address, tabs):
    """Seconds until all tabs are done, and the longest that the page took to answer meanwhile."""
    pages = [opened(chromium, address, 8) for _ in range(tabs)]
    began = time.perf_counter()
    for page in pages:
        drop(page)
    slowest = 0.0
    for page in pages:
        asked = time.perf_counter()
        page.evaluate("fetch('api/start').then((answer) => answer.json())")
        slowest = max(slowest, time.perf_counter() - asked)
    for page in pages:
        wait(page)
    took = time.perf_counter() - began
    for page in pages:
        page.context.close()
    return took, slowest


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--strands", type=int, nargs="+", default=[8, 24])
    parser.add_argument("--tabs", type=int, default=0)
    asked = parser.parse_args()
    with browser() as chromium, served() as page:
        rows = {strands: measured(chromium, page.address, strands) for strands in asked.strands}
        names = list(next(iter(rows.values())))
        print("| ms | " + " | ".join(names) + " |")
        print("|---:|" + "---:|" * len(names))
        for strands, found in rows.items():
            print(f"| {strands} strands | " + " | ".join(f"{found[n]:.0f}" for n in names) + " |")
        if asked.tabs:
            took, slowest = many(chromium, page.address, asked.tabs)
            print(f"{asked.tabs} tabs: all done in {took:.1f} s, start answered in {slowest:.2f} s")


if __name__ == "__main__":
    main()
