"""What if: a build against an air source, and what a changed entry or another source would move.

Before and after share the source's errors and those coefficients of the generator that the change does not touch, so
that a change is known better than either of its ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, hypot, inf, isfinite, log, nan, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from frothline.bench.build import Build, objections
from frothline.bench.generator import USUAL_CAPTURE, USUAL_EXPANSION, Generator, Share
from frothline.curve.bands import ALL_POWERS, together
from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import NoCrossing, OperatingPoint, operating_point
from frothline.curve.regression import basis
from frothline.curve.resistance import ResistanceLine
from frothline.errors import InputError, OutsideValidity
from frothline.estimate import Estimate
from frothline.physics.air import STANDARD_DENSITY

Array = NDArray[np.float64]

UNEVEN = 1.15  # largest over smallest flow of the holes from which it is said
KNOWN_TO = 0.15  # relative: a model known worse than this is treated as known to a factor


# Which entries of the sheet a parameter of the model belongs to: if one of them changes, what was learnt of the old
# part says nothing of the new one, and the geometry's own uncertainty returns.
_BELONGS = {
    "fittings": ("connection.fittings",),
    "hose": ("hose.kind", "hose.pitch"),
    "holes": ("tube.wall", "tube.countersunk"),
    "head": (),
    "entry": ("solution.agent",),
    "packing": ("packing.kind", "packing.material", "packing.wire", "packing.bead", "packing.opening"),
    "wetting": ("packing.kind", "packing.wire", "packing.bead", "packing.opening", "solution.agent"),
    "wetting slope": ("packing.kind", "packing.wire", "packing.bead", "packing.opening", "solution.agent"),
    "pores": ("packing.kind", "packing.wire", "packing.bead", "packing.opening", "solution.agent"),
    "outlet": ("outlet.shape",),
    "foam": ("outlet.shape", "solution.agent"),
    "foam slope": ("outlet.shape", "solution.agent"),
    "wall": ("solution.agent",),
}

# A part of another size is not quite the part that was measured, scaled: the error it brings with it, as the standard
# uncertainty of a logarithm. A packing is never packed twice alike. Judgement, no source.
_RESIZED: dict[str, tuple[tuple[str, ...], float]] = {
    "holes": (("tube.hole",), 0.12),
    "hose": (("hose.bore",), 0.10),
    "packing": (("packing.length", "packing.mass", "packing.voidage", "packing.layers", "body.bore"), 0.15),
    "outlet": (("outlet.bore", "outlet.length", "outlet.hose", "body.bore"), 0.10),
    "wall": (("outlet.bore",), 0.15),
}

# Foam in another outlet where the sheet names no hose: what it loses on the way in depends on its speed alone, what it
# loses along a wall also on one over the bore, and a wet sweep cannot tell how much is which. The exponent of the bore
# ratio lies between 0 and 1: a rectangle about its end (JCGM 100:2008, F.2.4.5).
_FOAM_BORE = 1.0 / sqrt(3.0)


@dataclass(frozen=True)
class FoamKnowledge:
    """What is known of the foam a build makes: captured share of the air and expansion ratio, each with its standard
    uncertainty; ``prior`` where no sample of this build was weighed.
    """

    capture: float
    u_capture: float
    expansion: float
    u_expansion: float
    prior: bool = False

    @classmethod
    def usual(cls) -> FoamKnowledge:
        """Before any sample: wide, and said to be so."""
        return cls(USUAL_CAPTURE, 0.12, USUAL_EXPANSION, 4.0, prior=True)

    @property
    def assumptions(self) -> tuple[str, ...]:
        if not self.prior:
            return ()
        usual = (
            f"no sample of this build yet: {self.capture:.0%} of the air caught and {self.expansion:.0f} times the "
            "volume of the solution are taken as usual, with a wide margin"
        )
        return (usual,)


@dataclass(frozen=True)
class Prediction:
    """A build on an air source. Estimates are None where the two do not meet.

    point : where they meet, or NoCrossing with its words
    air_rate : m³/s of free air;  hole_velocity : m/s;  foam_rate : m³/s at ambient pressure
    air_to_solution : captured air over solution by volume; None where no solution flow is known
    """

    build: Build
    generator: Generator
    line: ResistanceLine
    point: OperatingPoint | NoCrossing
    air_rate: Estimate | None
    hole_velocity: Estimate | None
    foam_rate: Estimate | None
    air_to_solution: Estimate | None
    shares: tuple[Share, ...]
    words: tuple[str, ...]


def predict(generator: Generator, blower: BlowerFit, knowledge: FoamKnowledge | None = None) -> Prediction:
    """Where a generator meets an air source, and what comes of it, with 95 % intervals.

    The model is followed by the form c + a q + b q² once over the whole range and then again around the crossing,
    where the form is closer. No crossing is an answer: its words are told.
    """
    known = knowledge or FoamKnowledge.usual()
    line = generator.line(_reach(generator, blower))
    point = operating_point(blower, line)
    if isinstance(point, NoCrossing):
        return Prediction(generator.build, generator, line, point, None, None, None, None, (), point.words)
    line = generator.line(1.4 * point.flow.value, 0.6 * point.flow.value)
    near = operating_point(blower, line)
    if isinstance(near, NoCrossing) or not isfinite(near.flow.value):
        line, near = generator.line(_reach(generator, blower)), point
    point = _bent(near, line, blower, generator)
    c = generator.conditions
    u_relative = _log_u(point.flow)
    air = _times(point.flow, STANDARD_DENSITY / c.ambient.density)
    step = 1.02
    slope = log(generator.hole_velocity(point.flow.value * step) / generator.hole_velocity(point.flow.value / step)) / (
        2 * log(step)
    )
    u_drill = 2 * 0.02  # holes come out some per cent wide, and their area with the square
    velocity = _spread(generator.hole_velocity(point.flow.value), hypot(slope * u_relative, u_drill), "m/s")
    foam_rate, ratio = _foam(generator, air, known)
    words = (*point.words, *unmeasured(generator), *_uneven(generator, point.flow.value), *known.assumptions)
    shares = generator.shares(point.flow.value)
    return Prediction(generator.build, generator, line, point, air, velocity, foam_rate, ratio, shares, words)


def _bent(
    point: OperatingPoint, line: ResistanceLine, blower: BlowerFit, generator: Generator, level: float = 0.95
) -> OperatingPoint:
    """The meeting point with intervals for a model that is known to a factor only.

    What is known to ×1.5 or ×2 cannot be below zero, as a straight-line propagation has it: then the limits are where
    the curve meets the model divided and multiplied by its factor (a log-normal error).
    """
    q, p = point.flow.value, point.pressure.value
    u = float(np.hypot(line.curve.u(q), blower.curve.u(q))) / p
    if u < KNOWN_TO:
        return point
    spread = exp(float(stats.norm.ppf(0.5 + level / 2)) * sqrt(log(1.0 + u * u)))
    limits = [meeting_flow(generator, blower, factor) for factor in (spread, 1.0 / spread)]
    pressures = sorted(float(blower.curve.value(x)) for x in limits)
    flow = replace(point.flow, lower=min(limits), upper=max(limits))
    # the slope of ln q with ln p at the meeting point, for what is made of the flow
    flow = replace(flow, standard_uncertainty=q * log(flow.upper / flow.lower) / (2 * 1.96) if flow.lower > 0 else inf)
    pressure = replace(point.pressure, lower=min(pressures[0], p), upper=max(pressures[1], p))
    return replace(point, flow=flow, pressure=pressure)


def meeting_flow(generator: Generator, blower: BlowerFit, factor: float = 1.0) -> float:
    """Flow, m³/s, at which the source meets the model times a factor; 0 where it does not push through."""
    free = blower.free_delivery.value
    top = max(blower.range[1], free if isfinite(free) else 0.0)

    def gap(q: float) -> float:
        try:
            return float(blower.curve.value(q)) - factor * generator.pressure(q)
        except OutsideValidity:
            return -1e6

    if gap(1e-7) <= 0.0:
        return 0.0
    return float(optimize.brentq(gap, 1e-7, top, rtol=1e-9)) if gap(top) < 0.0 else top


def _times(estimate: Estimate, factor: float) -> Estimate:
    return replace(
        estimate,
        value=estimate.value * factor,
        standard_uncertainty=estimate.standard_uncertainty * factor,
        lower=estimate.lower * factor,
        upper=estimate.upper * factor,
    )


def _reach(generator: Generator, blower: BlowerFit) -> float:
    """A flow up to which the two can meet: where the generator asks for half again the source's largest pressure."""
    free = blower.free_delivery.value
    top = max(blower.range[1], free if isfinite(free) else 0.0)
    flows = np.linspace(0.0, top, 60)
    highest = 1.5 * float(np.max(blower.curve.value(flows)))

    def beyond(q: float) -> float:
        try:
            return generator.pressure(q) - highest
        except OutsideValidity:
            return highest

    if beyond(top) <= 0.0:
        return top
    if beyond(1e-7) >= 0.0:  # it holds the air back altogether
        return 0.02 * top
    return float(optimize.brentq(beyond, 1e-7, top, rtol=1e-3))


