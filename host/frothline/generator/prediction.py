"""Prediction of a build on an air source: operating point, jet speed and foam rate, with intervals."""

from __future__ import annotations

from collections.abc import Callable
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
from frothline.generator.joint_draws import JointDraws, Met
from frothline.generator.prediction_result import Prediction
from frothline.generator.pressure_model import PressureModel
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import basis
from frothline.numerics.uncertainty import KNOWN, student_factor
from frothline.physics.air import STANDARD_DENSITY

UNEVEN = 1.15  # largest over smallest flow of the holes above which a note is given


KNOWN_TO = 0.15  # relative: a model with a larger uncertainty is treated as known to a factor


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
    point = _bent(near, line, blower, generator)
    if _rises(blower, top_flow(blower)):
        point = _on_a_hump(point, JointDraws().meet(blower, generator))
    c = generator.conditions
    freedom = KNOWN if blower.flow_curve is not None else _of_gap(blower, line, point.flow.value)[1]
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


def _bent(point: OperatingPoint, line: ResistanceLine, blower: BlowerFit, generator: PressureModel) -> OperatingPoint:
    """The operating point with intervals for a model known only to a factor.

    A linear propagation of a factor of 1.5 or 2 would reach below zero. The limits of the flow are therefore the
    intersections of the curve with the model divided and multiplied by its factor (a log-normal error). The pressure's
    interval is asymmetric only by the model's part of the error, which moves it along the curve. The curve's own part
    and the common part stay as in the joint covariance; both parts are added as squares. The same holds for the margin.
    """
    if blower.flow_curve is not None:
        return _of_draws(point, JointDraws().meet(blower, generator))
    q, p = point.flow.value, point.pressure.value
    variance, freedom = _of_gap(blower, line, q)
    u = sqrt(variance) / p
    if u < KNOWN_TO:
        return point
    k = float(student_factor(freedom))
    even = sqrt(log(1.0 + (float(line.curve.u(q)) / p) ** 2))

    def of_load(flow: float, factor: float) -> float:
        # Towards less resistance the symmetric interval is used if it reaches further: a wet packing needs two to six
        # times the dry one (common practice, no source), beds of grains would make it twelve.
        return max(_reaches(generator, flow, factor), -factor * even)

    def both(flow: float, sign: float) -> float:
        """Uncertainty of the load's over the source's pressure at a flow, as a logarithm."""
        of_source = _of_gap(blower, line, flow)[0] - float(line.curve.u(flow)) ** 2
        own = max(of_source, 0.0) / max(blower.pressure_at(flow), 1e-3 * p) ** 2
        return hypot(of_load(flow, sign * k), k * sqrt(log(1.0 + own)))

    limits = _between(generator, blower, q, both)
    # if the lower end is zero flow, the logarithm's width is that of the upper half
    u_flow = q * (log(limits[1] / limits[0]) / 2 if limits[0] > 0 else log(limits[1] / q)) / k
    flow = replace(point.flow, lower=limits[0], upper=limits[1], standard_uncertainty=u_flow)
    normal = float(student_factor(KNOWN))
    along = np.linspace(*_between(generator, blower, q, lambda f, sign: of_load(f, sign * normal)), 33)
    pressures = blower.pressure(along)[0]  # over a hump neither end need be the highest
    down, up = max(p - float(np.min(pressures)), 0.0), max(float(np.max(pressures)) - p, 0.0)
    by_source, by_load = derivatives(blower, line, q)
    covariance, freedoms = together((blower.curve, by_source), (line.curve, by_load))
    load_alone = by_load @ line.curve.covariance @ by_load.T

    def joined(estimate: Estimate, row: int, below: float, above: float) -> Estimate:
        rest = max(float(covariance[row, row] - load_alone[row, row]), 0.0)
        own = max(float(freedoms[row]) * (rest / float(covariance[row, row])) ** 2, 1.0)
        half = float(student_factor(own)) * sqrt(rest)
        u_bent = (below + above) / (2 * normal)
        value = estimate.value
        return replace(
            estimate,
            standard_uncertainty=hypot(u_bent, sqrt(rest)),
            lower=value - hypot(below, half),
            upper=value + hypot(above, half),
        )

    pressure = joined(point.pressure, 1, down, up)
    margin = joined(point.margin, 2, up, down) if point.margin.known else point.margin
    wider = np.array([pressure.standard_uncertainty, u_flow if isfinite(u_flow) else point.flow.standard_uncertainty])
    wider = wider / np.sqrt(np.diag(point.covariance))
    return replace(
        point, flow=flow, pressure=pressure, margin=margin, covariance=point.covariance * np.outer(wider, wider)
    )


