"""What is known of a pour weeks later, written into its file: cubes, and the rise or sink after 24 h.

The file is changed as a text: every line that a person wrote stays. A new cube is a ``[[specimen]]`` table at the end.
A corrected line stays above the new one as a comment, and a cube that is taken out stays as comments. The new text is
read before it is written, so that a file in another form is refused and unchanged.
"""

from __future__ import annotations

import copy
import re
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically
from frothline.errors import InputError
from frothline.pours.new_pour import printable, quoted
from frothline.pours.record import CAST, CUBE, CYLINDER, SPECIMEN, PourRecord, parse_pour
from frothline.toml_text import TomlUnreadable, hide_texts, read_text, read_toml

SIZES = {"edge": CUBE, "length": "block", "width": "block", "diameter": CYLINDER, "height": ""}
MEASURED = ("mass", "load", "dry_mass")
SETTLEMENT = ("sank", "rose")
_HEAD = re.compile(r"\s*(?P<open>\[\[?)\s*(?P<name>[A-Za-z0-9_-]+)\s*\]\]?\s*")
_WRITING = threading.Lock()  # of two changes of this program, the second one reads what the first one wrote

Document = dict[str, Any]


def add_specimen(path: Path, entries: Mapping[str, str]) -> int:
    """Append a specimen to the file of a pour; returns its number. ``entries`` : texts by key of ``[[specimen]]``.

    Raises InputError with all that is wrong or missing; the file is unchanged then. RecordingUnwritable.
    """
    given = {key: one for key, text in entries.items() if (one := printable(text).strip())}
    lacking = missing(given)
    if lacking:
        raise InputError("; ".join(lacking), where="cube", remedy="Nothing is written yet: enter what is missing")
    number = 0

    def change(text: str, document: Document) -> tuple[str, Document]:
        nonlocal number
        tables = document.setdefault("specimen", [])
        if not isinstance(tables, list):
            raise InputError(
                "“specimen” is not a list of tables", where=str(path), remedy="Write each below [[specimen]]"
            )
        if given in tables:
            raise InputError(
                f"this cube is in the file already, as specimen {tables.index(given) + 1}",
                where=path.name,
                remedy="If it is another cube with the same readings, give it a note",
            )
        tables.append(given)
        number = len(tables)
        end = _line_end(text)
        gap = "" if not text.strip() else end if text.endswith("\n") else 2 * end
        lines = ["[[specimen]]", *(f"{key} = {quoted(value)}" for key, value in given.items())]
        return text + gap + end.join(lines) + end, document

    _change(path, change)
    return number


def correct_specimen(path: Path, number: int, entries: Mapping[str, str]) -> None:
    """Change entries of specimen ``number``, from 1; an empty text takes an entry out. Raises as ``add_specimen``."""
    entries = {key: printable(text).strip() for key, text in entries.items()}

    def change(text: str, document: Document) -> tuple[str, Document]:
        table = _specimen(document, number, path)
        written = {key: str(value) for key, value in table.items()}
        lacking = missing({key: one for key, one in (written | dict(entries)).items() if one.strip()})
        if lacking:
            raise InputError("; ".join(lacking), where=f"specimen {number}", remedy="Nothing is changed yet")
        for key, value in entries.items():
            if value:
                table[key] = value
            else:
                table.pop(key, None)
        return _with_entries(text, "specimen", number, entries), document

    _change(path, change)


def remove_specimen(path: Path, number: int) -> None:
    """Take specimen ``number`` out; its lines stay as comments. Raises as ``add_specimen``."""

    def change(text: str, document: Document) -> tuple[str, Document]:
        _specimen(document, number, path)
        document["specimen"].pop(number - 1)
        if not document["specimen"]:
            del document["specimen"]
        lines, begin, end = _table(text, "specimen", number)
        for k in range(begin, end):
            if lines[k].strip() and not lines[k].lstrip().startswith("#"):
                lines[k] = f"# {lines[k]}"
        return "".join(lines), document

    _change(path, change, renumbers=True)


def set_settlement(path: Path, key: str, value: str) -> None:
    """Write how far the top ``sank`` or ``rose`` in 24 h into ``[cast]``; an earlier entry stays as a comment.

    Raises as ``add_specimen``.
    """
    if key not in SETTLEMENT:
        raise InputError(f"“{key[:40]}” is neither sank nor rose", where="cast", remedy="Write sank or rose")
    value = printable(value).strip()
    if not value:
        raise InputError("the depth is missing", where=f"cast: {key}", remedy="Enter it like 2 mm; 0 mm for none")

    def change(text: str, document: Document) -> tuple[str, Document]:
        cast = document.setdefault("cast", {})
        if not isinstance(cast, dict):
            raise InputError("“cast” is not a table", where=str(path), remedy="Write the entries below [cast]")
        entries = {one: value if one == key else "" for one in SETTLEMENT if one == key or one in cast}
        for one, new in entries.items():
            cast.pop(one, None)
            if new:
                cast[one] = new
        return _with_entries(text, "cast", 1, entries), document

    _change(path, change)


