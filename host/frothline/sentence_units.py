"""Sentences with figures in metric units, written in the reader's units.

Packages that calculate write their findings in metric units: "operating point 12.3 kPa and 9.87 L/s". Pages, command
line and reports pass such sentences through ``in_units`` once, as they show them. Text in “quotation marks” is what a
person typed, a name or a file, and is unchanged.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cache
from html import escape

from frothline.rounding import to_digits
from frothline.units import Unit, find_unit

# Metric unit of a sentence -> the unit of the reader with inch-pound units.
_US = {
    "mm": "in",
    "cm": "in",
    "m": "ft",
    "g": "oz",
    "kg": "lb",
    "L": "gal",
    "mL": "fl oz",
    "Pa": "inH₂O",
    "kPa": "inH₂O",
    "mbar": "inH₂O",
    "hPa": "inHg",
    "bar": "psi",
    "L/s": "cfm",
    "L/min": "gal/min",
    "N": "lbf",
    "kg/m³": "lb/ft³",
    "kg/m3": "lb/ft³",
    "m/s": "ft/min",
    "g/s": "lb/min",
    "°C": "°F",
    "K": "°F",  # a difference
}
_NUMBER = r"[-−+±]?\d{1,15}(?:\.\d{1,15})?"
_UNITS = "|".join(sorted(map(re.escape, _US), key=len, reverse=True))
_FIGURE = re.compile(
    rf"“[^”]*”|(?<![\w.,/^-])(?P<first>{_NUMBER})(?P<range>(?:(?: to | and |, ){_NUMBER}){{0,4}})"
    rf"(?P<gap>[ \u00a0])(?P<unit>{_UNITS})(?![\w/²³·]| s)"
    rf"(?P<interval> \({_NUMBER} (?:to {_NUMBER}|or more)(?=[,)]))?"
)
# a factor whose unit is in its name: "packing length (mm) from 250 to 400"
_FACTOR = re.compile(rf"“[^”]*”|\((?P<unit>{_UNITS})\) from (?P<low>{_NUMBER}) to (?P<high>{_NUMBER})(?![\w/])")
_PART = re.compile(_NUMBER)


def in_units(text: str, system: str, names: Collection[str] = ()) -> str:
    """The sentence in a system of units ("metric" or "inch-pound").

    Figures keep their number of digits, two at least. The numbers of a range or a list share the unit at its end; the
    interval in brackets after a figure has the figure's unit.
    ``names`` : names, files and typed texts, which are unchanged where they occur

    >>> in_units("needs 5.0 to 7.5 kPa at 12 L/s", "inch-pound")
    'needs 20 to 30 inH₂O at 25 cfm'
    """
    if system == "metric":
        return text
    parts = [_all(text)] if not (kept := _with_figure(names)) else []
    if kept:
        split = re.split(f"({'|'.join(map(re.escape, kept))})", text)
        parts = [part if number % 2 else _all(part) for number, part in enumerate(split)]
    return "".join(parts)


def in_units_html(html: str, system: str, names: Collection[str] = ()) -> str:
    """HTML whose texts are in a system of units, as ``in_units`` writes them. Attributes are unchanged, and so is the
    text of an element with ``translate="no"``, of ``pre``, ``script`` and ``style``.

    >>> in_units_html('<p title="5 kPa">5 kPa <b translate="no">5 kPa</b></p>', "inch-pound")
    '<p title="5 kPa">20 inH₂O <b translate="no">5 kPa</b></p>'
    """
    if system == "metric":
        return html
    kept, verbatim, depth = [escape(name) for name in names], "", 0
    parts = _TAG.split(html)
    for number, part in enumerate(parts):
        if number % 2 == 0:
            parts[number] = part if verbatim else in_units(part, system, kept)
            continue
        name = part.strip("</>").split(maxsplit=1)[0].casefold()
        if verbatim:
            depth += 0 if name != verbatim else -1 if part.startswith("</") else 1
            verbatim = verbatim if depth else ""
        elif not part.startswith("</") and (name in _VERBATIM or 'translate="no"' in part):
            verbatim, depth = name, 1
    return "".join(parts)


_TAG = re.compile(r"(<[a-zA-Z/!][^>]*>)")
_VERBATIM = ("pre", "script", "style")


def shown_in(unit: Unit, system: str) -> Unit:
    """The reader's unit in place of a metric one, with its factor from SI; a unit of both systems is unchanged."""
    if system == "metric" or unit.symbol not in _US:
        return unit
    there, factor, offset = _conversion(unit.symbol)
    return Unit(there, unit.factor * factor, unit.offset * factor + offset, signed=unit.signed)


def _all(text: str) -> str:
    return _FACTOR.sub(_factor, _FIGURE.sub(_written, text))


def _with_figure(names: Collection[str]) -> list[str]:
    """The names that have a figure in metric units, the longest first."""
    return sorted((name for name in names if _FIGURE.search(name)), key=len, reverse=True)


def _factor(found: re.Match[str]) -> str:
    if found["unit"] is None:
        return found[0]
    there, factor, offset = _conversion(found["unit"])
    low, high = (_number(found[end], factor, offset) for end in ("low", "high"))
    return f"({there}) from {low} to {high}"


def _written(found: re.Match[str]) -> str:
    if found["unit"] is None:
        return found[0]
    there, factor, offset = _conversion(found["unit"])
    numbers = found["first"] + found["range"]
    interval = _PART.sub(lambda one: _number(one[0], factor, offset), found["interval"] or "")
    return f"{_PART.sub(lambda one: _number(one[0], factor, offset), numbers)}{found['gap']}{there}{interval}"


@cache
def _conversion(unit: str) -> tuple[str, float, float]:
    """The reader's unit, and ``shown = value * factor + offset``."""
    here, there = find_unit(unit), find_unit(_US[unit])
    assert here is not None
    assert there is not None
    a, b = here.unit, there.unit
    if unit == "K":
        return b.symbol, b.factor, 0.0
    return b.symbol, b.factor / a.factor, _offset(a, b)


def _offset(a: Unit, b: Unit) -> float:
    return b.offset - a.offset * b.factor / a.factor


def _number(text: str, factor: float, offset: float) -> str:
    sign = text[0] if text[0] in "+±" else ""
    value = float(text.lstrip("+±").replace("−", "-")) * factor + offset
    digits = max(len(text.lstrip("-−+±0.").replace(".", "")), 2)
    if value == 0:
        return f"{sign}0"
    shown = to_digits(value, digits)
    return sign + (shown.replace("-", "−") if "−" in text else shown)
