"""Editing of a plan file by a form: its entries as texts, what is wrong with them, saving, and undo.

The entries, by name: ``reference``, ``batches``; of part n ``part-n``, ``low-n``, ``high-n``, ``between-n`` (sizes
divided by semicolons); of target n ``figure-n``, ``least-n``, ``most-n``. Rows without part or figure are ignored.

The plan before the last change is in ``plan-before.toml``; an empty file there means that there was none.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import tomlkit

from frothline.atomic_file import write_atomically
from frothline.errors import InputError, RecordingUnwritable
from frothline.generator.build import PARTS, Build, entries
from frothline.generator.sheet import write_sheet
from frothline.generator.sheet_form import entry_kind as unit_kind
from frothline.quantities import with_unit, with_units
from frothline.toml_text import TomlUnreadable, edit_toml, read_text, read_toml
from frothline.trials.experiment_design import Factor, Planner
from frothline.trials.figures import BY_NAME
from frothline.trials.plan_file import (
    TARGET_KINDS,
    PlanFile,
    entry_kind,
    parse_plan,
    read_amount,
    read_level,
    read_target,
)

PLAN, BEFORE = "plan.toml", "plan-before.toml"
MOST_ROWS = 8  # parts, and targets
SIZED = ("length", "mass", "volume", "flow", "bore", "temperature", "dilution", "count", "share")  # kinds of entries
Texts = Mapping[str, str]


def plan_texts(text: str) -> dict[str, str]:
    """The entries of a plan file's text; {} for an empty one. Raises TomlUnreadable."""
    raw = read_toml(text)
    texts = {"reference": str(raw.get("reference", "")), "batches": str(raw.get("batches", ""))} if raw else {}
    factors = raw.get("factors", {})
    flat: dict[str, Any] = {}
    for name, value in factors.items() if isinstance(factors, Mapping) else ():
        flat |= {f"{name}.{one}": item for one, item in value.items()} if isinstance(value, Mapping) else {name: value}
    for number, (path, levels) in enumerate(flat.items(), 1):
        sizes = list(levels) if isinstance(levels, list) else [levels]
        with suppress(InputError, ValueError, TypeError):
            sizes.sort(key=partial(_level, entry_kind(path)))
        texts |= {f"part-{number}": path, f"low-{number}": str(sizes[0]) if sizes else ""}
        texts[f"high-{number}"] = str(sizes[-1]) if len(sizes) > 1 else ""
        texts[f"between-{number}"] = "; ".join(map(str, sizes[1:-1]))
    targets = raw.get("wish", ())
    for number, one in enumerate(
        (t for t in targets if isinstance(t, Mapping)) if isinstance(targets, list) else (), 1
    ):
        texts[f"figure-{number}"] = str(one.get("response", ""))
        texts |= {f"least-{number}": str(one.get("low", "")), f"most-{number}": str(one.get("high", ""))}
    return texts


def _level(kind: str, size: Any) -> float:
    return read_level(size, kind)


def _tables(raw: Any) -> list[Mapping[str, Any]]:
    return [one for one in raw if isinstance(one, Mapping)] if isinstance(raw, list) else []


def sized_entries(build: Build) -> list[str]:
    """Paths of the entries of this build that a plan may change."""
    return [
        f"{part}.{one.name}"
        for part in PARTS
        for one in entries(part)
        if one.metadata["kind"] in SIZED and getattr(getattr(build, part), one.name) is not None
    ]


def kinds_of(texts: Texts) -> dict[str, str]:
    """Entries of the form with a figure -> its kind in ``units.ENTRY_UNITS``."""
    found: dict[str, str] = {}
    for n in range(1, MOST_ROWS + 1):
        size, figure = unit_kind(texts.get(f"part-{n}", "").strip()), texts.get(f"figure-{n}", "").strip()
        target = TARGET_KINDS.get(BY_NAME[figure].quantity, "") if figure in BY_NAME else ""
        found |= dict.fromkeys((f"low-{n}", f"high-{n}", f"between-{n}"), size)
        found |= dict.fromkeys((f"least-{n}", f"most-{n}"), target)
    return {name: kind for name, kind in found.items() if kind}


def in_reader_units(texts: Texts, system: str) -> dict[str, str]:
    """The entries with the reader's unit at each number without one: the file must not depend on the reader."""
    kinds = kinds_of(texts)
    made = with_units(texts, kinds, system)
    for name, text in texts.items():
        if name.startswith("between-") and name in kinds:
            made[name] = "; ".join(
                with_unit(one.strip(), kinds[name], system) for one in text.split(";") if one.strip()
            )
    return made


def rows_of(texts: Texts, first: str) -> int:
    """How many rows a form needs: those in use and an empty one. ``first`` : "part" or "figure"."""
    used = [n for n in range(1, MOST_ROWS + 1) if texts.get(f"{first}-{n}", "").strip()]
    return min(max(used, default=0) + 1, MOST_ROWS)


