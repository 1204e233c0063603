"""Ring buffer of the newest samples of one series; pages read it during writing.

One writer, any number of readers, no lock: memory is allocated once, samples are written at ``written`` modulo the
capacity, and a reader copies a window and then checks that the writer did not overwrite it during the copy.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.bench.snapshot import SeriesWindow


@dataclass(frozen=True, slots=True)
class RecentMean:
    """Means of the newest samples of a series.

    n : known samples
    value, u : their means; NaN without any
    last_known : whether the newest sample is known
    last_time, last_status : of the newest sample; NaN and None without any sample
    """

    n: int
    value: float
    u: float
    last_known: bool
    last_time: float
    last_status: int | None


class RingBuffer:
    """``capacity`` samples of (time, value, u, status); ``written`` counts all samples ever put in."""

    def __init__(self, name: str, unit: str, capacity: int = 1 << 17) -> None:
        self.name = name
        self.unit = unit
        self.capacity = capacity
        self.written = 0
        self._claimed = 0  # the writer is about to fill samples up to here
        self._time = np.empty(capacity)  # the system allocates memory pages on first write
        self._value = np.empty(capacity)
        self._u = np.empty(capacity)
        self._status = np.empty(capacity, np.uint8)

    def write(
        self,
        time: NDArray[np.float64],
        value: NDArray[np.float64],
        u: NDArray[np.float64],
        status: NDArray[np.uint8],
    ) -> None:
        """Append samples, all arrays (n,). Only one thread calls this."""
        n = len(time)
        if n == 0:
            return
        skip = max(0, n - self.capacity)
        first = (self.written + skip) % self.capacity
        ahead = min(n - skip, self.capacity - first)  # samples before the end of the memory; the others begin it
        self._claimed = self.written + n
        for column, new in ((self._time, time), (self._value, value), (self._u, u), (self._status, status)):
            column[first : first + ahead] = new[skip : skip + ahead]
            if skip + ahead < n:
                column[: n - skip - ahead] = new[skip + ahead :]
        self.written += n

    def gap(self, time: float) -> None:
        """Append one NaN sample, which breaks the line in a chart."""
        nan = np.full(1, np.nan)
        self.write(np.full(1, time), nan, nan, np.ones(1, np.uint8))

    def newest(self, count: int) -> SeriesWindow:
        """Copy of the newest ``count`` samples, or of as many as there are."""
        while True:
            end = self.written
            start = max(0, end - min(count, self.capacity))
            copy = self._copy(start, end)
            if self._claimed - start <= self.capacity:
                return copy
            count = min(count, self.capacity - self.capacity // 8)  # overwritten during the copy: leave a margin

    def _copy(self, start: int, end: int) -> SeriesWindow:
        """Copy of the samples ``start`` to ``end``."""
        time, value, u = (self._part(column, start, end) for column in (self._time, self._value, self._u))
        return SeriesWindow(self.name, self.unit, start, time, value, u, self._part(self._status, start, end))

    def _part(self, column: NDArray[Any], start: int, end: int) -> NDArray[Any]:
        """Copy of the samples ``start`` to ``end`` of one column."""
        first = start % self.capacity
        after = first + end - start
        if after <= self.capacity:
            return column[first:after].copy()
        return np.concatenate((column[first:], column[: after - self.capacity]))

    def mean(self, seconds: float) -> RecentMean:
        """Means of the samples of the newest ``seconds``, without a copy of them."""
        count = self.capacity
        while (end := self.written) > 0:
            start = self._first_since(end, count, seconds)
            first, size = start % self.capacity, end - start
            if first + size > self.capacity:  # around the end of the memory, once in 22 minutes at 100 Hz
                value, u = (self._part(column, start, end) for column in (self._value, self._u))
            else:
                value, u = self._value[first : first + size], self._u[first : first + size]
            good = np.isfinite(value)
            n = int(np.count_nonzero(good))
            if n < size:
                value, u = value[good], u[good]
            last = (end - 1) % self.capacity
            found = RecentMean(
                n,
                float(value.sum()) / n if n else np.nan,
                float(u.sum()) / n if n else np.nan,
                last_known=bool(good[-1]),
                last_time=float(self._time[last]),
                last_status=int(self._status[last]),
            )
            if self._claimed - start <= self.capacity:
                return found
            count = self.capacity - self.capacity // 8  # overwritten meanwhile: leave a margin
        return RecentMean(0, np.nan, np.nan, last_known=False, last_time=np.nan, last_status=None)

    def _first_since(self, end: int, count: int, seconds: float) -> int:
        """Number of the first sample within ``seconds`` of the newest one, of at most ``count`` up to ``end``."""
        samples = range(max(0, end - count), end)
        return samples.start + bisect_left(samples, self._time_of(end - 1) - seconds, key=self._time_of)

    def window(self, seconds: float) -> SeriesWindow:
        """Copy of the samples of the newest ``seconds``, counted back from the newest sample."""
        count = self.capacity
        while (end := self.written) > 0:
            start = self._first_since(end, count, seconds)
            copy = self._copy(start, end)
            if self._claimed - start <= self.capacity:
                return copy
            count = self.capacity - self.capacity // 8  # overwritten during the copy: leave a margin
        return self._copy(0, 0)

    def _time_of(self, number: int) -> float:
        return float(self._time[number % self.capacity])