def unmeasured(generator: Generator) -> tuple[str, ...]:
    """A word where a wet packing is reckoned from the sheet alone."""
    if generator.errors is not None or "wetting" not in generator.parameters:
        return ()
    factor = exp(generator.uncertainties["wetting"])
    words = "how much more a wet packing asks for than a dry one is published for beds of grains that did not foam"
    return (f"{words}, and good to a factor of {factor:.2g} at best; a wet sweep settles it",)


def _uneven(generator: Generator, flow: float) -> tuple[str, ...]:
    """A word where the holes at one end of the tube get much more air than those at the other."""
    try:
        evenness = generator.evenness(flow)
    except OutsideValidity as error:
        return (error.what,)
    if evenness < UNEVEN:
        return ()
    return (f"the holes at the tube's end get {evenness - 1:.0%} more air than those at its start: the tube is narrow",)


def _log_u(estimate: Estimate) -> float:
    return estimate.standard_uncertainty / estimate.value if estimate.value > 0 else nan


def _spread(value: float, u_log: float, unit: str, extrapolated: bool = False, said: tuple[str, ...] = ()) -> Estimate:
    """A positive figure with a log-normal 95 % interval."""
    half = 1.959963984540054 * u_log
    return Estimate(
        value, value * u_log, value * exp(-half), value * exp(half), unit, extrapolated=extrapolated, assumptions=said
    )


