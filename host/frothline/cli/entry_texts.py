"""Entries of a form given at the command line, like ``cup='640 kg/m3'``."""

from __future__ import annotations

from collections.abc import Sequence

from frothline.errors import InputError


def entry_texts(given: Sequence[str]) -> dict[str, str]:
    """Texts by name from "cup=640 kg/m3". Raises InputError for one without a sign of equality."""
    found = {}
    for one in given:
        name, sign, text = one.partition("=")
        if not sign:
            raise InputError(f"“{one[:40]}” is not an entry", where="entries", remedy="Write it like cup=640 kg/m3")
        found[name.strip()] = text
    return found
