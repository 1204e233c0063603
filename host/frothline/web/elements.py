"""Pieces of a page whose shape changes with what they say: built here as plain lists, made into elements by the page.

A block is sent when its key is new to the viewer, like a picture; between two messages only what differs is touched,
so that the focus, a half-typed figure and an opened drawer stay as they are. Text is always text: nothing that stands
in a file can become an element or a script.

    node("p", "held ", node("b", "5 s"), role="status")   ->   ["p", {"role": "status"}, "held ", ["b", {}, "5 s"]]
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Sequence
from typing import Any

Node = str | list[Any]
Block = dict[str, Any]


def node(tag: str, *children: Node | None, **attributes: str | bool | None) -> Node:
    """An element. ``None`` children and attributes are left out, underscores in names become hyphens, a trailing one is
    dropped (``class_``, ``for_``); True gives an attribute without a value.
    """
    named = {
        key.rstrip("_").replace("_", "-"): "" if value is True else value
        for key, value in attributes.items()
        if value is not None and value is not False
    }
    return [tag, named, *(child for child in children if child is not None)]


def nodes(tag: str, items: Iterable[str]) -> list[Node]:
    """One element for each text."""
    return [node(tag, text) for text in items]


def button(words: str, do: str, *, look: str = "quiet", also: str | None = None, **more: str | bool | None) -> Node:
    """A button that asks the server for ``do``: "family:verb" or "family:verb:argument". ``also`` sets a wish."""
    return node("button", words, type="button", data_do=do or None, data_also=also, class_=look or None, **more)


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[Node]], *, name: str = "", **more: str) -> Node:
    """A table as everywhere on the pages; the first cell of a row heads it. ``name`` is for its looks."""
    body = [node("tr", node("th", cells[0], scope="row"), *(node("td", cell) for cell in cells[1:])) for cells in rows]
    head = node("thead", node("tr", *(node("th", text, scope="col") for text in heads))) if heads else None
    made = node("table", node("caption", caption), head, node("tbody", *body), class_="rows", data_rows=name or None)
    return node("div", made, class_="sideways", tabindex="0", role="region", aria_label=caption, **more)


def drawing(svg: str, about: str) -> Node:
    """A drawing that this program made, with what it shows in words."""
    if "xmlns=" not in svg:
        svg = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return node("div", svg=svg, class_="drawing", role="img", aria_label=about)


def block(body: Sequence[Node | None], have: str | None = None) -> Block:
    """What goes into a message under the block's name; without its body where the viewer has it already."""
    shown = [part for part in body if part is not None]
    key = f"{zlib.crc32(json.dumps(shown, ensure_ascii=False).encode()):08x}"
    return {"key": key} if have == key else {"key": key, "body": shown}


def words_of(item: Node) -> str:
    """All text of a piece, for whoever wants to read it without a page."""
    if isinstance(item, str):
        return item
    return " ".join(filter(None, (words_of(child) for child in item[2:])))
