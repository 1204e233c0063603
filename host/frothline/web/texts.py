"""Texts and figures in the form of the pages' messages."""

from __future__ import annotations

from frothline.formatting import Shown
from frothline.rounding import counted as number_text


def sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}." if text else ""


def put_figure(texts: dict[str, str], key: str, shown: Shown) -> None:
    texts[key], texts[f"{key}-unit"], texts[f"{key}-under"] = shown.value, shown.unit, shown.under


def counted(count: int, word: str, none: str) -> str:
    """A number with its noun, plural from two; ``none`` for 0."""
    return number_text(count, word) if count else none
