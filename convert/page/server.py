"""Serves the page to this machine alone.

A request must know the token in the address, name this very host, and come from this very page:
another web site open in the same browser can do none of that. Nothing on the page comes from
elsewhere, nothing runs that is not one of our own files.
"""

from __future__ import annotations

import contextlib
import json
import secrets
import socket
import sys
import threading
import traceback
import webbrowser
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib import resources
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from ...core.errors import HimotifError, WrongUsage
from . import disc_view, tools, tray
from .form import page_html
from .jobs import get_ready
from .wording import refused as refused_words
from .worker import OWN_FAULT, Superseded
from .works import ID, Conflict, Works, users_folder
from .workspace import Gone, Workspace

if TYPE_CHECKING:
    from flask import Flask, Response
    from werkzeug.serving import BaseWSGIServer

HOST = "127.0.0.1"
PORT = 8641
"""Used if none is asked for and it is free: the address is then the same but for its token."""
MOST_UPLOAD = 50 * 1024 * 1024
"""Bytes of a file that may be brought."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class OldAddress(Exception):
    """A browser window was opened at the address of an earlier start."""


def make_app(workspace: Workspace, token: str, port: int) -> Flask:
    """Return the page's application.

    Parameters
    ----------
    workspace : Workspace
    token : str
        First part of every path.
    port : int
        Where it will be served, for checking host and origin.
    """
    from flask import Flask

    app = Flask(__name__, static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = MOST_UPLOAD
    app.json.sort_keys = False  # type: ignore[attr-defined]
    _guard(app, token, port)
    _answer_errors(app)
    _serve_files(app)
    _serve_bringing(app, workspace)
    _serve_tray(app, workspace)
    _serve_work(app, workspace)
    _serve_design(app, workspace)
    _serve_works(app, workspace)
    _serve_actions(app, workspace)
    _serve_disc(app, workspace)
    _serve_downloads(app, workspace)
    return app


# -- who may ask -----------------------------------------------------------------------------------


def _guard(app: Flask, token: str, port: int) -> None:
    from flask import abort, request

    host = f"{HOST}:{port}"

    @app.before_request
    def check() -> None:
        if request.host != host:
            abort(403)
        origin = request.headers.get("Origin")
        if origin is not None and origin != f"http://{host}":
            abort(403)
        if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
            abort(403)
        if request.method not in ("GET", "HEAD") and origin is None:
            abort(403)
        given = request.path.split("/", 2)[1]
        if not secrets.compare_digest(given.encode(), token.encode()):
            if "text/html" in request.headers.get("Accept", ""):
                raise OldAddress
            abort(404)

    @app.url_value_preprocessor
    def drop_token(_endpoint: str | None, values: dict[str, Any] | None) -> None:
        if values:
            values.pop("token", None)

    @app.after_request
    def add_headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response


def _answer_errors(app: Flask) -> None:
    """Every failure is a sentence; what went wrong inside is shown where the page was started."""
    from flask import Response, jsonify
    from werkzeug.exceptions import HTTPException

    def sentence(text: str, status: int, **more: Any) -> tuple[Response, int]:
        return jsonify({"error": text, **more}), status

    @app.errorhandler(Superseded)
    def superseded(_error: Superseded) -> Response:
        # nothing went wrong: the same tab asked for something newer
        return jsonify({"superseded": True})

    @app.errorhandler(Conflict)
    def conflict(error: Conflict) -> tuple[Response, int]:
        return sentence(str(error), 409)

    @app.errorhandler(OldAddress)
    def old_address(_error: OldAddress) -> Response:
        return Response(_file("old.html"), 404, content_type=_KINDS[".html"])

    @app.errorhandler(Gone)
    def gone(error: Gone) -> tuple[Response, int]:
        return sentence(str(error), 410)

    @app.errorhandler(WrongUsage)
    def form(error: WrongUsage) -> tuple[Response, int]:
        return sentence(str(error), 422, **refused_words(error))

    @app.errorhandler(HimotifError)
    def foreseen(error: HimotifError) -> tuple[Response, int]:
        return sentence(str(error), 422)

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException) -> tuple[Response, int]:
        known = {
            403: "Only the page itself may ask for this.",
            404: "There is nothing here. Use the whole address that himotif page has shown.",
            413: f"This file is larger than {MOST_UPLOAD // 1024**2} MB. Save a smaller copy.",
        }
        status = error.code or 500
        return sentence(known.get(status, "This cannot be asked of the page."), status)

    @app.errorhandler(Exception)
    def fault(error: Exception) -> tuple[Response, int]:
        traceback.print_exception(error, file=sys.stderr)
        return sentence(OWN_FAULT[:1].upper() + OWN_FAULT[1:], 500)


# -- files -----------------------------------------------------------------------------------------

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".txt": "text/plain; charset=utf-8",
}


@cache
def _file(name: str) -> bytes:
    return resources.files(__package__).joinpath("static", *name.split("/")).read_bytes()


@cache
def _page() -> bytes:
    return page_html().encode()


@cache
def samples() -> dict[str, bytes]:
    """Return the bundled sketches by name."""
    folder = resources.files("himotif.fixtures").joinpath("motifs")
    found = {item.name: item.read_bytes() for item in folder.iterdir()}
    return {name: found[name] for name in sorted(found) if name.endswith(".png")}


@cache
def sample_palettes() -> dict[str, bytes]:
    """Return the bundled palettes by name."""
    folder = resources.files("himotif.fixtures").joinpath("palettes")
    found = {item.name: item.read_bytes() for item in folder.iterdir()}
    order = sorted(found, key=lambda name: (name != "saltmarsh.csv", name))
    return {name: found[name] for name in order if name.endswith((".csv", ".gpl"))}


@cache
def _names() -> frozenset[str]:
    static = resources.files(__package__).joinpath("static")
    own = {item.name for item in static.iterdir() if item.is_file()}
    brought = {f"vendor/{item.name}" for item in static.joinpath("vendor").iterdir()}
    return frozenset(own | brought)


def _serve_files(app: Flask) -> None:
    from flask import Response, abort

    def reply(content: bytes, name: str) -> Response:
        return Response(content, content_type=_KINDS[PurePath(name).suffix])

    @app.get("/<token>/")
    def page() -> Response:
        return reply(_page(), "page.html")

    @app.get("/<token>/disc/<key>")
    def disc(key: str) -> Response:
        if not ID.fullmatch(key):
            abort(404)
        return reply(_file("disc.html"), "disc.html")

    @app.get("/<token>/static/<path:name>")
    def static(name: str) -> Response:
        if name not in _names():
            abort(404)
        answer = reply(_file(name), name)
        # they stay the same for as long as this address is any good, see `_file`
        answer.headers["Cache-Control"] = "private, max-age=86400, immutable"
        return answer

    @app.get("/<token>/samples/<name>")
    def sample(name: str) -> Response:
        if name not in samples():
            abort(404)
        return reply(samples()[name], name)


# -- the workspace -----------------------------------------------------------------------------


def _refuse_long(data: bytes) -> None:
    """Refuse what came in pieces and is too long; no more of it was read."""
    from flask import abort, request

    if request.content_length is None and len(data) >= MOST_UPLOAD:
        abort(413)


def _asked() -> dict[str, Any]:
    """The request's JSON object."""
    from flask import abort, request

    _refuse_long(request.get_data())
    try:
        plain = request.get_json(silent=True)
    except RecursionError:
        abort(400)
    if not isinstance(plain, dict):
        abort(400)
    return plain


