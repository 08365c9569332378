"""How quickly the page answers, in a real browser: milliseconds, median and worst.

Run with ``python tests/benchmarks/page.py`` from the checkout, on an idle machine.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from page_server import browser, served
from test_page_browser import FIXTURES, Tab

AGAIN = 7


def told(what: str, times_ms: list[float]) -> None:
    print(f"{what:<52} {statistics.median(times_ms):7.0f} {max(times_ms):7.0f}")


def next_frame_ms(tab: Tab, act: str) -> float:
    """From an event to the frame after the one that shows it, on the page's own clock."""
    return tab.page.evaluate(
        f"""async () => {{
            const begin = performance.now();
            {act}
            await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
            return performance.now() - begin;
        }}"""
    )


def pointer(kind: str, where: str, right: float, down: float) -> str:
    return f"""{{
        const canvas = document.querySelector("{where}");
        const box = canvas.getBoundingClientRect();
        canvas.setPointerCapture = () => {{}};
        canvas.dispatchEvent(new PointerEvent("{kind}", {{
            clientX: box.left + {right} * box.width, clientY: box.top + {down} * box.height,
            bubbles: true, pointerId: 1, button: 0,
        }}));
    }}"""


# the driver itself looks only every half second: let the page look at its own clock
WATCH = """([what, words]) => {
    const begun = performance.now();
    const watched = document.querySelector(what);
    const there = () => (words ? watched.textContent.includes(words) : watched.hidden);
    window.seen = new Promise((done) => {
        new MutationObserver(() => {
            if (!there()) return;
            const tell = () => done(performance.now() - begun);
            requestAnimationFrame(() => requestAnimationFrame(tell));
        }).observe(watched, { attributes: true, childList: true, characterData: true });
    });
}"""


def first_looks(chromium, address: str, sketch: str, strands: str) -> None:
    first, final = [], []
    for k in range(AGAIN):
        tab = Tab(chromium, address)
        tab.page.select_option("#strands", strands)
        tab.page.fill("#wrist", f"{160 + k}")  # nothing may be known from the time before
        tab.page.wait_for_timeout(1000)
        tab.page.evaluate(WATCH, ["#empty", ""])
        tab.drop(FIXTURES / "motifs" / sketch)
        first.append(tab.page.evaluate("window.seen"))
        tab.done()
        tab.page.fill("#wrist", f"{180 + k}")
        tab.page.evaluate(WATCH, ["#status", "the motif"])
        final.append(tab.page.evaluate("window.seen"))
        tab.context.close()
    told(f"{sketch}, {strands} strands: drop to first picture", first)
    told(f"{sketch}, {strands} strands: new wrist to end of search", final)


def answers(chromium, address: str, strands: str) -> None:
    tab = Tab(chromium, address)
    tab.page.select_option("#strands", strands)
    tab.drop(FIXTURES / "motifs/heron.png")
    tab.done()
    tab.page.wait_for_selector("#report li")
    print(f"{strands} strands, {len(tab.counts())} colours, {sum(tab.counts().values())} beads:")
    tab.page.click("#beads button:has-text('amber')")
    colour = pointer("pointerdown", "#chart-strip", 0.5, 0.5) + pointer(
        "pointerup", "#chart-strip", 0.5, 0.5
    )
    times = []
    for _ in range(AGAIN):
        times.append(next_frame_ms(tab, colour))
        tab.page.click("#undo")
    told("  colour a bead in all repeats", times)
    key = "document.querySelector('#braid-strip').dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowLeft' }));"  # noqa: E501
    told("  turn the braid", [next_frame_ms(tab, key) for _ in range(AGAIN)])
    tab.page.check("input[value=turn]", force=True)
    down = pointer("pointerdown", "#sketch-strip", 0.5, 0.5)
    next_frame_ms(tab, down)
    moved, seen = [], []
    for k in range(AGAIN):
        begin = time.perf_counter()
        with tab.page.expect_response("**/api/work"):
            act = pointer("pointermove", "#sketch-strip", 0.5, 0.5 + 0.01 * (k + 1))
            moved.append(next_frame_ms(tab, act))
        seen.append(1000 * (time.perf_counter() - begin))
        time.sleep(0.05)
    told("  drag the motif: the sketch follows", moved)
    told("  drag the motif: the beads follow", seen)
    tab.context.close()


def main() -> None:
    print(f"{'':<52} {'median':>7} {'worst':>7}")
    with browser() as chromium, served() as page:
        from himotif.convert.page.jobs import get_ready

        get_ready()
        for sketch, strands in (("heron.png", "8"), ("heron.png", "16"), ("dusk.png", "16")):
            first_looks(chromium, page.address, sketch, strands)
        for strands in ("8", "24"):
            answers(chromium, page.address, strands)


if __name__ == "__main__":
    main()
