"""A pour as people write it down: a TOML file in the folder ``pours`` next to the recordings.

::

    trial = "04-12-long-packing"         # the run that made the foam
    title = "Stepping stones"
    poured = 2025-04-12T15:30:00
    wanted_density = "600 kg/m3"         # cast density of the batch sheet
    wanted_volume = "48 L"

    [masses]                             # really put into the mixer
    cement = "25 kg"
    sand = "0 kg"
    water = "9.4 kg"
    foam = "2.1 kg"                      # or foam_volume = "30 L"

    [slurry]                             # before the foam: density = "1880 kg/m3", or the three weighings of a cup
    container = "1 L"
    empty = "112 g"
    full = "1996 g"

    [cup]                                # with the foam, before the pour: as [slurry]
    density = "652 kg/m3"

    [flow]
    cone_time = "22 s"                   # and spread = "210 mm"

    [temperatures]
    slurry = "19 °C"
    air = "14 °C"

    [cast]
    volume = "41 L"                      # by the mould
    lift = "150 mm"                      # depth of the pour
    sank = "2 mm"                        # after 24 h, at the top; rose = "1 mm" for a rise

    [[specimen]]
    shape = "cube"                       # or "cylinder"
    edge = "100 mm"                      # of a cylinder: diameter and height
    age = "28 d"
    mass = "587 g"                       # when it was crushed
    load = "7.4 kN"                      # greatest load
    dry_mass = "489 g"                   # of this or a like specimen, after drying to constant mass

Units are those of the workshop; a bare number is kg, L, mm, s, d or kN, and g in ``[slurry]``, ``[cup]`` and
``[[specimen]]``. A wrong entry is reported with its place, and only the figures that need it are lost.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.quantities import DECIMAL, decimal, finite, read_quantity, shorten, typed
from frothline.toml_text import TomlUnreadable, read_text, read_toml

FOLDER = "pours"  # of the pours, in the folder of the recordings
DAY = 86400.0
CUBE, CYLINDER = "cube", "cylinder"


@dataclass(frozen=True)
class Masses:
    """What was put into the mixer, kg; ``foam_volume`` m³. NaN where it is not written."""

    cement: float = math.nan
    sand: float = 0.0
    water: float = math.nan
    foam: float = math.nan
    foam_volume: float = math.nan

    @property
    def slurry(self) -> float:
        """Mass before the foam, kg."""
        return self.cement + self.sand + self.water


@dataclass(frozen=True)
class Specimen:
    """A specimen that was crushed or dried. ``age`` s, masses kg, ``load`` N; NaN where it is not written.

    ``sizes`` m : the edges of a cube or block (length, width, height), or diameter and height of a cylinder.
    """

    number: int
    shape: str
    sizes: tuple[float, ...]
    age: float = math.nan
    mass: float = math.nan
    load: float = math.nan
    dry_mass: float = math.nan
    note: str = ""

    @property
    def area(self) -> float:
        """Loaded area, m²."""
        if self.shape == CYLINDER:
            return math.pi / 4 * self.sizes[0] ** 2
        return self.sizes[0] * self.sizes[1]

    @property
    def volume(self) -> float:
        """m³."""
        return self.area * self.sizes[-1]

    @property
    def density(self) -> float:
        """When it was crushed, kg/m³."""
        return self.mass / self.volume

    @property
    def dry_density(self) -> float:
        """After drying, kg/m³."""
        return self.dry_mass / self.volume

    @property
    def strength(self) -> float:
        """Greatest load over the loaded area, Pa."""
        return self.load / self.area


@dataclass(frozen=True)
class PourRecord:
    """A pour as written, SI; NaN or empty where it is not written. ``problems`` has a sentence for each wrong entry.

    ``slurry_density`` and ``cup_density`` kg/m³, as weighed; ``sank`` m in 24 h, below zero for a rise.
    """

    name: str
    path: Path | None = None
    trial: str = ""
    title: str = ""
    poured: datetime | date | None = None
    note: str = ""
    wanted_density: float = math.nan
    wanted_volume: float = math.nan
    masses: Masses = field(default_factory=Masses)
    slurry_density: float = math.nan
    cup_density: float = math.nan
    cone_time: float = math.nan
    spread: float = math.nan
    temperatures: Mapping[str, float] = field(default_factory=dict)
    cast_volume: float = math.nan
    lift: float = math.nan
    sank: float = math.nan
    specimens: tuple[Specimen, ...] = ()
    simulated: bool = False
    problems: tuple[str, ...] = ()


def read_pour(path: Path) -> PourRecord:
    """Read a pour. Raises InputError if the file cannot be read at all; a wrong entry is in ``problems``."""
    try:
        text = read_text(path)
    except (OSError, TomlUnreadable) as error:
        words = getattr(error, "strerror", None) or error
        raise InputError(f"the pour cannot be read: {words}", where=str(path), remedy="Check the file") from error
    return parse_pour(text, path.stem, path)


def parse_pour(text: str, name: str, path: Path | None = None) -> PourRecord:
    """Read the text of a pour. Raises InputError if it is not TOML; a wrong entry is in ``problems``."""
    try:
        document = read_toml(text)
    except TomlUnreadable as error:
        where = str(path or name) if error.line is None else f"{path or name}, line {error.line}"
        raise InputError(f"the pour is not TOML: {error.what}", where=where, remedy="Fix this line") from error
    reader = _Reader(path.name if path else name)
    found = reader.table(document, _TOP, "")
    masses = reader.table(document.get("masses", {}), _MASSES, "masses")
    cast = reader.table(document.get("cast", {}), _CAST, "cast")
    flow = reader.table(document.get("flow", {}), _FLOW, "flow")
    temperatures = reader.table(document.get("temperatures", {}), _TEMPERATURES, "temperatures")
    sank = cast.get("sank", math.nan)
    if "rose" in cast:
        if "sank" in cast:
            reader.problem("“sank” and “rose” are both written", "cast", "Write the one that was seen")
        else:
            sank = -cast["rose"]
    return PourRecord(
        name=name,
        path=path,
        trial=found.get("trial", ""),
        title=found.get("title", "") or name,
        poured=found.get("poured"),
        note=found.get("note", ""),
        wanted_density=found.get("wanted_density", math.nan),
        wanted_volume=found.get("wanted_volume", math.nan),
        masses=Masses(**masses),
        slurry_density=reader.density(document.get("slurry"), "slurry"),
        cup_density=reader.density(document.get("cup"), "cup"),
        cone_time=flow.get("cone_time", math.nan),
        spread=flow.get("spread", math.nan),
        temperatures=temperatures,
        cast_volume=cast.get("volume", math.nan),
        lift=cast.get("lift", math.nan),
        sank=sank,
        specimens=reader.specimens(document.get("specimen", [])),
        simulated=bool(document.get("simulated", False)),
        problems=tuple(reader.problems),
    )


# --- entries ------------------------------------------------------------------------------------------------------

_AGE = re.compile(rf"(?P<value>{DECIMAL}) ?(?P<unit>d|days?|h|hours?|weeks?)?")
_AGES = {"": DAY, "d": DAY, "day": DAY, "days": DAY, "h": 3600.0, "hour": 3600.0, "hours": 3600.0}
_AGES |= {"week": 7 * DAY, "weeks": 7 * DAY}
_SECONDS = re.compile(rf"(?P<value>{DECIMAL}) ?(?P<unit>s|min)?")


def read_age(text: str | float) -> float:
    """An age in s from "28 d", "36 h", "4 weeks" or a bare number of days. Raises ValueError."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        value, unit = finite(text), ""
    else:
        found = _AGE.fullmatch(typed(str(text)))
        if found is None:
            raise ValueError(f"“{shorten(text)}” is not an age; write it like 28 d or 36 h")
        value, unit = decimal(found["value"]), found["unit"] or ""
    if value <= 0.0:
        raise ValueError(f"“{shorten(text)}” must be greater than 0")
    return value * _AGES[unit]


