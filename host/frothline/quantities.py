"""Numbers as people type them: one reading for every page, option and file.

A number has a decimal point or a decimal comma, at most 15 figures on either side, and perhaps an exponent. A comma
before exactly three digits is asked back: ``1,200`` is 1200 in some countries and 1.2 in others. ``nan``, ``inf`` and
text longer than ``LONGEST`` are refused. All patterns have bounded repeats, so reading takes time proportional to the
length of the text. Every function raises ValueError in words that a builder understands.
"""

from __future__ import annotations

import math
import re

LONGEST = 80  # characters of a typed figure with its unit
_SHOWN = 40  # characters of a wrong entry that a message repeats
DIGITS = r"\d{1,15}"  # more are a slip of the hand
DECIMAL = rf"{DIGITS}(?:[.,]\d{{0,15}})?|[.,]{DIGITS}"
_NUMBER = re.compile(rf"[+-]?(?:{DECIMAL})(?:[eE][+-]?\d{{1,2}})?")
_TWO_WAYS = re.compile(r"(?<!\d)(\d{1,15}),(\d{3})(?!\d)")
_SEVERAL = re.compile(r"\d[.,]\d{1,15}[.,]\d")


def shorten(value: object) -> str:
    """What a message repeats of an entry: its beginning, where it is long."""
    try:
        text = str(value)
    except ValueError:  # a whole number of thousands of digits
        return "a number of thousands of digits"
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def typed(text: str) -> str:
    """The text as one line with single spaces. Raises ValueError where it is too long or its comma is ambiguous."""
    if len(text) > LONGEST and len(text.strip()) > LONGEST:
        what = f"“{shorten(text.strip())}” is not a figure"
        raise ValueError(f"{what}: it has {len(text)} characters, at most {LONGEST} are read")
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
    """A finite number from "1.5", "1,5", "-3", "2e3", or one that a file holds already."""
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
    """Whether a text is a bare number, without a unit."""
    return len(text.strip()) <= LONGEST and _NUMBER.fullmatch(" ".join(text.split()).replace("−", "-")) is not None


def decimal(text: str) -> float:
    """The value of a text that matches ``DECIMAL``, checked by ``typed`` before."""
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
    """The value. Raises ValueError where it is below ``low``, above ``high``, or not above ``above``."""
    if value < low or value > high or value <= above:
        least = f"greater than {above:g}" if math.isfinite(above) else f"{low:g} or more"
        if math.isfinite(high):
            least = f"{low:g} to {high:g}" if math.isfinite(low) else f"{least}, at most {high:g}"
        raise ValueError(f"{value:g} must be {least}")
    return value
