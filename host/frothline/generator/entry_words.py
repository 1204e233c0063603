"""Names and values of build sheet entries as text in the reader's units."""

from __future__ import annotations

from typing import Any

from frothline.generator.build import entries
from frothline.generator.sheet import write_value
from frothline.generator.sheet_form import entry_kind
from frothline.generator.stock_sizes import pipe_named, pipe_of_bore
from frothline.quantities import also_in, in_entry_unit


def spoken(path: str) -> str:
    """The name of an entry in words: "outlet.bore" is the outlet bore."""
    return path.replace(".", " ").replace("_", " ")


def entry_words(path: str, value: Any, system: str = "metric") -> str:
    """A value of the build as written in its sheet, or in the reader's units; a pipe has its name in both."""
    part, _, name = path.partition(".")
    if value is None:
        return "not given"
    kind = next(f.metadata["kind"] for f in entries(part) if f.name == name)
    if kind == "list":
        return ", ".join(value) or "none"
    if system != "metric" and (figure := entry_kind(path)) and not (kind == "bore" and pipe_of_bore(value, 1e-9)):
        return in_entry_unit(value, figure, system)
    return write_value(value, kind)


def in_reader_unit(path: str, text: str, system: str) -> str:
    """A typed entry in the reader's unit, as in "= 1.496 in", where it is in other units or the name of a pipe.

    Empty for an entry in the reader's unit, and for a text that cannot be read.
    """
    figure = entry_kind(path)
    if not figure:
        return ""
    try:
        pipe = pipe_named(text) if figure == "length" else None
    except ValueError:
        return ""
    return also_in(text, figure, system) if pipe is None else f"= {in_entry_unit(pipe.bore, 'length', system)} inside"
