"""The course of a run over time, in at most ``MOST`` rows: a long run has longer rows, and always all of it."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, nan

import numpy as np

from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats

MOST = 240  # rows; even
FIRST_ROW = 1.0  # s, length of a row at first; it doubles when the rows are full
GAP = 2.0  # s without readings, in addition to two rows, that break the line

Row = tuple[
    float, ...
]  # end, sum and number of pressures, lowest, highest, then three figures each of foam and solution
_UNKNOWN = (nan, nan, nan)


@dataclass(frozen=True)
class RunCourse:
    """Rows of equal length, (n,) and (n, 3) arrays; NaN where unknown, and one row of NaN for a gap in the readings.

    time : s, end of the row, on the clock of the readings
    pressure : Pa gauge: mean, lowest and highest reading of the row
    foam_rate : m3/s: value and 95 % interval at the end of the row
    solution_left : m3: value and 95 % interval at the end of the row
    row : s, length of a row
    """

    time: Floats
    pressure: Floats
    foam_rate: Floats
    solution_left: Floats
    row: float


class CourseRecorder:
    """Collects the rows. ``take`` each pressure, then ``close`` with the figures of that time."""

    def __init__(self) -> None:
        self._rows: list[Row] = []
        self._row = FIRST_ROW
        self._open: Row | None = None
        self._clear()

    def _clear(self) -> None:
        self._sum, self._count, self._low, self._high = 0.0, 0, inf, -inf

    def take(self, pressure: float) -> None:
        """Take a reading, Pa gauge; NaN is left out."""
        if isfinite(pressure):
            self._sum += pressure
            self._count += 1
            self._low, self._high = min(self._low, pressure), max(self._high, pressure)

    def close(self, time: float, foam_rate: Estimate | None, solution_left: Estimate | None) -> None:
        """Set the figures at ``time`` s; ends the row if it is long enough."""
        if not isfinite(time):
            return
        last = self._rows[-1][0] if self._rows else nan
        if isfinite(last) and time - last > 2.0 * self._row + GAP:
            if self._open is not None:
                self._append(self._open)
                last, self._open = self._open[0], None
                self._clear()
            self._append((last + self._row, 0.0, 0, nan, nan, *_UNKNOWN, *_UNKNOWN))
        pressure = (self._sum, self._count, self._low, self._high) if self._count else (0.0, 0, nan, nan)
        self._open = (time, *pressure, *_three(foam_rate), *_three(solution_left))
        if not isfinite(last) or time - last >= self._row:
            self._append(self._open)
            self._open = None
            self._clear()

    def _append(self, row: Row) -> None:
        if len(self._rows) >= MOST:
            pairs = zip(self._rows[::2], self._rows[1::2], strict=True)
            self._rows = [_merged(one, other) for one, other in pairs]
            self._row *= 2.0
        self._rows.append(row)

    def course(self) -> RunCourse:
        """All rows so far, the unfinished one included."""
        rows = [*self._rows, *([self._open] if self._open is not None else [])]
        table = np.array(rows, float).reshape(-1, 11)
        count = np.where(table[:, 2] > 0, table[:, 2], nan)
        pressure = np.column_stack((table[:, 1] / count, table[:, 3], table[:, 4]))
        return RunCourse(table[:, 0], pressure, table[:, 5:8], table[:, 8:11], self._row)


def _three(estimate: Estimate | None) -> tuple[float, float, float]:
    if estimate is None or not estimate.known:
        return _UNKNOWN
    return estimate.value, estimate.lower, estimate.upper


def _merged(one: Row, other: Row) -> Row:
    low = np.fmin(one[3], other[3])
    high = np.fmax(one[4], other[4])
    return (other[0], one[1] + other[1], one[2] + other[2], float(low), float(high), *other[5:])
