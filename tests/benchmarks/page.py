"""How soon the page answers, as a maker sees it in a browser.

    python tests/benchmarks/page.py [--strands 8 24] [--tabs 16]

Measures, on 8 and 24 strands: the first look after a drop, the search, the ways, a drag of the
sketch (from the pointer's move to the frame with the beads that follow), a bead coloured by hand,
turning the braid (one frame). With ``--tabs`` so many tabs drop a sketch at once, and the page is
asked for its start meanwhile; ``page_table.txt`` has its output. Needs Chromium and playwright.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import os
import re
import subprocess
import sys
import threading
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from himotif.convert.page.jobs import get_ready
from page_server import browser, served

MOTIF = Path(__file__).resolve().parents[2] / "fixtures" / "motifs" / "sea_aster.png"
DROP = """([name, text]) => {
    const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const carried = new DataTransfer();
    carried.items.add(new File([bytes], name));
    document.body.dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true }));
}"""
TIMES = 5
ASK = """
import sys, threading, time, urllib.request
over = threading.Event()
threading.Thread(target=lambda: (sys.stdin.readline(), over.set()), daemon=True).start()
print("ready", flush=True)
while not over.wait(0.05):
    asked = time.perf_counter()
    with urllib.request.urlopen(sys.argv[1], timeout=60) as answer:
        answer.read()
    print(time.perf_counter() - asked, flush=True)
"""


def opened(chromium, address, strands):
    page = chromium.new_context(viewport={"width": 1366, "height": 768}).new_page()
    page.set_default_timeout(120_000)
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    page.select_option("#strands", str(strands))
    return page


def drop(page, motif=MOTIF):
    page.evaluate(DROP, [motif.name, base64.b64encode(motif.read_bytes()).decode()])


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
    """What it takes when all tabs drop a sketch at once, each another.

    Returns
    -------
    done_s : float
        Until the last tab is done.
    answers_s : list of float
        How long the page took to answer others meanwhile, asked twenty times a second.
    most_mb, processes : float, int
        Memory that the page's processes take at most, shared pages in parts; how many they are.
    """
    pages = [opened(chromium, address, 8) for _ in range(tabs)]
    sizes, over = [], threading.Event()
    # a process of its own, as a browser is: the server shares no interpreter with it
    asking = subprocess.Popen(
        [sys.executable, "-c", ASK, f"{address}api/start"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    asking.stdout.readline()

    def weigh():
        while not over.wait(0.5):
            sizes.append(memory_mb())

    watching = threading.Thread(target=weigh)
    watching.start()
    began = time.perf_counter()
    motifs = sorted(MOTIF.parent.glob("*.png"))
    for place, page in enumerate(pages):
        drop(page, motifs[place % len(motifs)])  # no answer is there already
    for page in pages:
        wait(page)
    took = time.perf_counter() - began
    over.set()
    watching.join()
    answers = [float(line) for line in asking.communicate("over\n")[0].split()]
    for page in pages:
        page.context.close()
    most, processes = max(sizes)
    return took, answers, most, processes


def memory_mb():
    """Memory of this process and its workers, and how many they are; Linux only."""
    found, count = 0, 0
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            words = (folder / "cmdline").read_bytes()
            worker = b"multiprocessing" in words and os.getpgid(int(folder.name)) == os.getpgrp()
            if worker or int(folder.name) == os.getpid():
                text = (folder / "smaps_rollup").read_text()
                found += int(re.search(r"^Pss: +(\d+) kB", text, re.MULTILINE)[1]) / 1024
                count += 1
    return found, count


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--strands", type=int, nargs="+", default=[8, 24])
    parser.add_argument("--tabs", type=int, default=0)
    asked = parser.parse_args()
    with browser() as chromium, served() as page:
        get_ready()  # as `himotif page` does
        page.workspace.workers.call(abs, 1)  # nobody drops as fast as we do
        rows = {strands: measured(chromium, page.address, strands) for strands in asked.strands}
        names = list(next(iter(rows.values())))
        print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before; all in one run\n")
        print("| ms | " + " | ".join(names) + " |")
        print("|---:|" + "---:|" * len(names))
        for strands, found in rows.items():
            print(f"| {strands} strands | " + " | ".join(f"{found[n]:.0f}" for n in names) + " |")
        if asked.tabs:
            took, answers, most, processes = many(chromium, page.address, asked.tabs)
            answers.sort()
            late = sum(one > 0.3 for one in answers)
            often = len(answers)
            print(f"\n{asked.tabs} tabs drop a sketch each at once: all done in {took:.1f} s;")
            print(f"meanwhile the page answers in {median(answers):.3f} s ({often} times), in more")
            print(f"than 0.3 s {late} times, in {answers[-1]:.3f} s at most;")
            print(f"server and workers: {processes} processes, {most:.0f} MB at most")


if __name__ == "__main__":
    main()
