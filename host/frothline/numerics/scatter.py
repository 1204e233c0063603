"""Widening of a stated uncertainty when a few repeats or residuals scatter by more than it.

With few degrees of freedom a test of whether the scatter is larger than stated rarely detects it, and the interval is
then too narrow. This module uses no test. The true scatter is ``k`` times the stated one; ``k`` is unknown, with a
logarithm that is uniform over a wide range, and the 95 % limits follow from its distribution given the observed
chi-square (Gelman et al., Bayesian Data Analysis, 3rd edition 2013, section 2.9 for a uniform scale, from memory). An
unlimited range would give Student's factor; the limits of the range keep two or three readings useful. Readings that
agree better than stated, which happens by chance, do not reduce the stated uncertainty.
"""

from __future__ import annotations

from functools import lru_cache
from math import sqrt

import numpy as np
import scipy

from frothline.estimate import Z95
from frothline.numerics.distributions import normal_exceedance

# Standard deviation of a normal quantity over its median absolute deviation, 1/Phi^-1(3/4).
DEVIATION_OVER_MEDIAN = 1.4826
LEAST, MOST = 0.3, 10.0  # times the stated scatter; judgement, no source
_STEPS = 400


def widening(chi_square: float, dof: int) -> float:
    """Factor on a stated standard uncertainty, so that 1.96 times the product has 95 % coverage.

    chi_square : weighted sum of squares about the mean or the line
    dof : its degrees of freedom, 0 without repeats
    """
    if dof < 1:
        return 1.0
    return _widening(round(float(chi_square), 9), int(dof))


@lru_cache(maxsize=1024)  # a long session makes many fits
def _widening(chi_square: float, dof: int) -> float:
    most = MOST * max(1.0, sqrt(chi_square / dof))
    k = np.geomspace(LEAST, most, _STEPS)
    log_density = -dof * np.log(k) - 0.5 * chi_square / k**2
    density = np.exp(log_density - log_density.max())
    density /= density.sum()

    def beyond(limit: float) -> float:
        return float(2.0 * density @ normal_exceedance(limit / k)) - 0.05

    return max(float(scipy.optimize.brentq(beyond, 0.01, 100.0 * most)) / Z95, 1.0)
