"""Figures that are typed with or without their 95 % interval, like "75 kg/m³ (73 to 77)"."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from frothline.estimate import Z95, Estimate
from frothline.quantities import DECIMAL, shorten, typed, with_unit

_WITH_INTERVAL = re.compile(
    r"(?P<value>[^()]{1,40}?) ?\((?P<low>[^()]{1,20}?) to (?P<high>[^()]{1,20}?)(?:, ?95 ?%)?\)"
)
_UNIT_BEHIND = re.compile(rf"[+-]?{DECIMAL} ?(?P<unit>[^\d\s].*)?")
WITH_INTERVAL = "with the interval given"  # assumption of such an estimate
_EITHER_WAY = ("±", "+/-", "+-")


def read_stated(raw: Any, read: Callable[[Any], float], unit: str, u: Callable[[float], float]) -> Estimate:
    """A figure with its 95 % interval, like "60 L/min (55 to 65)"; ``u`` gives the standard uncertainty of one without.

    Raises ValueError, also for one with ±, which is half an interval to some and a standard uncertainty to others.
    """
    if isinstance(raw, Estimate):
        return raw
    found = _WITH_INTERVAL.fullmatch(typed(raw)) if isinstance(raw, str) else None
    if found is None:
        if isinstance(raw, str) and any(sign in raw for sign in _EITHER_WAY):
            raise ValueError(f"“{shorten(raw)}” can be read two ways: write the 95 % interval, like 75 (73 to 77)")
        value = read(raw)
        return Estimate.normal(value, u(value), unit, assumptions=("as given",))
    symbol = _unit_of(found["value"])
    ends = [end if not symbol or _unit_of(end) else f"{end} {symbol}" for end in (found["low"], found["high"])]
    value, low, high = read(found["value"]), read(ends[0]), read(ends[1])
    if not low < high or not low <= value <= high:
        raise ValueError(f"“{shorten(raw)}”: the value is not inside its interval, or the interval is empty")
    return Estimate(value, (high - low) / (2 * Z95), low, high, unit, assumptions=(WITH_INTERVAL,))


def with_stated_unit(text: str, kind: str, system: str) -> str:
    """A typed text with the unit of its kind where it has none, as ``quantities.with_unit``, before its interval."""
    found = _WITH_INTERVAL.fullmatch(" ".join(text.split()))
    if found is None:
        return with_unit(text, kind, system)
    ends = f"({found['low']} to {found['high']})"
    return f"{with_unit(found['value'], kind, system)} {ends}"


def _unit_of(text: str) -> str:
    """The unit behind a number; empty without one."""
    found = _UNIT_BEHIND.fullmatch(text)
    return "" if found is None else found["unit"] or ""
