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
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from fractions import Fraction
from typing import Any

from frothline.units import NamedUnit, Unit, entry_unit, find_unit, is_foreign, same_quantity

LONGEST = 80  # characters of a typed figure with its unit


_SHOWN = 40  # characters of a wrong entry that a message repeats


DIGITS = r"\d{1,15}"  # more are a typing error


DECIMAL = rf"(?:{DIGITS}(?:[.,]\d{{0,15}})?|[.,]{DIGITS})(?:[eE][+-]?\d{{1,5}})?"


_NUMBER = re.compile(rf"[+-]?{DECIMAL}")


_TWO_WAYS = re.compile(r"(?<!\d)(\d{1,15}),(\d{3})(?!\d)")


_SEVERAL = re.compile(r"\d[.,]\d{1,15}[.,]\d")


def shorten(value: object) -> str:
    """The beginning of an entry, for a message."""
    try:
        text = str(value)
    except ValueError:  # a whole number with thousands of digits
        return "a number of thousands of digits"
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


_DASHES = str.maketrans(dict.fromkeys("−–‐‑﹣－", "-"))  # what word processors and keyboards make of a minus sign


def _one_line(text: str) -> str:
    """The text with single spaces and plain minus signs."""
    return " ".join(text.split()).translate(_DASHES)


def typed(text: str) -> str:
    """The text as one line with single spaces. Raises ValueError where it is too long or its comma is ambiguous."""
    if len(text) > LONGEST and len(text.strip()) > LONGEST:
        what = f"“{shorten(text.strip())}” is not a number"
        raise ValueError(f"{what}: it has {len(text)} characters, the limit is {LONGEST}")
    plain = _one_line(text)
    if _SEVERAL.search(plain):
        raise ValueError(f"“{plain}” has more than one point or comma; write it without separators of thousands")
    found = _TWO_WAYS.search(plain)
    if found and found[1].strip("0"):  # after a zero alone a comma separates no thousands
        point = f"{plain[: found.start()]}{found[1]}.{found[2]}{plain[found.end() :]}"
        none = f"{plain[: found.start()]}{found[1]}{found[2]}{plain[found.end() :]}"
        raise ValueError(f"“{plain}” can be read two ways: write “{none}” or “{point}”")
    return plain


def read_number(raw: str | float) -> float:
    """A finite number from "1.5", "1,5", "-3", "2e3", or a number from a file."""
    if isinstance(raw, bool):
        raise ValueError(f"“{raw}” is not a number")  # noqa: TRY004  every reader raises ValueError
    if isinstance(raw, (int, float)):
        return finite(raw)
    if not isinstance(raw, str):  # a list or a table of a file
        raise ValueError(f"“{shorten(raw)}” is not a number")  # noqa: TRY004  every reader raises ValueError
    plain = typed(raw)
    if not plain:
        raise ValueError("a number is needed")
    if _NUMBER.fullmatch(plain) is None:
        raise ValueError(f"“{shorten(plain)}” is not a number")
    return decimal(plain)


def is_number(text: str) -> bool:
    """True if a text is a number without a unit."""
    return len(text.strip()) <= LONGEST and _NUMBER.fullmatch(_one_line(text)) is not None


def decimal(text: str) -> float:
    """The value of a text that matches ``DECIMAL`` and was checked by ``typed``. ValueError beyond a float."""
    value = float(text.replace(",", "."))
    if math.isinf(value):
        raise ValueError(f"“{shorten(text)}” is far too large")
    return value


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


# Read from text with single spaces and at most LONGEST characters: see ``typed``.
_FRACTION = rf"(?P<over>{DIGITS}) ?/ ?(?P<under>{DIGITS})"


_QUANTITY_NUMBER = rf"(?:(?:(?P<whole>{DIGITS})(?: ?- ?| ))?{_FRACTION}|(?P<decimal>{DECIMAL}))"


_UNIT = r"[a-zA-Z°\"″′'][a-zA-Z0-9°\"″′'³₂^/. ]{0,15}"


