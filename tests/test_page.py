"""The page's server: who may ask, what it answers, and what a hostile file can do to it."""

from __future__ import annotations

import csv
import hashlib
import http.client
import io
import json
import math
import os
import re
import struct
import subprocess
import sys
import threading
import time
import zipfile
import zlib
from collections import Counter
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote, urlsplit
from xml.etree import ElementTree

import numpy as np
import pypdf
import pytest
from bead_photo import DrawnHeap, Scene, render
from click.testing import CliRunner
from finding_examples import EXAMPLES
from himotif.convert.cli import main
from himotif.convert.job import make
from himotif.convert.options import Limits, Order, Papers, table
from himotif.convert.page import disc_view, jobs
from himotif.convert.page.drawing import leaning, piece
from himotif.convert.page.form import page_html
from himotif.convert.page.order import order_from
from himotif.convert.page.server import MOST_UPLOAD
from himotif.convert.page.wording import said
from himotif.convert.page.worker import Superseded, Worker, WorkerLost, Workers
from himotif.convert.page.works import Brought, Work, Works
from himotif.convert.read import read_picture
from himotif.convert.read import sketch as reading
from himotif.convert.write.outputs import blank_file
from himotif.core.bead import bead_size
from himotif.core.braid import Braid, Lattice
from himotif.core.design import (
    PaperChoice,
    design_from_dict,
    design_json,
    drop_directions,
    mirror_design,
    stringing_csv,
)
from himotif.core.drawing.fonts import font_bytes
from himotif.core.errors import HimotifError, WrongUsage
from himotif.core.findings import Code, Finding
from himotif.core.paper.sheet_content import SheetContent
from himotif.core.paper.wording import sentence
from himotif.palette import Palette, read_palette
from page_server import served
from PIL import Image, ImageDraw
from sheet_designs import marsh

FIXTURES = Path(__file__).parent.parent / "fixtures"


class Client:
    """Asks the page as its own scripts do, unless told otherwise."""

    def __init__(self, address: str) -> None:
        self.host = urlsplit(address).netloc
        self.path = urlsplit(address).path
        self.held: dict[Path, dict] = {}

    def ask(self, path, body=None, method=None, absolute=False, **headers):
        """Return status, headers and content."""
        connection = http.client.HTTPConnection(self.host, timeout=60)
        sent = {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        sent |= {key.replace("_", "-"): value for key, value in headers.items()}
        if isinstance(body, dict):
            body = json.dumps(body).encode()
        try:
            connection.request(
                method or ("GET" if body is None else "POST"),
                path if absolute else self.path + path,
                body=body,
                headers={key: value for key, value in sent.items() if value is not None},
            )
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            connection.close()

    def plain(self, path, body=None, expect=200, **headers):
        status, _, content = self.ask(path, body, **headers)
        assert status == expect, content[:500]
        return json.loads(content)

    def bring(self, what, path, expect=200, name=None):
        content = path if isinstance(path, bytes) else path.read_bytes()
        name = name or path.name
        return self.plain(f"api/bring/{what}", content, expect, X_File_Name=name)

    def brought(self, what, name):
        """Bring a bundled file, once."""
        path = FIXTURES / f"{what}s" / name
        if path not in self.held:
            self.held[path] = self.bring({"motif": "picture"}.get(what, what), path)
        return self.held[path]


@pytest.fixture(scope="module")
def client():
    with served() as page:
        yield Client(page.address)


def worked(client, sketch="letter_f.png", quick=False, **order):
    picture = client.brought("motif", sketch)
    palette = client.brought("palette", "saltmarsh.csv")
    asked = {"picture": picture["id"], "palette": palette["id"], "order": order, "quick": quick}
    return client.plain("api/work", asked, X_Tab="tab")


def test_ring_is_given_part_by_part_and_as_the_folders_picture(client):
    made = worked(client, quick=True, strands="12")
    assert made["closes"]
    plain = client.plain("api/ring", {"key": made["key"]})
    count = plain["count"]
    assert count == len(made["beads"])
    assert len(plain["centres"]) == len(plain["axes"]) == 3 * len(plain["bead"])
    assert plain["bead"][:count] == list(range(count))
    assert set(plain["bead"][count:]) == {count}
    # the wrist and its ease of 15 mm are what lies inside the beads
    inside = 2 * np.pi * plain["radius_mm"] - np.pi * plain["thickness_mm"]
    assert inside == pytest.approx(165 + 15, abs=0.01)
    assert plain["wrist_mm"] == pytest.approx(165 / (2 * np.pi))
    away = np.hypot(*np.reshape(plain["centres"], (-1, 3)).T[:2])
    assert away.max() < plain["radius_mm"] + plain["thickness_mm"] / 2
    assert "18.0 cm round inside" in plain["words"][0]
    status, headers, content = client.ask("api/ring-picture", {"key": made["key"]})
    assert (status, headers["Content-Type"]) == (200, "image/png")
    assert Image.open(io.BytesIO(content)).width > 1000
    short = client.bring("design", design_json(marsh(8, rounds=8)).encode(), name="design.json")
    assert not short["closes"]
    said = client.plain("api/ring", {"key": short["key"]}, expect=422)
    assert "too short" in said["error"]


# -- who may ask -----------------------------------------------------------------------------------


def test_the_page_and_all_it_needs_is_our_own(client):
    status, headers, content = client.ask("")
    assert status == 200
    assert b"http://" not in content
    assert b"https://" not in content
    assert "script-src 'self'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["Cache-Control"] == "no-store"
    assert headers["Server"] == "himotif"
    # what the browser may keep, it asks for once while the page is served: not what is worked on
    kept = {
        path: "max-age" in client.ask(path)[1]["Cache-Control"]
        for path in ("static/main.js", "static/page.css", "static/none.js", "api/start")
    }
    assert kept == {
        "static/main.js": True, "static/page.css": True, "static/none.js": False, "api/start": False
    }  # fmt: skip


@pytest.mark.parametrize("path", ["/", "/api/start", "/static/main.js", "/x/static/main.js"])
def test_without_the_token_nothing_is_told(client, path):
    status, _, content = client.ask(path, absolute=True)
    assert status == 404
    assert b"himotif page" in content


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "marsh.example"},
        {"Host": "localhost"},
        {"Origin": "http://marsh.example"},
        {"Origin": "null"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
    ],
)
def test_another_site_in_the_same_browser_is_refused(client, headers):
    assert client.ask("api/start", **headers)[0] == 403
    assert client.ask("api/work", {}, **headers)[0] == 403


def test_work_without_an_origin_is_refused(client):
    assert client.ask("api/work", {}, Origin=None)[0] == 403


@pytest.mark.parametrize("name", ["../server.py", "..%2fserver.py", "%2e%2e/server.py", "none.js"])
def test_no_other_file_is_served(client, name):
    assert client.ask(f"static/{name}")[0] == 404
    assert client.ask(f"samples/{name}")[0] == 404


def test_what_was_brought_is_as_published_with_its_licence(client):
    listed = client.ask("static/vendor/three.txt")[2].decode()
    assert "MIT License" in listed
    sums = dict(re.findall(r"^([0-9a-f]{64})  (\S+)$", listed, re.M))
    assert len(sums) == 2
    for digest, name in sums.items():
        status, headers, content = client.ask(f"static/vendor/{name}")
        assert (status, headers["Content-Type"]) == (200, "text/javascript; charset=utf-8")
        assert hashlib.sha256(content).hexdigest() == digest
    for name in ("vendor", "vendor/", "vendor/../main.js", "vendor/none.js"):
        assert client.ask(f"static/{name}")[0] == 404


