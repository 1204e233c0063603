"""A table of points that a person typed: text with a header and one line a point, as columns in SI.

Cells are separated by tabs, semicolons or commas. The header names each column with its unit, like ``hole (mm)`` or
``suction [inH2O]``; a cell may have its own unit. A decimal comma is read where the cells are separated by semicolons
or tabs. Lines that begin with # and empty lines are skipped. All problems of a file are reported together, each with
its line.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from frothline.errors import InputError
from frothline.quantities import DECIMAL, is_number, read_in, shorten
from frothline.typed_table import (
    LARGEST,
    MOST_ROWS,
    cells_of,
    find_table_unit,
    has_decimal_comma,
    name_and_unit,
    numbered_lines,
    separator_of,
    too_many_cells,
)
from frothline.units import NamedUnit, Unit

SUFFIXES = (".csv", ".tsv", ".txt")
MOST_SHOWN = 12  # problems in one message
GAUGE = "gauge pressure"
CLOSED = {"closed", "shut", "sealed", "none"}  # words for no hole


@dataclass(frozen=True)
class Column:
    """A kind of column: its names, the SI unit of its figures, an example of a header."""

    key: str
    names: tuple[str, ...]
    si: tuple[str, ...]
    example: str
    signed: bool = False


COLUMNS = (
    Column(
        "hole",
        ("hole", "hole diameter", "plate", "plate diameter", "orifice", "orifice diameter", "diameter"),
        ("m",),
        "hole (mm)",
    ),
    Column("thickness", ("thickness", "plate thickness", "sheet thickness"), ("m",), "thickness (mm)"),
    Column("pipe", ("pipe", "pipe bore", "bore", "pipe diameter"), ("m",), "pipe (mm)"),
    Column(
        "pressure",
        ("pressure", "line pressure", "gauge pressure", "outlet pressure", "static pressure"),
        ("Pa",),
        "pressure (kPa)",
        signed=True,
    ),
    Column(
        "u_tube",
        ("u tube", "utube", "manometer", "water manometer", "water column"),
        ("m", "Pa"),
        "U-tube (mm)",
        signed=True,
    ),
    Column("suction", ("suction", "vacuum", "water lift", "sealed suction"), ("Pa",), "suction (inH2O)", signed=True),
    Column(
        "flow",
        ("flow", "air flow", "airflow", "volume flow", "standard flow", "corrected airflow", "air rate"),
        ("m³/s",),
        "flow (L/s)",
    ),
    Column("u_hole", ("u hole", "u orifice", "u plate"), ("m",), "u hole (mm)"),
    Column("u_pressure", ("u pressure", "u suction", "u u tube", "u manometer"), ("Pa", "m"), "u pressure (Pa)"),
    Column("u_flow", ("u flow", "u air flow", "u airflow"), ("m³/s",), "u flow (L/s)"),
    Column(
        "room_temperature",
        ("room temperature", "ambient temperature", "air temperature", "temperature"),
        ("K",),
        "room temperature (°C)",
        signed=True,
    ),
    Column(
        "room_pressure",
        ("room pressure", "ambient pressure", "barometer", "barometric pressure"),
        ("Pa",),
        "room pressure (kPa)",
    ),
    Column(
        "line_temperature",
        ("line temperature", "hose temperature", "exhaust temperature"),
        ("K",),
        "line temperature (°C)",
        signed=True,
    ),
)
BY_NAME = {name: column for column in COLUMNS for name in column.names}
TITLES = {column.key: column.example.partition(" (")[0] for column in COLUMNS}
HOW = (
    "The columns are: hole and pressure (or U-tube) of drilled plates, or pressure or suction with flow. "
    f"Headers have a unit, like {', '.join(column.example for column in COLUMNS if column.key in ('hole', 'u_tube'))}, "
    "pressure (kPa), suction (inH2O), flow (L/s)"
)


@dataclass(frozen=True)
class Row:
    """One line of a table. ``values`` by key of COLUMNS, SI; ``lengths``: the keys that are heights of a liquid."""

    line: int
    values: dict[str, float]
    lengths: frozenset[str] = frozenset()


@dataclass(frozen=True)
class PointTable:
    """The lines of a file, the headers of the columns that are not used, and whether one is named “gauge pressure”."""

    rows: tuple[Row, ...]
    keys: frozenset[str]
    unused: tuple[str, ...] = ()
    said_gauge: bool = False


def is_point_table(path: str | Path) -> bool:
    """Whether a path is a table of points by its name, not a recording."""
    return Path(path).suffix.casefold() in SUFFIXES


def parse_table(text: str, where: str = "") -> PointTable:
    """The table in a text. Raises InputError with all problems at once, each with its line."""
    if len(text) > LARGEST:
        raise InputError(f"this is too large for a table of points: {len(text)} characters", where=where)
    lines = numbered_lines(text)
    if not lines:
        raise InputError("there is no point in it", where=where, remedy=HOW)
    if len(lines) > MOST_ROWS + 1:
        raise InputError(f"{len(lines)} lines are too many; the limit is {MOST_ROWS}", where=where)
    separator = separator_of(lines[0][1])
    cells = [(number, cells_of(line, separator)) for number, line in lines]
    columns, unused, problems = _header(*cells[0])
    keys = frozenset(column.key for column, _ in columns.values())
    if problems:
        _refuse(problems, where, HOW)
    comma = has_decimal_comma([cell for _, line in cells[1:] for cell in line], separator)
    rows = []
    for number, line in cells[1:]:
        row, wrong = _row(number, line, columns, len(cells[0][1]), comma=comma, separator=separator)
        rows.append(row)
        problems += wrong
    if problems:
        _refuse(problems, where, "Correct these lines")
    if not rows:
        raise InputError("there is no point below the header", where=where, remedy="Add one line a point")
    return PointTable(tuple(rows), keys, unused, any(GAUGE in cell.casefold() for cell in cells[0][1]))


def refuse_rows(problems: Sequence[str], where: str) -> None:
    """Raise InputError with the problems of several lines; nothing without a problem."""
    if problems:
        _refuse(problems, where, "Correct these lines")


def _refuse(problems: Sequence[str], where: str, remedy: str) -> None:
    shown = list(problems[:MOST_SHOWN])
    if len(problems) > MOST_SHOWN:
        shown.append(f"and {len(problems) - MOST_SHOWN} more")
    raise InputError("; ".join(shown), where=where, remedy=remedy)


def _header(
    number: int, cells: Sequence[str]
) -> tuple[dict[int, tuple[Column, NamedUnit | None]], tuple[str, ...], list[str]]:
    """Columns by place with their unit, unused headers, and problems."""
    columns: dict[int, tuple[Column, NamedUnit | None]] = {}
    unused: list[str] = []
    problems: list[str] = []
    for place, cell in enumerate(cells):
        column, unit_text = _column(cell)
        if column is None:
            if cell:
                unused.append(cell)
            continue
        if column.key in {one.key for one, _ in columns.values()}:
            problems.append(f"line {number}: the column “{shorten(cell)}” is there twice")
            continue
        unit = None
        if unit_text:
            unit = find_table_unit(unit_text)
            if unit is None or unit.si not in column.si:
                problems.append(
                    f"line {number}: “{shorten(unit_text)}” is not a unit for {TITLES[column.key]}; "
                    f"write it like {column.example}"
                )
                continue
        columns[place] = column, unit
    if not columns and not problems:
        what = "no column is known" if not any(is_number(cell) for cell in cells) else "the first line is not a header"
        known = ", ".join(dict.fromkeys(TITLES.values()))
        problems.append(f"line {number}: {what} (“{shorten('; '.join(cells))}”); known columns: {known}")
    return columns, tuple(unused), problems


def _column(cell: str) -> tuple[Column | None, str]:
    """The column of a header and the text of its unit."""
    name, unit = name_and_unit(cell, BY_NAME, lambda text: find_table_unit(text) is not None)
    return BY_NAME.get(name), unit


def _row(
    number: int,
    cells: Sequence[str],
    columns: dict[int, tuple[Column, NamedUnit | None]],
    width: int,
    *,
    comma: bool,
    separator: str,
) -> tuple[Row, list[str]]:
    problems: list[str] = []
    if len(cells) > width:
        problems.append(f"line {number}: {too_many_cells(len(cells), width, separator)}")
        return Row(number, {}), problems
    values: dict[str, float] = {}
    lengths: set[str] = set()
    for place, (column, unit) in columns.items():
        cell = cells[place] if place < len(cells) else ""
        title = TITLES[column.key]
        if not cell:
            if column.key in REQUIRED:
                problems.append(f"line {number}: {title} is empty")
            continue
        if column.key == "hole" and cell.casefold() in CLOSED:
            values["hole"] = 0.0
            continue
        text = cell.replace(",", ".") if comma else cell
        if unit is None and is_number(text):
            problems.append(
                f"line {number}: {title} “{shorten(cell)}” has no unit; write it in the header: {column.example}"
            )
            continue
        try:
            values[column.key], of = _figure(text, column, unit)
        except ValueError as error:
            problems.append(f"line {number}: {title}: {error}")
            continue
        if of == "m" and "Pa" in column.si:
            lengths.add(column.key)
    return Row(number, values, frozenset(lengths)), problems


_QUANTITIES = {"m": "length", "Pa": "pressure", "m³/s": "flow", "K": "temperature"}
REQUIRED = {"hole", "pressure", "u_tube", "suction", "flow"}


def _figure(text: str, column: Column, unit: NamedUnit | None) -> tuple[float, str]:
    """The value in SI, and the SI unit. Raises ValueError."""
    named = re.fullmatch(rf"(?P<number>[+-]?{DECIMAL})\s*(?P<unit>[^\d\s.,+\-].*)", text.replace("−", "-"))
    own = find_table_unit(named["unit"]) if named is not None else None
    if own is not None and named is not None and own.si in column.si and is_number(named["number"]):
        text, unit = named["number"], own
    bare = unit or NamedUnit(Unit(column.si[0], 1.0), column.si[0])
    example = f"12 {column.example.partition('(')[2].strip(')')}"
    value = read_in(text, bare.unit, _QUANTITIES[bare.si], example, signed=column.signed)
    return value, bare.si
