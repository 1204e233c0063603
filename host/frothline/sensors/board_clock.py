"""Conversion of board ticks to seconds on one axis, across counter wraps and board boots.

Unwrapping itself is done in ``frothline.wire.ticks``.
"""

from __future__ import annotations

from frothline.numerics.arrays import Floats
from frothline.wire import Tables
from frothline.wire.ticks import BootTicks, Ticks

TIMED = ("line", "slow", "ambient", "scale")  # the tables that become series


class BoardClock:
    """Seconds since the first tick, for successive batches of all tables."""

    def __init__(self, tick_hz: int) -> None:
        self.tick_hz = tick_hz
        self.base = 0  # position of this boot's tick 0 on the axis, in ticks
        self._boot = BootTicks()
        self._origin: int | None = None
        self._high = 0  # latest tick on the axis so far

    def restart(self) -> None:
        """Start of a new boot at the latest tick of the old one.

        Time stays in order, and no gap is added, because the time that the board was off is unknown.
        """
        self.base = self._high
        self._boot = BootTicks()

    def feed(self, tables: Tables) -> dict[str, Ticks]:
        """Ticks on the axis of each timed table of a batch of one boot; minus ``base`` they count from the boot."""
        unwrapped = self._boot.feed_tables(tables)
        placed = {name: self.base + column for name, column in unwrapped.items() if name in TIMED}
        if placed:
            self._high = max(self._high, *(int(column.max()) for column in placed.values()))
            if self._origin is None:
                self._origin = min(int(column.min()) for column in placed.values())
        return placed

    def seconds(self, ticks: Ticks) -> Floats:
        """(n,) s since the first tick, from ticks on the axis."""
        return (ticks - (self._origin or 0)) / self.tick_hz
