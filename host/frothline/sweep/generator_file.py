"""A measured generator as one file that can be passed on (TOML): its build sheet, its points and its fitted factors.

The file is taken wherever a build sheet is (its sheet), and wherever a sweep through a generator is (its points). Its
limits are those of a source's file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, log
from pathlib import Path
from typing import Any

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError, InputError
from frothline.generator.build import Build
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import parse_sheet, write_sheet
from frothline.preferences import builder_name
from frothline.sweep.source_file import (
    AGAIN,
    FORMAT,
    SCHEMA,
    number_of,
    parse_library,
    parse_points,
    point_rows,
    short,
    text_of,
    texts_of,
    write_library,
)
from frothline.toml_text import TomlUnreadable, read_text

GENERATORS = "generators"  # folder of the files inside the folder of the recordings
BUILDS = "builds"  # folder of the build sheets there, where files of other builders may lie too
LONGEST_SHEET = 20_000  # characters
MOST_FACTORS = 40


@dataclass(frozen=True)
class GeneratorFile:
    """The content of a file.

    sheet : text of the build sheet
    dry, wet : steady points of sweeps through it
    factors : by element, the natural logarithm of the factor on the model and its standard uncertainty
    builder : name of who built it, "" where it is not said
    """

    name: str
    sheet: str
    dry: tuple[SteadyPoint, ...] = ()
    wet: tuple[SteadyPoint, ...] = ()
    factors: tuple[tuple[str, float, float], ...] = ()
    origin: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    builder: str = ""

    @property
    def build(self) -> Build | None:
        """The generator of the sheet; None while the sheet has a wrong entry."""
        return parse_sheet(self.sheet, self.name).build


def generator_of(
    build: Build,
    dry: Sequence[SteadyPoint] = (),
    wet: Sequence[SteadyPoint] = (),
    *,
    name: str = "",
    origin: Sequence[str] = (),
    builder: str | None = None,
) -> GeneratorFile:
    """The file of a build and its measured points, with the factors that are fitted to them.

    ``builder`` : name of who built it; None for the one in the preferences
    Raises InputError without points: a build alone is its sheet.
    """
    if not dry and not wet:
        raise InputError(
            "no sweep through the generator is given", where="generator", remedy="Give --wet or --dry-sweep"
        )
    points = [tuple(replace(one, source=0, notes=()) for one in some) for some in (dry, wet)]
    factors: list[tuple[str, float, float]] = []
    try:
        found = fit_to_sweeps(PressureModel(build, OperatingConditions.of(build)), *points)
        factors = [(one.key, *_log(one.factor.value, one.factor.standard_uncertainty)) for one in found.parameters]
    except FrothlineError:
        pass  # the points are kept; factors follow from them
    kept = tuple(one for one in factors if isfinite(one[1]) and isfinite(one[2]))
    made_by = builder_name() if builder is None else builder
    return GeneratorFile(
        name or build.name, write_sheet(build), points[0], points[1], kept, tuple(origin), builder=made_by
    )


def _log(value: float, u: float) -> tuple[float, float]:
    return (log(value), u / value) if value > 0 else (float("nan"), float("nan"))


def write_generator(path: str | Path, generator: GeneratorFile) -> Path:
    """Write a file in one step. Raises InputError for a name without .toml, NoSpace or RecordingUnwritable."""
    return write_library(path, generator_text(generator), "generator")


def generator_text(generator: GeneratorFile) -> str:
    """The file's text."""
    import tomlkit  # noqa: PLC0415  only when a file is written

    document = tomlkit.document()
    document.add(tomlkit.comment("A measured generator, to be passed on. SI units; see frothline library --help."))
    head: dict[str, Any] = {"format": FORMAT, "schema": SCHEMA, "kind": "generator", "name": short(generator.name)}
    head |= {"origin": [short(one) for one in generator.origin], "notes": [short(one) for one in generator.notes]}
    if generator.builder:
        head["builder"] = short(generator.builder)
    for key, value in head.items():
        document.add(key, value)
    document.add("sheet", tomlkit.string(generator.sheet, multiline=True))
    factors = tomlkit.table()
    for key, value, u in generator.factors:
        factors.add(short(key), [value, u])
    document.add("factors", factors)
    for state in ("dry", "wet"):
        if points := getattr(generator, state):
            document.add(state, point_rows(points))
    return tomlkit.dumps(document)


def read_generator(path: str | Path) -> GeneratorFile:
    """Read a file. Raises InputError with the entry that is wrong."""
    path = Path(path)
    try:
        return parse_generator(read_text(path), str(path))
    except TomlUnreadable as error:
        raise InputError(str(error), where=str(path), remedy=AGAIN) from error
    except OSError as error:
        raise InputError(f"it cannot be read: {error.strerror or error}", where=str(path)) from error


def parse_generator(text: str, where: str) -> GeneratorFile:
    """The content of a text. Raises InputError with the entry that is wrong."""
    document = parse_library(text, where, "generator")
    sheet = document.get("sheet")
    if not isinstance(sheet, str) or len(sheet) > LONGEST_SHEET:
        raise InputError(f"“sheet” is not a text of at most {LONGEST_SHEET} characters", where=where)
    given = document.get("factors", {})
    if not isinstance(given, Mapping) or len(given) > MOST_FACTORS:
        raise InputError(f"“factors” is not a table of at most {MOST_FACTORS} entries", where=where)
    factors: list[tuple[str, float, float]] = []
    for key, pair in given.items():
        if not isinstance(pair, list) or len(pair) != 2:
            raise InputError(f"factors: “{short(key)}” has 2 numbers", where=where)
        value, u = (number_of({key: one}, key, f"{where}: factors") for one in pair)
        factors.append((short(key), value, u))
    return GeneratorFile(
        text_of(document, "name", where),
        sheet,
        parse_points(document, "dry", where, fewest=0),
        parse_points(document, "wet", where, fewest=0),
        tuple(factors),
        texts_of(document, "origin", where),
        texts_of(document, "notes", where),
        text_of(document, "builder", where),
    )
