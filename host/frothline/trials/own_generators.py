"""What the workshop's own generators teach for the next one: its pressure drops, and the foam of its agent.

Sweeps through a generator are points of its build, and where there is no wet sweep, the pressure and the flow of each
run are one; builds with the same air path and agent are one generator. Simulated recordings teach nothing where there
are real ones.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from math import exp, isfinite, log
from pathlib import Path

import numpy as np

from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import OutsideValidity
from frothline.estimate import Z95, Estimate
from frothline.foam.agent import AgentBook
from frothline.foam.prior import FoamPrior
from frothline.foam.sample import FoamSample
from frothline.generator.build import Build
from frothline.generator.build_comparison import has_same_air_path, makes_same_foam
from frothline.generator.experience import OWN, MeasuredBuild, MeasuredBuilds
from frothline.generator.foam_prior import caught_prior
from frothline.generator.learned_factors import LearnedFactors, same_agent
from frothline.generator.operating_conditions import OperatingConditions
from frothline.numerics.arrays import Floats
from frothline.numerics.hierarchical import UnitLikelihood, next_unit
from frothline.physics.air import STANDARD_DENSITY, AirState
from frothline.run.foam_balance import FoamBalance
from frothline.trials.foam_history import foam_of_build
from frothline.trials.passed_on_builds import UNNAMED, passed_on_builds
from frothline.trials.swept_builds import SweptBuild
from frothline.trials.trial import Trial

MOST = 40  # builds of a workshop that are read, the newest first: the time of a prediction stays below some seconds


class TrialExperience:
    """Measured builds that a workshop knows: of its trials and sweeps, and of the files of other builders in its
    folder. They are evaluated on first use.
    """

    def __init__(
        self,
        trials: Iterable[Trial],
        sweeps: Callable[[], Sequence[SweptBuild]] = tuple,
        folder: Path | None = None,
        but: Build | None = None,
        agents: AgentBook | None = None,
    ) -> None:
        """``sweeps`` : reads the sweeps through generators, which may take seconds

        ``folder`` : of the recordings, with the files of other builders; None for none
        ``but`` : a build that is left out, because its own sweeps are used
        ``agents`` : with their measured surface tensions
        """
        self._trials = tuple(trials)
        self._sweeps = sweeps
        self._folder = folder
        self._but = but
        self._agents = agents

    def factors_for(self, build: Build, uncertainties: Mapping[str, float]) -> LearnedFactors | None:
        """As ``MeasuredBuilds.factors_for``."""
        return self.generators.factors_for(build, uncertainties)

    def notes_for(self, build: Build) -> tuple[str, ...]:
        """As ``MeasuredBuilds.notes_for``."""
        return self.generators.notes_for(build)

    def without(self, build: Build) -> TrialExperience:
        """The same without builds with the air path of this one."""
        other = TrialExperience(self._trials, self._sweeps, self._folder, build, self._agents)
        other.__dict__["_all"] = self._all  # as cached_property keeps it
        return other

    @cached_property
    def generators(self) -> MeasuredBuilds:
        """The measured builds."""
        return self._all if self._but is None else self._all.without(self._but)

    @cached_property
    def _all(self) -> MeasuredBuilds:
        own = own_generators(self._trials, self._sweeps(), self._agents)
        return own if self._folder is None else with_passed_on(own, self._folder, self._agents)


def with_passed_on(own: MeasuredBuilds, folder: Path, agents: AgentBook | None = None) -> MeasuredBuilds:
    """A workshop's measured builds and those of the files in its folder. A file of one of its builds counts once."""
    files, notes = passed_on_builds(folder, _is_one_generator)
    more = []
    for one in files:
        mine = one.builder in (OWN, UNNAMED)
        if mine and any(_is_one_generator(one.build, known.build) for known in own.measured):
            continue
        swept = [SweptBuild(one.build, wet, points, False) for wet, points in ((True, one.wet), (False, one.dry))]
        more.append(replace(_measured(one.build, [], swept, agents), builder=one.builder))
    return MeasuredBuilds((*own.measured, *more), (*own.notes, *notes))


def own_generators(
    trials: Iterable[Trial], sweeps: Iterable[SweptBuild] = (), agents: AgentBook | None = None
) -> MeasuredBuilds:
    """The builds of all sweeps, and of all runs with a known pressure and flow, with their points; the newest MOST."""
    usable, swept = _usable(trials), list(sweeps)
    if not all(one.simulated for one in usable) or not all(one.simulated for one in swept):
        usable = [one for one in usable if not one.simulated]
        swept = [one for one in swept if not one.simulated]
    found = [
        _measured(build, runs, _sweeps_of(build, swept), agents) for build, runs in _alike(usable, _is_one_generator)
    ]
    for one in swept:
        if not any(_is_one_generator(one.build, known.build) for known in found):
            found.append(_measured(one.build, [], _sweeps_of(one.build, swept), agents))
    return MeasuredBuilds(tuple(found[-MOST:]))


def _sweeps_of(build: Build, swept: Iterable[SweptBuild]) -> list[SweptBuild]:
    return [one for one in swept if _is_one_generator(one.build, build)]


