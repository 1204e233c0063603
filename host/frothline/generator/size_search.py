"""Search of the outlet, drill, number of holes or packing length that gives a target result.

Only stock sizes of drills and pipes are used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite, log, nan
from typing import Literal

from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import NoCrossing
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.generator.build import Build
from frothline.generator.build_checks import check_build
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.linked_entries import go_along
from frothline.generator.prediction import meeting_flow, predict
from frothline.generator.prediction_result import Prediction
from frothline.generator.pressure_model import PressureModel
from frothline.generator.stock_sizes import DRILLS, PIPES, pipe_of_bore
from frothline.generator.what_if import changed_build
from frothline.physics.air import STANDARD_DENSITY

Wanted = Literal["pressure", "air_rate", "air_to_solution"]
SURVEYED = 40  # sizes at which the model is evaluated first; some ms each
CHOICES = 2  # shown of those found
CHANGES = ("outlet.bore", "tube.hole", "tube.holes_per_row", "packing.length")


@dataclass(frozen=True)
class SizeOption:
    """A stock size: the entry's value in SI, its trade name, and its effect."""

    value: float | int
    words: str
    prediction: Prediction
    reached: Estimate


@dataclass(frozen=True)
class SizeSearch:
    """The sizes nearest to a target result, best first, with notes.

    ``met`` is whether the target is inside the interval of the best size. ``range`` is the reachable range, 0 to 0 if
    the source can drive none of them.
    """

    change: str
    wanted: float
    unit: str
    choices: tuple[SizeOption, ...]
    met: bool
    range: tuple[float, float]
    words: tuple[str, ...]


_UNITS: dict[str, str] = {"pressure": "Pa", "air_rate": "m³/s", "air_to_solution": "1"}


def find_size(
    generator: PressureModel,
    blower: BlowerFit,
    change: str,
    wanted: Wanted,
    value: float,
    knowledge: FoamKnowledge | None = None,
    *,
    alone: bool = False,
) -> SizeSearch:
    """Find the outlet, drill, number of holes or packing length for a target pressure (Pa), air rate (m³/s of free air)
    or air-to-solution ratio.

    change : one of CHANGES
    alone : linked entries do not follow, see ``linked_entries``; each option lists those that follow

    Only stock sizes of drills and pipes are used. Raises InputError for another entry, or for a ratio where no solution
    flow is known.
    """
    if change not in CHANGES:
        raise InputError(f"“{change}” cannot be searched", remedy=f"One of: {', '.join(CHANGES)}")
    if wanted not in _UNITS or not 0.0 < value < inf:
        raise InputError(f"“{wanted}” = {value:g} is not a valid target", remedy="Give a pressure, air rate or ratio")
    known = knowledge or FoamKnowledge.usual(generator.build)
    if wanted == "air_to_solution" and generator.conditions.solution_flow is None:
        raise InputError(
            "the air-to-solution ratio needs the flow of the solution",
            where="reservoir.flow",
            remedy="Measure it with a jug and a clock and enter it in the sheet",
        )
    sizes = [size for size in _sizes(generator.build, change) if _possible(_with(generator.build, change, size, alone))]
    if not sizes:
        raise InputError(f"no size of {change} fits this build", remedy="Check the sheet")
    reach = _quick(generator, blower, wanted, known)
    met = _survey(sizes, lambda size: reach(_with(generator.build, change, size, alone)), value)
    pushed = {size: figure for size, figure in met.items() if isfinite(figure)}
    if not pushed:
        none = ("the source is too weak for all of these sizes",)
        return SizeSearch(change, value, _UNITS[wanted], (), met=False, range=(0.0, 0.0), words=none)
    choices = []
    for size in _nearest(pushed, value):
        prediction = predict(changed_build(generator, _with(generator.build, change, size, alone)), blower, known)
        if (reached := _result(prediction, wanted)) is not None:
            words = _words(change, size, generator.build) + _unsteady(prediction)
            moved = () if alone else go_along(generator.build, generator.build.with_entry(change, size))[1]
            words += "".join(f"; {one.words}" for one in moved)
            choices.append(SizeOption(size, words, prediction, reached))
    ends = min(pushed.values()), max(pushed.values())
    inside = ends[0] <= value <= ends[1]
    said = []
    within = bool(choices) and choices[0].reached.lower <= value <= choices[0].reached.upper
    if not inside:
        said.append("no stock size reaches the target; nearest:")
    elif choices and not within:
        said.append("the target is between two sizes: use the nearer one and trim with the throttle")
    return SizeSearch(change, value, _UNITS[wanted], tuple(choices), within and inside, ends, tuple(said))


