"""The build sheet: reading and writing of a TOML file, with problems by file, line and entry.

Lengths are "25 mm", "3/4 in" or "1 1/2 in"; a bare number is millimetres. A bore may be a pipe by its name as sold, "1
1/2 in sch 40" or "50x3.7". All problems are reported at once, each with file, line and entry.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, replace
from difflib import get_close_matches
from importlib import resources
from pathlib import Path
from typing import Any

import tomlkit

from frothline.atomic_file import write_new
from frothline.errors import InputError
from frothline.foam.dilution import read_dilution
from frothline.generator.build import PARTS, Build, entries
from frothline.generator.build_checks import BuildProblem, check_build
from frothline.generator.stock_sizes import pipe_of_bore, read_bore
from frothline.quantities import read_number, read_quantity, read_temperature, shorten
from frothline.toml_text import LIBRARY, TomlUnreadable, edit_toml, hide_texts, read_text, read_toml
from frothline.units import ZERO_CELSIUS


def simulated_sheet() -> str:
    """The sheet of the generator on the simulated line."""
    return resources.files("frothline.generator").joinpath("templates/simulated.toml").read_text("utf-8")


_TITLES = {
    "connection": "air inlet",
    "hose": "from the spool to the generator",
    "tube": "the diffusion tube",
    "body": "pipe in which the foam forms",
    "packing": "element that makes the bubbles small",
    "outlet": "the reducer",
    "reservoir": "solution supply",
    "solution": "solution and dilution",
}


_LARGEST_SHEET = 30_000  # characters; a sheet is one page, and tomlkit needs 1 to 2 s for the worst text of this size


@dataclass(frozen=True)
class Problem:
    """A problem in a sheet: where ("file:line entry"), what, remedy, and whether it is fatal.

    ``path`` is the entry it belongs to, like "outlet.bore", or the part; empty for the sheet as a whole.
    """

    where: str
    what: str
    remedy: str
    fatal: bool = True
    path: str = ""

    def __str__(self) -> str:
        return f"{self.where}: {self.what}. {self.remedy}"


@dataclass(frozen=True)
class Sheet:
    """Result of reading a sheet: the build, or None with fatal problems, and warnings."""

    build: Build | None
    problems: tuple[Problem, ...]
    text: str


def parse_sheet(text: str, file: str = "build") -> Sheet:
    """Parse a sheet's text and report all its problems; never raises for its content."""
    problems: list[Problem] = []
    try:
        raw = read_toml(text, _LARGEST_SHEET)
    except TomlUnreadable as error:
        return Sheet(None, (_unreadable(error, file, text),), text)
    lines = _Lines(text, file)
    parts: dict[str, Any] = {}
    top = [*PARTS, "name", "notes"]
    problems += [_unknown(lines.of(key), key, top) for key in raw if key not in top]
    for part in PARTS:
        table = raw.get(part, {} if part == "packing" else None)
        if table is None:
            problems.append(Problem(file, f"the part [{part}] is missing: {_TITLES[part]}", "Add it", path=part))
        elif not isinstance(table, Mapping):
            problems.append(
                Problem(lines.of(part), f"{part} is a part of its own", f"Write [{part}] above its entries", path=part)
            )
        else:
            parts[part] = _read_part(part, table, lines, problems)
    name, notes = raw.get("name", ""), raw.get("notes", "")
    for key, value in (("name", name), ("notes", notes)):
        if not isinstance(value, str):
            problems.append(
                Problem(lines.of(key), f"{key} must be text in quotes", 'Like name = "second tube"', path=key)
            )
    if any(problem.fatal for problem in problems):
        return Sheet(None, tuple(problems), text)
    build = Build(name=name or Path(file).stem, notes=notes, **parts)
    problems += [_of_objection(item, lines) for item in check_build(build)]
    usable = not any(problem.fatal for problem in problems)
    return Sheet(build if usable else None, tuple(problems), text)


def _unreadable(error: TomlUnreadable, file: str, text: str) -> Problem:
    if len(text) > _LARGEST_SHEET:
        return Problem(file, f"this is not a build sheet: {error.what}", "Choose another file, or shorten its notes")
    if error.line is None:
        return Problem(file, f"this is not a build sheet: {error.what}", "Start from a new sheet")
    remedy = "Text needs quotes, like bore = “38 mm” with straight quotes; write each entry on its own line"
    return Problem(f"{file}:{error.line}", f"this line cannot be read: {error.what.rstrip('.')}", remedy)


def read_sheet(path: str | os.PathLike[str]) -> Build:
    """Read the build of a sheet.

    Raises InputError with every fatal problem and its line, or the reason why the file cannot be read.
    """
    file = Path(path)
    sheet = parse_sheet(sheet_text(file), str(file))
    fatal = [problem for problem in sheet.problems if problem.fatal]
    if sheet.build is None:
        first = fatal[0]
        more = "".join(f"\n{problem}" for problem in fatal[1:])
        raise InputError(first.what, where=first.where, remedy=first.remedy + more)
    return sheet.build


