"""Cubes, and the rise or sink after 24 h, added to a recorded pour from a form or the command line."""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping
from pathlib import Path

from frothline.bench import record_entries
from frothline.bench.pour_questions import and_asked, questions_of
from frothline.bench.record_entries import PourEntry, record_path, wrong_of
from frothline.errors import InputError
from frothline.pours.entries import DAY
from frothline.pours.later_entries import (
    SETTLEMENT,
    add_specimen,
    correct_specimen,
    remove_specimen,
    set_settlement,
    wrong_specimen,
)
from frothline.pours.record import CUBE, CYLINDER, FOLDER, PourRecord, Specimen, read_pour
from frothline.quantities import in_entry_unit, with_unit

BLOCK = "block"
SHAPES: Mapping[str, tuple[str, ...]] = {
    CUBE: ("edge",),
    CYLINDER: ("diameter", "height"),
    BLOCK: ("length", "width", "height"),
}
ENTRIES: tuple[PourEntry, ...] = (
    PourEntry("edge", "edge", "length", "Edge of the cube"),
    PourEntry("diameter", "diameter", "length", "Diameter"),
    PourEntry("length", "length", "length", "Length", "loaded face: length by width"),
    PourEntry("width", "width", "length", "Width"),
    PourEntry("height", "height", "length", "Height"),
    PourEntry("age", "age", "", "Age when crushed", "d; or like 36 h"),
    PourEntry("mass", "mass", "mass", "Mass when crushed"),
    PourEntry("load", "load", "load", "Greatest load"),
    PourEntry("dry-mass", "dry_mass", "mass", "Mass after drying", "dried to constant mass"),
    PourEntry("note", "note", "", "Note"),
)
BY_NAME = {one.name: one for one in ENTRIES}


def add_cube(folder: Path, pour: str, texts: Mapping[str, str], system: str = "metric") -> str:
    """Append a cube to the file of a pour from texts by name; numbers without a unit are those of ``system``.

    Returns what was done, with file and entry, and what the pour contradicts now. Raises InputError with all that is
    wrong or missing, and RecordingUnwritable.
    """
    path = record_path(folder, "pour", pour)
    before = questions_of(path)
    number = add_specimen(path, file_texts(texts, system))
    return and_asked(f"Cube saved in {FOLDER}/{path.name}, entry [[specimen]] {number}", path, before)


def correct_cube(
    folder: Path, pour: str, number: int, texts: Mapping[str, str], system: str = "metric", seen: str = ""
) -> str:
    """Change entries of specimen ``number``; an unchanged text keeps its full precision, an empty one takes it out.

    seen : stamp of the specimen as the page showed it; another one is refused. Returns and raises as ``add_cube``.
    """
    path = record_path(folder, "pour", pour)
    old = specimen_of(read_pour(path), number)
    _refuse_changed(old, seen)
    shown = specimen_texts(old, system)
    given = file_texts(texts, system)
    was = file_texts(shown, system)
    paths = [BY_NAME[name].path for name in in_order(texts)]
    changed = {key: given.get(key, "") for key in paths if given.get(key, "") != was.get(key, "")}
    if not changed:
        return "Nothing was changed"
    before = questions_of(path)
    correct_specimen(path, number, changed)
    said = f"Cube {number} corrected in {FOLDER}/{path.name}; what was written stays there as a comment"
    return and_asked(said, path, before)


def remove_cube(folder: Path, pour: str, number: int, seen: str = "") -> str:
    """Take specimen ``number`` out; its lines stay in the file as comments. Returns and raises as ``correct_cube``."""
    path = record_path(folder, "pour", pour)
    if seen:
        _refuse_changed(specimen_of(read_pour(path), number), seen)
    remove_specimen(path, number)
    return f"Cube {number} taken out; its lines stay in {FOLDER}/{path.name} as comments"


def add_settlement(folder: Path, pour: str, key: str, text: str, system: str = "metric") -> str:
    """Write how far the top ``sank`` or ``rose`` in 24 h. Returns and raises as ``add_cube``."""
    path = record_path(folder, "pour", pour)
    if key not in SETTLEMENT:
        raise InputError(f"“{key[:40]}” is neither sank nor rose", where="after 24 h", remedy="Choose sank or rose")
    before = questions_of(path)
    set_settlement(path, key, with_unit(text.strip(), "length", system))
    return and_asked(f"{key.capitalize()} in 24 h saved in {FOLDER}/{path.name}, entry {key} of [cast]", path, before)


def specimen_of(pour: PourRecord, number: int) -> Specimen:
    """Specimen ``number`` of a pour. Raises InputError if it cannot be read or is not there."""
    for one in pour.specimens:
        if one.number == number:
            return one
    raise InputError(
        f"specimen {number} is not there, or cannot be read", where=pour.name, remedy="Correct it in the pour's file"
    )


def stamp(specimen: Specimen) -> str:
    """Short text that changes with any entry of the specimen."""
    return f"{zlib.crc32(repr(specimen).encode()):08x}"


def shape_of(specimen: Specimen) -> str:
    """A key of ``SHAPES``."""
    return specimen.shape if specimen.shape == CYLINDER or len(set(specimen.sizes)) == 1 else BLOCK


def specimen_texts(specimen: Specimen, system: str = "metric") -> dict[str, str]:
    """The entries of a specimen as texts of the form, empty where nothing is written."""
    found = dict.fromkeys(BY_NAME, "")
    shape = shape_of(specimen)
    for name, size in zip(SHAPES[shape], specimen.sizes, strict=False):
        found[name] = in_entry_unit(size, "length", system)
    if math.isfinite(specimen.age):
        found["age"] = f"{specimen.age / DAY:.4g} d" if specimen.age >= DAY else f"{specimen.age / 3600:.4g} h"
    for name in ("mass", "load", "dry-mass"):
        value = getattr(specimen, BY_NAME[name].path)
        if math.isfinite(value):
            found[name] = in_entry_unit(value, BY_NAME[name].kind, system)
    found["note"] = specimen.note
    return found


def wrong_entries(texts: Mapping[str, str], system: str = "metric") -> dict[str, str]:
    """Name of each typed entry that cannot be read -> what is wrong with it."""
    return wrong_of(texts, ENTRIES, "a cube", system, wrong_specimen)


def file_texts(texts: Mapping[str, str], system: str) -> dict[str, str]:
    """Texts by key of the file, each figure with its unit; refuses an unknown name."""
    return record_entries.file_texts(texts, ENTRIES, "a cube", system)


def in_order(texts: Mapping[str, str]) -> list[str]:
    """Names in the order of the form: a file does not depend on the order in which its entries are given."""
    return [name for name in BY_NAME if name in texts]


def _refuse_changed(specimen: Specimen, seen: str) -> None:
    if seen and seen != stamp(specimen):
        raise InputError(
            "the cube was changed meanwhile", where=f"specimen {specimen.number}", remedy="Check its entries again"
        )
