"""The simulated hand on the throttle: target opening over time, and the hand's motion.

An opening is the diameter of an equivalent round hole over the bore, 0 shut to 1 open, so the steps below are spread
like the orifices of a vacuum cleaner test. A movement has the minimum-jerk profile of human reaching (Flash and Hogan
1985); a hand at rest trembles slightly.
"""

from __future__ import annotations

from math import exp, sqrt
from random import Random

SWEEP = (0.0, 0.10, 0.15, 0.20, 0.245, 0.295, 0.345, 0.40, 0.48, 0.60, 1.0)


class Hand:
    """Hand that repeats a list of (opening, seconds held) until ``move_to``.

    Parameters
    ----------
    steps
        Openings with their holding times; a single one is held permanently.
    tremble
        Standard deviation of the opening at rest, relative to the opening.
    """

    def __init__(self, steps: tuple[tuple[float, float], ...], random: Random, tremble: float = 0.002) -> None:
        self._steps = steps
        self._random = random
        self._tremble = tremble
        self._index = 0
        self._from = self._to = steps[0][0]
        self._moving = 0.0  # s left of the movement
        self._length = 1.0
        self._left = self._hold(steps[0][1])
        self._wobble = 0.0
        self.by_script = True
        self.opening = steps[0][0]

    def _hold(self, seconds: float) -> float:
        return seconds * (1.0 + self._random.uniform(-0.06, 0.06))

    def move_to(self, opening: float, seconds: float = 1.0) -> None:
        """Interrupt the script and move to ``opening`` 0..1."""
        self.by_script = False
        self._start(min(max(float(opening), 0.0), 1.0), seconds)

    def resume(self) -> None:
        """Continue the script."""
        self.by_script = True
        self._left = 0.0

    def _start(self, opening: float, seconds: float) -> None:
        self._from, self._to = self.opening, opening
        self._length = self._moving = max(seconds, 1e-3)

    def advance(self, dt: float) -> float:
        """The opening after another ``dt`` s."""
        if self._moving > 0.0:
            self._moving -= dt
            x = 1.0 - max(self._moving, 0.0) / self._length
            self.opening = self._from + (self._to - self._from) * x * x * x * (10.0 + x * (6.0 * x - 15.0))
            return self.opening
        if self.by_script and len(self._steps) > 1:
            self._left -= dt
            if self._left <= 0.0:
                self._index = (self._index + 1) % len(self._steps)
                target, seconds = self._steps[self._index]
                self._left = self._hold(seconds)
                # a hand stops near its target, not exactly at it
                near = target * (1.0 + self._random.uniform(-0.02, 0.02)) if 0.0 < target < 1.0 else target
                self._start(near, self._random.uniform(0.9, 1.5) + abs(near - self.opening))
                return self.opening
        if 0.0 < self._to < 1.0:
            keep = exp(-dt / 0.4)
            self._wobble = keep * self._wobble + sqrt(1.0 - keep * keep) * self._tremble * self._random.gauss(0.0, 1.0)
            self.opening = self._to * (1.0 + self._wobble)
        return self.opening


def sweep_steps(hold: float = 6.0) -> tuple[tuple[float, float], ...]:
    """The openings of a sweep, each held ``hold`` s."""
    return tuple((opening, hold) for opening in SWEEP)
