"""Decimal places of a value and its interval, and their text without a unit.

The basis of rounding in :mod:`frothline.estimate` and :mod:`frothline.formatting`; it imports no other module of the
package.

The Particle Data Group's rule (Review of Particle Physics, Introduction, section 5.3): of the three leading digits of
the uncertainty, 100 to 354 keep two digits, 355 to 949 keep one, 950 to 999 become 1000 and keep two. It is applied to
half the interval, and the ends of the interval are rounded outwards.
"""

from __future__ import annotations

import math

UNKNOWN_INTERVAL = "interval not known"
NOISE = 1e-9  # of the larger end: an interval less wide is rounding of floating-point numbers


def decimals_for(half: float) -> int:
    """Decimal places supported by half an interval; may be negative (tens, hundreds)."""
    exponent = math.floor(math.log10(half))
    leading = round(half / 10.0**exponent * 100)
    # 950 to 999 become 1000 and keep two digits; the last has the place of the one digit of 355 to 949.
    return 1 - exponent if leading <= 354 else -exponent


def to_digits(value: float, digits: int) -> str:
    """The value rounded to significant digits, at least to a whole number, without an exponent."""
    places = 0 if value == 0 else digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, places):.{max(places, 0)}f}"


def rounded(value: float, decimals: int) -> str:
    """Decimal text; without an exponent, and without a minus before zero."""
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    if not text.startswith("-"):
        return text
    return text[1:] if not text.strip("-0.") else f"−{text[1:]}"


def bounds(lower: float, upper: float, decimals: int) -> tuple[str, str]:
    """Both ends, rounded outwards."""
    step = 10.0**decimals
    # One part in 10^9 prevents binary rounding from moving a bound that already ends at this place to the next one; it
    # is far below one step, so that the ends keep their order.
    down = math.floor(lower * step + min(NOISE * max(1.0, abs(lower * step)), 0.001)) / step
    up = math.ceil(upper * step - min(NOISE * max(1.0, abs(upper * step)), 0.001)) / step
    return rounded(down, decimals), rounded(up, decimals)


def value_and_interval(value: float, lower: float, upper: float) -> tuple[str, str]:
    """Value and interval as text, rounded by the interval: ``("12.3", "11.9 to 12.9")``. ``value`` is finite."""
    half = (upper - lower) / 2
    if not math.isfinite(half) or half <= NOISE * max(abs(lower), abs(upper)):
        return f"{value:.3g}", UNKNOWN_INTERVAL
    decimals = decimals_for(half)
    if (lower > 0.0 or upper < 0.0) and not round(value, decimals):  # an interval without zero has no value of zero
        decimals = 1 - math.floor(math.log10(abs(value)))
    begin, end = bounds(lower, upper, decimals)
    return rounded(value, decimals), f"{begin} to {end}"


def value_and_interval_to(value: float, lower: float, upper: float, digits: int) -> tuple[str, str]:
    """Value and interval as text with ``digits`` significant digits of the value; the ends are rounded outwards to its
    place.

    A value of zero, or of a rounding error, takes its digits from the wider side of the interval. ``value`` is finite.
    """
    widest = max(abs(end) if math.isfinite(end) else 0.0 for end in (lower, upper))
    scale = value if abs(value) > NOISE * widest else widest
    decimals = digits - 1 - int(f"{scale:.{digits - 1}e}".partition("e")[2]) if scale else digits - 1
    text = rounded(value, decimals)
    below, above = math.isfinite(lower), math.isfinite(upper)
    if not (below or above) or lower == upper:
        return text, UNKNOWN_INTERVAL
    begin, end = bounds(lower if below else value, upper if above else value, decimals)
    if not above:
        return text, f"{begin} or more"
    return text, f"{begin} to {end}" if below else f"{end} or less"


def counted(count: int, noun: str, plural: str = "") -> str:
    """A number with its noun, as in "1 frame" and "2 frames". ``plural`` : empty for the noun with an s."""
    return f"{count} {noun if count == 1 else plural or noun + 's'}"
