"""A foaming agent as people write it down: a TOML file in the folder ``agents`` next to the recordings.

::

    name = "dish soap"                   # as “agent” in the build sheet
    kind = "detergent"
    dilution = "1+40"

    [water]
    source = "tap"
    hardness = "12 °dH"                  # or mmol/L, °fH, ppm (as calcium carbonate)
    temperature = "15 °C"

    [drops]                              # drops of the solution that fall slowly from a tip, weighed together
    tip = "4.0 mm"                       # outside diameter of the tip, where the liquid wets it
    count = 50
    mass = "1.52 g"                      # of all drops
    temperature = "20 °C"

    surface_tension = "28 mN/m (27 to 29)"   # at the top of the file, in place of [drops], if it was measured otherwise

The tension follows from the weight of a drop: γ = m g/(2 π r f), with the correction f of Harkins and Brown.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from frothline.atomic_file import write_atomically
from frothline.errors import FrothlineError, InputError
from frothline.estimate import Z95, Estimate
from frothline.foam.agent import Agent, AgentBook
from frothline.foam.dilution import read_dilution
from frothline.numerics.uncertainty import propagate
from frothline.physics.foam import SOLUTION_DENSITY
from frothline.physics.surface_tension import U_FACTOR, drop_factor, drop_weight_tension, water_surface_tension
from frothline.quantities import DECIMAL, decimal, read_number, read_quantity, shorten, typed, unknown_entry, within
from frothline.toml_text import TomlUnreadable, read_text, read_toml

FOLDER = "agents"  # of the files, in the folder of the recordings
U_TIP = 0.02e-3  # m, of the tip's diameter by calipers; judgement, no source
U_SCALE = 0.005e-3 / math.sqrt(3.0)  # kg, of one weighing with a scale that shows 0.01 g
LEAST, OVER_WATER = 0.012, 1.03  # N/m and times water: a tension outside these is questioned
# mol/m³ (mmol/L) of calcium carbonate for one of each unit of hardness; ppm: 100.09 g/mol
_HARDNESS = {"mmol/l": 1.0, "°dh": 0.1783, "dh": 0.1783, "°fh": 0.1, "fh": 0.1, "ppm": 1 / 100.09, "mg/l": 1 / 100.09}
_WITH_UNIT = re.compile(rf"(?P<value>{DECIMAL}) ?(?P<unit>[^\d\s(].*?)?")
_TENSION = re.compile(
    rf"(?P<value>{DECIMAL}) ?mN/m(?: ?\((?P<low>{DECIMAL}) to (?P<high>{DECIMAL})(?:, ?95 ?%)?\))?", re.IGNORECASE
)


def read_agents(folder: Path) -> AgentBook:
    """The agents of a folder of recordings. An unreadable file is a problem, never an error."""
    place = folder / FOLDER
    agents, problems = [], []
    for path in sorted(place.glob("*.toml")) if place.is_dir() else ():
        try:
            agents.append(read_agent(path))
        except InputError as error:
            problems.append(str(error))
    return AgentBook(tuple(agents), tuple(problems))


def read_agent(path: Path) -> Agent:
    """Read an agent's file. Raises InputError if it cannot be read at all; wrong entries are in ``problems``."""
    try:
        return parse_agent(read_text(path), path.stem, path)
    except (OSError, TomlUnreadable) as error:
        words = getattr(error, "strerror", None) or error
        raise InputError(f"the agent cannot be read: {words}", where=str(path), remedy="Check the file") from error


def parse_agent(text: str, name: str, path: Path | None = None) -> Agent:
    """Read the text of an agent's file. Raises TomlUnreadable."""
    document = read_toml(text)
    problems: list[str] = []
    tables = {table: document.get(table, {}) for table in ("water", "drops")}
    top = {key: value for key, value in document.items() if key not in tables}
    found = _table(top, _TOP, "", problems, extra=tuple(tables))
    water = _table(tables["water"], _WATER, "water", problems)
    drops = _table(tables["drops"], _DROPS, "drops", problems)
    tension, factor = found.get("surface_tension"), math.nan
    if drops and tension is not None:
        problems.append("surface_tension and [drops] are both written: leave one out")
    elif drops or "drops" in document:
        tension, factor = _of_drops(drops, problems)
    at = drops.get("temperature", math.nan)
    if tension is not None:
        problems += _doubts(tension.value, at)
    file = path.name if path else name
    return Agent(
        name=found.get("name", "") or name,
        path=path,
        kind=found.get("kind", ""),
        note=found.get("note", ""),
        dilution=found.get("dilution"),
        water_source=water.get("source", ""),
        hardness=water.get("hardness", math.nan),
        water_temperature=water.get("temperature", math.nan),
        surface_tension=tension,
        tension_temperature=at,
        factor=factor,
        problems=tuple(f"{file}: {one}" for one in problems),
    )


def _of_drops(drops: Mapping[str, Any], problems: list[str]) -> tuple[Estimate | None, float]:
    """Surface tension of weighed drops with its uncertainty, and f."""
    missing = [name for name in ("tip", "count", "mass") if name not in drops]
    if missing:
        problems.append(f"[drops] lacks {' and '.join(missing)}: write tip, count and mass of all drops")
        return None, math.nan
    radius, density = drops["tip"] / 2.0, drops.get("density", SOLUTION_DENSITY)
    mass = drops["mass"] / drops["count"]
    try:
        factor = drop_factor(radius, mass / density)

        def tension(x: np.ndarray) -> float:
            return drop_weight_tension(float(x[0]), float(x[1]), density) / float(x[2])

        u = np.array([math.sqrt(2.0) * U_SCALE / drops["count"], U_TIP / 2.0, U_FACTOR])
        found = propagate(tension, [mass, radius, 1.0], u)
    except FrothlineError as error:
        problems.append(str(error))
        return None, math.nan
    said = (f"{drops['count']:.0f} drops weighed, correction {factor:.3f} (Harkins and Brown 1919)",)
    return Estimate.normal(found.value, found.u, "N/m", assumptions=said), factor


