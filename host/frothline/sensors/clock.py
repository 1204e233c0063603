"""Board ticks to seconds: 32 bit wrap, many tables on one clock, and boards that start anew in the middle.

Every table is in the order it was sent, so that within a boot ticks never go back; a step back is the wrap of the
counter unless the descriptions say that the board booted again.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.sensors.series import Floats

WRAP = 1 << 32
Ticks = NDArray[np.int64]


class BoardClock:
    """Seconds since the first tick seen, for batch after batch of all tables."""

    def __init__(self, tick_hz: int) -> None:
        self.tick_hz = tick_hz
        self._origin: int | None = None
        self._base = 0  # unwrapped tick of the present boot's zero
        self._high = 0  # largest unwrapped tick so far
        self._last: dict[str, int] = {}  # unwrapped tick by table

    def feed(self, ticks: dict[str, NDArray[Any]], reboots: int) -> dict[str, Ticks]:
        """Unwrapped ticks of each table of a batch in which the board booted anew ``reboots`` times.

        The time between the last tick of one boot and the boot after it is not known to the board; the new boot's
        clock starts where the old one was last seen, so time stays in order and a gap is never invented.
        """
        raw = {name: np.asarray(column, dtype=np.int64) for name, column in ticks.items() if len(column)}
        pieces = {name: self._split(name, column, reboots) for name, column in raw.items()}
        placed: dict[str, list[Ticks]] = {name: [] for name in raw}
        for boot in range(reboots + 1):
            if boot:
                self._base = self._high
                self._last.clear()
            for name, parts in pieces.items():
                if parts[boot].size:
                    placed[name].append(self._place(name, parts[boot]))
        return {name: np.concatenate(parts) for name, parts in placed.items()}

    def seconds(self, unwrapped: Ticks) -> Floats:
        """(n,) s since the first tick seen."""
        if self._origin is None:
            self._origin = int(unwrapped.min()) if unwrapped.size else None
        return (unwrapped - (self._origin or 0)) / self.tick_hz

    def begin(self, unwrapped: dict[str, Ticks]) -> None:
        """Set the zero of time at the earliest tick of the first batch that has any."""
        if self._origin is None and unwrapped:
            self._origin = min(int(column.min()) for column in unwrapped.values())

    def _split(self, name: str, column: Ticks, reboots: int) -> list[Ticks]:
        if not reboots:
            return [column]
        last = self._last.get(name)
        before = np.concatenate([[column[0] if last is None else last - self._base], column[:-1]])
        # A wrap steps back by nearly the whole range; a boot steps back to near zero from anywhere.
        back = np.flatnonzero((before % WRAP > column) & (before % WRAP - column < WRAP - 600 * self.tick_hz))
        cuts = list(back[:reboots])
        parts = np.split(column, cuts)
        missing = reboots + 1 - len(parts)
        # A table that shows no step back began after the boot, or has nothing from it.
        return [np.empty(0, np.int64)] * missing + parts if last is None else parts + [np.empty(0, np.int64)] * missing

    def _place(self, name: str, column: Ticks) -> Ticks:
        last = self._last.get(name)
        if last is None:
            # Nearest to the latest tick of any table in this boot, or the raw count where there is none yet.
            reference = max(self._last.values(), default=None)
            first = (
                self._base + int(column[0])
                if reference is None
                else reference + ((int(column[0]) + self._base - reference + WRAP // 2) % WRAP - WRAP // 2)
            )
        else:
            first = last + (int(column[0]) + self._base - last) % WRAP
        steps = np.diff(column) % WRAP
        unwrapped = first + np.concatenate([[0], np.cumsum(steps)])
        self._last[name] = int(unwrapped[-1])
        self._high = max(self._high, int(unwrapped[-1]))
        return unwrapped.astype(np.int64)