_WITH_UNIT = re.compile(rf"(?P<sign>[+-] ?)?{_QUANTITY_NUMBER} ?(?P<unit>{_UNIT})?")


_VULGAR = {sign: unicodedata.normalize("NFKC", sign).replace("\u2044", "/") for sign in "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"}


_NAMES = {  # kinds of entries whose name is not the word for a message
    "bag": "mass",
    "concrete": "volume",
    "drained": "volume",
    "air_flow": "flow",
    "tank_pressure": "pressure",
    "load": "force",
    "bubble_growth": "growth",
}


# An example of each kind in either system, and further ones for messages.
EXAMPLES = {
    "length": {"metric": "25 mm", "inch-pound": "1 1/2 in"},
    "bore": {"metric": "38 mm", "inch-pound": "1 1/2 in"},
    "altitude": {"metric": "500 m", "inch-pound": "1600 ft"},
    "mass": {"metric": "120 g", "inch-pound": "4 oz"},
    "bag": {"metric": "25 kg", "inch-pound": "94 lb"},
    "volume": {"metric": "20 L", "inch-pound": "5 gal"},
    "concrete": {"metric": "200 L", "inch-pound": "7 ft³"},
    "drained": {"metric": "12 mL", "inch-pound": "1/2 fl oz"},
    "flow": {"metric": "4 L/min", "inch-pound": "1 gal/min"},
    "air_flow": {"metric": "12 L/s", "inch-pound": "25 cfm"},
    "density": {"metric": "600 kg/m³", "inch-pound": "37 lb/ft³"},
    "pressure": {"metric": "9 kPa", "inch-pound": "36 inH₂O"},
    "tank_pressure": {"metric": "8 bar", "inch-pound": "116 psi"},
    "temperature": {"metric": "18 °C", "inch-pound": "65 °F"},
    "load": {"metric": "7.4 kN", "inch-pound": "1660 lbf"},
    "strength": {"metric": "0.8 MPa", "inch-pound": "120 psi"},
    "bubble_growth": {"metric": "0.5 mm/h", "inch-pound": "0.02 in/h"},
}


_FURTHER = {"length": "3/4 in", "mass": "2 lb", "volume": "2 qt", "concrete": "1/4 yd³", "pressure": "1.3 psi"}


def examples(kind: str, system: str = "metric") -> str:
    """Examples of a kind for a message, those of the reader's system first: "120 g, 4 oz or 2 lb"."""
    own, other = EXAMPLES[kind][system], EXAMPLES[kind]["inch-pound" if system == "metric" else "metric"]
    further = _FURTHER.get(kind, "")
    return f"{own}, {other} or {further}" if further else f"{own} or {other}"


def unit_hint(kind: str, system: str) -> str:
    """The unit of a bare number and an example in a unit of the other system: "L, or like “5 gal”"."""
    other = EXAMPLES[kind]["inch-pound" if system == "metric" else "metric"]
    return f"{entry_unit(kind, system).symbol}, or like “{other}”"


def read_quantity(text: str | float, kind: str, system: str = "metric") -> float:
    """A figure as people write it, converted to SI.

    "25 mm", "3/4 in", "1½ in", "1-1/2 in", ".5 in", '2"', "2 qt", "1/2 yd³", "14 psi", "65 lb/ft3". Every unit of the
    quantity in ``frothline.units`` may be used with either system. A number without a unit is in the unit of
    ``units.ENTRY_UNITS``: mm, g, L, L/min or kg/m³ in metric units. A fraction without a unit is refused as ambiguous
    in metric units. Pressures are gauge pressures.

    kind : a key of ``units.ENTRY_UNITS``;  system : "metric" or "inch-pound"

    Raises ValueError with a message for the user.
    """
    name, example = _NAMES.get(kind, kind), examples(kind, system)
    return read_in(text, entry_unit(kind, system), name, example, signed=kind in _SIGNED)


_SIGNED = {"altitude", "bubble_growth", "pressure", "temperature"}


