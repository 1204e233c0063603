"""Prediction of a build on an air source: operating point, jet speed and foam rate, with intervals."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, hypot, inf, isfinite, log, nan, sqrt

import numpy as np
import scipy

from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import SURE, NoCrossing, OperatingPoint, operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.uncertain_curve import ALL_POWERS, together
from frothline.errors import OutsideValidity
from frothline.estimate import Z95, Estimate
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.joint_draws import JointDraws, Met, of_draws
from frothline.generator.prediction_result import Prediction
from frothline.generator.pressure_model import PressureModel
from frothline.numerics.errors_in_both import basis
from frothline.numerics.uncertainty import KNOWN, student_factor
from frothline.physics.air import STANDARD_DENSITY

UNEVEN = 1.15  # largest over smallest flow of the holes above which a note is given


KNOWN_TO = 0.15  # relative: to here the model's uncertainty from the sheet is propagated to first order


def predict(generator: PressureModel, blower: BlowerFit, knowledge: FoamKnowledge | None = None) -> Prediction:
    """Predict the operating point of a generator on an air source and its foam, with 95 % intervals.

    A missing operating point is a result with its reason. So is a build that needs more pressure at the source's flow
    than the model's range.
    """
    try:
        return _predict(generator, blower, knowledge)
    except OutsideValidity as error:
        line = generator.line(top_flow(blower))
        words = (f"no operating point can be calculated: {error.what}",)
        highest = float(np.max(blower.pressure(np.linspace(0.0, top_flow(blower), 41))[0]))
        point = NoCrossing(float(line.curve.value(top_flow(blower))), highest, top_flow(blower), words)
        return Prediction(generator.build, generator, line, point, None, None, None, None, (), words)


def _predict(generator: PressureModel, blower: BlowerFit, knowledge: FoamKnowledge | None) -> Prediction:
    """Approximate the model by c + a q + b q² over the whole range, then again around the operating point, where the
    form is closer.
    """
    known = knowledge or FoamKnowledge.usual(generator.build)
    line, near = _near(generator, blower)
    if near is None:
        line = generator.line(_reach(generator, blower))
        whole = operating_point(blower, line)
        if isinstance(whole, NoCrossing):
            return Prediction(generator.build, generator, line, whole, None, None, None, None, (), whole.words)
        closer = generator.line(1.4 * whole.flow.value, 0.6 * whole.flow.value)
        again = operating_point(blower, closer)
        if isinstance(again, NoCrossing) or not isfinite(again.flow.value):
            near = whole
        else:
            line, near = closer, again
    assert line is not None
    variance, freedom = _of_gap(blower, line, near.flow.value)
    point, draws = near, JointDraws()
    if generator.measured or blower.flow_curve is not None or sqrt(variance) > KNOWN_TO * near.pressure.value:
        point, freedom = _of_draws(near, draws.meet(blower, generator), top_flow(blower)), KNOWN
    if _rises(blower, top_flow(blower)):
        point = _on_a_hump(point, draws.meet(blower, generator))
    c = generator.conditions
    known_flow = _Known(_log_u(point.flow), freedom)
    air = point.flow.scaled(STANDARD_DENSITY / c.ambient.density)
    step = 1.02
    slope = log(generator.hole_velocity(point.flow.value * step) / generator.hole_velocity(point.flow.value / step)) / (
        2 * log(step)
    )
    u_drill = 2 * 0.02  # drilled holes are some per cent wide, and their area by the square
    jets = known_flow.times(slope).beside(u_drill)
    velocity = _spread(generator.hole_velocity(point.flow.value), jets, "m/s")
    foam_rate, ratio = _foam(generator, air, known_flow, known)
    if air.lower <= 0.0:  # no air, no foam
        velocity, foam_rate = replace(velocity, lower=0.0), replace(foam_rate, lower=0.0)
        ratio = None if ratio is None else replace(ratio, lower=0.0)
    words = (*point.words, *unmeasured(generator), *_uneven(generator, point.flow.value), *known.assumptions)
    shares = generator.shares(point.flow.value)
    return Prediction(generator.build, generator, line, point, air, velocity, foam_rate, ratio, shares, words)


def _near(generator: PressureModel, blower: BlowerFit) -> tuple[ResistanceLine | None, OperatingPoint | None]:
    """The form around the operating point of the model itself, and the operating point on it; None at an end of the
    source's known range.
    """
    top = top_flow(blower)
    q = meeting_flow(generator, blower)
    if not 0.0 < q < 0.999 * top:
        return None, None
    try:
        line = generator.line(1.4 * q, 0.6 * q)
    except OutsideValidity:
        return None, None
    point = operating_point(blower, line)
    if isinstance(point, NoCrossing) or not isfinite(point.flow.value):
        return None, None
    return line, point


def _on_a_hump(point: OperatingPoint, met: Met) -> OperatingPoint:
    """Stability on a source with a hump, by joint draws: the operating point may be on either side of the top."""
    if not isfinite(met.stable):
        return point
    stability, words = point.stability, point.words
    if stability == "stable" and met.falling < SURE:
        stability = "may surge"
        side = f"it may be on the rising side of the source's hump ({100 * (1.0 - met.falling):.0f} % probable)"
        words = (*words, f"{side}: pressure and flow may surge")
    return replace(point, stability=stability, stable_probability=met.stable, words=words)


def top_flow(blower: BlowerFit) -> float:
    """Largest known flow of a source, m³/s."""
    free = blower.free_delivery.value
    return max(blower.range[1], free if isfinite(free) else 0.0)


def _of_draws(point: OperatingPoint, met: Met, reach: float) -> OperatingPoint:
    """The operating point with intervals from joint draws, in which each error is applied in full: a factor of 1.5 or 2
    to first order would reach below zero, and measured points determine the sum of factors that are not known
    themselves.

    ``reach`` : m³/s, the end of the source's known range; a limit of the flow there stays that of first order
    """
    flows, pressures = met.about(point)
    flow, pressure = of_draws(point.flow, flows), of_draws(point.pressure, pressures)
    if flow.upper >= reach:
        flow = replace(flow, upper=max(flow.upper, point.flow.upper))
    q, u_flow = point.flow.value, point.flow.standard_uncertainty
    if isfinite(flow.upper):  # of a factor: twice the flow is as far as half
        u_flow = q * (log(flow.upper / flow.lower) / 2 if flow.lower > 0.0 else log(flow.upper / q)) / Z95
    flow = replace(flow, standard_uncertainty=u_flow)
    margins = met.highest - met.pressure
    margin = of_draws(point.margin, point.margin.value + margins - margins[0]) if point.margin.known else point.margin
    sizes = np.array([pressure.standard_uncertainty, u_flow])
    with np.errstate(invalid="ignore"):
        alike = np.nan_to_num(np.corrcoef(pressures[1:], flows[1:]))
    np.fill_diagonal(alike, 1.0)
    return replace(point, flow=flow, pressure=pressure, margin=margin, covariance=alike * np.outer(sizes, sizes))


def _of_gap(blower: BlowerFit, line: ResistanceLine, q: float) -> tuple[float, float]:
    """Variance, Pa², and degrees of freedom of the source's minus the load's pressure at a flow; common errors count
    once.
    """
    here = basis(ALL_POWERS, q)
    variance, freedom = together((blower.curve, here), (line.curve, -here))
    return float(variance[0, 0]), float(freedom[0])


def meeting_flow(generator: PressureModel, blower: BlowerFit) -> float:
    """Flow, m³/s, at which the source meets the model; 0 if it cannot drive it.

    Of several, the smallest at which the load rises past the source: the stable one.
    """
    top = top_flow(blower)

    def gap(q: float) -> float:
        try:
            return blower.pressure_at(q) - generator.pressure(q)
        except OutsideValidity:
            return -1e6

    start = 1e-7
    if gap(start) <= 0.0:
        # liquid or pores block it; a source with first rising pressure may still drive a larger flow
        steps = np.linspace(start, top, 25)[1:] if _rises(blower, top) else ()
        start = next((float(q) for q in steps if gap(float(q)) > 0.0), 0.0)
        if start == 0.0:
            return 0.0
    if gap(top) >= 0.0:
        return top
    if _rises(blower, top):
        steps = np.linspace(start, top, 13)
        end = next(float(q) for q in steps[1:] if gap(float(q)) <= 0.0)
        return float(scipy.optimize.brentq(gap, max(start, end - (top - start) / 12), end, rtol=1e-7))
    return float(scipy.optimize.brentq(gap, start, top, rtol=1e-7))


def _rises(blower: BlowerFit, top: float) -> bool:
    """Whether the source has a hump: then it can meet a load more than once."""
    pressures = blower.pressure(np.linspace(0.0, top, 41))[0]
    return bool(np.max(pressures) > 1.001 * pressures[0])


def _reach(generator: PressureModel, blower: BlowerFit) -> float:
    """An upper limit of the operating flow: the generator needs 1.5 times the source's largest pressure there."""
    top = top_flow(blower)
    flows = np.linspace(0.0, top, 60)
    highest = 1.5 * float(np.max(blower.curve.value(flows)))

    def beyond(q: float) -> float:
        try:
            return generator.pressure(q) - highest
        except OutsideValidity:
            return highest

    if beyond(top) <= 0.0:
        return top
    if beyond(1e-7) >= 0.0:  # it blocks the air completely
        return 0.02 * top
    return float(scipy.optimize.brentq(beyond, 1e-7, top, rtol=1e-3))


