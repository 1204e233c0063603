"""The predicted operating point of a build on an air source, and its display."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from frothline.curve.operating_point import NoCrossing, OperatingPoint
from frothline.curve.resistance import ResistanceLine
from frothline.estimate import Estimate
from frothline.generator.build import Build
from frothline.generator.pressure_model import PressureModel, PressureShare
from frothline.presentable import Observations, Presentable, estimate_cells, estimate_units
from frothline.presentable import PresentedFigure as Row
from frothline.units import METRIC, Unit

PREDICTION_UNITS = {
    "build": "",
    "meets": "",
    **estimate_units(
        pressure="Pa",
        flow="m3/s",
        margin="Pa",
        air_rate="m3/s",
        hole_velocity="m/s",
        foam_rate="m3/s",
        air_to_solution="1",
    ),
    "stability": "",
}


@dataclass(frozen=True, repr=False)
class Prediction(Presentable):
    """Prediction of a build on an air source. Estimates are None without an operating point.

    point : the operating point, or NoCrossing with its reason
    air_rate : m³/s of free air
    hole_velocity : m/s
    foam_rate : m³/s at ambient pressure
    air_to_solution : captured air over solution by volume; None without a known solution flow
    """

    build: Build
    generator: PressureModel
    line: ResistanceLine
    point: OperatingPoint | NoCrossing
    air_rate: Estimate | None
    hole_velocity: Estimate | None
    foam_rate: Estimate | None
    air_to_solution: Estimate | None
    shares: tuple[PressureShare, ...]
    words: tuple[str, ...]

    @property
    def pressure(self) -> Estimate | None:
        """Pa at the operating point; None without one."""
        return self.point.pressure if isinstance(self.point, OperatingPoint) else None

    @property
    def flow(self) -> Estimate | None:
        """m³/s at 1.2 kg/m³ at the operating point; None without one."""
        return self.point.flow if isinstance(self.point, OperatingPoint) else None

    @property
    def row(self) -> Mapping[str, Any]:
        """One row of a table with the columns of PREDICTION_UNITS, SI."""
        point = self.point if isinstance(self.point, OperatingPoint) else None
        return {
            "build": self.build.name,
            "meets": point is not None,
            **estimate_cells(
                pressure=self.pressure,
                flow=self.flow,
                margin=None if point is None else point.margin,
                air_rate=self.air_rate,
                hole_velocity=self.hole_velocity,
                foam_rate=self.foam_rate,
                air_to_solution=self.air_to_solution,
            ),
            "stability": "" if point is None else point.stability,
        }

    @property
    def unknown(self) -> Mapping[str, str]:
        """Reason why a figure has no value, by name."""
        if isinstance(self.point, NoCrossing):
            why = "; ".join(self.point.words) or "source and generator have no operating point"
            return dict.fromkeys(("pressure", "flow", "margin", "air_rate", "hole_velocity", "foam_rate"), why)
        return {} if self.air_to_solution is not None else {"air_to_solution": "the solution flow is not known"}

    def figures(self, when: str = "") -> Sequence[Row]:
        """Rows of an HTML table; ``when`` is the beginning of each label."""
        why = self.unknown
        rows: tuple[tuple[str, str, Estimate | None, Unit], ...] = (
            ("pressure", "operating pressure", self.pressure, METRIC["pressure"]),
            ("flow", "flow (standard air, 1.2 kg/m³)", self.flow, METRIC["flow"]),
            (
                "margin",
                "pressure margin",
                self.point.margin if isinstance(self.point, OperatingPoint) else None,
                METRIC["pressure"],
            ),
            ("air_rate", "air rate, free air", self.air_rate, METRIC["flow"]),
            ("hole_velocity", "velocity in the holes", self.hole_velocity, METRIC["speed"]),
            ("foam_rate", "foam output", self.foam_rate, METRIC["foam_rate"]),
            ("air_to_solution", "air-to-solution ratio", self.air_to_solution, Unit("", 1.0)),
        )
        return tuple(Row(f"{when}{label}", one, unit, why.get(name, "")) for name, label, one, unit in rows)

    def _title(self) -> str:
        if self.pressure is None or self.air_rate is None:
            return f"{self.build.name}: no operating point"
        return f"{self.build.name}: {self.pressure.to('kPa')}, air rate {self.air_rate.to('L/s')}"

    def _figures(self) -> Sequence[Row]:
        return self.figures()

    def _words(self) -> Sequence[str]:
        return self.words

    def _observations(self) -> Observations:
        return Observations((self.row,), PREDICTION_UNITS, self.unknown)
