"""The diffusion tube as a manifold: distribution of the air over its holes."""

from __future__ import annotations

from dataclasses import dataclass

from frothline.errors import OutsideValidity
from frothline.physics.pipe import LAMINAR, area


@dataclass(frozen=True)
class Manifold:
    """A perforated pipe with a closed end: gauge pressure at the inlet Pa, flow of each hole m³/s from inlet to end."""

    inlet_pressure: float
    dead_end_pressure: float
    hole_flows: tuple[float, ...]

    @property
    def evenness(self) -> float:
        """Largest over smallest hole flow."""
        return max(self.hole_flows) / min(self.hole_flows)


def perforated_pipe(
    flow: float,
    bore: float,
    pitch: float,
    holes: int,
    hole_diameter: float,
    density: float,
    viscosity: float,
    discharge: float = 0.62,
    regain: float = 1.0,
    holes_per_station: int = 1,
) -> Manifold:
    """Distribution of a flow over the holes of a closed pipe, calculated from the dead end.

    at each station q = C A √(2p/ρ); upstream of it p falls by the regain k ½ρ(V_up² - V_down²) and rises by friction

    Parameters
    ----------
    flow : m³/s, into the pipe
    bore : m
    pitch : m, from station to station
    holes : 1, number of stations along the pipe
    hole_diameter : m
    density : kg/m³
    viscosity : Pa s
    discharge : 1, coefficient of the holes
    regain : 1, share of the dynamic pressure recovered as the flow slows
    holes_per_station : 1, holes around the pipe at one station

    Returns
    -------
    Manifold

    Validity: flow above zero and at least one hole, else OutsideValidity; equal pressure outside all holes,
        incompressible.
    Bias: the regain is between 0.6 and 1 in experiments; the unevenness scales with it.
    Source: [bajura-jones]
    """
    if flow <= 0.0 or holes < 1 or holes_per_station < 1:
        raise OutsideValidity("a perforated pipe needs a flow and at least one hole", remedy="Check the build's holes")
    station_area = holes_per_station * area(hole_diameter)

    def march(end_pressure: float) -> tuple[float, list[float], float]:
        p, total, flows = end_pressure, 0.0, []
        for station in range(holes):
            q = discharge * station_area * (2.0 * p / density) ** 0.5
            flows.append(q)
            below, total = total / area(bore), total + q
            above = total / area(bore)
            p -= regain * 0.5 * density * (above**2 - below**2)
            if station < holes - 1:
                Re = density * above * bore / viscosity
                f = 64.0 / Re if Re < LAMINAR else 0.3164 * Re**-0.25
                p += f * pitch / bore * 0.5 * density * above**2
            if p <= 0.0:
                raise OutsideValidity(
                    "the far holes leave no pressure for the near ones: the total hole area is too large for the pipe",
                    remedy="Drill fewer or smaller holes, or take a wider tube",
                )
        return p, flows, total

    # the flow goes with the square root of the end pressure, exactly except for the friction factor
    end = 0.5 * density * (flow / (holes * discharge * station_area)) ** 2
    inlet, flows, total = march(end)
    for _ in range(30):
        if abs(total / flow - 1.0) < 1e-12:
            break
        end *= (flow / total) ** 2
        inlet, flows, total = march(end)
    return Manifold(inlet, end, tuple(q / holes_per_station for q in reversed(flows)))