def test_only_this_machine_is_served():
    with served() as page:
        assert urlsplit(page.address).hostname == "127.0.0.1"
        other = Client(page.address)
        with served() as second:
            assert page.address != second.address
            wrong = urlsplit(second.address).path + "api/start"
            assert other.ask(wrong, absolute=True)[0] == 404


def test_port_that_is_taken_is_said(client):
    taken = urlsplit(f"//{client.host}").port
    result = CliRunner().invoke(main, ["page", "--no-open", "--port", str(taken)])
    assert result.exit_code == 1
    assert f"Port {taken} of this machine" in result.stderr


# -- what it answers -------------------------------------------------------------------------------


def test_folder_is_the_commands_folder_byte_for_byte(client, tmp_path):
    # of few beads: what takes long is to draw them, twice
    answer = worked(client, quick=True, strands="8", wrist="90mm", repeat="1")
    status, headers, content = client.ask("api/folder", {"key": answer["key"]})
    assert status == 200
    assert "letter_f.zip" in headers["Content-Disposition"]
    out = tmp_path / "letter"
    arguments = [
        "convert", str(FIXTURES / "motifs/letter_f.png"),
        "--palette", str(FIXTURES / "palettes/saltmarsh.csv"),
        "--strands", "8", "--wrist", "90mm", "--repeat", "1", "--quick", "--out", str(out),
    ]  # fmt: skip
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        ours = {Path(name).name: packed.read(name) for name in packed.namelist()}
    theirs = {path.name: path.read_bytes() for path in out.iterdir()}
    assert sorted(ours) == sorted(theirs)
    assert [name for name in ours if ours[name] != theirs[name]] == []


def test_papers_are_made_as_asked_for(client, tmp_path):
    form = {"paper": "letter", "unit": "in", "tally": "yes", "plain_sets": "4", "copies": "3"}
    answer = worked(client, quick=True, wrist="165mm", **form)
    asked = {"key": answer["key"], "order": form}
    _, _, content = client.ask("api/folder", {**asked, "order": form | {"lists_only": "yes"}})
    out = tmp_path / "letter"
    arguments = [
        "convert", str(FIXTURES / "motifs/letter_f.png"), "--out", str(out), "--lists-only",
        "--palette", str(FIXTURES / "palettes/saltmarsh.csv"), "--wrist", "165mm", "--quick",
        "--paper", "letter", "--unit", "in", "--tally", "--plain-sets", "4", "--copies", "3",
    ]  # fmt: skip
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        ours = {Path(name).name: packed.read(name) for name in packed.namelist()}
    assert ours == {path.name: path.read_bytes() for path in out.iterdir()}
    _, _, pdf = client.ask("api/sheet", asked)
    # US letter is 8.5 by 11 inches of 72 points (ANSI/ASME Y14.1)
    assert [float(side) for side in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].mediabox[2:]] == [
        612.0, 792.0
    ]  # fmt: skip
    # opened again it still says so
    opened = client.bring("design", ours["design.json"], name="mine.json")
    assert form.items() <= opened["order"].items()
    told = client.plain("api/tally", {**asked, "order": {"copies": "0"}}, expect=422)
    assert told["fields"] == {"copies": "'0' is not a number of pieces from 1 to 999."}


def test_a_missed_limit_is_said(client):
    key = worked(client)["key"]
    asked = {"key": key, "order": {"require_edge": "0.1"}}
    (said,) = client.plain("api/limits", asked)["missed"]
    assert "0.1 mm" in said
    assert client.plain("api/limits", {"key": key, "order": {}}) == {"missed": []}


def test_own_disc_and_typeface_are_brought(client, tmp_path):
    pairs = [[48, 1], [12, 13], [24, 25], [36, 37]]
    disc = client.bring("start", json.dumps({"slots": 48, "pairs": pairs}).encode(), name="my.json")
    answer = worked(client, quick=True, start=disc["value"])
    _, _, saved = client.ask("api/design", {"key": answer["key"]})
    assert json.loads(saved)["braid"]["disc"] == {"slots": 48, "starts": pairs}
    font = client.bring("font", font_bytes(bold=False), name="thin.ttf")
    palette = client.brought("palette", "saltmarsh.csv")
    asked = {"palette": palette["id"], "order": {"text": "IT"}, "quick": True}
    bundled = client.plain("api/work", asked)
    hers = client.plain("api/work", {**asked, "order": {"text": "IT", "font": font["value"]}})
    assert hers["beads"] != bundled["beads"]
    assert "is no font" in client.bring("font", b"no", 422, name="no.ttf")["error"]
    assert "pairs" in client.bring("start", b'{"slots": 48}', 422, name="no.json")["error"]


def test_all_behind_more_has_a_drawing():
    html = page_html()
    drawn = set(re.findall(r'<symbol id="(d-[a-z_]+)"', html))
    used = re.findall(r'<use href="#(d-[a-z_]+)"', html)
    assert set(used) <= drawn
    more = html[html.index('id="more-dialog"') :].split("</form>")[0]
    fields = re.findall(r'<div class="field( [^"]*)?"', more)
    assert len(fields) > 35
    assert set(fields) <= {" pictured", " pictured with-beads"}
    # every option of the command has its place on the page but those that the page does otherwise
    names = set(re.findall(r'\b(?:name|data-bring)="([a-z_]+)"', html))
    for of in (Order, Papers, Limits):
        for field, option in table(of).items():
            names_of = {part.name or option.name for part in option.page}
            assert names_of <= names, field
            assert names_of or field in ("choice", "quick"), field


def test_corners_of_a_sheet_are_the_commands_too(client, tmp_path):
    """A drawing on white paper, the paper on a dark table, both leaning."""
    canvas = Image.new("RGB", (400, 300), (60, 70, 66))
    pen = ImageDraw.Draw(canvas)
    corners = [(70, 50), (330, 30), (350, 260), (60, 240)]
    pen.polygon(corners, fill=(250, 250, 248))
    pen.ellipse((150, 90, 260, 200), fill=(170, 30, 40))
    photo, out = tmp_path / "sheet.png", tmp_path / "out"
    canvas.save(photo)
    text = " ".join(f"{x},{y}" for x, y in corners)
    picture = client.bring("picture", photo)
    palette = client.brought("palette", "saltmarsh.csv")
    asked = {"picture": picture["id"], "palette": palette["id"], "quick": True}
    answer = client.plain("api/work", {**asked, "order": {"paper_corners": text}})
    _, _, content = client.ask("api/design", {"key": answer["key"]})
    arguments = ["convert", str(photo), "--palette", str(FIXTURES / "palettes/saltmarsh.csv")]
    arguments += ["--paper-corners", text, "--quick", "--lists-only", "--out", str(out)]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    assert content == (out / "design.json").read_bytes()
    # what is laid over the braid is that sheet, and not the photograph
    _, _, sheet = client.ask(f"api/picture/{picture['id']}.png?corners={quote(text)}")
    assert Image.open(io.BytesIO(sheet)).size != (400, 300)


