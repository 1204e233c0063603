"""Positive-displacement sources (lobe, vane, piston, diaphragm): flow nearly constant, slope only from leakage.

Pressure against flow is then nearly a vertical line, so flow is fitted against pressure, q = q0 - k p, errors in both
variables as everywhere. How far the line may be carried up is not told by the points: such a machine pushes until a
relief valve opens, the motor stalls or something bursts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, nan

import numpy as np
from numpy.typing import NDArray

from frothline.curve.bands import ALL_POWERS, Uncertain
from frothline.curve.points import PointArrays
from frothline.curve.regression import PolynomialFit, fit_polynomial, scale_of
from frothline.errors import NotIdentifiable
from frothline.estimate import Estimate

Array = NDArray[np.float64]
FORM = "steep line with leakage"
LARGEST_LOSS = 0.2  # of the free flow over the measured pressures; a bladed machine loses more
SMALLEST_SPAN = 0.5  # of the highest pressure that the points must cover for the slope to mean something
IF_A_FAN = "if this is a fan or a vacuum, not a pump: close it further, the points cover only its high-flow end"
CAUTION = "a positive-displacement source pushes until something gives: fit a relief valve before blocking it"


@dataclass(frozen=True)
class SteepFit:
    """``flow`` holds q(p), so its argument is a pressure in Pa and its values are m3/s; ``pressure`` the inverse."""

    fit: PolynomialFit
    flow: Uncertain
    pressure: Uncertain
    free_delivery: Estimate
    shut_off: Estimate
    air_power: Estimate
    air_power_flow: Estimate
    scatter: float  # of one steady point, Pa
    why: str


def fit_steep(points: PointArrays, level: float) -> SteepFit | None:
    """The line, or None where the points are not those of a positive-displacement source."""
    top = float(points.p.max())
    if top <= 0 or float(np.ptp(points.p)) < SMALLEST_SPAN * top or len(points.q) < 4:
        return None
    roughly = np.polyfit(points.p / top, points.q, 1)  # most sources are told by this already
    if abs(roughly[0]) > 1.5 * LARGEST_LOSS * abs(roughly[1]):
        return None
    try:
        fit = fit_polynomial(points.p, points.q, points.var_p, points.var_q, points.cov, (0, 1))
    except NotIdentifiable:
        return None
    free, slope = (float(value) for value in fit.coefficients)
    if free <= 0 or abs(slope) * top > LARGEST_LOSS * free:
        return None
    flow = _uncertain(fit, points)
    pressure = _turned(flow, fit)
    power, at = flow.largest_power(1.02 * top, level)
    shut_off = flow.zero(top, level, "Pa") if slope < 0 else _unknown("Pa", level, "no leakage was seen")
    return SteepFit(
        fit=fit,
        flow=flow,
        pressure=pressure,
        free_delivery=replace(flow.at(0.0, level, "m³/s"), extrapolated=float(points.p.min()) > 0.05 * top),
        shut_off=replace(shut_off, extrapolated=True, assumptions=(*shut_off.assumptions, CAUTION)),
        air_power=power,
        air_power_flow=flow.at(at.value, level, "m³/s") if isfinite(at.value) else at,
        scatter=float(np.sqrt(np.median(1 / fit.weight) * flow.scale) * abs(pressure.coefficients[1])),
        why=(
            f"{FORM}: the flow loses only {abs(slope) * top / free:.0%} up to {top / 1e3:.3g} kPa, "
            "so flow is fitted against pressure"
        ),
    )


def _uncertain(fit: PolynomialFit, points: PointArrays) -> Uncertain:
    size = len(ALL_POWERS)
    full, random = np.zeros(size), np.zeros((size, size))
    full[:2] = fit.coefficients
    scale = scale_of(fit.chi_square, fit.degrees_of_freedom)
    random[:2, :2] = fit.covariance * scale
    effects = []
    for k, name in enumerate(points.names):
        effect = np.zeros(size)
        effect[:2] = fit.shift(points.common_p[k], points.common_q[k])
        effects.append((name, effect))
    return Uncertain(full, ((random, float(max(fit.degrees_of_freedom, 1))),), tuple(effects), scale)


def _turned(flow: Uncertain, fit: PolynomialFit) -> Uncertain:
    """The same line as p(q), to first order; a leak too small to see is taken as a tenth of its uncertainty."""
    free, slope = flow.coefficients[:2]
    leak = max(-slope, float(np.sqrt(fit.covariance[1, 1])) / 10, 1e-9 * free / float(np.max(np.abs(fit.x_adjusted))))
    size = len(ALL_POWERS)
    turn = np.zeros((size, size))  # d(c0, c1) / d(free, slope) of c0 = free / leak, c1 = -1 / leak
    turn[0, 0], turn[0, 1] = 1 / leak, free / leak**2
    turn[1, 1] = -1 / leak**2
    coefficients = np.zeros(size)
    coefficients[:2] = free / leak, -1 / leak
    return Uncertain(
        coefficients,
        tuple((turn @ part @ turn.T, freedom) for part, freedom in flow.random),
        tuple((name, turn @ effect) for name, effect in flow.effects),
        flow.scale,
    )


def _unknown(unit: str, level: float, why: str) -> Estimate:
    return Estimate(nan, nan, nan, nan, unit, level, True, (why,))
