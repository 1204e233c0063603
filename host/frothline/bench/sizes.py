"""Sizes as they are sold: lengths in millimetres or in inches and fractions, pipes by name, drills by step."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

from frothline.quantities import DECIMAL, DIGITS, decimal, finite, shorten, typed
from frothline.units import INCH, OUNCE, POUND, US_GALLON, ZERO_CELSIUS


def clean(value: float) -> float:
    """Twelve figures: 38.1 mm and 1.5 in are the same length, without the dust of binary fractions."""
    return float(f"{value:.12g}")


@dataclass(frozen=True)
class Pipe:
    """A pipe one can buy: its name as a sheet writes it, outer diameter m, wall m, and the standard of its sizes."""

    name: str
    outer: float
    wall: float
    source: str

    @property
    def bore(self) -> float:
        """Inner diameter, m."""
        return clean(self.outer - 2.0 * self.wall)


_SCHEDULE_40 = {  # nominal -> outer diameter and least wall, inch
    "1/2": (0.840, 0.109),
    "3/4": (1.050, 0.113),
    "1": (1.315, 0.133),
    "1 1/4": (1.660, 0.140),
    "1 1/2": (1.900, 0.145),
    "2": (2.375, 0.154),
    "2 1/2": (2.875, 0.203),
    "3": (3.500, 0.216),
    "4": (4.500, 0.237),
}
_METRIC_PRESSURE = ((20, 1.5), (25, 1.9), (32, 2.4), (40, 3.0), (50, 3.7), (63, 4.7), (75, 5.6), (90, 6.7), (110, 8.1))
_METRIC_WASTE = ((32, 3.0), (40, 3.0), (50, 3.0), (75, 3.0), (110, 3.2))

PIPES: tuple[Pipe, ...] = (
    *(
        Pipe(f"{nominal} in sch 40", outer * INCH, wall * INCH, "ASTM D1785, schedule 40, least wall")
        for nominal, (outer, wall) in _SCHEDULE_40.items()
    ),
    *(
        Pipe(f"{outer}x{wall:g}", outer * 1e-3, wall * 1e-3, "EN ISO 1452-2, SDR 13.6, from memory")
        for outer, wall in _METRIC_PRESSURE
    ),
    *(
        Pipe(f"{outer}x{wall:g}", outer * 1e-3, wall * 1e-3, "EN 1329-1 and EN 1401-1 waste pipe, from memory")
        for outer, wall in _METRIC_WASTE
        if (outer, wall) not in _METRIC_PRESSURE
    ),
)
PIPES_BY_NAME = {pipe.name: pipe for pipe in PIPES}

# Twist drills by tenths to 10 mm and by halves to 20 mm: what ISO 235 lists and a tool shop has.
DRILLS: tuple[float, ...] = (
    *(round(tenths * 1e-4, 7) for tenths in range(5, 101)),
    *(round(halves * 5e-4, 7) for halves in range(21, 41)),
)

_LENGTH_UNITS = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH, "inch": INCH, '"': INCH, "″": INCH, "ft": 12 * INCH}
# Read from text with single spaces and at most LONGEST characters: see ``typed``.
_FRACTION = rf"(?P<over>{DIGITS}) ?/ ?(?P<under>{DIGITS})"
_NUMBER = rf"(?:(?:(?P<whole>{DIGITS})(?: ?- ?| ))?{_FRACTION}|(?P<decimal>{DECIMAL}))"
_WITH_UNIT = re.compile(rf"{_NUMBER} ?(?:(?P<unit>[a-zA-Z\"″³/]{{1,12}}[0-9]?)\.?)?")
_TEMPERATURE = re.compile(rf"(?P<value>-?(?:{DECIMAL})) ?°? ?(?P<unit>[CcFf])?")
_VULGAR = {sign: unicodedata.normalize("NFKC", sign).replace("\u2044", "/") for sign in "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"}
_OTHER_UNITS: dict[str, dict[str, float]] = {
    "mass": {"g": 1e-3, "kg": 1.0, "oz": OUNCE, "lb": POUND},
    "volume": {"L": 1e-3, "l": 1e-3, "mL": 1e-6, "ml": 1e-6, "m3": 1.0, "m³": 1.0, "gal": US_GALLON},
    "density": {
        "kg/m3": 1.0,
        "kg/m³": 1.0,
        "kg/L": 1e3,
        "lb/ft3": POUND / (12 * INCH) ** 3,
        "lb/ft³": POUND / (12 * INCH) ** 3,
    },
    "flow": {"L/min": 1 / 6e4, "l/min": 1 / 6e4, "L/h": 1 / 3.6e6, "gal/min": US_GALLON / 60, "mL/min": 1 / 6e7},
}
_BARE = {"length": 1e-3, "mass": 1e-3, "volume": 1e-3, "flow": 1 / 6e4, "density": 1.0}  # mm, g, L, L/min, kg/m³


def read_quantity(text: str | float, kind: str) -> float:
    """A length, mass, volume, flow or density as people write it, in SI.

    "25 mm", "3/4 in", "1½ in", "1-1/2 in", ".5 in", '2"', "0.8 m"; a bare number is mm, g, L, L/min or kg/m³, a bare
    fraction is asked back, for it is read both ways. ``kind`` : length, mass, volume, flow or density. Raises
    ValueError in words a builder understands.
    """
    if isinstance(text, (int, float)):
        return clean(_bare(text) * _BARE[kind])
    units = _LENGTH_UNITS if kind == "length" else _OTHER_UNITS[kind]
    text = typed(text)
    found = _WITH_UNIT.fullmatch(_fractions(text))
    if found is None:
        if text.startswith("-") and _WITH_UNIT.fullmatch(_fractions(text[1:].lstrip())):
            raise ValueError(f"“{shorten(text)}” is below zero; write a {kind} like {_EXAMPLES[kind]}")
        raise ValueError(f"“{shorten(text)}” is no {kind}; write it like {_EXAMPLES[kind]}")
    value = decimal(found["decimal"] or found["whole"] or "0")
    unit = found["unit"]
    if found["over"] is not None:
        if int(found["under"]) == 0:
            raise ValueError(f"“{text}” has a fraction over nothing")
        value += float(Fraction(int(found["over"]), int(found["under"])))
        if unit is None:
            raise ValueError(_without_unit(text, value, kind))
    if unit is None:
        return clean(value * _BARE[kind])
    known = units.get(unit) or {name.lower(): factor for name, factor in units.items()}.get(unit.lower())
    if known is None:
        raise ValueError(f"“{shorten(unit)}” is no unit of {kind} known here; use one of {', '.join(units)}")
    return clean(value * known)


def _fractions(text: str) -> str:
    """The text with “1½” as “1 1/2”, with single spaces."""
    return " ".join("".join(f" {_VULGAR[sign]}" if sign in _VULGAR else sign for sign in text).split())


def _bare(number: float) -> float:
    if isinstance(number, bool):
        raise ValueError(f"“{number}” is not a number")  # noqa: TRY004  every reader raises ValueError
    return finite(number)


def _without_unit(text: str, value: float, kind: str) -> str:
    if kind == "length":
        return f"“{text}” can be read two ways: write “{text} in” for inches, or “{value:g} mm” for millimetres"
    return f"“{text}” lacks its unit; write it like {_EXAMPLES[kind]}"


_EXAMPLES = {
    "length": "25 mm, 3/4 in, 1 1/2 in or 2 m",
    "mass": "120 g or 4 oz",
    "volume": "20 L or 5 gal",
    "flow": "4 L/min or 1 gal/min",
    "density": "600 kg/m³ or 37 lb/ft³",
}


def read_bore(text: str | float) -> float:
    """An inner diameter in m: a length, or a pipe by its name ("1 1/2 in sch 40", "50x3.7").

    Raises ValueError where it is neither.
    """
    if isinstance(text, str):
        plain = _pipe_name(typed(text))
        if plain in PIPES_BY_NAME:
            return PIPES_BY_NAME[plain].bore
        if "sch" in plain or re.fullmatch(r"[\d.]{1,40}x[\d.]{1,40}", plain):
            raise ValueError(
                f"no pipe “{shorten(text)}” is listed; write its bore, or one of {', '.join(PIPES_BY_NAME)}"
            )
    return read_quantity(text, "length")


def _pipe_name(text: str) -> str:
    """A pipe's name as the list has it: “1-1/2 inch, Schedule 40” and “NPS 1½ sch. 40” are “1 1/2 in sch 40”."""
    plain = " ".join(_fractions(text.lower()).replace("×", "x").replace("schedule", "sch").split())
    if "sch" in plain:
        plain = re.sub(r"^nps\b", "", plain).replace('"', " in").replace("″", " in").replace("sch.", "sch")
        plain = re.sub(r"(\d)\s*-\s*(\d+/\d)", r"\1 \2", plain)
        plain = re.sub(r"\s*(?:\bin(?:ch)?\b\.?)?[\s,-]*sch\s*", " in sch ", plain)
    else:
        plain = re.sub(r"(\d)\s*x\s*(\d)", r"\1x\2", plain).removesuffix(" mm")
    return " ".join(plain.split())


def read_temperature(text: str | float) -> float:
    """A temperature in K from "18 °C", "65 °F" or a bare number in °C. Raises ValueError."""
    if isinstance(text, (int, float)):
        return clean(_bare(text) + ZERO_CELSIUS)
    found = _TEMPERATURE.fullmatch(typed(text))
    if found is None:
        raise ValueError(f"“{shorten(text)}” is no temperature; write it like 18 °C or 65 °F")
    value = decimal(found["value"])
    kelvin = (value + 459.67) / 1.8 if (found["unit"] or "C").upper() == "F" else value + ZERO_CELSIUS
    if kelvin < 0:
        raise ValueError(f"“{text}” is below absolute zero, -273.15 °C")
    return clean(kelvin)


def pipe_of_bore(bore: float, tolerance: float = 2e-4) -> Pipe | None:
    """The listed pipe whose bore this is, or None."""
    near = min(PIPES, key=lambda pipe: abs(pipe.bore - bore))
    return near if abs(near.bore - bore) <= tolerance else None
