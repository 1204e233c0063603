"""Steady points of air sources that do not exist, or whose curve is published, with everything about them known.

It imports NumPy and nothing of the package. Random errors only; the number of points, the lowest flow and the size of
the errors vary. Families: "power" p0 (1 - x^a), a 1.2 to 2.5; "line and power" 1 - l x - (1 - l) x^a; "table" a
published fan curve, joined by cubic Hermite pieces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

X = np.linspace(0.0, 1.0, 4001)
# flow and static pressure, from shut-off to free delivery
TABLES = {
    # R. W. Fox, A. T. McDonald, P. J. Pritchard, Introduction to Fluid Mechanics, example 10.11 on fan laws, as quoted
    # in the FOSSEE Scilab textbook companion 746: thousands of cfm, inches of water
    "centrifugal fan, 36 in": ([0, 10, 20, 30, 40, 50, 60], [3.68, 3.75, 3.50, 2.96, 2.12, 1.02, 0]),
    # Y. A. Cengel, J. M. Cimbala, Fluid Mechanics: Fundamentals and Applications, table 14-1, as quoted in the FOSSEE
    # Scilab textbook companion 3720: cfm, inches of water
    "local ventilation fan": ([0, 250, 500, 750, 1000, 1200], [0.90, 0.95, 0.90, 0.75, 0.40, 0.0]),
    # Modelica Buildings library, Fluid.Movers.Data.Fans, record BIDW15 (digitised from a catalogue): m3/s, Pa
    "backward inclined fan, 15 in": (
        [0, 0.940664, 1.885664, 2.826328, 3.771328, 4.711992, 5.661326, 6.601991, 7.026807],
        [3247.586, 3347.673, 3389.816, 3300.263, 2894.644, 2183.494, 1409.131, 479.368, 0],
    ),
}
POINTS = (6, 8, 11, 15)
LOWEST = {"held shut": (0.0, 0.0), "1 to 5 %": (0.01, 0.05), "5 to 15 %": (0.05, 0.15)}  # of free delivery
ERRORS = {"very small": (5e-5, 1e-4), "small": (5e-4, 1e-3), "large": (6e-3, 1e-2)}  # of shut-off pressure


@dataclass(frozen=True)
class PointSweep:
    """``q``, ``p`` as read with standard uncertainties ``u_q``, ``u_p``; ``flow``, ``pressure`` the true curve."""

    lowest: str
    errors: str
    q: np.ndarray
    p: np.ndarray
    u_q: float
    u_p: float
    flow: np.ndarray
    pressure: np.ndarray


def shape(rng: np.random.Generator, family: str) -> np.ndarray:
    """Pressure over shut-off pressure at X."""
    if family == "power":
        return 1 - X ** rng.uniform(1.2, 2.5)
    if family == "line and power":
        linear = rng.uniform(0.0, 0.6)
        return 1 - linear * X - (1 - linear) * X ** rng.uniform(1.3, 3.0)
    q, p = (np.array(item, dtype=float) for item in TABLES[family])
    return hermite(q / q[-1], p / p[0], X)


def hermite(x: np.ndarray, y: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Cubic pieces through a table whose slopes are three-point differences."""
    slope = np.gradient(y, x, edge_order=2)
    k = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    h = x[k + 1] - x[k]
    t = (at - x[k]) / h
    ends = (1 + 2 * t) * (1 - t) ** 2 * y[k] + t**2 * (3 - 2 * t) * y[k + 1]
    return ends + h * (t * (1 - t) ** 2 * slope[k] + t**2 * (t - 1) * slope[k + 1])


def draw(rng: np.random.Generator, family: str, errors: str | None = None) -> PointSweep:
    relative = shape(rng, family)
    shut_off, free = rng.uniform(5e3, 22e3), rng.uniform(0.03, 0.1)
    n, lowest = int(rng.choice(POINTS)), str(rng.choice(list(LOWEST)))
    errors = errors or str(rng.choice(list(ERRORS)))
    low = rng.uniform(*LOWEST[lowest])
    high = float(X[np.nonzero(relative > rng.uniform(0.03, 0.15))[0][-1]])
    level = np.linspace(low, high, n)
    level[1:-1] += rng.uniform(-0.2, 0.2, n - 2) * (high - low) / n
    size = rng.uniform(*ERRORS[errors])
    u_p, u_q = size * shut_off, 0.5 * size * free
    p = shut_off * np.interp(level, X, relative) + u_p * rng.standard_normal(n)
    q = free * level + u_q * rng.standard_normal(n)
    return PointSweep(lowest, errors, q, p, u_q, u_p, free * X, shut_off * relative)