def missing(given: Mapping[str, str]) -> list[str]:
    """What a specimen with these entries lacks, a sentence each."""
    said = []
    shape = next((shape for key, shape in SIZES.items() if shape and key in given), "")
    needed = {CUBE: ("edge",), CYLINDER: ("diameter", "height"), "block": ("length", "width", "height"), "": ()}[shape]
    lacks = [key for key in needed if key not in given]
    if not shape:
        said.append("the size is missing: give the edge of a cube, or diameter and height of a cylinder")
    elif lacks:
        said.append(f"the {' and the '.join(lacks)} of the {shape} {'is' if len(lacks) == 1 else 'are'} missing")
    if not any(key in given for key in MEASURED):
        said.append("nothing is measured: give the mass, the greatest load, or the mass after drying")
    if "age" not in given and ("load" in given or "mass" in given):
        said.append("the age is missing: a strength or a density without an age cannot be compared")
    return said


def wrong_specimen(key: str, text: str) -> str:
    """What is wrong with an entry of a specimen; empty if it can be read."""
    try:
        SPECIMEN[key](text)
    except (ValueError, TypeError, KeyError) as error:
        return str(error)
    return ""


def wrong_settlement(text: str) -> str:
    """What is wrong with the depth of a rise or sink; empty if it can be read."""
    try:
        CAST["sank"](text)
    except (ValueError, TypeError, KeyError) as error:
        return str(error)
    return ""


def _change(path: Path, change: Callable[[str, Document], tuple[str, Document]], *, renumbers: bool = False) -> None:
    """Change the file: ``change`` gets text and document, and returns both as they shall be."""
    with _WRITING:
        old = _text(path)
        before = parse_pour(old, path.stem, path)
        new, wanted = change(old, copy.deepcopy(read_toml(old)))
        try:
            same = read_toml(new) == wanted
        except TomlUnreadable as error:
            raise _by_hand(path, str(error)) from error
        if not same:
            raise _by_hand(path, "its tables are written in another form than [cast] and [[specimen]]")
        problems = _new_problems(before, parse_pour(new, path.stem, path)) if not renumbers else []
        if problems:
            said = [one.removeprefix(f"{path.name}: ") for one in problems]
            raise InputError("; ".join(said), where=path.name, remedy="Nothing is written yet: fix these entries")
        write_atomically(path, lambda file: file.write(new.encode("utf-8")))


def _by_hand(path: Path, why: str) -> InputError:
    return InputError(f"the program cannot write into this file: {why}", where=str(path), remedy="Write it in by hand")


def _new_problems(before: PourRecord, after: PourRecord) -> list[str]:
    return [one for one in after.problems if one not in before.problems]


def _text(path: Path) -> str:
    """The text with its own line ends. Raises InputError."""
    try:
        read_text(path)  # refuses what is no ordinary file, and what is too large
        return path.read_bytes().decode("utf-8")
    except (OSError, TomlUnreadable) as error:
        words = getattr(error, "strerror", None) or error
        raise InputError(f"the pour cannot be read: {words}", where=str(path), remedy="Check the file") from error


def _specimen(document: Document, number: int, path: Path) -> Document:
    tables = document.get("specimen", [])
    if not isinstance(tables, list) or not 1 <= number <= len(tables) or not isinstance(tables[number - 1], dict):
        raise InputError(f"there is no specimen {number}", where=path.name, remedy="Look at the file again")
    found: Document = tables[number - 1]
    return found


def _line_end(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _table(text: str, name: str, number: int) -> tuple[list[str], int, int]:
    """All lines, and where the table of that name begins and ends; both are 0 where it is not written in lines."""
    lines = [line for line in re.split(r"(?<=\n)", text) if line]
    plain = hide_texts(text).split("\n")
    heads = [(k, found) for k, line in enumerate(plain) if (found := _HEAD.fullmatch(line))]
    own = [k for k, found in heads if found["name"] == name]
    if len(own) < number:
        return lines, 0, 0
    begin = own[number - 1]
    end = next((k for k, _ in heads if k > begin), len(lines))
    while end > begin + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1  # comments above the next table belong to it
    return lines, begin, end


def _with_entries(text: str, name: str, number: int, entries: Mapping[str, str]) -> str:
    """The text with these entries in a table; a line for the same key becomes a comment above the new one."""
    line_end = _line_end(text)
    lines, begin, end = _table(text, name, number)
    new = {key: f"{key} = {quoted(value)}{line_end}" for key, value in entries.items() if value}
    if end == 0:
        gap = "" if not text.strip() else line_end if text.endswith("\n") else 2 * line_end
        return f"{text}{gap}[{name}]{line_end}{''.join(new.values())}"
    if not lines[end - 1].endswith("\n"):
        lines[end - 1] += line_end
    changed = []
    for k in range(begin, end):
        key = re.match(r"\s*([A-Za-z0-9_-]+)\s*=", lines[k])
        if key is None or key[1] not in entries:
            changed.append(lines[k])
            continue
        changed.append(f"# {lines[k]}")
        if key[1] in new:
            changed.append(new.pop(key[1]))
    return "".join([*lines[:begin], *changed, *new.values(), *lines[end:]])
