"""The HTML document of the pages. It has all words before any script has run.

The pages are declared as components of the page framework. Here they become plain HTML, which the scripts fill in. Only
the stores for requests (``components.asks``) are left to the framework, which is loaded after the first message: a
reader sees words, then figures, then charts.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

from dash import dcc
from dash.development.base_component import Component

from frothline.web import line_diagram, own_files
from frothline.web.page_link import PageLink

WITHOUT_END = {"br", "hr", "img", "input"}
NAMES = {"className": "class", "htmlFor": "for", "tabIndex": "tabindex"}


def index_string(links: Sequence[PageLink], pages: str) -> str:
    """The document with the framework's own ``{%...%}`` left in. ``pages`` : HTML of all pages."""
    names = {path: link.key for link in links for path in (link.path, f"/{link.key}", *link.earlier)}
    filled = {
        "line": line_diagram.drawing(links),
        "strip": line_diagram.strip(links),
        "begin": (own_files.ASSETS / own_files.BEGIN).read_text("utf-8"),
        "page_names": escape(json.dumps(names)),
        "plotly": own_files.address(own_files.PLOTLY),
        "style": own_files.address(own_files.STYLE),
        "shown": ", ".join(f'body[data-page="{link.key}"] #page-{link.key}' for link in links) + " { display: block; }",
        "script": own_files.address(own_files.SCRIPT),
        "pages": pages,
    }
    document = (own_files.ASSETS / "index.html").read_text("utf-8")
    for key, text in filled.items():
        document = document.replace(f"{{{key}}}", text)
    return document


def markup(part: Any, stores: list[dcc.Store]) -> str:
    """HTML of a component, a text, or a sequence of both. Stores are appended to ``stores`` and leave no HTML."""
    if part is None:
        return ""
    if isinstance(part, str | int | float):
        return escape(str(part))
    if isinstance(part, dcc.Store):
        stores.append(part)
        return ""
    if not isinstance(part, Component):
        return "".join(markup(one, stores) for one in part)
    described = part.to_plotly_json()
    tag, properties = described["type"].lower(), described["props"]
    inside = markup(properties.pop("children", None), stores)
    return f"<{tag}{_attributes(properties.items())}>" + ("" if tag in WITHOUT_END else f"{inside}</{tag}>")


def _attributes(properties: Iterable[tuple[str, Any]]) -> str:
    return "".join(
        f" {NAMES.get(name, name)}" if value is True else f' {NAMES.get(name, name)}="{escape(str(value))}"'
        for name, value in properties
        if value is not None and value is not False
    )
