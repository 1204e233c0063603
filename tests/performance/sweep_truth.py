"""Sweeps of air sources that do not exist, with everything about them known.

Written apart from the estimation: it imports NumPy and nothing of the package, so that a mistake in the fit cannot also
be in what the fit is judged by. ``draw(rng)`` gives one sweep: an air source, a line that throttles it, the sensors'
errors, and the samples a rig would deliver.

What varies, uniformly unless said otherwise, with the reason:

    shut-off pressure 5-22 kPa, free delivery 30-100 L/s           workshop vacuums and small side-channel blowers
    shape: a parabola with linear part (30 %); a series motor driving a fan, which speeds up as it is relieved (30 %,
           no polynomial); nearly straight (20 %); with a hump of 1-8 % (20 %)
    9-13 openings from 1-5 % of free delivery up to where 3-15 % of shut-off pressure is left; one or two passes
    each held 5-8 s after a movement of 0.8-2 s; the line follows with 0.1-0.3 s
    throttle and turbulence: its resistance fluctuates by 0.5-3 %, correlation time 0.05-0.3 s
    supply voltage: speed fluctuates by 0.05-0.3 %, correlation time 0.3-1 s
    sensor noise: pressure 5-30 Pa, flow 0.3-1.5 % of reading, sample by sample
    common errors (in two sweeps of three): pressure span 0.3-1.5 % and zero 5-40 Pa, flow factor 0.5-3 % and zero
           0.02-0.15 L/s, all normal with the stated standard uncertainty
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

RATE = 100.0  # samples a second


@dataclass(frozen=True)
class Source:
    """p(q) tabulated finely; all truths are read off this table."""

    kind: str
    q: np.ndarray  # m3/s, 0 to free delivery
    p: np.ndarray  # Pa

    def pressure(self, q):
        return np.interp(q, self.q, self.p)

    def meets(self, a: float, b: float) -> float:
        gap = self.p - (a * self.q + b * self.q**2)
        k = int(np.nonzero(gap > 0)[0][-1])
        return float(self.q[k] + (self.q[k + 1] - self.q[k]) * gap[k] / (gap[k] - gap[k + 1]))


@dataclass(frozen=True)
class Sweep:
    kind: str
    time: np.ndarray
    pressure: np.ndarray
    flow: np.ndarray
    common: dict[str, tuple[np.ndarray, np.ndarray]]  # what one standard uncertainty of each does to p and q
    load: tuple[float, float]  # a, b of the resistance that the operating point is asked for
    truth: dict[str, float] = field(default_factory=dict)


def draw_source(rng: np.random.Generator, kind: str | None = None) -> Source:
    shut_off = rng.uniform(5e3, 22e3)
    free = rng.uniform(0.03, 0.1)
    x = np.linspace(0.0, 1.0, 20001)
    if kind is None:
        kind = rng.choice(["parabola", "motor", "straight", "hump"], p=[0.3, 0.3, 0.2, 0.2])
    if kind == "parabola":
        linear = rng.uniform(0.05, 0.5)
        shape = 1 - linear * x - (1 - linear) * x**2
    elif kind == "straight":
        linear = rng.uniform(0.8, 1.0)
        shape = 1 - linear * x - (1 - linear) * x**2
    elif kind == "motor":
        x, shape = motor_and_fan(rng)
    elif kind == "power":
        shape = 1 - x ** rng.uniform(1.2, 2.5)
    else:
        # rises to 1 + height at x_top, then falls to 0 at 1: cubic through these conditions
        top, height = rng.uniform(0.15, 0.35), rng.uniform(0.01, 0.08)
        matrix = [[top, top**2, top**3], [1, 2 * top, 3 * top**2], [1, 1, 1]]
        one, two, three = np.linalg.solve(matrix, [height, 0.0, -1.0])
        shape = 1 + one * x + two * x**2 + three * x**3
    return Source(str(kind), free * x, shut_off * shape)


def motor_and_fan(rng: np.random.Generator):
    """Flow and pressure, both scaled to 1, of a fan on a series (universal) motor without speed control.

    Fan in terms of the flow coefficient f: head s = 1 - s1 f - (1 - s1) f^2, power l = l0 + l1 f, so that pressure goes
    with speed^2 s, flow with speed f, torque with speed^2 l. Series motor: torque falls as 1 / (speed + c)^2. The speed
    at each f is where the torques are equal.
    """
    s1, l0, l1, c = rng.uniform(0.1, 0.6), rng.uniform(0.3, 0.6), rng.uniform(0.3, 0.8), rng.uniform(0.1, 0.5)
    f = np.linspace(0.0, 1.0, 20001)
    low, high = np.full_like(f, 0.2), np.full_like(f, 5.0)
    for _ in range(60):
        speed = (low + high) / 2
        above = speed**2 * (l0 + l1 * f) * (speed + c) ** 2 > 1
        low, high = np.where(above, low, speed), np.where(above, speed, high)
    speed = (low + high) / 2
    q, p = speed * f, speed**2 * (1 - s1 * f - (1 - s1) * f**2)
    return q / q[-1], p / p[0]


def draw(rng: np.random.Generator, kind: str | None = None) -> Sweep:
    """One sweep; ``kind`` asks for a shape, among them "power" (1 - x^n, n 1.2-2.5), which ``draw`` alone never takes."""
    source = draw_source(rng, kind)
    free, shut_off = source.q[-1], source.p[0]
    openings = int(rng.integers(9, 14))
    low = rng.uniform(0.01, 0.05) * free
    high = float(np.interp(-rng.uniform(0.03, 0.15) * shut_off, -source.p[5000:], source.q[5000:]))
    levels = np.linspace(low, high, openings) + rng.uniform(-0.2, 0.2, openings) * (high - low) / openings
    levels = np.clip(levels, low, high)
    if rng.random() < 0.5:
        levels = np.concatenate([levels, levels[::-1] * (1 + 0.02 * rng.standard_normal(openings))])
        levels = np.clip(levels, low, high)
    # resistance p / q^2 falls as the flow rises; the opening is held in terms of it
    with np.errstate(divide="ignore"):
        table = np.log(source.p[1:-1] / source.q[1:-1] ** 2)
    wanted = np.interp(levels, source.q[1:-1], table)
    log_resistance = [np.full(int(3 * RATE), wanted[0])]
    for before, after in zip(np.concatenate([[wanted[0]], wanted[:-1]]), wanted, strict=True):
        moving = int(rng.uniform(0.8, 2.0) * RATE)
        log_resistance.append(np.linspace(before, after, moving))
        log_resistance.append(np.full(int(rng.uniform(5.0, 8.0) * RATE), after))
    opening = np.concatenate(log_resistance)
    n = len(opening)
    opening = opening + rng.uniform(0.005, 0.03) * correlated(rng, n, rng.uniform(0.05, 0.3))
    opening = lagged(opening, rng.uniform(0.1, 0.3))
    q = np.interp(-opening, -table, source.q[1:-1])
    p = source.pressure(q)
    speed = 1 + rng.uniform(0.0005, 0.003) * correlated(rng, n, rng.uniform(0.3, 1.0))
    q, p = q * speed, p * speed**2  # at a fixed resistance both follow the fan laws
    common, p_read, q_read = sensed(rng, p, q)
    a, b = draw_load(rng, source)
    meets = source.meets(a, b)
    power = source.q * source.p
    truth = {
        "shut_off": float(shut_off),
        "free_delivery": float(free),
        "air_power": float(power.max()),
        "air_power_flow": float(source.q[np.argmax(power)]),
        "operating_flow": meets,
        "operating_pressure": a * meets + b * meets**2,
    }
    return Sweep(source.kind, np.arange(n) / RATE, p_read, q_read, common, (a, b), truth)


def sensed(rng, p, q):
    p_read = p + rng.uniform(5.0, 30.0) * rng.standard_normal(len(p))
    q_read = q * (1 + rng.uniform(0.003, 0.015) * rng.standard_normal(len(q)))
    if rng.random() < 1 / 3:
        return {}, p_read, q_read
    span, zero = rng.uniform(0.003, 0.015), rng.uniform(5.0, 40.0)
    factor, offset = rng.uniform(0.005, 0.03), rng.uniform(2e-5, 1.5e-4)
    z = rng.standard_normal(4)
    p_read = p_read * (1 + span * z[0]) + zero * z[1]
    q_read = q_read * (1 + factor * z[2]) + offset * z[3]
    nothing = np.zeros(len(p))
    common = {
        "pressure span": (span * p_read, nothing),
        "pressure zero": (nothing + zero, nothing),
        "flow factor": (nothing, factor * q_read),
        "flow zero": (nothing, nothing + offset),
    }
    return common, p_read, q_read


def draw_load(rng, source):
    """A resistance that meets the source between 20 and 80 % of free delivery, its linear part 0-60 % there."""
    at = rng.uniform(0.2, 0.8) * source.q[-1]
    share = rng.uniform(0.0, 0.6)
    p = float(source.pressure(at))
    return share * p / at, (1 - share) * p / at**2


def correlated(rng: np.random.Generator, n: int, time_constant: float) -> np.ndarray:
    """Unit-variance noise whose correlation falls by 1/e in ``time_constant`` seconds."""
    keep = np.exp(-1 / (RATE * time_constant))
    steps = rng.standard_normal(n) * np.sqrt(1 - keep**2)
    steps[0] = rng.standard_normal()
    return recursive(steps, keep)


def lagged(x: np.ndarray, time_constant: float) -> np.ndarray:
    """First-order lag, starting settled."""
    keep = np.exp(-1 / (RATE * time_constant))
    return recursive((x - x[0]) * (1 - keep), keep) + x[0]


def recursive(x: np.ndarray, keep: float) -> np.ndarray:
    """y[k] = keep * y[k-1] + x[k], in blocks small enough that the powers of ``keep`` stay in range."""
    y = np.empty_like(x)
    last = 0.0
    size = 64
    powers = keep ** np.arange(1, size + 1)
    lower = np.tril(keep ** np.abs(np.subtract.outer(np.arange(size), np.arange(size))))
    for start in range(0, len(x), size):
        part = x[start : start + size]
        m = len(part)
        y[start : start + m] = lower[:m, :m] @ part + powers[:m] * last
        last = y[start + m - 1]
    return y