def _asked_work() -> str:
    """The saved work of the browser tab that asks."""
    from flask import request

    return request.headers.get("X-Work", "")[:32] or request.args.get("work", "")[:32]


def _asked_beads() -> tuple[Any, Any, dict[str, Any]]:
    """Which design the request is about, its beads as they are edited, and the form."""
    plain = _asked()
    form = plain.get("order")
    return plain.get("key", ""), plain.get("beads"), form if isinstance(form, dict) else {}


def _tab() -> str:
    """The browser tab that asks."""
    from flask import request

    return request.headers.get("X-Tab", "")[:64]


def _asked_by_tab() -> dict[str, Any]:
    """What is asked for, with the work and the browser tab that it is asked in."""
    return {**_asked(), "work": _asked_work(), "tab": _tab()}


def _serve_bringing(app: Flask, workspace: Workspace) -> None:
    """Take files, the maker's own or bundled ones, into the workspace."""
    from flask import abort, jsonify, request

    bring: dict[str, Callable[[bytes, str], dict[str, Any]]] = {
        "picture": workspace.bring_picture,
        "photograph": workspace.bring_photograph,
        "palette": workspace.bring_palette,
        "swatch": workspace.bring_swatch,
        "start": workspace.bring_start,
        "font": workspace.bring_font,
        "design": workspace.bring_design,
        "work": workspace.bring_work,
    }

    @app.get("/<token>/api/start")
    def start() -> Response:
        return jsonify({**_start(), "recent": workspace.works.recent()})

    @app.post("/<token>/api/bring/<what>")
    def take(what: str) -> Response:
        if what not in bring:
            abort(404)
        name = unquote(request.headers.get("X-File-Name", "")) or "your file"
        name = PurePath(name.replace("\\", "/")).name[:120]
        data = request.get_data()
        _refuse_long(data)
        return jsonify(bring[what](data, name))

    @app.post("/<token>/api/sample/<what>/<name>")
    def take_sample(what: str, name: str) -> Response:
        held = {"picture": samples, "palette": sample_palettes}.get(what, dict)()
        if name not in held:
            abort(404)
        return jsonify(bring[what](held[name], name))


