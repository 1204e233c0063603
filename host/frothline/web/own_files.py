"""The files that a browser loads with the document: one style sheet, one script, the chart library.

The style sheet and the script are joined from the files of ``assets``: a request costs the server 1 ms of processor
time and the browser more, whatever the size. A file is read, and compressed, once for each program. Its address has the
hash of its content, so that a browser may keep it for ever.
"""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

ASSETS = Path(__file__).parent / "assets"
BEGIN = "page.js"  # in the head of the document itself, which thus asks for the first message before files load
SCRIPTS = (  # in the order in which they run
    "forms.js",
    "elements.js",
    "line_diagram.js",
    "sound.js",
    "charts.js",
    "guide.js",
    "guide_keys.js",
    "sliders.js",
    "handles.js",
    "drawers.js",
    "marks.js",
    "drawing.js",
    "choices.js",
    "print.js",
    "framework.js",
    "connection.js",
)
STYLE, SCRIPT = "frothline.css", "frothline.js"
PLOTLY = "vendor/plotly-basic.min.js"  # npm package plotly.js-basic-dist-min: the charts are scatter traces only
TYPES = {STYLE: "text/css", SCRIPT: "text/javascript", PLOTLY: "text/javascript"}


@cache
def content(name: str) -> bytes:
    """The bytes of ``STYLE``, ``SCRIPT`` or ``PLOTLY``."""
    if name == STYLE:
        return _joined(sorted((path.name for path in ASSETS.glob("*.css")), key=lambda one: (one != "base.css", one)))
    if name == SCRIPT:
        return _joined(SCRIPTS)
    return (ASSETS / name).read_bytes()


def address(name: str) -> str:
    """Where the server has a file; it changes with the content."""
    return f"/assets/{name}?{hashlib.sha256(content(name)).hexdigest()[:12]}"


def register(server: FastAPI) -> None:
    """Serve the three files. Call it before the page framework adds its own address for all assets."""
    for name in TYPES:
        server.add_route(f"/assets/{name}", _answer(name))


def _answer(name: str) -> Callable[[Request], Response]:
    def answer(request: Request) -> Response:
        if "gzip" not in request.headers.get("accept-encoding", ""):
            return Response(content(name), media_type=TYPES[name])
        headers = {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"}
        return Response(_packed(name), media_type=TYPES[name], headers=headers)

    return answer


@cache
def _packed(name: str) -> bytes:
    return gzip.compress(content(name), compresslevel=6, mtime=0)


def _joined(names: Sequence[str]) -> bytes:
    return b"\n".join((ASSETS / name).read_bytes() for name in names)