def plan_problems(texts: Texts, builds: Mapping[str, Build], path: Path = Path(PLAN)) -> dict[str, str]:
    """Name of an entry -> what is wrong with it and how to correct it; empty if the plan can be saved.

    builds : builds of the folder by their file, as in ``reference``
    """
    return _read(texts, builds, path)[1]


def _read(texts: Texts, builds: Mapping[str, Build], path: Path) -> tuple[dict[str, Any], dict[str, str]]:
    """The plan's entries for its file, and the problems by entry."""
    wrong: dict[str, str] = {}
    reference = builds.get(texts.get("reference", ""))
    if reference is None:
        wrong["reference"] = "Choose the build that the trials begin with; if there is none, save one first"
    batches = texts.get("batches", "").strip() or "1"
    if not batches.isdecimal() or not 1 <= int(batches) <= 20:
        wrong["batches"] = f"“{batches}” is not a whole number from 1 to 20"
    factors = _factors(texts, reference, path, wrong)
    targets = _targets(texts, wrong)
    if not factors and not any(name.startswith(("part", "low", "high", "between")) for name in wrong):
        wrong["part-1"] = "Choose at least one part that may be changed"
    if not targets and not any(name.startswith(("figure", "least", "most")) for name in wrong):
        wrong["figure-1"] = "Choose at least one target"
    if not wrong:
        made = [Factor(name, tuple(values), "") for name, (values, _) in factors.items()]
        try:
            Planner(made, [read_target(one, "target") for one in targets])
        except InputError as error:
            wrong["part-1"] = _sentence(error)
    found = {"reference": texts.get("reference", ""), "batches": int(batches) if batches.isdecimal() else 1}
    return found | {"factors": {name: written for name, (_, written) in factors.items()}, "wish": targets}, wrong


def _factors(
    texts: Texts, reference: Build | None, path: Path, wrong: dict[str, str]
) -> dict[str, tuple[list[float], list[Any]]]:
    """Part -> its sizes in SI, and as written in the file; smallest first."""
    found: dict[str, tuple[list[float], list[Any]]] = {}
    for n in range(1, MOST_ROWS + 1):
        name = texts.get(f"part-{n}", "").strip()
        if not name:
            continue
        if name in found:
            wrong[f"part-{n}"] = "This part is in the plan already: give all its sizes in one row"
            continue
        try:
            kind = entry_kind(name)
        except InputError as error:
            wrong[f"part-{n}"] = _sentence(error)
            continue
        sizes: list[tuple[float, Any, str]] = []
        between = [one for one in texts.get(f"between-{n}", "").split(";") if one.strip()]
        for place, text in ((f"low-{n}", texts.get(f"low-{n}", "")), (f"high-{n}", texts.get(f"high-{n}", ""))):
            if not text.strip():
                wrong[place] = "Enter a size, like that of the reference build"
        given = [(f"low-{n}", texts.get(f"low-{n}", "")), *((f"between-{n}", one) for one in between)]
        for place, text in (*given, (f"high-{n}", texts.get(f"high-{n}", ""))):
            if text.strip():
                value = _size(name, kind, text.strip(), reference, path, place, wrong)
                if value is not None:
                    sizes.append((value, int(value) if kind == "count" else text.strip(), place))
        values = [value for value, _, _ in sizes]
        if any(place.endswith(f"-{n}") for place in wrong):
            continue
        if values[0] >= values[-1]:
            wrong[f"high-{n}"] = "The largest size must be greater than the smallest"
        elif not all(values[0] < one < values[-1] for one in values[1:-1]):
            wrong[f"between-{n}"] = "These sizes must be between the smallest and the largest"
        sizes.sort(key=lambda one: one[0])
        found[name] = [value for value, _, _ in sizes], [written for _, written, _ in sizes]
    return found


def _size(
    name: str, kind: str, text: str, reference: Build | None, path: Path, place: str, wrong: dict[str, str]
) -> float | None:
    """One size in SI; None with its problem in ``wrong`` if it cannot be read or built."""
    try:
        value = read_level(text, kind)
        if kind == "count" and value != int(value):
            raise ValueError(f"“{text}” is not a whole number")  # noqa: TRY301  reported like the others
        if reference is not None:
            PlanFile(path, reference, (), {}, (), 1).build({name: value})
    except InputError as error:
        wrong[place] = _sentence(error)
        return None
    except (ValueError, TypeError) as error:
        wrong[place] = f"{str(error)[:1].upper()}{str(error)[1:]}"
        return None
    return value


def _targets(texts: Texts, wrong: dict[str, str]) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    for n in range(1, MOST_ROWS + 1):
        name = texts.get(f"figure-{n}", "").strip()
        if not name:
            continue
        if name not in BY_NAME:
            wrong[f"figure-{n}"] = f"“{name}” is not a known figure"
            continue
        if name in (one["response"] for one in found):
            wrong[f"figure-{n}"] = "This figure has a target already"
            continue
        ends = {"low": texts.get(f"least-{n}", "").strip(), "high": texts.get(f"most-{n}", "").strip()}
        values = {"low": 0.0, "high": math.inf}
        for end, text in ends.items():
            place = f"least-{n}" if end == "low" else f"most-{n}"
            if text:
                try:
                    values[end] = read_amount(text, BY_NAME[name].quantity)
                except ValueError as error:
                    wrong[place] = f"{str(error)[:1].upper()}{str(error)[1:]}"
        if f"least-{n}" in wrong or f"most-{n}" in wrong:
            continue
        if not any(ends.values()):
            wrong[f"least-{n}"] = "Enter the least, the most, or both"
        elif not 0.0 <= values["low"] < values["high"]:
            wrong[f"most-{n}"] = "The most must be greater than the least"
        found.append({"response": name} | {end: text for end, text in ends.items() if text})
    return found


