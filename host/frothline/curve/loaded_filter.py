"""The curve of a source whose filter has loaded: the measured curve in series with an added resistance.

A steady point that is below the curve gives the pressure that the added resistance takes at its flow. A cloth filter
and a cake of dust are laminar (Darcy: proportional to the flow); a choked inlet or bag goes with the square. One point
cannot tell them apart: the curve is rescaled by the mean of both laws, and half of their difference is an error of its
own in the result.

Errors that the curve and the point share by name, such as the span of one pressure sensor, enter once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from frothline.curve.blower import BlowerFit
from frothline.curve.fan_laws import InStandardAir
from frothline.curve.steady_points import SteadyPoint
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.errors import OutsideValidity
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import basis
from frothline.numerics.uncertainty import KNOWN

LAW = "law of the filter's resistance"
LEAST_FLOW = 0.1  # of the highest measured flow: with less, a point says nothing about a resistance; judgement


@dataclass(frozen=True)
class LoadedFilter:
    """A source whose filter has loaded.

    drop : pressure that the added resistance takes at ``flow``, Pa
    flow : mean flow of the points, m³/s
    significant : whether the interval of the drop excludes 0
    fit : the rescaled curve
    """

    drop: Estimate
    flow: float
    significant: bool
    fit: BlowerFit
    words: str


def loaded_filter(blower: BlowerFit, points: Sequence[SteadyPoint], *, level: float = 0.95) -> LoadedFilter:
    """The curve that goes through later steady points of the same source, by an added resistance in series.

    Raises OutsideValidity without a point at a known flow, for a point that is clearly above the curve, and for a
    positive-displacement source, whose flow a filter hardly changes.
    """
    if blower.flow_curve is not None:
        raise OutsideValidity(
            "the flow of a positive-displacement source hardly depends on its filter",
            where="loaded_filter",
            remedy="Measure its curve again",
        )
    used = [one for one in points if one.flow > LEAST_FLOW * blower.range[1] and np.isfinite(one.pressure)]
    if not used:
        raise OutsideValidity(
            "no point has enough flow to show a filter's resistance",
            where="loaded_filter",
            remedy=f"Open the line to more than {LEAST_FLOW * blower.range[1] * 1e3:.3g} L/s and hold it",
        )
    q = np.array([one.flow for one in used])
    p = np.array([one.pressure for one in used])
    reference = float(np.mean(q))
    ratio = q / reference
    shape = (ratio + ratio**2) / 2
    rows, slope = basis(ALL_POWERS, q), blower.slope(q)
    random = np.array([one.random for one in used])
    variance = random[:, 0] ** 2 + (slope * random[:, 1]) ** 2 - 2 * slope * random[:, 2] + blower.scatter**2
    share = shape / variance / float(np.sum(shape**2 / variance))
    missing = blower.curve.value(q) - p
    drop = float(share @ missing)
    by_law, laws = _laws(reference)
    # d(drop) = share · (rows · d(curve) + slope d(flow) - d(pressure));  d(new curve) = d(curve) - by_law d(drop)
    turn = np.eye(len(ALL_POWERS)) - np.outer(by_law, share @ rows)
    of_points = float(share**2 @ variance)
    effects: dict[str, Floats] = {name: turn @ effect for name, effect in blower.curve.effects}
    shared: dict[str, float] = {name: float(share @ rows @ effect) for name, effect in blower.curve.effects}
    for k, one in enumerate(used):
        for part in one.common:
            moved = float(share[k] * (slope[k] * part.on_flow - part.on_pressure))
            effects[part.name] = effects.get(part.name, np.zeros(len(ALL_POWERS))) - by_law * moved
            shared[part.name] = shared.get(part.name, 0.0) + moved
    effects[LAW] = laws * drop
    curve = Uncertain(
        blower.curve.coefficients - by_law * drop,
        (
            *((turn @ part @ turn.T, freedom) for part, freedom in blower.curve.random),
            (np.outer(by_law, by_law) * of_points, KNOWN),
        ),
        tuple(effects.items()),
        blower.curve.scale,
    )
    own = share @ rows
    u = sqrt(
        sum(float(own @ part @ own) for part, _ in blower.curve.random)
        + of_points
        + sum(x * x for x in shared.values())
    )
    estimate = Estimate.normal(drop, u, "Pa")
    if estimate.upper < 0:
        raise OutsideValidity(
            f"the point is {-drop / 1e3:.3g} kPa above the curve, so the filter has not loaded",
            where="loaded_filter",
            remedy="Measure the curve again: the filter was changed, or the source is another one",
        )
    significant = estimate.lower > 0
    at = f"at {reference * 1e3:.3g} L/s"
    if significant:
        words = (
            f"the source is {drop / 1e3:.3g} kPa below its curve {at}: a loaded filter or another added resistance; "
            "the curve is rescaled"
        )
    else:
        words = f"no added resistance was detected {at}: the difference from the curve is within its uncertainty"
    return LoadedFilter(estimate, reference, significant, _rescaled(blower, curve, words, level), words)


def _laws(reference: float) -> tuple[Floats, Floats]:
    """Coefficients (5,) of the mean of both laws for a unit drop at ``reference``, and of half their difference."""
    linear, square = np.zeros(len(ALL_POWERS)), np.zeros(len(ALL_POWERS))
    linear[1], square[2] = 1 / reference, 1 / reference**2
    return (linear + square) / 2, (linear - square) / 2


def _rescaled(blower: BlowerFit, curve: Uncertain, words: str, level: float) -> BlowerFit:
    reach = blower.range[1]
    free = curve.zero(reach, level)
    top = free.value if np.isfinite(free.value) else reach
    power, at = curve.largest_power(top, level)
    flows = np.linspace(blower.range[0], min(top, blower.range[1]), 41)
    pressure = curve.value(flows)
    density = blower.standard.found_in if blower.standard is not None else float("nan")
    return replace(
        blower,
        why=f"{blower.why}; in series with an added resistance",
        coefficients=curve.coefficients,
        covariance=curve.covariance,
        shut_off=replace(curve.at(0.0, level), extrapolated=blower.shut_off.extrapolated),
        free_delivery=replace(free, extrapolated=True),
        air_power=replace(power, extrapolated=True),
        air_power_flow=replace(at, extrapolated=True),
        range=(blower.range[0], float(flows[-1])),
        pressure_range=(float(max(pressure.min(), 0.0)), float(pressure.max())),
        notes=(words, *blower.notes),
        standard=InStandardAir.unknown(density, "the load of the filter holds for that day only"),
        curve=curve,
    )