def sheet_text(file: Path) -> str:
    """The text of a sheet's file, or of the sheet in the file of a measured generator.

    Raises InputError if it cannot be read.
    """
    try:
        text = read_text(file)
        held = read_toml(text).get("sheet") if LIBRARY in text[:400] else None
    except TomlUnreadable as error:
        raise InputError(error.what, where=str(file), remedy="A build sheet is TOML in UTF-8") from error
    except OSError as error:
        raise InputError(
            f"the build sheet cannot be read: {error.strerror or error}", where=str(file), remedy="Check its name"
        ) from error
    return held if isinstance(held, str) else text


class _Lines:
    """The line of each table and entry in the text, for messages."""

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self.at: dict[str, int] = {}
        table = ""
        for number, line in enumerate(map(str.strip, hide_texts(text).split("\n")), 1):
            if line.startswith("["):
                name, _, rest = line.strip("[").partition("]")
                if not rest.strip("] \t"):  # otherwise it is a row of a list
                    table = name.strip("\"' \t")
                    self.at.setdefault(table, number)
            elif "=" in line:
                name = line.partition("=")[0].strip("\"' \t")
                self.at.setdefault(f"{table}.{name}" if table else name, number)

    def of(self, path: str) -> str:
        number = self.at.get(path) or self.at.get(path.partition(".")[0])
        entry = path.partition(".")[2] or path
        return f"{self.file}:{number} {shorten(entry)}" if number else f"{self.file} {shorten(path)}"


def _unknown(where: str, key: str, known: list[str]) -> Problem:
    near = get_close_matches(key, known, n=1)
    remedy = f"Did you mean “{near[0]}”?" if near else f"Known here: {', '.join(known)}"
    return Problem(where, f"“{shorten(key)}” is not known here", remedy)


def _of_objection(item: BuildProblem, lines: _Lines) -> Problem:
    return Problem(lines.of(item.path), item.what, item.remedy, item.fatal, item.path)


def _read_part(part: str, table: Mapping[str, Any], lines: _Lines, problems: list[Problem]) -> Any:
    known = {f.name: f for f in entries(part)}
    values: dict[str, Any] = {}
    before = len(problems)
    for key, raw in table.items():
        where = lines.of(f"{part}.{key}")
        if key not in known:
            problems.append(_unknown(where, key, list(known)))
            continue
        try:
            values[key] = read_entry(raw, known[key])
        except ValueError as error:  # errors of the entry readers, as text
            about = known[key].metadata["about"]
            problems.append(Problem(where, str(error), f"This entry is the {about}", path=f"{part}.{key}"))
    for key, f in known.items():
        if key not in table and f.default is MISSING:
            about = f.metadata["about"]
            what = f"[{part}] lacks “{key}”, the {about}"
            problems.append(Problem(lines.of(part), what, f"Add {key} = …", path=f"{part}.{key}"))
    return PARTS[part](**values) if len(problems) == before else None


_MUST_BE = {"count": "must be a whole number", "share": "must be a fraction like 0.95 or a percentage like 95 %"}


def read_entry(raw: Any, f: Field[Any]) -> Any:
    """Read one entry of a sheet in SI; ``f`` is its field, see ``build.entries``. Raises ValueError with the reason."""
    about = f.metadata
    kind = about["kind"]
    if kind in ("word", "text"):
        if not isinstance(raw, str):
            raise ValueError(f"“{shorten(raw)}” must be text in quotes")
        if kind == "word" and raw not in about["words"]:
            raise ValueError(f"“{shorten(raw)}” is not known; one of: {', '.join(about['words'])}")
        return raw
    if kind == "list":
        items = raw if isinstance(raw, list) else [raw]
        for item in items:
            if item not in about["words"]:
                raise ValueError(f"“{shorten(item)}” is not known; any of: {', '.join(about['words'])}")
        return tuple(items)
    if kind == "dilution":
        return read_dilution(raw)
    value = _read_number(raw, kind)
    if not about["low"] <= value <= about["high"]:
        low, high = write_value(about["low"], kind), write_value(about["high"], kind)
        form = "; write a fraction like 0.95 or a percentage like 95 %" if kind == "share" else ""
        raise ValueError(f"“{shorten(raw)}” is outside {low} to {high}{form}")
    return value


def _read_number(raw: Any, kind: str) -> float:
    readable = isinstance(raw, int) if kind == "count" else isinstance(raw, (str, int, float))
    if isinstance(raw, bool) or not readable:
        raise ValueError(f"“{shorten(raw)}” {_MUST_BE.get(kind, 'cannot be read here')}")
    if kind == "count":
        return int(raw)
    if kind == "share":
        return read_share(raw)
    if kind == "bore":
        return read_bore(raw)
    return read_temperature(raw) if kind == "temperature" else read_quantity(raw, kind)


