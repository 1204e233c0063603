"""The functions behind ``import frothline as fl`` that record pours, cubes, jars, and how a photo is measured.

Each calls the function used by the pages and the command line, and writes the same file. Entries have the names of the
command line, with ``_`` for ``-``: text is read as there, in metric units where it has none, and numbers are SI: kg,
m³, m, kg/m³, N, s. An entry that is None or "" is not written, and taken out by a correction.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from numbers import Real
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bench import cube_record, cube_rows, jar_record, photo_record, pour_record
from frothline.bench.cube_rows import FoundInTable
from frothline.bench.cube_table import CubeColumn, add_cube_table, read_columns
from frothline.bench.given_entries import Folder, Saved, folder_of, text_of, texts_of, trial_name
from frothline.bench.pour_planning import plan_pour
from frothline.bench.pour_questions import and_asked
from frothline.bench.record_entries import PourEntry
from frothline.bench.trial_entry import with_trial
from frothline.bubble_size.photo_notes import LENGTHS, NAMES, POINTS, notes_file
from frothline.errors import InputError
from frothline.pours.jar import FOLDER as JARS
from frothline.pours.plan import PourPlan
from frothline.pours.record import FOLDER as POURS
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial

if TYPE_CHECKING:
    import pandas as pd


# --- pours and their cubes --------------------------------------------------------------------------------------------


def record_pour(
    name: str,
    folder: Folder = None,
    *,
    trial: Trial | str = "",
    plan: PourPlan | str | Path | None = None,
    **entries: Any,
) -> Saved:
    """Write the file of a pour, as ``frothline pours --new`` does.

    name : of the file, like "04-12-kerb"
    folder : of the recordings, or its notebook; FROTHLINE_FOLDER, else ``~/Frothline``, if not given
    trial : that made the foam, or its name
    plan : of ``fl.pour_plan``, or its file: the masses of a single mix are taken from it where no entry is given
    entries : title, poured, wanted_density, wanted_volume, cement, sand, water, foam, foam_volume; slurry, or
        slurry_container, slurry_empty and slurry_full; cup, or cup_container, cup_empty and cup_full; cone_time,
        spread, slurry_temperature, air_temperature, cast, lift, note; like ``cement="21.2 kg", cup="640 kg/m3"``, or
        numbers in SI

    Raises InputError with every entry that cannot be read, or if there is such a pour; RecordingUnwritable.
    """
    where = folder_of(folder)
    planned = plan if plan is None or isinstance(plan, PourPlan) else plan_pour(Path(plan))
    typed = texts_of(entries, pour_record.ENTRIES, "record_pour", but=("name", "trial"), emptied=True)
    path = pour_record.record_pour(
        where, {**pour_record.entries_of_plan(planned), **typed, "name": name, **_trial(trial, folder)}
    )
    return Saved(and_asked(f"Pour saved in {POURS}/{path.name}", path), path)


def correct_pour(pour: str, folder: Folder = None, *, trial: Trial | str | None = None, **entries: Any) -> Saved:
    """Change entries of a pour, as ``frothline pours --pour NAME --correct`` does; what was written stays as a comment.

    pour : name of its file;  folder, trial, entries : as for ``record_pour``; None or "" takes an entry out, and a
    trial that is None stays

    Raises InputError with all that is wrong, RecordingUnwritable.
    """
    where = folder_of(folder)
    typed = texts_of(entries, pour_record.ENTRIES, "correct_pour", but=("name", "trial"), emptied=True)
    typed |= {} if trial is None else _trial(trial, folder)
    return Saved(pour_record.correct_pour(where, pour, typed), where / POURS / f"{pour}.toml")


def add_cube(pour: str, folder: Folder = None, **entries: Any) -> Saved:
    """Add a cube, cylinder or block to a recorded pour, as ``frothline pours --pour NAME --add-cube`` does.

    pour : name of its file;  folder : as for ``record_pour``
    entries : edge, or diameter and height, or length, width and height; age, mass, load, dry_mass, note; like
        ``edge="100 mm", age="28 d", load="7.4 kN"``, or numbers in SI: m, s, kg, N

    Raises InputError with all that is wrong or missing, RecordingUnwritable.
    """
    where = folder_of(folder)
    said = cube_record.add_cube(where, pour, texts_of(entries, cube_record.ENTRIES, "add_cube"))
    return Saved(said, where / POURS / f"{pour}.toml")


def add_cubes(rows: pd.DataFrame | Sequence[Mapping[str, Any]] | str | Path, folder: Folder = None) -> Saved:
    """Add many cubes of several pours in one go, as ``frothline pours --add-cubes`` does.

    rows : a DataFrame, a list of dictionaries, or a table's file (CSV), whose columns are the entries of ``add_cube``,
        and ``pour``, the name of the pour's file. An empty pour is that of the row above; an empty size or age that of
        the row above of the same pour. NaN and None are empty; rows without mass and load are left out. Numbers are
        SI as everywhere; a CSV file, and texts without a unit, are in mm, d, g and kN. A head may name another unit,
        like ``load [kN]``, ``mass (g)`` or ``age, d``: numbers below it are in that unit
    folder : as for ``record_pour``

    Raises InputError with everything that is wrong, by row from 1, or line of the file, and column; nothing is written
    then. RecordingUnwritable.
    """
    where = folder_of(folder)
    if isinstance(rows, str | Path):
        said = add_cube_table(where, Path(rows))
    else:
        texts, found = _rows(rows)
        said = cube_rows.add_cubes(where, texts, found=found)
    return Saved(said, where / POURS)


def correct_cube(pour: str, number: int, folder: Folder = None, **entries: Any) -> Saved:
    """Change entries of a cube; what was written stays in the file as a comment.

    number : of the cube in its file, from 1;  pour, folder, entries : as for ``add_cube``; None or "" takes one out

    Raises InputError with all that is wrong, RecordingUnwritable.
    """
    where = folder_of(folder)
    texts = texts_of(entries, cube_record.ENTRIES, "correct_cube", emptied=True)
    return Saved(cube_record.correct_cube(where, pour, number, texts), where / POURS / f"{pour}.toml")


def remove_cube(pour: str, number: int, folder: Folder = None) -> Saved:
    """Take a cube out of a pour; its lines stay in the file as comments. Arguments and errors as ``correct_cube``."""
    where = folder_of(folder)
    return Saved(cube_record.remove_cube(where, pour, number), where / POURS / f"{pour}.toml")


def add_settlement(
    pour: str, folder: Folder = None, *, sank: str | float | None = None, rose: str | float | None = None
) -> Saved:
    """Write how far the top of a pour sank or rose in 24 h, like ``sank="2 mm"``; an earlier entry stays as a comment.

    pour, folder : as for ``add_cube``;  sank, rose : one of them; numbers in m

    Raises InputError, RecordingUnwritable.
    """
    given = {key: value for key, value in (("sank", sank), ("rose", rose)) if value is not None}
    if len(given) != 1:
        raise InputError("a settlement is one depth", where="add_settlement", remedy="Give sank or rose, like 2 mm")
    ((key, value),) = given.items()
    where = folder_of(folder)
    said = cube_record.add_settlement(where, pour, key, text_of(key, value, "length", "add_settlement"))
    return Saved(said, where / POURS / f"{pour}.toml")


# --- jars -------------------------------------------------------------------------------------------------------------


def record_jar(name: str, folder: Folder = None, *, trial: Trial | str = "", **entries: Any) -> Saved:
    """Write the file of a jar of slurry and foam, as ``frothline jar --new`` does; ``fl.jar`` reads it.

    name : of the file;  folder : as for ``record_pour``;  trial : that made the foam, or its name
    entries : title, foam_density, cement, sand, water, foam, foam_volume, diameter, height, volume, settled, after,
        note; like ``cement="300 g", height="152 mm"``, or numbers in SI

    Raises InputError with every entry that cannot be read, or if there is such a jar; RecordingUnwritable.
    """
    where = folder_of(folder)
    typed = texts_of(entries, jar_record.ENTRIES, "record_jar", but=("name", "trial"))
    said = jar_record.record_jar(where, {**typed, "name": name, **_trial(trial, folder)})
    return Saved(said, where / JARS / f"{name.strip()}.toml")


def settle_jar(jar: str, settled: str | float, after: str | float, folder: Folder = None) -> Saved:
    """Write the settled height of a jar, as ``frothline jar --settled`` does.

    jar : name of its file;  settled : height of the mix, like "149 mm";  after : age of the mix then, like "2 h";
    numbers in m and s;  folder : as for ``record_pour``

    Raises InputError, RecordingUnwritable.
    """
    where = folder_of(folder)
    texts = texts_of({"settled": settled, "after": after}, jar_record.ENTRIES, "settle_jar")
    said = jar_record.settle_jar(where, jar, texts.get("settled", ""), texts.get("after", ""))
    return Saved(said, where / JARS / f"{jar}.toml")


def correct_jar(jar: str, folder: Folder = None, *, trial: Trial | str | None = None, **entries: Any) -> Saved:
    """Change entries of a jar; what was written stays in the file as a comment.

    jar : name of its file;  folder, trial, entries : as for ``record_jar``; None or "" takes an entry out, and a trial
    that is None stays

    Raises InputError with all that is wrong, RecordingUnwritable.
    """
    where = folder_of(folder)
    typed = texts_of(entries, jar_record.ENTRIES, "correct_jar", but=("name", "trial"), emptied=True)
    typed |= {} if trial is None else _trial(trial, folder)
    return Saved(jar_record.correct_jar(where, jar, typed), where / JARS / f"{jar}.toml")


# --- photos -----------------------------------------------------------------------------------------------------------


def note_photo(photo: str | Path, **entries: Any) -> Saved:
    """Note next to a photo of foam how its bubbles are measured, as ``frothline bubbles --keep`` does.

    entries : first and second, two marks of a ruler at the pane in px of the upright photo, like "120, 300" or
        (120, 300), and length between them; jar, inner diameter of a round wall; ruler, measured length of the printed
        ruler. Lengths like "50 mm", or numbers in m. None or "" takes a note out; the others stay

    ``fl.bubbles``, prompt and page measure the photo with them. Raises InputError with all that is wrong,
    RecordingUnwritable.
    """
    known = [PourEntry(name, name, "length" if name in LENGTHS else "", name) for name in NAMES]
    texts = texts_of({key: _pair(key, one) for key, one in entries.items()}, known, "note_photo", emptied=True)
    return Saved(photo_record.note_photo(Path(photo), texts), notes_file(Path(photo)))


# --- entries ----------------------------------------------------------------------------------------------------------


def _trial(trial: Trial | str, folder: Folder) -> dict[str, str]:
    """The entry of a trial. Raises InputError for a name that the notebook of the folder does not have."""
    if isinstance(trial, Trial) or not trial:
        return {"trial": trial_name(trial)}
    return with_trial({"trial": trial}, folder if isinstance(folder, Notebook) else Notebook(folder_of(folder)))


def _pair(name: str, value: Any) -> Any:
    """A mark as a text: "120, 300" from two numbers."""
    if name not in POINTS or value is None or isinstance(value, str):
        return value
    pair = list(value) if isinstance(value, Iterable) else []
    if len(pair) != 2 or not all(isinstance(one, Real) and math.isfinite(one) for one in pair):
        raise InputError(
            "a mark is two numbers of pixels", where=f"note_photo: {name}", remedy="Write it like (120, 300)"
        )
    return ", ".join(f"{float(one):.12g}" for one in pair)


def _rows(rows: Any) -> tuple[list[dict[str, str]], FoundInTable]:
    """The rows of a DataFrame or a list of dictionaries as texts, and what is wrong with heads and values."""
    if hasattr(rows, "to_dict"):
        heads = [str(one) for one in rows.columns]
        values = [list(row) for row in rows.itertuples(index=False)]
    else:
        named = [{str(name): value for name, value in dict(row).items()} for row in rows]
        heads = list(dict.fromkeys(name for row in named for name in row))
        values = [[row.get(head) for head in heads] for row in named]
    if not values:
        return [], FoundInTable()
    columns, problems = read_columns(heads)
    wrong: dict[int, list[str]] = {0: problems} if problems else {}
    found: list[dict[str, str]] = []
    for number, row in enumerate(values, 1):
        texts = {}
        for place, column in columns.items():
            try:
                texts[column.name] = _cell(column, row[place])
            except InputError as error:
                wrong.setdefault(number, []).append(f"row {number}: {column.head}: {error.what}")
        found.append(texts)
    has_pours = any(one.name == cube_rows.POUR for one in columns.values())
    titles = {one.name: one.head for one in columns.values()}
    return found, FoundInTable("add_cubes", (), titles, wrong, has_pours)


def _cell(column: CubeColumn, value: Any) -> str:
    """The text of a value: a number is SI, or in the unit of its column's head. Raises InputError."""
    if _is_empty(value):
        return ""
    if column.name == cube_rows.POUR:
        return str(value)
    kind = cube_record.BY_NAME[column.name].kind
    if column.unit and not isinstance(value, bool) and isinstance(value, Real) and math.isfinite(value):
        return f"{float(value):.12g} {column.unit}"
    return column.text(text_of(column.name, value, kind, "add_cubes"))


def _is_empty(value: Any) -> bool:
    """None, NaN, NaT and NA of a table: only they differ from themselves, or cannot be compared."""
    if value is None:
        return True
    try:
        return bool(value != value)  # noqa: PLR0124  NaN
    except TypeError:  # the NA of pandas
        return True
