"""The figures of a trial and the entries of a sheet in words, with the units that a reader sees."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from frothline.bench.build import entries
from frothline.bench.sheet import write_value
from frothline.formatting import RATIO
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