def read_in(text: str | float, bare: Unit, name: str, example: str, *, signed: bool = False) -> float:
    """A figure as ``read_quantity`` reads it, for any quantity: ``bare`` is the unit of a number without one.

    name, example : of the quantity, for messages;  signed : whether it may be below zero
    """
    if isinstance(text, (int, float)):
        return clean(bare.to_si(_bare(text)))
    if not isinstance(text, str):
        raise ValueError(f"“{shorten(text)}” is not a {name}; write it like {example}")  # noqa: TRY004  as every reader
    text = typed(text)
    plain = _fractions(text)
    if two := _TWO_UNITS.fullmatch(plain):
        return _two_units(two, text, name)
    found = _WITH_UNIT.fullmatch(plain)
    if found is None:
        raise ValueError(f"“{shorten(text)}” is not a {name}; write it like {example}")
    below = (found["sign"] or "").startswith("-")
    if below and not signed:
        raise ValueError(f"“{shorten(text)}” is below zero; write a {name} like {example}")
    value = _value(found, text)
    if below:
        value = -value
    if found["unit"] is not None:
        return clean(_unit(found["unit"], bare, name, text).to_si(value))
    if found["over"] is not None and bare.symbol not in _WITH_FRACTIONS:
        raise ValueError(_without_unit(text, value, bare, example))
    return clean(bare.to_si(value))


_WITH_FRACTIONS = {"in", "oz", "lb", "gal", "ft³", "fl oz"}  # a bare fraction in these has one reading only


_TWO_UNITS = re.compile(
    rf"(?P<first>{DIGITS}) ?(?P<large>ft|['′]|lbs?|gal) ?-? ?(?P<rest>\d[^a-z]{{0,20}} ?(?P<small>in|[\"″]|oz|qt))"
)


def _two_units(found: re.Match[str], text: str, name: str) -> float:
    """A figure in two units, as in "5 ft 3 1/2 in". Raises ValueError."""
    large, small = find_unit(found["large"]), find_unit(found["small"])
    rest = _WITH_UNIT.fullmatch(found["rest"])
    if large is None or small is None or rest is None or large.si != small.si:
        raise ValueError(f"“{shorten(text)}” cannot be read; write it in one unit")
    if name != _NAME_OF[large.si]:
        raise ValueError(f"“{shorten(text)}” is a {_NAME_OF[large.si]}, and a {name} is needed")
    whole, part = large.unit.to_si(decimal(found["first"])), small.unit.to_si(_value(rest, text))
    if part >= large.unit.to_si(1.0):
        raise ValueError(f"“{shorten(text)}” has more than one {large.unit.symbol} in its second part; use one unit")
    return clean(whole + part)


_NAME_OF = {"m": "length", "kg": "mass", "m³": "volume"}


def _value(found: re.Match[str], text: str) -> float:
    value = decimal(found["decimal"] or found["whole"] or "0")
    if found["over"] is not None:
        if int(found["under"]) == 0:
            raise ValueError(f"“{text}” has a zero denominator")
        value += float(Fraction(int(found["over"]), int(found["under"])))
    return value


def _unit(symbol: str, bare: Unit, name: str, text: str) -> Unit:
    """The unit of a typed figure. Raises ValueError for an unknown one and for one of another quantity."""
    wanted = find_unit(bare.symbol)
    if name == "pressure" and symbol.casefold() in {"psig", "psi g", "barg", "bar g", "kpag"}:
        symbol = symbol[:-1]
    found = find_unit(symbol)
    if wanted is None or found is None or found.si != wanted.si:
        raise ValueError(f"“{shorten(text)}”: {_not_a_unit(symbol, bare, name, found)}")
    return found.unit


def _not_a_unit(symbol: str, bare: Unit, name: str, found: NamedUnit | None) -> str:
    known = [one for one in same_quantity(bare.symbol) if one not in _ODD_UNITS]
    what = f"“{shorten(symbol)}” is not a unit of {name}"
    if found is not None and found.unit.symbol == "oz":
        what += " but of mass" + ("; the volume is “fl oz”" if name == "volume" else "")
    if symbol.casefold() in {"psia", "bara", "kpaa"}:
        what += ": gauge pressure is needed, which is 0 in the open"
    return f"{what}; use one of {', '.join(known)}"


