"""Unit conversion, used only at the edges: command line, pages, and the readers of files that people write.

Inside the package everything is SI. Factors are exact by definition unless a comment says otherwise; NIST Special
Publication 811 (2008), appendix B, lists them.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

INCH = 0.0254  # m, exact
FOOT = 12 * INCH
POUND = 0.45359237  # kg, exact
OUNCE = POUND / 16
US_GALLON = 231 * INCH**3
US_FLUID_OUNCE = US_GALLON / 128
STANDARD_GRAVITY = 9.80665  # m/s2, exact
CUBIC_FOOT_PER_MINUTE = FOOT**3 / 60  # m3/s
CONVENTIONAL_INCH_OF_WATER = 1000 * STANDARD_GRAVITY * INCH  # Pa: water at 1000 kg/m3; other inches differ by 0.2 %
ZERO_CELSIUS = 273.15  # K, exact


@dataclass(frozen=True)
class Unit:
    """A display unit: ``shown = si * factor + offset``.

    signed : True if the quantity can be negative in SI: a gauge pressure or a scale's reading can, a flow cannot
    """

    symbol: str
    factor: float
    offset: float = 0.0
    signed: bool = True

    def from_si(self, value: float) -> float:
        return value * self.factor + self.offset

    def to_si(self, value: float) -> float:
        return (value - self.offset) / self.factor


# One table per system of units; the keys are quantities, the same in both.
METRIC: dict[str, Unit] = {
    "pressure": Unit("kPa", 1e-3),
    "ambient_pressure": Unit("hPa", 1e-2, signed=False),
    "tank_pressure": Unit("bar", 1e-5, signed=False),
    "strength": Unit("MPa", 1e-6, signed=False),
    "flow": Unit("L/s", 1e3, signed=False),
    "foam_rate": Unit("L/min", 6e4, signed=False),
    "volume": Unit("L", 1e3, signed=False),
    "air_volume": Unit("L", 1e3, signed=False),
    "mass_flow": Unit("g/s", 1e3, signed=False),
    "mass": Unit("kg", 1.0),
    "force": Unit("N", 1.0, signed=False),
    "power": Unit("W", 1.0, signed=False),
    "speed": Unit("m/s", 1.0, signed=False),
    "temperature": Unit("°C", 1.0, -ZERO_CELSIUS),
    "temperature_difference": Unit("K", 1.0),
    "humidity": Unit("%", 100.0, signed=False),
    "share": Unit("%", 100.0, signed=False),
    "density": Unit("kg/m³", 1.0, signed=False),
    "length": Unit("mm", 1e3, signed=False),
    "bubble_growth": Unit("mm/h", 3.6e6),
    "voltage": Unit("V", 1.0),
    "frequency": Unit("Hz", 1.0, signed=False),
    "time": Unit("s", 1.0, signed=False),
    "count": Unit("a whole number", 1.0, signed=False),
}

INCH_POUND: dict[str, Unit] = METRIC | {
    "pressure": Unit("inH₂O", 1 / CONVENTIONAL_INCH_OF_WATER),
    "ambient_pressure": Unit("inHg", 1 / 3386.389, signed=False),  # mercury at 0 °C
    "tank_pressure": Unit("psi", INCH**2 / (POUND * STANDARD_GRAVITY), signed=False),
    "strength": Unit("psi", INCH**2 / (POUND * STANDARD_GRAVITY), signed=False),
    "flow": Unit("cfm", 1 / CUBIC_FOOT_PER_MINUTE, signed=False),
    "foam_rate": Unit("gal/min", 60 / US_GALLON, signed=False),
    "volume": Unit("gal", 1 / US_GALLON, signed=False),
    "air_volume": Unit("ft³", 1 / FOOT**3, signed=False),
    "mass_flow": Unit("lb/min", 60 / POUND, signed=False),
    "mass": Unit("lb", 1 / POUND),
    "force": Unit("lbf", 1 / (POUND * STANDARD_GRAVITY), signed=False),
    "speed": Unit("ft/min", 60 / FOOT, signed=False),
    "temperature": Unit("°F", 1.8, -459.67),
    "temperature_difference": Unit("°F", 1.8),
    "density": Unit("lb/ft³", FOOT**3 / POUND, signed=False),
    "length": Unit("in", 1 / INCH, signed=False),
    "bubble_growth": Unit("in/h", 3600 / INCH),
}

SYSTEMS: dict[str, dict[str, Unit]] = {"metric": METRIC, "inch-pound": INCH_POUND}

NAMES: dict[str, str] = {"metric": "metric", "us": "inch-pound"}  # names for a person, and the keys of SYSTEMS


VARIABLE = "FROTHLINE_UNITS"  # environment variable with the units of a person


def chosen_system() -> str:
    """The key of SYSTEMS that the person chose in the environment; "metric" without a choice, and for a wrong one.

    Result tables in a notebook use it, as they have no option of their own.
    """
    name = os.environ.get(VARIABLE, "").strip().casefold()
    return NAMES.get(name, name if name in SYSTEMS else "metric")


def name_of_system(system: Mapping[str, Unit]) -> str:
    """The key of SYSTEMS of a table; "metric" for a table of neither."""
    return "inch-pound" if system["length"] == INCH_POUND["length"] else "metric"


# The SI unit of each quantity in the tables above.
SI: dict[str, str] = {
    "pressure": "Pa",
    "ambient_pressure": "Pa",
    "tank_pressure": "Pa",
    "strength": "Pa",
    "flow": "m³/s",
    "foam_rate": "m³/s",
    "volume": "m³",
    "air_volume": "m³",
    "mass_flow": "kg/s",
    "mass": "kg",
    "force": "N",
    "power": "W",
    "speed": "m/s",
    "temperature": "K",
    "temperature_difference": "K",
    "humidity": "1",
    "share": "1",
    "density": "kg/m³",
    "length": "m",
    "bubble_growth": "m/s",
    "voltage": "V",
    "frequency": "Hz",
    "time": "s",
}
# Further units that are accepted on entry and in conversions, by system and by the SI unit of their quantity. Case is
# ignored; "mPa" is refused, because it differs from MPa by nothing else (see ``find_unit``).
MORE: dict[str, dict[str, tuple[Unit, ...]]] = {
    "metric": {
        "Pa": (Unit("mbar", 1e-2), Unit("mmH₂O", 1 / STANDARD_GRAVITY)),  # conventional: water at 1000 kg/m³
        "m³/s": (Unit("mL/min", 6e7), Unit("m³/h", 3600.0), Unit("L/h", 3.6e6)),
        "m³": (Unit("mL", 1e6), Unit("cm³", 1e6)),
        "kg/s": (Unit("kg/min", 60.0), Unit("kg/h", 3600.0)),
        "kg": (Unit("g", 1e3),),
        "W": (Unit("kW", 1e-3),),
        "N": (Unit("kN", 1e-3), Unit("kgf", 1 / STANDARD_GRAVITY)),
        "kg/m³": (Unit("g/L", 1.0), Unit("kg/L", 1e-3), Unit("g/cm³", 1e-3)),
        "m": (Unit("cm", 1e2),),
        "V": (Unit("mV", 1e3),),
        "s": (Unit("ms", 1e3), Unit("min", 1 / 60), Unit("h", 1 / 3600)),
    },
    "inch-pound": {
        "m³/s": (Unit("qt/min", 240 / US_GALLON), Unit("gal/h", 3600 / US_GALLON), Unit("ft³/s", 1 / FOOT**3)),
        "m³": (
            Unit("qt", 4 / US_GALLON),
            Unit("pt", 8 / US_GALLON),
            Unit("fl oz", 1 / US_FLUID_OUNCE),
            Unit("yd³", 1 / (3 * FOOT) ** 3),
            Unit("in³", 1 / INCH**3),
        ),
        "kg": (Unit("oz", 1 / OUNCE),),
        "kg/m³": (
            Unit("lb/yd³", (3 * FOOT) ** 3 / POUND),
            Unit("lb/gal", US_GALLON / POUND),
            Unit("oz/qt", US_GALLON / 4 / OUNCE),
        ),
        "m": (Unit("ft", 1 / FOOT), Unit("yd", 1 / (3 * FOOT))),
    },
}
# Other spellings of a unit, as ``_plain`` gives them: small letters, plain digits, no spaces.
ALIASES = {
    "degc": "°c",
    "c": "°c",
    "degf": "°f",
    "f": "°f",
    "ft3/min": "cfm",
    "cuft/min": "cfm",
    "gpm": "gal/min",
    "lpm": "l/min",
    "l/hr": "l/h",
    "gph": "gal/h",
    "percent": "%",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "''": "in",
    "foot": "ft",
    "feet": "ft",
    "'": "ft",
    "′": "ft",
    "yard": "yd",
    "yards": "yd",
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "ounce": "oz",
    "ounces": "oz",
    "fluidounce": "floz",
    "fluidounces": "floz",
    "liter": "l",
    "liters": "l",
    "litre": "l",
    "litres": "l",
    "cc": "cm3",
    "gallon": "gal",
    "gallons": "gal",
    "quart": "qt",
    "quarts": "qt",
    "qts": "qt",
    "pint": "pt",
    "pints": "pt",
    "cuft": "ft3",
    "cubicfeet": "ft3",
    "cubicfoot": "ft3",
    "cuyd": "yd3",
    "cubicyard": "yd3",
    "cubicyards": "yd3",
    "cuin": "in3",
    "pcf": "lb/ft3",
    "lb/cuft": "lb/ft3",
    "lbs/ft3": "lb/ft3",
    "lbs/cuft": "lb/ft3",
    "pcy": "lb/yd3",
    "lbs/yd3": "lb/yd3",
    "lbs/gal": "lb/gal",
    "g/ml": "g/cm3",
    "inwc": "inh2o",
    "inwg": "inh2o",
    '"h2o': "inh2o",
    "″h2o": "inh2o",
    '"wc': "inh2o",
    "grams": "g",
    "gram": "g",
    "fpm": "ft/min",
}

# What an entry of each kind is: its quantity in SI, and the unit of a number without a unit in each system.
# "bag" and "concrete" are the masses and volumes of a batch, "drained" the volumes of a measuring glass.
ENTRY_UNITS: dict[str, dict[str, str]] = {
    "length": {"metric": "mm", "inch-pound": "in"},
    "altitude": {"metric": "m", "inch-pound": "ft"},
    "mass": {"metric": "g", "inch-pound": "oz"},
    "bag": {"metric": "kg", "inch-pound": "lb"},
    "volume": {"metric": "L", "inch-pound": "gal"},
    "concrete": {"metric": "L", "inch-pound": "ft³"},
    "drained": {"metric": "mL", "inch-pound": "fl oz"},
    "flow": {"metric": "L/min", "inch-pound": "gal/min"},
    "air_flow": {"metric": "L/s", "inch-pound": "cfm"},
    "density": {"metric": "kg/m³", "inch-pound": "lb/ft³"},
    "pressure": {"metric": "kPa", "inch-pound": "inH₂O"},
    "tank_pressure": {"metric": "bar", "inch-pound": "psi"},
    "temperature": {"metric": "°C", "inch-pound": "°F"},
    "load": {"metric": "kN", "inch-pound": "lbf"},
    "strength": {"metric": "MPa", "inch-pound": "psi"},
    "bubble_growth": {"metric": "mm/h", "inch-pound": "in/h"},
}
_PLAIN = str.maketrans({"₂": "2", "²": "2", "³": "3", "^": None, ".": None, " ": None, "\u00a0": None})


def _plain(name: str) -> str:
    plain = name.translate(_PLAIN).casefold()
    return ALIASES.get(plain, plain).casefold()


@dataclass(frozen=True)
class NamedUnit:
    """A unit with the SI unit of its quantity."""

    unit: Unit
    si: str


@cache
def _named() -> dict[str, NamedUnit]:
    found: dict[str, NamedUnit] = {}
    for si in SI.values():
        found[_plain(si)] = NamedUnit(Unit(si, 1.0), si)
    for table in SYSTEMS.values():
        for quantity, si in SI.items():
            found.setdefault(_plain(table[quantity].symbol), NamedUnit(table[quantity], si))
    for more in MORE.values():
        for si, units in more.items():
            for unit in units:
                found.setdefault(_plain(unit.symbol), NamedUnit(unit, si))
    return found


def find_unit(name: str) -> NamedUnit | None:
    """A unit by its symbol; None for one that is not in the tables.

    Case is ignored, and superscripts and subscripts may be plain digits. "°F" is a temperature with its zero.

    >>> find_unit("inH2O").unit.symbol, find_unit("m3/h").si
    ('inH₂O', 'm³/s')
    """
    return None if "mPa" in name else _named().get(_plain(name))


def same_unit(one: str, other: str) -> bool:
    """True if two names are the same unit, as "m3/s" and "m³/s" are."""
    found = find_unit(one)
    return one == other or (found is not None and found == find_unit(other))


def same_quantity(name: str) -> tuple[str, ...]:
    """Symbols of all units of the same quantity, the SI unit first; empty for an unknown unit."""
    given = find_unit(name)
    if given is None:
        return ()
    return tuple(one.unit.symbol for one in _named().values() if one.si == given.si)


@cache
def entry_unit(kind: str, system: str) -> Unit:
    """The unit of a number that is entered without one; KeyError for an unknown kind or system."""
    return _named()[_plain(ENTRY_UNITS[kind][system])].unit


@cache
def _metric_only() -> frozenset[str]:
    shared = {unit.symbol for unit in INCH_POUND.values()}
    more = {unit.symbol for units in MORE["metric"].values() for unit in units}
    return frozenset(({unit.symbol for unit in METRIC.values()} | more | set(SI.values())) - shared)


@cache
def _us_only() -> frozenset[str]:
    shared = {unit.symbol for unit in METRIC.values()}
    more = {unit.symbol for units in MORE["inch-pound"].values() for unit in units}
    return frozenset(({unit.symbol for unit in INCH_POUND.values()} | more) - shared)


def is_foreign(symbol: str, system: str) -> bool:
    """True if a unit belongs to the other system only, as "ft" does for metric."""
    return symbol in (_us_only() if system == "metric" else _metric_only())