def _seconds(text: str | float) -> float:
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return finite(text)
    found = _SECONDS.fullmatch(typed(str(text)))
    if found is None:
        raise ValueError(f"“{shorten(text)}” is not a time; write it like 22 s")
    return decimal(found["value"]) * (60.0 if found["unit"] == "min" else 1.0)


def _of(kind: str) -> Callable[[Any], float]:
    return lambda raw: read_quantity(raw, kind)


def _above_zero(read: Callable[[Any], float]) -> Callable[[Any], float]:
    def checked(raw: Any) -> float:
        value = read(raw)
        if value <= 0.0:
            raise ValueError(f"“{shorten(raw)}” must be greater than 0")
        return value

    return checked


def _moment(raw: Any) -> datetime | date:
    if isinstance(raw, (datetime, date)):
        return raw
    try:
        return datetime.fromisoformat(str(raw))
    except ValueError:
        raise ValueError(f"“{shorten(raw)}” is not a date; write it like 2025-04-12 or 2025-04-12T15:30:00") from None


_Entries = Mapping[str, Callable[[Any], Any]]
_TOP: _Entries = {
    "trial": str,
    "title": str,
    "poured": _moment,
    "note": str,
    "wanted_density": _above_zero(_of("density")),
    "wanted_volume": _above_zero(_of("concrete")),
}
_MASSES: _Entries = {
    "cement": _above_zero(_of("bag")),
    "sand": _of("bag"),
    "water": _above_zero(_of("bag")),
    "foam": _above_zero(_of("bag")),
    "foam_volume": _above_zero(_of("volume")),
}
_FLOW: _Entries = {"cone_time": _above_zero(_seconds), "spread": _above_zero(_of("length"))}
_TEMPERATURES: _Entries = {one: _of("temperature") for one in ("slurry", "air", "water", "concrete")}
_CAST: _Entries = {
    "volume": _above_zero(_of("concrete")),
    "lift": _above_zero(_of("length")),
    "sank": _of("length"),
    "rose": _of("length"),
}
_WEIGHED: _Entries = {
    "density": _above_zero(_of("density")),
    "container": _above_zero(_of("volume")),
    "empty": _of("mass"),
    "full": _above_zero(_of("mass")),
}
_SPECIMEN: _Entries = {
    "shape": str,
    "edge": _above_zero(_of("length")),
    "length": _above_zero(_of("length")),
    "width": _above_zero(_of("length")),
    "height": _above_zero(_of("length")),
    "diameter": _above_zero(_of("length")),
    "age": read_age,
    "mass": _above_zero(_of("mass")),
    "dry_mass": _above_zero(_of("mass")),
    "load": _above_zero(_of("load")),
    "note": str,
}
_TABLES = ("masses", "slurry", "cup", "flow", "temperatures", "cast", "specimen", "simulated")


