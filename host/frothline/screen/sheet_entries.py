"""The entries of the build sheet's form: which there are, and how they stand in it as a person typed them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.bench.build import PARTS, entries
from frothline.toml_text import TomlUnreadable, read_toml

# path -> kind, of all that stands in the form
ENTRIES: dict[str, str] = {"name": "text", "notes": "text"} | {
    f"{part}.{item.name}": str(item.metadata["kind"]) for part in PARTS for item in entries(part)
}


def as_typed(text: str) -> dict[str, str]:
    """What stands in a sheet, by path, as one would type it; nothing for a text that is no TOML."""
    try:
        raw = read_toml(text)
    except TomlUnreadable:
        return {}
    found: dict[str, str] = {}
    for key, value in raw.items():
        if isinstance(value, Mapping):
            found |= {f"{key}.{name}": _words(item) for name, item in value.items()}
        else:
            found[key] = _words(value)
    return found


def _words(value: Any) -> str:
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(map(str, value))
    return str(value)


def typed_entry(path: str, text: str) -> Any:
    """The entry as the sheet has it; what cannot be read stays as it was typed, and the sheet's reader says so."""
    text, kind = text.strip(), ENTRIES[path]
    if kind == "list":
        return [item.strip() for item in text.split(",") if item.strip()]
    if not text:
        return None if "." in path else ""
    if kind in {"count", "share"}:
        for read in (int, float):
            try:
                return read(text)
            except ValueError:
                continue
    return text
