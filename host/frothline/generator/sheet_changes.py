"""Changes of build sheet entries for command line and Python, by the rules of the page's form."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from frothline.errors import InputError
from frothline.generator.build import Build
from frothline.generator.linked_entries import Along, along_entries
from frothline.generator.sheet import Sheet, edit_sheet, parse_sheet
from frothline.generator.sheet_form import ENTRIES, typed_entry
from frothline.quantities import shorten


def check_entry(path: str, where: str) -> str:
    """The path of an entry without surrounding blanks. Raises InputError for an unknown entry."""
    path = path.strip()
    if path not in ENTRIES:
        near = get_close_matches(shorten(path), ENTRIES, n=1)
        remedy = f"Did you mean {near[0]}?" if near else "Entries are named like outlet.bore"
        raise InputError(f"unknown entry “{shorten(path)}”", where=where, remedy=remedy)
    return path


def change_sheet(
    text: str, file: str, built: Build, changes: Mapping[str, Any], *, alone: bool = False
) -> tuple[Sheet, tuple[Along, ...]]:
    """Return the sheet ``text`` of ``built`` with changed entries, parsed, and the linked entries that followed.

    changes : by path, as typed text ("50x3.7", "30 mm"; a bare number is mm, g, L or L/min), or as sheet values
    alone : no linked entry follows

    Raises InputError for an unknown entry; a wrong value is in the sheet's problems.
    """
    entries = {}
    for path, value in changes.items():
        name = check_entry(path, f"change of {shorten(path)}")
        entries[name] = typed_entry(name, value) if isinstance(value, str) else value
    linked, moved = ({}, ()) if alone else along_entries(built, entries)
    return parse_sheet(edit_sheet(text, entries | linked), file), moved