def _serve_tray(app: Flask, workspace: Workspace) -> None:
    """Keep the tray as it stands, and say how large a photograph of beads is."""
    from flask import jsonify

    @app.post("/<token>/api/palette")
    def palette() -> Response:
        return jsonify(workspace.palette(_asked()))

    @app.post("/<token>/api/photograph")
    def photograph() -> Response:
        plain = _asked()
        return jsonify({"size_px": workspace.photograph_px(plain.get("id"), _asked_work())})


_ACTIONS: dict[str, dict[str, Callable[[Workspace, Mapping[str, Any]], dict[str, Any]]]] = {
    "tray": {
        "photographed": tray.photographed,
        "in-order": tray.in_order,
        "together": tray.together,
        "used": tray.used,
        "suggested": tray.suggested,
    },
    "tools": {
        "mirrored": tools.mirrored,
        "compared": tools.compared,
        "planned": tools.planned,
        "blank": tools.blank,
        "swatch": tools.swatch,
        "recorded": tools.recorded,
        "changed": tools.changed,
    },
}
"""What is done to the tray, and what is wanted now and then; see `tray` and `tools`."""


def _serve_actions(app: Flask, workspace: Workspace) -> None:
    """Carry out what stands in `_ACTIONS`."""
    from flask import abort, jsonify

    @app.post("/<token>/api/<any(tray, tools):where>/<what>")
    def act(where: str, what: str) -> Response:
        if what not in _ACTIONS[where]:
            abort(404)
        return jsonify(_ACTIONS[where][what](workspace, _asked_by_tab()))


