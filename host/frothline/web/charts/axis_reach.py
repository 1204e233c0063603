"""How far live values reached in the last minute or two: the axes of the plane grow at once and shrink again."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

HOLD = 60.0  # s for which a value holds its axis open at least; at most twice as long


class AxisReach:
    """Largest value of each axis, SI, over the current and the last period of HOLD seconds. NaN is passed over."""

    def __init__(self, axes: int, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._axes = axes
        self.clear()

    def clear(self) -> None:
        """Forget everything: the scale of the values has changed."""
        self._began = self._clock()
        self._now, self._before = [0.0] * self._axes, [0.0] * self._axes

    def take(self, values: Sequence[float]) -> None:
        """The newest value of each axis, SI."""
        passed = self._clock() - self._began
        if passed >= HOLD:
            self._before = self._now if passed < 2 * HOLD else [0.0] * self._axes
            self._now, self._began = [0.0] * self._axes, self._clock()
        self._now = [
            old if math.isnan(value) else max(old, value) for old, value in zip(self._now, values, strict=True)
        ]

    def look(self) -> list[float]:
        """Largest value of each axis, SI; 0 where there is none."""
        return [max(pair) for pair in zip(self._now, self._before, strict=True)]
