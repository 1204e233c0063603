"""Onset and shape of a change: a step or a ramp from an unknown time, by generalised likelihood ratio.

Two profiles are fitted to the readings for every possible onset, each with its best size: a constant step and a growing
ramp. With equal normal errors the likelihood ratio is a sum of squares that the profile explains (A. S. Willsky and H.
L. Jones, IEEE Transactions on Automatic Control 21, 1976, 108-112; M. Basseville and I. V. Nikiforov, Detection of
Abrupt Changes, 1993, ch. 2).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import Literal

import numpy as np

from frothline.numerics.arrays import Floats


@dataclass(frozen=True)
class ChangeShape:
    """Result of the fit: ``kind`` of the better profile; ``onset`` s; ``size`` at the last reading, in its units;
    ``slope`` of the ramp, per s; ``step_share`` and ``ramp_share``: share of the readings' sum of squares that each
    explains, 0 to 1; ``readings``: number of readings.
    """

    kind: Literal["step", "ramp"]
    onset: float
    size: float
    slope: float
    step_share: float
    ramp_share: float
    readings: int

    @property
    def for_ramp(self) -> float:
        """Twice the log likelihood ratio of ramp over step, as if readings were independent; below 0 for a step."""
        return self.readings * log(max(1.0 - self.step_share, 1e-9) / max(1.0 - self.ramp_share, 1e-9))

    @property
    def clear_ramp(self) -> bool:
        """Whether a step fits clearly worse (the best step explains 8/9 of a perfect ramp)."""
        return self.kind == "ramp" and 1.0 - self.ramp_share < 0.35 * (1.0 - self.step_share)


def shape_of(time: Floats, deviation: Floats, earliest: float = -np.inf) -> ChangeShape | None:
    """The better profile of (n,) deviations from a reference at (n,) s; None with fewer than 4 known readings.

    A ramp is chosen only if it explains clearly more than a step: half of the step's residual.
    """
    good = np.isfinite(deviation)
    t, x = time[good], deviation[good]
    n = len(t)
    total = float(x @ x)
    if n < 4 or total <= 0.0:
        return None
    starts = np.arange(n - 2)
    starts = starts[t[starts] >= earliest]
    if not len(starts):
        return None
    tail_sum = np.cumsum(x[::-1])[::-1]
    tail_n = np.arange(n, 0, -1)
    step_gain = tail_sum[starts] ** 2 / tail_n[starts]
    best_step = int(starts[np.argmax(step_gain)])
    since = np.maximum(t[None, :] - t[starts][:, None], 0.0)
    power = np.einsum("ij,ij->i", since, since)
    along = since @ x
    ramp_gain = along**2 / np.maximum(power, 1e-12)
    place = int(np.argmax(ramp_gain))
    step_share, ramp_share = float(step_gain.max()) / total, float(ramp_gain.max()) / total
    slope = float(along[place] / power[place])
    if 1.0 - ramp_share < 0.5 * (1.0 - step_share):
        began = float(t[starts[place]])
        return ChangeShape("ramp", began, slope * float(t[-1] - began), slope, step_share, ramp_share, n)
    size = float(tail_sum[best_step] / tail_n[best_step])
    return ChangeShape("step", float(t[best_step]), size, slope, step_share, ramp_share, n)
