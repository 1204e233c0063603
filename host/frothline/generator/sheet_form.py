"""Texts of the build sheet's form: each entry as typed by a person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.generator.build import PARTS, entries
from frothline.quantities import is_number, read_number, with_unit
from frothline.toml_text import TomlUnreadable, read_toml
from frothline.units import ENTRY_UNITS


def as_typed(text: str) -> dict[str, str]:
    """Entries of a sheet by path, as typed text; empty for a text that is not TOML."""
    try:
        raw = read_toml(text)
    except TomlUnreadable:
        return {}
    found: dict[str, str] = {}
    for key, value in raw.items():
        if isinstance(value, Mapping):
            for name, item in value.items():
                kind = entry_kind(f"{key}.{name}")
                found[f"{key}.{name}"] = with_unit(_words(item), kind, "metric") if kind else _words(item)
        else:
            found[key] = _words(value)
    return found


def _words(value: Any) -> str:
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(map(str, value))
    return str(value)


# path -> kind, of all entries of the form
ENTRIES: dict[str, str] = {"name": "text", "notes": "text"} | {
    f"{part}.{item.name}": str(item.metadata["kind"]) for part in PARTS for item in entries(part)
}


def entry_kind(path: str) -> str:
    """The kind of figure of an entry, a key of ``units.ENTRY_UNITS``; empty for words, counts and shares."""
    kind = ENTRIES.get(path, "")
    return {"bore": "length"}.get(kind, kind if kind in ENTRY_UNITS else "")


def typed_entry(path: str, text: str) -> Any:
    """The entry as sheet value; an unreadable text stays as typed, and the sheet's reader reports it.

    ``path`` : a key of ENTRIES
    """
    text, kind = text.strip(), ENTRIES[path]
    if kind == "list":
        return [item.strip() for item in text.split(",") if item.strip()]
    if not text:
        return None if "." in path else ""
    if kind in {"count", "share"} and is_number(text):
        try:
            value = read_number(text)
        except ValueError:  # its comma is ambiguous
            return text
        return int(value) if value == int(value) else value
    return text
