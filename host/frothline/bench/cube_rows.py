"""Many cubes of several pours entered in one go, as they come from the press: a row each, with the pour in the row.

Nothing is written before every row is checked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from frothline.bench.cube_record import BY_NAME, file_texts, wrong_entries
from frothline.bench.pour_questions import questions_of
from frothline.bench.record_entries import record_path
from frothline.errors import FrothlineError, InputError
from frothline.pours.later_entries import add_specimens, implausible, missing, refused_by_file
from frothline.pours.record import FOLDER
from frothline.rounding import counted

POUR = "pour"
MEASURED = ("mass", "load", "dry-mass")  # a row without any of these is not filled in
MOST_ROWS = 200
MOST_SHOWN = 40  # problems in one message
Cube = tuple[int, dict[str, str]]  # number of the row, and texts by key of the file
_CARRIED = ("edge", "diameter", "length", "width", "height", "age")


@dataclass(frozen=True)
class FoundInTable:
    """Where rows stand: ``lines`` of the file by row, from 1, and ``heads`` by name of the entry; ``wrong`` by row."""

    where: str = "cubes"
    lines: Sequence[int] = ()
    heads: Mapping[str, str] = field(default_factory=dict)
    wrong: Mapping[int, Sequence[str]] = field(default_factory=dict)
    has_pours: bool = True

    def place(self, row: int) -> str:
        """The place of a row, for a message."""
        return f"line {self.lines[row - 1]}" if self.lines else f"row {row}"

    def column(self, name: str) -> str:
        """The name of an entry, for a message."""
        return self.heads.get(name, BY_NAME[name].label)


def add_cubes(
    folder: Path, rows: Sequence[Mapping[str, str]], system: str = "metric", found: FoundInTable | None = None
) -> str:
    """Append the cubes of all rows to the files of their pours; numbers without a unit are those of ``system``.

    rows : texts by name of the entry, with ``pour``, the name of the pour's file. An empty pour is that of the row
    above; an empty size or age is that of the row above of the same pour. Rows without mass and load are left out.
    found : where the rows stand in a table, and what was wrong there already

    Returns what was done. Raises InputError with everything that is wrong, by row and column; nothing is written
    then. RecordingUnwritable and NoSpace name the pours that were written before.
    """
    found = found or FoundInTable()
    wanted = filled_rows(rows)
    if not wanted and not found.wrong:
        raise InputError("no cube is entered", where="cubes", remedy="Enter mass or load of a cube, in a row each")
    if len(wanted) > MOST_ROWS:
        raise InputError(f"{len(wanted)} cubes are more than {MOST_ROWS}", where="cubes", remedy="Enter them in parts")
    by_pour, wrong = _checked(folder, wanted, system, found)
    if wrong:
        shown = [words for number in sorted(wrong) for words in wrong[number]]
        more = [f"and {len(shown) - MOST_SHOWN} more"] if len(shown) > MOST_SHOWN else []
        remedy = "Nothing is written yet: fix these rows"
        raise InputError("; ".join([*shown[:MOST_SHOWN], *more]), where=found.where, remedy=remedy)
    done: list[str] = []
    asked: list[str] = []
    for path, cubes in by_pour.items():
        known = questions_of(path)
        try:
            add_specimens(path, [texts for _, texts in cubes])
        except FrothlineError as error:
            before = f"{'; '.join(done)} saved, then: " if done else ""
            raise type(error)(f"{before}{error.what}", where=error.where, remedy=error.remedy) from error
        done.append(f"{counted(len(cubes), 'cube')} in {FOLDER}/{path.name}")
        asked += [f"{path.stem}: {one}" for one in questions_of(path) if one not in known]
    said = f"Saved: {', '.join(done)}"
    return f"{said}. But {'; '.join(asked)}" if asked else said


def _checked(
    folder: Path, wanted: Sequence[tuple[int, Mapping[str, str]]], system: str, found: FoundInTable
) -> tuple[dict[Path, list[Cube]], dict[int, list[str]]]:
    """The cubes by their pour's file, and all that is wrong, by number of the row."""
    wrong = {number: list(said) for number, said in found.wrong.items()}
    by_pour: dict[Path, list[Cube]] = {}

    def refuse(number: int, *said: str) -> None:
        if said:
            wrong.setdefault(number, []).extend(f"{found.place(number)}: {one}" for one in said)

    for number, row in wanted:
        given = {name: text for name, text in row.items() if name in BY_NAME}
        refuse(number, *(f"“{name[:40]}” is not an entry of a cube" for name in row if name not in {POUR, *BY_NAME}))
        unreadable = wrong_entries(given, system)
        refuse(number, *(f"{found.column(name)}: {words}" for name, words in unreadable.items()))
        texts = file_texts(given, system)
        readable = file_texts({name: text for name, text in given.items() if name not in unreadable}, system)
        refuse(number, *missing(texts), *implausible(readable))
        if not found.has_pours:
            continue
        try:
            by_pour.setdefault(record_path(folder, "pour", row.get(POUR, "")), []).append((number, texts))
        except FrothlineError as error:
            refuse(number, error.what)
    for path, cubes in by_pour.items():
        try:
            against = refused_by_file(path, [texts for _, texts in cubes])
            for (number, _), said in zip(cubes, against, strict=True):
                refuse(number, *said)
            if not any(number in wrong for number, _ in cubes):
                add_specimens(path, [texts for _, texts in cubes], write=False)
        except FrothlineError as error:
            refuse(cubes[0][0], error.what)
    return by_pour, wrong


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
