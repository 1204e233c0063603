"""The simulated generator: air through holes under solution, a wet packing, foam out of a reducer.

The model and its sources:

- holes: sharp, discharge coefficient 0.62 (Encyclopaedia Britannica 11th ed., hydraulics), pressure of the solution
  above them, capillary entry 4 gamma / d;
- packing: Darcy and Forchheimer, permeability of a fibre bed after Davies (1952), K = d2 / (64 c^1.5 (1 + 56 c3)) with
  c the solid share, inertial coefficient 0.1 / sqrt(K); wet, its resistance is multiplied by a factor of the build
  (common practice 2 to 6, no source);
- foam: volume flow Ql + eta Qa, the mass of both; eta, the captured share of the air, is a property of the build and
  grows with the wetness of the packing;
- outlet: momentum of air, liquid and foam through the reducer, and a slip layer on the wall whose pressure drop goes
  with the square root of the foam's speed;
- solution: drawn in by the air in proportion to its flow; the head over the holes falls with the reservoir.

Wetness and filling are states; pressures follow immediately, except for the outlet, which lags by the relaxation time
of the foam.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from random import Random

from frothline.simulation.gas import GRAVITY

SOLUTION_DENSITY = 1002.0  # kg/m3
SURFACE_TENSION = 0.030  # N/m
VISCOSITY = 1.85e-5  # Pa s, air at about 30 degrees
TARE = 2.5  # kg, of the empty reservoir
POURING = 3.0  # kg/s poured in by a person; judgement
LOW = 0.2  # share of the reservoir at which a person refills it
NEARLY_EMPTY = 3.0  # kg: below this the intake is no longer covered


@dataclass(frozen=True)
class SimulatedBuild:
    """Sizes of a generator, SI; ``name`` and ``about`` are text for the user."""

    name: str
    about: str
    holes: int = 40
    hole: float = 0.004  # m
    head: float = 0.11  # m of solution over the holes with a full reservoir
    body: float = 0.1023  # m bore
    packing: float = 0.28  # m
    fibre: float = 70e-6  # m
    solid: float = 0.035  # share of the volume
    wet_factor: float = 3.2
    outlet: float = 0.036  # m bore
    outlet_loss: float = 1.3  # velocity heads
    slip: float = 25000.0  # Pa (s/m3)^0.5: wall of the outlet hose
    capture: float = 0.42
    draw: float = 0.30  # kg/s of solution at 12 g/s of air
    reservoir: float = 45.0  # kg of solution at the start
    fed: bool = False  # a float valve keeps the reservoir full
    refills: int = 0  # number of times that a person refills it when it is low


BUILDS: dict[str, SimulatedBuild] = {
    b.name: b
    for b in (
        SimulatedBuild("pipe-100", "100 mm body, steel wool, 36 mm outlet"),
        SimulatedBuild(
            "pipe-75", "75 mm body, short packing", body=0.0779, packing=0.12, holes=30, draw=0.25, capture=0.37
        ),
        SimulatedBuild("long-packing", "100 mm body, half a metre of wool", packing=0.5, capture=0.47, draw=0.28),
        SimulatedBuild("small-outlet", "100 mm body, 25 mm outlet", outlet=0.0265, draw=0.27),
        SimulatedBuild("few-holes", "16 holes of 3 mm", holes=16, hole=0.003, draw=0.27, capture=0.45),
    )
}


class SimulatedGenerator:
    """One specimen of a build.

    Parameters
    ----------
    build
        Its sizes.
    random
        Deviation of this specimen from its drawing (permeability within 25 %, the rest within a few percent), and the
        fluctuation of the foam.
    """

    def __init__(self, build: SimulatedBuild, random: Random) -> None:
        self.build = build
        self._random = random

        def about(scatter: float) -> float:
            return 1.0 + random.uniform(-scatter, scatter)

        c = build.solid
        permeability = build.fibre**2 / (64.0 * c**1.5 * (1.0 + 56.0 * c**3)) * about(0.25)
        area = pi / 4.0 * build.body**2
        self.hole_area = build.holes * pi / 4.0 * build.hole**2 * 0.62 * about(0.03)
        self._viscous = VISCOSITY * build.packing / (permeability * area)  # Pa s/m3
        self._inertial = 0.1 * build.packing / (sqrt(permeability) * area * area)  # m-4, times rho v2
        self._outlet = build.outlet_loss * about(0.08) / (2.0 * (pi / 4.0 * build.outlet**2) ** 2)  # m-4
        self._slip = build.slip * about(0.1)
        self._wet_factor = 1.0 + (build.wet_factor - 1.0) * about(0.12)
        self._capture = build.capture * about(0.08)
        self._draw = build.draw * about(0.08)
        # states
        self.solution = build.reservoir  # kg left
        self.fed = build.fed
        self.refills = build.refills  # left
        self._to_pour = 0.0  # kg still to be poured
        self.wetness = 0.0
        self.filled = 0.0  # share of the outlet that holds foam
        self.outlet_drop = 0.0  # Pa
        self.flow = 0.0  # kg/s of air
        self.foam_rate = 0.0  # m3/s at ambient pressure
        self.solution_flow = 0.0
        self.foam_total = 0.0  # m3
        self._flutter = 0.0
        self._slosh = 0.0
        # effects of faults
        self.packing_left = 1.0  # 1 whole, near 0 blown out
        self.clogging = 1.0
        self.backed_up = 0.0  # m of solution standing in the air connection

    def air_flow(self, pressure: float, density: float) -> tuple[float, float]:
        """Mass flow of air, kg/s, at inlet ``pressure`` Pa gauge and ``density`` kg/m3; and its slope."""
        drive = pressure - self.static_pressure() - self.outlet_drop
        if drive <= 0.0:
            return 0.0, 1e-7
        wet = self._wetting()
        a = self._viscous * wet / density
        b = (0.5 / (self.hole_area * self.hole_area) * self.clogging + self._inertial * wet) / density
        root = sqrt(a * a + 4.0 * b * drive)
        return (root - a) / (2.0 * b), 1.0 / root

    def _wetting(self) -> float:
        return (1.0 + (self._wet_factor - 1.0) * self.wetness) * self.packing_left * self.clogging

    def static_pressure(self) -> float:
        """Pressure before any air passes, Pa."""
        if self.solution <= 0.0:
            return 0.0
        full = min(1.0, self.solution / NEARLY_EMPTY)
        level = self.build.head * full * (0.8 + 0.2 * min(1.0, self.solution / self.build.reservoir))
        column = max(level + self.backed_up * (1.0 + self._slosh), 0.0)
        return SOLUTION_DENSITY * GRAVITY * column + full * 4.0 * SURFACE_TENSION / self.build.hole

    def advance(self, dt: float, air: float, density: float, ambient_density: float) -> None:
        """Advance by ``dt`` s with ``air`` kg/s, of line ``density``."""
        self.flow = air
        random = self._random
        self._flutter += -self._flutter * dt / 0.08 + 0.012 * sqrt(2.0 * dt / 0.08) * random.gauss(0.0, 1.0)
        self._slosh += -self._slosh * dt / 0.25 + 0.25 * sqrt(2.0 * dt / 0.25) * random.gauss(0.0, 1.0)
        drawn = self._drawing(air)
        self.solution_flow = drawn
        if not self.fed:
            self.solution = max(0.0, self.solution - drawn * dt)
            if self.refills or self._to_pour:
                self._pour(dt)
        aim = min(1.0, drawn / (0.25 * self._draw)) if drawn > 0.0 else 0.0
        self.wetness += (aim - self.wetness) * dt / (2.5 if aim > self.wetness else 5.0)
        foam = self._foaming(air, drawn, ambient_density)
        # foam fills the outlet, air alone empties it
        self.filled += dt * (foam / 0.004 if foam > 1e-6 else -air / density / 0.02)
        self.filled = min(max(self.filled, 0.0), 1.0)
        self.foam_rate = foam * self.filled
        self.foam_total += self.foam_rate * dt
        drop = self.steady_outlet_drop(air, ambient_density)
        self.outlet_drop += (drop * (1.0 + self._flutter) - self.outlet_drop) * dt / 0.06

    def refill(self) -> None:
        """Start to refill the reservoir with solution, which takes a while; no effect with a float valve."""
        self.fed, self.refills = self.build.fed, self.build.refills
        if self.fed:
            self.solution = self.build.reservoir
        self._to_pour = max(0.0, self.build.reservoir - self.solution)

    def _pour(self, dt: float) -> None:
        if self.refills and not self._to_pour and self.solution < LOW * self.build.reservoir:
            self.refills -= 1
            self._to_pour = self.build.reservoir - self.solution
        poured = min(self._to_pour, POURING * dt)
        self._to_pour -= poured
        self.solution += poured

    def _drawing(self, air: float) -> float:
        """Solution flow, kg/s, drawn in by ``air`` kg/s."""
        if air < 2e-4 or self.solution <= 0.0:
            return 0.0
        return float(self._draw * min(1.0, self.solution / NEARLY_EMPTY) * (air / 0.012) ** 0.6)

    def _foaming(self, air: float, drawn: float, ambient_density: float) -> float:
        """Foam output, m3/s at ambient pressure."""
        if drawn <= 0.0:
            return 0.0
        caught = self._capture * self.wetness * (0.35 + 0.65 * self.packing_left)
        return drawn / SOLUTION_DENSITY + caught * air / ambient_density

    def steady_outlet_drop(self, air: float, ambient_density: float) -> float:
        """Steady pressure drop of the outlet, Pa, at ``air`` kg/s, with its present filling."""
        drawn = self._drawing(air)
        foam = self._foaming(air, drawn, ambient_density)
        # the flow is a mixture: its mass times its volume
        volume = drawn / SOLUTION_DENSITY + air / ambient_density
        return self._outlet * (drawn * self.filled + air) * volume + self._slip * self.filled * sqrt(foam)

    def settle_wet(self) -> None:
        """Set the state after some seconds of running: packing wet, outlet full."""
        self.wetness = self.filled = 1.0

    def figures(self, ambient_density: float) -> dict[str, float]:
        """Foam figures at ambient pressure: rate m3/s, total m3, density kg/m3, expansion ratio, capture, solution."""
        liquid = self.solution_flow / SOLUTION_DENSITY
        air = self.flow / ambient_density
        foam = self.foam_rate
        caught = (foam - liquid) / air if air > 0.0 and foam > liquid > 0.0 else 0.0  # once the outlet is full
        foaming = foam > 0.0 and liquid > 0.0 and self.filled > 0.5
        mass = self.solution_flow + caught * self.flow
        return {
            "foam_rate": foam,
            "foam_total": self.foam_total,
            "foam_density": mass / foam if foaming else float("nan"),
            "expansion_ratio": foam / liquid if foaming else float("nan"),
            "capture": caught,
            "solution_flow": self.solution_flow,
            "solution_left": self.solution,
            "wetness": self.wetness,
            "generator_flow": self.flow,
        }

    def phase(self) -> str:
        """``idle``, ``priming``, ``foaming``, ``thinning`` or ``dry``."""
        if self.flow < 5e-4:
            return "idle"
        if self.solution <= 0.02 * NEARLY_EMPTY:
            return "dry"
        if self.solution < 0.6 * NEARLY_EMPTY:
            return "thinning"
        return "foaming" if self.wetness > 0.9 and self.filled > 0.99 else "priming"
