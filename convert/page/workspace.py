"""What the page works with: pictures, palettes and designs in memory, the newest kept.

A tab keeps no state here: it names the picture and the palette by their ids and sends its order,
so two tabs never disturb each other. What was brought and is no longer in memory is read again
from the saved work of the tab; see `works`.
"""

from __future__ import annotations

import base64
import contextlib
import csv
import hashlib
import io
import zipfile
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields, replace
from threading import Lock
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import numpy as np

from ...core._data import parse_json
from ...core.bead import Bead
from ...core.braid import disc_from_dict
from ...core.design import design_from_dict, design_json, drop_directions, settings_dict
from ...core.drawing.typeface import Typeface
from ...core.errors import HimotifError, WrongUsage
from ...core.findings import Code, first_with
from ...core.finish import finish_of
from ...core.making.swatch import readings_from_dict
from ...core.names import writable
from ...core.show.ring import Ring, ring_of
from ...palette import Palette, hex_of, parse_palette
from ..fit.placement import most_width_mm
from ..options import Limits, Order, table
from ..write import with_manifest
from . import jobs
from .drawing import closed, drawing, geometry, leaning
from .form import form_of
from .order import limits_from, order_from, papers_from, validate
from .wording import said, status, texts, verdict
from .worker import WorkerLost, Workers
from .works import SUFFIX, Brought, Work, Works, new_id, unpacked, unzipped

if TYPE_CHECKING:
    from ...core.design import Design
    from ...core.paper.sheet_content import SheetContent
    from ..job import Made
    from ..options import Papers
    from ..read import Picture, Sketch
    from .jobs import Corners

DECODE_S = 30.0
WORK_S = 180.0
"""A picture, a search: longer than this and it is stopped."""

TRACING_PX = 900
"""Longer side of a sketch as it is laid over the braid, at most."""

MOST_DRAWN = 300_000
"""Letters of a picture for the list of works."""

T = TypeVar("T")


class Gone(HimotifError):
    """What was asked for is no longer in the workspace."""


class Store(Generic[T]):
    """The newest few of some things, by id."""

    def __init__(self, what: str, most: int) -> None:
        self._what, self._most = what, most
        self._held: OrderedDict[str, T] = OrderedDict()
        self._lock = Lock()

    def put(self, key: str, value: T) -> str:
        with self._lock:
            self._held[key] = value
            self._held.move_to_end(key)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
        return key

    def get(self, key: Any) -> T:
        found = self.find(key)
        if found is None:
            raise Gone(f"The page does not hold this {self._what} any more. Give it once more.")
        return found

    def find(self, key: Any) -> T | None:
        with self._lock:
            if not isinstance(key, str) or key not in self._held:
                return None
            self._held.move_to_end(key)
            return self._held[key]


@dataclass(frozen=True, eq=False)
class Subject:
    """A design in the workspace: made from a picture here, or opened from its file.

    Parameters
    ----------
    design : Design
    made : Made, optional
        How it came about.
    sketch : str
        Name of the picture that was brought; none of a text or an opened design.
    """

    design: Design
    made: Made | None = None
    sketch: str = ""

    @property
    def name(self) -> str:
        """A name for its folder, as a disk takes it: the text, or the picture's."""
        return _tidy(_stem(self.sketch) or self.design.named)

    @property
    def content(self) -> SheetContent:
        """What its papers say."""
        from ...core.paper.sheet_content import SheetContent

        return SheetContent(self.design, findings=() if self.made is None else self.made.findings)

    def recoloured(self, beads: Any) -> Subject:
        """Return it with the beads as edited on the page; as it is if there are none."""
        if beads is None:
            return self
        edited = _beads(beads, self.design)
        if self.made is not None:
            made = jobs.recoloured(self.made, edited)
            return replace(self, made=made, design=made.design)
        return replace(self, design=replace(self.design, beads=edited))

    def on(self, papers: Papers) -> Subject:
        """Return it with its papers made so."""
        design = replace(self.design, papers=papers.choice(self.design.papers))
        made = None if self.made is None else replace(self.made, design=design)
        return replace(self, design=design, made=made)


