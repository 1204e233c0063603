"""The figures of a trial and the entries of a sheet in words, with the units that a reader sees."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from frothline.formatting import RATIO
from frothline.units import METRIC, Unit


@dataclass(frozen=True)
class TrialFigure:
    """One figure of a trial: its attribute, words for it, SI unit, and the quantity by which it is shown."""

    name: str
    label: str
    unit: str
    quantity: str


FIGURES = (
    TrialFigure("line_pressure", "line pressure", "Pa", "pressure"),
    TrialFigure("air_rate", "air rate, free air", "m3/s", "flow"),
    TrialFigure("density", "foam density", "kg/m3", "density"),
    TrialFigure("expansion", "expansion ratio", "1", ""),
    TrialFigure("output", "foam output", "m3/s", "foam_rate"),
    TrialFigure("drainage", "25 % drainage time", "s", "time"),
    TrialFigure("solution_use", "solution use", "m3/s", "foam_rate"),
    TrialFigure("capture", "share of the air caught", "1", ""),
    TrialFigure("water_temperature", "water temperature", "K", "temperature"),
)


BY_NAME: Mapping[str, TrialFigure] = {one.name: one for one in FIGURES}


def unit_of(figure: TrialFigure, system: Mapping[str, Unit] = METRIC) -> Unit:
    """The unit a reader sees."""
    return system[figure.quantity] if figure.quantity else RATIO