def read_share(raw: str | float) -> float:
    """Read a share from "95 %", "0.95" or 0.95. Raises ValueError."""
    try:
        if isinstance(raw, str) and raw.rstrip().endswith("%"):
            return read_number(raw.rstrip().removesuffix("%")) / 100.0
        return read_number(raw)
    except ValueError as error:
        if "two ways" in str(error) or "three digits" in str(error):
            raise
        raise ValueError(f"“{shorten(raw)}” {_MUST_BE['share']}") from error


def write_value(value: Any, kind: str) -> str:
    """A value as a sheet writes it, in metric units; exact when read back."""
    if kind == "bore" and (pipe := pipe_of_bore(value, 1e-9)):
        return pipe.name
    if kind in ("bore", "length"):
        return f"{_short(value * 1e3)} mm"
    if kind == "mass":
        return f"{_short(value * 1e3)} g"
    if kind == "volume":
        return f"{_short(value * 1e3)} L"
    if kind == "flow":
        return f"{_short(value * 6e4)} L/min"
    if kind == "temperature":
        return f"{_short(value - ZERO_CELSIUS)} °C"
    return str(value)


def _short(value: float) -> str:
    """A number with twelve digits, without binary rounding digits and without exponents, which a sheet does not
    allow.
    """
    text = f"{float(f'{value:.12g}'):.12f}".rstrip("0").rstrip(".")
    return text or "0"


def write_sheet(build: Build) -> str:
    """A whole sheet with a comment on every entry, ready to be edited."""
    document = tomlkit.document()
    document.add(tomlkit.comment("A generator as built. Lengths: “25 mm”, “3/4 in”, “1 1/2 in”."))
    document.add(tomlkit.comment("A bore may be a pipe by name: “1 1/2 in sch 40”, “50x3.7”."))
    document.add("name", tomlkit.string(build.name))
    document.add("notes", tomlkit.string(build.notes))
    for part in PARTS:
        table = tomlkit.table()
        table.comment(_TITLES[part])
        for f in entries(part):
            value = getattr(getattr(build, part), f.name)
            if value is None:
                continue
            item = _toml(value, f.metadata["kind"])
            words = f.metadata["words"]
            note = f.metadata["about"] + (f": {', '.join(words)}" if words and len(words) < 8 else "")
            item.comment(note)
            table.add(f.name, item)
        document.add(tomlkit.nl())
        document.add(part, table)
    return tomlkit.dumps(document)


def _toml(value: Any, kind: str) -> Any:
    if kind == "list":
        return tomlkit.item(list(value))
    if kind in ("count", "share"):
        return tomlkit.item(value)
    return tomlkit.item(value if isinstance(value, str) else write_value(value, kind))


def starting_sheet() -> str:
    """The text of a sheet to start from, with a comment on every entry."""
    return resources.files("frothline.generator").joinpath("templates/starting.toml").read_text("utf-8")


def write_new_sheet(text: str, path: Path) -> Path:
    """Write the text of a sheet as a new file, ``.toml`` where no suffix is given; returns its path.

    Raises InputError if there is such a file, or if it cannot be written.
    """
    path = path if path.suffix else path.with_suffix(".toml")  # the pages look for sheets of that name
    try:
        write_new(path, text.encode("utf-8"))
    except FileExistsError:
        raise InputError("a file with this name exists", where=str(path), remedy="Give another name") from None
    except OSError as error:
        raise InputError(
            f"the sheet cannot be written: {error.strerror or error}", where=str(path), remedy="Check the folder"
        ) from error
    return path


def save_build(build: Build, path: Path) -> Path:
    """Write a build as a new sheet, with the name of the file; returns its path. Raises as ``write_new_sheet``."""
    return write_new_sheet(write_sheet(replace(build, name=path.stem)), path)


def edit_sheet(text: str, changes: Mapping[str, str | int | float | list[str] | None]) -> str:
    """The sheet with some entries changed, comments and order kept; keys are like "outlet.bore", values as written.
    None removes an entry, so that it has its default.

    Raises InputError if the text is not TOML or has an unknown part.
    """
    try:
        document = edit_toml(text, _LARGEST_SHEET)
    except TomlUnreadable as error:
        raise InputError(f"the sheet cannot be read: {error}", remedy="Fix it in a text editor first") from error
    for path, value in changes.items():
        part, _, key = path.partition(".")
        if not key:
            if part not in ("name", "notes"):
                raise InputError(f"unknown entry “{path}”", remedy="Entries are named like outlet.bore")
            document[part] = value
            continue
        if part not in PARTS or key not in {f.name for f in entries(part)}:
            raise InputError(f"unknown entry “{path}”", remedy="Entries are named like outlet.bore")
        if part not in document:
            document.add(part, tomlkit.table())
        table = document[part]
        if value is None:
            if isinstance(table, tomlkit.items.Table) and key in table:
                table.remove(key)
            continue
        old = table.get(key) if isinstance(table, Mapping) else None
        item = tomlkit.item(value)
        if isinstance(old, tomlkit.items.Item) and old.trivia.comment:
            item.comment(old.trivia.comment.lstrip("# "))
        table[key] = item
    return tomlkit.dumps(document)
