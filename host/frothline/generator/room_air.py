"""Air conditions of a calculation, in the room and in the hose.

The page takes them from the rig while it measures; command line and Python take them from the recordings of the air
source. Unmeasured conditions are those of ``OperatingConditions.usual``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.generator.build import Build
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.operating_conditions import USUAL_PRESSURE, OperatingConditions, line_temperature
from frothline.physics.air import AirState
from frothline.sensors.series import Series, Status
from frothline.units import ZERO_CELSIUS

NAMES = ("ambient_pressure", "ambient_temperature", "ambient_humidity", "line_temperature")
ASSUMED = Status.MISSING | Status.SATURATED | Status.STALE | Status.SILENT


@dataclass(frozen=True)
class RoomAir:
    """Air conditions: Pa, K, share of saturation, and K of the air in the hose; None if not measured.

    ``origin`` : origin of the measurement as text: names of recordings, or "now"
    ``assumed`` : names of values that were not measured, but which the flows of plates were calculated with
    """

    ambient_pressure: float | None = None
    ambient_temperature: float | None = None
    ambient_humidity: float | None = None
    line_temperature: float | None = None
    origin: str = ""
    assumed: tuple[str, ...] = ()

    @classmethod
    def of_recording(cls, series: Mapping[str, Series], origin: str = "") -> RoomAir:
        """Means over a recording; the hose's air only while air flows."""
        found: dict[str, Any] = {name: _mean(series[name]) for name in NAMES[:3] if name in series}
        flow, line = series.get("standard_flow"), series.get("line_temperature")
        if line is not None:
            flows = np.ones(len(line.time), dtype=bool)
            if flow is not None and len(flow.time):
                flows = np.interp(line.time, flow.time, np.nan_to_num(flow.value)) > 0.0
            found["line_temperature"] = _mean(line, flows)
        measured = any(value is not None for value in found.values())
        return cls(**found, origin=origin if measured else "")

    @classmethod
    def mean(cls, several: Sequence[RoomAir]) -> RoomAir:
        """Mean of several recordings, each counted once; what was measured counts before what was assumed."""
        found: dict[str, Any] = {}
        assumed = []
        for name in NAMES:
            known = [one for one in several if getattr(one, name) is not None]
            measured = [one for one in known if name not in one.assumed]
            if known:
                found[name] = float(np.mean([getattr(one, name) for one in measured or known]))
            if known and not measured:
                assumed.append(name)
        origins = dict.fromkeys(one.origin for one in several if one.measured and one.origin)
        return cls(**found, origin=", ".join(origins), assumed=tuple(assumed))

    @property
    def measured(self) -> bool:
        """Whether any of it was measured."""
        return any(getattr(self, name) is not None and name not in self.assumed for name in NAMES)

    def conditions(
        self, build: Build, knowledge: FoamKnowledge, pressure: float = USUAL_PRESSURE
    ) -> OperatingConditions:
        """Conditions of a generator in this air, with the solution flow of its sheet and the knowledge of its foam.

        ``pressure`` : Pa, to which the air source compresses the air; used if the hose's temperature is not measured
        """
        usual = OperatingConditions.of(build)
        room = usual.ambient
        ambient = AirState.free_air(
            room.temperature if self.ambient_temperature is None else self.ambient_temperature,
            room.pressure if self.ambient_pressure is None else self.ambient_pressure,
            0.5 if self.ambient_humidity is None else self.ambient_humidity,
        )
        line = self.line_temperature
        if line is None:
            line = line_temperature(ambient, pressure)
        found = replace(
            usual,
            ambient=ambient,
            line_temperature=line,
            expansion=knowledge.expansion,
            capture=knowledge.capture,
        )
        return found.with_tension(knowledge.surface_tension)

    @property
    def words(self) -> str:
        """The air conditions of the figures, as one sentence."""
        if self.ambient_pressure is None:
            return "the air pressure of the room was not measured: values are for 101.3 kPa (sea level)"
        if "ambient_pressure" in self.assumed:
            return (
                "the air pressure of the room was not measured: values are for "
                f"{self.ambient_pressure / 1e3:.1f} kPa, as the flows of the plates"
            )
        room = "" if self.ambient_temperature is None else f" and {self.ambient_temperature - ZERO_CELSIUS:.0f} °C"
        origin = f", as measured {self.origin}" if self.origin else ""
        return f"values are for room air of {self.ambient_pressure / 1e3:.1f} kPa{room}{origin}"


def _mean(series: Series, where: NDArray[np.bool_] | None = None) -> float | None:
    """Mean of the measured values; None without any."""
    good = np.isfinite(series.value) & (series.status & ASSUMED == 0)
    if where is not None:
        good &= where
    return float(np.mean(series.value[good])) if good.any() else None
