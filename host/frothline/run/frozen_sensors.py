"""Sensors whose reading frozen while air flows: a cable or a chip that hangs repeats its last value for ever.

A reading of a line with air in it is never exactly the same for long, because of flutter and noise. How long it may be
is learnt from the run itself, so that coarse converters and slow rotors raise nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import isfinite, nan

from frothline.readings.resample import TICK, Tick
from frothline.run.watch.settings import WatchSettings

LEARN = 10.0  # s of air before a reading can count as standing still; judgement
CHANGES = 20  # of the reading within them, at least; judgement
STANDS = 5.0  # s of one value, at least, and
LONGER = 5.0  # times the longest such stretch before; judgement


@dataclass
class _Reading:
    """One sensor's values, tick by tick."""

    last: float = nan
    same: int = 0  # ticks since the last change
    longest: int = 0  # the longest such stretch that ended with a change
    ticks: int = 0
    changes: int = 0

    def stands(self, value: float) -> bool:
        """Take the next value; whether it has been the same for too long."""
        if not isfinite(value):
            self.last, self.same = nan, 0
            return False
        if value == self.last:
            self.same += 1
        else:
            if isfinite(self.last):
                self.changes += 1
                if not self.too_long:  # a sensor that hung and is back teaches nothing
                    self.longest = max(self.longest, self.same)
            self.last, self.same = value, 0
        self.ticks += 1
        return self.too_long

    @property
    def too_long(self) -> bool:
        known = (self.ticks - self.same) * TICK >= LEARN and self.changes >= CHANGES
        return known and self.same * TICK >= max(STANDS, LONGER * self.longest * TICK)


@dataclass
class FrozenSensors:
    """Takes away what stands still: the tick is then as without that sensor, and says why."""

    settings: WatchSettings = field(default_factory=WatchSettings)
    _pressure: _Reading = field(default_factory=_Reading)
    _flow: _Reading = field(default_factory=_Reading)

    def without(self, tick: Tick) -> Tick:
        """The tick, without pressure or flow where that stands still while air flows."""
        air = tick.pressure > self.settings.air_on or tick.flow > self.settings.air_flow
        pressure = self._pressure.stands(tick.pressure if air and not tick.saturated else nan)
        flow = self._flow.stands(tick.flow if air and tick.flow > 0.0 else nan)
        if pressure:
            tick = replace(tick, pressure=nan, pressure_silent=True, pressure_frozen=True)
        if flow:
            tick = replace(tick, flow=nan, free_air=nan, flow_silent=True, flow_signal=False, flow_frozen=True)
        return tick
