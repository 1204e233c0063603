"""Points that the rest of a sweep contradicts, and a flow reading that has reached its upper limit.

A single bad point bends a flexible shape towards itself, so that its residual looks small. Each point is therefore left
out in turn, every admissible shape is fitted to the others, and the average of those shapes predicts it. The prediction
includes the spread between the shapes, so a point at the end of a sweep is not contradicted where the shapes differ.
The distance is compared with Student's t with Bonferroni's factor for the number of points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from frothline.curve.curve_shapes import Candidate, average_of, candidates
from frothline.curve.steady_points import PointArrays, SteadyPoint
from frothline.errors import NotIdentifiable
from frothline.numerics.errors_in_both import polynomial
from frothline.numerics.uncertainty import student_factor

OUTLIER_RISK = 1e-3  # probability that a sweep without a bad point loses one
MATTERS = 0.005  # of the largest pressure: a smaller distance is not worth a removal
STATED = 2.0  # degrees of freedom given to the stated variances: two to four other points determine the scatter badly
AS_STATED = 1.5  # times the stated variance: below it no point is checked
SUSPECT = 3.0  # far below the limit for a removal
FEWEST_LEFT = 5  # points that must remain: fewer cannot contradict one
CLIPPED_POINTS = 3
CLIPPED_SPREAD = 0.003  # of the flow: spread of a reading at its limit
CLIPPED_FALL = 0.15  # of the largest pressure: its fall at that flow, and on the way there


@dataclass(frozen=True)
class BadPoint:
    """``index`` of the point and its distance from the curve of the others, Pa."""

    index: int
    off: float


def worst_point(arrays: PointArrays, shapes: Sequence[Candidate], forms: tuple[str, ...]) -> BadPoint | None:
    """The point that the others contradict most, or None.

    ``arrays`` as for the fits, ``shapes`` fitted to all points, ``forms`` the names of the competing shapes.
    """
    n = len(arrays.q)
    if n - 1 < FEWEST_LEFT:
        return None
    stated = bool(np.any(arrays.var_p > 0) or np.any(arrays.var_q > 0))
    leader = shapes[0].fit
    if stated and leader.degrees_of_freedom > 0 and leader.chi_square < AS_STATED * leader.degrees_of_freedom:
        return None  # all points scatter as stated
    found: tuple[float, BadPoint] | None = None
    for index in _suspects(shapes):
        judged = _judged(arrays, index, forms, STATED if stated else 0.0)
        if judged is None:
            continue
        off, u, freedom = judged
        ratio = abs(off) / u / float(student_factor(freedom, 1 - OUTLIER_RISK / n))
        matters = abs(off) > MATTERS * float(np.max(arrays.p))
        if matters and ratio > 1.0 and (found is None or ratio > found[0]):
            found = ratio, BadPoint(index, off)
    return None if found is None else found[1]


def _suspects(shapes: Sequence[Candidate]) -> list[int]:
    """Points that at least one admissible shape, fitted without them, misses by ``SUSPECT`` standard deviations.

    Leaving a point out of a fit with given weights needs no new fit (leverage form of the deleted residual), which
    avoids most of the refits.
    """
    most = np.zeros(len(shapes[0].fit.residual))
    for item in shapes:
        freedom = item.fit.degrees_of_freedom - 1
        if item.objection or freedom < 1:
            continue
        rest = np.maximum(1 - item.fit.hat, 1e-9)
        without = np.maximum(item.fit.chi_square - item.fit.residual**2 / rest, 1e-300) / freedom
        most = np.maximum(most, np.abs(item.fit.residual) / np.sqrt(without * rest))
    return [int(index) for index in np.nonzero(most > SUSPECT)[0]]


def _judged(
    arrays: PointArrays, index: int, forms: tuple[str, ...], stated: float
) -> tuple[float, float, float] | None:
    """Distance (Pa) of a point from the curve of the others, its standard uncertainty and degrees of freedom."""
    others = _without(arrays, index)
    try:
        shapes = candidates(others, forms, tolerance=1e-6)
    except NotIdentifiable:
        return None
    leader = shapes[0].fit
    freedom = leader.degrees_of_freedom + stated
    if leader.degrees_of_freedom < 1:
        return None
    scale = (leader.chi_square + stated) / freedom
    mean, covariance = average_of(shapes, scale)
    q = float(arrays.q[index])
    powers = q ** np.arange(len(mean), dtype=np.float64)
    slope = float(polynomial(tuple(range(len(mean))), mean, q, 1)[0])
    own = arrays.var_p[index] + slope**2 * arrays.var_q[index] - 2 * slope * arrays.cov[index]
    # a point without a stated variance is given the median of the others
    own = float(own) if own > 0 else float(np.median(1 / leader.weight))
    # a smaller variance than that of any other is not used
    own = max(own, float(np.min(1 / leader.weight)))
    u = sqrt(scale * own + float(powers @ covariance @ powers))
    return float(arrays.p[index] - powers @ mean), u, freedom


def _without(arrays: PointArrays, index: int) -> PointArrays:
    keep = np.arange(len(arrays.q)) != index
    return replace(
        arrays,
        q=arrays.q[keep],
        p=arrays.p[keep],
        var_q=arrays.var_q[keep],
        var_p=arrays.var_p[keep],
        cov=arrays.cov[keep],
        common_p=arrays.common_p[:, keep],
        common_q=arrays.common_q[:, keep],
    )


def clipped(points: Sequence[SteadyPoint]) -> list[SteadyPoint]:
    """Points at the same highest flow while the pressure still falls: the flow reading is at its limit.

    Only where the pressure fell on the way there as well: a positive-displacement pump has its constant flow from the
    highest pressure on.
    """
    q = np.array([point.flow for point in points])
    p = np.array([point.pressure for point in points])
    if len(points) < CLIPPED_POINTS + 2:
        return []
    top = float(np.max(q))
    at: NDArray[np.bool_] = q > top * (1 - CLIPPED_SPREAD)
    below = ~at
    if at.sum() < CLIPPED_POINTS or below.sum() < CLIPPED_POINTS:
        return []
    highest = float(np.max(p))
    fall, before = float(np.ptp(p[at])), highest - float(np.min(p[below]))
    if fall < CLIPPED_FALL * highest or before < CLIPPED_FALL * highest:
        return []
    return [point for point, found in zip(points, at, strict=True) if found]


def limit_words(points: Sequence[SteadyPoint]) -> str:
    """Text on the points found by ``clipped``; empty for none."""
    if not points:
        return ""
    flow = max(point.flow for point in points)
    pressures = [point.pressure for point in points]
    return (
        f"the flow reads {flow * 1e3:.3g} L/s at {len(points)} points while the pressure falls from "
        f"{max(pressures) / 1e3:.3g} to {min(pressures) / 1e3:.3g} kPa: the flow sensor is at its upper limit; "
        "take these points with a sensor of a larger range"
    )
