"""Numbers as people type them: one parser for all pages, options and files.

A number has a decimal point or a decimal comma, at most 15 digits on either side, and optionally an exponent. A comma
before exactly three digits is refused as ambiguous: ``1,200`` is 1200 in some countries and 1.2 in others. ``nan``,
``inf`` and text longer than ``LONGEST`` are refused. All patterns have bounded repeats, so reading takes time
proportional to the length of the text. Every function raises ValueError with a message for the user.
"""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction

from frothline.units import INCH, OUNCE, POUND, US_GALLON, ZERO_CELSIUS

LONGEST = 80  # characters of a typed figure with its unit


_SHOWN = 40  # characters of a wrong entry that a message repeats


DIGITS = r"\d{1,15}"  # more are a typing error


DECIMAL = rf"{DIGITS}(?:[.,]\d{{0,15}})?|[.,]{DIGITS}"


_NUMBER = re.compile(rf"[+-]?(?:{DECIMAL})(?:[eE][+-]?\d{{1,2}})?")


_TWO_WAYS = re.compile(r"(?<!\d)(\d{1,15}),(\d{3})(?!\d)")


_SEVERAL = re.compile(r"\d[.,]\d{1,15}[.,]\d")


def shorten(value: object) -> str:
    """The beginning of an entry, for a message."""
    try:
        text = str(value)
    except ValueError:  # a whole number with thousands of digits
        return "a number of thousands of digits"
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def typed(text: str) -> str:
    """The text as one line with single spaces. Raises ValueError where it is too long or its comma is ambiguous."""
    if len(text) > LONGEST and len(text.strip()) > LONGEST:
        what = f"“{shorten(text.strip())}” is not a number"
        raise ValueError(f"{what}: it has {len(text)} characters, the limit is {LONGEST}")
    plain = " ".join(text.split()).replace("−", "-")
    if _SEVERAL.search(plain):
        raise ValueError(f"“{plain}” has more than one point or comma; write it without separators of thousands")
    if found := _TWO_WAYS.search(plain):
        point = f"{plain[: found.start()]}{found[1]}.{found[2]}{plain[found.end() :]}"
        none = f"{plain[: found.start()]}{found[1]}{found[2]}{plain[found.end() :]}"
        if found[1].strip("0"):
            raise ValueError(f"“{plain}” can be read two ways: write “{none}” or “{point}”")
        raise ValueError(f"“{plain}” has a comma before three digits: write “{point}”")
    return plain


def read_number(raw: str | float) -> float:
    """A finite number from "1.5", "1,5", "-3", "2e3", or a number from a file."""
    if isinstance(raw, bool):
        raise ValueError(f"“{raw}” is not a number")  # noqa: TRY004  every reader raises ValueError
    if isinstance(raw, (int, float)):
        return finite(raw)
    plain = typed(raw)
    if not plain:
        raise ValueError("a number is needed")
    if _NUMBER.fullmatch(plain) is None:
        raise ValueError(f"“{shorten(plain)}” is not a number")
    return finite(float(plain.replace(",", ".")))


def is_number(text: str) -> bool:
    """True if a text is a number without a unit."""
    return len(text.strip()) <= LONGEST and _NUMBER.fullmatch(" ".join(text.split()).replace("−", "-")) is not None


def decimal(text: str) -> float:
    """The value of a text that matches ``DECIMAL`` and was checked by ``typed``."""
    return float(text.replace(",", "."))


def finite(number: float) -> float:
    """The number as a float. Raises ValueError for nan, infinities, and whole numbers beyond a float."""
    try:
        value = float(number)
    except OverflowError:
        raise ValueError(f"“{shorten(number)}” is far too large") from None
    if not math.isfinite(value):
        raise ValueError(f"“{value}” is not a number")
    return value


def check_range(value: float, low: float = -math.inf, high: float = math.inf, *, above: float = -math.inf) -> float:
    """The value. Raises ValueError if it is below ``low``, above ``high``, or not above ``above``."""
    if value < low or value > high or value <= above:
        least = f"greater than {above:g}" if math.isfinite(above) else f"{low:g} or more"
        if math.isfinite(high):
            least = f"{low:g} to {high:g}" if math.isfinite(low) else f"{least}, at most {high:g}"
        raise ValueError(f"{value:g} must be {least}")
    return value


def clean(value: float) -> float:
    """The value rounded to twelve digits, so that 38.1 mm and 1.5 in are the same length."""
    return float(f"{value:.12g}")


_LENGTH_UNITS = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH, "inch": INCH, '"': INCH, "″": INCH, "ft": 12 * INCH}


# Read from text with single spaces and at most LONGEST characters: see ``typed``.
_FRACTION = rf"(?P<over>{DIGITS}) ?/ ?(?P<under>{DIGITS})"


_QUANTITY_NUMBER = rf"(?:(?:(?P<whole>{DIGITS})(?: ?- ?| ))?{_FRACTION}|(?P<decimal>{DECIMAL}))"


_WITH_UNIT = re.compile(rf"{_QUANTITY_NUMBER} ?(?:(?P<unit>[a-zA-Z\"″³/]{{1,12}}[0-9]?)\.?)?")


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
    """A length, mass, volume, flow or density as people write it, converted to SI.

    "25 mm", "3/4 in", "1½ in", "1-1/2 in", ".5 in", '2"', "0.8 m"; a bare number is mm, g, L, L/min or kg/m³, a bare
    fraction is refused as ambiguous. ``kind`` : length, mass, volume, flow or density. Raises
    ValueError with a message for the user.
    """
    if isinstance(text, (int, float)):
        return clean(_bare(text) * _BARE[kind])
    units = _LENGTH_UNITS if kind == "length" else _OTHER_UNITS[kind]
    text = typed(text)
    found = _WITH_UNIT.fullmatch(_fractions(text))
    if found is None:
        if text.startswith("-") and _WITH_UNIT.fullmatch(_fractions(text[1:].lstrip())):
            raise ValueError(f"“{shorten(text)}” is below zero; write a {kind} like {_EXAMPLES[kind]}")
        raise ValueError(f"“{shorten(text)}” is not a {kind}; write it like {_EXAMPLES[kind]}")
    value = decimal(found["decimal"] or found["whole"] or "0")
    unit = found["unit"]
    if found["over"] is not None:
        if int(found["under"]) == 0:
            raise ValueError(f"“{text}” has a zero denominator")
        value += float(Fraction(int(found["over"]), int(found["under"])))
        if unit is None:
            raise ValueError(_without_unit(text, value, kind))
    if unit is None:
        return clean(value * _BARE[kind])
    known = units.get(unit) or {name.lower(): factor for name, factor in units.items()}.get(unit.lower())
    if known is None:
        raise ValueError(f"“{shorten(unit)}” is not a unit of {kind}; use one of {', '.join(units)}")
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


def read_temperature(text: str | float) -> float:
    """A temperature in K from "18 °C", "65 °F" or a bare number in °C. Raises ValueError."""
    if isinstance(text, (int, float)):
        return clean(_bare(text) + ZERO_CELSIUS)
    found = _TEMPERATURE.fullmatch(typed(text))
    if found is None:
        raise ValueError(f"“{shorten(text)}” is not a temperature; write it like 18 °C or 65 °F")
    value = decimal(found["value"])
    kelvin = (value + 459.67) / 1.8 if (found["unit"] or "C").upper() == "F" else value + ZERO_CELSIUS
    if kelvin < 0:
        raise ValueError(f"“{text}” is below absolute zero, -273.15 °C")
    return clean(kelvin)
