"""The curve of an air source from steady points: shut-off pressure, free delivery, air power, with intervals.

``BlowerCurve`` has the settings; ``fit(points)`` returns a ``BlowerFit`` and is deterministic.

Random errors: the points' stated variances set their relative weights; the absolute size is taken from the scatter of
the points about the curve (residual variance with n - m degrees of freedom, hence Student's t). Common errors
(``CommonError``) do not show in the scatter: each shifts the whole curve, and its effect on the coefficients is added
to their covariance (JCGM 100:2008, F.1.2.3). Effective degrees of freedom of a result: JCGM 100:2008, G.4
(Welch-Satterthwaite).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import inf, isfinite, nan, sqrt

import numpy as np
from numpy.typing import ArrayLike

from frothline.curve import fit_advice as advise
from frothline.curve.curve_shapes import (
    ALL_FORMS,
    FORMS,
    Candidate,
    candidates,
    missed_words,
    named,
    why,
    with_more_coefficients,
)
from frothline.curve.exponent_shapes import SHAPES
from frothline.curve.fan_laws import Conditions, InStandardAir, corrected_each
from frothline.curve.outliers import clipped, limit_words, worst_point
from frothline.curve.positive_displacement import CAUTION, IF_A_FAN, NO_FAN, SteepFit, fit_relieved, fit_steep
from frothline.curve.positive_displacement import FORM as STEEP
from frothline.curve.source_entries import Motor, known_motor
from frothline.curve.steady import Refusal
from frothline.curve.steady_points import PointArrays, SteadyPoint, arrays_of, smoothed
from frothline.curve.uncalibrated_flow import NOTE, is_uncalibrated, mark_flows
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain, constant
from frothline.errors import FrothlineError, TooFewPoints
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats

FEWEST_POINTS = 5  # two more than a quadratic's coefficients: with one more, Student's factor is 12.7
SMOOTHABLE = 5  # points; fewer do not determine the variance as a function of flow
CLEARLY = 10.0  # in AICc: required advantage of a broken line over any smooth curve
TOO_FAR = 2.5  # times the highest measured flow: free delivery beyond this is not reported
FAR = 0.2  # of the whole curve: beyond this extrapolation the interval depends on the shape
BY_SHAPE = "by the fitted shape only: the interval is valid if the source follows it"


@dataclass(frozen=True)
class BlowerFit:
    """An air source's curve *as found*, in the air of the measurement.

    Flows are mass flows, as m3/s at 1.2 kg/m3; pressures Pa above ambient. ``standard`` has the figures corrected to
    standard air by the fan laws.

    coefficients : (5,) c0..c4 of p = c0 + c1 q + … + c4 q^4
    covariance : (5, 5), common errors included; None if the points do not determine it
    range : (lowest, highest) measured flow; outside it the curve is extrapolated
    refused : points left out, each with its stretch and reason
    advice : missing measurements, as text
    form : the shape with the largest share in the curve, a name of ``curve_shapes.ALL_FORMS``
    chi_square, degrees_of_freedom : of that shape, from the stated random variances
    scatter : standard deviation of one steady point from the curve, Pa
    """

    form: str
    why: str
    coefficients: Floats
    covariance: Floats | None
    shut_off: Estimate
    free_delivery: Estimate
    air_power: Estimate
    air_power_flow: Estimate
    range: tuple[float, float]
    pressure_range: tuple[float, float]
    points: tuple[SteadyPoint, ...] = field(repr=False)
    refused: tuple[Refusal, ...]
    advice: tuple[str, ...]
    notes: tuple[str, ...]
    candidates: tuple[Candidate, ...] = field(repr=False)
    chi_square: float
    degrees_of_freedom: int
    scatter: float
    curve: Uncertain = field(repr=False)
    standard: InStandardAir | None = field(default=None, repr=False)
    # only for positive-displacement sources: q(p), and p(q) while the relief valve is open
    flow_curve: Uncertain | None = field(default=None, repr=False)
    relief: Uncertain | None = field(default=None, repr=False)

    @property
    def order(self) -> int:
        """Highest power of the flow in the curve of the shape named in ``form``; 4 for a shape with a free exponent."""
        return len(ALL_POWERS) - 1 if self.form in SHAPES else max(FORMS.get(self.form, (1,)))

    def pressure(self, flow: ArrayLike) -> tuple[Floats, Floats]:
        """Pressure (Pa) at ``flow`` (m3/s) and its standard uncertainty, arrays like ``flow``."""
        value, u = self.curve.value(flow), self.curve.u(flow)
        if self.relief is None:
            return value, u
        held = self.relief.value(flow)
        return np.minimum(value, held), np.where(held < value, self.relief.u(flow), u)

    def pressure_at(self, flow: float) -> float:
        """Pressure (Pa) at one flow (m3/s), without its uncertainty: twenty times as fast as ``pressure``."""
        value = self.curve.value_at(flow)
        return value if self.relief is None else min(value, self.relief.value_at(flow))

    def slope(self, flow: ArrayLike) -> Floats:
        """dp/dq at ``flow``, Pa s/m3."""
        return self.curve.value(flow, derivative=1)

    def band(self, flow: ArrayLike, level: float = 0.95, simultaneous: bool = True) -> tuple[Floats, Floats]:
        """Lower and upper pressure (Pa) of the curve.

        ``simultaneous``: the whole curve from no flow to the highest flow of interest is inside with probability
        ``level``; otherwise each single point of the curve is.
        """
        lower, upper = self.curve.band(flow, level, self._reach if simultaneous else None)
        if self.relief is None:
            return lower, upper
        low, high = self.relief.band(flow, level, self._reach if simultaneous else None)
        return np.minimum(lower, low), np.minimum(upper, high)

    def prediction(self, flow: ArrayLike, level: float = 0.95) -> tuple[Floats, Floats]:
        """Lower and upper pressure (Pa) for the next steady point at ``flow``: wider than the band."""
        return self.curve.band(flow, level, None, extra_variance=self.scatter**2)

    def flow_at(self, pressure: float, level: float = 0.95) -> Estimate:
        """The flow (m3/s) of the source at ``pressure`` (Pa), on the falling branch.

        For a positive-displacement source this is q(p); its p(q) is too steep to be inverted.
        """
        if self.flow_curve is not None and (self.relief is None or pressure <= self.relief_from):
            return replace(
                self.flow_curve.at(pressure, level, "m³/s"), extrapolated=pressure > 1.02 * self.pressure_range[1]
            )
        if self.relief is not None:
            return self.relief.minus(constant(pressure)).zero(self._reach, level)
        return self.curve.minus(constant(pressure)).zero(self._reach, level)

    @property
    def relief_from(self) -> float:
        """Pressure (Pa) at which the relief valve opens, the intersection of both lines; infinite without a valve."""
        if self.flow_curve is None or self.relief is None:
            return inf
        free, slope = self.flow_curve.coefficients[:2]
        level, lift = self.relief.coefficients[:2]
        return float((level + lift * free) / (1 - lift * slope))

    @property
    def _reach(self) -> float:
        top = self.free_delivery.value
        return max(self.range[1], top if isfinite(top) else 0.0)


@dataclass(frozen=True)
class BlowerCurve:
    """Settings of the fit.

    forms : competing shapes, names from ``curve_shapes.ALL_FORMS``
    motor : speed control of the source, for the correction to standard air
    """

    forms: tuple[str, ...] = ALL_FORMS
    fewest_points: int = FEWEST_POINTS
    level: float = 0.95
    reject_outliers: bool = True
    motor: Motor = "series"

    def __post_init__(self) -> None:
        known_motor(self.motor)

    def fit(self, points: Sequence[SteadyPoint]) -> BlowerFit:
        """Fit the curve of the source, as found and in standard air.

        Raises TooFewPoints or NotIdentifiable with what is missing.
        """
        at_limit = clipped(advise.sort_out(points)[0])
        words = limit_words(at_limit)
        if at_limit and len(points) - len(at_limit) >= self.fewest_points:
            points = [point for point in points if point not in at_limit]
        found = self._as_found(points, reject_outliers=self.reject_outliers)
        if words:
            limited = [Refusal(point.start, point.end, words) for point in at_limit if point not in found.points]
            found = replace(found, refused=(*found.refused, *limited), advice=(words, *found.advice))
        standard = self._in_standard_air(found)
        if not is_uncalibrated(found.points):
            return replace(found, standard=standard)
        return replace(mark_flows(found), standard=mark_flows(standard), notes=(NOTE, *found.notes))

    def _in_standard_air(self, found: BlowerFit) -> InStandardAir:
        known = [point.ambient_density for point in found.points if isfinite(point.ambient_density)]
        density = float(np.mean(known)) if known else nan
        if found.form == STEEP:
            return InStandardAir.unknown(density, NO_FAN)
        try:
            points = corrected_each(found.points, Conditions(motor=self.motor))
            fit = self._as_found(points, reject_outliers=False)
        except FrothlineError as error:
            return InStandardAir.unknown(density, error.what)
        said = {note for point in found.points for note in point.notes}
        words = dict.fromkeys(note for point in points for note in point.notes if note not in said)
        return InStandardAir(fit.shut_off, fit.free_delivery, fit.air_power, fit.air_power_flow, density, tuple(words))

    def _as_found(self, points: Sequence[SteadyPoint], *, reject_outliers: bool) -> BlowerFit:
        usable, refused = advise.sort_out(points)
        advise.refuse_one_place(usable)
        if len(usable) < self.fewest_points:
            few = "1 steady point is" if len(usable) == 1 else f"{len(usable)} steady points are"
            raise TooFewPoints(
                f"{few} not enough for a curve; the minimum is {self.fewest_points}",
                remedy=advise.where_to_add(usable),
            )
        steep = fit_steep(arrays_of(usable), self.level)
        if steep is not None:
            return self._steep_result(usable, refused, arrays_of(usable), steep)
        advise.refuse_impossible(usable)
        arrays, found = self._fit(usable)
        relieved = fit_relieved(arrays, self.level)
        if relieved is not None and relieved.aicc < found[0].aicc - CLEARLY:
            return self._steep_result(usable, refused, arrays, relieved)
        while reject_outliers and (bad := worst_point(arrays, found, self.forms)) is not None:
            point = usable[bad.index]
            reason = f"is {bad.off:+.0f} Pa off the curve through all other points"
            refused.append(Refusal(point.start, point.end, reason))
            usable = usable[: bad.index] + usable[bad.index + 1 :]
            arrays, found = self._fit(usable)
        return self._result(usable, refused, arrays, found)

    def _steep_result(
        self, points: list[SteadyPoint], refused: list[Refusal], arrays: PointArrays, steep: SteepFit
    ) -> BlowerFit:
        known = bool(np.all(np.isfinite(steep.pressure.covariance)))
        return BlowerFit(
            form=STEEP,
            why=steep.why,
            coefficients=steep.pressure.coefficients,
            covariance=steep.pressure.covariance if known else None,
            shut_off=steep.shut_off,
            free_delivery=steep.free_delivery,
            air_power=steep.air_power,
            air_power_flow=steep.air_power_flow,
            range=(float(arrays.q.min()), float(arrays.q.max())),
            pressure_range=(float(arrays.p.min()), float(arrays.p.max())),
            points=tuple(points),
            refused=tuple(refused),
            advice=(CAUTION,) if steep.relief is not None else (CAUTION, IF_A_FAN),
            notes=steep.notes,
            candidates=(),
            chi_square=steep.chi_square,
            degrees_of_freedom=steep.degrees_of_freedom,
            scatter=steep.scatter,
            curve=steep.pressure,
            flow_curve=steep.flow,
            relief=steep.relief,
        )

    def _fit(self, points: list[SteadyPoint]) -> tuple[PointArrays, list[Candidate]]:
        arrays = arrays_of(points)
        seconds = np.array([point.duration for point in points])
        scatters = np.array([point.n > 1 and point.duration > 0 for point in points])
        if len(points) > SMOOTHABLE and np.all(scatters):
            roughly = candidates(arrays, self.forms, tolerance=1e-6)
            arrays = smoothed(arrays, 1 / roughly[0].fit.weight, seconds)
        return arrays, candidates(arrays, self.forms)

    def _result(
        self, points: list[SteadyPoint], refused: list[Refusal], arrays: PointArrays, found: list[Candidate]
    ) -> BlowerFit:
        admitted = found
        found = with_more_coefficients(admitted, arrays)
        leader, shown = found[0], named(found)
        curve = averaged(found, arrays)
        lowest, highest = float(arrays.q.min()), float(arrays.q.max())
        span = (lowest, highest)
        shut_off = replace(curve.at(0.0, self.level), extrapolated=lowest > 0.02 * highest)
        if lowest > FAR * highest:
            shut_off = replace(
                shut_off, assumptions=((f"extrapolated to zero flow from {lowest * 1e3:.3g} L/s {BY_SHAPE}"),)
            )
        free = curve.zero(1.5 * highest, self.level)
        free = replace(free, extrapolated=not free.value <= 1.02 * highest)
        if free.value > TOO_FAR * highest:
            why_not = f"the curve was measured to {highest * 1e3:.3g} L/s only, less than half of free delivery"
            free = Estimate(nan, nan, free.lower, inf, "m³/s", self.level, True, (why_not,))
        if float(arrays.p.min()) > FAR * shut_off.value:
            free = replace(
                free, assumptions=(*free.assumptions, (f"extrapolated from {highest * 1e3:.3g} L/s {BY_SHAPE}"))
            )
        power, power_flow = curve.largest_power(free.value if isfinite(free.value) else highest, self.level)
        outside = not lowest * 0.98 <= power_flow.value <= highest * 1.02
        notes = advise.notes(points, leader.fit, arrays)
        if found is not admitted:
            notes = (missed_words(admitted), *notes)
        return BlowerFit(
            form=shown.form,
            why=why(found),
            coefficients=curve.coefficients,
            covariance=curve.covariance if np.all(np.isfinite(curve.covariance)) else None,
            shut_off=shut_off,
            free_delivery=free,
            air_power=replace(power, extrapolated=outside),
            air_power_flow=replace(power_flow, extrapolated=outside),
            range=span,
            pressure_range=(float(arrays.p.min()), float(arrays.p.max())),
            points=tuple(points),
            refused=tuple(refused),
            advice=advise.advice(points, shut_off.value, free.value),
            notes=notes,
            candidates=tuple(found),
            chi_square=shown.fit.chi_square,
            degrees_of_freedom=shown.fit.degrees_of_freedom,
            scatter=sqrt(float(np.median(1 / leader.fit.weight)) * curve.scale),
            curve=curve,
        )


def averaged(found: Sequence[Candidate], arrays: PointArrays) -> Uncertain:
    """The weighted average of the shapes with its covariance, random and common parts separate."""
    size = len(ALL_POWERS)
    kept = [item for item in found if item.weight > 1e-4]
    total = sum(item.weight for item in kept)
    mean = sum((item.weight / total * item.coefficients for item in kept), np.zeros(size))
    random = np.zeros((size, size))
    effects = np.zeros((len(arrays.names), size))
    for item in kept:
        share = item.weight / total
        off = item.coefficients - mean
        random += share * (item.spread(item.fit.covariance) * item.scale + np.outer(off, off) + item.approximation)
        for k in range(len(arrays.names)):
            moved = np.zeros(size)
            moved[list(item.fit.powers)] = item.fit.shift(arrays.common_q[k], arrays.common_p[k])
            effects[k] += share * moved
    leader = found[0]
    return Uncertain(
        coefficients=mean,
        random=((random, leader.freedom),),
        effects=tuple(zip(arrays.names, effects, strict=True)),
        scale=leader.scale,
    )
