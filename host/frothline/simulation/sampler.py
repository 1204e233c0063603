"""Sharing of the board's converter between its inputs: turns, discarded conversions, sums.

The order of turns is that of the firmware's sampler, calculated in stretches instead of conversion by conversion.
"""

from __future__ import annotations

from random import Random

from frothline.simulation.world import World
from frothline.wire import ENUMS

_KIND = ENUMS["channel_kind"]
PRESSURE, DIFFERENTIAL, THERMAL, TEMPERATURE, BANDGAP = range(5)

# input: (channel, conversions skipped after a change of input, conversions summed in a turn)
_TURN = {
    PRESSURE: ("pressure", 2, 8),
    DIFFERENTIAL: ("differential", 2, 2),
    THERMAL: ("thermal", 2, 2),
    TEMPERATURE: ("temperature", 2, 4),
    BANDGAP: ("supply", 12, 2),
}
_BIT = {which: 1 << _KIND[name] for which, (name, _, _) in _TURN.items()}
_SLOW_EVERY = 220  # conversions, at least


class Sampler:
    """Sums of conversions, by input; ``enabled`` has bit n set for channel kind n, ``levels`` is the full scale."""

    def __init__(self, world: World, random: Random, enabled: int, levels: int = 1024) -> None:
        self._world = world
        self._levels = levels
        self._random = random
        self.enabled = enabled
        self.conversions = 0
        self._input = self._fast = PRESSURE
        self._skip, self._take = 2, 8
        self._slow_look = 0
        self._until_slow = _SLOW_EVERY
        self._codes: list[float | None] = [None] * 5
        self.begin(0)

    def begin(self, conversions: int) -> None:
        """Reset the sums, with ``conversions`` since boot."""
        self._sums, self._counts = [0.0] * 5, [0] * 5
        self.conversions = conversions

    def look_again(self) -> None:
        """Discard the stored pin voltages, after a step of the world."""
        self._codes = [None] * 5

    def run_to(self, conversions: int) -> None:
        """Convert until ``conversions`` since boot."""
        n = conversions - self.conversions
        self.conversions = conversions
        while n > 0:
            if self._skip:
                k = min(self._skip, n)
                self._skip -= k
            else:
                k = min(self._take, n)
                which = self._input
                self._sums[which] += k * self._code(which)
                self._counts[which] += k
                self._take -= k
            n -= k
            self._until_slow = max(0, self._until_slow - k)
            if self._take == 0:
                self._next_turn()

    def taken(self, which: int) -> tuple[int, int]:
        """Sum and number of conversions of an input since the last call."""
        n = self._counts[which]
        if n == 0:
            return 0, 0
        noise = self._world.instruments.adc_noise * self._levels / 1024  # the sensor's: the same share of the supply
        noisy = self._sums[which] + noise * n**0.5 * self._random.gauss(0.0, 1.0)
        self._sums[which], self._counts[which] = 0.0, 0
        return int(min(max(round(noisy), 0), (self._levels - 1) * n)), n

    def _code(self, which: int) -> float:
        """Expected code of one conversion of input ``which``."""
        known = self._codes[which]
        if known is None:
            # codes are truncated, not rounded: half a count less in the mean
            known = min(max(self._world.pin(_TURN[which][0]) * self._levels - 0.5, 0.0), self._levels - 1.0)
            self._codes[which] = known
        return known

    def _is_enabled(self, which: int) -> int:
        return self.enabled & _BIT[which]

    def _next_turn(self) -> None:
        if self._until_slow == 0 and self._fast == PRESSURE:
            self._until_slow = _SLOW_EVERY
            self._slow_look = (self._slow_look + 1) % 8
            slow = TEMPERATURE if self._slow_look else BANDGAP
            if self._is_enabled(slow):
                if slow == BANDGAP:
                    self._fast = THERMAL  # then pressure again: every window must still have a reading
                self._look_at(slow)
                return
        if self._fast == PRESSURE and self._is_enabled(DIFFERENTIAL):
            self._fast = DIFFERENTIAL
        elif self._fast != THERMAL and self._is_enabled(THERMAL):
            self._fast = THERMAL
        else:
            self._fast = PRESSURE
        self._look_at(self._fast)

    def _look_at(self, which: int) -> None:
        _, skip, take = _TURN[which]
        self._skip = 0 if which == self._input else skip
        self._take = take
        self._input = which
