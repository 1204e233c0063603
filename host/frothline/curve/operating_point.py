"""The operating point of an air source and a resistance, its stability, and the reason if there is none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, nan, sqrt

import numpy as np
import scipy

from frothline.curve.blower import BlowerFit
from frothline.curve.positive_displacement import CAUTION
from frothline.curve.resistance import ResistanceLine
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain, together
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import basis
from frothline.numerics.uncertainty import student_factor

THIN_MARGIN = 0.1  # of the largest pressure: with less, a little more resistance stops the air; judgement
SURE = 0.95
QUARTER = 0.25  # of free delivery: below it a motor cooled by the air it moves overheats; judgement, no source
STALL_GAP = 0.05  # of free delivery: farther below the smallest measured flow the curve is not used; judgement
_SLOPE_DRAWS = np.random.default_rng(20).standard_normal((4096, 2))  # fixed, so that repeated answers are identical


@dataclass(frozen=True)
class OperatingPoint:
    """Intersection of the source's curve and the resistance.

    covariance : (2, 2) of (pressure, flow), for the ellipse in the chart
    stability : "stable", "may hunt" (similar slopes, or a rising branch) or "unstable"
    stable_probability : probability that the resistance is steeper than the source's curve there
    margin : largest pressure of the source minus the operating pressure, Pa
    margin_share : the margin as a share of that largest pressure
    others : flows (m3/s) of further intersections
    """

    pressure: Estimate
    flow: Estimate
    covariance: Floats
    stability: str
    stable_probability: float
    margin: Estimate
    margin_share: float
    others: tuple[float, ...]
    words: tuple[str, ...]

    @property
    def air_power(self) -> Estimate:
        """Pressure times standard flow, W, with their correlation."""
        value = self.pressure.value * self.flow.value
        gradient = np.array([self.flow.value, self.pressure.value])
        return Estimate.normal(value, sqrt(float(gradient @ self.covariance @ gradient)), "W")


@dataclass(frozen=True)
class NoCrossing:
    """The source cannot drive the generator. ``needed`` and ``available`` in Pa, ``at`` in m3/s."""

    needed: float
    available: float
    at: float
    words: tuple[str, ...]


def operating_point(
    blower: BlowerFit, resistance: ResistanceLine, *, level: float = 0.95
) -> OperatingPoint | NoCrossing:
    """Operating point of a source's curve and a resistance; NoCrossing is a result, not an error.

    The flow has a note where the source's flow was measured with an element that was never calibrated.
    """
    met = _operating_point(blower, resistance, level)
    if isinstance(met, NoCrossing) or not blower.free_delivery.uncalibrated:
        return met
    return replace(met, flow=met.flow.marked_uncalibrated())


def _operating_point(blower: BlowerFit, resistance: ResistanceLine, level: float) -> OperatingPoint | NoCrossing:
    """The operating point without the note.

    The uncertainty to first order is u(q) = u(difference of pressures) / |difference of slopes|; errors common to both
    measurements, such as the span of the same pressure sensor, enter once and with their sign. The interval of the flow
    is Fieller's (see ``uncertain_curve``), that of the pressure is linear.
    """
    source, load = blower.curve, resistance.curve
    if blower.flow_curve is not None:
        met = _meets_steep(blower, blower.flow_curve, resistance, level)
        if blower.relief is None or isinstance(met, NoCrossing):
            return met
        if met.pressure.value <= float(blower.relief.value(met.flow.value)):
            return met
        source = blower.relief  # the valve is open at the intersection
    gap = source.minus(load)
    reach = max(blower.range[1], blower.free_delivery.value if isfinite(blower.free_delivery.value) else 0.0)
    if float(gap.value(0.0)) <= 0 and not gap.falls(reach):
        return _no_crossing(blower, resistance)
    flow = gap.zero(reach, level)
    if not isfinite(flow.value):
        return _no_crossing(blower, resistance)
    q = flow.value
    if blower.range[0] - q > STALL_GAP * reach and q < QUARTER * reach:
        return _near_stall(blower, resistance, q)
    outside = not blower.range[0] * 0.98 <= q <= blower.range[1] * 1.02
    flow = _marked(flow, outside)
    slopes = float(source.value(q, 1)), float(load.value(q, 1))
    apart = slopes[0] - slopes[1]
    top_flow, top = _top(source, reach)
    here, there = basis(ALL_POWERS, q)[0], basis(ALL_POWERS, top_flow)[0]
    # to first order: d(flow) = (d load - d source) / apart, d(pressure) = (f' d load - r' d source) / apart, and the
    # margin is the change at the top less that of the pressure
    by_source = np.array([-slopes[1] * here, -here, apart * there + slopes[1] * here]) / apart
    by_load = np.array([slopes[0] * here, here, -slopes[0] * here]) / apart
    covariance, freedom = together((source, by_source), (load, by_load))
    pressure = _marked(_estimate(float(source.value(q)), covariance[0, 0], freedom[0], level), outside)
    margin = _estimate(top - pressure.value, covariance[2, 2], freedom[2], level)
    certain = _steeper(source, load, q)
    words, stability = _judge(blower, resistance, q, pressure, slopes, certain, top, top_flow)
    others = tuple(root for root in gap.roots(reach) if abs(root - q) > 1e-6 * q)
    if others:
        words.append(
            "further operating points at " + ", ".join(f"{root * 1e3:.3g}" for root in others) + " L/s: the operating "
            "point depends on the "
            "start"
        )
        stability = "may surge" if stability == "stable" else stability
    return OperatingPoint(
        pressure=pressure,
        flow=flow,
        covariance=covariance[:2, :2],
        stability=stability,
        stable_probability=certain,
        margin=margin,
        margin_share=(top - pressure.value) / top,
        others=others,
        words=tuple(words),
    )


def _steeper(source: Uncertain, load: Uncertain, q: float) -> float:
    """Probability that the load is steeper than the source at a flow, from the joint distribution of both slopes.

    A resistance never falls as the flow rises, so draws in which it does are excluded.
    """
    slope = basis(ALL_POWERS, q, 1)[0]
    middle = np.array([float(source.value(q, 1)), float(load.value(q, 1))])
    covariance = np.zeros((2, 2))
    moved: dict[str, Floats] = {}
    for place, curve in enumerate((source, load)):
        covariance[place, place] += sum(float(slope @ part @ slope) for part, _ in curve.random)
        for name, effect in curve.effects:
            moved.setdefault(name, np.zeros(2))[place] += float(slope @ effect)
    covariance += sum((np.outer(step, step) for step in moved.values()), np.zeros((2, 2)))
    values, vectors = np.linalg.eigh(covariance)
    drawn = middle + _SLOPE_DRAWS @ (vectors * np.sqrt(np.maximum(values, 0.0))).T
    possible = drawn[drawn[:, 1] >= 0.0]
    if not len(possible):
        return float(middle[1] > middle[0])
    return float(np.mean(possible[:, 1] > possible[:, 0]))


def _meets_steep(
    blower: BlowerFit, source: Uncertain, resistance: ResistanceLine, level: float
) -> OperatingPoint | NoCrossing:
    """Operating point of a positive-displacement source, whose curve is flow against pressure."""
    load = resistance.curve
    top = float(source.coefficients[0])

    def lack(q: float) -> float:
        return float(source.value(float(load.value(q)))) - q

    if lack(0.0) <= 0:
        return _no_crossing(blower, resistance)
    q = float(scipy.optimize.brentq(lack, 0.0, 1.5 * top))
    p = float(load.value(q))
    leak, steepness = float(source.value(p, 1)), float(load.value(q, 1))
    here_p, here_q = basis(ALL_POWERS, p)[0], basis(ALL_POWERS, q)[0]
    apart = (
        1 - leak * steepness
    )  # d(flow) = (d source + leak d load) / apart, d(pressure) = (load' d source + d load) / apart
    by_source = np.array([steepness * here_p, here_p]) / apart
    by_load = np.array([here_q, leak * here_q]) / apart
    covariance, freedom = together((source, by_source), (load, by_load))
    outside = p > 1.02 * blower.pressure_range[1]
    words = [f"operating point {p / 1e3:.3g} kPa and {q * 1e3:.3g} L/s"]
    if outside:
        words.append(f"above the highest pressure measured ({blower.pressure_range[1] / 1e3:.3g} kPa): extrapolated")
    words.append(CAUTION)
    return OperatingPoint(
        pressure=_marked(_estimate(p, covariance[0, 0], freedom[0], level), outside),
        flow=replace(_marked(_estimate(q, covariance[1, 1], freedom[1], level), outside), unit="m³/s"),
        covariance=covariance,
        stability="stable",
        stable_probability=1.0,
        margin=Estimate(nan, nan, nan, nan, "Pa", level, True, (CAUTION,)),
        margin_share=nan,
        others=(),
        words=tuple(words),
    )


def _estimate(value: float, variance: float, freedom: float, level: float) -> Estimate:
    u = sqrt(variance)
    half = float(student_factor(freedom, level)) * u
    return Estimate(value, u, value - half, value + half, "Pa", level)


def _judge(
    blower: BlowerFit,
    resistance: ResistanceLine,
    q: float,
    pressure: Estimate,
    slopes: tuple[float, float],
    certain: float,
    top: float,
    top_flow: float,
) -> tuple[list[str], str]:
    words = [f"operating point {pressure.value / 1e3:.3g} kPa and {q * 1e3:.3g} L/s"]
    stability = "stable"
    if certain < 1 - SURE:
        stability = "unstable"
        words.append("the operating point is unstable: the source's curve rises more steeply than the resistance")
    elif slopes[0] > 0:
        stability = "may surge"
        words.append(
            f"the operating point is on the rising side of the source's hump (top at {top_flow * 1e3:.3g} L/s): "
            "pressure and flow may surge"
        )
    elif certain < SURE:
        stability = "may surge"
        words.append("the two slopes are nearly equal there: pressure and flow may wander")
    share = (top - pressure.value) / top
    if share < THIN_MARGIN:
        words.append(
            f"the pressure margin is only {100 * share:.0f} % of the source's pressure: a little more resistance "
            "stops the air"
        )
    free = blower.free_delivery.value
    if isfinite(free) and q < QUARTER * free:
        words.append(
            f"only {100 * q / free:.0f} % of the source's open air: a motor cooled by the air it moves overheats below "
            "about a quarter"
        )
    if q > blower.range[1] * 1.02:
        words.append(f"beyond the highest flow measured ({blower.range[1] * 1e3:.3g} L/s): extrapolated")
    elif q < blower.range[0] * 0.98:
        words.append(f"below the smallest flow measured ({blower.range[0] * 1e3:.3g} L/s): extrapolated")
    if resistance.c > 0.5 * pressure.value:
        words.append("more than half of the pressure is spent before any air passes")
    return words, stability


def _near_stall(blower: BlowerFit, resistance: ResistanceLine, q: float) -> NoCrossing:
    """The result below the measured flows near shut-off, where a source may stall: no curve is assumed there."""
    lowest = blower.range[0]
    needed, available = float(resistance.curve.value(lowest)), float(blower.curve.value(lowest))
    words = (
        f"the operating point is near {q * 1e3:.2g} L/s, below the smallest flow measured ({lowest * 1e3:.3g} L/s): "
        "the curve is not extrapolated towards stall; measure it at less flow, for seconds only, as the motor overheats"
    )
    return NoCrossing(needed, available, lowest, (words,))


def _no_crossing(blower: BlowerFit, resistance: ResistanceLine) -> NoCrossing:
    """The flow at which the source lacks least pressure."""
    reach = max(blower.range[1], blower.free_delivery.value if isfinite(blower.free_delivery.value) else 0.0)
    flows = np.linspace(0.0, reach, 401)
    lack = resistance.curve.value(flows) - blower.curve.value(flows)
    k = int(np.argmin(lack))
    needed, available = float(resistance.curve.value(flows[k])), float(blower.curve.value(flows[k]))
    if needed <= available:  # the source is still stronger at the end of its known range
        end = f"up to {reach * 1e3:.3g} L/s, the end of its measured range; measure it at higher flow"
        words = (f"the source is stronger than the resistance {end}",)
        return NoCrossing(needed, available, float(flows[k]), words)
    words = (
        (
            f"the source is too weak: the generator needs {needed / 1e3:.2g} kPa and the source gives "
            f"{available / 1e3:.2g}"
        )
        + ("" if k == 0 else f" at {flows[k] * 1e3:.3g} L/s"),
    )
    return NoCrossing(needed, available, float(flows[k]), words)


def _top(source: Uncertain, reach: float) -> tuple[float, float]:
    flows = np.linspace(0.0, reach, 401)
    values = source.value(flows)
    k = int(np.argmax(values))
    return float(flows[k]), float(values[k])


def _marked(estimate: Estimate, extrapolated: bool) -> Estimate:
    return replace(estimate, extrapolated=extrapolated or estimate.extrapolated)
