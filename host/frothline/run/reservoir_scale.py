"""The solution drawn by a scale under the reservoir, separated from refills, removals and bumps.

A second's reading is a median. The draw rate is then the median of the falls over the neighbouring seconds, four on
each side. A touch of the reservoir, a lift of some seconds or a poured bucket affects few of these seconds and not the
median. A deviation from the rate was added or removed, not drawn; if it returns, the two cancel. A longer rise of the
scale is a slow refill: the draw continues at its previous rate, and the rest was poured in. A refill slower than the
draw looks like a smaller draw.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isfinite, nan
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

AROUND = 4  # s on each side for the evaluation of a second
FALLS = 4.0  # standard uncertainties of a significant fall
LEAST = 0.01  # kg in a second: less is not a pour or a lift
RISES = 0.003  # kg/s: a smaller rise counts as constant
GAP = 2.5  # s without readings


def _noise(readings: NDArray[np.float64]) -> float:
    """Noise of one of these readings, (n,), by the median deviation from a straight line, so that a draw is not
    noise.
    """
    if len(readings) < 4:
        return 0.0
    place = np.arange(len(readings)) - 0.5 * (len(readings) - 1)
    slope = float(place @ readings) / float(place @ place)
    return 1.48 * float(np.median(np.abs(readings - slope * place - np.median(readings))))


class _Second(NamedTuple):
    fall: float  # kg since the second before
    air: float  # m3 that flowed
    steady: bool  # steady foaming during the whole second


class _Level(NamedTuple):
    """Of the moments since which ``refilled`` has never been below a level."""

    refilled: float  # kg, the level
    drawn: float  # kg, the least at such a moment
    gained: float  # kg, the largest refilled - drawn of this level and of all below it


@dataclass
class ReservoirScale:
    """Evaluates masses. ``used`` kg drawn, ``refilled`` kg poured in minus removed, ``rate`` kg/s drawn recently.

    ``steady_used`` kg and ``steady_air`` m3 belong together: sums over the seconds of steady foaming without a touch of
    the reservoir, in ``pieces`` of time.
    """

    refilled: float = 0.0
    mass: float = nan
    noise: float = 0.0  # kg, of one reading, by the median deviation
    seconds: int = 0
    steady_used: float = 0.0
    steady_air: float = 0.0
    pieces: int = 0
    gained: float = 0.0  # kg by which the content has been above that of the beginning, at most
    _drawn: float = 0.0
    _levels: list[_Level] = field(default_factory=list)  # of ``refilled``, rising
    _usual: list[float] = field(default_factory=list)
    _seen: list[_Second] = field(default_factory=list)  # the latest; the last AROUND are not evaluated yet
    _open: bool = False  # whether the last evaluated second is part of steady foaming
    _readings: list[float] = field(default_factory=list)
    _air: float = 0.0
    _steady: bool = True
    _until: float = nan

    def feed(self, time: float, mass: float, air: float = 0.0, steady: bool = False) -> None:
        """Take a reading. ``air`` m3 flowed since the last reading, ``steady`` is whether it made foam steadily."""
        if not isfinite(mass):
            return
        if not isfinite(self._until):
            self._until = time + 1.0
        gap = time > self._until + GAP
        self._readings.append(mass)
        self._air += air
        self._steady &= steady
        if time < self._until:
            return
        middle = float(np.median(self._readings))  # a refill in the middle of a second counts on one side
        self.noise = max(_noise(np.array(self._readings)), 1e-4)
        if isfinite(self.mass):
            fall, seconds = self.mass - middle, time - self._until + 1.0
            if gap:
                self._over_gap(fall, seconds)
            else:
                self._seen.append(_Second(fall, self._air, self._steady))
                self._judge()
        self.mass = middle
        self._note_gained()
        self.seconds += 1
        self._readings, self._air, self._steady, self._until = [], 0.0, True, time + 1.0

    def _judge(self) -> None:
        """Evaluate the second that now has AROUND later ones."""
        place = len(self._seen) - 1 - AROUND
        if place < 0:
            return
        one = self._seen[place]
        pace = float(np.median([second.fall for second in self._seen]))
        usual = self.usual
        if pace < -max(2.0 * self.noise, RISES):
            drawn = usual
        elif abs(one.fall - pace) <= self._tolerance(pace):
            drawn = one.fall
        else:
            drawn = max(pace, 0.0)
        self._drawn += drawn
        self.refilled += drawn - one.fall
        touched = drawn != one.fall or pace < 0.5 * usual
        if not touched and pace > 0.0:
            self._usual = [*self._usual[-29:], one.fall]
        if one.steady and not touched:
            self.pieces += not self._open
            self.steady_used += one.fall
            self.steady_air += one.air
        self._open = one.steady and not touched
        if len(self._seen) > 2 * AROUND:
            del self._seen[0]

    def _note_gained(self) -> None:
        """Note the largest content so far. What was put on the scale and taken off again has not been solution."""
        drawn = self._drawn
        while self._levels and self._levels[-1].refilled >= self.refilled:
            drawn = min(drawn, self._levels.pop().drawn)
        below = self._levels[-1].gained if self._levels else 0.0
        self.gained = max(below, self.refilled - drawn)
        self._levels.append(_Level(self.refilled, drawn, self.gained))

    def _over_gap(self, fall: float, seconds: float) -> None:
        """Bridge a gap: up to the usual draw counts as drawn."""
        for second in self._seen[-AROUND:]:
            self._drawn += self._meanwhile(second.fall)
            self.refilled += self._meanwhile(second.fall) - second.fall
        self._seen, self._open = [], False
        drawn = min(max(fall, 0.0), 2.0 * self.usual * seconds)
        self._drawn += drawn
        self.refilled += drawn - fall

    def _tolerance(self, pace: float) -> float:
        return max(4.0 * self.noise, 0.5 * max(pace, self.usual), LEAST)

    def _meanwhile(self, fall: float) -> float:
        """Assumed draw in a second that is not evaluated yet."""
        return min(max(fall, 0.0), self.usual + self._tolerance(self.usual))

    @property
    def usual(self) -> float:
        """Usual draw, kg/s, over the last half minute without a touch of the reservoir."""
        return max(float(np.median(self._usual)), 0.0) if self._usual else 0.0

    @property
    def used(self) -> float:
        return self._drawn + sum(self._meanwhile(second.fall) for second in self._seen[-AROUND:])

    @property
    def rate(self) -> float:
        """Present draw rate, kg/s; NaN if unknown, as in the first seconds."""
        if len(self._seen) < 3:
            return nan
        falls = np.array([second.fall for second in self._seen])
        pace = float(np.median(falls))
        if pace < -max(2.0 * self.noise, RISES):
            return self.usual
        near = falls[np.abs(falls - pace) <= self._tolerance(pace)]
        if not len(near):  # the median lies between two kinds of seconds: the reservoir is being touched
            return self.usual or nan
        return float(near.mean())

    @property
    def falls(self) -> bool:
        """Whether the draw exceeds the noise."""
        return self.seconds >= 5 and self.used > FALLS * self.noise * 2.0
