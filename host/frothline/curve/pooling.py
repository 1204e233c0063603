"""Test whether sweeps of one air source on different days may be pooled.

Test: the sweeps are fitted together with one curve, and each separately with the same shape. If they are of the same
source, the loss in chi-square divided by the additional coefficients, over the residual variance of the separate fits,
follows an F distribution (the extra-sum-of-squares test, e.g. N. R. Draper and H. Smith, Applied Regression Analysis,
3rd ed. 1998, section 6.1; as a test of equality of regressions: G. C. Chow, Econometrica 28 (1960) 591-605).

Errors common to all sweeps (the same sensors on all days) shift them equally and have no effect. Errors that differ
between sweeps, such as a recalibration or another ambient pressure, are given by name in ``between``; differences that
they explain do not count against pooling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.curve_shapes import FORMS
from frothline.curve.fit_advice import sort_out
from frothline.curve.steady_points import SteadyPoint, arrays_of
from frothline.errors import TooFewPoints
from frothline.numerics.distributions import f_exceedance
from frothline.numerics.errors_in_both import basis, fit_polynomial

RISK = 0.01  # of rejecting sweeps of the same source


@dataclass(frozen=True)
class Pooling:
    """Result of the test.

    same : True if one curve fits all sweeps
    statistic, p_value : of the F test
    shifts : per sweep: its number, mean pressure above the common curve (Pa), and the same relative
    fit : of all points together if they may be pooled, else None
    words : the result as text
    """

    same: bool
    statistic: float
    p_value: float
    degrees_of_freedom: tuple[int, int]
    shifts: tuple[tuple[int, float, float], ...]
    fit: BlowerFit | None
    words: str


def pool(
    sweeps: Sequence[Sequence[SteadyPoint]],
    *,
    curve: BlowerCurve | None = None,
    between: Sequence[str] = (),
    risk: float = RISK,
) -> Pooling:
    """Test sweeps (each a sequence of points) and fit them together if they may be. Raises TooFewPoints,
    NotIdentifiable.
    """
    curve = curve or BlowerCurve()
    if len(sweeps) < 2:
        raise TooFewPoints("a comparison needs two sweeps", remedy="Record the source on another day")
    sweeps = [[_of_its_own(point, day, between) for point in sweep] for day, sweep in enumerate(sweeps)]
    everything = [point for sweep in sweeps for point in sweep]
    together = curve.fit(everything)
    # a point off the common curve may fit that of its own day, so none is rejected here
    form = together.form if together.refused == () else replace(curve, reject_outliers=False).fit(everything).form
    powers = FORMS.get(form, (0, 1))
    usable = [sort_out(sweep)[0] for sweep in sweeps]
    short = [k for k, sweep in enumerate(usable) if len(sweep) < len(powers) + 1]
    if short:
        raise TooFewPoints(
            f"sweep {short[0] + 1} has {len(usable[short[0]])} points, too few for a curve of its own",
            remedy=f"At least {len(powers) + 1} are needed for the comparison",
        )
    kept = [point for sweep in usable for point in sweep]
    arrays = arrays_of(kept)
    joint = fit_polynomial(arrays.q, arrays.p, arrays.var_q, arrays.var_p, arrays.cov, powers)
    # Weights and adjusted flows are from each sweep's own fit: those of a common curve that does not fit would make the
    # separate fits as bad.
    own = [
        fit_polynomial(day.q, day.p, day.var_q, day.var_p, day.cov, powers)
        for day in (arrays_of(sweep) for sweep in usable)
    ]
    owner = np.repeat(np.arange(len(usable)), [len(sweep) for sweep in usable])
    x = np.concatenate([fit.x_adjusted for fit in own])
    root = np.sqrt(np.concatenate([fit.weight for fit in own]))
    slope = np.concatenate([_slope(powers, fit.coefficients, fit.x_adjusted) for fit in own])
    design = np.concatenate([fit.design for fit in own])
    target = root * (arrays.p - slope * (arrays.q - x))
    separate = np.concatenate([design * (owner == day)[:, None] for day in range(len(usable))], axis=1)
    free, rank_free = _left(separate, target)
    rest = len(kept) - rank_free
    explained: list[NDArray[np.float64]] = []
    for day in range(1, len(usable)):
        for name in between:
            if _own(name, day) not in arrays.names:
                continue
            k = arrays.names.index(_own(name, day))
            moved = root * (arrays.common_p[k] - slope * arrays.common_q[k])
            # effect of the error on a curve of this shape; the points' own noise must not count as a direction
            mine = owner == day
            moved = design @ np.linalg.lstsq(design[mine], moved[mine], rcond=None)[0]
            explained.append(moved * mine)
    _, rank = _left(design, target)
    extra = rank_free - rank
    if extra <= 0 or rest <= 0:
        raise TooFewPoints("too few points to compare the sweeps", remedy="Hold at more openings")
    scale = free / rest
    restricted = _left_with(design, explained, target, scale)
    statistic = (restricted - free) / extra / scale
    p_value = f_exceedance(statistic, extra, rest)
    shifts = _shifts(joint.residual / np.sqrt(joint.weight), owner, arrays.p, len(usable))
    same = p_value >= risk
    largest = max(shifts, key=lambda item: abs(item[1]))
    if same:
        words = (
            f"one curve fits all {len(sweeps)} sweeps (p = {p_value:.2g}); the largest mean difference is "
            f"{largest[1]:+.0f} Pa, sweep {largest[0] + 1}"
        )
    else:
        words = (
            f"the sweeps differ (p = {p_value:.1g}): sweep {largest[0] + 1} is {largest[1]:+.0f} Pa "
            f"({100 * largest[2]:+.1f} %) off the common curve; check filter, hose, voltage and warm-up before "
            "pooling"
        )
    return Pooling(same, statistic, p_value, (extra, rest), shifts, together if same else None, words)


def _own(name: str, day: int) -> str:
    return f"{name} of sweep {day + 1}"


def _of_its_own(point: SteadyPoint, day: int, between: Sequence[str]) -> SteadyPoint:
    """The point with the errors named in ``between`` made independent between sweeps."""
    common = tuple(replace(part, name=_own(part.name, day)) if part.name in between else part for part in point.common)
    return replace(point, common=common)


def _slope(
    powers: tuple[int, ...], coefficients: NDArray[np.float64], flow: NDArray[np.float64]
) -> NDArray[np.float64]:
    """dp/dq of the common curve, Pa s/m3."""
    result: NDArray[np.float64] = basis(powers, flow, 1) @ coefficients
    return result


def _left(design: NDArray[np.float64], target: NDArray[np.float64]) -> tuple[float, int]:
    """Sum of squares not explained by the design, and the design's rank."""
    scaled = design / np.maximum(np.sqrt(np.sum(design**2, axis=0)), 1e-300)
    solution, _, rank, _ = np.linalg.lstsq(scaled, target, rcond=1e-10)
    left = target - scaled @ solution
    return float(left @ left), int(rank)


def _left_with(
    design: NDArray[np.float64], errors: Sequence[NDArray[np.float64]], target: NDArray[np.float64], scale: float
) -> float:
    """Sum of squares not explained by the design and errors of unit size.

    Each error is a coefficient observed as zero with standard uncertainty one (in the units of the points' scatter,
    ``scale``), so that it explains only what is likely for its size.
    """
    if not errors:
        return _left(design, target)[0]
    count, size = len(errors), design.shape[1]
    whole = np.zeros((len(target) + count, size + count))
    whole[: len(target), :size] = design
    whole[: len(target), size:] = np.stack(errors, axis=1)
    whole[len(target) :, size:] = np.sqrt(scale) * np.eye(count)
    return _left(whole, np.concatenate([target, np.zeros(count)]))[0]


def _shifts(
    residual: NDArray[np.float64], owner: NDArray[np.int64], pressure: NDArray[np.float64], days: int
) -> tuple[tuple[int, float, float], ...]:
    found = []
    for day in range(days):
        mine = owner == day
        shift = float(np.mean(residual[mine]))
        found.append((day, shift, shift / float(np.mean(pressure[mine]))))
    return tuple(found)