def test_colours_come_from_a_photograph(client):
    heap = DrawnHeap(110, 90, 40, "dish", "matte", (0.42, 0.05, 0.06))
    picture = io.BytesIO()
    Image.fromarray(render(Scene(300, 180, 12, (heap,)))[0]).save(picture, "PNG")
    photo = client.bring("photograph", picture.getvalue(), name="tray.png")
    found = client.plain("api/tray/photographed", {"id": photo["id"]}, X_Tab="tab")
    (bead,) = found["beads"]
    assert bead["rgb"][0] > 2 * bead["rgb"][1]
    # its outline lies round the heap
    assert np.mean(bead["outline"], axis=0) == pytest.approx([110 / 300, 0.5], abs=0.05)
    at, white = [110 / 300, 0.5], [0.9, 0.1]
    asked = {"id": photo["id"], "at": [at], "white": white}
    (one,) = client.plain("api/tray/photographed", asked, X_Tab="tab")["beads"]
    assert one["rgb"][0] > 2 * one["rgb"][1]
    asked = {"id": photo["id"], "white": [0.5, 1.5]}
    assert "outside" in client.plain("api/tray/photographed", asked, 422)["error"]
    # a place that is no number is none
    asked = {"id": photo["id"], "white": [10**400, 0]}
    assert len(client.plain("api/tray/photographed", asked)["beads"]) == 1


def test_trays_are_put_in_order_and_together_and_used_up(client):
    tray = client.brought("palette", "saltmarsh.csv")
    asked = {"name": "mine.csv", "beads": tray["beads"]}
    ordered = client.plain("api/tray/in-order", {**asked, "by": "lightness"})
    lights = [np.dot(bead["rgb"], (0.2, 0.7, 0.1)) for bead in ordered["beads"]]
    assert np.corrcoef(lights, -np.arange(len(lights)))[0, 1] > 0.95
    more = [{"code": "A", "name": "plover", "rgb": [160, 128, 96], "stock": 5}]
    joined = client.plain("api/tray/together", {**asked, "more": more})
    assert [bead["name"] for bead in joined["beads"]][-1] == "plover"
    assert len({bead["code"] for bead in joined["beads"]}) == len(tray["beads"]) + 1
    answer = worked(client, quick=True)
    left = client.plain("api/tray/used", {**asked, "key": answer["key"]})
    used = Counter(answer["palette"][bead]["code"] for bead in answer["beads"])
    for before, after in zip(tray["beads"], left["beads"], strict=True):
        assert after["stock"] == before["stock"] - used[before["code"]]


def tool(client, what, expect=200, **asked):
    palette = client.brought("palette", "saltmarsh.csv")
    asked = {"palette": palette["id"], "order": {"wrist": "170"}, **asked}
    said = client.plain(f"api/tools/{what}", asked, expect, X_Tab="tab")
    if expect == 200 and "file" in said:
        _, headers, said["content"] = client.ask("api/file", {"file": said["file"]})
        assert "attachment" in headers["Content-Disposition"]
    return said


def test_the_mirror_is_the_designs_own(client, tmp_path):
    answer = worked(client, quick=True, wrist="170")
    said = tool(client, "mirrored", key=answer["key"], order={"lists_only": "yes"})
    assert "letters read backwards" in said["lines"][0]
    _, _, design = client.ask("api/design", {"key": answer["key"]})
    with zipfile.ZipFile(io.BytesIO(said["content"])) as packed:
        packed.extractall(tmp_path)
    (folder,) = tmp_path.iterdir()
    result = CliRunner().invoke(main, ["check", str(folder)])
    assert result.exit_code == 0, result.output
    other = mirror_design(design_from_dict(json.loads(design)))
    assert (folder / "design.json").read_text(encoding="utf-8") == design_json(other)


def test_lengths_and_cells_come_without_a_sketch(client):
    lines = tool(client, "planned")["lines"]
    result = CliRunner().invoke(main, ["plan", "--wrist", "170"])
    assert lines[:6] == result.stdout.splitlines()[:6]
    blank = tool(client, "blank", kind="png", order={"strands": "12"})
    assert blank["content"] == blank_file(Lattice.computed(Braid(12), bead_size("8/0")), ".png")
    assert "“Width” 21.5 mm" in blank["lines"][0]


def test_a_test_braid_is_made_and_recorded(client):
    made = tool(client, "swatch", order={"lists_only": "yes"})
    assert any("Thickness" in line for line in made["lines"])
    with zipfile.ZipFile(io.BytesIO(made["content"])) as packed:
        assert any(name.endswith("stringing.csv") for name in packed.namelist())
    readings = {"thickness": "7.4mm", "rounds": "16", "rounds_length": "35", "reads_right": "yes"}
    said = tool(client, "recorded", readings=readings)
    plain = said["swatch"]["readings"]
    assert json.loads(said["content"]) == plain
    assert (plain["thickness_mm"], plain["length_mm"], plain["reads_right"]) == (7.4, 35.0, True)
    answer = worked(client, quick=True, swatch=plain)
    assert answer["geometry"]["thickness_mm"] == pytest.approx(7.4)
    assert "no reading" in tool(client, "recorded", 422, readings={})["error"]


def test_braids_are_compared_and_a_bead_is_changed(client):
    picture = client.brought("motif", "crescent.png")["id"]
    said = tool(client, "compared", picture=picture, braids="8", sizes="8/0")
    (braid,) = said["braids"]
    assert braid["form"] == {"strands": "8", "bead_size": "8/0"}
    with zipfile.ZipFile(io.BytesIO(said["content"])) as packed:
        assert "compared/compare.json" in packed.namelist()
    assert "Bring a sketch" in tool(client, "compared", 422, braids="8")["error"]
    answer = worked(client, quick=True, wrist="170")
    said = tool(client, "changed", key=answer["key"], change="3:2=K", once=True)
    ((crossing, code),) = said["spots"]
    assert code == "K"
    # crossings are numbered from 0, strands and their beads from 1
    strand = Braid(8).strand_of(np.arange(crossing + 1))
    assert strand[-1] + 1 == 3
    assert (strand == strand[-1]).sum() == 2
    assert "3:17" in tool(client, "changed", 422, key=answer["key"], change="3")["error"]


def test_what_to_buy_is_suggested(client):
    tray = client.brought("palette", "saltmarsh.csv")
    few = client.plain("api/palette", {"name": "few.csv", "beads": tray["beads"][:2]})
    picture = client.brought("motif", "crescent.png")
    asked = {"picture": picture["id"], "palette": few["id"], "order": {}, "shop": tray["beads"]}
    found = client.plain("api/tray/suggested", asked, X_Tab="tab")
    assert 1 <= len(found["beads"]) <= 3
    assert all(bead in tray["beads"] for bead in found["beads"])
    assert len(found["lines"]) == len(found["beads"]) + 2


