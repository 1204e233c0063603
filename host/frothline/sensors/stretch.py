"""The mean of a stretch of samples that are not independent of each other."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True)
class StretchMean:
    """``value`` and its standard uncertainty ``u`` from scatter alone; ``n`` samples worth ``n_effective`` of them.

    ``sd`` is the standard deviation of one sample, ``correlation_length`` the number of samples (tau) that carry as
    much as one independent reading. ``dof`` are n_effective - 1.
    """

    value: float
    u: float
    sd: float
    n: int
    n_effective: float
    correlation_length: float
    dof: float


def mean_of_stretch(values: ArrayLike) -> StretchMean:
    """Mean of evenly spaced samples, NaN left out, with autocorrelation taken into account.

    u(mean)^2 = s^2 tau/n, tau = 1 + 2 sum (1 - k/n) r_k (JCGM 100:2008, 4.2.7, names the need; the sum is that of
    Law and Kelton, Simulation Modeling and Analysis, from memory). The sum is cut by the initial positive sequence of
    Geyer (Statistical Science 7, 1992): pairs of correlations are added as long as they are above zero. s^2 is itself
    too small by (1 - tau/n) when samples hang together, and is put right by it.
    """
    x = np.asarray(values, dtype=np.float64)
    x = x[np.isfinite(x)]
    n = x.size
    if n < 2:
        mean = float(x.mean()) if n else float("nan")
        return StretchMean(mean, float("nan"), float("nan"), n, float(n), 1.0, 0.0)
    mean = float(x.mean())
    deviation = x - mean
    variance = float(deviation @ deviation) / n
    if variance <= (1e-15 * max(abs(mean), 1e-300)) ** 2:
        return StretchMean(mean, 0.0, 0.0, n, float(n), 1.0, float(n - 1))
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(deviation, size)
    covariance = np.fft.irfft(spectrum * spectrum.conj(), size)[:n] / n
    r = covariance / covariance[0]
    # Pairs r_2k + r_2k+1 of a stationary reversible series are positive and fall; noise makes them go below zero.
    pairs = r[: n - n % 2].reshape(-1, 2).sum(axis=1)
    stop = int(np.argmax(pairs <= 0)) if np.any(pairs <= 0) else pairs.size
    pairs = np.minimum.accumulate(pairs[:stop]) if stop else pairs[:0]
    tau = max(2 * float(pairs.sum()) - 1.0, 1.0 / n) if stop else 1.0
    # Samples that swing against each other average better than independent ones; that is not relied on.
    tau = min(max(tau, 1.0), n / 2)
    unbiased = variance / (1 - tau / n)
    effective = n / tau
    return StretchMean(
        mean, math.sqrt(unbiased * tau / n), math.sqrt(unbiased), n, effective, tau, max(effective - 1.0, 1.0)
    )
