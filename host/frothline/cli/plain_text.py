"""Output where the encoding lacks a character: ``kg/m³`` is written ``kg/m3`` there, and no command fails for it.

A terminal or pipe with ``LANG=C`` or a Windows code page has no ``³``, ``–`` or curly quotation marks.
"""

from __future__ import annotations

import codecs
import sys
import unicodedata
from typing import TextIO

NAME = "frothline-plain"  # of the handler, for ``errors`` of a text stream
_PLAIN = {
    "–": "-",
    "—": "-",
    "−": "-",
    "“": '"',
    "”": '"',
    "‘": "'",
    "’": "'",
    "…": "...",
    "≥": ">=",
    "≤": "<=",
    "±": "+/-",
    "→": "->",
    "×": "x",
    "·": ".",
    "°": "deg ",
    "Δ": "d",
    "ρ": "rho",
    "₂": "2",
    "²": "2",
    "³": "3",
}


def plain_characters(text: str) -> str:
    """The text in characters of ASCII; an unknown one becomes a question mark."""
    found = []
    for one in text:
        simple = unicodedata.normalize("NFKD", one).encode("ascii", "ignore").decode()
        found.append(_PLAIN.get(one, simple or "?"))
    return "".join(found)


def _replace(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return plain_characters(error.object[error.start : error.end]), error.end


def write_everything(*streams: TextIO) -> None:
    """Let these streams write every character, in another spelling where their encoding lacks it."""
    codecs.register_error(NAME, _replace)
    for stream in streams:
        reconfigure = getattr(stream, "reconfigure", None)  # not every stand-in for a stream has it
        if reconfigure is not None:
            reconfigure(errors=NAME)


def has_every_character(stream: TextIO | None = None) -> bool:
    """Whether an encoding has all characters, as UTF-8 does."""
    encoding = getattr(stream or sys.stdout, "encoding", None) or "ascii"
    return encoding.casefold().replace("-", "").startswith("utf")
