"""Fewer points for a picture, and no extreme hidden.

Of every column of samples the smallest and the largest are kept, in the order in which they came. Columns are counted
from the first sample ever taken, not from the left edge of the window, so that the same samples fall into the same
column while the window slides and the line does not shimmer. A gap ends a column and breaks the line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DecimatedLine:
    """Points of a line to be drawn; NaN in ``value`` breaks it."""

    time: Floats
    value: Floats


def column_size(samples: int, columns: int) -> int:
    """Samples in one column: the smallest power of two that needs at most ``columns`` columns.

    A power of two stays the same while the number of samples in the window varies by a few; an exact quotient would
    jump, and every column with it.
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
    time, value : (n,) arrays in any units; ``value`` is NaN where it is not known
    columns : about how many columns the picture has; at most two points are kept for each, and one for each break
    first : number of the first sample, counted from the beginning of the stream
    gap : a step in ``time`` longer than this breaks the line

    Returns
    -------
    Line with at most ``2 * (columns + 1)`` points, and three more for every break.
    """
    size = column_size(len(value), columns)
    whole = np.flatnonzero(np.isfinite(value))
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
    keep = np.unique(np.concatenate((earlier, later)))
    # A break is between two kept samples as one point without a value, at the time the gap begins.
    ends = np.flatnonzero(broken)
    at = np.searchsorted(keep, ends, side="right")
    return DecimatedLine(np.insert(t[keep], at, t[ends]), np.insert(v[keep], at, np.nan))


def _first_in_column(hit: NDArray[np.bool_], column: NDArray[np.int64]) -> NDArray[np.int64]:
    """Position of the first hit of every column; each column has one."""
    positions = np.flatnonzero(hit)
    _, first = np.unique(column[positions], return_index=True)
    return positions[first]