@pytest.mark.parametrize(
    ("form", "options", "name"),
    [
        ({"text": "it", "letters": "down"}, ["--text", "it", "--letters", "down"], "IT"),
        ({"all_round": "yes"}, [str(FIXTURES / "motifs/tide.png"), "--all-round"], "tide"),
    ],
    ids=["text", "all round"],
)
def test_a_text_and_a_border_are_the_commands_too(client, tmp_path, form, options, name):
    palette = client.brought("palette", "saltmarsh.csv")
    asked = {"palette": palette["id"], "order": form, "quick": False}
    if "text" not in form:
        asked["picture"] = client.brought("motif", "tide.png")["id"]
    answer = client.plain("api/work", asked, X_Tab="tab")
    assert answer["composed"]
    _, headers, content = client.ask("api/design", {"key": answer["key"]})
    assert f"{name}.design.json" in headers["Content-Disposition"]
    out = tmp_path / "out"
    palette_file = str(FIXTURES / "palettes/saltmarsh.csv")
    arguments = [*options, "--palette", palette_file, "--lists-only", "--out", str(out)]
    result = CliRunner().invoke(main, ["convert", *arguments])
    assert result.exit_code == 0, result.output
    assert content == (out / "design.json").read_bytes()
    _, _, ways = client.ask("api/ways", {"key": answer["key"]}, X_Tab="ways")
    assert len(ways.splitlines()) == (3 if "text" in form else 1)
    # the sketch itself is still the one that was brought
    assert "text" in form or not worked(client, "tide.png", quick=True)["composed"]


def test_moved_motif_is_the_commands_too(client, tmp_path):
    answer = worked(client, strands="8", wrist="165", right="1.5", up="-4", width="7", rotate="30")
    _, _, content = client.ask("api/design", {"key": answer["key"]})
    out = tmp_path / "moved"
    arguments = [
        "convert", str(FIXTURES / "motifs/letter_f.png"),
        "--palette", str(FIXTURES / "palettes/saltmarsh.csv"), "--wrist", "165",
        "--move", "1.5,-4", "--width", "7", "--rotate", "30", "--lists-only", "--out", str(out),
    ]  # fmt: skip
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    assert content == (out / "design.json").read_bytes()


def test_motif_lies_where_it_was_put(client):
    unmoved = worked(client, quick=True, strands="16", right="0", up="0", repeat="once")
    moved = worked(client, quick=True, strands="16", right="2", up="6.5", repeat="once")
    (x0, y0), (x1, y1) = (answer["placement"]["centres_mm"][0] for answer in (unmoved, moved))
    assert (x0, y0) == pytest.approx((0.0, unmoved["unmoved_mm"]), abs=1e-6)
    assert (x1 - x0, y1 - y0) == pytest.approx((2.0, 6.5), abs=1e-6)


def test_a_sketch_is_looked_at_once_for_each_kind(client, monkeypatch):
    read = []
    look = reading.read_picture_colours
    monkeypatch.setattr(reading, "read_picture_colours", lambda one: read.append(one) or look(one))
    for order in ({"strands": "8"}, {"strands": "12"}, {"strands": "12", "rotate": "90"}):
        worked(client, sketch="leaf.png", quick=True, **order)
    # the whole picture; what is left without its margins is looked at again
    whole = max(one.size_px for one in read)
    assert [one.size_px for one in read].count(whole) == 1
    worked(client, sketch="leaf.png", quick=True, kind="shaded")
    assert [one.size_px for one in read].count(whole) == 2


def test_edited_beads_are_counted_listed_and_packed(client, tmp_path):
    answer = worked(client, quick=True, strands="8", wrist="90mm")
    beads = list(answer["beads"])
    beads[:8] = [3] * 8
    told = client.plain("api/tally", {"key": answer["key"], "beads": beads})
    assert {need["code"]: need["count"] for need in told["needs"]}["D"] == 8
    assert sum(need["count"] for need in told["needs"]) == len(beads)
    assert all(strand["list"].startswith("1 D") for strand in told["strands"])
    asked = {"key": answer["key"], "beads": beads, "order": {"lists_only": "yes"}}
    _, _, content = client.ask("api/folder", asked)
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        packed.extractall(tmp_path)
    result = CliRunner().invoke(main, ["check", str(tmp_path / "letter_f")])
    assert result.exit_code == 0, result.output
    assert json.loads((tmp_path / "letter_f/design.json").read_text())["beads"] == beads


def test_saved_design_opens_again_with_its_order(client):
    answer = worked(client, quick=True, strands="12", lay="Z", wrist="170", repeat="3")
    _, _, saved = client.ask("api/design", {"key": answer["key"]})
    opened = client.bring("design", saved, name="mine.json")
    assert opened["beads"] == answer["beads"]
    assert opened["braid"] == {"strands": 12, "lay": "Z", "turn": "usual"}
    assert (opened["settings"]["wrist_mm"], opened["settings"]["repeat"]) == (170.0, 3)
    order = {"strands": "12", "lay": "Z", "wrist": "170", "repeat": "3", "fit": "wrap", "width": ""}
    assert order.items() <= opened["order"].items()
    assert (
        order_from(opened["order"]).settings()
        == order_from(order | {"bead_size": "8/0", "unit": "cm"}).settings()
    )
    assert not opened["made"]
    status, _, content = client.ask("api/folder", {"key": opened["key"]})
    assert status == 200
    names = {Path(name).name for name in zipfile.ZipFile(io.BytesIO(content)).namelist()}
    assert {"design.json", "stringing.csv", "sheet.pdf"} <= names


def test_places_and_neighbours_come_from_the_lattice(client):
    answer = worked(client, quick=True, strands="16")
    geometry = answer["geometry"]
    count = geometry["count"]
    assert count == len(answer["beads"]) == len(geometry["x_mm"])
    pairs = {
        (bead, other)
        for bead in range(count)
        for other in geometry["neighbours"][6 * bead : 6 * bead + 6]
        if other >= 0
    }
    assert pairs == {(other, bead) for bead, other in pairs}
    # every strand takes its beads in their order, and each takes as many
    seen = {}
    for strand, order in zip(geometry["strand"], geometry["order"], strict=True):
        assert order == seen.get(strand, 0) + 1
        seen[strand] = order
    assert set(seen.values()) == {count // 16}


def test_repeat_index_names_the_same_beads_of_every_motif(client):
    answer = worked(client, strands="8", wrist="165")
    motifs = len(answer["placement"]["centres_mm"])
    assert motifs > 1
    places = {}
    for bead, twin in zip(answer["beads"], answer["repeat_index"], strict=True):
        if twin >= 0:
            places.setdefault(twin, []).append(bead)
    assert max(map(len, places.values())) == motifs
    assert all(len(set(beads)) == 1 for beads in places.values() if len(beads) == motifs)


def test_all_that_is_wrong_in_the_form_is_told_at_once(client):
    picture = client.brought("motif", "letter_f.png")
    palette = client.brought("palette", "saltmarsh.csv")
    order = {"strands": "9", "wrist": "long", "repeat": "-1", "bead_size": "measured"}
    asked = {"picture": picture["id"], "palette": palette["id"], "order": order}
    fields = client.plain("api/work", asked, expect=422)["fields"]
    assert set(fields) == {"strands", "wrist", "repeat", "bead_diameter", "bead_length"}


def refused(client, sketch="letter_f.png", off=(), **order):
    """Sentences for the fields, of an order that is refused."""
    picture = client.brought("motif", sketch)
    palette = client.brought("palette", "saltmarsh.csv")
    asked = {"picture": picture["id"], "palette": palette["id"], "off": list(off), "quick": True}
    return client.plain("api/work", {**asked, "order": order}, expect=422)["fields"]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("width", "999"), ("width", "0"), ("width", "-4"), ("width", "wide"),
        ("right", "900"), ("right", "-900"), ("up", "900"), ("up", "-900"), ("up", "high"),
        ("repeat", "40"), ("repeat", "0"), ("repeat", "often"),
        ("wrist", "abc"), ("wrist", "0"), ("wrist", "9m"), ("wrist", "3"),
        ("ease", "-5"), ("ease", "6m"), ("clasp", "-1"), ("caps", "-5"), ("caps", "x"),
        ("rotate", "x"), ("rotate", "inf"), ("gap", "-1"), ("gap", "nan"),
        ("most", "0"), ("most", "1"), ("most", "2.5"),
    ],
)  # fmt: skip
def test_what_is_refused_is_told_at_its_field_in_words_of_the_page(client, field, value):
    fields = refused(client, strands="8", **{"wrist": "150", field: value})
    assert set(fields) == {field}
    assert "--" not in fields[field]
    assert fields[field].endswith(".")


