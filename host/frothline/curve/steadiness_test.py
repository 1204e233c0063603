"""Tests of steadiness on block means, used by ``steady``.

The test is the ratio of variances. J. von Neumann, "Distribution of the ratio of the mean square successive difference
to the variance", Ann. Math. Statist. 12 (1941) 367-395: with M = sum of squared successive differences over sum of
squared deviations from the mean, M is near 2 for independent values and small for values with a trend. S. Cao and R. R.
Rhinehart, "An efficient method for on-line identification of steady state", J. Process Control 5 (1995) 363-374,
applied the ratio to process signals. The normal approximation used for its significance,

    T = (1 - M / 2) / sqrt((N - 2) / ((N - 1) (N + 1))),

is from NIST's Dataplot reference manual (Mean Successive Differences Test). Own choices, measured in
``tests/performance``: the values are means over blocks of 0.25 s; windows of 12 blocks; both channels must pass.
Successive blocks of a turbulent line are correlated, which the ratio takes for a trend. A window that fails the test
therefore counts as moving only if its straight-line change is also material: more than 0.3 % of the value, and more
than its own uncertainty, with the number of independent blocks reduced by the lag-one correlation of the residuals (B.
D. Santer et al., "Statistical significance of trends and trend differences in layer-average atmospheric temperature
time series", J. Geophys. Res. 105 (2000) 7337-7356). A block far from the mean of its stretch ends the stretch at once.
A stretch that passes window by window but drifts as a whole is reported as drifting, with the amount, and gives no
point.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

WARMING = 15.0  # s; a slow change over a longer stretch is due to the source, over a shorter one rather to the hand
DRIFT_RISK = 1e-3  # probability of reporting a constant channel as drifting, per stretch
MOST_ALIKE = 0.5  # lag-one correlation of quarter-second blocks attributed to turbulence; more is movement


@dataclass(frozen=True)
class SteadySettings:
    """Criteria of steadiness. The defaults are own choices; see the module docstring."""

    block: float = 0.25  # s
    window: int = 12  # blocks tested together
    trend: float = 2.58  # T above which a window trends; one-sided 0.5 % for independent blocks
    step: float = 5.0  # block standard deviations from the stretch's mean that end it
    negligible: float = 0.003  # relative change across a window that does not matter
    gross: float = 0.03  # relative change across a window that is movement even within the noise
    negligible_pressure: float = 8.0  # Pa, the same near zero
    negligible_flow: float = 5e-5  # m3/s
    drift: float = 0.005  # relative change over a whole stretch above which it is refused as drifting
    longest: float = 60.0  # s; a longer stretch becomes several points, so that a drift between them is visible


def trend_statistic(values: ArrayLike) -> float:
    """T of the ratio-of-variances test for ``values`` (n,): about standard normal for independent values.

    Large positive values mean a trend or a step. 0 for constant values; needs at least 4 values.
    """
    x = np.asarray(values, dtype=np.float64)
    n = len(x)
    if n < 4:
        return 0.0
    spread = float(np.sum((x - x.mean()) ** 2))
    if spread <= (1e-12 * abs(float(x.mean()))) ** 2 * n:
        return 0.0
    ratio = float(np.sum(np.diff(x) ** 2)) / spread
    return (1 - ratio / 2) / sqrt((n - 2) / ((n - 1) * (n + 1)))


@dataclass
class Block:
    """One block of samples: from ``start`` to ``end`` (s), ``p`` (n,) Pa, ``q`` (n,) m3/s, and the other channels."""

    start: float
    end: float
    p: NDArray[np.float64]
    q: NDArray[np.float64]
    more: dict[str, NDArray[np.float64]]
    mean_p: float = field(init=False)
    mean_q: float = field(init=False)

    def __post_init__(self) -> None:
        self.mean_p = float(np.mean(self.p))
        self.mean_q = float(np.mean(self.q))


def channels(blocks: list[Block], settings: SteadySettings) -> tuple[tuple[str, NDArray[np.float64], float], ...]:
    """Name, block means and negligible change, for each of the two channels."""
    return (
        ("pressure", np.array([block.mean_p for block in blocks]), settings.negligible_pressure),
        ("flow", np.array([block.mean_q for block in blocks]), settings.negligible_flow),
    )


def slope_of(values: NDArray[np.float64]) -> tuple[float, float]:
    """Least-squares slope per step and its standard uncertainty, allowing for lag-one correlation of the residuals."""
    n = len(values)
    x = np.arange(n) - (n - 1) / 2
    sxx = float(x @ x)
    slope = float(x @ values) / sxx
    residual = values - values.mean() - slope * x
    squares = float(residual @ residual)
    alike = float(residual[:-1] @ residual[1:]) / squares + 2 / n if squares > 0 else 0.0  # 2/n: bias of two fitted
    alike = min(max(alike, 0.0), MOST_ALIKE)
    return slope, sqrt(squares / max(n - 2, 1) / sxx * (1 + alike) / (1 - alike))


def settled(blocks: list[Block], settings: SteadySettings) -> list[Block]:
    """The blocks without the settling at the start, if leaving it out removes the trend of the stretch.

    At most one window is left out, so that a slow drift is still found.
    """
    most = min(settings.window, len(blocks) - settings.window)
    for cut in range(max(most, 0) + 1):
        if not drift_words(blocks[cut:], settings, negligible=True):
            return blocks[cut:]
    return blocks


def drift_words(blocks: list[Block], settings: SteadySettings, *, negligible: bool = False) -> str:
    """Text if the stretch as a whole drifted by more than ``settings.drift``, else empty.

    ``negligible``: the limit is half of the negligible change instead.
    """
    limit = settings.negligible / 2 if negligible else settings.drift
    span = blocks[-1].end - blocks[0].start
    for word, values, floor in channels(blocks, settings):
        slope, u = slope_of(values)
        change = slope * len(values)
        level = abs(float(values.mean()))
        # many stretches are tested, each twice: Student's factor at a small risk avoids false alarms
        sure = settings.trend if negligible else float(scipy.special.stdtrit(len(values) - 2, 1 - DRIFT_RISK / 2))
        if abs(slope) > sure * u and abs(change) > max(limit * level, floor):
            share = f"{100 * abs(change) / level:.1f} % " if level > 10 * floor else ""
            way = "rose" if change > 0 else "fell"
            remedy = "let the source warm up, then hold again" if span > WARMING else "hold a little longer"
            return f"{word} {way} slowly by {share}in {span:.0f} s: {remedy}"
    return ""