def _of_draws(point: OperatingPoint, met: Met) -> OperatingPoint:
    """The operating point of a positive-displacement source with intervals from joint draws, which use its q(p).

    Its p(q) is nearly vertical, so a linear propagation gives limits far from the value.
    """
    lower, upper = (np.quantile((met.flow, met.pressure), share, axis=1) for share in (0.025, 0.975))

    def drawn(one: Estimate, row: int, values: Floats) -> Estimate:
        down, up = float(lower[row]), float(upper[row])
        return replace(one, value=float(values[0]), lower=down, upper=up, standard_uncertainty=(up - down) / (2 * Z95))

    flow, pressure = drawn(point.flow, 0, met.flow), drawn(point.pressure, 1, met.pressure)
    return replace(point, flow=flow, pressure=pressure, covariance=np.cov(met.pressure[1:], met.flow[1:]))


def _between(
    generator: PressureModel, blower: BlowerFit, q: float, reaches: Callable[[float, float], float]
) -> tuple[float, float]:
    """Flows at which the source meets the model times and divided by its factor, ``reaches(flow, sign)`` its logarithm;
    as that depends on the flow, it is evaluated again at the end found.
    """

    def end(sign: float) -> float:
        found = q
        for _ in range(2):
            try:
                found = meeting_flow(generator, blower, exp(sign * reaches(max(found, 0.02 * q), sign)))
            except OutsideValidity:  # an error takes the model beyond any blower's range
                break
        return found

    return min(end(1.0), q), max(end(-1.0), q)


def _reaches(generator: PressureModel, flow: float, k: float) -> float:
    """Shift of the model's pressure at a flow by ``k`` standard uncertainties of all errors together, as a logarithm.

    Each error is applied in full and the squares are added: a part with a factor of 6 or a sixth raises the whole more
    than it lowers it.
    """
    base, square = generator.pressure(flow), 0.0
    for _, step in generator.effects:
        end = generator.moved({key: k * value for key, value in step.items()}).pressure(flow)
        if (end - base) * k < 0.0:  # for an exponent, for example, the other direction raises
            end = generator.moved({key: -k * value for key, value in step.items()}).pressure(flow)
        square += log(end / base) ** 2
    return sqrt(square)


def _of_gap(blower: BlowerFit, line: ResistanceLine, q: float) -> tuple[float, float]:
    """Variance, Pa², and degrees of freedom of the source's minus the load's pressure at a flow; common errors count
    once.
    """
    here = basis(ALL_POWERS, q)
    variance, freedom = together((blower.curve, here), (line.curve, -here))
    return float(variance[0, 0]), float(freedom[0])


def meeting_flow(generator: PressureModel, blower: BlowerFit, factor: float = 1.0) -> float:
    """Flow, m³/s, at which the source meets the model times a factor; 0 if it cannot drive it.

    Of several, the smallest at which the load rises past the source: the stable one.
    """
    top = top_flow(blower)

    def gap(q: float) -> float:
        try:
            return blower.pressure_at(q) - factor * generator.pressure(q)
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


def derivatives(source: BlowerFit, line: ResistanceLine, q: float) -> tuple[Floats, Floats]:
    """Derivatives (3, n) of flow, pressure and margin at the operating point, by the coefficients of source and load
    (to first order, of the pressure over the flow).
    """
    here = basis(ALL_POWERS, q)[0]
    falling, rising = float(source.curve.value(q, 1)), float(line.curve.value(q, 1))
    apart = falling - rising
    flows = np.linspace(0.0, max(source.range[1], q), 401)
    there = basis(ALL_POWERS, float(flows[int(np.argmax(source.curve.value(flows)))]))[0]  # its largest pressure
    by_source = np.array([-here, -rising * here, apart * there + rising * here]) / apart
    by_load = np.array([here, falling * here, -falling * here]) / apart
    return by_source, by_load
