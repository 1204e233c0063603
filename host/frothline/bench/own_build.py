"""A build sheet of one's own from the file of a measured generator that another builder passed on.

The sheet is a new file; the received one stays as it is. Points and fitted factors are not taken over: they are of the
other builder's generator, and a copy has hose, packing and holes of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from frothline.atomic_file import write_new
from frothline.errors import InputError
from frothline.generator.build import PARTS, entries
from frothline.generator.sheet import Problem, edit_sheet, parse_sheet
from frothline.pours.file_change import table_lines, with_entries
from frothline.presentable import Observations, Presentable
from frothline.recording.sidecar import clean_name
from frothline.rounding import counted
from frothline.sweep.generator_file import BUILDS, GENERATORS, GeneratorFile, read_generator
from frothline.toml_text import TomlUnreadable, read_toml
from frothline.trials.inside_folder import leads_out, refuse_outside

SHEETS = BUILDS
MOST_NAMES = 1000


@dataclass(frozen=True, repr=False)
class OwnBuild(Presentable):
    """A new sheet. ``left_out`` : what is not taken over; ``to_correct`` : problems that are left in the sheet."""

    path: Path
    name: str
    left_out: tuple[str, ...]
    to_correct: tuple[Problem, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """What was done, and what is left to do, a sentence each."""
        wrong = (f"To correct in the sheet: {one.what}. {one.remedy}" for one in self.to_correct)
        return (self._title(), *self.left_out, *wrong)

    def _title(self) -> str:
        return f"{self.path.name} is a build of yours; its notes say where it comes from"

    def _words(self) -> Sequence[str]:
        return self.words[1:]

    def _observations(self) -> Observations:
        rows = [{"left": "not taken over", "what": one} for one in self.left_out]
        rows += [{"left": "to correct", "what": f"{one.path}: {one.what}"} for one in self.to_correct]
        return Observations(tuple(rows), {"left": "", "what": ""})


def own_build(received: Path, to: Path, name: str = "", *, day: date | None = None) -> OwnBuild:
    """Write the sheet of a received generator as a new sheet ``to``.

    name : of the build; otherwise that of the received one where the file is named so, or the file's
    day : of the note on the origin, otherwise today

    Raises InputError if ``received`` is not such a file or its sheet is not TOML, and if ``to`` exists.
    """
    generator = read_generator(received)
    text, left_out = _known_entries(generator.sheet, received)
    given = _entry(text, "name") or generator.name
    chosen = name.strip() or (given if clean_name(given) == to.stem else to.stem)
    notes = ". ".join(filter(None, (_entry(text, "notes").rstrip(". "), _origin(generator, received, day))))
    text = edit_sheet(text, {"name": chosen, "notes": notes})
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
        write_new(to, text.encode())
    except FileExistsError:
        raise InputError("there is a build of this name", where=str(to), remedy="Give another name") from None
    except OSError as error:
        raise InputError(
            f"it could not be written: {error.strerror or error}", where=str(to), remedy="Check the folder"
        ) from error
    wrong = tuple(one for one in parse_sheet(text, to.name).problems if one.fatal)
    return OwnBuild(to, chosen, (*left_out, *_measured(generator)), wrong)


def own_build_in(folder: Path, received: str, name: str = "", *, day: date | None = None) -> OwnBuild:
    """Write the sheet of a received generator into ``builds`` of a folder of recordings.

    received : its file, like "builds/tall.toml" or "generators/tall.toml"
    name : of the build; without one, that of the received build, with a number where there is such a file

    Raises InputError, see ``own_build``.
    """
    place, _, file = received.partition("/")
    path = folder / place / file
    if place not in (SHEETS, GENERATORS) or not file or Path(file).name != file or not path.is_file():
        raise InputError(
            f"no received generator “{received[:60]}”", where=str(folder), remedy="Choose it again in the list"
        )
    refuse_outside(folder, path, file)
    sheets = folder / SHEETS
    if leads_out(folder, sheets):
        raise InputError(
            "the folder of the sheets is a link to another place",
            where=str(sheets),
            remedy="Replace the link by a folder",
        )
    if name.strip():
        if not clean_name(name):
            raise InputError(f"“{name[:40]}” cannot be a name", where="name of the build", remedy="Use letters")
        return own_build(path, sheets / f"{clean_name(name)}.toml", name, day=day)
    generator = read_generator(path)
    plain = _entry(generator.sheet, "name") or generator.name or "build"
    for number in range(1, MOST_NAMES):
        chosen = plain if number == 1 else f"{plain} {number}"
        to = sheets / f"{clean_name(chosen) or f'build-{number}'}.toml"
        if not to.exists():
            return own_build(path, to, chosen, day=day)
    raise InputError("there are a thousand builds of this name", where=str(sheets), remedy="Give another name")


def _known_entries(text: str, received: Path) -> tuple[str, list[str]]:
    """The sheet with unknown entries as comments, and a sentence that names them. Raises InputError."""
    document = _read(text, received)
    known: dict[str, set[str]] = {part: {one.name for one in entries(part)} for part in PARTS}
    unknown: list[str] = []
    for table, values in document.items():
        if table not in known and table not in ("name", "notes"):
            unknown.append(table)
            text = _table_out(text, table) if isinstance(values, dict) else with_entries(text, "", 1, {table: ""})
        elif table in known and isinstance(values, dict):
            odd = [key for key in values if key not in known[table]]
            unknown += [f"{table}.{key}" for key in odd]
            text = with_entries(text, table, 1, dict.fromkeys(odd, "")) if odd else text
    if not unknown:
        return text, []
    _read(text, received)
    form = "comments" if len(unknown) > 1 else "a comment"
    return text, [f"{', '.join(unknown)}: not known to this version; in the new sheet as {form}"]


def _read(text: str, received: Path) -> dict[str, object]:
    try:
        return read_toml(text)
    except TomlUnreadable as error:
        raise InputError(
            f"the build sheet in this file cannot be read: {error}",
            where=str(received),
            remedy="Ask its builder for the file again, or fix the entry “sheet”",
        ) from error


def _table_out(text: str, table: str) -> str:
    lines, begin, end = table_lines(text, table, 1)
    for k in range(begin, end):
        if lines[k].strip() and not lines[k].lstrip().startswith("#"):
            lines[k] = f"# {lines[k]}"
    return "".join(lines)


def _entry(text: str, key: str) -> str:
    found = read_toml(text).get(key, "")
    return found if isinstance(found, str) else ""


def _origin(generator: GeneratorFile, received: Path, day: date | None) -> str:
    """The note on where the sheet comes from."""
    said = f"Taken over on {(day or date.today()).isoformat()} from “{generator.name}”, file {received.name}"  # noqa: DTZ011  a day, as people write it
    for label, texts in (("measured by", generator.origin), ("its notes", generator.notes)):
        said += f"; {label}: {', '.join(texts)}" if texts else ""
    return said


def _measured(generator: GeneratorFile) -> Sequence[str]:
    """What is measured on the other builder's generator, and stays with it."""
    points = [counted(len(one), f"{kind} point") for kind in ("dry", "wet") if (one := getattr(generator, kind))]
    said = " and ".join(points)
    if generator.factors:
        said += f"{' with ' if said else ''}{counted(len(generator.factors), 'fitted factor')}"
    if not said:
        return ()
    return (f"Not taken over: {said}, which are of the other builder's generator. Sweep yours",)
