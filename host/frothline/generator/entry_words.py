"""Names and values of build sheet entries as text in the reader's units."""

from __future__ import annotations

from typing import Any

from frothline.generator.build import entries
from frothline.generator.sheet import write_value


def spoken(path: str) -> str:
    """The name of an entry in words: "outlet.bore" is the outlet bore."""
    return path.replace(".", " ").replace("_", " ")


def entry_words(path: str, value: Any) -> str:
    """A value of the build as written in its sheet."""
    part, _, name = path.partition(".")
    if value is None:
        return "not given"
    kind = next(f.metadata["kind"] for f in entries(part) if f.name == name)
    if kind == "list":
        return ", ".join(value) or "none"
    return write_value(value, kind)
