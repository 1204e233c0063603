"""Figures of foam, drainage, solution and water of one trial, from its samples and its run."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from frothline.estimate import Estimate
from frothline.foam.properties import Observation
from frothline.foam.sample import FoamSample, combine
from frothline.generator.build import Build
from frothline.quantities import read_temperature
from frothline.rounding import counted
from frothline.trials.measurements import Measured

U_WATER = 0.5  # K: a kitchen thermometer; common practice, no source


APART = 3.0  # standard uncertainties between two determinations of a figure above which a note is given


def drawn_of(measured: Measured) -> list[Observation]:
    """Solution over air by the scale, as an observation; None if one of them was not measured."""
    used, air = measured.solution_use, measured.air_rate
    if used is None or air is None or used.value <= 0.0 or air.value <= 0.0:
        return []
    u = math.hypot(used.standard_uncertainty / used.value, air.standard_uncertainty / air.value)
    return [Observation((1.0, -1.0), math.log(used.value / air.value), max(u, 0.01))]


def foam_of(
    samples: list[FoamSample], words: list[str], why: dict[str, str], *, withdrawn: int = 0
) -> dict[str, Estimate | None]:
    """Figures of the foam over all samples with these figures. ``withdrawn`` : number of samples that do not count."""
    figures: dict[str, Estimate | None] = {}
    pick: dict[str, Callable[[FoamSample], Estimate | None]] = {
        "density": lambda s: s.density,
        "expansion": lambda s: s.expansion,
        "output": lambda s: s.output,
        "drainage": lambda s: s.drainage,
        "capture": lambda s: s.capture,
    }
    missing = {
        "density": "no sample was weighed",
        "expansion": "no sample was weighed",
        "output": "no sample was timed while it filled",
        "drainage": "no sample has drainage readings",
        "capture": "requires a timed sample and a measured air rate",
    }
    for name, of in pick.items():
        given = [estimate for sample in samples if (estimate := of(sample)) is not None]
        alike = [sample.shared.get(name, {}) for sample in samples if of(sample) is not None]
        known = [estimate for estimate in given if estimate.known]
        if not known:
            figures[name] = None
            said = f"{missing[name]} ({counted(withdrawn, 'sample')} withdrawn)" if withdrawn else missing[name]
            why[name] = given[0].assumptions[0] if given and given[0].assumptions else said
        elif len(known) == 1:
            figures[name] = known[0]
        else:
            repeats = combine(given, alike)
            figures[name] = repeats.mean
            if name == "density":
                words.append(f"density: {repeats.words}")
    words += [remark for sample in samples for remark in sample.remarks]
    return figures


def drained_of(samples: list[FoamSample], words: list[str]) -> tuple[Estimate | None, FoamSample | None]:
    """The drainage time over all samples of one depth, and one of them; with different depths that of the first."""
    known = [one for one in samples if one.drainage is not None and one.drainage.known]
    if not known:
        return None, None
    alike = [one for one in known if one.depth == known[0].depth and one.container == known[0].container]
    if len(alike) < len(known):
        words.append("the samples have different depths of foam: the drainage time is that of the first depth")
    times = [one.drainage for one in alike if one.drainage is not None]
    if len(times) == 1:
        return times[0], known[0]
    return combine(times, [one.shared.get("drainage", {}) for one in alike]).mean, known[0]


def solution_of(
    measured: Measured, samples: list[FoamSample], words: list[str], why: dict[str, str]
) -> Estimate | None:
    """Solution use by the scale, else by the samples; a contradiction gives a note."""
    held = [sample.solution_rate for sample in samples if sample.solution_rate is not None]
    if measured.solution_use is None:
        if not held:
            left_out = why.get("solution_use", "no scale under the reservoir")
            why["solution_use"] = f"{left_out}, and no sample was timed"
            return None
        why.pop("solution_use", None)
        return held[0]
    if held:
        apart = measured.solution_use.value - held[0].value
        u = math.hypot(measured.solution_use.standard_uncertainty, held[0].standard_uncertainty)
        if abs(apart) > APART * u:
            more = "more" if apart > 0 else "less"
            words.append(
                f"the reservoir lost {100 * abs(apart) / held[0].value:.0f} % {more} solution than the sample held: "
                "solution that did not become foam, a scale that is off, or a sample not struck off level"
            )
    return measured.solution_use


def water_of(
    metadata: Mapping[str, Any], build: Build | None, problems: list[str], why: dict[str, str]
) -> Estimate | None:
    raw = metadata.get("water_temperature")
    if raw is not None:
        try:
            return Estimate.normal(read_temperature(raw), U_WATER, "K")
        except ValueError as error:
            problems.append(str(error))
    if build is not None:
        said = ("from the build sheet, not measured on the day",)
        return Estimate.normal(build.solution.temperature, 2.0, "K", assumptions=said)
    why["water_temperature"] = "not recorded"
    return None
