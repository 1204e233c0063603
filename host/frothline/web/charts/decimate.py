"""Decimation of a line for a chart; the extremes stay visible.

Each column of samples keeps its smallest and its largest value, in order of time. Columns are counted from the first
sample of the stream, not from the left edge of the window. The same samples thus stay in the same column while the
window slides, and the line does not flicker. A gap ends a column and breaks the line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DecimatedLine:
    """Points of a drawn line; NaN in ``value`` breaks the line."""

    time: Floats
    value: Floats


def column_size(samples: int, columns: int) -> int:
    """Samples in one column: the smallest power of two that needs at most ``columns`` columns.

    A power of two stays constant while the number of samples in the window varies by a few. An exact quotient would
    change, and with it every column.
    """
    if columns < 1:
        raise ValueError(f"a picture needs at least one column, not {columns}")
    size = 1
    while size * columns < samples:
        size *= 2
    return size


def min_max(time: Floats, value: Floats, columns: int, *, first: int = 0, gap: float = np.inf) -> DecimatedLine:
    """Smallest and largest value of each column of samples.

    Parameters
    ----------
    time, value : (n,) arrays in any units; ``value`` is NaN where unknown
    columns : approximate number of columns of the chart; at most two points remain in each, and one for each break
    first : number of the first sample, counted from the beginning of the stream
    gap : a step in ``time`` longer than this breaks the line

    Returns
    -------
    Line with at most ``2 * (columns + 1)`` points, and three more for every break.
    """
    size = column_size(len(value), columns)
    known = np.isfinite(value)
    if known.all() and value.size and not (np.diff(time) > gap).any():
        return _without_breaks(time, value, first, size)
    whole = np.flatnonzero(known)
    if whole.size == 0:
        return DecimatedLine(np.empty(0), np.empty(0))
    t, v = time[whole], value[whole]
    broken = (np.diff(whole) > 1) | (np.diff(t) > gap)
    changed = np.diff((first + whole) // size) != 0
    starts = np.concatenate(([0], np.flatnonzero(broken | changed) + 1))
    counts = np.diff(np.concatenate((starts, [len(v)])))
    column = np.repeat(np.arange(len(starts)), counts)
    lowest = _first_in_column(v == np.minimum.reduceat(v, starts)[column], column)
    highest = _first_in_column(v == np.maximum.reduceat(v, starts)[column], column)
    earlier, later = np.minimum(lowest, highest), np.maximum(lowest, highest)
    pairs = np.column_stack((earlier, later)).reshape(-1)  # ascending
    keep = pairs[_first_of_equal(pairs)]
    # A break is one point without a value between two samples, at the begin of the gap.
    ends = np.flatnonzero(broken)
    at = np.searchsorted(keep, ends, side="right")
    return DecimatedLine(np.insert(t[keep], at, t[ends]), np.insert(v[keep], at, np.nan))


def _without_breaks(time: Floats, value: Floats, first: int, size: int) -> DecimatedLine:
    """The result of ``min_max`` for a line without unknown values and gaps: whole columns are looked at together."""
    head = min(-first % size, value.size)  # samples of a column that began before the window
    tail = (value.size - head) % size
    middle = value[head : value.size - tail].reshape(-1, size)
    begins = head + size * np.arange(len(middle))
    least, most = begins + middle.argmin(axis=1), begins + middle.argmax(axis=1)
    for begin, end in ((0, head), (value.size - tail, value.size)):
        if begin < end:
            part, at = value[begin:end], 0 if begin == 0 else len(least)
            least = np.insert(least, at, begin + part.argmin())
            most = np.insert(most, at, begin + part.argmax())
    pairs = np.column_stack((np.minimum(least, most), np.maximum(least, most))).reshape(-1)  # ascending
    keep = pairs[_first_of_equal(pairs)]
    return DecimatedLine(time[keep], value[keep])


def _first_in_column(hit: NDArray[np.bool_], column: NDArray[np.int64]) -> NDArray[np.int64]:
    """Position of the first match in each column; each column has one."""
    positions = np.flatnonzero(hit)
    return positions[_first_of_equal(column[positions])]


def _first_of_equal(ascending: NDArray[np.int64]) -> NDArray[np.bool_]:
    """True at the first of each group of equal numbers."""
    first = np.ones(ascending.size, dtype=np.bool_)
    np.not_equal(ascending[1:], ascending[:-1], out=first[1:])
    return first