def _serve_work(app: Flask, workspace: Workspace) -> None:
    """Make designs and reports, and show them."""
    from flask import Response, jsonify, request

    def png(content: bytes) -> Response:
        return Response(content, content_type="image/png")

    @app.post("/<token>/api/work")
    def work() -> Response:
        return jsonify(workspace.work(_asked_by_tab()))

    @app.post("/<token>/api/opened")
    def opened() -> Response:
        return jsonify(workspace.opened(_asked().get("id"), _asked_work()))

    @app.post("/<token>/api/ways")
    def ways() -> Response:
        found = workspace.ways(_asked_beads()[0], _tab())
        return Response(_lines(found), content_type="application/x-ndjson")

    @app.post("/<token>/api/remedies")
    def remedies() -> Response:
        return jsonify(workspace.remedies(_asked_beads()[0], _tab()))

    @app.get("/<token>/api/waiting")
    def waiting() -> Response:
        return jsonify({"waiting": workspace.workers.waiting})

    @app.post("/<token>/api/report")
    def report() -> Response:
        return jsonify(workspace.report(*_asked_beads(), _tab()))

    @app.post("/<token>/api/limits")
    def limits() -> Response:
        return jsonify({"missed": workspace.missed(*_asked_beads(), _tab())})

    @app.get("/<token>/api/picture/<key>.png")
    def picture(key: str) -> Response:
        return png(workspace.picture_png(key, _asked_work(), request.args.get("corners", "")))

    @app.get("/<token>/api/report/<key>.svg")
    def report_picture(key: str) -> Response:
        return Response(workspace.report_svg(key), content_type="image/svg+xml")


def _serve_design(app: Flask, workspace: Workspace) -> None:
    """What is worked out of a design as it is edited: to be shown, and files to be saved."""
    from flask import Response, jsonify

    shown = {
        "tally": workspace.tally,
        "ring": workspace.ring,
        "sheet-pages": workspace.sheet_pages,
    }
    files = {
        "folder": (workspace.folder, "application/zip"),
        "design": (workspace.design_file, "application/json"),
        "sheet": (workspace.sheet, "application/pdf"),
    }

    @app.post("/<token>/api/<any(tally, ring, 'sheet-pages'):what>")
    def show(what: str) -> Response:
        return jsonify(shown[what](*_asked_beads()))

    @app.post("/<token>/api/<any(folder, design, sheet):what>")
    def give(what: str) -> Response:
        make, kind = files[what]
        return _download(*make(*_asked_beads()), kind)

    @app.post("/<token>/api/ring-picture")
    def ring_picture() -> Response:
        content = workspace.ring_picture(*_asked_beads())
        return Response(content, content_type=_KINDS[".png"])


def _lines(found: Iterator[dict[str, Any]]) -> Iterator[str]:
    """Values as lines of JSON, each as soon as it is there; what goes wrong is the last one."""
    try:
        for one in found:
            yield json.dumps(one) + "\n"
    except Superseded:
        yield json.dumps({"superseded": True}) + "\n"
    except HimotifError as error:
        yield json.dumps({"error": str(error)}) + "\n"


def _serve_works(app: Flask, workspace: Workspace) -> None:
    """Save works, and give them back."""
    from flask import Response, jsonify

    works = workspace.works

    @app.get("/<token>/api/recent")
    def recent() -> Response:
        return jsonify(works.recent())

    @app.get("/<token>/api/saved/<key>")
    def saved(key: str) -> Response:
        return jsonify(works.read(key, "work.json").plain)

    @app.get("/<token>/api/saved/<key>/picture.png")
    def saved_picture(key: str) -> Response:
        picture = works.about(key).picture
        if picture is None:
            raise Gone("This work has no picture.")
        return Response(picture, content_type="image/png")

    @app.post("/<token>/api/saved/<key>")
    def save(key: str) -> Response:
        return jsonify(workspace.save(key, _asked()))

    @app.post("/<token>/api/saved/<key>/remove")
    def remove(key: str) -> Response:
        works.remove(key)
        return jsonify({})


def _serve_disc(app: Flask, workspace: Workspace) -> None:
    """The work at the disc, from the saved work alone."""
    from flask import jsonify

    @app.get("/<token>/api/disc/<key>")
    def at_the_disc(key: str) -> Response:
        work = workspace.works.read(key, "design.json")
        return jsonify(disc_view.view(work, workspace.works.place(key)))

    @app.post("/<token>/api/disc/<key>/place")
    def keep_place(key: str) -> Response:
        workspace.works.keep_place(key, disc_view.place_from(_asked()))
        return jsonify({})

    @app.post("/<token>/api/disc/<key>/where")
    def where(key: str) -> Response:
        return jsonify(disc_view.where(workspace.works.read(key, "design.json"), _asked()))


