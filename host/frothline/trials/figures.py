"""The figures of a trial: attributes, labels and units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from frothline.formatting import RATIO
from frothline.units import METRIC, Unit


@dataclass(frozen=True)
class TrialFigure:
    """One figure of a trial: attribute, label, SI unit, and quantity for its display."""

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
    TrialFigure("capture", "air retained in foam", "1", ""),
    TrialFigure("water_temperature", "water temperature", "K", "temperature"),
)


BY_NAME: Mapping[str, TrialFigure] = {one.name: one for one in FIGURES}


def unit_of(figure: TrialFigure, system: Mapping[str, Unit] = METRIC) -> Unit:
    """The displayed unit."""
    return system[figure.quantity] if figure.quantity else RATIO