class Workspace:
    """Everything the page asks for.

    Parameters
    ----------
    works : Works
        Where works are saved.
    """

    def __init__(self, works: Works) -> None:
        self.works = works
        self.workers = Workers(jobs.get_ready, WORK_S)
        # first looks are made here, one at a time: more would keep all other answers waiting
        self._looking = Lock()
        self.decoders = Workers(jobs.get_ready_to_decode, DECODE_S, once=True)
        self._brought: Store[Brought] = Store("file", 12)
        self._pictures: Store[Picture] = Store("sketch", 6)
        # as they were read, by picture and kind: each is placed many times
        self._sketches: Store[Sketch] = Store("sketch", 6)
        self._palettes: Store[Palette] = Store("palette", 24)
        self._subjects: Store[Subject] = Store("design", 48)
        self._drawn: Store[bytes] = Store("picture", 6)
        self._files: Store[tuple[str, bytes]] = Store("file", 6)

    def close(self) -> None:
        """End all work."""
        self.works.close()
        self.workers.close()
        self.decoders.close()

    # -- what is brought ---------------------------------------------------------------------------

    def bring_picture(self, data: bytes, name: str) -> dict[str, Any]:
        """Keep a picture; it is read in a process of its own, unless it is held already."""
        key = _digest(name, data)
        picture = self._pictures.find(key)
        if picture is None:
            try:
                picture = self.decoders.call(jobs.decode, data, name)
            except WorkerLost as error:
                raise HimotifError(f"{name}: {error}") from None
            self._pictures.put(key, picture)
        self._brought.put(key, Brought(name, data))
        sheet = first_with(picture.findings, Code.SHEET_FOUND)
        return {
            "id": key,
            "name": picture.name,
            "size_px": list(picture.size_px),
            "corners_px": None if sheet is None else sheet.data["corners_px"],
            "notes": [said(one) for one in picture.findings],
        }

    def picture(self, key: Any, work: str = "", corners_px: Corners | None = None) -> Picture:
        """Return a picture; read again from what was brought if it was let go.

        Parameters
        ----------
        key : str
        work : str
            Whose file has it, too.
        corners_px : four of (float, float), optional
            Corners of the sheet in a photograph of one; none of them for the photograph itself.
        """
        held = key if corners_px is None else _digest(str(key), corners_px)
        found = self._pictures.find(held)
        if found is not None:
            return found
        kept = self._file(key, work, "sketch")
        picture: Picture = self.decoders.call(jobs.decode, kept.data, kept.name, corners_px)
        return self._pictures.get(self._pictures.put(str(held), picture))

    def _file(self, key: Any, work: str, what: str) -> Brought:
        found = self._brought.find(key)
        if found is None and work and isinstance(key, str):
            with contextlib.suppress(HimotifError):
                found = self.works.read(work, f"files/{key}/").files.get(key)
        if found is None:
            raise Gone(f"The page does not hold this {what} any more. Bring it once more.")
        self._brought.put(str(key), found)
        return found

    def picture_png(self, key: str, work: str, corners: str = "") -> bytes:
        """Return a picture as it was read, the right way up and in its right colours."""
        asked = table(Order)["paper_corners"].read(corners) if corners else None
        picture = self.picture(key, work, asked)
        times = max(1, -(-max(picture.alpha.shape) // TRACING_PX))
        return _png(picture.linear[::times, ::times], picture.alpha[::times, ::times])

    def bring_palette(self, data: bytes, name: str) -> dict[str, Any]:
        """Read a palette and keep it."""
        return self.take(parse_palette(data, name))

    def take(self, palette: Palette) -> dict[str, Any]:
        """Keep a palette; return what there is to say of it, and how its beads look in a dish."""
        from ...palette import PaletteReport

        # equal beads have the same id, however they came
        key = self._palettes.put(_digest(palette.beads), palette)
        facts = PaletteReport.of(palette).as_dict()
        for plain, bead in zip(facts["beads"], palette.beads, strict=True):
            plain["look"] = asdict(finish_of(bead.finish))
        return {"id": key, **facts}

    def tray(self, plain: Mapping[str, Any]) -> Palette:
        """Return a palette as it stands in the tray.

        Parameters
        ----------
        plain : mapping
            ``name``, and ``beads`` as `bring_palette` returns them.
        """
        name = writable(str(plain.get("name") or "tray"))[:120]
        return parse_palette(_csv_of(plain.get("beads")), name, lined=False)

    def palette(self, plain: Mapping[str, Any]) -> dict[str, Any]:
        """Keep a palette as it stands in the tray; see `tray`."""
        return self.take(self.tray(plain))

    def palette_file(self, plain: Mapping[str, Any]) -> tuple[str, bytes]:
        """Return the name and the text of a tray's CSV file."""
        from ...palette import palette_file

        palette = self.tray(plain)
        file = f"{_tidy(_stem(palette.name))}.csv"
        return file, palette_file(palette, file)[0]

    def bring_photograph(self, data: bytes, name: str) -> dict[str, Any]:
        """Keep a photograph of beads, or of a sheet: as it is, nothing is looked for on it."""
        key = _digest(name, data)
        self._brought.put(key, Brought(name, data))
        return {"id": key, "name": name, "size_px": self.photograph_px(key)}

    def photograph_px(self, key: Any, work: str = "") -> list[int]:
        """Return the width and height of a photograph that was brought."""
        return list(self.picture(key, work, ()).size_px)

    def bring_swatch(self, data: bytes, name: str) -> dict[str, Any]:
        """Read a swatch file; the page sends the readings back with its order."""
        plain = _json(data, name, "a swatch file. Choose one made with himotif swatch --record")
        readings_from_dict(plain, name)
        return {"name": name, "readings": plain}

    def bring_start(self, data: bytes, name: str) -> dict[str, Any]:
        """Read an own start; the page sends it back with its order."""
        plain = _json(
            data, name, "the file of your own disc: its slots, and the pairs you begin with"
        )
        disc_from_dict(plain, name)
        return {"name": name, "value": plain}

    def bring_font(self, data: bytes, name: str) -> dict[str, Any]:
        """Keep a typeface."""
        self.decoders.call(jobs.check_font, data, name)
        key = _digest("font", data)
        self._brought.put(key, Brought(name, data))
        return {"name": name, "id": key, "value": key}

    def bring_design(self, data: bytes, name: str) -> dict[str, Any]:
        """Read a design file and put it into the workspace."""
        plain = _json(data, name, "a design file. Choose a design.json that himotif made")
        design = design_from_dict(plain, name)
        key = self._subjects.put(_digest("design", data), Subject(design))
        self._brought.put(key, Brought(name, data))
        return {
            **self._answer(key, ""),
            "file": key,
            "name": self._subjects.get(key).name,
            "palette_of": self.take(Palette(design.palette, name)),
            "settings": settings_dict(design.origin, design.papers),
            "braid": plain["braid"],
            "order": form_of(design),
        }

    def opened(self, key: Any, work: str) -> dict[str, Any]:
        """Return a design that was opened before."""
        kept = self._file(key, work, "design")
        return self.bring_design(kept.data, kept.name)

    def bring_work(self, data: bytes, name: str) -> dict[str, Any]:
        """Read a work file, or the zip of a folder.

        Returns
        -------
        dict
            ``work``: the id under which it is saved; or ``design``, as `bring_design` returns it.
        """
        work = unpacked(data, name)
        if work is not None:
            key = new_id()
            self.works.save(key, replace(work, plain={**work.plain, "rev": 0}))
            return {"work": key}
        held = unzipped(io.BytesIO(data), name)
        designs = [content for path, content in held.items() if path.endswith("design.json")]
        if len(designs) != 1:
            raise HimotifError(f"{name} holds no design. Open a work, or the zip of a folder.")
        return {"design": self.bring_design(designs[0], name)}

    # -- what is saved -----------------------------------------------------------------------------

    def save(self, key: str, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Save the work of a tab.

        Parameters
        ----------
        key : str
            Of the work.
        asked : mapping
            ``rev``, ``name``, ``now``, ``past``, ``future``; ``picture``: PNG in base 64;
            ``key`` and ``beads`` of the design that is seen.
        """
        now = _mapping(asked.get("now"))
        past, future = (_states(asked.get(name)) for name in ("past", "future"))
        plain = {"name": str(asked.get("name", ""))[:120], "rev": _whole(asked.get("rev"))}
        plain |= {"now": now, "past": past, "future": future}
        plain |= {
            "palettes": _mapping(asked.get("palettes")),
            "key": str(asked.get("key", ""))[:64],
        }
        wanted = {
            str(_mapping(state.get(part)).get("id"))
            for state in (now, *past, *future)
            for part in ("sketch", "design", "font")
            if state.get(part)
        }
        files = {}
        for one in wanted:
            with contextlib.suppress(Gone):
                files[one] = self._file(one, key, "file")
        design = None
        with contextlib.suppress(HimotifError):
            seen = self.seen(asked.get("key"), asked.get("beads"), _mapping(now.get("order")))
            design = design_json(seen.design).encode()
        return self.works.save(key, Work(plain, files, _drawn(asked.get("picture")), design))

    def work_file(self, key: str) -> tuple[str, bytes]:
        """Return the name and the content of a work file."""
        work = self.works.read(key)
        return f"{_tidy(str(work.plain.get('name', '')))}{SUFFIX}", work.packed()

    # -- what is asked -----------------------------------------------------------------------------

    def work(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Make a design: a first look at once, or the whole search in a worker.

        Parameters
        ----------
        asked : mapping
            ``picture``, ``palette`` (ids), ``off`` (codes left out), ``order`` (the form),
            ``quick``, ``have`` (key of the geometry that the tab has), ``work`` (its id),
            ``tab``: older work of that browser tab is ended.
        """
        order, picture, palette = self.asked(asked)
        doubts = validate(order, palette)
        key = _digest(str(asked.get("picture")), str(asked.get("palette")), palette.codes, order)
        if self._subjects.find(key) is None:
            read = _digest(str(asked.get("picture")), order.kind, order.paper_corners)
            try:
                made = self._make(order, picture, palette, self._sketches.find(read), asked["tab"])
            except WrongUsage as error:
                # a wrist that was asked about is to blame first
                raise (error.at("wrist_mm") if "wrist" in doubts else error) from None
            if made.conversion.composed is None:
                self._sketches.put(read, made.conversion.sketch)
            sketch = "" if picture is None else picture.name
            self._subjects.put(key, Subject(made.design, made, sketch))
        answer = self._answer(key, str(asked.get("have", "")))
        subject = self._subjects.get(key)
        found = () if subject.made is None else subject.made.findings
        if (short := first_with(found, Code.SHORT_OF_ROOM)) is not None:
            doubts["up"] = short
        asked_about = {field: said(one) for field, one in doubts.items()}
        return {**answer, "quick": order.quick, "doubts": asked_about}

    def asked(self, asked: Mapping[str, Any]) -> tuple[Order, Picture | None, Palette]:
        """Return what is asked for; see `work`."""
        plain, work = _mapping(asked.get("order")), str(asked.get("work") or "")
        font = None
        if plain.get("font"):
            kept = self._file(plain["font"], work, "typeface")
            font = Typeface(kept.data, kept.name)
        order = order_from(plain, bool(asked.get("quick")), font)
        picture = None
        if order.text is None and asked.get("picture") is not None:
            picture = self.picture(asked["picture"], work, order.paper_corners)
        palette = _without(self._palettes.get(asked.get("palette")), asked.get("off") or ())
        return order, picture, palette

    def seen(self, key: Any, beads: Any, plain: Mapping[str, Any]) -> Subject:
        """Return a design as it is seen, with the papers that are asked for.

        Parameters
        ----------
        key : str
        beads : list of int, optional
            As they are edited.
        plain : mapping
            The form.
        """
        return self._subjects.get(key).recoloured(beads).on(papers_from(plain))

    def _make(
        self,
        order: Order,
        picture: Picture | None,
        palette: Palette,
        sketch: Sketch | None,
        tab: str,
    ) -> Made:
        if order.quick and order.font is None:
            # the search for what was asked before is of no use any more
            self.workers.drop(tab)
            with self._looking:
                made = jobs.work(order, picture, palette, sketch)
        else:
            made = self.workers.call(jobs.work, order, picture, palette, sketch, tab=tab)
        composed = made.conversion.composed
        if composed is not None:
            return replace(made, picture=composed.picture)
        assert picture is not None
        return replace(made, picture=picture)

    def _answer(self, key: str, have: str) -> dict[str, Any]:
        subject = self._subjects.get(key)
        design, made = subject.design, subject.made
        drawn = drawing(design)
        out: dict[str, Any] = {"key": key, **drawn, "made": made is not None}
        out["closes"] = ring_of(design) is not None
        if drawn["geometry_key"] != have:
            out["geometry"] = geometry(design)
        if made is not None:
            placement, tile = made.conversion.placement, made.conversion.tile
            out |= {
                "unmoved_mm": tile.middle_mm - tile.up_mm,
                "kind": made.conversion.kind,
                "composed": made.conversion.composed is not None,
                "width_mm": placement.width_mm,
                "most_width_mm": most_width_mm(design.lattice, placement.fit),
                "sketch_mm": [design.lattice.circumference_mm, placement.height_mm],
                "verdict": verdict(made),
                "notes": [said(one, design.unit) for one in made.findings],
            }
        return out

    def ways(self, key: str, tab: str) -> Iterator[dict[str, Any]]:
        """Return ways to work a motif, as they are found; see `jobs.ways`."""
        subject = self._subjects.get(key)
        if subject.made is None:
            return iter(())
        return self.workers.stream(jobs.ways, subject.made, tab=f"{tab} ways")

    def remedies(self, key: str, tab: str) -> list[dict[str, Any]]:
        """Return what helps against too few beads, each tried; see `jobs.remedies`."""
        subject = self._subjects.get(key)
        if subject.made is None:
            return []
        found: list[dict[str, Any]] = self.workers.call(
            jobs.remedies, subject.made, tab=f"{tab} remedies"
        )
        return found

    def tally(self, key: str, beads: Any, plain: Mapping[str, Any]) -> dict[str, Any]:
        """Return what a design takes, and its stringing lists; see `seen`."""
        from ...core.making.materials import materials
        from ...core.paper.shopping_wording import need_line, shopping_lines

        subject = self.seen(key, beads, plain)
        limits_from(plain)  # what is wrong in them is said at once
        design, content = subject.design, subject.content
        needed = materials(design)
        return {
            "about": content.about,
            "line": status(subject.made, needed),
            "needs": [
                {
                    "code": need.bead.code,
                    "count": need.count,
                    "short": need.buy if need.short else 0,
                    "line": need_line(need),
                }
                for need in needed.needs
            ],
            "lines": [*shopping_lines(needed), *texts(needed.findings)],
            "strands": [
                {"number": strand.number, "slot": strand.slot, "list": strand.folded}
                for strand in content.strands
            ],
            "cautions": content.cautions,
            "drops": leaning(drop_directions(design).drawn_mm),
        }

    def ring(self, key: str, beads: Any, plain: Mapping[str, Any]) -> dict[str, Any]:
        """Return the bracelet closed, to draw from; see `drawing.closed`."""
        return closed(*self._ring(key, beads, plain))

    def ring_picture(self, key: str, beads: Any, plain: Mapping[str, Any]) -> bytes:
        """Return the bracelet closed as PNG, as it lies in the folder."""
        of = self._ring(key, beads, plain)
        drawn: bytes = self.workers.call(jobs.ring_png, *of)
        return drawn

    def _ring(self, key: str, beads: Any, plain: Mapping[str, Any]) -> tuple[Design, Ring]:
        design = self.seen(key, beads, plain).design
        ring = ring_of(design)
        if ring is None:
            raise HimotifError("This braid is too short to be closed round a wrist.")
        return design, ring

    def report(self, key: str, beads: Any, plain: Mapping[str, Any], tab: str) -> dict[str, Any]:
        """Return what the braid does to the sketch."""
        subject = self.seen(key, beads, plain)
        if subject.made is None:
            raise Gone("This design came without its sketch. Bring the sketch to compare the two.")
        findings, drawn = self.workers.call(jobs.distortion, subject.made, tab=f"{tab} report")
        return {
            "findings": [said(one, subject.design.unit) for one in findings],
            "picture": self._drawn.put(_digest(drawn), drawn),
        }

    def missed(self, key: str, beads: Any, plain: Mapping[str, Any], tab: str) -> list[str]:
        """Return what misses the limits that are asked for."""
        subject, limits = self.seen(key, beads, plain), limits_from(plain)
        if subject.made is None or limits == Limits():
            return []
        found = self.workers.call(subject.made.missed_limits, limits, tab=f"{tab} limits")
        return texts(found, subject.design.unit)

    def report_svg(self, key: str) -> bytes:
        """Return the picture of a report."""
        return self._drawn.get(key)

    def folder(self, key: str, beads: Any, plain: Mapping[str, Any]) -> tuple[str, bytes]:
        """Return the name and the content of the folder's zip file."""
        from ..write.outputs import folder_files

        subject, papers = self.seen(key, beads, plain), papers_from(plain)
        if subject.made is None:
            files = self.workers.call(folder_files, subject.design, papers)
        else:
            files = self.workers.call(subject.made.files, papers)
        return f"{subject.name}.zip", zip_bytes(subject.name, with_manifest(files))

    def keep_file(self, name: str, content: bytes) -> str:
        """Keep a file that a tool made, until it is saved; return its id."""
        return self._files.put(_digest(name, content), (name, content))

    def keep_folder(self, name: str, files: Mapping[str, bytes]) -> str:
        """Keep a folder that a tool made, as a zip file; return its id."""
        return self.keep_file(f"{name}.zip", zip_bytes(name, with_manifest(files)))

    def file(self, key: Any) -> tuple[str, bytes]:
        """Return the name and the content of a file that a tool made."""
        return self._files.get(key)

    def sheet(self, key: str, beads: Any, plain: Mapping[str, Any]) -> tuple[str, bytes]:
        """Return the name and the printed set-up sheet as PDF."""
        from ...core.paper.setup import setup_pdf

        subject = self.seen(key, beads, plain)
        drawn: bytes = self.workers.call(setup_pdf, subject.content)
        return f"{subject.name}.pdf", drawn

    def sheet_pages(self, key: str, beads: Any, plain: Mapping[str, Any]) -> list[str]:
        """Return the pages of the set-up sheet as SVG."""
        content = self.seen(key, beads, plain).content
        pages: list[str] = self.workers.call(jobs.sheet_svgs, content)
        return pages

    def design_file(self, key: str, beads: Any, plain: Mapping[str, Any]) -> tuple[str, bytes]:
        """Return the name and the text of a design's file."""
        subject = self.seen(key, beads, plain)
        return f"{subject.name}.design.json", design_json(subject.design).encode()


def _stem(name: str) -> str:
    return name.rpartition(".")[0] or name


def _tidy(name: str) -> str:
    kept = "".join(letter if letter.isalnum() or letter in "-_ " else "_" for letter in name)
    return kept.strip()[:80] or "braid"


def zip_bytes(folder: str, files: Mapping[str, bytes]) -> bytes:
    """Return a zip file of one folder; equal files give equal bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in sorted(files.items()):
            item = zipfile.ZipInfo(f"{folder}/{name}")
            item.compress_type = zipfile.ZIP_DEFLATED
            item.external_attr = 0o644 << 16
            packed.writestr(item, content)
    return out.getvalue()


def _without(palette: Palette, off: Any) -> Palette:
    """The palette without the beads that are switched off."""
    codes = {str(code) for code in off} if isinstance(off, list) else set()
    kept = [number for number, code in enumerate(palette.codes) if code not in codes]
    if len(kept) < min(2, len(palette)):
        raise WrongUsage("Tick at least two beads: one for the motif, one round it.", "palette")
    return palette.subset(kept) if len(kept) < len(palette) else palette


def _beads(beads: Any, design: Design) -> Any:
    """Edited beads, checked: as many as the design has, each in its palette."""
    count, kinds = len(design.beads), len(design.palette)
    if (
        not isinstance(beads, list)
        or len(beads) != count
        or not all(type(bead) is int and 0 <= bead < kinds for bead in beads)
    ):
        raise HimotifError("The edited beads do not fit the design. Load the page again.")
    return np.array(beads, dtype=np.intp)


def _csv_of(beads: Any) -> bytes:
    """The beads of a tray as a palette file; its reader says what is wrong with them."""
    if not isinstance(beads, list) or not all(isinstance(bead, dict) for bead in beads):
        raise HimotifError("These are no beads. Load the page again.")
    out = io.StringIO()
    table = csv.writer(out)
    optional = [item.name for item in fields(Bead)[3:]]
    columns = ("code", "name", "colour", *optional)
    table.writerow(columns)
    for bead in beads:
        rgb = bead.get("rgb")
        if not isinstance(rgb, list) or len(rgb) != 3 or not all(type(c) is int for c in rgb):
            raise HimotifError("A bead of the tray has no colour. Load the page again.")
        texts = {name: str(bead.get(name, ""))[:200] for name in columns}
        texts["colour"] = hex_of([min(255, max(0, code)) for code in rgb])
        table.writerow([texts[name] for name in columns])
    return out.getvalue().encode(errors="replace")


def _states(value: Any) -> list[Mapping[str, Any]]:
    return [one for one in value if isinstance(one, Mapping)] if isinstance(value, list) else []


def _whole(value: Any) -> int:
    return value if type(value) is int and value >= 0 else 0


def _drawn(value: Any) -> bytes | None:
    """A picture for the list of works; none if it is none."""
    if not isinstance(value, str) or len(value) > MOST_DRAWN:
        return None
    try:
        data = base64.b64decode(value, validate=True)
    except ValueError:
        return None
    return data if data.startswith(b"\x89PNG\r\n\x1a\n") else None


def _json(data: bytes, name: str, what: str) -> Any:
    return parse_json(data, name, f"Choose {what}.")


def _mapping(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def _digest(*parts: object) -> str:
    found = hashlib.sha256()
    for part in parts:
        found.update(part if isinstance(part, bytes) else repr(part).encode())
        found.update(b"\0")
    return found.hexdigest()[:24]


def _png(linear: Any, alpha: Any) -> bytes:
    """Return linear light and opacity as PNG."""
    from PIL import Image

    from ...core.srgb import linear_to_srgb

    pixels = np.empty((*alpha.shape, 4), dtype=np.uint8)
    pixels[..., :3] = linear_to_srgb(linear)
    pixels[..., 3] = np.rint(np.clip(alpha, 0, 1) * 255)
    out = io.BytesIO()
    Image.fromarray(pixels, "RGBA").save(out, "PNG", compress_level=1)
    return out.getvalue()
