"""Sequential change detection designed by its false-alarm rate.

The chart is the one-sided cumulative sum of E. S. Page (1954), S = max(0, S + z - k), which raises an alarm at S > h.
It is the fastest there is for a given rate of false alarms (G. Lorden 1971); the moment at which S last left zero is
the most likely moment of the change (D. V. Hinkley 1970). How long it runs between false alarms follows from k and h by
the corrected diffusion approximation of D. Siegmund (1985),

    ARL = (exp(2 k b) - 2 k b - 1) / (2 k²)     with b = h + 1.166, k and h in standard deviations of z, no shift,

and, where k is so large that single readings decide, from the chance of one reading beyond k + h. Readings of a line
are correlated; a sum then runs as if its standard deviation were the long-run one (R. A. Johnson and M. Bagshaw 1974),
sigma √((1 + r)/(1 - r)) with the correlation r of neighbours: ``long_run_deviation``.

[page-1954] Biometrika 41, 100-115. [lorden-1971] Annals of Mathematical Statistics 42, 1897-1908. [hinkley-1970]
Biometrika 57, 1-17. [siegmund-1985] Sequential Analysis, Springer. [johnson-bagshaw-1974] Technometrics 16, 103-112.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import expm1, isnan, log1p, nan, sqrt

import numpy as np
import scipy
from numpy.typing import NDArray

BATCH = 20  # readings
OVERSHOOT = 1.166  # 2 x 0.583, Siegmund: what the sum goes beyond both of its limits, on the mean


def average_run_length(k: float, h: float, shift: float = 0.0) -> float:
    """Readings between alarms of a one-sided chart on independent normal readings of standard deviation 1.

    k : reference value;  h : decision interval;  shift : mean of the readings, in standard deviations
    Uncertainty: within 3 % of the exact figures for k up to 0.5 and h from 3 up; too long by a tenth at k = 1, h = 2,
    by a fifth at k = 1.5 and by half at k = 2, which the design has room for (the exact ones by a Markov chain, D.
    Brook and D. A. Evans, Biometrika 59, 1972, 539-549; a test does it).
    """
    drift = shift - k
    b = h + OVERSHOOT
    if abs(drift) < 1e-6:
        return b * b
    x = -2.0 * drift * b
    by_sum = (expm1(x) - x) / (2.0 * drift * drift) if x < 700.0 else float("inf")
    single = float(scipy.special.ndtr(drift - h))  # chance of one reading beyond k + h
    return min(by_sum, 1.0 / single) if single > 0.0 and drift < 0.0 else max(by_sum, 1.0)


def decision_interval(k: float, run_length: float) -> float:
    """h, in standard deviations, for a wanted number of readings between false alarms (at least 2).

    The larger of the values for the sum and for a single reading; 0 where h = 0 already runs that long.

    k : reference value, not negative
    """
    if k < 1e-6:
        return max(sqrt(run_length) - OVERSHOOT, 0.0)
    # exp(x) - x - 1 = c with x = 2 k b: Newton's method from above comes down without overshooting
    c = 2.0 * k * k * run_length
    x = sqrt(2.0 * c)
    x = min(x, log1p(c + x))
    for _ in range(60):
        step = (expm1(x) - x - c) / expm1(x)
        x -= step
        if abs(step) <= 1e-15 * x:
            break
    single = -float(scipy.special.ndtri(1.0 / run_length)) - k
    return max(x / (2.0 * k) - OVERSHOOT, single, 0.0)


def long_run_deviation(values: NDArray[np.float64]) -> tuple[float, float]:
    """(standard deviation of one reading, long-run deviation) of (n,) correlated readings about their own mean.

    The correlation of neighbours is taken at most as 0.98, and never below 0; with ten batches of BATCH readings or
    more, the value from the means of batches is used if it is larger, because only they show a slow movement under a
    quick one. NaN with fewer than 8 readings.
    """
    x = values[np.isfinite(values)]
    if len(x) < 8:
        return nan, nan
    x = x - x.mean()
    variance = float(x @ x) / (len(x) - 1)
    if variance <= 0.0:
        return 0.0, 0.0
    r = float(x[1:] @ x[:-1]) / (len(x) - 1) / variance
    r = min(max(r, 0.0), 0.98)
    run = variance * (1.0 + r) / (1.0 - r)
    if len(x) >= 10 * BATCH:
        means = x[len(x) % BATCH :].reshape(-1, BATCH).mean(axis=1)
        run = max(run, BATCH * float(means.var(ddof=1)))
    return sqrt(variance), sqrt(run)


@dataclass
class Cusum:
    """One chart. ``allowance`` and ``limit`` are in the units of the reading, ``sign`` +1 looks up, -1 looks down.

    ``since`` is the time at which the sum left zero: the most likely onset of the change.
    """

    name: str
    sign: float
    allowance: float
    limit: float
    value: float = 0.0
    since: float = field(default=nan)

    def feed(self, time: float, deviation: float) -> bool:
        """Take one deviation from the reference; True while the sum is above its limit. NaN is ignored."""
        if isnan(deviation):
            return False
        step = self.sign * deviation - self.allowance
        if self.value <= 0.0 and step > 0.0:
            self.since = time
        self.value = max(0.0, self.value + step)
        self.value = min(self.value, 2.0 * self.limit)  # the sum is capped, so that it can fall again
        return self.value > self.limit

    def design(self, deviation: float, long_run: float, run_length: float, least: float = 0.0) -> None:
        """Set the limit for ``run_length`` readings between false alarms, not below ``least``.

        deviation : of one reading;  long_run : see ``long_run_deviation``; both in the units of the reading
        """
        spread = max(long_run, 1e-12)
        by_sum = decision_interval(self.allowance / spread, run_length) * spread
        single = -float(scipy.special.ndtri(1.0 / run_length)) * deviation - self.allowance
        self.limit = max(by_sum if self.allowance < 3.0 * spread else min(by_sum, 3.0 * spread), single, least)

    def reset(self) -> None:
        self.value, self.since = 0.0, nan


def run_length_for(every: float, tick: float, charts: int) -> float:
    """Readings between false alarms of each of ``charts``, so that all together give one in ``every`` s."""
    return max(every * charts / tick, 2.0)
