"""The mean of a steady stretch of autocorrelated samples, with its uncertainty.

Samples of a turbulent line taken every 10 ms are correlated, so the standard deviation of their mean is larger than ``s
/ sqrt(n)`` (JCGM 100:2008, 4.2.7; N. F. Zhang, "Calculation of the uncertainty of the mean of autocorrelated
measurements", Metrologia 43 (2006) S276-S281). The variance of the mean of a long record is the spectrum at frequency
zero over n. It is estimated with an autoregressive model: coefficients by J. P. Burg's method (S. M. Kay, Modern
Spectral Estimation, 1988, section 7.5), the order by the corrected information criterion (C. M. Hurvich and C.-L. Tsai,
Biometrika 76 (1989) 297-307).

An autoregressive model of a short record has too little memory, because the record's own mean was subtracted: the
coefficient of first order is low by (1 + 3 phi) / n (F. H. C. Marriott and J. A. Pope, "Bias in the estimation of
autocorrelations", Biometrika 41 (1954) 390-402; M. G. Kendall, ibid. 403-404). The sum of the coefficients is increased
by that. For a stretch not much longer than the memory, the missing part of the spectrum is taken from the exact
variance of the mean of a first-order process with the same spectrum at zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

SHARE_OF_LAGS = 5  # the order of the model is at most n over this, and ...
LAGS_PER_DECADE = 10  # ... at most 10 log10(n), the usual limit of autoregressive spectra
WINDOW = 5.0  # lags of the cross-covariance that are summed, in correlation times (A. Sokal, 1997, section 3: 4 to 10)


@dataclass(frozen=True)
class MeanOf:
    """Means of one or more channels over one stretch.

    value : (k,) the means, in the channels' own units
    covariance : (k, k) covariance of the means, with autocorrelation and cross-correlation
    n : number of samples
    n_effective : (k,) number of independent samples with the same variance of the mean
    """

    value: NDArray[np.float64]
    covariance: NDArray[np.float64]
    n: int
    n_effective: NDArray[np.float64]


@dataclass(frozen=True)
class StretchMean:
    """Mean of one channel over one stretch.

    value : the mean
    u : its standard uncertainty, from scatter alone
    sd : standard deviation of one sample
    n : number of samples
    n_effective : number of independent samples with the same variance of the mean
    correlation_length : number of samples (tau) equivalent to one independent reading
    dof : n_effective - 1, at least 1
    """

    value: float
    u: float
    sd: float
    n: int
    n_effective: float
    correlation_length: float
    dof: float


def mean_of_stretch(values: ArrayLike) -> StretchMean:
    """Mean of the evenly spaced samples ``values`` (n,) of one channel, without NaN; see :func:`mean_of`."""
    x = np.asarray(values, dtype=np.float64)
    x = x[np.isfinite(x)]
    n = x.size
    if n < 2:
        mean = float(x.mean()) if n else math.nan
        return StretchMean(mean, math.nan, math.nan, n, float(n), 1.0, 0.0)
    found = mean_of(x)
    mean, variance, effective = float(found.value[0]), float(found.covariance[0, 0]), float(found.n_effective[0])
    return StretchMean(
        value=mean,
        u=math.sqrt(variance),
        sd=math.sqrt(variance * effective),
        n=n,
        n_effective=effective,
        correlation_length=n / effective,
        dof=max(effective - 1.0, 1.0),
    )


def mean_of(samples: ArrayLike) -> MeanOf:
    """Means of ``samples`` (n,) or (n, k), evenly spaced in time, with the covariance of the means.

    The variance of fewer than two samples is unknown: NaN.
    """
    x = np.asarray(samples, dtype=np.float64)
    x = x[:, None] if x.ndim == 1 else x
    n, k = x.shape
    mean = x.mean(axis=0) if n else np.full(k, np.nan)
    if n < 2 or not np.all(np.isfinite(mean)):
        return MeanOf(mean, np.full((k, k), np.nan), n, np.full(k, float(n)))
    deviation = x - mean
    variance = np.sum(deviation**2, axis=0) / (n - 1)
    variance = np.where(variance <= (1e-15 * np.abs(mean)) ** 2, 0.0, variance)  # rounding of equal samples
    unit = np.where(variance > 0, np.sqrt(variance), 1.0)
    scaled = np.where(variance > 0, deviation / unit, 0.0)
    own = np.array([_variance_of_mean(scaled[:, j]) for j in range(k)])
    covariance = _together(scaled, own) * np.outer(unit, unit)
    of_mean = np.diag(covariance)
    with np.errstate(divide="ignore", invalid="ignore"):
        effective = np.where(of_mean > 0, variance / of_mean, float(n))
    return MeanOf(mean, covariance, n, np.clip(effective, 1.0, float(n)))


def _variance_of_mean(deviation: NDArray[np.float64]) -> float:
    """Variance of the mean of ``deviation`` (n,), whose mean was subtracted; not less than for independent samples.

    Negatively correlated readings would average better, but that is not relied on.
    """
    n = len(deviation)
    independent = float(deviation @ deviation) / (n - 1) / n
    if independent <= 1e-24 / n:  # of channels scaled to unit variance
        return independent
    order, memory, innovation = _autoregression(deviation)
    left = 1.0 - memory
    if order > 0 and memory > 0.0:
        left = max(left - (1.0 + 3.0 * memory) / n, 1.0 / n)
    found = innovation / left**2 / n
    length = found / independent
    if length > 1.0:
        same = 1.0 - left if order == 1 else (length - 1.0) / (length + 1.0)  # first order with that spectrum at zero
        found *= 1.0 - 2.0 * same * (1.0 - same**n) / (n * (1.0 - same**2))
    return max(found, independent)


def _autoregression(deviation: NDArray[np.float64]) -> tuple[int, float, float]:
    """Order, sum of the coefficients and variance of the innovations of the best autoregressive model."""
    n = len(deviation)
    forward, backward = deviation[1:], deviation[:-1]
    coefficients = np.array([1.0])
    left = float(deviation @ deviation) / n
    best = (math.inf, 0, 0.0, left * n / (n - 1))
    for order in range(int(min(n / SHARE_OF_LAGS, LAGS_PER_DECADE * math.log10(n))) + 1):
        count = order + 1  # coefficients and the variance
        if n - count - 2 <= 0 or left <= 0.0:
            break
        score = n * math.log(left) + 2.0 * count * n / (n - count - 2)
        if score < best[0]:
            best = (score, order, 1.0 - float(coefficients.sum()), left * n / (n - count))
        power = float(forward @ forward + backward @ backward)
        if power <= 0.0:
            break
        reflection = 2.0 * float(forward @ backward) / power
        longer = np.append(coefficients, 0.0)
        coefficients = longer - reflection * longer[::-1]
        left *= 1.0 - reflection**2
        forward, backward = (forward - reflection * backward)[1:], (backward - reflection * forward)[:-1]
    return best[1:]


def _together(scaled: NDArray[np.float64], own: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k, k) covariance of the means of ``scaled`` (n, k), whose own variances are ``own``.

    The correlations are from the covariances summed over five correlation times, the variances are ``own``: pressure
    and flow of a throttled line vary together, and the remainder is a small difference of large entries, which a
    separate estimate of each entry would distort.
    """
    n, k = scaled.shape
    if k == 1:
        return np.array([[own[0]]])
    longest = n * float(own.max())
    lags = 0 if longest <= 1.0 else min(math.ceil(WINDOW * longest / 2), n // 4)
    total = scaled.T @ scaled
    for lag in range(1, lags + 1):
        product = scaled[:-lag].T @ scaled[lag:]
        total += product + product.T
    summed = np.maximum(np.diag(total), np.where(own > 0, 1.0, 0.0) * (n - 1))
    live = own > 0
    size = math.exp(float(np.mean(np.log(own[live] / summed[live])))) if np.any(live) else 0.0
    limit = np.sqrt(np.outer(summed, summed))
    found: NDArray[np.float64] = np.clip(total, -0.999 * limit, 0.999 * limit)
    np.fill_diagonal(found, summed)
    floor = np.where(live, 1.0 / n, 0.0)
    found *= size
    lift = np.sqrt(np.divide(np.maximum(np.diag(found), floor), np.diag(found), out=np.ones(k), where=live))
    found *= np.outer(lift, lift)
    return found