def _foam(generator: Generator, air: Estimate, known: FoamKnowledge) -> tuple[Estimate, Estimate | None]:
    """Foam rate, and air-to-solution ratio where the solution's flow is known."""
    Ql = generator.conditions.solution_flow
    u_air, u_eta = _log_u(air), known.u_capture / known.capture
    bubbles = air.value * known.capture
    u_bubbles = hypot(u_air, u_eta)
    if Ql is not None:
        share = bubbles / (bubbles + Ql)
        foam_rate = _spread(bubbles + Ql, share * u_bubbles, "m³/s", air.extrapolated, known.assumptions)
        return foam_rate, _spread(bubbles / Ql, u_bubbles, "1", air.extrapolated, known.assumptions)
    E = known.expansion
    u_liquid = known.u_expansion / (E * (E - 1.0))  # of E/(E - 1)
    rate = bubbles * E / (E - 1.0)
    return _spread(rate, hypot(u_bubbles, u_liquid), "m³/s", air.extrapolated, known.assumptions), None


# -- what if an entry changes --------------------------------------------------------------------------------------


def changed(generator: Generator, build: Build) -> Generator:
    """The generator after a change of its build: what was learnt stays for the parts that stay."""
    before = generator.build
    fresh = {
        key for key, paths in _BELONGS.items() if any(_value(before, path) != _value(build, path) for path in paths)
    }
    kept = {key: value for key, value in generator.factors.items() if key not in fresh}
    bare = Generator(build, generator.conditions, kept)
    first = bare.uncertainties
    known = set(generator.parameters) - fresh
    errors: list[tuple[str, Mapping[str, float]]] = [
        (name, {key: value for key, value in step.items() if key in known and key in first})
        for name, step in generator.effects
    ]
    errors += [(f"generator, changed: {key}", {key: u}) for key, u in first.items() if key not in known]
    errors += [
        (f"generator, resized: {key}", {key: u})
        for key, (paths, u) in _RESIZED.items()
        if key in known and key in first and any(_value(before, path) != _value(build, path) for path in paths)
    ]
    if "foam" in known and not before.outlet.hose and before.outlet.bore != build.outlet.bore:
        u = _FOAM_BORE * abs(log(build.outlet.bore / before.outlet.bore))
        errors.append(("generator, resized: foam", {"foam": u}))
    return replace(bare, errors=tuple((name, step) for name, step in errors if step))


