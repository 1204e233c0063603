"""True figures of a simulated world: source curve, generator resistance, operating point.

Calculated from the model's laws by bisection, without fluctuations and lags; tests compare estimates with them.
"""

from __future__ import annotations

from collections.abc import Callable

from frothline.simulation.gas import STANDARD_DENSITY
from frothline.simulation.line import HOSE_AREA, HOSE_LOSS, SimulatedLine


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Zero of a falling function."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if function(middle) > 0.0 else (low, middle)
    return 0.5 * (low + high)


def curve(world: SimulatedLine, density: float = STANDARD_DENSITY) -> Callable[[float], float]:
    """Pressure at the tap, Pa, against flow, m3/s at 1.2 kg/m3, with inlet air of ``density`` kg/m3.

    The machine in its present state (filter, mains, temperature) with its hose: the true curve for a sweep of the
    source.
    """
    source = world.source
    speed = source.target_speed(density)
    warm = world.ambient_temperature + min(world.air_rise, 40.0)

    def pressure(flow: float) -> float:
        mass = flow * STANDARD_DENSITY
        was, source.speed = source.speed, speed
        try:
            lift, _ = source.rise(mass / density, density)
        finally:
            source.speed = was
        held = (world.ambient_pressure + max(lift, 0.0)) / (world.gas * warm)
        return lift - HOSE_LOSS * mass * abs(mass) / (2.0 * held * HOSE_AREA * HOSE_AREA)

    return pressure


def figures(world: SimulatedLine, density: float = STANDARD_DENSITY) -> dict[str, float]:
    """shut_off Pa, free_delivery m3/s, air_power W (the largest) and air_power_flow m3/s of :func:`curve`."""
    p = curve(world, density)
    free = _root(p, 0.0, 2.0 * world.source.free_flow)
    best = max(range(1, 2000), key=lambda k: k * p(k / 2000 * free))
    low, high = (best - 1) / 2000 * free, (best + 1) / 2000 * free
    golden = 0.6180339887498949
    for _ in range(60):
        left, right = high - golden * (high - low), low + golden * (high - low)
        low, high = (low, right) if left * p(left) > right * p(right) else (left, high)
    flow = 0.5 * (low + high)
    return {"shut_off": p(0.0), "free_delivery": free, "air_power": flow * p(flow), "air_power_flow": flow}


def resistance(world: SimulatedLine) -> Callable[[float], float]:
    """Pressure before the generator, Pa, against flow, m3/s at 1.2 kg/m3, with its present wetness and filling."""
    generator = world.the_generator

    def pressure(flow: float) -> float:
        mass = flow * STANDARD_DENSITY
        drop = generator.steady_outlet_drop(mass, world.ambient_density)

        def short(gauge: float) -> float:
            held = (world.ambient_pressure + gauge) / (world.gas * world.temperature)
            was, generator.outlet_drop = generator.outlet_drop, drop
            try:
                return mass - generator.air_flow(gauge, held)[0]
            finally:
                generator.outlet_drop = was

        return _root(short, 0.0, 2e5)

    return pressure


def operating_point(world: SimulatedLine) -> tuple[float, float]:
    """Operating point of source and generator without leaks: (pressure Pa, flow m3/s at 1.2 kg/m3)."""
    source, load = curve(world, world.ambient_density), resistance(world)
    flow = _root(lambda q: source(q) - load(q), 1e-5, 2.0 * world.source.free_flow)
    return source(flow), flow