def test_a_swatch_that_cannot_be_of_these_beads_is_not_blamed_on_their_size(client):
    thin = {"schema": 1, "thickness_mm": 2.0}
    fields = refused(client, strands="8", bead_size="8/0", swatch=thin)
    assert fields == {
        "swatch": "thickness 2 mm is no more than one bead of 3 mm: measure the whole braid, "
        "beads included."
    }


def test_motif_too_long_for_the_braid_is_told_at_its_width(client):
    reed = io.BytesIO()
    Image.new("RGB", (40, 480), "darkgreen").save(reed, "PNG")
    picture = client.bring("picture", reed.getvalue(), name="tall reed.png")
    palette = client.brought("palette", "saltmarsh.csv")
    order = {"strands": "16", "width": "20", "wrist": "165"}
    asked = {"picture": picture["id"], "palette": palette["id"], "order": order}
    refusal = client.plain("api/work", asked, expect=422)
    assert set(refusal["fields"]) == {"width"}
    (narrower,) = refusal["buttons"]["width"]
    assert narrower["field"] == "width_mm"
    answer = worked_with(client, asked, **narrower["form"])
    assert answer["width_mm"] <= narrower["value"]


def worked_with(client, asked, **more):
    return client.plain("api/work", {**asked, "quick": True, "order": {**asked["order"], **more}})


@pytest.mark.parametrize("fit", ["wrap", "face"])
def test_the_widest_motif_that_is_named_is_taken(client, fit):
    fields = refused(client, strands="16", fit=fit, width="999")
    most = re.search(r"is ([0-9.]+) mm at the bead", fields["width"])[1]
    answer = worked(client, quick=True, strands="16", fit=fit, width=most)
    assert answer["width_mm"] == pytest.approx(float(most), abs=0.01)
    geometry = answer["geometry"]
    # the circle through the bead centres, or its diameter
    across = 2 * geometry["radius_mm"] * (math.pi if fit == "wrap" else 1)
    assert 0 <= across - float(most) < 0.1
    assert answer["most_width_mm"] == pytest.approx(across)
    assert "width" in refused(client, strands="16", fit=fit, width=str(float(most) + 0.2))


def test_unlikely_lengths_are_taken_and_asked_about(client):
    answer = worked(client, quick=True, strands="8", wrist="60", ease="5cm")
    assert set(answer["doubts"]) == {"wrist", "ease"}
    assert "60 mm" in answer["doubts"]["wrist"]["text"]
    # common practice: from snug to loose, a bracelet has 6 to 30 mm of ease
    assert "30 mm" in answer["doubts"]["ease"]["text"]
    usual = worked(client, quick=True, strands="8", wrist="165", ease="30")
    assert usual["doubts"] == {}


def test_motif_that_cannot_go_as_far_up_as_asked_says_how_far_it_went(client):
    middle = worked(client, quick=True, strands="8", wrist="165", right="0", up="0")
    moved = worked(client, quick=True, strands="8", wrist="165", right="0", up="60")
    went = moved["placement"]["centres_mm"][0][1] - middle["placement"]["centres_mm"][0][1]
    assert 0 <= went < 60
    short = Finding(Code.SHORT_OF_ROOM, {"up_mm": round(went, 1), "motifs": 1})
    assert moved["doubts"]["up"]["text"].startswith(sentence(short))
    # the same as among what is said of the braid
    assert moved["doubts"]["up"] in moved["notes"]
    assert middle["doubts"] == {}


def test_places_may_be_given_in_any_unit(client):
    in_mm = worked(client, quick=True, strands="16", repeat="once", right="-5", up="20")
    in_cm = worked(client, quick=True, strands="16", repeat="once", right="-0.5cm", up="2cm")
    assert in_mm["placement"] == in_cm["placement"]


def test_no_finding_on_the_page_names_an_option_of_the_command():
    for finding in EXAMPLES.values():
        shown = said(finding)
        texts = [shown["text"], *(button["label"] for button in shown["buttons"])]
        assert [text for text in texts if "--" in text] == []


@pytest.mark.parametrize(
    ("sketch", "order"),
    [
        ("heron.png", {"strands": "8", "most": "4"}),
        # of tones nothing is tried otherwise: a shorter search finds as much to say
        ("dusk.png", {"strands": "8", "wrist": "60", "quick": True}),
    ],
)
def test_nothing_on_the_page_names_an_option_of_the_command(client, sketch, order):
    answer = worked(client, sketch, **order)
    told = client.plain("api/tally", {"key": answer["key"]})
    report = client.plain("api/report", {"key": answer["key"]}, X_Tab="words")
    found = [*answer["notes"], *report["findings"]]
    said = [one["text"] for one in found] + [*told["lines"], *told["cautions"], told["about"]]
    said += [button["label"] for one in found for button in one["buttons"]]
    drawn = client.ask(f"api/report/{report['picture']}.svg")[2].decode()
    said += [element.text or "" for element in ElementTree.fromstring(drawn).iter()]
    assert len(said) > 20
    assert [text for text in said if "--" in text] == []


def test_what_a_remedy_fills_in_is_taken_as_it_is_meant():
    filled = 0
    for finding in EXAMPLES.values():
        for button in said(finding)["buttons"]:
            texts = button["form"]
            assert texts
            if button["value"] is None:
                assert set(texts.values()) == {None}
                continue
            order = order_from(texts)
            value = getattr(order, button["field"])
            listed = list(value) if isinstance(value, tuple) else value
            assert button["value"] in (value, listed)
            filled += 1
    assert filled > 10


@pytest.mark.parametrize("kept", [[], ["A"]])
def test_motif_and_ground_need_two_beads(client, kept):
    codes = [bead["code"] for bead in client.brought("palette", "saltmarsh.csv")["beads"]]
    fields = refused(client, off=[code for code in codes if code not in kept])
    assert set(fields) == {"palette"}
    assert "at least two beads" in fields["palette"]


