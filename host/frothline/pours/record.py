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
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.pours.entries import (
    CONE,
    CRUSHED,
    DENSITY,
    FRESH,
    LENGTH,
    LIFT,
    MASS,
    OUTSIDE,
    SMALL_MASS,
    SPREAD,
    TARGET,
    VOLUME,
    as_written,
    crushed_too_early,
    read_age,
    read_moment,
    read_seconds,
    reader_of,
    wrong_at,
)
from frothline.quantities import shorten, within
from frothline.toml_text import TomlUnreadable, read_text, read_toml

FOLDER = "pours"  # of the pours, in the folder of the recordings
CUBE, CYLINDER = "cube", "cylinder"
MOST_APART = 0.02  # of a written density from that of the weighings next to it: rounding, no more


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

    ``slurry_density`` and ``cup_density`` kg/m³, as weighed; ``sank`` m in 24 h, below zero for a rise; ``written`` has
    each known entry as it is in the file, readable or not, by path like "masses.cement", without specimens.
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
    written: Mapping[str, str | float] = field(default_factory=dict, compare=False)


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
    cast = reader.table(document.get("cast", {}), CAST, "cast")
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
        specimens=reader.specimens(document.get("specimen", []), found.get("poured")),
        simulated=bool(document.get("simulated", False)),
        problems=tuple(reader.problems),
        written=as_written(document, _READERS),
    )


def wrong_pour_entry(path: str, text: str) -> str:
    """What is wrong with an entry, by its path like "masses.cement"; empty if it can be read."""
    return wrong_at(_READERS, path, text)


# --- entries ------------------------------------------------------------------------------------------------------

_Entries = Mapping[str, Callable[[Any], Any]]
_TOP: _Entries = {
    "trial": str,
    "title": str,
    "poured": read_moment,
    "note": str,
    "wanted_density": within(reader_of("density"), *TARGET),
    "wanted_volume": within(reader_of("concrete"), *VOLUME),
}
_MASSES: _Entries = {
    "cement": within(reader_of("bag"), *MASS),
    "sand": within(reader_of("bag"), 0.0, 1e5),
    "water": within(reader_of("bag"), *MASS),
    "foam": within(reader_of("bag"), *MASS),
    "foam_volume": within(reader_of("volume"), *VOLUME),
}
_FLOW: _Entries = {"cone_time": within(read_seconds, *CONE), "spread": within(reader_of("length"), *SPREAD)}
_TEMPERATURES: _Entries = {
    one: within(reader_of("temperature"), *(OUTSIDE if one == "air" else FRESH))
    for one in ("slurry", "air", "water", "concrete")
}
CAST: _Entries = {
    "volume": within(reader_of("concrete"), *VOLUME),
    "lift": within(reader_of("length"), *LIFT),
    "sank": within(reader_of("length"), 0.0, 10.0),
    "rose": within(reader_of("length"), 0.0, 10.0),
}
_WEIGHED: _Entries = {
    "density": within(reader_of("density"), *DENSITY),
    "container": within(reader_of("volume"), *VOLUME),
    "empty": within(reader_of("mass"), 0.0, 1e3),
    "full": within(reader_of("mass"), *SMALL_MASS),
}
SPECIMEN: _Entries = {
    "shape": str,
    "edge": within(reader_of("length"), *LENGTH),
    "length": within(reader_of("length"), *LENGTH),
    "width": within(reader_of("length"), *LENGTH),
    "height": within(reader_of("length"), *LENGTH),
    "diameter": within(reader_of("length"), *LENGTH),
    "age": within(read_age, *CRUSHED),
    "mass": within(reader_of("mass"), *SMALL_MASS),
    "dry_mass": within(reader_of("mass"), *SMALL_MASS),
    "load": within(reader_of("load"), 1.0, 1e7),
    "note": str,
}
_READERS: Mapping[str, _Entries] = {
    "": _TOP,
    "masses": _MASSES,
    "slurry": _WEIGHED,
    "cup": _WEIGHED,
    "flow": _FLOW,
    "temperatures": _TEMPERATURES,
    "cast": CAST,
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
        weighed = _weighed(found)
        if "density" in found:
            density = float(found["density"])
            if math.isfinite(weighed) and abs(weighed / density - 1.0) > MOST_APART:
                said = f"the density is written as {density:.0f} kg/m³, and the weighings give {weighed:.0f} kg/m³"
                self.problem(said, place, "Correct one of them, or take one out")
                return math.nan
            return density
        missing = [key for key in ("container", "empty", "full") if key not in found]
        if missing:
            words = " and ".join(f"“{key}”" for key in missing)
            self.problem(f"{words} missing", place, "Write density, or container, empty and full")
            return math.nan
        if found["full"] <= found["empty"]:
            self.problem("the full container is not heavier than the empty one", place, "Check the two weighings")
            return math.nan
        return weighed

    def specimens(self, raw: Any, poured: datetime | date | None) -> tuple[Specimen, ...]:
        tables = raw if isinstance(raw, list) else [raw]
        found = tuple(one for number, table in enumerate(tables, 1) if (one := self._specimen(table, number)))
        for one in found:
            if early := crushed_too_early(poured, one.age, tables[one.number - 1].get("age")):
                self.problem(early, f"specimen {one.number}", "")
        return found

    def _specimen(self, raw: Any, number: int) -> Specimen | None:
        place = f"specimen {number}"
        count = len(self.problems)
        found = self.table(raw, SPECIMEN, place)
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


def _weighed(found: Mapping[str, Any]) -> float:
    """Density of a container by its three weighings, kg/m³; NaN without all of them."""
    if any(key not in found for key in ("container", "empty", "full")):
        return math.nan
    return float((found["full"] - found["empty"]) / found["container"])


def _sizes(shape: str, found: Mapping[str, Any]) -> tuple[float, ...] | None:
    if shape == CUBE and "edge" in found:
        return (found["edge"],) * 3
    keys = ("diameter", "height") if shape == CYLINDER else ("length", "width", "height")
    return tuple(found[key] for key in keys) if all(key in found for key in keys) else None
