"""The mean of a steady stretch and how well it is known when neighbouring samples resemble each other.

Samples of a turbulent line taken every 10 ms are not independent, so the standard deviation of the mean is larger than
``s / sqrt(n)`` (JCGM 100:2008, 4.2.7). N. F. Zhang, "Calculation of the uncertainty of the mean of autocorrelated
measurements", Metrologia 43 (2006) S276-S281, gives the variance of the mean from the autocorrelations; where to stop
summing them is decided as A. Sokal does for Monte Carlo series: at the first lag beyond five correlation times
("Monte Carlo methods in statistical mechanics", 1997, section 3).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

SOKAL_WINDOW = 5.0  # lags summed, in correlation times; Sokal recommends 4 to 10


@dataclass(frozen=True)
class MeanOf:
    """Means of one or more channels over one stretch.

    value : (k,) the means, in the channels' own units
    covariance : (k, k) covariance matrix of the means, autocorrelation and cross-correlation taken into account
    n : number of samples
    n_effective : (k,) number of independent samples that would give the same variance of the mean
    """

    value: NDArray[np.float64]
    covariance: NDArray[np.float64]
    n: int
    n_effective: NDArray[np.float64]


def mean_of(samples: ArrayLike) -> MeanOf:
    """Means of ``samples`` (n,) or (n, k), evenly spaced in time, with the covariance of the means.

    The summed autocovariance of a short record is biased low because its own mean was subtracted: to first order by
    the factor ``1 - m / n`` with m the number of lags summed either side, which is divided out (the same argument as
    for n - 1 in the variance of independent samples). Fewer than two samples have no known variance: NaN.
    """
    x = np.asarray(samples, dtype=np.float64)
    x = x[:, None] if x.ndim == 1 else x
    n, k = x.shape
    mean = x.mean(axis=0) if n else np.full(k, np.nan)
    if n < 2:
        return MeanOf(mean, np.full((k, k), np.nan), n, np.full(k, float(n)))
    deviation = x - mean
    padded = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(deviation, padded, axis=0)
    own = np.fft.irfft(np.abs(spectrum) ** 2, padded, axis=0)[:n]  # (lag, channel) sums of products
    lags = max(_lags_to_sum(own[:, j] / own[0, j]) if own[0, j] > 0 else 0 for j in range(k))
    inner = deviation.T @ deviation
    total = inner.copy()
    for lag in range(1, lags + 1):
        product = deviation[:-lag].T @ deviation[lag:]
        total += product + product.T
    lost = min((1 + 2 * lags) / n, 0.75)
    variance = np.diag(inner) / (n - 1)
    covariance = _made_possible(total / n**2 / (1 - lost), variance / n)
    own_mean = np.diag(covariance)
    with np.errstate(divide="ignore", invalid="ignore"):
        effective = np.where(own_mean > 0, variance / own_mean, float(n))
    return MeanOf(mean, covariance, n, np.clip(effective, 1.0, float(n)))


def _made_possible(covariance: NDArray[np.float64], floor: NDArray[np.float64]) -> NDArray[np.float64]:
    """A truncated sum of autocovariances may come out impossible: variances are kept at or above those of independent
    samples (throttled air is never better than that by chance only), correlations inside -1..1.
    """
    own = np.maximum(np.diag(covariance), floor)
    limit = np.sqrt(np.outer(own, own))
    result: NDArray[np.float64] = np.clip(covariance, -0.999 * limit, 0.999 * limit)
    np.fill_diagonal(result, own)
    return result


def _lags_to_sum(correlation: NDArray[np.float64]) -> int:
    """Smallest lag m with m >= 5 tau(m), tau(m) = 1/2 + sum of the correlations up to m; 0 for white noise."""
    limit = len(correlation) // 4
    noise = 2 / np.sqrt(len(correlation))  # a correlation below this is not told from none at about 95 %
    if correlation[1] < noise:
        return 0
    tau = 0.5 + np.cumsum(correlation[1 : limit + 1])
    enough = np.nonzero(np.arange(1, limit + 1) >= SOKAL_WINDOW * tau)[0]
    return int(enough[0]) + 1 if len(enough) else limit
