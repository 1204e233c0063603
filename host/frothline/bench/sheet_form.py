"""Entries of a build sheet as they are typed, in the form of the page or behind ``--set`` at the prompt."""

from __future__ import annotations

from typing import Any

from frothline.quantities import is_number, read_number

from .build import PARTS, entries

# path -> kind, of all that is in the form
ENTRIES: dict[str, str] = {"name": "text", "notes": "text"} | {
    f"{part}.{item.name}": str(item.metadata["kind"]) for part in PARTS for item in entries(part)
}


def typed_entry(path: str, text: str) -> Any:
    """The entry as the sheet has it; what cannot be read stays as it was typed, and the sheet's reader says so.

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
        except ValueError:  # its comma can be read two ways
            return text
        return int(value) if value == int(value) else value
    return text
