"""Propagation of distributions by drawing, for models that bend within their uncertainties (JCGM 101:2008). A reference for tests."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from frothline.errors import InputError

Floats = NDArray[np.float64]
Draw = Callable[[Generator, int], Floats]
"""Draws of one input, (n,), from a generator."""


@dataclass(frozen=True)
class Drawn:
    """``value`` mean, ``u`` standard deviation, ``lower`` and ``upper`` of the interval of ``level``; ``trials``.

    ``shortest`` says which interval it is: the shortest one (for skew distributions) or the one with equal tails.
    ``stable`` says whether the adaptive procedure met its tolerance.
    """

    value: float
    u: float
    lower: float
    upper: float
    level: float
    trials: int
    shortest: bool
    stable: bool


def normal(mean: float, u: float) -> Draw:
    """A normal input (JCGM 101:2008, 6.4.7)."""
    return lambda generator, n: generator.normal(mean, u, n)


def uniform(low: float, high: float) -> Draw:
    """An input of which only the limits are known (6.4.2)."""
    return lambda generator, n: generator.uniform(low, high, n)


def curvilinear(low: float, high: float, doubt: float) -> Draw:
    """Limits that are themselves known to +- ``doubt`` only: a rectangle with curved sides (6.4.3)."""

    def draw(generator: Generator, n: int) -> Floats:
        left = generator.uniform(low - doubt, low + doubt, n)
        right = low + high - left
        return left + (right - left) * generator.uniform(size=n)

    return draw


def arcsine(low: float, high: float) -> Draw:
    """An input that swings between limits (6.4.6)."""
    middle, half = (low + high) / 2, (high - low) / 2
    return lambda generator, n: middle + half * np.sin(2 * math.pi * generator.uniform(size=n))


def student(mean: float, scale: float, dof: float) -> Draw:
    """The mean of a few readings: scaled and shifted t (6.4.9)."""
    return lambda generator, n: mean + scale * generator.standard_t(dof, n)


def interval(draws: Floats, level: float, *, shortest: bool = False) -> tuple[float, float]:
    """Coverage interval of draws (n,): equal tails, or the shortest (JCGM 101:2008, 7.7)."""
    ordered = np.sort(draws)
    inside = math.floor(level * ordered.size + 0.5)
    if not shortest:
        left = (ordered.size - inside + 1) // 2
        return float(ordered[left]), float(ordered[min(left + inside, ordered.size - 1)])
    widths = ordered[inside:] - ordered[: ordered.size - inside]
    left = int(np.argmin(widths))
    return float(ordered[left]), float(ordered[left + inside])


def monte_carlo(
    model: Callable[..., Floats],
    inputs: Mapping[str, Draw],
    *,
    seed: int,
    trials: int = 200_000,
    level: float = 0.95,
    shortest: bool = False,
    digits: int | None = None,
    most_trials: int = 10_000_000,
) -> Drawn:
    """Distribution of ``model(**inputs)``, drawn.

    With ``digits`` None a fixed number of trials is run. Else blocks of 10,000 are added until mean, standard deviation
    and both ends of the interval stand still, over two standard deviations of their block means, within half a unit of
    the last of ``digits`` significant digits of u (JCGM 101:2008, 7.9). InputError for a level outside 0 to 1.
    """
    if not 0 < level < 1:
        raise InputError(f"a level of {level} is not between 0 and 1", remedy="0.95 is customary")
    generator = np.random.default_rng(seed)

    def block(size: int) -> Floats:
        drawn = {name: draw(generator, size) for name, draw in inputs.items()}
        return np.asarray(model(**drawn), dtype=np.float64)

    if digits is None:
        values = block(trials)
        low, high = interval(values, level, shortest=shortest)
        return Drawn(float(values.mean()), float(values.std(ddof=1)), low, high, level, trials, shortest, stable=True)
    size = max(10_000, math.ceil(100 / (1 - level)))
    blocks: list[Floats] = []
    found: list[tuple[float, float, float, float]] = []
    stable = False
    while not stable and size * len(blocks) < most_trials:
        values = block(size)
        blocks.append(values)
        found.append((float(values.mean()), float(values.std(ddof=1)), *interval(values, level, shortest=shortest)))
        if len(found) < 2:
            continue
        spread = 2 * np.std(found, axis=0, ddof=1) / math.sqrt(len(found))
        u = float(np.concatenate(blocks).std(ddof=1))
        tolerance = numerical_tolerance(u, digits)
        stable = bool(np.all(spread < tolerance))
    values = np.concatenate(blocks)
    low, high = interval(values, level, shortest=shortest)
    return Drawn(float(values.mean()), float(values.std(ddof=1)), low, high, level, values.size, shortest, stable)


def numerical_tolerance(u: float, digits: int) -> float:
    """Half a unit in the last of so many significant digits of u (JCGM 101:2008, 7.9.2)."""
    if u <= 0:
        return 0.0
    exponent = math.floor(math.log10(u)) - (digits - 1)
    return 0.5 * 10.0**exponent