def test_measured_swatch_wins(client):
    content = json.dumps({"schema": 1, "rounds": 16, "length_mm": 40, "thickness_mm": 9.0})
    swatch = client.bring("swatch", content.encode(), name="swatch.json")
    assert swatch["name"] == "swatch.json"
    geometry = worked(client, quick=True, strands="8", swatch=swatch["readings"])["geometry"]
    assert geometry["rise_mm"] == pytest.approx(40 / 16)
    assert geometry["thickness_mm"] == pytest.approx(9.0)
    assert geometry["source"]["rise_mm"] == "measured"
    asked = {"schema": 1, "rounds": "many"}
    picture = client.brought("motif", "letter_f.png")
    palette = client.brought("palette", "saltmarsh.csv")
    order = {"picture": picture["id"], "palette": palette["id"], "order": {"swatch": asked}}
    assert "swatch" in client.plain("api/work", order, expect=422)["fields"]


def test_beads_that_are_switched_off_are_not_used(client):
    picture = client.brought("motif", "letter_f.png")
    palette = client.brought("palette", "saltmarsh.csv")
    asked = {"picture": picture["id"], "palette": palette["id"], "off": ["B"], "quick": True}
    answer = client.plain("api/work", asked)
    assert "B" not in [bead["code"] for bead in answer["palette"]]
    asked["off"] = [bead["code"] for bead in palette["beads"]]
    assert "palette" in client.plain("api/work", asked, expect=422)["fields"]


@pytest.mark.parametrize("beads", [[0], "AAAA", [-1] * 352, [99] * 352, [True] * 352, [0.5] * 352])
def test_beads_that_do_not_fit_are_refused(client, beads):
    answer = worked(client, quick=True, strands="8", wrist="165")
    assert len(answer["beads"]) == 352
    client.plain("api/tally", {"key": answer["key"], "beads": beads}, expect=422)


def test_what_is_gone_is_said_to_be_gone(client):
    assert "Give it once more" in client.plain("api/tally", {"key": "none"}, expect=410)["error"]


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b"null", b"[" * 200_000])
def test_nonsense_is_refused_with_a_sentence(client, body):
    status, headers, content = client.ask("api/work", body)
    assert status == 400
    assert headers["Content-Type"] == "application/json"
    assert json.loads(content)["error"].endswith(".")


def test_order_of_an_empty_form_is_the_commands():
    assert order_from({"strands": "", "lay": None}) == Order()
    with pytest.raises(WrongUsage) as caught:
        order_from({"lay": "X"})
    assert caught.value.parts[0].field == "lay"


# -- hostile files ---------------------------------------------------------------------------------


def png(width, height, content=b""):
    """A PNG that says it is so large, whatever it holds."""

    def chunk(kind, data):
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(content))
        + chunk(b"IEND", b"")
    )