_ODD_UNITS = {"m³/s", "K", "ft³/s", "in³", "g/cm³", "mmH₂O", "oz/qt", "kg/L"}  # are read, and not offered


def also_in(text: str, kind: str, system: str) -> str:
    """A typed figure in the reader's unit, as in "= 1.496 in", where it was typed in a unit of the other system.

    Empty for a unit of the reader's system, and for a text that cannot be read.
    """
    try:
        plain = typed(text)
        found = _WITH_UNIT.fullmatch(_fractions(plain))
        if found is None or found["unit"] is None:
            return ""
        unit = _unit(found["unit"], entry_unit(kind, system), _NAMES.get(kind, kind), plain)
        if not is_foreign(unit.symbol, system):
            return ""
        return f"= {in_entry_unit(read_quantity(plain, kind), kind, system)}"
    except ValueError:
        return ""


def in_entry_unit(value: float, kind: str, system: str) -> str:
    """A figure in SI in the entry unit of a kind, with four digits."""
    unit = entry_unit(kind, system)
    return f"{unit.from_si(value):.4g} {unit.symbol}"


def is_bare(text: str) -> bool:
    """True for a number or a fraction without a unit."""
    short = len(text.strip()) <= LONGEST
    return is_number(text) or (short and _FRACTION_ALONE.fullmatch(_fractions(text)) is not None)


def with_unit(text: str, kind: str, system: str) -> str:
    """A typed text with the unit that a number without one has; other texts are unchanged.

    A text that is stored must have its unit: the reader may choose other units afterwards.
    """
    plain = " ".join(text.split())
    bare = is_number(plain) or (system != "metric" and is_bare(plain))
    return f"{plain} {entry_unit(kind, system).symbol}" if bare else text


def with_units(texts: Mapping[str, str], kinds: Mapping[str, str], system: str) -> dict[str, str]:
    """Typed texts by entry, as ``with_unit`` returns them; ``kinds`` has the entries with a figure."""
    return {name: with_unit(text, kinds[name], system) if kinds.get(name) else text for name, text in texts.items()}


_FRACTION_ALONE = re.compile(_QUANTITY_NUMBER)


def _fractions(text: str) -> str:
    """The text with “1½” as “1 1/2”, with single spaces."""
    return " ".join("".join(f" {_VULGAR[sign]}" if sign in _VULGAR else sign for sign in text).split())


def _bare(number: float) -> float:
    if isinstance(number, bool):
        raise ValueError(f"“{number}” is not a number")  # noqa: TRY004  every reader raises ValueError
    return finite(number)


def _without_unit(text: str, value: float, bare: Unit, example: str) -> str:
    if bare.symbol == "mm":
        return f"“{text}” can be read two ways: write “{text} in” for inches, or “{value:g} mm” for millimetres"
    return f"“{text}” lacks its unit; write it like {example}"


def read_temperature(text: str | float, system: str = "metric") -> float:
    """A temperature in K from "18 °C", "65 °F" or a number without a unit, which is in °C in metric units.

    Raises ValueError.
    """
    kelvin = read_quantity(text, "temperature", system)
    if kelvin < 0:
        raise ValueError(f"“{text}” is below absolute zero, -273.15 °C")
    return kelvin


def within(read: Callable[[Any], float], low: float, high: float) -> Callable[[Any], float]:
    """A reader that refuses what no workshop has: a wrong unit or a slip of a decimal point."""

    def checked(raw: Any) -> float:
        value = read(raw)
        if not low <= value <= high:
            what = "must be greater than 0" if value <= 0.0 < low else "is not plausible; check its unit"
            raise ValueError(f"“{shorten(raw)}” {what}")
        return value

    return checked


def unknown_entry(name: str, known: Mapping[str, Any]) -> str:
    """What is wrong with a name that is not an entry."""
    near = get_close_matches(name, list(known), n=1)
    remedy = f"did you mean “{near[0]}”?" if near else f"known: {', '.join(known)}"
    return f"“{shorten(name)}” is not known here; {remedy}"