def _download(name: str, content: bytes, kind: str) -> Response:
    """A file to be saved."""
    from flask import Response

    response = Response(content, content_type=kind)
    response.headers.set("Content-Disposition", "attachment", filename=name)
    return response


def _serve_downloads(app: Flask, workspace: Workspace) -> None:
    """Give a palette, a work, and what a tool made, to be saved."""

    @app.post("/<token>/api/palette-file")
    def palette_file() -> Response:
        return _download(*workspace.palette_file(_asked()), "text/csv")

    @app.post("/<token>/api/saved/<key>/file")
    def work_file(key: str) -> Response:
        return _download(*workspace.work_file(key), "application/zip")

    @app.post("/<token>/api/file")
    def file() -> Response:
        return _download(*workspace.file(_asked().get("file")), "application/octet-stream")


@cache
def _start() -> dict[str, Any]:
    """What the page needs to know to begin."""
    from ...core.bead import bead_sizes
    from ...core.finish import finish_names
    from ..options import DEFAULT_WRIST_MM

    return {
        "samples": list(samples()),
        "palettes": list(sample_palettes()),
        "sizes": list(bead_sizes()),
        "finishes": list(finish_names()),
        "wrist_mm": DEFAULT_WRIST_MM,
        "most_upload": MOST_UPLOAD,
    }


# -- running it ------------------------------------------------------------------------------------


class PageServer:
    """A page being served.

    Parameters
    ----------
    port : int, optional
        0 for any that is free; if not given, the usual one, or another if that is taken.
    works : Path, optional
        Where works are saved; the user's own folder if not given.
    """

    def __init__(self, port: int | None = None, works: Path | None = None) -> None:
        from werkzeug.serving import WSGIRequestHandler, make_server

        class Quiet(WSGIRequestHandler):
            """Says nothing about requests, nor what serves them."""

            def log(self, type: str, message: str, *args: Any) -> None:
                pass

            def version_string(self) -> str:
                return "himotif"

        self._socket = _listening(port)
        port = self._socket.getsockname()[1]
        self.workspace = Workspace(Works(works or users_folder()))
        token = secrets.token_urlsafe(24)
        self._server: BaseWSGIServer = make_server(
            HOST,
            port,
            make_app(self.workspace, token, port),
            threaded=True,
            request_handler=Quiet,
            fd=self._socket.fileno(),
        )
        self.address = f"http://{HOST}:{port}/{token}/"

    def serve(self) -> None:
        """Serve until stopped."""
        self._server.serve_forever()

    def stop(self) -> None:
        """Stop serving; from another thread."""
        self._server.shutdown()

    def close(self) -> None:
        """End all work."""
        self._server.server_close()
        self._socket.close()
        self.workspace.close()


def _listening(port: int | None) -> socket.socket:
    if port is None:
        with contextlib.suppress(OSError):
            return socket.create_server((HOST, PORT))
        port = 0
    try:
        return socket.create_server((HOST, port))
    except OSError as error:
        raise HimotifError(
            f"Port {port} of this machine cannot be had ({error.strerror}). Choose another "
            "with --port, or leave it out to get a free one."
        ) from None


def run_page(port: int | None, open_browser: bool, say: Callable[[str], None]) -> None:
    """Serve the page until Ctrl-C.

    Parameters
    ----------
    port : int, optional
        See `PageServer`.
    open_browser : bool
    say : callable
        Called with the address as soon as the page is there.
    """
    with contextlib.suppress(KeyboardInterrupt), contextlib.closing(PageServer(port)) as page:
        # the first, quick design is made in this process: load its libraries before it is asked for
        threading.Thread(target=get_ready, daemon=True).start()
        say(page.address)
        if open_browser:
            threading.Thread(target=webbrowser.open, args=(page.address,), daemon=True).start()
        page.serve()