def _doubts(tension: float, temperature: float) -> list[str]:
    water = water_surface_tension(temperature if math.isfinite(temperature) else 293.15)
    shown = f"a surface tension of {tension * 1e3:.1f} mN/m"
    if tension > OVER_WATER * water:
        return [f"{shown} is above that of water, {water * 1e3:.1f} mN/m: check tip, count and mass"]
    if tension < LEAST:
        return [f"{shown} is below that of any solution in water: check tip, count and mass"]
    return []


def read_hardness(raw: Any) -> float:
    """Hardness in mol/m³ as calcium carbonate from "12 °dH", "2.1 mmol/L", "21 °fH" or "210 ppm". Raises ValueError."""
    found = _WITH_UNIT.fullmatch(typed(str(raw)))
    unit = "" if found is None else (found["unit"] or "").strip().casefold()
    if found is None or unit not in _HARDNESS:
        raise ValueError(f"“{shorten(raw)}” is not a hardness with its unit; write it like 12 °dH or 2.1 mmol/L")
    return decimal(found["value"]) * _HARDNESS[unit]


def read_tension(raw: Any) -> Estimate:
    """A surface tension from "28 mN/m (27 to 29)"; 2 % without an interval. Raises ValueError."""
    found = _TENSION.fullmatch(typed(str(raw)))
    if found is None:
        raise ValueError(f"“{shorten(raw)}” is not a surface tension; write it like 28 mN/m (27 to 29)")
    value = decimal(found["value"]) * 1e-3
    if not 1e-3 <= value <= 1.0:
        raise ValueError(f"“{shorten(raw)}” is not plausible; check its unit")
    if found["low"] is None:
        return Estimate.normal(value, 0.01 * value, "N/m", assumptions=("as given",))
    low, high = (decimal(found[end]) * 1e-3 for end in ("low", "high"))
    if not low <= value <= high or low == high:
        raise ValueError(f"“{shorten(raw)}”: the value is not inside its interval")
    return Estimate(value, (high - low) / (2 * Z95), low, high, "N/m", assumptions=("with the interval given",))


_Readers = Mapping[str, Callable[[Any], Any]]


def _celsius(raw: Any) -> float:
    return read_quantity(raw, "temperature")


def _text(raw: Any) -> str:
    return str(raw)[:200]


_TOP: _Readers = {
    "name": _text,
    "kind": _text,
    "note": _text,
    "dilution": read_dilution,
    "surface_tension": read_tension,
}
_WATER: _Readers = {
    "source": _text,
    "hardness": within(read_hardness, 0.0, 30.0),
    "temperature": within(_celsius, 273.0, 373.0),
}
_DROPS: _Readers = {
    "tip": within(lambda raw: read_quantity(raw, "length"), 2e-4, 3e-2),
    "count": within(read_number, 1.0, 1e5),
    "mass": within(lambda raw: read_quantity(raw, "mass"), 1e-6, 1.0),
    "density": within(lambda raw: read_quantity(raw, "density"), 500.0, 2000.0),
    "temperature": within(_celsius, 273.0, 373.0),
}


def _table(raw: Any, readers: _Readers, place: str, problems: list[str], extra: tuple[str, ...] = ()) -> dict[str, Any]:
    """The entries of a table that can be read; what cannot goes to ``problems``."""
    if not isinstance(raw, Mapping):
        problems.append(f"“{place}” is not a table: write the entries below [{place}]")
        return {}
    found = {}
    for key, value in raw.items():
        at = f"{place}.{key}" if place else key
        if key not in readers:
            problems.append(
                unknown_entry(at, dict.fromkeys([*(f"{place}.{k}" if place else k for k in readers), *extra]))
            )
            continue
        try:
            found[key] = readers[key](value)
        except (ValueError, TypeError, OverflowError) as error:
            problems.append(f"{at}: {error}")
    return found


def new_agent(folder: Path, name: str) -> Path:
    """Write a file for an agent into the folder ``agents``; returns its path.

    Raises InputError; RecordingUnwritable.
    """
    if not name or Path(name).name != name or name.startswith(".") or len(name) > 100:
        raise InputError(f"“{name[:40]}” cannot be the name of a file", where="agent", remedy="Write it like dish-soap")
    path = folder / FOLDER / f"{name}.toml"
    if path.exists():
        raise InputError("an agent of this name is recorded already", where=str(path), remedy="Choose another name")
    path.parent.mkdir(parents=True, exist_ok=True)
    plain = "".join(one for one in name if one.isprintable() and one not in '"\\')
    write_atomically(path, lambda file: file.write(_NEW.format(name=plain).encode("utf-8")))
    return path


_NEW = """name = "{name}"                     # as “agent” in the build sheet
# kind = "detergent"
# dilution = "1+40"
# note = ""

[water]
# source = "tap"
# hardness = "12 °dH"                 # or mmol/L, °fH, ppm
# temperature = "15 °C"

# [drops]                             # of the solution, falling slowly (a drop in 2 s or more), weighed together
# tip = "4.0 mm"                      # outside diameter where the liquid wets it
# count = 50
# mass = "1.52 g"                     # of all drops
# temperature = "20 °C"
"""
