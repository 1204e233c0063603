"""Positive-displacement sources (lobe, vane, piston, diaphragm): flow nearly constant, slope only from leakage.

Pressure against flow is nearly a vertical line, so flow is fitted against pressure, q = q0 - k p, with errors in both
variables. The points do not determine the upper end of the line: such a machine delivers until a relief valve opens,
the motor stalls or a part bursts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, nan

import numpy as np
from numpy.typing import NDArray

from frothline.curve.steady_points import PointArrays
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.errors import NotIdentifiable
from frothline.estimate import Estimate
from frothline.numerics.errors_in_both import PolynomialFit, fit_polynomial, scale_of
from frothline.numerics.information import aicc

NO_FAN = "a pump that moves one volume a stroke does not follow the fan laws"
PUMP_ELSEWHERE = (
    "It moves the same volume of thinner air: multiply its flow of standard air by the density over 1.2 kg/m³, or "
    "measure it there"
)
FORM = "steep line with leakage"
LARGEST_LOSS = 0.2  # of the free flow over the measured pressures; a bladed machine loses more
SMALLEST_SPAN = 0.5  # of the highest pressure, span of the points required for a meaningful slope
LARGEST_LOSS_BELOW = 0.45  # the same below a knee, where the comparison with smooth curves excludes fans
FEWEST_BELOW, FEWEST_ABOVE = 4, 3  # points on either side of a relief valve's knee
FLATTER = 0.5  # a relief valve's line has at most this share of the machine's own slope
HIGHEST_KNEE = 1.5  # of the highest measured pressure
RISES = 3.0  # standard uncertainties: limit for a rise of flow with pressure, which no pump has
BROKEN = 5  # coefficients of a broken line: two lines and the knee
AT_KNEE = "largest where the relief valve begins to open"
IF_A_FAN = "if this is a fan or a vacuum, not a pump: close it further, the points cover only its high-flow end"
CAUTION = "a positive-displacement source raises the pressure until a part fails: fit a relief valve before blocking it"


@dataclass(frozen=True)
class SteepFit:
    """Fitted line. ``flow`` is q(p), with argument Pa and values m3/s; ``pressure`` is the inverse."""

    fit: PolynomialFit
    flow: Uncertain
    pressure: Uncertain
    free_delivery: Estimate
    shut_off: Estimate
    air_power: Estimate
    air_power_flow: Estimate
    scatter: float  # of one steady point, Pa
    why: str
    relief: Uncertain | None = None  # p(q) while the relief valve is open
    chi_square: float = nan
    degrees_of_freedom: int = 0
    aicc: float = nan
    notes: tuple[str, ...] = ()


def fit_steep(points: PointArrays, level: float) -> SteepFit | None:
    """The line, or None where the points are not those of a positive-displacement source.

    Leakage never makes the flow rise with the pressure: a rise within chance is replaced by no leakage with the
    uncertainty of the fitted slope; a rise beyond chance is not a pump's.
    """
    fit = _steep_line(points, LARGEST_LOSS)
    return None if fit is None else _steep_fit(fit, points, level)


def _steep_line(points: PointArrays, largest_loss: float) -> PolynomialFit | None:
    """The fit q(p) where it is a pump's: the flow is positive and loses at most ``largest_loss`` of itself."""
    top = float(points.p.max())
    if top <= 0 or float(np.ptp(points.p)) < SMALLEST_SPAN * top or len(points.q) < 4:
        return None
    roughly = np.polyfit(points.p / top, points.q, 1)  # most sources are decided by this
    if abs(roughly[0]) > 1.5 * largest_loss * abs(roughly[1]):
        return None
    try:
        fit = fit_polynomial(points.p, points.q, points.var_p, points.var_q, points.cov, (0, 1))
    except NotIdentifiable:
        return None
    free, slope = (float(value) for value in fit.coefficients)
    if free <= 0 or abs(slope) * top > largest_loss * free:
        return None
    if slope > RISES * float(_uncertain(fit, points).u(0.0, 1)):
        return None
    return fit


def _steep_fit(fit: PolynomialFit, points: PointArrays, level: float) -> SteepFit:
    """The figures of a line q(p) that is a pump's."""
    top = float(points.p.max())
    flow = _flow_of(fit, points)
    free, slope = (float(value) for value in flow.coefficients[:2])
    pressure = _turned(flow, fit)
    power, at = flow.largest_power(1.02 * top, level)
    shut_off = flow.zero(top, level, "Pa") if slope < 0 else _unknown("Pa", level, "no leakage was detected")
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
            f"{FORM}: the flow loses only {100 * abs(slope) * top / free:.0f} % up to {top / 1e3:.3g} kPa, so flow "
            "is fitted against pressure"
        ),
        chi_square=fit.chi_square,
        degrees_of_freedom=fit.degrees_of_freedom,
    )


def _flow_of(fit: PolynomialFit, points: PointArrays) -> Uncertain:
    """The flow q(p) of a line; without a slope where the fitted one rises, with its uncertainty."""
    flow = _uncertain(fit, points)
    if float(fit.coefficients[1]) <= 0:
        return flow
    level_flow = fit_polynomial(points.p, points.q, points.var_p, points.var_q, points.cov, (0,))
    free = float(level_flow.coefficients[0])
    return replace(flow, coefficients=np.array([free, 0.0, 0.0, 0.0, 0.0]))


