"""A measured air source as one file that can be passed on (TOML): its points with their errors, and its figures.

The points have the random part of their uncertainty and their common errors by name, so that the curve fitted to them
is the one fitted to the recordings. The figures are those of that curve; a library of many files is searched and pooled
by them, without a fit.

A file comes from somebody else: its size, its number of points and its texts are limited, its numbers are checked, and
no text of it is used as a path.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, nan
from pathlib import Path
from typing import Any

import numpy as np

from frothline.atomic_file import write_atomically
from frothline.curve.blower import BlowerFit
from frothline.curve.source_entries import MOTORS
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import InputError
from frothline.generator.room_air import NAMES, RoomAir
from frothline.rounding import counted
from frothline.sweep.point_table import is_point_table
from frothline.toml_text import LIBRARY, TomlUnreadable, read_text, read_toml

FORMAT = LIBRARY
HEAD = 2048  # bytes in which a file says what it is
SCHEMA = 1
SUFFIX = ".toml"
AGAIN = "Get the file again from its builder"
MOST_POINTS = 500
MOST_COMMON = 60  # common errors of a point
LONGEST = 200  # characters of a text
SHAPE = (0.0, 0.25, 0.5, 0.75)  # of free delivery: flows at which the shape of a curve is stored
_NUMBERS = (
    "start",
    "end",
    "pressure",
    "u_pressure",
    "flow",
    "u_flow",
    "covariance",
    "mass_flow",
    "line_temperature",
    "ambient_density",
    "u_ambient_density",
    "n_effective",
)
_KNOWN = ("pressure", "u_pressure", "flow", "u_flow", "covariance")  # must be finite
_LIMITS = {"pressure": 2e6, "flow": 20.0}  # Pa, m³/s: beyond it is no source for a generator


@dataclass(frozen=True)
class SourceFigures:
    """Figures of a source's curve for a search and for pooling, SI.

    shut_off, free_delivery : value and standard uncertainty
    shape : pressures at SHAPE of free delivery, as shares of the shut-off pressure
    """

    shut_off: tuple[float, float]
    free_delivery: tuple[float, float]
    shape: tuple[float, ...]

    @classmethod
    def of(cls, fit: BlowerFit) -> SourceFigures | PumpFigures | None:
        """Of a fitted curve, those of a pump for a pump's; None where shut-off pressure or free delivery is unknown."""
        if fit.flow_curve is not None:
            return PumpFigures.of(fit)
        top, free = fit.shut_off, fit.free_delivery
        if not (top.known and free.known and top.value > 0 and free.value > 0):
            return None
        shape = tuple(fit.pressure_at(share * free.value) / top.value for share in SHAPE)
        u = [one.standard_uncertainty for one in (top, free)]
        if not all(isfinite(one) for one in (*u, *shape)):
            return None
        return cls((top.value, u[0]), (free.value, u[1]), shape)


@dataclass(frozen=True)
class PumpFigures:
    """Figures of a positive-displacement source, SI: its flow at a pressure p is free_delivery (1 - leakage p).

    free_delivery : m³/s, value and standard uncertainty;  leakage : 1/Pa, the same
    highest : Pa, up to which it was measured, and below its relief valve
    """

    free_delivery: tuple[float, float]
    leakage: tuple[float, float]
    highest: float

    @classmethod
    def of(cls, fit: BlowerFit) -> PumpFigures | None:
        """Of a fitted curve; None for a source that is no pump, or with an unknown uncertainty."""
        if fit.flow_curve is None:
            return None
        free, slope = (float(one) for one in fit.flow_curve.coefficients[:2])
        turn = np.array([[1.0, 0.0], [slope / free**2, -1.0 / free]])  # of flow and leakage by the line's coefficients
        u_free, u_leak = np.sqrt(np.diag(turn @ fit.flow_curve.covariance[:2, :2] @ turn.T))
        highest = min(float(fit.pressure_range[1]), fit.relief_from)
        found = cls((free, float(u_free)), (-slope / free, float(u_leak)), highest)
        return found if all(map(isfinite, (*found.free_delivery, *found.leakage, highest))) and highest > 0 else None