def _is_one_generator(one: Build, other: Build) -> bool:
    return has_same_air_path(one, other) and same_agent(one.solution.agent, other.solution.agent)


def _alike(trials: Iterable[Trial], same: Callable[[Build, Build], bool]) -> list[tuple[Build, list[Trial]]]:
    """Trials by build, in the order of the first of each; builds that are the ``same`` belong together."""
    exact: dict[Build, list[Trial]] = {}
    for trial in trials:
        if trial.build is not None:
            exact.setdefault(trial.build, []).append(trial)
    groups: list[tuple[Build, list[Trial]]] = []
    for build, runs in exact.items():
        known = next((known for found, known in groups if same(found, build)), None)
        if known is None:
            groups.append((build, runs))
        else:
            known.extend(runs)
    return groups


def _usable(trials: Iterable[Trial]) -> list[Trial]:
    """Trials with a build, a line pressure and a flow."""
    return [
        one for one in trials if one.build is not None and _is_known(one.line_pressure) and _is_known(one.standard_flow)
    ]


def _is_known(figure: Estimate | None) -> bool:
    return figure is not None and figure.known and figure.value > 0.0


def _measured(
    build: Build, runs: Sequence[Trial], swept: Sequence[SweptBuild], agents: AgentBook | None = None
) -> MeasuredBuild:
    wet = tuple(point for one in swept if one.wet for point in one.points)
    dry = tuple(point for one in swept if not one.wet for point in one.points)
    knowledge = foam_of_build(build, [sample for run in runs for sample in run.samples])
    conditions = replace(
        OperatingConditions.of(build),
        ambient=_room(runs, (*wet, *dry)),
        expansion=knowledge.expansion,
        capture=knowledge.capture,
    ).with_tension(None if agents is None else agents.tension_of(build.solution.agent))
    return MeasuredBuild(build, conditions, wet or tuple(_point(run) for run in runs), dry)


def _room(runs: Sequence[Trial], points: Sequence[SteadyPoint]) -> AirState:
    """Air of the room, its pressure by the mean density at which points or runs were measured."""
    usual = OperatingConditions.usual().ambient
    densities = [point.ambient_density for point in points if isfinite(point.ambient_density)] or [
        STANDARD_DENSITY * run.standard_flow.value / run.air_rate.value
        for run in runs
        if run.standard_flow is not None and run.air_rate is not None and _is_known(run.air_rate)
    ]
    if not densities:
        return usual
    try:
        pressure = usual.pressure * float(np.mean(densities)) / usual.density
        return AirState.free_air(usual.temperature, pressure, 0.5)
    except OutsideValidity:  # its figures contradict each other
        return usual


def _point(run: Trial) -> SteadyPoint:
    """The run as one steady point. Its errors are mostly those of the sensors, and all runs have them in common."""
    pressure, flow = run.line_pressure, run.standard_flow
    assert pressure is not None
    assert flow is not None
    common = (
        CommonError("pressure of the runs", on_pressure=pressure.standard_uncertainty),
        CommonError("flow of the runs", on_flow=flow.standard_uncertainty),
    )
    return SteadyPoint.from_parts(pressure.value, flow.value, common=common)


def foam_prior_of(build: Build, trials: Iterable[Trial]) -> FoamPrior:
    """The prior of a build's foam: by the samples of other builds with the same agent and feed, else the usual one."""
    usual = caught_prior(build)
    every = [one for one in trials if one.samples]
    sampled = [one for one in every if not one.simulated] or every
    others = [
        [sample for run in runs for sample in run.samples]
        for one, runs in _alike(sampled, makes_same_foam)
        if same_agent(one.solution.agent, build.solution.agent)
        and caught_prior(one) == usual
        and not makes_same_foam(one, build)
    ]
    if not others:
        return usual
    size = np.array([usual.u_log, usual.u_ratio])
    middle = np.array([log(usual.value), log(usual.ratio)])
    mean, covariance = next_unit([_foam_likelihood(build, samples, middle, size) for samples in others[-MOST:]], 2)
    logs, u = middle + size * mean, size * np.sqrt(np.diag(covariance))
    low, high = (exp(float(logs[0] + sign * Z95 * u[0])) for sign in (-1.0, 1.0))
    return FoamPrior(min(low, 0.99), min(high, 1.0), exp(float(logs[1])), float(u[1]), len(others))


def _foam_likelihood(build: Build, samples: Iterable[FoamSample], middle: Floats, size: Floats) -> UnitLikelihood:
    """What samples say about the logarithms of captured share and ratio, in uncertainties of the build's prior."""
    balance = FoamBalance(build)
    for sample in samples:
        balance.add_sample(sample, None)
    known = balance.knowledge
    whole = np.linalg.inv(known.covariance / np.outer(size, size))
    values, vectors = np.linalg.eigh(whole - np.eye(2))
    precision = (vectors * np.maximum(values, 0.0)) @ vectors.T
    return UnitLikelihood(precision, whole @ ((known.mean - middle) / size))
