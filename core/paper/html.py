"""The set-up sheet as one web page: a single file that asks nothing of the net.

Style and program lie in the file and are named by their digests in the content security policy
(CSP level 3); the policy forbids everything else, also to a name in a palette that would be code.
"""

from __future__ import annotations

import hashlib
import json
from base64 import b64encode
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..drawing.shapes import Page, Shape
from ..drawing.svg import colour, escaped, to_svg
from ..show.preview import bead_shape
from .chart import chart_page
from .disc import disc_shapes, moves_shapes, tuck_shapes
from .drop_key import KEY_MM, TURNED, drop_key
from .legend import BeadStyles
from .sheet_content import STOCK_HEADS, stock_words
from .shopping_wording import format_grams

if TYPE_CHECKING:
    from ..design import Drops
    from .sheet_content import SheetContent, Strand

_EMPTY = "Point at a bead, or tap it, to see where it is strung."


def sheet_html(content: SheetContent) -> str:
    """Return the set-up sheet as a web page.

    Returns
    -------
    str
        A whole HTML document; equal designs give equal pages.
    """
    style = _file("sheet.css") + _bead_styles(content.styles)
    script = _file("sheet.js")
    policy = (
        f"default-src 'none'; style-src {_digest(style)}; script-src {_digest(script)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )
    body = "\n".join(
        [
            _head(content),
            _view(content),
            _section("Setting up", _ticks(content.setting_up + content.plain_start, "set-up")),
            _disc(content),
            _lists(content),
            _chart(content),
            _section("Tying off", _ticks(content.finish, "finish")),
            _section("Take care", _items(content.cautions)),
            _section("Notes", _items(content.remarks)) if content.remarks else "",
            _again(content),
        ]
    )
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escaped(content.heading)}: set-up sheet</title>
<style>{style}</style>
</head>
<body>
{body}
<script type="application/json" id="design">{_data(content)}</script>
<script>{script}</script>
</body>
</html>
"""


@cache
def _file(name: str) -> str:
    return Path(__file__).parent.joinpath("page", name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    return f"'sha256-{b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _bead_styles(styles: BeadStyles) -> str:
    """One class for each bead: styles written into the elements would break the policy."""
    return "".join(
        f".c{index}{{background:{colour(styles.fill(index))};color:{colour(styles.ink(index))}}}\n"
        for index in styles.used
    )


def _data(content: SheetContent) -> str:
    """What the program of the page needs, as JSON that cannot end its element."""
    design, lattice = content.design, content.design.lattice
    shape = bead_shape(lattice)
    numbers = np.arange(len(design.beads))
    facts = {
        "strands": design.braid.strands,
        "perRound": design.braid.beads_per_round,
        "stepDeg": lattice.step_deg,
        "stepMm": lattice.step_mm,
        "riseMm": lattice.rise_mm,
        "radiusMm": lattice.radius_mm,
        "acrossMm": shape.across_mm,
        "alongMm": shape.along_mm,
        "frontDeg": design.front_deg,
        "drops": leans_by_crossing(content.drops),
        "palette": [bead.code_and_name | {"rgb": list(bead.rgb)} for bead in design.on_cord],
        "beads": design.beads.tolist(),
        "strand": (design.braid.strand_of(numbers) + 1).tolist(),
        "turned": [TURNED[int(way)] for way in content.drops.direction]
        if content.drops.count
        else {},
    }
    text = json.dumps(facts, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    facts["name"] = hashlib.sha256(text.encode()).hexdigest()[:16]
    text = json.dumps(facts, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return text.replace("<", "\\u003c")


def leans_by_crossing(drops: Drops) -> dict[str, list[float]]:
    """By crossing, from 0: which way the wide end of a drop leans, right and up, and its sizes."""
    return {
        str(crossing): [round(float(part), 4) for part in drops.drawn_mm[crossing]]
        for crossing in np.flatnonzero(drops.direction).tolist()
    }


# -- parts ---------------------------------------------------------------------------------------


def _name(text: str) -> str:
    """A name in any script, kept from turning round what stands beside it."""
    return f"<bdi>{escaped(text)}</bdi>"


def _section(title: str, content: str) -> str:
    return f"<section>\n<h2>{title}</h2>\n{content}\n</section>"


def _items(lines: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{escaped(line)}</li>" for line in lines) + "</ul>"


def _ticks(lines: Sequence[str], name: str) -> str:
    """Sentences with a box each."""
    rows = "\n".join(
        f'<li><label><input type="checkbox" data-tick="{name}-{number}">{escaped(line)}</label>'
        "</li>"
        for number, line in enumerate(lines)
    )
    return f'<ul class="plain">\n{rows}\n</ul>'


def _head(content: SheetContent) -> str:
    blanks = [("Name", "")] * (content.copies > 1) + content.readings
    lines = "\n".join(
        f'<p>{escaped(label)} <span class="blank"></span> {unit}</p>' for label, unit in blanks
    )
    lay = content.design.braid.lay
    drawn = to_svg(Page(24.0, 24.0, tuple(moves_shapes(lay, 12.0, 12.0, 11.0))), f"{lay} lay")
    moves = f'<div class="moves">{drawn}<p class="small">{lay} lay</p></div>'
    return f"""<header>
{moves}
<h1>{_name(content.heading)}</h1>
<p>{escaped(content.about)}</p>
{lines}
<p class="screen small">Ticks are kept in this browser only.
<span id="forgets" hidden>This browser does not let the page keep them: print it.</span>
<button type="button" id="clear">Clear all ticks</button></p>
<noscript><p>The turning view and the memory of the ticks need JavaScript; lists, disc and chart
do not.</p></noscript>
</header>"""


def _view(content: SheetContent) -> str:
    buttons = "\n".join(
        f'<button type="button" data-act="{act}">{word}</button>'
        for act, word in (
            ("left", "Turn left"),
            ("right", "Turn right"),
            ("up", "Up"),
            ("down", "Down"),
            ("nearer", "Nearer"),
            ("farther", "Farther"),
            ("front", "Front"),
        )
    )
    return f"""<div class="top">
