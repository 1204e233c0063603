"""Text of a figure: value, unit and 95 % interval, rounded to what the interval supports; a dash if unknown.

Pages, command line and reports call these functions. Rounding is that of :mod:`frothline.rounding`; no other module
rounds a figure that has an interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from frothline.estimate import NOT_CALIBRATED, Z95, Estimate
from frothline.rounding import UNKNOWN_INTERVAL, value_and_interval
from frothline.units import SYSTEMS, Unit

DASH = "–"
LEVEL = "95 %"
RATIO = Unit("", 1.0, signed=False)
PERCENT = Unit("%", 100.0, signed=False)
STEPS = (1.0, 5.0, 10.0, 30.0, 60.0, 300.0, 600.0, 3600.0)  # s, steps to which a time is rounded
FINEST = 0.28  # of half an interval, limit of the step of the last digit: the coarsest step of the rule above


@dataclass(frozen=True)
class Shown:
    """A figure as text: ``value`` (or a dash), its ``unit``, and ``under`` (its interval, or the reason why it is
    unknown).
    """

    value: str
    unit: str
    under: str

    @property
    def value_and_unit(self) -> str:
        return f"{self.value} {self.unit}".strip()

    @property
    def text(self) -> str:
        """The figure in one line; the level follows the interval."""
        level = f", {LEVEL}" if " to " in self.under or " or more" in self.under else ""
        return f"{self.value_and_unit} ({self.under}{level})"


def unit_of(quantity: str, system: str) -> Unit:
    """The unit of a quantity in a system of units; KeyError if either is unknown."""
    return SYSTEMS[system][quantity]


def show(value: float, u: float, quantity: str, system: str, *, reason: str = "", calibrated: bool = True) -> Shown:
    """Text of a reading in SI with its standard uncertainty; marked if it is not ``calibrated``."""
    return show_in(value, u, unit_of(quantity, system), reason=reason, calibrated=calibrated)


def show_in(value: float, u: float, unit: Unit, *, reason: str = "", calibrated: bool = True) -> Shown:
    """Text of a reading as :func:`show`, in a given unit."""
    half = Z95 * u
    shown = _show(value, value - half, value + half, unit, reason)
    return shown if calibrated or not math.isfinite(value) else _remarked(shown, NOT_CALIBRATED)


def show_estimate(estimate: Estimate | None, quantity: str, system: str, *, reason: str = "") -> Shown:
    """Text of an estimate in SI with its own interval; ``reason`` is used without one."""
    return show_estimate_in(estimate, unit_of(quantity, system), reason=reason)


def show_estimate_in(estimate: Estimate | None, unit: Unit, *, reason: str = "") -> Shown:
    """Text of an estimate as :func:`show_estimate`, in a given unit."""
    if estimate is None:
        return Shown(DASH, unit.symbol, reason or "not known yet")
    own = "; ".join(estimate.assumptions)  # the reason of an unknown value
    shown = _show(estimate.value, estimate.lower, estimate.upper, unit, reason or own)
    if estimate.known and estimate.extrapolated:
        shown = _remarked(shown, "beyond what was measured")
    if estimate.known and estimate.uncalibrated:
        shown = _remarked(shown, NOT_CALIBRATED)
    return shown


def _remarked(shown: Shown, words: str) -> Shown:
    return replace(shown, under=f"{shown.under}, {words}")


def show_difference(estimate: Estimate | None, unit: Unit, *, reason: str = "") -> Shown:
    """Text of a difference in SI, with its sign; the unit's offset is not applied, and it may be negative."""
    shown = show_estimate_in(estimate, replace(unit, offset=0.0, signed=True), reason=reason)
    positive = estimate is not None and estimate.known and not shown.value.startswith("−")
    return replace(shown, value=f"+{shown.value}") if positive else shown


def value_text(estimate: Estimate | None, unit: Unit) -> str:
    """Value and unit, as in "12.3 L/s"; a dash if unknown."""
    return DASH if estimate is None or not estimate.known else show_estimate_in(estimate, unit).value_and_unit


def interval_text(estimate: Estimate | None, unit: Unit) -> str:
    """The 95 % interval, as in "11.9 to 12.8"; empty if the value is unknown."""
    return "" if estimate is None or not estimate.known else show_estimate_in(estimate, unit).under


