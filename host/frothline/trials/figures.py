"""The figures of a trial: attributes, labels and units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

from frothline.formatting import RATIO
from frothline.units import METRIC, Unit

if TYPE_CHECKING:
    from frothline.bubble_size.foam_photos import FoamPhotos


class WithOptionalFigures(Protocol):
    """What ``shown_figures`` needs of a trial."""

    @property
    def pours(self) -> tuple[str, ...]: ...

    @property
    def bubbles(self) -> FoamPhotos | None: ...


@dataclass(frozen=True)
class TrialFigure:
    """One figure of a trial: attribute, label, SI unit, and quantity for its display.

    ``concrete`` : a figure of the concrete that was poured with the trial's foam;  ``photo`` : of photos of the foam
    """

    name: str
    label: str
    unit: str
    quantity: str
    concrete: bool = False
    photo: bool = False


FIGURES = (
    TrialFigure("line_pressure", "line pressure", "Pa", "pressure"),
    TrialFigure("air_rate", "air rate, free air", "m3/s", "flow"),
    TrialFigure("density", "foam density", "kg/m3", "density"),
    TrialFigure("expansion", "expansion ratio", "1", ""),
    TrialFigure("output", "foam output", "m3/s", "foam_rate"),
    TrialFigure("drainage", "25 % drainage time", "s", "time"),
    TrialFigure("solution_use", "solution use", "m3/s", "foam_rate"),
    TrialFigure("capture", "air retained in foam", "1", "share"),
    TrialFigure("water_temperature", "water temperature", "K", "temperature"),
    TrialFigure("bubble_diameter", "bubble diameter", "m", "length", photo=True),
    TrialFigure("bubble_growth", "bubble growth", "m/s", "bubble_growth", photo=True),
    TrialFigure("cast_density", "cast density of the concrete", "kg/m3", "density", concrete=True),
    TrialFigure("survival", "air surviving in the concrete", "1", "share", concrete=True),
    TrialFigure("dry_density", "oven-dry density", "kg/m3", "density", concrete=True),
    TrialFigure("settlement", "settlement in 24 h", "1", "share", concrete=True),
    TrialFigure("strength_7", "strength at 7 days, one density", "Pa", "strength", concrete=True),
    TrialFigure("strength_28", "strength at 28 days, one density", "Pa", "strength", concrete=True),
)
POINTS = "percentage points"
CONCRETE = tuple(one.name for one in FIGURES if one.concrete)
PHOTO = tuple(one.name for one in FIGURES if one.photo)


BY_NAME: Mapping[str, TrialFigure] = {one.name: one for one in FIGURES}


def shown_figures(trials: Sequence[WithOptionalFigures]) -> tuple[TrialFigure, ...]:
    """The figures to show of these trials: those of the concrete and of photos only where a trial has some."""
    poured = any(trial.pours for trial in trials)
    photographed = any(trial.bubbles is not None for trial in trials)
    return tuple(one for one in FIGURES if (poured or not one.concrete) and (photographed or not one.photo))


def unit_of(figure: TrialFigure, system: Mapping[str, Unit] = METRIC) -> Unit:
    """The displayed unit."""
    return system[figure.quantity] if figure.quantity else RATIO


def change_unit_of(figure: TrialFigure, system: Mapping[str, Unit] = METRIC) -> Unit:
    """The displayed unit of a difference; of two shares percentage points, because "+3 %" could be of the share."""
    unit = unit_of(figure, system)
    return replace(unit, symbol=POINTS) if figure.quantity == "share" else unit