class _Reader:
    """Reads the tables of one file and collects what is wrong with it."""

    def __init__(self, file: str) -> None:
        self._file = file
        self.problems: list[str] = []

    def problem(self, what: str, place: str, remedy: str) -> None:
        self.problems.append(str(InputError(what, where=f"{self._file}: {place}", remedy=remedy)))

    def table(self, raw: Any, entries: _Entries, place: str) -> dict[str, Any]:
        """The entries of a table that can be read."""
        if not isinstance(raw, Mapping):
            self.problem(f"“{place}” is not a table", place, f"Write the entries below [{place}]")
            return {}
        found: dict[str, Any] = {}
        for key, value in raw.items():
            at = f"{place}: {key}" if place else key
            if key not in entries:
                if place or key not in _TABLES:
                    near = get_close_matches(key, [*entries, *(() if place else _TABLES)], n=1)
                    remedy = f"Did you mean “{near[0]}”?" if near else f"Known: {', '.join(entries)}"
                    self.problem(f"“{shorten(key)}” is not known here", at, remedy)
                continue
            try:
                found[key] = entries[key](value)
            except (ValueError, TypeError, KeyError) as error:
                self.problem(str(error), at, "Fix this entry")
        return found

    def density(self, raw: Any, place: str) -> float:
        """Density of a weighed container, kg/m³; NaN without one or with a wrong one."""
        if raw is None or raw == {}:
            return math.nan
        count = len(self.problems)
        found = self.table(raw, _WEIGHED, place)
        if len(self.problems) > count:
            return math.nan
        if "density" in found:
            return float(found["density"])
        missing = [key for key in ("container", "empty", "full") if key not in found]
        if missing:
            words = " and ".join(f"“{key}”" for key in missing)
            self.problem(f"{words} missing", place, "Write density, or container, empty and full")
            return math.nan
        if found["full"] <= found["empty"]:
            self.problem("the full container is not heavier than the empty one", place, "Check the two weighings")
            return math.nan
        return float((found["full"] - found["empty"]) / found["container"])

    def specimens(self, raw: Any) -> tuple[Specimen, ...]:
        tables = raw if isinstance(raw, list) else [raw]
        return tuple(one for number, table in enumerate(tables, 1) if (one := self._specimen(table, number)))

    def _specimen(self, raw: Any, number: int) -> Specimen | None:
        place = f"specimen {number}"
        count = len(self.problems)
        found = self.table(raw, _SPECIMEN, place)
        if len(self.problems) > count:
            return None
        shape = found.get("shape") or (CYLINDER if "diameter" in found else CUBE)
        if shape not in (CUBE, CYLINDER):
            self.problem(f"“{shorten(shape)}” is not a known shape", place, f"Write {CUBE} or {CYLINDER}")
            return None
        sizes = _sizes(shape, found)
        if sizes is None:
            needed = "diameter and height" if shape == CYLINDER else "edge, or length, width and height"
            self.problem(f"the size of the {shape} is missing", place, f"Write {needed}")
            return None
        if "load" in found and "age" not in found:
            self.problem(
                "the age is missing: a strength without an age cannot be compared", place, "Write age, like 28 d"
            )
            return None
        values = {key: found[key] for key in ("age", "mass", "load", "dry_mass", "note") if key in found}
        return Specimen(number, shape, sizes, **values)


def _sizes(shape: str, found: Mapping[str, Any]) -> tuple[float, ...] | None:
    if shape == CUBE and "edge" in found:
        return (found["edge"],) * 3
    keys = ("diameter", "height") if shape == CYLINDER else ("length", "width", "height")
    return tuple(found[key] for key in keys) if all(key in found for key in keys) else None