def _survey(sizes: Sequence[float], reach: Callable[[float], float], value: float) -> dict[float, float]:
    """Figures of the sizes: of all sizes if few, else of evenly spread ones and of all near the target.

    A source with a hump gives the same pressure at two sizes, and a higher pressure between them.
    """
    step = max(len(sizes) // SURVEYED, 1)
    places = sorted({*range(0, len(sizes), step), len(sizes) - 1})
    met = {k: reach(sizes[k]) for k in places}
    if step > 1:
        close = [(a, b) for a, b in pairwise(places) if _between(met[a], met[b], value)]
        best = min(places, key=lambda k: _distance(met[k], value))
        top = max(places, key=lambda k: met[k] if isfinite(met[k]) else -inf)
        close += [(max(k - step, 0), min(k + step, len(sizes) - 1)) for k in {best, top}]
        for a, b in close:
            for k in range(a, b + 1):
                if k not in met:
                    met[k] = reach(sizes[k])
    return {sizes[k]: met[k] for k in sorted(met)}


def _nearest(met: dict[float, float], value: float) -> list[float]:
    """Sizes on both sides of each crossing of the target, the nearest first; else the nearest size alone."""
    sizes = sorted(met)
    beside = [size for pair in pairwise(sizes) if _between(met[pair[0]], met[pair[1]], value) for size in pair]
    found = dict.fromkeys([*beside, min(sizes, key=lambda size: _distance(met[size], value))])
    return sorted(found, key=lambda size: _distance(met[size], value))[:CHOICES]


def _between(one: float, other: float, value: float) -> bool:
    return isfinite(one) and isfinite(other) and (one - value) * (other - value) <= 0.0


def _unsteady(prediction: Prediction) -> str:
    steady = isinstance(prediction.point, NoCrossing) or prediction.point.stability == "stable"
    return "" if steady else ", where it may surge"


def _sizes(build: Build, change: str) -> list[float | int]:
    if change == "outlet.bore":
        return sorted({pipe.bore for pipe in PIPES if pipe.bore <= build.body.bore})
    if change == "tube.hole":
        return [drill for drill in DRILLS if drill < build.tube.bore]
    if change == "tube.holes_per_row":
        return list(range(1, int(build.tube.length / build.tube.hole) + 1))
    return [round(0.01 * k, 3) for k in range(1, int(build.body.length / 0.01 + 1e-9) + 1)]


def _with(build: Build, change: str, size: float, alone: bool = False) -> Build:
    """The build with the new size, and the linked entries that follow."""
    new = build.with_entry(change, size)
    return new if alone else go_along(build, new)[0]


def _possible(build: Build) -> bool:
    return not any(item.fatal for item in check_build(build))


def _words(change: str, size: float, build: Build) -> str:
    if change == "outlet.bore":
        pipe = pipe_of_bore(size)
        return f"{pipe.name} (bore {size * 1e3:.1f} mm)" if pipe else f"{size * 1e3:.1f} mm"
    if change == "tube.hole":
        return f"{size * 1e3:g} mm drill"
    if change == "tube.holes_per_row":
        return f"{size:.0f} holes in each of {build.tube.rows} rows, {size * build.tube.rows:.0f} in all"
    return f"{size * 1e3:.0f} mm of packing"


def _distance(reached: float, wanted: float) -> float:
    return abs(log(reached / wanted)) if reached > 0.0 and isfinite(reached) else inf


def _result(prediction: Prediction, wanted: Wanted) -> Estimate | None:
    if isinstance(prediction.point, NoCrossing):
        return None
    if wanted == "pressure":
        return prediction.point.pressure
    return prediction.air_rate if wanted == "air_rate" else prediction.air_to_solution


def _quick(
    generator: PressureModel, blower: BlowerFit, wanted: Wanted, known: FoamKnowledge
) -> Callable[[Build], float]:
    """The target figure of a build without uncertainty, from the intersection of the model with the curve."""
    c = generator.conditions

    def reached(build: Build) -> float:
        q = meeting_flow(changed_build(generator, build), blower)
        if q <= 0.0:
            return nan  # the source cannot drive the build
        if wanted == "pressure":
            return float(blower.pressure(q)[0])
        air = q * STANDARD_DENSITY / c.ambient.density
        return air if wanted == "air_rate" else known.capture * air / (c.solution_flow or inf)

    return reached
