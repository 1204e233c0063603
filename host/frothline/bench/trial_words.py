"""The figures of a trial and the entries of a sheet in words, with the units that a reader sees."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from frothline.bench.build import entries
from frothline.bench.sheet import write_value
from frothline.estimate import Estimate
from frothline.units import METRIC, Unit


@dataclass(frozen=True)
class Figure:
    """One figure of a trial: its attribute, words for it, SI unit, and the quantity by which it is shown."""

    name: str
    label: str
    unit: str
    quantity: str


FIGURES = (
    Figure("line_pressure", "line pressure", "Pa", "pressure"),
    Figure("air_rate", "air rate, free air", "m3/s", "flow"),
    Figure("density", "foam density", "kg/m3", "density"),
    Figure("expansion", "expansion ratio", "1", ""),
    Figure("output", "foam output", "m3/s", "foam_rate"),
    Figure("drainage", "25 % drainage time", "s", "time"),
    Figure("solution_use", "solution use", "m3/s", "foam_rate"),
    Figure("capture", "share of the air caught", "1", ""),
    Figure("water_temperature", "water temperature", "K", "temperature"),
)
BY_NAME: Mapping[str, Figure] = {one.name: one for one in FIGURES}
RATIO = Unit("", 1.0)


def unit_of(figure: Figure, system: Mapping[str, Unit] = METRIC) -> Unit:
    """The unit a reader sees."""
    return system[figure.quantity] if figure.quantity else RATIO


def spoken(path: str) -> str:
    """An entry of the sheet in words: "outlet.bore" is the outlet bore."""
    return path.replace(".", " ").replace("_", " ")


def entry_words(path: str, value: Any) -> str:
    """A value of the build as its sheet writes it."""
    part, _, name = path.partition(".")
    if value is None:
        return "not given"
    kind = next(f.metadata["kind"] for f in entries(part) if f.name == name)
    if kind == "list":
        return ", ".join(value) or "none"
    return write_value(value, kind)


def shown(estimate: Estimate | None, unit: Unit) -> str:
    """The value with its unit, rounded to what the interval supports; a dash when it is not known."""
    if estimate is None or not estimate.known:
        return "–"
    return f"{unit.from_si(estimate.value):.{_digits(estimate, unit)}f} {unit.symbol}".rstrip()


def spread(estimate: Estimate | None, unit: Unit) -> str:
    """The interval in words; empty when it is not known."""
    if estimate is None or not estimate.known:
        return ""
    digits = _digits(estimate, unit)
    low, high = unit.from_si(estimate.lower), unit.from_si(estimate.upper)
    if not (math.isfinite(low) and math.isfinite(high)):
        return "interval not known"
    return f"{low:.{digits}f} to {high:.{digits}f}"


def _digits(estimate: Estimate, unit: Unit) -> int:
    """Decimals: two figures of the standard uncertainty, three of the value where that is not known."""
    u = abs(estimate.standard_uncertainty * unit.factor)
    value = abs(unit.from_si(estimate.value))
    if math.isfinite(u) and u > 0:
        return min(max(0, 1 - math.floor(math.log10(u))), 6)
    return min(max(0, 2 - math.floor(math.log10(value))), 6) if value > 0 else 2
