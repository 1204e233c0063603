"""What-if: the effect of a changed entry or another air source on the operating point of a build.

Before and after have in common the source's errors and the unchanged coefficients of the generator, so that the
uncertainty of a change is smaller than that of either state.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import log, sqrt
from typing import Any

import numpy as np

from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import NoCrossing, OperatingPoint
from frothline.errors import InputError, OutsideValidity
from frothline.estimate import Estimate
from frothline.formatting import PERCENT, difference_text
from frothline.generator.build import Build, Difference, differences
from frothline.generator.build_checks import check_build
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.joint_draws import JointDraws, of_draws
from frothline.generator.prediction import meeting_flow, predict, unmeasured
from frothline.generator.prediction_result import Prediction
from frothline.generator.pressure_model import PressureModel, from_sheet
from frothline.numerics.arrays import Floats

__all__ = ["FoamKnowledge", "Prediction", "WhatIf", "changed_build", "meeting_flow", "predict", "unmeasured", "what_if"]

# Sheet entries of each model parameter: if one of them changes, the fit of the old part does not apply to the new part,
# and the geometry's own uncertainty returns.
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

_KINDS = frozenset(path for paths in _BELONGS.values() for path in paths)
RESIZED = "generator, resized"  # name of the added errors of a part of another size
# A refilled packing may have a lower pressure drop although it is longer: this alone can reverse the sign of a change.
REPACKED = f"{RESIZED}: packing"
SURELY = 2.0  # standard uncertainties
SAME = 1e-9  # relative: pressures that differ by less are the same

# A part of another size is not exactly the measured part, scaled: its added error as the standard uncertainty of a
# logarithm. Two packings are never alike: the measured one differs from the usual one as much as the new one does, and
# the foam's yield pressure in it too. Judgement, no source.
_PACKED = (("packing.length", "packing.mass", "packing.voidage", "packing.layers", "body.bore"), 0.20)
_RESIZED: dict[str, tuple[tuple[str, ...], float]] = {
    "holes": (("tube.hole",), 0.12),
    "hose": (("hose.bore",), 0.10),
    "packing": _PACKED,
    "outlet": (("outlet.bore", "outlet.length", "outlet.hose", "body.bore"), 0.10),
    "wall": (("outlet.bore",), 0.15),
}

_TOGETHER = {"packing": ("packing", "pores")}  # parameters of one part with a common shift by such an error

# Foam in another outlet where the sheet names no hose: what it loses on the way in depends on its speed alone, what it
# loses along a wall also on one over the bore, and a wet sweep cannot separate the two. The exponent of the bore ratio
# is between 0 and 1: a rectangle about its end (JCGM 100:2008, F.2.4.5).
_FOAM_BORE = 1.0 / sqrt(3.0)


def changed_build(generator: PressureModel, build: Build) -> PressureModel:
    """The generator model after a change of its build: fitted parameters stay for unchanged parts.

    A changed solution flow in the sheet changes the flow in the generator.
    """
    before, conditions = generator.build, generator.conditions
    if before.reservoir.flow != build.reservoir.flow:
        conditions = replace(conditions, solution_flow=build.reservoir.flow)
    fresh = {
        key for key, paths in _BELONGS.items() if any(_value(before, path) != _value(build, path) for path in paths)
    }
    kept = {key: value for key, value in generator.factors.items() if key not in fresh}
    bare = from_sheet(build, conditions, generator.experience, kept)
    first = bare.uncertainties
    known = set(generator.parameters) - fresh
    errors: list[tuple[str, Mapping[str, float]]] = [
        (name, {key: value for key, value in step.items() if key in known and key in first})
        for name, step in generator.effects
    ]
    errors += [
        (name.replace("generator", "generator, changed", 1), step)
        for name, step in bare.first_errors(key for key in first if key not in known)
    ]
    errors = _merged(errors)
    errors += [
        (f"{RESIZED}: {key}", {name: u for name in _TOGETHER.get(key, (key,)) if name in known and name in first})
        for key, (paths, u) in _RESIZED.items()
        if key in known and key in first and any(_value(before, path) != _value(build, path) for path in paths)
    ]
    if "foam" in known and not before.outlet.hose and before.outlet.bore != build.outlet.bore:
        u = _FOAM_BORE * abs(log(build.outlet.bore / before.outlet.bore))
        errors.append((f"{RESIZED}: foam", {"foam": u}))
    kept_errors = tuple((name, step) for name, step in errors if step)
    return replace(bare, errors=kept_errors, measured=generator.measured)


def _merged(errors: Iterable[tuple[str, Mapping[str, float]]]) -> list[tuple[str, Mapping[str, float]]]:
    """Errors of one name as one error: a kept and a fresh parameter may have the surface tension in common."""
    found: dict[str, dict[str, float]] = {}
    for name, step in errors:
        found.setdefault(name, {}).update(step)
    return list(found.items())


def _value(build: Build, path: str) -> Any:
    if path == "hose.pitch" and build.hose.kind == "smooth":
        return None  # it has no ripples
    part, _, name = path.partition(".")
    return getattr(getattr(build, part), name)


@dataclass(frozen=True)
class WhatIf:
    """State before and after a change, and the shift of the operating point; None if one state has no operating point,
    or if no changed entry has an effect. ``unmoved`` : paths of changed entries without an effect.
    """

    before: Prediction
    after: Prediction
    flow_change: Estimate | None
    pressure_change: Estimate | None
    words: tuple[str, ...]
    unmoved: tuple[str, ...] = ()


def what_if(
    generator: PressureModel,
    build: Build,
    blower: BlowerFit,
    *,
    new_blower: BlowerFit | None = None,
    knowledge: FoamKnowledge | None = None,
    before: Prediction | None = None,
) -> WhatIf:
    """Evaluate a changed build, another source, or both.

    ``before`` : the prediction of ``generator`` against ``blower``, where it is known already

    Raises InputError if the changed build is impossible.
    """
    fatal = [item for item in check_build(build) if item.fatal]
    if fatal:
        raise InputError(fatal[0].what, where=fatal[0].path, remedy=fatal[0].remedy)
    if before is None:
        before = predict(generator, blower, knowledge)
    after = predict(changed_build(generator, build), new_blower or blower, knowledge)
    still = _unmoved(generator, build, before, after)
    said = _still_words(still)
    paths = tuple(item.path for item in still)
    if isinstance(before.point, NoCrossing) or isinstance(after.point, NoCrossing):
        words = after.point.words if isinstance(after.point, NoCrossing) else ("now they have an operating point",)
        return WhatIf(before, after, None, None, (*words, *said), paths)
    if still and new_blower is None and len(still) == len(differences(generator.build, build)):
        return WhatIf(before, after, None, None, said, paths)
    moved = _moved(generator, build, before, after, blower, new_blower)
    flow, pressure = moved.flow, moved.pressure
    told = _told(moved.share, moved.sure)
    return WhatIf(before, after, flow, pressure, (told, *said), paths)


def _unmoved(generator: PressureModel, build: Build, before: Prediction, after: Prediction) -> tuple[Difference, ...]:
    """Changed entries without an effect in the model: each leaves all figures unchanged when applied or reverted
    alone.
    """
    point = after.point if isinstance(after.point, OperatingPoint) else before.point
    flow = point.flow.value if isinstance(point, OperatingPoint) else point.at
    return tuple(item for item in differences(generator.build, build) if not _moves(generator, build, item, flow))


def _moves(generator: PressureModel, build: Build, item: Difference, flow: float) -> bool:
    old = generator.build
    pairs = [(old, old.with_entry(item.path, item.after)), (build.with_entry(item.path, item.before), build)]
    possible = [pair for pair in pairs if not any(one.fatal for each in pair for one in check_build(each))]
    if not possible:  # it can only be changed together with another
        return True
    return not all(
        _alike(changed_build(generator, one), changed_build(generator, other), flow) for one, other in possible
    )


def _alike(one: PressureModel, other: PressureModel, flow: float) -> bool:
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


@dataclass(frozen=True)
class _Moved:
    """Change of flow (m3/s), pressure (Pa) and flow ratio to before (1); ``sure``: share of the draws with the stated
    sign.
    """

    flow: Estimate
    pressure: Estimate
    share: Estimate
    sure: float


def _moved(
    generator: PressureModel,
    build: Build,
    before: Prediction,
    after: Prediction,
    blower: BlowerFit,
    new_blower: BlowerFit | None,
) -> _Moved:
    """The change of the operating point from joint draws: common errors shift both states."""
    assert isinstance(before.point, OperatingPoint)
    assert isinstance(after.point, OperatingPoint)
    draws = JointDraws()
    old, new = draws.meet(blower, generator), draws.meet(new_blower or blower, after.generator)
    (q0, p0), (q1, p1) = old.about(before.point), new.about(after.point)
    if new_blower is None:
        # if physics gives the sign, the added error of a new part cannot reverse it
        flows = np.concatenate([q0, q1])
        known = flows[flows > 0.0]
        way = _direction(generator, build, after.generator, *np.quantile(known, [0.01, 0.99])) if known.size else 0
        turned = way * (q1 - q0) > 0.0
        q1, p1 = np.where(turned, q0, q1), np.where(turned, p0, p1)
    change = after.point.flow.value / before.point.flow.value - 1.0
    share = _estimate(change, np.divide(q1, q0, out=np.ones_like(q0), where=q0 > 0.0) - 1.0, "1")
    signs = np.sign(q1 - q0)[1:]
    return _Moved(
        _estimate(after.point.flow.value - before.point.flow.value, q1 - q0, "m³/s"),
        _estimate(after.point.pressure.value - before.point.pressure.value, p1 - p0, "Pa"),
        share,
        float(np.mean((signs == np.sign(change)) + 0.5 * (signs == 0.0))),
    )


def _estimate(value: float, draws: Floats, unit: str) -> Estimate:
    return of_draws(Estimate(value, 0.0, value, value, unit), draws)


def _direction(generator: PressureModel, build: Build, after: PressureModel, low: float, high: float) -> int:
    """1 if the changed parts have a larger pressure drop between two flows, m3/s, for any coefficients, -1 if smaller;
    0 if it depends on the coefficients, or if a part is of another kind, for which the old part gives no information.
    """
    paths = {item.path for item in differences(generator.build, build)}
    if paths & _KINDS:
        return 0
    steps: list[tuple[Mapping[str, float], Mapping[str, float]]] = [({}, {})]  # of the old and of the new generator
    for name, step in after.effects:
        for sign in (1.0, -1.0):
            moved = {key: sign * value for key, value in step.items()}
            if name == REPACKED:
                steps.append(({}, {key: SURELY * value for key, value in moved.items()}))
            elif not name.startswith(RESIZED):
                steps.append((moved, moved))
    ways = set()
    for of_old, of_new in steps:
        old, new = generator.moved(of_old), after.moved(of_new)
        for q in np.geomspace(low, high, 4):
            try:
                asked = old.pressure(q)
                more = new.pressure(q) / asked - 1.0
            except OutsideValidity:  # above any blower's pressure
                continue
            if abs(more) > SAME:
                ways.add(1 if more > 0.0 else -1)
    return ways.pop() if len(ways) == 1 else 0


def _told(share: Estimate, sure: float) -> str:
    words = f"the air rate changes by {difference_text(share, PERCENT)}"
    if share.lower < 0.0 < share.upper:
        return f"{words}; the interval includes no change ({100 * sure:.0f} % confidence in the sign)"
    return words
