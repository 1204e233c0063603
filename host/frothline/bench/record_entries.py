"""Entries of a form for a pour or a jar: their texts in a file, and what a correction changes."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from frothline.errors import InputError
from frothline.label_case import label_case
from frothline.pours.entries import DAY
from frothline.pours.jar import FOLDER as JARS
from frothline.pours.new_pour import printable
from frothline.pours.record import FOLDER as POURS
from frothline.pours.stated import with_stated_unit
from frothline.quantities import is_number
from frothline.trials.inside_folder import leads_out

# Entries of a time: the unit of a number without one.
UNITS_OF_TIMES = {"age": "d", "after": "h", **dict.fromkeys(("cone-time", "fill", "start", "end"), "s")}
SECONDS = {"d": DAY, "h": 3600.0, "s": 1.0}
PLACES = {"pour": (POURS, "frothline pours"), "jar": (JARS, "frothline jar")}  # folder, and what lists its files
_WRITTEN_TIMES = {"after": "d", "cone-time": "s"}  # the same of one in a file


@dataclass(frozen=True)
class PourEntry:
    """One field: its ``name`` on the page, its ``path`` in the file, the ``kind`` of its figure ("" for a text)."""

    name: str
    path: str
    kind: str
    label: str
    about: str = ""


def file_texts(texts: Mapping[str, str], entries: Sequence[PourEntry], what: str, system: str) -> dict[str, str]:
    """Texts by path in the file, each figure with its unit; without those that are empty or have no path.

    what : "a pour", for the error. Raises InputError for an unknown name.
    """
    known = {one.name: one for one in entries}
    unknown = [name for name in texts if name not in known]
    if unknown:
        raise InputError(
            f"“{unknown[0][:40]}” is not an entry of {what}",
            where=what.partition(" ")[2],
            remedy=f"Known: {', '.join(known)}",
        )
    found = {}
    for entry in entries:
        text = texts.get(entry.name, "").strip()
        if not entry.path or not text:
            continue
        if entry.name in UNITS_OF_TIMES and is_number(text):
            text = f"{text} {UNITS_OF_TIMES[entry.name]}"
        found[entry.path] = with_stated_unit(text, entry.kind, system) if entry.kind else text
    return found


def record_path(folder: Path, what: str, name: str) -> Path:
    """The file of a record in a folder of recordings; ``what`` is a key of ``PLACES``.

    Raises InputError if it is not there.
    """
    place, listed = PLACES[what]
    path = folder / place / f"{name}.toml"
    if not name or Path(name).name != name or leads_out(folder, path) or not path.is_file():
        raise InputError(
            f"no {what} in this folder has the file name “{name[:60]}”",
            where=str(folder / place),
            remedy=f"Reload, or list the {what}s with {listed}",
        )
    return path


def wrong_of(
    texts: Mapping[str, str], entries: Sequence[PourEntry], what: str, system: str, wrong: Callable[[str, str], str]
) -> dict[str, str]:
    """Name of each typed entry that cannot be read -> what is wrong with it, as ``wrong`` says by path and text.

    what : "a pour", as for ``file_texts``; names that are no entries are left out
    """
    known = {one.name for one in entries}
    given = file_texts({name: text for name, text in texts.items() if name in known}, entries, what, system)
    said = {one.name: wrong(one.path, given[one.path]) for one in entries if one.path in given}
    return {name: words for name, words in said.items() if words}


def stamp(written: Mapping[str, str | float]) -> str:
    """Short text that changes with any entry of a file."""
    return f"{zlib.crc32(repr(sorted(written.items())).encode()):08x}"


def written_texts(entries: Sequence[PourEntry], written: Mapping[str, str | float]) -> dict[str, str]:
    """The entries as they are in a file, each figure with its unit; empty where nothing is written.

    A number without a unit in the file is metric.
    """
    found = {}
    for entry in entries:
        if entry.path:
            plain = printable(str(written.get(entry.path, ""))).strip()
            plain = with_stated_unit(plain, entry.kind, "metric") if entry.kind else plain
            bare = entry.name in _WRITTEN_TIMES and is_number(plain)
            found[entry.name] = f"{plain} {_WRITTEN_TIMES[entry.name]}" if bare else plain
    return found


def changed_entries(
    entries: Sequence[PourEntry],
    written: Mapping[str, str | float],
    texts: Mapping[str, str],
    what: str,
    system: str,
    place: str,
    seen: str = "",
) -> dict[str, str]:
    """Texts by path of the entries that differ from the written ones; empty for one that is to be taken out.

    what : "a pour", for errors;  place : of the file, for errors;  seen : stamp that the page showed, if any

    Raises InputError for an unknown name, for that of the file, and where the file was changed meanwhile.
    """
    kind = what.partition(" ")[2]
    if seen and seen != stamp(written):
        raise InputError(f"the {kind} was changed meanwhile", where=place, remedy="Check its entries again")
    if "name" in texts:
        raise InputError("the name of a file cannot be corrected", where=kind, remedy="Rename the file itself")
    given = file_texts(texts, entries, what, system)
    was = file_texts(written_texts(entries, written), entries, what, system)
    paths = [one.path for one in entries if one.name in texts]
    return {path: given.get(path, "") for path in paths if given.get(path, "") != was.get(path, "")}


def labels_of(entries: Sequence[PourEntry], changed: Mapping[str, str]) -> str:
    """Labels of changed entries, for a sentence."""
    return ", ".join(label_case(one.label) for one in entries if one.path in changed)