def _sentence(error: InputError) -> str:
    return f"{error.what[:1].upper()}{error.what[1:]}. {error.remedy}".strip()


# --- the file ---------------------------------------------------------------------------------------------------------


def save_plan(folder: Path, texts: Texts, builds: Mapping[str, Build]) -> Path:
    """Write the plan of a folder; comments and entries that the form does not have stay.

    Raises InputError with the first wrong entry, or if the plan that is there is not TOML; RecordingUnwritable.
    """
    path = folder / PLAN
    found, wrong = _read(texts, builds, path)
    if wrong:
        name, words = next(iter(wrong.items()))
        raise InputError(words, where=f"plan: {name}")
    document = _document(path)
    document["reference"], document["batches"] = found["reference"], found["batches"]
    table = document.get("factors")
    if not isinstance(table, tomlkit.items.Table):
        document["factors"] = table = tomlkit.table()
    for name in [one for one in table if one not in found["factors"]]:
        del table[name]
    for name, sizes in found["factors"].items():
        if table.get(name) != sizes:
            table[name] = sizes
    along = document.get("along")
    if isinstance(along, tomlkit.items.Table):
        for name in [one for one, lead in along.items() if lead not in found["factors"] or one in found["factors"]]:
            del along[name]
    targets = tomlkit.aot()
    for one in found["wish"]:
        targets.append(tomlkit.item(one))
    document["wish"] = targets
    return _write(folder, tomlkit.dumps(document))


def add_planned(folder: Path, build: Build, now: datetime | None = None) -> Path:
    """Put a build into the plan as a next trial, after those that are planned already. Raises as ``save_plan``."""
    document = _document(folder / PLAN)
    planned = document.get("planned")
    if not isinstance(planned, tomlkit.items.AoT):
        planned = tomlkit.aot()
        document["planned"] = planned
    entry = tomlkit.table()
    entry["name"] = build.name
    entry["added"] = (now or datetime.now().astimezone()).isoformat(timespec="seconds")
    entry["build_sheet"] = tomlkit.string(write_sheet(build), multiline=True)
    planned.append(entry)
    return _write(folder, tomlkit.dumps(document))


def remove_planned(folder: Path, name: str) -> Path:
    """Take the first planned build of this name out of the plan. Raises InputError if there is none."""
    document = _document(folder / PLAN)
    planned = document.get("planned")
    place = next((n for n, one in enumerate(planned or ()) if one.get("name") == name), None)
    if planned is None or place is None:
        raise InputError(f"“{name}” is not planned", where=str(folder / PLAN), remedy="Reload the page")
    del planned[place]
    if not planned:
        del document["planned"]
    return _write(folder, tomlkit.dumps(document))


def undo_plan(folder: Path) -> str:
    """Put the plan before the last change back; a second call undoes that. Returns words on what was done.

    Raises InputError if there was no change.
    """
    path, before = folder / PLAN, folder / BEFORE
    if not before.exists():
        raise InputError("the plan was not changed here", where=str(path))
    earlier = _text(before)
    _write(folder, earlier)
    return "The plan before the last change is back" if earlier.strip() else "The plan is removed; undo brings it back"


def _text(path: Path) -> str:
    try:
        return path.read_text("utf-8") if path.exists() else ""
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"the plan cannot be read: {error}", where=str(path), remedy="Fix it by hand") from error


def _document(path: Path) -> tomlkit.TOMLDocument:
    try:
        return edit_toml(_text(path))
    except TomlUnreadable as error:
        raise InputError(f"the plan cannot be read: {error}", where=str(path), remedy="Fix it by hand") from error


def _write(folder: Path, text: str) -> Path:
    """Write a plan that can be read, and store the one before; an empty text removes it."""
    path, now = folder / PLAN, _text(folder / PLAN)
    if text.strip():
        parse_plan(text, path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RecordingUnwritable(f"the plan cannot be written: {error.strerror or error}", where=str(path)) from error
    write_atomically(folder / BEFORE, lambda file: file.write(now.encode("utf-8")))
    if text.strip():
        write_atomically(path, lambda file: file.write(text.encode("utf-8")))
    else:
        path.unlink(missing_ok=True)
    return path


def read_folder_plan(folder: Path) -> dict[str, str]:
    """The entries of a folder's plan; {} without one or if it cannot be read, which ``read_plan`` reports."""
    try:
        return plan_texts(read_text(folder / PLAN))
    except (OSError, TomlUnreadable):
        return {}