HOSTILE = {
    "bomb.png": png(60_000, 60_000, bytes(100_000)),
    "broken.png": (FIXTURES / "motifs/heron.png").read_bytes()[:2000],
    "noise.png": bytes(range(256)) * 40,
    "empty.png": b"",
    "page.svg": b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>",
    "nothing.png": png(0, 0),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_picture_is_refused_and_the_page_lives_on(client, name):
    answer = client.bring("picture", HOSTILE[name], expect=422, name=name)
    assert answer["error"].startswith(name)
    assert "Traceback" not in answer["error"]
    assert "/" not in answer["error"].replace(name, "")
    client.bring("picture", FIXTURES / "motifs/letter_f.png")


def test_file_that_is_too_large_is_refused(client):
    status, _, content = client.ask(
        "api/bring/picture", b"", Content_Length=str(MOST_UPLOAD + 1), method="POST"
    )
    assert status == 413
    assert "50 MB" in json.loads(content)["error"]


def test_chunked_file_that_is_too_large_is_refused(client):
    connection = http.client.HTTPConnection(client.host, timeout=60)
    parts = (bytes(1024 * 1024) for _ in range(MOST_UPLOAD // 1024**2 + 2))
    headers = {"Origin": f"http://{client.host}", "Transfer-Encoding": "chunked"}
    try:
        path = client.path + "api/bring/picture"
        connection.request("POST", path, parts, headers, encode_chunked=True)
        assert connection.getresponse().status == 413
    except (BrokenPipeError, ConnectionResetError):
        pass  # it hung up without reading the rest
    finally:
        connection.close()
    client.bring("picture", FIXTURES / "motifs/letter_f.png")


@pytest.mark.parametrize("what", ["palette", "swatch", "design"])
@pytest.mark.parametrize("content", [b"", b"\x00\xff" * 99, b"{}", b"[" * 100_000, b'"' * 999])
def test_hostile_text_is_refused_with_a_sentence(client, what, content):
    assert client.bring(what, content, expect=422, name="mine")["error"].startswith("mine")


def test_a_name_is_only_a_name(client):
    content = (FIXTURES / "motifs/letter_f.png").read_bytes()
    assert client.bring("picture", content, name="../../etc/F.png")["name"] == "F.png"
    assert client.bring("picture", content, name="C%3A%5Ctemp%5CF.png")["name"] == "F.png"


@pytest.mark.parametrize("job", [(os._exit, 1), (os.abort,), (time.sleep, 60)], ids=repr)
def test_worker_that_dies_or_hangs_is_only_a_lost_worker(job):
    worker = Worker(int)
    with pytest.raises(WorkerLost):
        worker.call(job[0], job[1:], timeout_s=20 if job[0] is not time.sleep else 0.2)
    workers = Workers(int, 20)
    try:
        assert workers.call(abs, -3) == 3
    finally:
        workers.close()


def test_a_killed_worker_takes_no_more_jobs():
    worker = Worker(int)
    assert worker.alive
    worker.kill()
    assert not worker.alive


def test_worker_says_what_is_wrong_and_goes_on():
    worker = Worker(int)
    try:
        with pytest.raises(HimotifError, match="not enough memory"):
            worker.call(bytearray, (2**50,), timeout_s=20)
        with pytest.raises(HimotifError, match="fault of its own"):
            worker.call(divmod, (1, 0), timeout_s=20)
        assert worker.call(abs, (-3,), timeout_s=20) == 3
    finally:
        worker.kill()


def test_newer_work_of_a_tab_ends_the_older_and_no_other():
    workers = Workers(int, 20)
    found = {}

    def run(name, tab, seconds):
        try:
            found[name] = workers.call(time.sleep, seconds, tab=tab)
        except Superseded:
            found[name] = "superseded"

    try:
        threads = [
            threading.Thread(target=run, args=(name, tab, seconds))
            for name, tab, seconds in (("old", "a", 15), ("other", "b", 1.0), ("new", "a", 0.1))
        ]
        for thread in threads:
            thread.start()
            time.sleep(0.1)
        for thread in threads:
            thread.join()
    finally:
        workers.close()
    assert found == {"old": "superseded", "other": None, "new": None}


# -- saved works -----------------------------------------------------------------------------------


def saving(client, answer, rev=0, **more):
    """What a tab sends to be saved."""
    picture = client.brought("motif", "letter_f.png")
    now = {"name": "F", "sketch": {"id": picture["id"], "name": "letter_f.png"}}
    return {"rev": rev, "name": "F", "now": now, "past": [{}], "key": answer["key"], **more}


def test_a_saved_work_holds_everything_and_opens_elsewhere(client, tmp_path):
    answer = worked(client, strands="8", wrist="120")
    beads = [1, *answer["beads"][1:]]
    assert client.plain(f"api/saved/{'b' * 32}", saving(client, answer, beads=beads))["rev"] == 1
    _, headers, packed = client.ask(f"api/saved/{'b' * 32}/file", {})
    assert "F.himotif" in headers["Content-Disposition"]
    with zipfile.ZipFile(io.BytesIO(packed)) as held:
        assert json.loads(held.read("design.json"))["beads"] == beads
    with served(tmp_path) as page:
        other = Client(page.address)
        work = other.bring("work", packed, name="F.himotif")["work"]
        plain = other.plain(f"api/saved/{work}")
        assert plain["now"]["name"] == "F"
        palette = other.brought("palette", "saltmarsh.csv")
        asked = {"picture": plain["now"]["sketch"]["id"], "palette": palette["id"], "quick": True}
        # the sketch is read again from the work
        other.plain("api/work", asked, expect=410)
        assert other.plain("api/work", asked, X_Work=work)["beads"]
        (recent,) = other.plain("api/recent")
        assert (recent["id"], recent["name"]) == (work, "F")


def test_works_are_listed_and_counted_without_reading_them_whole(tmp_path):
    works, key = Works(tmp_path), "e" * 32
    picture = b"\x89PNG\r\n\x1a\n"
    sketch = {"a" * 24: Brought("heron.png", b"heron" * 999)}
    work = Work({"name": "heron", "rev": 0, "now": {"name": "heron"}}, sketch, picture)
    works.save(key, work)
    path = tmp_path / f"{key}.himotif"
    whole = path.read_bytes()
    # the sketch in it cannot be read
    path.write_bytes(whole.replace(b"heronheron", b"heronreeds", 1))
    (recent,) = works.recent()
    assert (recent["id"], recent["name"], recent["picture"]) == (key, "heron", True)
    assert works.about(key).picture == picture
    assert works.read(key, "design.json").plain["now"] == {"name": "heron"}
    with pytest.raises(HimotifError, match="is broken"):
        works.read(key)
    assert works.save(key, replace(work, plain=work.plain | {"rev": 1}))["rev"] == 2
    # one of an earlier version says nothing about itself beforehand
    with zipfile.ZipFile(io.BytesIO(whole)) as held, zipfile.ZipFile(path, "w") as older:
        for item in held.infolist():
            if item.filename != "about.json":
                older.writestr(item, held.read(item))
    assert works.recent() == [{**recent, "saved": works.read(key).plain["saved"]}]
    assert works.save(key, replace(work, plain=work.plain | {"rev": 1}))["rev"] == 2


def test_a_work_that_was_changed_elsewhere_is_not_overwritten(client):
    answer = worked(client, strands="8", wrist="120")
    key = f"api/saved/{'c' * 32}"
    client.plain(key, saving(client, answer))
    client.plain(key, saving(client, answer, name="mine"), expect=409)
    assert client.plain(key)["name"] == "F"
    assert client.plain(key, saving(client, answer, rev=1, name="mine"))["rev"] == 2


@pytest.mark.parametrize("key", ["none", "..", "%2e%2e%2fx", "A" * 32])
def test_a_work_has_an_id_and_no_path(client, key):
    assert client.ask(f"api/saved/{key}")[0] in (404, 422)
    assert client.ask(f"disc/{key}")[0] == 404


def zipped(**files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in files.items():
            packed.writestr(name.replace("_", "."), content)
    return out.getvalue()


def damaged(packed):
    """A zip whose first file does not unpack."""
    with zipfile.ZipFile(io.BytesIO(packed)) as held:
        start = 30 + len(held.infolist()[0].filename)
    return packed[:start] + b"\xff" * 8 + packed[start + 8 :]


NO_UTF8 = zipped(wörk_json=b"{}").replace("wörk".encode(), b"w\xff\xffrk")
"""A zip that says of a name that it is UTF-8, and it is not."""


@pytest.mark.parametrize(
    "content",
    [
        b"", b"PK\x03\x04", zipped(), zipped(work_json=b"{}"), zipped(work_json=b"[" * 100_000),
        zipped(work_json=b'{"schema": 9, "now": {}}'), zipped(work_json=bytes(130 * 1024**2)),
        damaged(zipped(work_json=b'{"now": {}}' * 99)), damaged(zipped(design_json=b"[1]" * 99)),
        NO_UTF8,
    ],
    ids=[
        *("empty", "cut", "nothing", "no work", "deep"),
        *("newer", "bomb", "damaged", "no folder", "odd name"),
    ],
)  # fmt: skip
def test_hostile_work_is_refused_with_a_sentence(client, content):
    assert client.bring("work", content, expect=422, name="mine")["error"].startswith("mine")


def test_a_work_that_is_broken_is_left_out_of_the_list(tmp_path):
    (tmp_path / f"{'0' * 32}.himotif").write_bytes(NO_UTF8)
    assert Works(tmp_path).recent() == []


def test_what_is_being_saved_is_saved_before_the_page_ends(tmp_path, monkeypatch):
    begun, go_on, rename = threading.Event(), threading.Event(), os.replace

    def held_up(*names):
        begun.set()
        assert go_on.wait(9)
        rename(*names)

    monkeypatch.setattr(os, "replace", held_up)
    works, work = Works(tmp_path), Work({"name": "heron", "rev": 0, "now": {}})
    threading.Thread(target=works.save, args=("e" * 32, work), daemon=True).start()
    assert begun.wait(9)
    threading.Timer(0.1, go_on.set).start()
    works.close()
    assert [path.suffix for path in tmp_path.iterdir()] == [".himotif"]


def test_an_old_address_says_how_to_go_on(client):
    status, headers, content = client.ask("/old/", absolute=True, Accept="text/html,*/*")
    assert status == 404
    assert "script-src 'self'" in headers["Content-Security-Policy"]
    assert b"himotif page" in content
    assert urlsplit(client.host + client.path).path.split("/")[-2].encode() not in content


# -- ways and the disc -----------------------------------------------------------------------------


def test_drops_are_drawn_as_they_lean_and_as_large_as_they_are():
    saltmarsh = read_palette(FIXTURES / "palettes/saltmarsh.csv")
    large = [replace(b, drop_length=9.0) if b.shape == "drop" else b for b in saltmarsh.beads]
    sketch = read_picture(FIXTURES / "motifs/heart.png")
    order = Order(quick=True, length_mm=60.0, scatter={"P": 0.2})
    design = make(order, sketch, Palette(tuple(large))).design
    drops = drop_directions(design)
    listed = leaning(drops.drawn_mm)
    assert len(listed) == drops.count > 3
    np.testing.assert_allclose(
        [row[1:] for row in listed], drops.drawn_mm[[row[0] for row in listed]], atol=1e-3
    )
    assert max(row[3] for row in listed) > max(
        row[3]
        for row in leaning(drop_directions(replace(design, palette=saltmarsh.beads)).drawn_mm)
    )
    part = piece(design.lattice, design.palette, design.beads, (20.0, 40.0), drops.drawn)
    assert 0 < len(part["drops"]) < len(listed)
    for bead, *_ in part["drops"]:
        look = part["palette"][part["beads"][bead]]
        assert look["rgb"] == list(saltmarsh.beads[-1].rgb)
        assert look["finish"]["clear"] > 0


def test_ways_come_one_by_one_and_the_form_asks_for_them(client):
    answer = worked(client, "sea_aster.png", strands="8")
    _, headers, content = client.ask("api/ways", {"key": answer["key"]}, X_Tab="ways")
    assert headers["Content-Type"] == "application/x-ndjson"
    first, *others = [json.loads(line) for line in content.decode().splitlines()]
    assert (first["way"], first["verdict"], first["form"]) == ("as worked", answer["verdict"], {})
    assert others
    way = others[-1]
    again = worked(client, "sea_aster.png", **{"strands": "8", **way["form"]})
    assert again["verdict"] == way["verdict"]
    assert len(first["piece"]["height_mm"]) == len(first["piece"]["beads"]) > 8


def test_remedies_for_short_beads_are_tried(client):
    picture = client.brought("motif", "letter_f.png")
    tray = client.brought("palette", "saltmarsh.csv")
    beads = [{**bead, "stock": 70 if bead["code"] == "B" else 900} for bead in tray["beads"]]
    palette = client.plain("api/palette", {"name": "mine.csv", "beads": beads})
    asked = {"picture": picture["id"], "palette": palette["id"], "order": {"wrist": "165"}}
    asked["quick"] = True
    answer = client.plain("api/work", asked)
    line = client.plain("api/tally", {"key": answer["key"]})["line"]
    assert (line["tone"], line["word"]) == ("doubtful", "Reads.")
    assert line["text"].endswith("deep water short.")
    remedies = client.plain("api/remedies", {"key": answer["key"]})
    assert [one["label"].split()[0] for one in remedies] == ["Leave", "Use"]
    for one in remedies:
        order = {**asked["order"], **one.get("form", {})}
        mended = client.plain("api/work", {**asked, "order": order, "off": one.get("off", [])})
        needs = client.plain("api/tally", {"key": mended["key"]})["needs"]
        assert [need for need in needs if need["short"]] == []


def test_tray_is_refused_in_one_sentence(client):
    twice = [{"code": "A", "name": "one", "rgb": [1, 2, 3]}] * 2
    for beads in (twice, [{"code": "A"}], "AB", [{"code": "A", "name": "x", "rgb": [0.5] * 3}]):
        assert client.plain("api/palette", {"beads": beads}, expect=422)["error"]
    half = [{"code": "A", "name": "half a letter \ud800", "rgb": [1, 2, 3]}]
    taken = client.plain("api/palette", {"name": "\ud800", "beads": half})
    assert (taken["name"], taken["beads"][0]["name"]) == ("\ufffd", "half a letter ?")


def test_disc_works_from_the_saved_work(client):
    answer = worked(client, strands="8", wrist="120")
    client.plain(f"api/saved/{'d' * 32}", saving(client, answer))
    disc = client.plain(f"api/disc/{'d' * 32}")
    assert [move[3] for move in disc["moves"]] == answer["beads"]
    assert sum(run[0] for runs in disc["lists"] for run in runs) == len(answer["beads"])
    # every move takes its strand from where the one before left it
    slots = dict(enumerate(disc["starts"], start=1))
    for strand, leaves, goes, _ in disc["moves"]:
        assert slots[strand] == leaves
        assert goes not in slots.values()
        slots[strand] = goes
    client.plain(f"api/disc/{'d' * 32}/place", {"done": 7, "ticks": [2]})
    assert client.plain(f"api/disc/{'d' * 32}")["place"] == {"done": 7, "ticks": [2]}
    used = dict.fromkeys(slots, 0)
    for move in disc["moves"][:21]:
        used[move[0]] += 1
    beads = ", ".join(f"{strand}:{count}" for strand, count in used.items())
    assert client.plain(f"api/disc/{'d' * 32}/where", {"beads": beads})["done"] == 21
    client.plain(f"api/disc/{'d' * 32}/where", {"beads": "x"}, expect=422)


def test_disc_says_which_way_round_a_drop_is_strung():
    sketch = read_picture(FIXTURES / "motifs/heart.png")
    order = Order(quick=True, length_mm=60.0, scatter={"P": 0.2})
    design = make(order, sketch, read_palette(FIXTURES / "palettes/saltmarsh.csv")).design
    disc = disc_view.view(Work({"name": "F"}, design=design_json(design).encode()), {})
    listed = csv.DictReader(io.StringIO(stringing_csv(design)))
    said = {"toward": "wide end toward the disc", "away": "wide end away from the disc", "": ""}
    codes = [bead["code"] for bead in disc["palette"]]
    shown = [
        (str(number), codes[row], turned)
        for number, runs in enumerate(disc["lists"], start=1)
        for count, row, turned in runs
        for _ in range(count)
    ]
    assert shown == [(row["strand"], row["bead"], said[row["direction"]]) for row in listed]
    assert {turned for _, _, turned in shown} == set(said.values())


def test_disc_is_as_on_the_sheet_after_other_plain_braid():
    design = replace(marsh(), papers=PaperChoice(plain_sets=3))
    disc = disc_view.view(Work({"name": "F"}, design=design_json(design).encode()), {})
    sheet = SheetContent(design)
    assert disc["starts"] == [strand.slot for strand in sheet.strands]
    assert disc["starts"] != list(design.braid.start_slots)
    strand, leaves, _, _ = disc["moves"][0]
    assert f"strand {strand}, from slot {leaves} " in sheet.steps[0]
    assert set(disc["facing"]) <= set(disc["starts"])


def test_first_looks_of_many_tabs_are_made_one_at_a_time(client, monkeypatch):
    at_once, most = Counter(), Counter()
    look = jobs.work

    def counted(*args):
        at_once["looks"] += 1
        most["looks"] = max(most["looks"], at_once["looks"])
        try:
            return look(*args)
        finally:
            at_once["looks"] -= 1

    monkeypatch.setattr(jobs, "work", counted)
    client.brought("motif", "letter_f.png")
    client.brought("palette", "saltmarsh.csv")
    tabs = [
        threading.Thread(target=worked, args=(client,), kwargs={"quick": True, "wrist": wrist})
        for wrist in ("131", "132", "133")
    ]
    for tab in tabs:
        tab.start()
    for tab in tabs:
        tab.join()
    assert most["looks"] == 1


def test_a_long_queue_is_bounded_and_each_tab_has_one_place():
    workers = Workers(int, 20, most=1)
    results = []

    def run(tab):
        try:
            results.append(workers.call(time.sleep, 0.3, tab=tab))
        except Superseded:
            results.append("superseded")

    try:
        threads = [threading.Thread(target=run, args=(tab,)) for tab in ("a", "b", "b", "c")]
        for thread in threads:
            thread.start()
            time.sleep(0.05)
        assert workers.waiting == 2
        for thread in threads:
            thread.join()
    finally:
        workers.close()
    assert sorted(results, key=str) == [None, None, None, "superseded"]


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere workers are not forked")
def test_workers_start_in_a_temporary_folder_of_any_length(tmp_path):
    # a socket's name has at most 107 bytes, unix(7)
    long = tmp_path / ("deep" * 25)
    long.mkdir()
    work = (
        "from himotif.convert.page.worker import Worker\n"
        "import os\n"
        "if __name__ == '__main__':\n"
        "    worker = Worker(int)\n"
        "    print(worker.call(os.path.basename, ('a/oyster',), 60))\n"
        "    worker.kill()\n"
    )
    script = tmp_path / "work.py"
    script.write_text(work, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, script],
        env={**os.environ, "TMPDIR": str(long)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.stdout == "oyster\n", done.stderr
