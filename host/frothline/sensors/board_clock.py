"""Conversion of board ticks to seconds on one axis, across counter wraps and board boots.

Unwrapping itself is done in ``frothline.wire.ticks``.
"""

from __future__ import annotations

from frothline.numerics.arrays import Floats
from frothline.wire import Tables
from frothline.wire.ticks import BootTicks, Ticks

TIMED = ("line", "slow", "ambient", "scale")  # the tables that become series


class BoardClock:
    """Seconds since the first tick seen, for batch after batch of all tables."""

    def __init__(self, tick_hz: int) -> None:
        self.tick_hz = tick_hz
        self.base = 0  # where the present boot's tick 0 is on the axis, in ticks
        self._boot = BootTicks()
        self._origin: int | None = None
        self._high = 0  # latest tick on the axis so far

    def restart(self) -> None:
        """The board booted. Its new clock begins where the old one was last seen: time stays in order, and no gap is
        made up, since the board does not know how long it was off.
        """
        self.base = self._high
        self._boot = BootTicks()

    def feed(self, tables: Tables) -> dict[str, Ticks]:
        """Ticks on the axis of each timed table of a batch of one boot; less ``base`` they count from the boot."""
        unwrapped = self._boot.feed_tables(tables)
        placed = {name: self.base + column for name, column in unwrapped.items() if name in TIMED}
        if placed:
            self._high = max(self._high, *(int(column.max()) for column in placed.values()))
            if self._origin is None:
                self._origin = min(int(column.min()) for column in placed.values())
        return placed

    def seconds(self, ticks: Ticks) -> Floats:
        """(n,) s since the first tick seen, from ticks on the axis."""
        return (ticks - (self._origin or 0)) / self.tick_hz