def unmeasured(generator: PressureModel) -> tuple[str, ...]:
    """A note if a wet packing is calculated from the sheet alone."""
    if generator.errors is not None or "wetting" not in generator.parameters:
        return ()
    if generator.learned is not None:
        words = (
            f"the pressure drops of packing, holes and outlet are learned from {generator.learned.origin} "
            "with this agent and this kind of packing"
        )
        return (f"{words}; measure this one with a wet sweep",)
    factor = exp(generator.uncertainties["wetting"])
    words = "the wet-packing pressure drop is published for non-foaming beds of grains only"
    return (f"{words}: uncertain by a factor of {factor:.2g}; measure it with a wet sweep",)


def _uneven(generator: PressureModel, flow: float) -> tuple[str, ...]:
    """A note if the holes at one end of the tube get much more air than those at the other."""
    try:
        evenness = generator.evenness(flow)
    except OutsideValidity as error:
        return (error.what,)
    if evenness < UNEVEN:
        return ()
    return (
        (
            f"the holes at the tube's end get {100 * (evenness - 1):.0f} % more air than those at its start: the "
            "tube is narrow"
        ),
    )


def _log_u(estimate: Estimate) -> float:
    return estimate.standard_uncertainty / estimate.value if estimate.value > 0 else nan


@dataclass(frozen=True)
class _Known:
    """Uncertainty of a logarithm: standard uncertainty and effective degrees of freedom (JCGM 100:2008, G.4)."""

    u: float
    freedom: float

    def times(self, slope: float) -> _Known:
        return replace(self, u=abs(slope) * self.u)

    def beside(self, u: float) -> _Known:
        """With an independent, well known error added."""
        whole = hypot(self.u, u)
        return _Known(whole, min(self.freedom * (whole / self.u) ** 4, KNOWN) if self.u > 0.0 else KNOWN)

    @property
    def half(self) -> float:
        """Half width of the 95 % interval."""
        return float(student_factor(self.freedom)) * self.u


