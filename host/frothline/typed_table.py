"""The text of a table that a person typed or exported: lines, cells, and heads with their units.

Cells are separated by tabs, semicolons or commas. A head names its column with a unit in brackets, behind a comma, a
colon or a slash, or behind the word alone: ``hole (mm)``, ``load [kN]``, ``age, d``, ``mass/g``, ``suction in inH2O``.
"""

from __future__ import annotations

import csv
import io
import re
import stat
from collections.abc import Callable, Collection, Sequence
from pathlib import Path

from frothline.errors import InputError
from frothline.quantities import is_number
from frothline.units import STANDARD_GRAVITY, NamedUnit, Unit, find_unit

LARGEST = 200_000  # bytes of a file
MOST_ROWS = 1000
_WATER = STANDARD_GRAVITY * 1e3  # Pa, 1 m of water of 1000 kg/m³: the conventional metre of water
_MORE_UNITS = {
    "cmh2o": NamedUnit(Unit("cmH₂O", 1e2 / _WATER), "Pa"),
    "hpa": NamedUnit(Unit("hPa", 1e-2), "Pa"),
    "dm3/s": NamedUnit(Unit("L/s", 1e3), "m³/s"),
}
_WATER_WORDS = re.compile(r"(mm|cm|in|inches|inch)\.?(ofwater|water|h2o|wc|wg|ws|w\.c\.|w\.g\.)")
_HEAD = re.compile(r"(?P<name>[^()\[\]]{1,60})(?:[(\[](?P<unit>[^()\[\]]{1,20})[)\]])?")


def read_table_text(path: Path, what: str) -> str:
    """The text of a file; ``what`` the rows are, for messages, like "points".

    Raises InputError if it is not an ordinary text file or too large.
    """
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise InputError("this is not a file", where=str(path))
        if status.st_size > LARGEST:
            raise InputError(f"this is too large for a table of {what}: {status.st_size} bytes", where=str(path))
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"it cannot be read: {error.strerror or error}", where=str(path)) from error
    return decoded(data, str(path))


def decoded(data: bytes, where: str) -> str:
    """Text of a spreadsheet's export: UTF-8, UTF-16 with its mark, else Windows-1252. Raises InputError for others."""
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    for one in (encoding, "cp1252"):
        try:
            text = data.decode(one)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise InputError("this is not a text file", where=where, remedy="Save the table as CSV text")


def numbered_lines(text: str) -> list[tuple[int, str]]:
    """The lines with their numbers, without those that are empty or begin with #."""
    return [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip(" \t;,") and not line.lstrip().startswith("#")
    ]


def separator_of(heads: str) -> str:
    """What separates the cells, by the line of the heads."""
    return next((one for one in ("\t", ";") if one in heads), ",")


def cells_of(line: str, separator: str) -> list[str]:
    """The cells of a line without blanks at their ends."""
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=separator), [])]
    except csv.Error:
        return [cell.strip() for cell in line.split(separator)]


def too_many_cells(cells: int, heads: int, separator: str) -> str:
    """What is wrong with a line that has more cells than there are heads."""
    what = f"{cells} cells, but the header has {heads}"
    return what + ("; with a decimal comma separate the cells by semicolons" if separator == "," else "")


def name_and_unit(head: str, names: Collection[str], is_unit: Callable[[str], bool]) -> tuple[str, str]:
    """The name of a column as in ``names``, and the text of its unit; both are empty for another head.

    names : as ``plain_head`` gives them;  is_unit : whether a text without brackets is a unit
    """
    found = _HEAD.fullmatch(head)
    if found is None:
        return "", ""
    name, unit = plain_head(found["name"]), (found["unit"] or "").strip()
    if name in names:
        return name, unit
    text = " ".join(found["name"].split())
    for mark in re.finditer(r" in | ?[,:/] ?| ", text):  # without brackets: "suction inH2O", "hole in mm", "age, d"
        start, tail = plain_head(text[: mark.start()]), text[mark.end() :]
        if start in names and is_unit(tail):
            return start, tail
    return "", ""


def plain_head(name: str) -> str:
    """The name of a column in small letters, with single spaces and without marks."""
    text = name.casefold().replace("±", "u ").replace("-", " ").replace("_", " ")
    return " ".join(text.split())


def find_table_unit(text: str) -> NamedUnit | None:
    """A unit as people write it above a column: those of ``units``, and words for columns of water."""
    plain = text.casefold().replace(" ", "").replace("₂", "2").replace("³", "3").replace("^", "")
    if (water := _WATER_WORDS.fullmatch(plain)) is not None:
        plain = {"mm": "mmh2o", "cm": "cmh2o"}.get(water[1], "inh2o")
    return _MORE_UNITS.get(plain) or find_unit(plain if water else text)


def has_decimal_comma(cells: Sequence[str], separator: str) -> bool:
    """Whether a comma is the decimal sign of all numbers: cells are not separated by it, and no number contradicts."""
    if separator == "," or any("." in cell and is_number(cell) for cell in cells):
        return False
    return any(re.search(r"(?<!\d)0,\d|\d,(\d{1,2}|\d{4,15})(?!\d)", cell) for cell in cells)
