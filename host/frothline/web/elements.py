"""Blocks of a page with variable structure, built as plain lists; the page's script makes elements of them.

A block is sent when its key is new to the viewer, like a chart. The script changes only what differs between two
messages, so that the focus, a half-typed figure and open details stay unchanged. Text stays text: no content of a file
can become an element or a script.

    node("p", "held ", node("b", "5 s"), role="status")   ->   ["p", {"role": "status"}, "held ", ["b", {}, "5 s"]]
"""

from __future__ import annotations

import zlib
from collections.abc import Collection, Iterable, Sequence
from typing import Any

from frothline.formatting import Shown
from frothline.label_case import label_case
from frothline.sentence_units import in_units
from frothline.web.json_text import json_bytes

Node = str | list[Any]
Block = dict[str, Any]


# Elements whose first text is a label: it begins with a capital, unless it is a ``Name``.
LABELS = {"button", "caption", "dt", "h2", "h3", "label", "legend", "summary", "th"}


def node(tag: str, *children: Node | None, **attributes: str | bool | None) -> Node:
    """An element. ``None`` children and attributes are left out. Underscores in names become hyphens; a trailing
    underscore is dropped (``class_``, ``for_``). True gives an attribute without a value.
    """
    named = {
        key.rstrip("_").replace("_", "-"): "" if value is True else value
        for key, value in attributes.items()
        if value is not None and value is not False
    }
    held = [child for child in children if child is not None]
    if tag in LABELS and held and isinstance(held[0], str):
        held[0] = label_case(held[0])
    return [tag, named, *held]


def nodes(tag: str, items: Iterable[str]) -> list[Node]:
    """One element for each text."""
    return [node(tag, text) for text in items]


def button(words: str, do: str, *, look: str = "quiet", also: str | None = None, **more: str | bool | None) -> Node:
    """A button that requests ``do`` from the server: "family:verb" or "family:verb:argument". ``also`` sets a viewer
    setting.
    """
    return node("button", words, type="button", data_do=do or None, data_also=also, class_=look or None, **more)


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[Node]], *, name: str = "", **more: str) -> Node:
    """A table in the common style; the first cell of a row is its head. ``name`` selects the style."""
    body = [node("tr", node("th", cells[0], scope="row"), *(node("td", cell) for cell in cells[1:])) for cells in rows]
    head = node("thead", node("tr", *map(_head, heads))) if heads else None
    made = node("table", node("caption", caption), head, node("tbody", *body), class_="rows", data_rows=name or None)
    return node("div", made, class_="sideways", tabindex="0", role="region", aria_label=caption, **more)


def figure_cell(shown: Shown) -> Node:
    """A figure in a table: its value with unit, and its interval or the reason why it is unknown."""
    return node("span", node("b", f"{shown.value} {shown.unit}".strip()), " ", node("small", shown.under))


def _head(text: str) -> Node:
    """The head of a column. An empty one is no head, or a screen reader announces it without words."""
    return node("th", text, scope="col") if text else node("td")


def drawing(svg: str, about: str) -> Node:
    """A drawing made by this program, with its description."""
    if "xmlns=" not in svg:
        svg = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return node("div", svg=svg, class_="drawing", role="img", aria_label=about)


def block(body: Sequence[Node | None], have: str | None = None) -> Block:
    """The message entry of a block; without its body if the viewer already has it."""
    shown = [part for part in body if part is not None]
    key = f"{zlib.crc32(json_bytes(shown)):08x}"
    return {"key": key} if have == key else {"key": key, "body": shown}


# Elements whose text is a name or was typed.
_NAMES = ("option", "input", "textarea", "a")


def in_reader_units(body: Sequence[Node | None], system: str, names: Collection[str] = ()) -> list[Node | None]:
    """The pieces of a block with the figures of their sentences in the reader's units, see ``sentence_units``.

    names : names of builds, recordings and files, which are unchanged
    """
    return [_in_units(part, system, names) for part in body] if system != "metric" else list(body)


def _in_units(item: Any, system: str, names: Collection[str]) -> Any:
    if isinstance(item, str):
        return in_units(item, system, names)
    if item is None or item[0] in _NAMES:
        return item
    return [*item[:2], *(_in_units(child, system, names) for child in item[2:])]


def words_of(item: Node) -> str:
    """All text of a block, for use without a page."""
    if isinstance(item, str):
        return item
    return " ".join(filter(None, (words_of(child) for child in item[2:])))
