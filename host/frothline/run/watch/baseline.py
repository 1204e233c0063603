"""The baseline of a run without faults: level and natural variation of each view."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite, nan, sqrt

import numpy as np
from numpy.typing import NDArray

from frothline.run.watch.cusum import long_run_deviation

NAMES = ("pressure", "flow", "source", "build")  # logarithms: of the two readings, and anemometer over the two views

# Minimum variation of each view, even if a short observation shows less: mains and mechanics wander by some tenths of a
# per cent of pressure within a minute; common practice, no source
LEAST = {"pressure": 0.002, "flow": 0.002, "source": 0.002, "build": 0.0015}
DOUBT = 1.5  # standard uncertainties for a conservative deviation
UNSEEN, AT_LEAST_AT_FIRST = 0.02, 0.006  # deviations before any observation, and after a first one; judgement
REMEMBERED, REFINE_FROM, REFINE_EVERY = 600, 120, 60  # blocks: the last five minutes, after one, twice a minute
WANDER = 0.0015  # relative, of the source's pressure: times the slope of its curve this is the variation of its view


@dataclass(frozen=True)
class Baseline:
    """Level, standard deviation of one block and long-run deviation of each of NAMES; ``flutter`` within a block.
    ``learnt``: from a long enough quiet part of the run.
    """

    level: Mapping[str, float]
    deviation: Mapping[str, float]
    long_run: Mapping[str, float]
    flutter: float = nan
    learnt: bool = True

    def off(self, name: str, value: float) -> float:
        return value - self.level[name]


@dataclass
class BaselineLearner:
    """Learns the reference from blocks of a quiet run. ``steepness`` is -d ln q/d ln p of the source there; ``closed``
    after the initial level is fixed.
    """

    steepness: float = 1.0
    closed: bool = False
    _blocks: list[dict[str, float]] = field(default_factory=list)
    _flutters: list[float] = field(default_factory=list)
    _offs: deque[dict[str, float]] = field(default_factory=lambda: deque(maxlen=REMEMBERED))
    _since: int = 0

    def take(self, block: Mapping[str, float], flutter: float) -> None:
        self._blocks.append(dict(block))
        if isfinite(flutter):
            self._flutters.append(flutter)

    def __len__(self) -> int:
        return len(self._blocks)

    def reference(self) -> Baseline:
        level, deviation, long_run = {}, {}, {}
        for name in NAMES:
            values = np.array([block[name] for block in self._blocks])
            known = values[np.isfinite(values)]
            level[name] = float(np.median(known)) if len(known) else nan
            deviation[name], long_run[name] = self._movement(name, values)
        flutter = float(np.sqrt(np.mean(np.square(self._flutters)))) if self._flutters else nan
        return Baseline(level, deviation, long_run, flutter)

    def _movement(self, name: str, values: NDArray[np.float64]) -> tuple[float, float]:
        """Deviation of one block and of a long run, conservative."""
        one, run = long_run_deviation(values)
        # a deviation from n readings has a relative uncertainty of 1/√(2n); too small a value causes false alarms
        doubt = 1.0 + DOUBT / sqrt(2.0 * max(int(np.isfinite(values).sum()), 1))
        one, run = doubt * one, doubt * run
        floor = LEAST[name]
        slow = 1.0  # s.d. of a long run over that of one block, for variation slower than the observation
        if name == "source":
            floor = max(floor, WANDER * self.steepness)
            slow = 7.0  # a wander of some 25 s seen in blocks of half a second: √(2 x 25/0.5 ...) judged
        one = max(one if isfinite(one) else 0.0, floor)
        return one, max(run if isfinite(run) else 0.0, slow * floor, one)

    def watch(self, off: Mapping[str, float]) -> bool:
        """Take the deviation of a block without faults from the moving level. True when ``refine`` is due."""
        self._offs.append(dict(off))
        self._since += 1
        if self._since < REFINE_EVERY or len(self._offs) < REFINE_FROM:
            return False
        self._since = 0
        return True

    def refine(self, reference: Baseline) -> Baseline:
        """The same levels with the variation of the last five minutes, which the first half minute cannot show."""
        moved = {name: self._movement(name, _detrended(np.array([off[name] for off in self._offs]))) for name in NAMES}
        return replace(
            reference,
            deviation={name: one for name, (one, _) in moved.items()},
            long_run={name: run for name, (_, run) in moved.items()},
        )


def _detrended(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Deviations from a straight line, because a drift is a signal for the charts, not variation."""
    place = np.arange(len(values), dtype=np.float64)
    good = np.isfinite(values)
    if good.sum() < 3:
        return values
    return values - np.polyval(np.polyfit(place[good], values[good], 1), place)


def provisional(block: Mapping[str, float], lately: Sequence[Mapping[str, float]] = ()) -> Baseline:
    """A level from one block before learning; its deviations, from a few blocks at most, are conservative. Its
    ``learnt`` is False.
    """
    deviation = {}
    for name in NAMES:
        values = np.array([one[name] for one in lately])
        known = values[np.isfinite(values)]
        few = float(known.std(ddof=1)) * (1.0 + DOUBT / sqrt(2.0 * len(known))) if len(known) >= 4 else UNSEEN
        deviation[name] = max(few, AT_LEAST_AT_FIRST)
    return Baseline(dict(block), deviation, {name: 2.0 * one for name, one in deviation.items()}, learnt=False)


def follow(reference: Baseline, block: Mapping[str, float], share: float) -> Baseline:
    """The reference with its levels moved by the fraction ``share`` towards a block."""
    level = {
        name: at + share * (block[name] - at) if isfinite(block[name]) and isfinite(at) else at
        for name, at in reference.level.items()
    }
    return replace(reference, level=level)


def moved_to(reference: Baseline, block: Mapping[str, float]) -> Baseline:
    """The reference with its levels at a block's."""
    return replace(reference, level={name: block.get(name, at) for name, at in reference.level.items()})
