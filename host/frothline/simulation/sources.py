"""Simulated air sources: pressure at a flow, and heating of the air.

The shapes follow what is published of each family: the pressure of vacuum motors falls concave with flow; some blowers
have a hump and may hunt to the left of it; positive displacement machines lose flow only by leakage; a compressor with
a regulator has a constant pressure until its tank is low. Volume flow is that at the inlet of the machine. Magnitudes
are of the usual catalogue order and are not those of any particular machine.

Fan laws for speed and density: pressure is proportional to speed squared and to density, flow to speed; a displacement
machine delivers its volume at any pressure. A series motor runs faster in thin air; the suction correction of ASTM
F558, 1 + 0.667 (1 - density ratio), corresponds to a speed that falls with the sixth root of density.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt
from random import Random

from frothline.simulation.gas import HEAT_CAPACITY, STANDARD_DENSITY


@dataclass
class SimulatedSource:
    """A machine with state: speed ratio, winding temperature. Subclasses implement ``curve``.

    Parameters
    ----------
    power_shut, power_free
        Electrical power at shut-off and at free delivery, W, at rated speed.
    density_exponent
        Exponent of density in the speed: -1/6 for a series motor, 0 for a constant-speed motor.
    supply_exponent
        Exponent of the supply voltage in the speed.
    """

    kind: str
    free_flow: float  # m3/s, where the power reaches power_free
    power_shut: float
    power_free: float
    density_exponent: float = 0.0
    supply_exponent: float = 0.8
    winding_capacity: float = 700.0  # J/K
    speed: float = 1.0
    rise_over_ambient: float = 0.0  # K, of the winding
    running: bool = True
    supply: float = 1.0  # mains over rated voltage
    cooling: float = 1.0  # 1 for a new machine; less with blocked cooling passages
    filter_loss: float = 0.0  # Pa s2/m6 at standard density, in front of the inlet
    extra_heat: float = 0.0  # W into the air in addition to a healthy machine

    def curve(self, flow: float) -> tuple[float, float]:
        """Pressure rise, Pa, and its slope, Pa s/m3, at rated speed and standard density."""
        raise NotImplementedError

    def rise(self, flow: float, density: float) -> tuple[float, float]:
        """Pressure rise, Pa, and slope, Pa s/m3, at inlet ``flow`` m3/s and inlet ``density`` kg/m3, in the present
        state.
        """
        n = self.speed
        scale = density / STANDARD_DENSITY
        if n < 1e-3:
            return -2e5 * flow, -2e5
        pressure, slope = self.curve(flow / n)
        loss = self.filter_loss * scale
        return (
            pressure * n * n * scale - loss * flow * abs(flow),
            slope * n * scale - 2.0 * loss * abs(flow),
        )

    def target_speed(self, density: float) -> float:
        if not self.running:
            return 0.0
        # a warm winding and a failing machine both lose speed
        hot = 1.0 - 2.5e-4 * max(0.0, self.rise_over_ambient - 60.0) - 4e-5 * self.extra_heat
        thin = (density / STANDARD_DENSITY) ** self.density_exponent if self.density_exponent else 1.0
        return float(self.supply**self.supply_exponent * thin * hot)

    def advance(self, dt: float, flow: float, density: float) -> float:
        """Advance by ``dt`` s at inlet ``flow``; returns the air's temperature rise through the machine, K."""
        n = self.speed
        target = self.target_speed(density)
        n += (target - n) * dt / 0.35
        self.speed = n
        share = min(max(flow / self.free_flow, 0.0), 1.2)
        power = n * n * n * (self.power_shut + (self.power_free - self.power_shut) * share)
        exchange = self.cooling * (1.5 + 260.0 * max(flow, 0.0))  # W/K from winding to air
        to_air = exchange * self.rise_over_ambient
        self.rise_over_ambient += dt * (0.35 * power - to_air) / self.winding_capacity
        # some air always recirculates, so the exhaust temperature stays finite at shut-off
        heat = 0.65 * power + to_air + self.extra_heat
        return heat / ((max(flow, 0.0) * density + 0.004) * HEAT_CAPACITY)


@dataclass
class VacuumMotor(SimulatedSource):
    """Concave falling: shut-off - a q - b q2."""

    shut_off: float = 20000.0
    linear: float = 1.2e5
    quadratic: float = 3.5e6

    def curve(self, flow: float) -> tuple[float, float]:
        if flow < 0.0:
            return self.shut_off - self.linear * flow, -self.linear
        return (
            self.shut_off - flow * (self.linear + self.quadratic * flow),
            -self.linear - 2.0 * self.quadratic * flow,
        )


