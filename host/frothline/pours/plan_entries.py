"""Entries of a pour plan: one table for the file, the command line and the page, and how each is read.

A wrong entry never stops the others from being read: all problems are collected by name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Any

from frothline.estimate import Estimate
from frothline.foam.life import LONGEST, SHORTEST
from frothline.foam.typed_figures import U_TYPED_DENSITY, U_TYPED_OUTPUT
from frothline.pours.duty import Duty
from frothline.pours.entries import TARGET
from frothline.pours.stated import read_stated
from frothline.quantities import (
    DECIMAL,
    clean,
    decimal,
    finite,
    read_number,
    read_quantity,
    shorten,
    typed,
    unknown_entry,
    within,
)

MINUTE, HOUR = 60.0, 3600.0
_SPAN = re.compile(rf"(?P<value>{DECIMAL}) ?(?P<unit>s|min|h)", re.IGNORECASE)
_SPANS = {"s": 1.0, "min": MINUTE, "h": HOUR}
_DUTY = re.compile(r"(?P<on>.{1,20}?) on ?,? ?(?P<rest>.{1,20}?) rest")
_TIME = rf"(?:{DECIMAL}) ?(?:s|min|h)"
_WITH_DUTY = re.compile(rf"(?P<output>.{{1,60}}?) ?, ?(?P<duty>{_TIME} on ?,? ?{_TIME} rest)")


@dataclass(frozen=True)
class PlanEntry:
    """One entry. ``name`` is that of the option and of the page; ``path`` its place in the file, "table.key".

    kind : see ``_READERS``;  low, high : limits in SI;  usual : its text when it is not given, empty for none
    """

    name: str
    path: str
    kind: str
    label: str
    usual: str = ""
    about: str = ""
    low: float = 0.0
    high: float = 1e9
    choices: tuple[str, ...] = ()


def _times(*rows: tuple[str, str, str, str]) -> tuple[PlanEntry, ...]:
    return tuple(
        PlanEntry(name, f"times.{name}", "span", label, usual, about, 0.0, 4 * HOUR)
        for name, label, usual, about in rows
    )


ENTRIES: tuple[PlanEntry, ...] = (
    PlanEntry("volume", "form.volume", "concrete", "Volume to pour", "", "or length, width and height", 1e-3, 200.0),
    PlanEntry("length", "form.length", "length", "Form, length", "", "", 1e-2, 200.0),
    PlanEntry("width", "form.width", "length", "Form, width", "", "", 1e-2, 200.0),
    PlanEntry("height", "form.height", "length", "Form, height", "", "", 1e-2, 20.0),
    PlanEntry("waste", "form.waste", "share", "Waste", "5 %", "spilled and left in the mixer", 0.0, 0.5),
    PlanEntry("lift", "form.lift", "length", "Highest lift", "500 mm", "", 2e-2, 20.0),
    PlanEntry(
        "wait", "form.wait", "span", "Between two lifts", "24 h", "until the lower one has set", 0.0, 1000 * HOUR
    ),
    PlanEntry("density", "concrete.density", "density", "Target density", "600 kg/m³", "", *TARGET),
    PlanEntry("basis", "concrete.basis", "choice", "Density basis", "cast", choices=("cast", "dry")),
    PlanEntry("water-cement", "concrete.water_cement", "number", "Water to cement", "0.5", "by mass", 0.2, 2.0),
    PlanEntry("sand-cement", "concrete.sand_cement", "number", "Sand to cement", "0", "by mass", 0.0, 8.0),
    PlanEntry("bag", "concrete.bag", "bag", "Bag of cement", "25 kg", "", 1.0, 2000.0),
    PlanEntry("mixer", "mixer.volume", "volume", "Mixer, to the brim", "120 L", "", 1e-3, 20.0),
    PlanEntry("fill", "mixer.fill", "share", "Fill of the mixer", "60 %", "with the foam in it", 0.05, 1.0),
    PlanEntry("helpers", "team.helpers", "count", "People", "2", "who weigh, mix, carry and place", 1.0, 50.0),
    PlanEntry(
        "foam-density",
        "foam.density",
        "estimate-density",
        "Foam density",
        "",
        "as 75 kg/m³ (73 to 77)",
        10.0,
        400.0,
    ),
    PlanEntry("output", "foam.output", "estimate-flow", "Foam output", "", "as 60 L/min (55 to 65)", 1e-6, 0.2),
    PlanEntry(
        "survival", "foam.survival", "estimate-share", "Air surviving the mixer", "", "by cups, else assumed", 0.2, 1.0
    ),
    PlanEntry(
        "start-up", "foam.start_up", "estimate-span", "Start without foam", "", "by runs, else assumed", 0.0, MINUTE
    ),
    PlanEntry(
        "life",
        "foam.life",
        "span",
        "Foam is used within",
        "",
        "by the drainage of trials, else 5 min",
        SHORTEST,
        LONGEST,
    ),
    PlanEntry("dilution", "foam.dilution", "dilution", "Dilution", "", "like 1+40"),
    PlanEntry("reservoir", "foam.reservoir", "volume", "Reservoir", "", "solution when it is full", 2e-4, 10.0),
    PlanEntry("bucket", "foam.bucket", "volume", "Bucket for the foam", "10 L", "", 5e-4, 0.3),
    PlanEntry("dose", "foam.dose", "choice", "Foam measured by", "auto", choices=("auto", "time", "bucket", "scale")),
    PlanEntry("duty", "foam.duty", "duty", "Air source must rest", "", "as 10 min on, 20 min rest", 1.0, 24 * HOUR),
    PlanEntry(
        "source",
        "sources",
        "sources",
        "Further air sources",
        "",
        "as leaf blower: 240 L/min; inflator: 12 L/min, 10 min on, 20 min rest",
        1e-6,
        0.2,
    ),
    *_times(
        ("weigh", "Weigh a mix", "4 min", "one person"),
        ("load", "Load the mixer", "2 min", ""),
        ("slurry", "Mix the slurry", "3 min", ""),
        ("fold", "Fold the foam in", "2 min", ""),
        ("empty", "Empty the mixer", "3 min", ""),
        ("place", "Place and level", "4 min", "one person, for a mix"),
        ("refill", "Refill the reservoir", "3 min", ""),
        ("setting", "Cement sets from", "60 min", "after the first water"),
    ),
    PlanEntry("title", "title", "text", "Title"),
)  # the usual times, waste and fill are judgement, no source; 60 min: EN 197-1, class 42.5, from memory
BY_NAME = {one.name: one for one in ENTRIES}
BY_PATH = {one.path: one for one in ENTRIES}


def read_span(raw: Any) -> float:
    """A time in s from "4 min", "90 s" or "1.5 h". Raises ValueError, also without a unit."""
    if isinstance(raw, str) and (found := _SPAN.fullmatch(typed(raw))) is not None:
        return decimal(found["value"]) * _SPANS[found["unit"].casefold()]
    raise ValueError(f"“{shorten(raw)}” is not a time with its unit; write it like 4 min, 90 s or 1.5 h")


def read_share(raw: Any) -> float:
    """A share from "5 %" or 0.05. Raises ValueError for a number above 1 without the sign."""
    if isinstance(raw, str) and raw.strip().endswith("%"):
        return clean(read_number(raw.strip()[:-1]) / 100.0)
    value = read_number(raw)
    if value > 1.0:
        raise ValueError(f"“{shorten(raw)}” can be read two ways: write “{value:g} %” or a share up to 1")
    return value


def _count(raw: Any) -> float:
    value = read_number(raw)
    if value != int(value):
        raise ValueError(f"“{shorten(raw)}” is not a whole number")
    if value < 1:
        raise ValueError(f"“{shorten(raw)}” must be 1 or more: somebody has to run the mixer")
    return value


def read_duty(raw: Any) -> Duty:
    """How long an air source may run and then rests, from "10 min on, 20 min rest". Raises ValueError."""
    if isinstance(raw, Duty):
        return raw
    found = _DUTY.fullmatch(typed(raw)) if isinstance(raw, str) else None
    if found is None:
        raise ValueError(f"“{shorten(raw)}” is not a duty cycle; write it like 10 min on, 20 min rest")
    entry = BY_NAME["duty"]
    on, rest = (within(read_span, entry.low, entry.high)(found[name]) for name in ("on", "rest"))
    return Duty(on, rest)


def read_sources(raw: Any, read: Callable[[Any], Estimate]) -> dict[str, tuple[Estimate, Duty | None]]:
    """Foam output and duty cycle by air source; a source that need not rest has None.

    From a table or from "leaf blower: 240 L/min; inflator: 12 L/min, 10 min on, 20 min rest". Raises ValueError.
    """
    given: dict[str, Any] = {}
    if isinstance(raw, Mapping):
        given = dict(raw)
    else:
        parts = raw if isinstance(raw, (list, tuple)) else str(raw).split(";")
        for part in filter(None, (str(one).strip() for one in parts)):
            name, colon, text = part.partition(":")
            if not colon or not name.strip():
                raise ValueError(f"“{shorten(part)}” is not a source; write it like “leaf blower: 240 L/min”")
            given[name.strip()] = text.strip()
    found: dict[str, tuple[Estimate, Duty | None]] = {}
    for name, text in given.items():
        try:
            split = _WITH_DUTY.fullmatch(typed(text)) if isinstance(text, str) else None
            duty = None if split is None else read_duty(split["duty"])
            found[str(name)[:60]] = read(text if split is None else split["output"]), duty
        except ValueError as error:
            raise ValueError(f"source “{shorten(name)}”: {error}") from None
    return found


def _quantity(kind: str, entry: PlanEntry, system: str) -> Callable[[Any], float]:
    return within(lambda raw: read_quantity(raw, kind, system), entry.low, entry.high)


def _reader(entry: PlanEntry, system: str) -> Callable[[Any], Any]:
    kind = entry.kind
    if kind in {"text", "choice"}:
        return lambda raw: _choice(entry, raw)
    if kind == "duty":
        return read_duty
    if kind == "dilution":
        from frothline.foam.dilution import read_dilution  # noqa: PLC0415  it loads arrays, and options must not

        return read_dilution
    if kind == "sources":
        flow = _reader(BY_NAME["output"], system)
        return lambda raw: read_sources(raw, flow)
    plain: dict[str, Callable[[Any], float]] = {
        "number": lambda raw: finite(read_number(raw)),
        "share": read_share,
        "count": _count,
        "span": read_span,
    }
    stated, _, inner = kind.rpartition("-")
    base = plain.get(inner)
    read = within(base, entry.low, entry.high) if base is not None else _quantity(inner, entry, system)
    if not stated:
        return read
    units = {"density": "kg/m3", "flow": "m3/s", "share": "1", "span": "s"}
    relative = {"density": U_TYPED_DENSITY, "flow": U_TYPED_OUTPUT, "share": 0.02, "span": 0.25}[inner]

    def stated_figure(raw: Any) -> Estimate:
        found = read_stated(raw, read, units[inner], lambda value: relative * value)
        limited = inner == "share" and not isinstance(raw, Estimate)  # a share of the air is at most all of it
        return replace(found, upper=min(found.upper, 1.0)) if limited else found

    return stated_figure


def read_survival(raw: Any) -> Estimate:
    """The share of the foam's air that survives, from 0.9, "90 %" or "90 % (85 to 95)". Raises ValueError."""
    return read_foam_figure("survival", raw)


