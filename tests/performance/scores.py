"""How often intervals hold the truth, how wide and how biased they are: the figures of the kept pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

RESULTS = {
    "shut_off": "shut-off pressure",
    "free_delivery": "free delivery",
    "air_power": "largest air power",
    "air_power_flow": "flow at largest air power",
    "operating_flow": "operating point, flow",
    "operating_pressure": "operating point, pressure",
}


@dataclass(frozen=True)
class Outcome:
    """One result of one sweep: the truth (SI) and what was said of it."""

    result: str
    kind: str  # of source
    common: bool  # whether the sensors had errors common to all points
    form: str
    truth: float
    value: float
    lower: float
    upper: float

    @property
    def holds(self) -> bool:
        return self.lower <= self.truth <= self.upper


@dataclass(frozen=True)
class Score:
    """What many outcomes come to.

    coverage : share of intervals that hold the truth, with its own 95 % interval (Clopper and Pearson, Biometrika 26
        (1934) 404-413)
    bias : mean error over mean width of the interval
    half_width : median of half the interval over the truth
    """

    count: int
    coverage: float
    coverage_range: tuple[float, float]
    bias: float
    half_width: float


def score(outcomes: Sequence[Outcome]) -> Score:
    """Coverage, bias and width of outcomes of one result. Raises ValueError if there are none."""
    if not outcomes:
        raise ValueError("no outcomes")
    n, good = len(outcomes), sum(item.holds for item in outcomes)
    width = np.array([(item.upper - item.lower) / item.truth for item in outcomes])
    error = np.array([(item.value - item.truth) / item.truth for item in outcomes])
    bounded = np.isfinite(width) & np.isfinite(error)
    low = float(stats.beta.ppf(0.025, good, n - good + 1)) if good else 0.0
    high = float(stats.beta.ppf(0.975, good + 1, n - good)) if good < n else 1.0
    return Score(
        count=n,
        coverage=good / n,
        coverage_range=(low, high),
        bias=float(np.mean(error[bounded]) / np.mean(width[bounded])),
        half_width=float(np.median(width)) / 2,
    )
