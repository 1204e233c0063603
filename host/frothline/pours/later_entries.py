"""What is known of a pour weeks later, written into its file: cubes, and the rise or sink after 24 h.

A new cube is a ``[[specimen]]`` table at the end. A corrected line stays above the new one as a comment, and a cube
that is taken out stays as comments, see ``file_change``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.pours.entries import crushed_too_early, wrong_at
from frothline.pours.file_change import Document, change_file, line_end, table_lines, with_changes, with_entries
from frothline.pours.new_pour import printable, quoted
from frothline.pours.record import CAST, CUBE, CYLINDER, SPECIMEN, parse_pour, read_pour
from frothline.toml_text import TomlUnreadable, read_text, read_toml

SIZES = {"edge": CUBE, "length": "block", "width": "block", "diameter": CYLINDER, "height": ""}
MEASURED = ("mass", "load", "dry_mass")
SETTLEMENT = ("sank", "rose")
# What no cube of foamed concrete has: a slip of a unit or a digit, as newtons for kilonewtons or kilograms for grams.
DENSITIES, STRENGTHS = (100.0, 4e3), (1e4, 2e8)  # kg/m³; Pa: at 10 kPa a cube of 100 mm breaks under 10 kg
MOST_DRIED = 1.1  # of the mass when crushed, after drying: it may be of a like specimen; judgement, no source


def add_specimen(path: Path, entries: Mapping[str, str]) -> int:
    """Append a specimen to the file of a pour; returns its number. ``entries`` : texts by key of ``[[specimen]]``.

    Raises InputError with all that is wrong or missing; the file is unchanged then. RecordingUnwritable.
    """
    return add_specimens(path, [entries])[0]


def add_specimens(path: Path, several: Sequence[Mapping[str, str]], *, write: bool = True) -> list[int]:
    """As ``add_specimen`` of several specimens in one step; without ``write`` the file stays as it is."""
    numbers: list[int] = []

    def change(text: str, document: Document) -> tuple[str, Document]:
        for entries in several:
            text, number = _with_specimen(text, document, entries, path)
            numbers.append(number)
        return text, document

    change_file(path, change, _problems, write=write)
    return numbers


def _with_specimen(text: str, document: Document, entries: Mapping[str, str], path: Path) -> tuple[str, int]:
    """The text with one more specimen, and its number; it is added to ``document`` too."""
    given = _given(entries)
    if said := refusals(given):
        raise InputError("; ".join(said), where="cube", remedy="Nothing is written yet: correct these entries")
    tables = document.setdefault("specimen", [])
    if not isinstance(tables, list):
        raise InputError("“specimen” is not a list of tables", where=str(path), remedy="Write each below [[specimen]]")
    if number := _same_specimen(tables, given):
        raise InputError(
            f"this cube is in the file already, as specimen {number}",
            where=path.name,
            remedy="If it is another cube with the same readings, give it a note",
        )
    tables.append(given)
    end = line_end(text)
    gap = "" if not text.strip() else end if text.endswith("\n") else 2 * end
    lines = ["[[specimen]]", *(f"{key} = {quoted(value)}" for key, value in given.items())]
    return text + gap + end.join(lines) + end, len(tables)


def change_entries(path: Path, entries: Mapping[str, str]) -> None:
    """Change entries of a pour; each line that is replaced or taken out stays as a comment.

    ``entries`` : texts by path, like ``{"cup.density": "640 kg/m3"}``; an empty text takes an entry out

    Raises as ``add_specimen``.
    """
    change_file(path, lambda text, document: with_changes(text, document, entries, str(path)), _problems)


def correct_specimen(path: Path, number: int, entries: Mapping[str, str]) -> None:
    """Change entries of specimen ``number``, from 1; an empty text takes an entry out. Raises as ``add_specimen``."""
    entries = {key: printable(text).strip() for key, text in entries.items()}

    def change(text: str, document: Document) -> tuple[str, Document]:
        table = _specimen(document, number, path)
        written = {key: str(value) for key, value in table.items()}
        wanted = {key: one for key, one in (written | dict(entries)).items() if one.strip()}
        if said := refusals(wanted):
            raise InputError("; ".join(said), where=f"specimen {number}", remedy="Nothing is changed yet")
        for key, value in entries.items():
            if value:
                table[key] = value
            else:
                table.pop(key, None)
        return with_entries(text, "specimen", number, entries), document

    change_file(path, change, _problems)


def remove_specimen(path: Path, number: int) -> None:
    """Take specimen ``number`` out; its lines stay as comments. Raises as ``add_specimen``."""

    def change(text: str, document: Document) -> tuple[str, Document]:
        _specimen(document, number, path)
        document["specimen"].pop(number - 1)
        if not document["specimen"]:
            del document["specimen"]
        lines, begin, end = table_lines(text, "specimen", number)
        for k in range(begin, end):
            if lines[k].strip() and not lines[k].lstrip().startswith("#"):
                lines[k] = f"# {lines[k]}"
        return "".join(lines), document

    change_file(path, change)


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
        return with_entries(text, "cast", 1, entries), document

    change_file(path, change, _problems)


def refusals(given: Mapping[str, str]) -> list[str]:
    """All that is wrong with the entries of one specimen, a sentence each: unreadable, missing, impossible."""
    unreadable = {key: words for key, text in given.items() if (words := wrong_specimen(key, text))}
    return [
        *(f"{key.replace('_', ' ')}: {words}" for key, words in unreadable.items()),
        *missing(given),
        *implausible({key: text for key, text in given.items() if key not in unreadable}),
    ]


def refused_by_file(path: Path, several: Sequence[Mapping[str, str]]) -> list[list[str]]:
    """What the file of a pour has against each of several new specimens, a sentence each.

    A specimen with the same readings is in the file or among those above it, or the age is after today.

    Raises InputError if the file cannot be read.
    """
    poured = read_pour(path).poured
    try:
        tables = read_toml(read_text(path)).get("specimen", [])
    except (OSError, TomlUnreadable) as error:
        raise InputError(f"the pour cannot be read: {error}", where=path.name, remedy="Check the file") from error
    tables = list(tables) if isinstance(tables, list) else []
    found = []
    for entries in several:
        given = _given(entries)
        readings = _readings(given)
        age, number = readings.get("age"), _same_specimen(tables, given)
        said = [f"this cube is in the file already, as specimen {number}"] if number else []
        early = crushed_too_early(poured, age, given["age"]) if isinstance(age, float) else ""
        found.append([*said, early] if early else said)
        tables.append(given)
    return found


def _given(entries: Mapping[str, str]) -> dict[str, str]:
    """The entries that are written, as the file has them."""
    return {key: one for key, value in entries.items() if (one := printable(value).strip())}


def _same_specimen(tables: Sequence[Any], given: Mapping[str, str]) -> int:
    """Number of the specimen with the same readings, however they are written; 0 without one."""
    wanted = _readings(given)
    return next((number for number, table in enumerate(tables, 1) if _readings(table) == wanted), 0)


def _readings(table: Any) -> dict[str, Any]:
    """The entries of a specimen as they are read, and as they are written where they cannot be read."""
    found: dict[str, Any] = {}
    for key, raw in table.items() if isinstance(table, Mapping) else ():
        try:
            found[key] = SPECIMEN[key](raw)
        except (ValueError, TypeError, KeyError):
            found[key] = raw
    return found


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


def implausible(given: Mapping[str, str]) -> list[str]:
    """What no specimen with these entries can have, a sentence each; empty where they cannot be read."""
    aged = {"age": "1 d"} | dict(given)  # without an age a specimen is not read; it changes neither figure
    lines = ["[[specimen]]", *(f"{key} = {quoted(value)}" for key, value in aged.items())]
    specimens = parse_pour("\n".join(lines), "cube").specimens
    if not specimens:
        return []
    one = specimens[0]
    figures = {"mass": (one.density, DENSITIES), "dry_mass": (one.dry_density, DENSITIES)}
    figures["load"] = (one.strength, STRENGTHS)
    said = []
    for key, (value, (low, high)) in figures.items():
        if key in given and not low <= value <= high and math.isfinite(value):
            means = f"strength of {value / 1e6:.3g} MPa" if key == "load" else f"density of {value:.3g} kg/m³"
            said.append(f"{key.replace('_', ' ')} “{given[key]}” is not plausible: it means a {means}")
    if one.dry_mass > MOST_DRIED * one.mass:
        said.append(f"dry mass “{given['dry_mass']}” is more than the mass when crushed, “{given['mass']}”")
    return said


def wrong_specimen(key: str, text: str) -> str:
    """What is wrong with an entry of a specimen; empty if it can be read."""
    return wrong_at({"": SPECIMEN}, key, text)


def wrong_settlement(text: str) -> str:
    """What is wrong with the depth of a rise or sink; empty if it can be read."""
    return wrong_at({"": CAST}, "sank", text)


def _specimen(document: Document, number: int, path: Path) -> Document:
    tables = document.get("specimen", [])
    if not isinstance(tables, list) or not 1 <= number <= len(tables) or not isinstance(tables[number - 1], dict):
        raise InputError(f"there is no specimen {number}", where=path.name, remedy="Look at the file again")
    found: Document = tables[number - 1]
    return found


def _problems(text: str, path: Path) -> tuple[str, ...]:
    return parse_pour(text, path.stem, path).problems
