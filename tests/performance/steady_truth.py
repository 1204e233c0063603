"""Signals of which it is known when they stood still: for measuring the steady-state test.

Written apart from the test itself; imports NumPy and the noise of ``sweep_truth`` alone. Pressure and flow move along
one source's curve (12 kPa, 40 L/s in the middle of it), 100 samples a second.
"""

from __future__ import annotations

import numpy as np
from sweep_truth import RATE, correlated, lagged

PRESSURE, FLOW = 12e3, 0.04  # where the signals start from
NOISES = {
    "quiet": (0.002, 0.0),  # share of the reading: white, correlated (0.2 s)
    "ordinary": (0.008, 0.005),
    "turbulent": (0.015, 0.015),
}


def signal(rng: np.random.Generator, change: np.ndarray, noise: str):
    """Time, pressure, flow for a relative change of flow ``change`` (n,); pressure falls as flow rises."""
    white, slow = NOISES[noise]
    n = len(change)
    wander = slow * correlated(rng, n, 0.2)
    q = FLOW * (1 + change + wander)
    p = PRESSURE * (1 - 0.8 * (change + wander))
    q = q * (1 + white * rng.standard_normal(n))
    p = p * (1 + white * rng.standard_normal(n))
    return np.arange(n) / RATE, p, q


def still(seconds: float) -> np.ndarray:
    return np.zeros(int(seconds * RATE))


def ramp(rate: float, seconds: float) -> np.ndarray:
    """Relative change growing by ``rate`` a second."""
    return rate * np.arange(int(seconds * RATE)) / RATE


def step(size: float, at: float, seconds: float) -> np.ndarray:
    """A movement of the hand of 0.3 s at ``at`` that the line follows with 0.15 s."""
    t = np.arange(int(seconds * RATE)) / RATE
    return lagged(size * np.clip((t - at) / 0.3, 0.0, 1.0), 0.15)


def warming(size: float, time_constant: float, seconds: float) -> np.ndarray:
    """A motor warming up: exponential approach to ``size``."""
    t = np.arange(int(seconds * RATE)) / RATE
    return size * (1 - np.exp(-t / time_constant))
