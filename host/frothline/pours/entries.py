"""Single entries of a pour's file: ages, times, dates, and figures within what a workshop has."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from frothline.quantities import DECIMAL, decimal, finite, read_quantity, shorten, typed

DAY = 86400.0  # s
FURTHEST_AHEAD = timedelta(hours=14)  # of local times on Earth: UTC+14, Kiribati
CLOCKS_APART = timedelta(minutes=10)  # of another computer's clock from this one's; judgement, no source
_AGE = re.compile(rf"(?P<value>{DECIMAL}) ?(?P<unit>d|days?|h|hours?|weeks?|min|minutes?)?", re.IGNORECASE)
_AGES = {"": DAY, "d": DAY, "day": DAY, "days": DAY, "h": 3600.0, "hour": 3600.0, "hours": 3600.0}
_AGES |= {"week": 7 * DAY, "weeks": 7 * DAY, "min": 60.0, "minute": 60.0, "minutes": 60.0}
_SECONDS = re.compile(rf"(?P<value>{DECIMAL}) ?(?P<unit>s|min)?", re.IGNORECASE)


def read_age(text: str | float) -> float:
    """An age in s from "28 d", "36 h", "4 weeks", "45 min" or a bare number of days. Raises ValueError."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        value, unit = finite(text), ""
    else:
        found = _AGE.fullmatch(typed(str(text)))
        if found is None:
            raise ValueError(f"“{shorten(text)}” is not an age; write it like 28 d or 36 h")
        value, unit = decimal(found["value"]), (found["unit"] or "").casefold()
    if value <= 0.0:
        raise ValueError(f"“{shorten(text)}” must be greater than 0")
    return value * _AGES[unit]


def read_seconds(text: str | float) -> float:
    """A short time in s from "22 s", "2 min" or a bare number of seconds. Raises ValueError."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return finite(text)
    found = _SECONDS.fullmatch(typed(str(text)))
    if found is None:
        raise ValueError(f"“{shorten(text)}” is not a time; write it like 22 s")
    return decimal(found["value"]) * (60.0 if (found["unit"] or "").casefold() == "min" else 1.0)


def reader_of(kind: str) -> Callable[[Any], float]:
    """A reader of figures of a kind, a key of ``units.ENTRY_UNITS``, in SI."""
    return lambda raw: read_quantity(raw, kind)


MASS, SMALL_MASS = (1e-3, 1e5), (1e-4, 1e3)  # kg
VOLUME, LENGTH, DENSITY = (1e-6, 1e3), (1e-3, 1e2), (1.0, 2e4)  # m³, m, kg/m³
# What a workshop has; judgement, no source. A target between foam and mortar, kg/m³; lift and spread, m; a cone, s; K.
TARGET, LIFT, SPREAD, CONE = (150.0, 2600.0), (1e-3, 20.0), (0.02, 3.0), (1.0, 3600.0)
FRESH, OUTSIDE = (268.15, 363.15), (233.15, 333.15)
CRUSHED = (3600.0, 100 * 365 * DAY)  # s, age of a specimen: it has set


def wrong_at(readers: Mapping[str, Mapping[str, Callable[[Any], Any]]], path: str, text: str) -> str:
    """What is wrong with an entry, by its path like "masses.cement"; empty if it can be read.

    readers : of each entry by table
    """
    table, _, key = path.rpartition(".")
    try:
        readers[table][key](text)
    except (ValueError, TypeError, KeyError) as error:
        return str(error)
    return ""


def as_written(document: Mapping[str, Any], tables: Mapping[str, Iterable[str]]) -> dict[str, str | float]:
    """Known entries as they are in a file, readable or not, by path like "masses.cement"; ``tables``: keys by table."""
    found: dict[str, str | float] = {}
    for table, keys in tables.items():
        values = document.get(table, {}) if table else document
        if isinstance(values, Mapping):
            own = ((key, values[key]) for key in keys if key in values)
            found |= {
                f"{table}.{key}".lstrip("."): one if isinstance(one, str | float) else str(one) for key, one in own
            }
    return found


def utc_now() -> datetime:
    """The time now, in UTC, by this computer."""
    return datetime.now(UTC)


def is_future(moment: datetime | date) -> bool:
    """Whether a local time or date has not come anywhere on Earth yet; a time with its zone may be 10 min ahead."""
    now = utc_now()
    latest = (now + FURTHEST_AHEAD).replace(tzinfo=None)
    if not isinstance(moment, datetime):
        return moment > latest.date()
    return moment > latest if moment.tzinfo is None else moment > now + CLOCKS_APART


def read_moment(raw: Any) -> datetime | date:
    """A date or a time as TOML has it, or as text. Raises ValueError, also for one in the future."""
    moment = raw
    if not isinstance(raw, (datetime, date)):
        try:
            moment = datetime.fromisoformat(str(raw).strip())
        except ValueError:
            example = "2025-04-12 or 2025-04-12T15:30:00"
            raise ValueError(f"“{shorten(raw)}” is not a date; write it like {example}") from None
    if is_future(moment):
        now = f"{utc_now():%Y-%m-%d %H:%M} UTC"
        raise ValueError(f"“{shorten(raw)}” is in the future: it is {now} by this computer; check the date")
    found: datetime | date = moment
    return found


def crushed_too_early(poured: datetime | date | None, age: float, written: object) -> str:
    """What is wrong with the age (s) of a cube whose day of crushing has not come; empty if it has, or is not known.

    written : the age as it is written, for the message
    """
    if poured is None or not math.isfinite(age):
        return ""
    begin = poured if isinstance(poured, datetime) else datetime.combine(poured, time())
    try:
        day = (begin + timedelta(seconds=age)).date()
    except OverflowError:
        day = date.max
    if not is_future(day):
        return ""
    said = f"age “{shorten(written)}” is {day}, which is in the future"
    return f"{said}: check the age, and the date of the pour"
