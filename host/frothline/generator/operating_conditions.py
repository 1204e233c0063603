"""The air and the liquid for which the pressure model of a build is evaluated."""

from __future__ import annotations

from dataclasses import dataclass, replace

from frothline.estimate import Estimate
from frothline.foam.prior import USUAL_CAUGHT, USUAL_EXPANSION
from frothline.generator.build import Build
from frothline.physics import water
from frothline.physics.air import AirState
from frothline.physics.exhaust import exhaust_temperature_rise

USUAL_PRESSURE = 10e3  # Pa, usual pressure of a vacuum cleaner motor on a generator; judgement
U_UNMEASURED_TENSION = 0.28  # relative, of a solution whose surface tension was not measured; judgement


def line_temperature(ambient: AirState, pressure: float) -> float:
    """Air temperature in the hose, K, behind a source that compresses it to a gauge pressure, Pa; used if not
    measured.
    """
    return ambient.temperature + float(exhaust_temperature_rise(ambient.temperature, pressure, ambient.pressure))


@dataclass(frozen=True)
class OperatingConditions:
    """The air and the liquid of a calculation.

    ambient : the room's air;  line_temperature : K, of the air in the hose
    wet : whether the generator has solution in it
    solution_flow : m³/s, if pumped or measured; None if the air draws it along
    surface_tension : N/m, of the solution;  u_tension : its relative standard uncertainty
    expansion, capture : of the foam, used for the liquid flow if that is unknown
    """

    ambient: AirState
    line_temperature: float
    wet: bool = True
    solution_flow: float | None = None
    expansion: float = USUAL_EXPANSION
    capture: float = USUAL_CAUGHT
    surface_tension: float = water.SOLUTION_SURFACE_TENSION
    u_tension: float = U_UNMEASURED_TENSION

    @classmethod
    def usual(cls, *, wet: bool = True) -> OperatingConditions:
        """A room of 20 °C at 101.325 kPa and half humid, and the exhaust of a source that gives 10 kPa."""
        ambient = AirState.free_air(293.15, 101325.0, 0.5)
        return cls(ambient, line_temperature(ambient, USUAL_PRESSURE), wet=wet)

    def with_tension(self, measured: Estimate | None) -> OperatingConditions:
        """The same with a measured surface tension, N/m; unchanged without one."""
        if measured is None:
            return self
        u = measured.standard_uncertainty / measured.value
        return replace(self, surface_tension=measured.value, u_tension=u)

    @classmethod
    def of(cls, build: Build, *, wet: bool = True) -> OperatingConditions:
        """The usual room and air, with the solution's flow of the build's sheet, if any."""
        return replace(cls.usual(wet=wet), solution_flow=build.reservoir.flow)
