"""What if: a build against an air source, and what a changed entry or another source would move.

Before and after share the source's errors and those coefficients of the generator that the change does not touch, so
that a change is known better than either of its ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import log, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

from frothline.bench.build import Build, Difference, differences, objections
from frothline.bench.generator import Generator
from frothline.bench.prediction import (
    FoamKnowledge,
    Prediction,
    derivatives,
    meeting_flow,
    predict,
    student,
    unmeasured,
)
from frothline.curve.bands import together
from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import NoCrossing, OperatingPoint
from frothline.errors import InputError, OutsideValidity
from frothline.estimate import Estimate

__all__ = ["FoamKnowledge", "Prediction", "WhatIf", "changed", "meeting_flow", "predict", "unmeasured", "what_if"]

Array = NDArray[np.float64]

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


def changed(generator: Generator, build: Build) -> Generator:
    """The generator after a change of its build: what was learnt stays for the parts that stay.

    Another flow of the solution in the sheet is another one in the generator.
    """
    before, conditions = generator.build, generator.conditions
    if before.reservoir.flow != build.reservoir.flow:
        conditions = replace(conditions, solution_flow=build.reservoir.flow)
    fresh = {
        key for key, paths in _BELONGS.items() if any(_value(before, path) != _value(build, path) for path in paths)
    }
    kept = {key: value for key, value in generator.factors.items() if key not in fresh}
    bare = Generator(build, conditions, kept)
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
    if path == "hose.pitch" and build.hose.kind == "smooth":
        return None  # it has no ripples
    part, _, name = path.partition(".")
    return getattr(getattr(build, part), name)


@dataclass(frozen=True)
class WhatIf:
    """Before and after a change, and by how much the meeting point moves; None where one of them does not meet, or
    where nothing that was changed moves any figure. ``unmoved`` : paths of the changed entries that move none.
    """

    before: Prediction
    after: Prediction
    flow_change: Estimate | None
    pressure_change: Estimate | None
    words: tuple[str, ...]
    unmoved: tuple[str, ...] = ()


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
    still = _unmoved(generator, build, before, after)
    said = _still_words(still)
    paths = tuple(item.path for item in still)
    if isinstance(before.point, NoCrossing) or isinstance(after.point, NoCrossing):
        words = after.point.words if isinstance(after.point, NoCrossing) else ("now they meet",)
        return WhatIf(before, after, None, None, (*words, *said), paths)
    if still and new_blower is None and len(still) == len(differences(generator.build, build)):
        return WhatIf(before, after, None, None, said, paths)
    covariance, freedom = _of_change(before, after, blower, new_blower or blower)
    moved = after.point.flow.value - before.point.flow.value, after.point.pressure.value - before.point.pressure.value
    flow, pressure = (
        _difference(value, covariance[k, k], freedom[k], unit)
        for k, (value, unit) in enumerate(zip(moved, ("m³/s", "Pa"), strict=True))
    )
    told = _told(flow, float(freedom[0]), before.point.flow.value)
    return WhatIf(before, after, flow, pressure, (told, *said), paths)


def _unmoved(generator: Generator, build: Build, before: Prediction, after: Prediction) -> tuple[Difference, ...]:
    """The changed entries that the model cannot tell: put in alone, or taken back alone, each leaves all as it is."""
    point = after.point if isinstance(after.point, OperatingPoint) else before.point
    flow = point.flow.value if isinstance(point, OperatingPoint) else point.at
    return tuple(item for item in differences(generator.build, build) if not _moves(generator, build, item, flow))


def _moves(generator: Generator, build: Build, item: Difference, flow: float) -> bool:
    old = generator.build
    pairs = [(old, old.with_entry(item.path, item.after)), (build.with_entry(item.path, item.before), build)]
    possible = [pair for pair in pairs if not any(one.fatal for each in pair for one in objections(each))]
    if not possible:  # it can only be changed together with another
        return True
    return not all(_alike(changed(generator, one), changed(generator, other), flow) for one, other in possible)


def _alike(one: Generator, other: Generator, flow: float) -> bool:
    try:
        return (
            one.pressure(flow) == other.pressure(flow)
            and one.hole_velocity(flow) == other.hole_velocity(flow)
            and one.conditions == other.conditions
            and one.effects == other.effects
        )
    except OutsideValidity:
        return False


def _still_words(still: tuple[Difference, ...]) -> tuple[str, ...]:
    if not still:
        return ()
    names = "; ".join(f"{item.path}, {item.about}" for item in still)
    return (f"{'this entry moves' if len(still) == 1 else 'these entries move'} no figure here: {names}",)


def _difference(value: float, variance: float, freedom: float, unit: str) -> Estimate:
    u = sqrt(max(float(variance), 0.0))
    half = student(float(freedom)) * u
    return Estimate(value, u, value - half, value + half, unit)


def _told(change: Estimate, freedom: float, base: float) -> str:
    share = change.value / base
    if change.lower < 0.0 < change.upper:
        sure = float(special.stdtr(freedom, abs(change.value) / change.standard_uncertainty)) if change.value else 0.5
        return f"the air rate changes by {share:+.0%}, which may also be nothing ({sure:.0%} sure of its sign)"
    return f"the air rate changes by {share:+.0%} ({change.lower / base:+.0%} to {change.upper / base:+.0%})"


def _of_change(before: Prediction, after: Prediction, source: BlowerFit, new: BlowerFit) -> tuple[Array, Array]:
    """(2, 2) covariance of the changes of flow and pressure, errors of the same name counted once, and their degrees
    of freedom, (2,).
    """
    pairs = []
    whole = [*_rows(before, source, -1.0), *_rows(after, new, 1.0)]
    if source is new:  # one source: its errors move both ends
        pairs.append((source.curve, whole[0] + whole[2]))
        pairs += [(before.line.curve, whole[1]), (after.line.curve, whole[3])]
    else:
        curves = (source.curve, before.line.curve, new.curve, after.line.curve)
        pairs = list(zip(curves, whole, strict=True))
    return together(*pairs)


def _rows(at: Prediction, source: BlowerFit, sign: float) -> tuple[Array, Array]:
    """Derivatives (2, n) of flow and pressure at a meeting point by the coefficients of source and load."""
    assert isinstance(at.point, OperatingPoint)
    by_source, by_load = derivatives(source, at.line, at.point.flow.value)
    return sign * by_source[:2], sign * by_load[:2]