@dataclass(frozen=True)
class SourceFile:
    """The content of a file.

    group : kind of the source in the builder's words, like "workshop vacuum"; sources of one group are pooled
    calibrated : how the sensors were calibrated;  origin : recordings or tables that the points are from
    motor : speed control, "series" or "constant speed"
    measured : False for a source that nobody measured, whose points are those of a pooled prior
    builder : name of who measured it, "" where it is not said
    """

    name: str
    group: str
    points: tuple[SteadyPoint, ...]
    air: RoomAir
    figures: SourceFigures | PumpFigures | None = None
    calibrated: str = ""
    origin: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    motor: str = "series"
    measured: bool = True
    builder: str = ""


def holds_points(path: str | Path) -> bool:
    """Whether a path, by its name, is a table of points or a source's file, and not a recording."""
    return is_point_table(path) or Path(path).suffix.casefold() == SUFFIX


def write_source(path: str | Path, source: SourceFile) -> Path:
    """Write a file in one step. Raises InputError for a name without .toml, NoSpace or RecordingUnwritable."""
    return write_library(path, source_text(source), "source")


def write_library(path: str | Path, text: str, what: str) -> Path:
    """Write the text of a file that is passed on in one step; ``what`` it holds, "source" or "generator".

    Raises InputError for a name without .toml, NoSpace or RecordingUnwritable.
    """
    path = Path(path)
    if path.suffix.casefold() != SUFFIX:
        raise InputError(f"the file of a {what} ends in .toml", where=str(path), remedy=f"Name it {path.stem}.toml")
    return write_atomically(path, lambda file: file.write(text.encode()))


def source_text(source: SourceFile) -> str:
    """The file's text."""
    import tomlkit  # noqa: PLC0415  only when a file is written

    document = tomlkit.document()
    document.add(tomlkit.comment("A measured air source, to be passed on. SI units; see frothline library --help."))
    head: dict[str, Any] = {
        "format": FORMAT,
        "schema": SCHEMA,
        "kind": "source",
        "name": short(source.name),
        "group": short(source.group),
        "measured": source.measured,
        "motor": source.motor,
        "calibrated": short(source.calibrated),
        "origin": [short(one) for one in source.origin],
        "notes": [short(one) for one in source.notes],
    }
    if source.builder:
        head["builder"] = short(source.builder)
    for key, value in head.items():
        document.add(key, value)
    air: dict[str, Any] = {name: value for name in NAMES if (value := getattr(source.air, name)) is not None}
    if air:
        air["origin"] = short(source.air.origin)
        air |= {"assumed": list(source.air.assumed)} if source.air.assumed else {}
        document.add("air", air)
    known = source.figures
    if isinstance(known, PumpFigures):
        document.add(
            "pump",
            {
                "free_delivery": list(known.free_delivery),
                "leakage": list(known.leakage),
                "highest": [known.highest],
            },
        )
    elif known is not None:
        document.add(
            "figures",
            {"shut_off": list(known.shut_off), "free_delivery": list(known.free_delivery), "shape": list(known.shape)},
        )
    document.add("points", point_rows(source.points))
    return tomlkit.dumps(document)


def point_rows(points: Sequence[SteadyPoint]) -> Any:
    """Points as an array of tables."""
    import tomlkit  # noqa: PLC0415  only when a file is written

    rows = tomlkit.aot()
    for point in points:
        row = tomlkit.table()
        for name in _NUMBERS:
            row.add(name, float(getattr(point, name)))
        row.add("n", int(point.n))
        errors = tomlkit.array()
        for part in point.common:
            item = tomlkit.inline_table()
            item.update({"name": short(part.name), "on_pressure": part.on_pressure, "on_flow": part.on_flow})
            errors.append(item)
        row.add("common", errors)
        rows.append(row)
    return rows