def read_foam_figure(name: str, raw: Any, system: str = "metric", *, limited: bool = True) -> Estimate:
    """A figure of the foam, by the name of its entry: "foam-density", "output", "survival" or "start-up".

    Text with or without its 95 % interval, like "75 kg/m³ (73 to 77)"; a number is in the units of ``system``, or a
    share. One function for batch, plan and jar. ``limited`` : refuse what no foam has; a batch asks it back itself, see
    ``foam.batch_check``. Raises ValueError.
    """
    entry = BY_NAME[name] if limited else replace(BY_NAME[name], low=0.0, high=inf)
    found: Estimate = _reader(entry, system)(raw)
    return found


def _choice(entry: PlanEntry, raw: Any) -> str:
    text = str(raw).strip()
    if entry.choices and text not in entry.choices:
        raise ValueError(f"“{shorten(text)}” is unknown; write {' or '.join(entry.choices)}")
    return text[:120]


def read_entries(given: Mapping[str, Any], system: str = "metric") -> tuple[dict[str, Any], dict[str, str]]:
    """Values in SI and problems, both by name of the entry; an entry that is missing or empty has its usual value.

    ``given`` : raw texts or numbers by name;  ``system`` : units of numbers without one
    """
    values: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for name in given:
        if name not in BY_NAME:
            wrong[name] = unknown_entry(name, BY_NAME)
    for entry in ENTRIES:
        raw = given.get(entry.name)
        own = raw is not None and (raw or raw == 0)
        if not own and not entry.usual:
            continue
        try:
            values[entry.name] = _reader(entry, system if own else "metric")(raw if own else entry.usual)
        except (ValueError, TypeError, OverflowError) as error:
            wrong[entry.name] = str(error)
    return values, wrong
