"""Many cubes of several pours entered in one go, as they come from the press: a row each, with the pour in the row.

Nothing is written before every row is checked.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from frothline.bench.cube_record import BY_NAME, file_texts, wrong_entries
from frothline.bench.pour_record import pour_path
from frothline.errors import FrothlineError, InputError
from frothline.pours.later_entries import add_specimens, missing
from frothline.pours.record import FOLDER
from frothline.rounding import counted

POUR = "pour"
MEASURED = ("mass", "load", "dry-mass")  # a row without any of these is not filled in
MOST_ROWS = 200
_CARRIED = ("edge", "diameter", "length", "width", "height", "age")


def add_cubes(folder: Path, rows: Sequence[Mapping[str, str]], system: str = "metric") -> str:
    """Append the cubes of all rows to the files of their pours; numbers without a unit are those of ``system``.

    rows : texts by name of the entry, with ``pour``, the name of the pour's file. An empty pour is that of the row
    above; an empty size or age is that of the row above of the same pour. Rows without mass and load are left out.

    Returns what was done. Raises InputError with everything that is wrong, by row; nothing is written then.
    RecordingUnwritable and NoSpace name the pours that were written before.
    """
    wanted = filled_rows(rows)
    if not wanted:
        raise InputError("no cube is entered", where="cubes", remedy="Enter mass or load of a cube, in a row each")
    if len(wanted) > MOST_ROWS:
        raise InputError(f"{len(wanted)} cubes are more than {MOST_ROWS}", where="cubes", remedy="Enter them in parts")
    wrong: list[str] = []
    by_pour: dict[Path, list[tuple[int, dict[str, str]]]] = {}
    for number, row in wanted:
        try:
            path = pour_path(folder, row.get(POUR, ""))
            texts = file_texts({name: text for name, text in row.items() if name != POUR}, system)
        except FrothlineError as error:
            wrong.append(f"row {number}: {error.what}")
            continue
        said = [f"{BY_NAME[name].label}: {words}" for name, words in wrong_entries(row, system).items()]
        wrong += [f"row {number}: {one}" for one in (*said, *missing(texts))]
        by_pour.setdefault(path, []).append((number, texts))
    if not wrong:
        wrong = [words for path, cubes in by_pour.items() if (words := _refused(path, cubes))]
    if wrong:
        raise InputError("; ".join(wrong), where="cubes", remedy="Nothing is written yet: fix these rows")
    done: list[str] = []
    for path, cubes in by_pour.items():
        try:
            add_specimens(path, [texts for _, texts in cubes])
        except FrothlineError as error:
            before = f"{'; '.join(done)} saved, then: " if done else ""
            raise type(error)(f"{before}{error.what}", where=error.where, remedy=error.remedy) from error
        done.append(f"{counted(len(cubes), 'cube')} in {FOLDER}/{path.name}")
    return f"Saved: {', '.join(done)}"


def _refused(path: Path, cubes: Sequence[tuple[int, Mapping[str, str]]]) -> str:
    """Why the file refuses these cubes, with the first row that it refuses; empty if it takes them."""
    try:
        add_specimens(path, [texts for _, texts in cubes], write=False)
    except FrothlineError:
        for end, (number, _) in enumerate(cubes, 1):
            try:
                add_specimens(path, [texts for _, texts in cubes[:end]], write=False)
            except FrothlineError as error:
                return f"row {number}: {error.what}"
    return ""


def filled_rows(rows: Sequence[Mapping[str, str]]) -> list[tuple[int, dict[str, str]]]:
    """Number, from 1, and texts of the rows with a reading; what is empty in one is taken from the rows above."""
    found: list[tuple[int, dict[str, str]]] = []
    pour = ""
    above: dict[str, dict[str, str]] = {}
    for number, raw in enumerate(rows, 1):
        row = {name: text.strip() for name, text in raw.items() if text.strip()}
        pour = row.setdefault(POUR, pour)
        if not any(name in row for name in MEASURED):
            continue
        last = above.get(pour, {})
        sized = any(name in row for name in _CARRIED if name != "age")
        for name in _CARRIED:
            if name in last and (name == "age" or not sized):
                row.setdefault(name, last[name])
        above[pour] = {name: row[name] for name in _CARRIED if name in row}
        found.append((number, row))
    return found


def wrong_in_rows(rows: Sequence[Mapping[str, str]], system: str = "metric") -> list[dict[str, str]]:
    """For each row, name of each entry that cannot be read -> what is wrong with it."""
    return [wrong_entries(row, system) for row in rows]


def read_cube_table(path: Path) -> list[dict[str, str]]:
    """The rows of a table (CSV with comma, semicolon or tab) whose heads are names of entries. Raises InputError."""
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        words = getattr(error, "strerror", None) or "it is not UTF-8"
        raise InputError(f"the table cannot be read: {words}", where=str(path), remedy="Check the file") from error
    head = text.split("\n", 1)[0]
    mark = max(";\t,", key=head.count)
    table = [row for row in csv.reader(io.StringIO(text), delimiter=mark) if any(cell.strip() for cell in row)]
    names = column_names(table[0] if table else [], str(path))
    long = next((k for k, row in enumerate(table[1:], 1) if len(row) > len(names)), None)
    if long is not None:
        raise InputError(
            f"row {long} has more cells than the head",
            where=str(path),
            remedy="Separate cells by semicolons where numbers have a decimal comma",
        )
    return [dict(zip(names, row, strict=False)) for row in table[1:]]


def column_names(heads: Sequence[str], where: str) -> list[str]:
    """Names of entries from the heads of a table. Raises InputError for an unknown, missing or repeated column."""
    names = [head.strip().casefold().replace("_", "-").replace(" ", "-") for head in heads]
    unknown = [name for name in names if name != POUR and name not in BY_NAME]
    twice = [name for name in names if names.count(name) > 1]
    if unknown or twice or POUR not in names:
        what = f"“{unknown[0][:40]}” is not a column of cubes" if unknown else "the column “pour” is missing"
        if twice and not unknown:
            what = f"the column “{twice[0]}” is there twice"
        raise InputError(what, where=where, remedy=f"Known: {POUR}, {', '.join(BY_NAME)}")
    return names