def _spread(
    value: float, known: _Known, unit: str, extrapolated: bool = False, said: tuple[str, ...] = (), up: float = inf
) -> Estimate:
    """A positive figure with a log-normal 95 % interval, its upper half ``up`` at most (as a logarithm)."""
    lower, upper = value * exp(-known.half), value * exp(min(known.half, up))
    return Estimate(value, value * known.u, lower, upper, unit, extrapolated=extrapolated, assumptions=said)


def _foam(
    generator: PressureModel, air: Estimate, known_air: _Known, known: FoamKnowledge
) -> tuple[Estimate, Estimate | None]:
    """Foam rate, and air-to-solution ratio if the solution's flow is known."""
    Ql = generator.conditions.solution_flow
    u_caught = known.u_capture / known.capture
    bubbles = air.value * known.capture
    known_bubbles = known_air.beside(u_caught)
    # the captured share is at most 1
    up = hypot(known_air.half, min(float(student_factor(KNOWN)) * u_caught, max(-log(known.capture), 0.0)))
    said, beyond = known.assumptions, air.extrapolated
    if Ql is not None:
        share = bubbles / (bubbles + Ql)
        foam_rate = _spread(bubbles + Ql, known_bubbles.times(share), "m³/s", beyond, said, share * up)
        return foam_rate, _spread(bubbles / Ql, known_bubbles, "1", beyond, said, up)
    E = known.expansion
    u_liquid = known.u_expansion / (E * (E - 1.0))  # of E/(E - 1)
    up = hypot(up, float(student_factor(KNOWN)) * u_liquid)
    return _spread(bubbles * E / (E - 1.0), known_bubbles.beside(u_liquid), "m³/s", beyond, said, up), None