@dataclass
class HumpBlower(SimulatedSource):
    """Cubic through shut-off, a hump at a larger flow, and free delivery."""

    shut_off: float = 9000.0
    hump: float = 0.10  # peak over shut-off, relative
    hump_at: float = 0.28  # of the free flow
    _c: tuple[float, float, float] = field(init=False, default=(0.0, 0.0, 0.0))

    def __post_init__(self) -> None:
        # 1 + a x + b x2 + c x3 with value 0 at 1, value 1 + hump and slope 0 at hump_at
        x, h = self.hump_at, self.hump
        # from slope: a = -2 b x - 3 c x2; from the peak: -b x2 - 2 c x3 = h; from the end: a + b + c = -1
        # b = -(h + 2 c x3)/x2
        c = (-1.0 + h / x**2 - 2.0 * h / x) / (x * x - 2.0 * x + 1.0)
        b = -(h + 2.0 * c * x**3) / x**2
        a = -2.0 * b * x - 3.0 * c * x * x
        self._c = (a, b, c)

    def curve(self, flow: float) -> tuple[float, float]:
        a, b, c = self._c
        x = flow / self.free_flow
        if x < 0.0:
            steep = 2e5
            return self.shut_off - steep * flow, -steep
        p0 = self.shut_off
        return (
            p0 * (1.0 + x * (a + x * (b + x * c))),
            p0 / self.free_flow * (a + x * (2.0 * b + 3.0 * c * x)),
        )


@dataclass
class PositiveDisplacement(SimulatedSource):
    """Displaced flow less leakage, with a relief valve that opens at ``relief`` Pa."""

    leakage: float = 3e-7  # m3/(s Pa)
    relief: float = 22000.0

    def curve(self, flow: float) -> tuple[float, float]:
        return self._against(self.free_flow - flow)

    def rise(self, flow: float, density: float) -> tuple[float, float]:
        if self.speed < 1e-3:
            return -2e5 * flow, -2e5
        pressure, slope = self._against(self.speed * self.free_flow - flow)
        loss = self.filter_loss * density / STANDARD_DENSITY
        return pressure - loss * flow * abs(flow), slope - 2.0 * loss * abs(flow)

    def _against(self, slip: float) -> tuple[float, float]:
        """Pressure, and its slope with the delivered flow, at a leakage of ``slip`` m3/s."""
        slope = -1.0 / self.leakage
        pressure = slip / self.leakage
        if pressure > self.relief:
            lift = 0.12  # an open valve still rises a little
            return self.relief + lift * (pressure - self.relief), lift * slope
        return pressure, slope


@dataclass
class RegulatedCompressor(SimulatedSource):
    """A regulator's set pressure with droop, fed from a tank that the compressor refills slowly."""

    set_pressure: float = 15000.0
    droop: float = 4e4  # Pa s/m3
    tank_volume: float = 0.05  # m3
    tank_pressure: float = 8e5  # Pa gauge
    delivery: float = 3.3e-3  # m3/s of free air while the compressor runs
    conductance: float = 7e-8  # m3/s of free air per Pa of tank pressure: the regulator's wide-open capacity
    pumping: bool = False

    def curve(self, flow: float) -> tuple[float, float]:
        pressure, slope = self.set_pressure - self.droop * flow, -self.droop
        limit = self.conductance * self.tank_pressure
        if flow > 0.9 * limit:
            over = flow - 0.9 * limit
            steep = self.set_pressure / (0.1 * limit + 1e-6)
            pressure -= steep * over
            slope -= steep
        return pressure, slope

    def advance(self, dt: float, flow: float, density: float) -> float:  # noqa: ARG002  # air density does not matter to it
        self.speed = 1.0 if self.running else 0.0
        if self.tank_pressure < 6e5:
            self.pumping = True
        elif self.tank_pressure > 8e5:
            self.pumping = False
        made = self.delivery * self.supply if self.pumping and self.running else 0.0
        self.tank_pressure = max(0.0, self.tank_pressure + dt * 1.013e5 * (made - max(flow, 0.0)) / self.tank_volume)
        return 0.0  # the air has cooled to room temperature in the tank

    def rise(self, flow: float, density: float) -> tuple[float, float]:  # noqa: ARG002  # the regulator holds gauge
        if self.speed < 1e-3:
            return -2e5 * flow, -2e5
        return self.curve(flow)


def make_source(kind: str, random: Random) -> SimulatedSource:
    """A machine of the family ``kind``, with a small specimen-to-specimen scatter."""

    def about(value: float, scatter: float = 0.04) -> float:
        return value * (1.0 + random.uniform(-scatter, scatter))

    if kind in {"vacuum", "vacuum-small"}:
        small = kind == "vacuum-small"
        shut_off = about(14500.0 if small else 20000.0)
        linear, quadratic = about(1.0e5 if small else 1.2e5, 0.1), about(4.6e6 if small else 3.5e6)
        free = (-linear + sqrt(linear * linear + 4.0 * quadratic * shut_off)) / (2.0 * quadratic)
        return VacuumMotor(
            kind,
            free,
            about(300.0 if small else 480.0),
            about(600.0 if small else 900.0),
            density_exponent=-1.0 / 6.0,
            shut_off=shut_off,
            linear=linear,
            quadratic=quadratic,
        )
    if kind == "hump":
        return HumpBlower(kind, about(0.065), about(350.0), about(700.0), supply_exponent=0.1, shut_off=about(9000.0))
    if kind == "displacement":
        return PositiveDisplacement(
            kind,
            about(0.022),
            about(450.0),
            about(250.0),
            supply_exponent=0.1,
            leakage=about(2.5e-7),
        )
    if kind == "compressor":
        return RegulatedCompressor(kind, about(0.05), 0.0, 0.0, set_pressure=about(15000.0))
    raise ValueError(
        f"unknown air source {kind!r}; give one of vacuum, vacuum-small, hump, displacement and compressor"
    )
