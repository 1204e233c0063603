"""Positive-displacement sources of one kind, pooled: the line of the kind and of one of this kind that nobody measured.

Such a source moves one volume a stroke and leaks: its flow at a pressure p is q0 (1 - L p). The logarithm of q0 and the
leakage L are combined with the spread between units (``numerics.random_effects``). Its points reach up to the median of
the pressures up to which the units were measured, below any relief valve; where a valve opens is not pooled.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log

import numpy as np

from frothline.curve.positive_displacement import CAUTION, LARGEST_LOSS
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.numerics.random_effects import RandomEffects, random_effects
from frothline.sweep.source_file import PumpFigures

UP_TO = (0.05, 0.2, 0.4, 0.6, 0.8, 1.0)  # of the highest pressure: points of the line
RANDOM = 1e-3  # random part of a point, of the largest value
HIGHEST_LOSS = 0.95 * LARGEST_LOSS  # of the free flow at the highest pressure, so that the points are a pump's
NO_VALVE = "a relief valve is not part of a pooled pump: enter the generator's limit yourself"


def combined(figures: Sequence[PumpFigures]) -> tuple[RandomEffects, RandomEffects, float]:
    """The logarithm of the free delivery, the leakage (1/Pa) and the highest pressure (Pa) of several pumps."""
    free = random_effects(
        [log(one.free_delivery[0]) for one in figures],
        [(one.free_delivery[1] / one.free_delivery[0]) ** 2 for one in figures],
    )
    leak = random_effects([one.leakage[0] for one in figures], [one.leakage[1] ** 2 for one in figures])
    highest = float(np.median([one.highest for one in figures]))
    if leak.mean * highest > HIGHEST_LOSS:
        highest = HIGHEST_LOSS / leak.mean
    return free, leak, highest


def pump_points(
    free: RandomEffects, leak: RandomEffects, highest: float, wider: float, spread: str
) -> tuple[SteadyPoint, ...]:
    """Points on the mean line; two common errors, named after ``spread``, carry the spread between units.

    ``wider`` : factor on the standard deviations, for an interval of few units
    """
    q0, made = exp(free.mean), []
    for share in UP_TO:
        p = share * highest
        q = q0 * (1.0 - max(leak.mean, 0.0) * p)
        common = [
            CommonError(f"{spread}, flow", 0.0, wider * free.u_new * q),
            CommonError(f"{spread}, leakage", 0.0, -wider * leak.u_new * p * q0),
        ]
        made.append(SteadyPoint.from_parts(p, q, (RANDOM * highest, RANDOM * q0, 0.0), common))
    return tuple(made)


def notes() -> tuple[str, ...]:
    """What a user of the line must know."""
    return NO_VALVE, CAUTION
