"""What the build sheet's form shows: each entry as a person would type it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.toml_text import TomlUnreadable, read_toml


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
