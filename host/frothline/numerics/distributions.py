"""Quantiles, tail probabilities and rank correlation with ``scipy.special``.

``scipy.stats`` has the same functions and takes half a second to load; nothing of the package imports it.
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import ArrayLike

from frothline.numerics.arrays import Floats


def chi_square_quantile(level: float, freedom: float) -> float:
    """Quantile of chi-square with ``freedom`` degrees of freedom at probability ``level``."""
    return float(2.0 * scipy.special.gammaincinv(freedom / 2.0, level))


def chi_square_exceedance(value: float, freedom: float) -> float:
    """Probability that chi-square with ``freedom`` degrees of freedom is above ``value``; 1 for a value below 0."""
    return float(scipy.special.chdtrc(freedom, max(value, 0.0)))


def normal_exceedance(value: ArrayLike) -> Floats:
    """Probability that a standard normal variate is above each value (n,)."""
    return np.asarray(scipy.special.ndtr(-np.asarray(value, dtype=np.float64)))


def student_exceedance(value: float, freedom: float) -> float:
    """Probability that Student's t of ``freedom`` degrees of freedom is above ``value``."""
    return float(scipy.special.stdtr(freedom, -value))


def f_exceedance(value: float, above: float, below: float) -> float:
    """Probability that F is above ``value``; degrees of freedom of numerator (``above``) and denominator (``below``).

    The result is 1 for a value below 0.
    """
    return float(scipy.special.fdtrc(above, below, np.maximum(value, 0.0)))


def rank_correlation(x: ArrayLike, y: ArrayLike) -> float:
    """Spearman's rank correlation of two samples (n,), equal values with their mean rank.

    NaN for fewer than two values, for NaN in a sample, and where all values of one sample are equal.
    """
    a, b = (_ranks(np.asarray(one, dtype=np.float64)) for one in (x, y))
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0 else float("nan")


def _ranks(values: Floats) -> Floats:
    """Ranks minus their mean, (n,); NaN where one value is NaN."""
    if np.isnan(values).any():
        return np.full(values.size, np.nan)
    _, which, count = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(count)
    mean = last - (count - 1) / 2.0
    return np.asarray(mean[which] - (values.size + 1) / 2.0)
