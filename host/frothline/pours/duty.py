"""An air source that must rest: how long it may run, and how long it rests then. Pure arithmetic of a timetable."""

from __future__ import annotations

import math
from dataclasses import dataclass

from frothline.errors import InputError


@dataclass(frozen=True)
class Duty:
    """``on`` : s that the source may run on end;  ``rest`` : s of rest after it.

    Running times add up until the source has stood still for a whole ``rest``; a shorter pause does not count, because
    makers state no rule for it.
    """

    on: float
    rest: float

    def rests_within(self, running: float, start: float) -> int:
        """Rests during a mix that begins with a rested source.

        running : s from air on, without rests;  start : s without foam after each air on

        Raises InputError where a run ends before the first foam.
        """
        more = running - self.on
        if more <= 1e-9:
            return 0
        if self.on <= start:
            raise InputError(
                f"the air source may run for {self.on:g} s, and foam comes after {start:g} s",
                where="duty",
                remedy="Check the time on, or take another air source",
            )
        return math.ceil(more / (self.on - start) - 1e-9)

    def used_after(self, running: float, start: float) -> float:
        """Running time of the last stretch of such a mix, s."""
        rests = self.rests_within(running, start)
        return running - rests * (self.on - start)
