"""Scatter of a figure between repeated runs: of one build, on one air source, in one folder."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot, sqrt

import numpy as np

from frothline.estimate import Z95, Estimate
from frothline.generator.build import PARTS, Build, entries
from frothline.numerics.uncertainty import student_factor
from frothline.trials.common_depth import comparable
from frothline.trials.effect_scatter import fit_runs
from frothline.trials.reading_uncertainty import reading_of
from frothline.trials.trial import Trial

NO_SETTING = ("solution.temperature",)  # the weather: it is measured, and no part of the build


@dataclass(frozen=True)
class RunScatter:
    """Standard deviation of one run about the mean of its repeats, pooled, SI; ``freedom`` is that of the pool: the
    number of repeats beyond the first of each build.
    """

    deviation: float
    freedom: int


def scatter_between(trials: Sequence[Trial], response: str) -> RunScatter | None:
    """Scatter of a figure between the repeats among these trials; None without repeats.

    It is the scatter of the fit behind the effects, with a mean for each build and air source.
    """
    groups: dict[Hashable, list[float]] = {}
    once = tuple({one.sha256 or str(one.path): one for one in trials}.values())  # a copy of a recording is no repeat
    for one, estimate in zip(once, comparable(once, response)[0], strict=True):
        if one.build is not None and estimate is not None and estimate.known:
            groups.setdefault(_run_of(one), []).append(estimate.value)
    squares, freedom = 0.0, 0
    for values in groups.values():
        if len(values) > 1:
            fit = fit_runs(np.ones((len(values), 1)), np.array(values), np.zeros(len(values)), None)
            squares, freedom = squares + fit.scatter**2 * fit.freedom, freedom + fit.freedom
    return RunScatter(sqrt(squares / freedom), freedom) if freedom else None


def _run_of(trial: Trial) -> Hashable:
    """What two repeats have in common."""
    return (trial.air_source, None if trial.build is None else _entries_of(trial.build))


@lru_cache(maxsize=4096)  # each figure of a comparison asks for all builds of the folder
def _entries_of(build: Build) -> tuple[str, ...]:
    return tuple(
        f"{part}.{entry.name}={getattr(getattr(build, part), entry.name)}"
        for part in PARTS
        for entry in entries(part)
        if f"{part}.{entry.name}" not in NO_SETTING
    )


def change_between(
    response: str, before: tuple[Trial, Estimate], after: tuple[Trial, Estimate], scatter: RunScatter | None
) -> Estimate:
    """The change of a figure from one run to another, SI, with the scatter of both runs where it is known.

    The scatter has the errors of the readings in it, which are therefore not added; the interval is at least as wide as
    they allow. The rest of the uncertainties (volume, calibration) counts as independent.
    """
    pairs = (before, after)
    value = after[1].value - before[1].value
    whole = hypot(*(e.standard_uncertainty for _, e in pairs))
    if scatter is None:
        return Estimate.normal(value, whole, after[1].unit)
    of_readings = hypot(*(reading_of(trial, response, e) for trial, e in pairs))
    rest = sqrt(max(whole**2 - of_readings**2, 0.0))
    of_runs = sqrt(2.0) * scatter.deviation
    runs = max(float(student_factor(scatter.freedom)) * of_runs, Z95 * of_readings)
    half = hypot(Z95 * rest, runs)
    return Estimate(value, hypot(rest, max(of_runs, of_readings)), value - half, value + half, after[1].unit)