def read_source(path: str | Path) -> SourceFile:
    """Read a file. Raises InputError with the entry that is wrong."""
    path = Path(path)
    try:
        return parse_source(read_text(path), str(path))
    except TomlUnreadable as error:
        raise InputError(str(error), where=str(path), remedy=AGAIN) from error
    except OSError as error:
        raise InputError(f"it cannot be read: {error.strerror or error}", where=str(path)) from error


def parse_source(text: str, where: str) -> SourceFile:
    """The content of a text. Raises InputError with the entry that is wrong."""
    document = parse_library(text, where, "source")
    return SourceFile(
        text_of(document, "name", where),
        text_of(document, "group", where),
        parse_points(document, "points", where),
        _air(document.get("air", {}), where),
        _pump(document.get("pump"), where) or _figures(document.get("figures"), where),
        text_of(document, "calibrated", where),
        texts_of(document, "origin", where),
        texts_of(document, "notes", where),
        next((one for one in MOTORS if one == document.get("motor")), "series"),
        document.get("measured", True) is True,
        text_of(document, "builder", where),
    )


def is_library_file(path: Path, kind: str) -> bool:
    """Whether a file says in its head that it is one of a kind, "source" or "generator". Raises OSError."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        head = file.read(HEAD)
    return FORMAT.encode() in head and f'kind = "{kind}"'.encode() in head


def parse_library(text: str, where: str, kind: str) -> dict[str, Any]:
    """The entries of a file of a kind, "source" or "generator". Raises InputError for another file."""
    try:
        document = read_toml(text)
    except TomlUnreadable as error:
        raise InputError(str(error), where=where, remedy=AGAIN) from error
    if document.get("format") != FORMAT:
        raise InputError(
            f"this is not the file of a measured {kind}",
            where=where,
            remedy="Give a recording, or a file that `frothline library` wrote",
        )
    schema = document.get("schema")
    if not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
        raise InputError("its schema is not a number", where=where)
    if schema > SCHEMA:
        raise InputError(f"it was written by a later version (schema {schema})", where=where, remedy="Update Frothline")
    if document.get("kind") != kind:
        raise InputError(
            f"this file is for “{text_of(document, 'kind', where)}”, but is used for “{kind}”", where=where
        )
    return document


def parse_points(document: Mapping[str, Any], key: str, where: str, *, fewest: int = 1) -> tuple[SteadyPoint, ...]:
    """The points of a file. Raises InputError with the point that is wrong."""
    rows = document.get(key, [])
    if not isinstance(rows, list) or not fewest <= len(rows) <= MOST_POINTS:
        raise InputError(f"it needs {fewest} to {MOST_POINTS} points", where=where)
    return tuple(_point(row, f"{where}: point {number}") for number, row in enumerate(rows, 1))


def _point(row: Any, where: str) -> SteadyPoint:
    if not isinstance(row, Mapping):
        raise InputError("it is not a table", where=where)
    numbers = {name: number_of(row, name, where, nan if name not in _KNOWN else None) for name in _NUMBERS}
    for name, most in _LIMITS.items():
        if abs(numbers[name]) > most:
            raise InputError(f"{name} {numbers[name]:.3g} is beyond {most:.3g} (SI)", where=where)
    if numbers["pressure"] < -max(4 * numbers["u_pressure"], 100.0):  # Pa, as the zero of a sensor may show; judgement
        raise InputError(f"pressure {numbers['pressure']:.3g} is below 0 Pa", where=where)
    if numbers["u_pressure"] < 0 or numbers["u_flow"] < 0:
        raise InputError("an uncertainty is below 0", where=where)
    errors = row.get("common", [])
    if not isinstance(errors, list) or len(errors) > MOST_COMMON:
        raise InputError(f"it has more than {MOST_COMMON} common errors", where=where)
    common = []
    for one in errors:
        if not isinstance(one, Mapping):
            raise InputError("a common error is not a table", where=where)
        sizes = (number_of(one, name, where) for name in ("on_pressure", "on_flow"))
        common.append(CommonError(text_of(one, "name", where), *sizes))
    count = row.get("n", 1)
    if not isinstance(count, int) or isinstance(count, bool) or not 0 < count < 10**9:
        raise InputError("n is not a number of readings", where=where)
    return replace(SteadyPoint(nan, nan, nan, nan, nan, nan), **numbers, n=count, common=tuple(common))  # type: ignore[arg-type]


def number_of(row: Mapping[str, Any], name: str, where: str, default: float | None = None) -> float:
    value = row.get(name, default)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"“{name}” is not a number", where=where)
    try:
        number = float(value)
    except OverflowError:
        number = nan
    if default is None and not isfinite(number):
        raise InputError(f"“{name}” is not a finite number", where=where)
    return number


def text_of(row: Mapping[str, Any], name: str, where: str) -> str:
    value = row.get(name, "")
    if not isinstance(value, str):
        raise InputError(f"“{name}” is not a text", where=where)
    return short(value)


def texts_of(row: Mapping[str, Any], name: str, where: str) -> tuple[str, ...]:
    value = row.get(name, [])
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise InputError(f"“{name}” is not a list of texts", where=where)
    return tuple(map(short, value[:50]))


def _air(given: Any, where: str) -> RoomAir:
    if not isinstance(given, Mapping):
        raise InputError("“air” is not a table", where=where)
    known = {name: number_of(given, name, f"{where}: air") for name in NAMES if name in given}
    assumed = tuple(one for one in texts_of(given, "assumed", where) if one in known)
    return RoomAir(**known, origin=text_of(given, "origin", where) if known else "", assumed=assumed)


def _figures(given: Any, where: str) -> SourceFigures | None:
    if given is None:
        return None
    if not isinstance(given, Mapping):
        raise InputError("“figures” is not a table", where=where)
    lists = _lists(given, {"shut_off": 2, "free_delivery": 2, "shape": len(SHAPE)}, "figures", where)
    found = SourceFigures(*lists.values())  # type: ignore[arg-type]
    if not (found.shut_off[0] > 0 and found.free_delivery[0] > 0 and found.shut_off[1] >= 0 <= found.free_delivery[1]):
        raise InputError("figures: a value is not above 0", where=where)
    return found


def _pump(given: Any, where: str) -> PumpFigures | None:
    if given is None:
        return None
    if not isinstance(given, Mapping):
        raise InputError("“pump” is not a table", where=where)
    lists = _lists(given, {"free_delivery": 2, "leakage": 2, "highest": 1}, "pump", where)
    found = PumpFigures(lists["free_delivery"], lists["leakage"], lists["highest"][0])  # type: ignore[arg-type]
    if not (found.free_delivery[0] > 0 and found.highest > 0 and found.free_delivery[1] >= 0 <= found.leakage[1]):
        raise InputError("pump: a value is not above 0", where=where)
    if found.leakage[0] * found.highest >= 1:
        raise InputError("pump: it leaks more than it moves", where=where)
    return found


def _lists(given: Mapping[str, Any], sizes: Mapping[str, int], table: str, where: str) -> dict[str, tuple[float, ...]]:
    """Lists of numbers of stated length. Raises InputError with the one that is wrong."""
    found = {}
    for name, size in sizes.items():
        values = given.get(name)
        if not isinstance(values, list) or len(values) != size:
            raise InputError(f"{table}: “{name}” has {counted(size, 'number')}", where=where)
        found[name] = tuple(number_of({name: one}, name, f"{where}: {table}") for one in values)
    return found


def short(text: str) -> str:
    """A text as one line of limited length."""
    return " ".join(text.split())[:LONGEST]


def source_points(path: Path, number: int) -> tuple[tuple[SteadyPoint, ...], tuple[str, ...], RoomAir]:
    """Points of a file for a fit, with its notes and air. Raises InputError."""
    source = read_source(path)
    what = "points of" if source.measured else "not measured: the prior of"
    said = [f"{what} “{source.name}” ({source.group or 'no group'}), {path.name}"]
    points = tuple(replace(one, source=number) for one in source.points)
    return points, (*said, *source.notes), source.air