def fit_relieved(points: PointArrays, level: float) -> SteepFit | None:
    """A steep line up to where a relief valve opens, and the valve's own line p(q) from there to no flow.

    The knee with the smallest chi-square decides which points belong to which line; ``aicc`` counts four coefficients
    and the knee, so that it is comparable with the smooth shapes. None where no such knee exists.
    """
    order = np.argsort(points.p)
    best: tuple[float, PolynomialFit, PointArrays, PolynomialFit, PointArrays] | None = None
    for below in range(FEWEST_BELOW, len(order) - FEWEST_ABOVE + 1):
        lower, upper = _part(points, order[:below]), _part(points, order[below:])
        line = _steep_line(lower, LARGEST_LOSS_BELOW)
        if line is None or (best is not None and line.chi_square >= best[0]):
            continue
        try:
            open_valve = fit_polynomial(upper.q, upper.p, upper.var_q, upper.var_p, upper.cov, (0, 1))
        except NotIdentifiable:
            continue
        chi_square = line.chi_square + open_valve.chi_square
        slope = float(open_valve.coefficients[1])
        if slope > 0 or (best is not None and chi_square >= best[0]):
            continue
        flow = _flow_of(line, lower)
        if slope < FLATTER * float(_turned(flow, line).coefficients[1]):
            continue  # the valve's line must fall, and far less steeply than the machine's own
        if not 0.0 < _knee(flow.coefficients, open_valve.coefficients) <= HIGHEST_KNEE * float(points.p.max()):
            continue  # the lines meet where nothing was measured
        best = chi_square, line, lower, open_valve, upper
    if best is None:
        return None
    chi_square, line, lower, open_valve, upper = best
    return _relieved(_steep_fit(line, lower, level), lower, upper, open_valve, chi_square, level)


def _knee(flow: NDArray[np.float64], relief: NDArray[np.float64]) -> float:
    """Pressure (Pa) at which a machine's line q(p) and its valve's line p(q) meet."""
    free, leak = float(flow[0]), -float(flow[1])
    return float((relief[0] + relief[1] * free) / (1 + relief[1] * leak))


def _relieved(
    steep: SteepFit, lower: PointArrays, upper: PointArrays, open_valve: PolynomialFit, chi_square: float, level: float
) -> SteepFit:
    n = len(lower.q) + len(upper.q)
    relief = _uncertain(open_valve, upper, pressure=True)
    knee = _knee(steep.flow.coefficients, relief.coefficients)
    flow = steep.flow.at(knee, level, "m³/s")
    held = relief.at(flow.value, level)
    u = knee * flow.value * float(np.hypot(flow.standard_uncertainty / flow.value, held.standard_uncertainty / knee))
    inside = steep.air_power if isfinite(steep.air_power.value) and steep.air_power_flow.value > flow.value else None
    return replace(
        steep,
        shut_off=replace(
            relief.at(0.0, level), extrapolated=float(upper.q.min()) > 0.05 * float(steep.flow.coefficients[0])
        ),
        air_power=inside or Estimate.normal(knee * flow.value, u, "W", level=level, assumptions=(AT_KNEE,)),
        air_power_flow=steep.air_power_flow if inside else flow,
        why=f"{steep.why}; above {knee / 1e3:.3g} kPa a relief valve is open",
        relief=relief,
        chi_square=chi_square,
        degrees_of_freedom=n - BROKEN,
        aicc=aicc(chi_square, n, BROKEN),
        notes=(
            f"a relief valve opens at about {knee / 1e3:.3g} kPa: shut-off pressure is the valve's, not the pump's",
        ),
    )


def _part(points: PointArrays, which: NDArray[np.int64]) -> PointArrays:
    return PointArrays(
        q=points.q[which],
        p=points.p[which],
        var_q=points.var_q[which],
        var_p=points.var_p[which],
        cov=points.cov[which],
        names=points.names,
        common_p=points.common_p[:, which],
        common_q=points.common_q[:, which],
    )


def _uncertain(fit: PolynomialFit, points: PointArrays, *, pressure: bool = False) -> Uncertain:
    """A fitted line with its uncertainty in parts; ``pressure``: it is p(q), not q(p)."""
    size = len(ALL_POWERS)
    full, random = np.zeros(size), np.zeros((size, size))
    full[:2] = fit.coefficients
    scale = scale_of(fit.chi_square, fit.degrees_of_freedom)
    random[:2, :2] = fit.covariance * scale
    effects = []
    for k, name in enumerate(points.names):
        effect = np.zeros(size)
        along, across = points.common_p[k], points.common_q[k]
        effect[:2] = fit.shift(across, along) if pressure else fit.shift(along, across)
        effects.append((name, effect))
    return Uncertain(full, ((random, float(max(fit.degrees_of_freedom, 1))),), tuple(effects), scale)


def _turned(flow: Uncertain, fit: PolynomialFit) -> Uncertain:
    """The line inverted to p(q), to first order; a leak too small to measure is taken as a tenth of its uncertainty."""
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