def _value(build: Build, path: str) -> Any:
    part, _, name = path.partition(".")
    return getattr(getattr(build, part), name)


@dataclass(frozen=True)
class WhatIf:
    """Before and after a change, and by how much the meeting point moves; None where one of them does not meet."""

    before: Prediction
    after: Prediction
    flow_change: Estimate | None
    pressure_change: Estimate | None
    words: tuple[str, ...]


def what_if(
    generator: Generator,
    build: Build,
    blower: BlowerFit,
    *,
    new_blower: BlowerFit | None = None,
    knowledge: FoamKnowledge | None = None,
) -> WhatIf:
    """What a changed build, or another source, or both, would do.

    Raises InputError where the changed build cannot exist.
    """
    fatal = [item for item in objections(build) if item.fatal]
    if fatal:
        raise InputError(fatal[0].what, where=fatal[0].path, remedy=fatal[0].remedy)
    before = predict(generator, blower, knowledge)
    after = predict(changed(generator, build), new_blower or blower, knowledge)
    if isinstance(before.point, NoCrossing) or isinstance(after.point, NoCrossing):
        words = after.point.words if isinstance(after.point, NoCrossing) else ("now they meet",)
        return WhatIf(before, after, None, None, words)
    covariance = _of_change(before, after, blower, new_blower or blower)
    flow = _difference(after.point.flow.value - before.point.flow.value, covariance[0, 0], "m³/s")
    pressure = _difference(after.point.pressure.value - before.point.pressure.value, covariance[1, 1], "Pa")
    return WhatIf(before, after, flow, pressure, (_told(flow, before.point.flow.value),))


def _difference(value: float, variance: float, unit: str) -> Estimate:
    return Estimate.normal(value, sqrt(max(float(variance), 0.0)), unit)


def _told(change: Estimate, base: float) -> str:
    share = change.value / base
    if change.lower < 0.0 < change.upper:
        sure = float(stats.norm.cdf(abs(change.value) / change.standard_uncertainty)) if change.value else 0.5
        return f"the air rate changes by {share:+.0%}, which may also be nothing ({sure:.0%} sure of its sign)"
    return f"the air rate changes by {share:+.0%} ({change.lower / base:+.0%} to {change.upper / base:+.0%})"


def _of_change(before: Prediction, after: Prediction, source: BlowerFit, new: BlowerFit) -> Array:
    """(2, 2) covariance of the changes of flow and pressure, errors of the same name counted once."""
    pairs = []
    whole = [*_rows(before, source, -1.0), *_rows(after, new, 1.0)]
    if source is new:  # one source: its errors move both ends
        pairs.append((source.curve, whole[0] + whole[2]))
        pairs += [(before.line.curve, whole[1]), (after.line.curve, whole[3])]
    else:
        curves = (source.curve, before.line.curve, new.curve, after.line.curve)
        pairs = list(zip(curves, whole, strict=True))
    return together(*pairs)[0]


def _rows(at: Prediction, source: BlowerFit, sign: float) -> tuple[Array, Array]:
    """Derivatives (2, n) of flow and pressure at a meeting point by the coefficients of source and load."""
    assert isinstance(at.point, OperatingPoint)
    q = at.point.flow.value
    here = basis(ALL_POWERS, q)[0]
    falling, rising = float(source.curve.value(q, 1)), float(at.line.curve.value(q, 1))
    apart = falling - rising
    by_source = np.array([-here, -rising * here]) / apart
    by_load = np.array([here, falling * here]) / apart
    return sign * by_source, sign * by_load