<section class="view">
<h2>The braid</h2>
<canvas id="braid" tabindex="0" role="img" aria-label="The braid, seen from outside. Arrow keys turn
it and move along it, plus and minus zoom, Home shows the front, n and b go to the next bead and
back; the line below names each bead."></canvas>
<p id="bead-line" role="status" aria-live="polite" data-empty="{_EMPTY}">{_EMPTY}</p>
<p class="screen">{buttons}</p>
<p class="screen small">Drag to turn it and to move along it, or use the arrow keys.</p>
</section>
<section class="rest">
<h2>What you need</h2>
{_beads(content)}
{_ticks(content.needs, "need")}
{"".join(f"<p>{escaped(line)}</p>" for line in content.shopping_words)}
</section>
</div>"""


def _weight(grams: tuple[float, float] | None) -> str:
    """A weight under a number; a screen has no room for columns of them."""
    return f"<br><small>{format_grams(grams)}</small>" if grams else ""


def _beads(content: SheetContent) -> str:
    rows, styles = [], content.styles
    copies, stocked = content.copies, content.shopping.reach is not None
    for index, need in zip(styles.used, content.shopping.needs, strict=True):
        bead, short = need.bead, styles.code(index)
        swatch = styles.swatch(index, 0.2, 0.2, (9.6, 4.6))
        more = f", {_name(bead.finish)}" if bead.finish else ""
        more += ", drop" if bead.shape == "drop" else ""
        more += f", code {_name(bead.code)}" if bead.code != short else ""
        more += styles.cord_words(index)
        every, grams = content.for_all(need)
        numbers = [f"{need.count}", f"{every}{_weight(grams)}"]
        if stocked:
            at_hand, to_buy = stock_words(need)
            numbers += [at_hand, to_buy + (_weight(need.buy_grams) if need.short else "")]
        counts = "".join(f'<td class="count">{number}</td>' for number in numbers)
        rows.append(
            f'<tr><td><input type="checkbox" data-tick="bead-{index}" '
            f'aria-label="{escaped(bead.code)} is ready"></td>'
            f"<td>{to_svg(Page(10.0, 5.0, (swatch,)))}</td><th>{_name(short)}</th>"
            f"<td>{_name(bead.name)}{more}</td>{counts}</tr>"
        )
    spare = f"with spare, for {copies}" if copies > 1 else "with spare"
    words = ["beads", spare, *(STOCK_HEADS[:2] if stocked else ())]
    heads = "".join(f'<th class="count">{word}</th>' for word in words)
    head = f"<tr><th>ready</th><th>look</th><th>code</th><th>name</th>{heads}</tr>"
    body = "\n".join(rows)
    table = f"<table>\n<thead>{head}</thead>\n<tbody>\n{body}\n</tbody>\n</table>"
    return f'<div class="wide" tabindex="0" role="region" aria-label="Beads">{table}</div>'


def _drawing(shapes: Sequence[Shape], size_mm: float, title: str) -> str:
    return f'<div class="drawing">{to_svg(Page(size_mm, size_mm, tuple(shapes)), title)}</div>'


def _disc(content: SheetContent) -> str:
    reach, middle = 66.0, 68.0
    disc = disc_shapes(content, middle, middle, reach)
    tucked = tuck_shapes(content.design.braid, 16.0, 16.0, 15.0)
    steps = "".join(f"<li>{escaped(step)}</li>" for step in content.steps)
    more = "".join(f"<p>{escaped(line)}</p>" for line in (*content.at_work, content.rounds_words))
    return _section(
        "At the disc",
        f"<p>{escaped(content.disc_words)}</p>\n"
        f"{_drawing(disc, 2 * middle, 'The disc from above')}\n"
        f"<p><strong>{escaped(content.front_words)}</strong></p>\n<ol>{steps}</ol>\n"
        f"{_drawing(tucked, 32.0, 'The bead under the strand that lies across')}\n"
        f"<p>{escaped(content.tuck_words)}</p>\n{more}",
    )


def _lists(content: SheetContent) -> str:
    strands = "\n".join(_strand(content, strand) for strand in content.strands)
    words = _ticks(content.threading, "thread")
    if content.drops.count:
        key = to_svg(Page(150.0, KEY_MM, tuple(drop_key(0.5, 0.5, 149.0))), "Both ways of a drop")
        words += f'<div class="drawing">{key}</div>' + _items(content.drop_words)
    return _section("Stringing lists", f"{words}\n{strands}")


def _strand(content: SheetContent, strand: Strand) -> str:
    """One list: repeats are shown once, with a box for each time."""
    groups, start = [], 0
    for part in strand.parts:
        stop = start + part.length * part.times
        if part.times > 1:
            beads = _spans(content, strand, start, start + part.length, part.times)
            ends = range(start + part.length, stop + 1, part.length)
            groups.append(f"{part.times} × {beads}{_tick_labels(strand, ends)}")
        else:
            groups += [
                _spans(content, strand, first, min(first + 10, stop))
                + _tick_labels(strand, [min(first + 10, stop)])
                for first in range(start, stop, 10)
            ]
        start = stop
    tens = "".join(f'<span class="ten">{group}</span>' for group in groups)
    folded = ", then ".join(
        str(part._replace(runs=tuple((n, content.label[code]) for n, code in part.runs)))
        for part in strand.parts
    )
    return (
        f'<div class="strand"><h3><label><input type="checkbox" '
        f'data-tick="strand-{strand.number}">Strand '
        f"{strand.number}, slot {strand.slot}</label></h3>\n"
        f"<p>{escaped(folded)} = {len(strand.beads)} beads</p>\n"
        f'<div class="tens">{tens}</div></div>'
    )


def _spans(content: SheetContent, strand: Strand, first: int, stop: int, times: int = 1) -> str:
    """Beads of a list; each knows its crossing, in a repeat the crossing of each time."""
    places = np.arange(first, stop) + (stop - first) * np.arange(times)[:, None]
    crossings = content.design.braid.crossing_of(np.full(places.shape, strand.number - 1), places)
    return "".join(
        f'<span class="b c{strand.beads[k]}" data-n="{" ".join(map(str, own))}">'
        f"{_name(content.label[strand.codes[k]])}</span>"
        for k, own in zip(range(first, stop), crossings.T.tolist(), strict=True)
    )


def _tick_labels(strand: Strand, ends: Sequence[int]) -> str:
    """A box for each number of beads that are on the strand by then."""
    return "".join(
        f'<label><input type="checkbox" data-tick="strand-{strand.number}-{end}" '
        f'aria-label="strand {strand.number}, {end} beads strung">{end}</label>'
        for end in ends
    )


def _chart(content: SheetContent) -> str:
    drawing = to_svg(chart_page(content.design, content.heading), "Flat chart")
    return _section(
        "Chart",
        "<p>At 100 % the paper shows it at its true size.</p>\n"
        f'<div class="drawing chart" id="chart">{drawing}</div>',
    )


def _again(content: SheetContent) -> str:
    """How the papers are made again; a handout does not say it."""
    if content.copies > 1:
        return ""
    joined = escaped("; ".join(content.settings) + ".")
    return _section("To make this page again", f'<p class="small">{joined}</p>')