def full_text(estimate: Estimate | None, unit: Unit, *, reason: str = "") -> str:
    """Value, unit and interval, as in "12.3 L/s (11.9 to 12.8, 95 %)"; a dash with the reason if unknown."""
    return show_estimate_in(estimate, unit, reason=reason).text


def reading_text(value: float, u: float, unit: Unit, *, reason: str = "", calibrated: bool = True) -> str:
    """Value, unit and interval of a reading in SI with its standard uncertainty."""
    return show_in(value, u, unit, reason=reason, calibrated=calibrated).text


def difference_text(estimate: Estimate | None, unit: Unit, *, reason: str = "") -> str:
    """Value, unit and interval of a difference, as in "−2.8 L/s (−4.7 to −0.9, 95 %)"."""
    return show_difference(estimate, unit, reason=reason).text


def show_time(estimate: Estimate | None, *, reason: str = "") -> Shown:
    """Text of a remaining time: minutes and seconds, hours and minutes from an hour on; rounded by its interval."""
    if estimate is None or not estimate.known:
        return Shown(DASH, "min", reason or "not known yet")
    half = (min(estimate.upper, 2 * estimate.value) - estimate.lower) / 2
    # limited so that a roughly known time does not read as 0
    fine = [step for step in STEPS if step <= min(FINEST * half, estimate.value / 2)] or [STEPS[0]]
    value = round(estimate.value / fine[-1]) * fine[-1]
    hours = value >= 3600.0
    step = max(fine[-1], 60.0) if hours else fine[-1]

    def said(seconds: float) -> str:
        whole = round(max(seconds, 0.0))
        return f"{whole // 3600}:{whole % 3600 // 60:02d}" if hours else f"{whole // 60}:{whole % 60:02d}"

    # The tolerance prevents binary rounding from moving an end that is already on a step to the next one.
    low = math.floor(max(estimate.lower, 0.0) / step + 1e-9) * step
    high = math.ceil(estimate.upper / step - 1e-9) * step if math.isfinite(estimate.upper) else math.inf
    under = f"{said(low)} to {said(high)}" if math.isfinite(high) else f"{said(low)} or more"
    value = round(estimate.value / step) * step
    return Shown(said(value), "h" if hours else "min", under if half > 0 else UNKNOWN_INTERVAL)


def _show(value: float, lower: float, upper: float, unit: Unit, reason: str) -> Shown:
    if not math.isfinite(value):
        return Shown(DASH, unit.symbol, reason or "not known")
    if not unit.signed and value >= 0.0 > lower:
        lower = 0.0
    here = unit.from_si(value)
    low, high = sorted((unit.from_si(lower), unit.from_si(upper)))
    text, interval = value_and_interval(here, low, high)
    return Shown(text, unit.symbol, interval)


def three_figures(value: float) -> str:
    """An amount without an interval, with the precision of a bathroom scale and a bucket.

    >>> three_figures(12.3456), three_figures(0.01234), three_figures(123.4)
    ('12.3', '0.0123', '123')
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else DASH
    return f"{value:.{max(0, 2 - math.floor(math.log10(abs(value))))}f}"


def local_day(moment: datetime) -> str:
    """The date of a moment, as in "2025-04-12", in the computer's local calendar."""
    return f"{moment.astimezone():%Y-%m-%d}"


def local_time(moment: datetime) -> str:
    """A moment as in "2025-04-12 16:05 CEST": local time of the computer with its zone.

    A zone without a short name is written as its offset from UTC, as in "UTC+5:30".
    """
    local = moment.astimezone()
    name = local.tzname() or ""
    if not (name.isascii() and name.isalpha() and len(name) <= 5):
        minutes = round((local.utcoffset() or timedelta()).total_seconds() / 60)
        hours, rest = divmod(abs(minutes), 60)
        name = f"UTC{'-' if minutes < 0 else '+'}{hours}{f':{rest:02d}' if rest else ''}" if minutes else "UTC"
    return f"{local:%Y-%m-%d %H:%M} {name}"


def running_time(seconds: float) -> str:
    """Minutes and seconds, hours when there are any."""
    whole = max(0, int(seconds))
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def size(count: float) -> str:
    """Bytes as text with decimal prefixes."""
    for limit, name in ((1e3, "bytes"), (1e6, "kB"), (1e9, "MB")):
        if count < limit:
            return f"{count / (limit / 1e3):.0f} {name}" if name == "bytes" else f"{count / (limit / 1e3):.1f} {name}"
    return f"{count / 1e9:.1f} GB"
