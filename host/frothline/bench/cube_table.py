"""A table of cubes: its heads with their units, its rows as texts by name of the entry.

The text is read as a table of points is (``typed_table``). A number takes the unit of its column's head.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from frothline.bench.cube_record import BY_NAME
from frothline.bench.cube_rows import POUR, FoundInTable, add_cubes
from frothline.errors import InputError
from frothline.pours.entries import read_age
from frothline.quantities import EXAMPLES, is_bare, shorten
from frothline.typed_table import (
    cells_of,
    find_table_unit,
    has_decimal_comma,
    name_and_unit,
    numbered_lines,
    plain_head,
    read_table_text,
    separator_of,
    too_many_cells,
)
from frothline.units import entry_unit, find_unit

KNOWN = (POUR, *BY_NAME)  # names of the columns
_NAMES = {plain_head(POUR): POUR}
_NAMES |= {plain_head(word): name for name, one in BY_NAME.items() for word in (one.label, name)}
_HOW = "Write heads like pour, edge (mm), age (d), mass (g), load (kN)"


@dataclass(frozen=True)
class CubeColumn:
    """``name`` of the entry, or of the pour; ``unit`` of a number without one, "" for the usual unit; ``head``."""

    name: str
    unit: str
    head: str

    def text(self, cell: str) -> str:
        """A cell with the unit of its head, if it has none of its own."""
        return f"{cell} {self.unit}" if self.unit and is_bare(cell) else cell


def add_cube_table(folder: Path, path: Path, system: str = "metric") -> str:
    """Append the cubes of a table (CSV with comma, semicolon or tab). Returns and raises as ``add_cubes``."""
    rows, found = read_cube_table(path)
    return add_cubes(folder, rows, system, found)


def read_cube_table(path: Path) -> tuple[list[dict[str, str]], FoundInTable]:
    """The rows of a table, and where they stand. Raises InputError if it is not a text, or empty."""
    lines = numbered_lines(read_table_text(path, "cubes"))
    if not lines:
        raise InputError("there is no cube in it", where=str(path), remedy=_HOW)
    separator = separator_of(lines[0][1])
    heads = cells_of(lines[0][1], separator)
    columns, problems = read_columns(heads)
    wrong = {0: [f"line {lines[0][0]}: {one}" for one in problems]} if problems else {}
    cells = [(number, cells_of(line, separator)) for number, line in lines[1:]]
    figures = {place for place, column in columns.items() if column.name not in {POUR, "note"}}
    comma = has_decimal_comma([row[place] for _, row in cells for place in figures if place < len(row)], separator)
    rows: list[dict[str, str]] = []
    for k, (number, row) in enumerate(cells, 1):
        if len(row) > len(heads):
            wrong[k] = [f"line {number}: {too_many_cells(len(row), len(heads), separator)}"]
            rows.append({})
            continue
        texts = {}
        for place, column in columns.items():
            cell = row[place] if place < len(row) else ""
            texts[column.name] = column.text(cell.replace(",", ".") if comma and place in figures else cell)
        rows.append(texts)
    has_pours = any(one.name == POUR for one in columns.values())
    titles = {one.name: one.head for one in columns.values()}
    return rows, FoundInTable(str(path), [number for number, _ in cells], titles, wrong, has_pours)


def read_columns(heads: Sequence[str]) -> tuple[dict[int, CubeColumn], list[str]]:
    """The columns of a table by place, and all that is wrong with its heads."""
    columns: dict[int, CubeColumn] = {}
    problems: list[str] = []
    for place, head in enumerate(heads):
        plain, unit = name_and_unit(head, _NAMES, _is_unit)
        name = _NAMES.get(plain, "")
        if not name:
            if head:
                more = "write the unit of a head in brackets" if _is_unit(head) else f"known: {', '.join(KNOWN)}"
                problems.append(f"“{shorten(head)}” is not a column of cubes; {more}")
        elif name in {one.name for one in columns.values()}:
            problems.append(f"the column “{shorten(head)}” is there twice")
        elif unit and not _fits(name, unit):
            like = _example(name)
            problems.append(f"“{shorten(unit)}” is not a unit for {name}" + (f"; write it like {like}" if like else ""))
            columns[place] = CubeColumn(name, "", head)
        else:
            columns[place] = CubeColumn(name, unit, head)
    if POUR not in {one.name for one in columns.values()}:
        problems.append(f"the column “{POUR}” is missing")
    return columns, problems


def _is_unit(text: str) -> bool:
    return find_table_unit(text) is not None or _is_age_unit(text)


def _is_age_unit(text: str) -> bool:
    try:
        read_age(f"1 {text}")
    except ValueError:
        return False
    return bool(text)


def _fits(name: str, unit: str) -> bool:
    """Whether a column may have a unit."""
    if name == "age":
        return _is_age_unit(unit)
    kind = BY_NAME[name].kind if name in BY_NAME else ""
    known, usual = find_unit(unit), find_unit(entry_unit(kind, "metric").symbol) if kind else None
    return known is not None and usual is not None and known.si == usual.si


def _example(name: str) -> str:
    """A head with its unit; empty for a column that has none."""
    kind = BY_NAME[name].kind if name in BY_NAME else ""
    return f"{name} ({EXAMPLES[kind]['metric'].rpartition(' ')[2]})" if kind else "age (d)" if name == "age" else ""
