"""Values of several units with their own uncertainties: mean, spread between units, and the prediction for a new unit.

Model: y_i = mu + b_i + e_i with var(b_i) = tau2 between units and the known var(e_i) = v_i within. tau2 is found by
restricted maximum likelihood, by the moments of R. DerSimonian and N. Laird, Control. Clin. Trials 7 (1986) 177-188, or
median-unbiased: the generalised Q statistic is then at the median of its chi-square (W. Viechtbauer, Stat. Med. 26
(2007) 37-52 has the statistic; from memory). With few units the first two are too small more often than too large, so
that a prediction uses the third.

Prediction interval: J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter, J. R. Stat. Soc. A 172 (2009) 137-159:
Student's factor with k - 2 degrees of freedom.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np
import scipy
from numpy.typing import ArrayLike

from frothline.errors import TooFewPoints
from frothline.numerics.distributions import chi_square_quantile
from frothline.numerics.uncertainty import student_factor

FEWEST = 3  # units: with two, the prediction has no degree of freedom
_STEPS = 200


@dataclass(frozen=True)
class RandomEffects:
    """The result.

    mean, u_mean : of all units of the kind, and its standard uncertainty
    tau2 : variance between units
    units : their number
    """

    mean: float
    u_mean: float
    tau2: float
    units: int

    @property
    def u_new(self) -> float:
        """Standard deviation of the value of a new unit."""
        return sqrt(self.tau2 + self.u_mean**2)

    def prediction(self, level: float = 0.95) -> tuple[float, float]:
        """Interval that has the value of a new unit with probability ``level``."""
        half = float(student_factor(float(self.units - 2), level)) * self.u_new
        return self.mean - half, self.mean + half


def random_effects(
    values: ArrayLike, variances: ArrayLike, method: Literal["reml", "moments", "median"] = "median"
) -> RandomEffects:
    """Combine the values (k,) of k units with their variances (k,).

    Raises TooFewPoints below three units. A tau2 below zero is taken as 0.
    """
    y, v = (np.asarray(one, dtype=np.float64) for one in (values, variances))
    if len(y) < FEWEST:
        raise TooFewPoints(f"{len(y)} units are not enough for a spread between units; the minimum is {FEWEST}")
    v = np.maximum(v, 1e-300 + 1e-12 * float(np.var(y)))
    tau2 = _moments(y, v)
    if method == "reml":
        tau2 = _restricted(y, v, tau2)
    elif method == "median":
        tau2 = _median(y, v)
    w = 1 / (v + tau2)
    return RandomEffects(float(w @ y / w.sum()), sqrt(1 / float(w.sum())), tau2, len(y))


def _moments(y: np.ndarray, v: np.ndarray) -> float:
    w = 1 / v
    mean = w @ y / w.sum()
    q = float(w @ (y - mean) ** 2)
    return max((q - (len(y) - 1)) / float(w.sum() - w @ w / w.sum()), 0.0)


def _median(y: np.ndarray, v: np.ndarray) -> float:
    wanted = chi_square_quantile(0.5, len(y) - 1)

    def excess(tau2: float) -> float:
        w = 1 / (v + tau2)
        return float(w @ (y - w @ y / w.sum()) ** 2) - wanted

    if excess(0.0) <= 0.0:
        return 0.0
    top = float(np.sum((y - np.mean(y)) ** 2)) / wanted  # there even exact values have no more than the median
    return float(scipy.optimize.brentq(excess, 0.0, 1.01 * top, xtol=1e-15 * top, rtol=1e-13))


def _restricted(y: np.ndarray, v: np.ndarray, start: float) -> float:
    """Fixed-point iteration of the restricted likelihood's equation for tau2."""
    tau2 = max(start, 1e-6 * float(np.var(y)))
    for _ in range(_STEPS):
        w = 1 / (v + tau2)
        mean = w @ y / w.sum()
        new = float(w**2 @ ((y - mean) ** 2 - v) / (w @ w)) + 1 / float(w.sum())
        new = max(new, 0.0)
        if abs(new - tau2) <= 1e-12 * (tau2 + 1e-300):
            break
        tau2 = new
    return tau2
