"""Largest live values of the last one to two minutes, which set the axes of the pressure-flow chart."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

HOLD = 60.0  # s that a value at least keeps its axis extended; at most twice as long


class AxisReach:
    """Largest value of each axis, SI, over the current and the previous period of HOLD seconds. NaN is ignored."""

    def __init__(self, axes: int, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._axes = axes
        self.clear()

    def clear(self) -> None:
        """Forget all values, because their scale has changed."""
        self._began = self._clock()
        self._now, self._before = [0.0] * self._axes, [0.0] * self._axes

    def take(self, values: Sequence[float]) -> None:
        """Take the newest value of each axis, SI."""
        passed = self._clock() - self._began
        if passed >= HOLD:
            self._before = self._now if passed < 2 * HOLD else [0.0] * self._axes
            self._now, self._began = [0.0] * self._axes, self._clock()
        self._now = [
            old if math.isnan(value) else max(old, value) for old, value in zip(self._now, values, strict=True)
        ]

    def look(self) -> list[float]:
        """Return the largest value of each axis, SI; 0 without one."""
        return [max(pair) for pair in zip(self._now, self._before, strict=True)]
