"""The last minute of readings for the watch: views by tick, means by block, fall of the scale."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from math import inf, isfinite, log, nan
from statistics import fmean

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.readings.resample import TICK, Tick
from frothline.run.watch.baseline import NAMES
from frothline.run.watch.flow_estimates import FlowEstimates

BLOCK = 10  # ticks: half a second
MINUTE = 60.0
SCALE_OVER = 2.0  # s, period for the scale's fall
SPILT = 0.2  # of the mass on the scale, within a second: a spill
LATELY = 10.0  # s
HEAVY = 0.5  # kg on the scale, below which a share of it is meaningless


class RecentReadings:
    """Rows of (time, then the logarithms of NAMES), newest last; blocks of half a second; masses."""

    def __init__(self) -> None:
        self.rows: deque[tuple[float, float, float, float, float]] = deque(maxlen=round(MINUTE / TICK))
        self.blocks: deque[tuple[float, dict[str, float]]] = deque(maxlen=240)
        self._mass: deque[tuple[float, float]] = deque(maxlen=round(SCALE_OVER / TICK))
        self._spilt_at = -inf

    def take(self, tick: Tick, views: FlowEstimates) -> tuple[float, float, float, float, float]:
        y = log(max(tick.pressure, 1.0)) if isfinite(tick.pressure) else nan
        x = log(max(tick.flow, 1e-6)) if isfinite(tick.flow) else nan
        row = (tick.time, y, x, *views.apart(tick.pressure, tick.flow))
        self.rows.append(row)
        if isfinite(tick.mass):
            self._mass.append((tick.time, tick.mass))
            before = self._mass[-min(len(self._mass), round(1.0 / TICK))][1]
            if before > HEAVY and tick.mass < (1.0 - SPILT) * before:
                self._spilt_at = tick.time
        return row

    def close_block(self, ticks: int) -> tuple[dict[str, float], float]:
        """Means of the newest ``ticks`` rows by name, and the flutter of the flow within them."""
        rows = [self.rows[k] for k in range(-ticks, 0)]
        block = {
            name: fmean(values) if len(values := [row[k] for row in rows if isfinite(row[k])]) >= 3 else nan
            for k, name in enumerate(NAMES, start=1)
        }
        self.blocks.append((rows[-1][0], block))
        return block, flutter([row[4] if isfinite(row[4]) else row[1] for row in rows])

    def since(self, time: float) -> Floats:
        """(n, 5) rows after ``time``."""
        return np.array([row for row in self.rows if row[0] > time]).reshape(-1, 1 + len(NAMES))

    def now(self, seconds: float = BLOCK * TICK) -> dict[str, float]:
        """Means over the newest seconds, by name."""
        rows = np.array([self.rows[k] for k in range(-min(round(seconds / TICK), len(self.rows)), 0)])
        return {name: mean(rows[:, k]) for k, name in enumerate(NAMES, start=1)}

    def forget_masses(self) -> None:
        self._mass.clear()

    @property
    def drawn(self) -> float:
        """Solution drawn now, kg/s, from the scale's last seconds; NaN without one."""
        if len(self._mass) < 20:
            return nan
        t, m = np.array(self._mass).T
        t = t - t.mean()
        power = float(t @ t)
        return -float(t @ m) / power if power > 0 else nan

    @property
    def spilt(self) -> bool:
        """Whether much of the mass on the scale disappeared suddenly in the recent past."""
        return bool(self._mass) and self._mass[-1][0] - self._spilt_at < LATELY


def mean(values: Floats) -> float:
    good = values[np.isfinite(values)]
    return float(good.mean()) if len(good) else nan


def known_mean(values: Iterable[float]) -> float:
    """Mean of the known values; NaN without any."""
    good = [value for value in values if isfinite(value)]
    return fmean(good) if good else nan


def flutter(values: Sequence[float] | Floats) -> float:
    """Variation within a stretch, by differences over 0.15 s: bubbles come several times per second, a slope is
    slower.
    """
    x = np.asarray(values)
    x = x[np.isfinite(x)]
    return float(np.sqrt(np.mean((x[3:] - x[:-3]) ** 2) / 2.0)) if len(x) >= 6 else nan


def fall_time(rows: Floats, fall: float, level: float) -> float:
    """Time from a fifth to four fifths of a change of the pressure, s; NaN for changes below 5 %.

    rows : (n, 5);  fall : its whole, a logarithm;  level : logarithm of the pressure before it
    """
    whole = np.expm1(fall)
    if not isfinite(fall) or abs(whole) < 0.05:
        return nan
    share = np.expm1(rows[:, 1] - level) / whole
    late = np.flatnonzero(share > 0.8)
    if not len(late):
        return nan
    early = np.flatnonzero(share[: late[0]] < 0.2)
    return float(rows[late[0], 0] - rows[early[-1], 0]) if len(early) else nan


def coarse(rows: Floats, view: str, level: float) -> tuple[Floats, Floats]:
    """(times, deviations from ``level``) of a view in (n, 5) rows, as means over a quarter of a second."""
    column = NAMES.index(view) + 1
    fives = rows[: len(rows) // 5 * 5].reshape(-1, 5, rows.shape[1])
    with np.errstate(invalid="ignore"):
        return fives[:, -1, 0], fives[:, :, column].mean(axis=1) - level


def still_moving(rows: Floats, now: float) -> bool:
    """Whether the pressure in (n, 5) rows still changes fast."""
    lately = rows[rows[:, 0] > now - 0.22][:, 1]
    lately = lately[np.isfinite(lately)]
    return len(lately) >= 3 and abs(float(lately[-1] - lately[0])) > 0.015


def rise(rows: Floats, onset: float, now: float) -> float:
    """Rise of the build's view in (n, 5) rows from just before ``onset``."""
    before = rows[(rows[:, 0] > onset - 0.35) & (rows[:, 0] < onset - 0.07)][:, 4]
    return mean(rows[rows[:, 0] > now - 0.12][:, 4]) - mean(before)
