"""What a season of runs teaches for the next generator: its pressure, and the foam of its agent."""

from dataclasses import replace
from math import log

import numpy as np
import pytest

from frothline.estimate import Estimate
from frothline.foam.prior import DRAWN
from frothline.foam.sample import Weighing, evaluate
from frothline.generator.foam_prior import caught_prior
from frothline.generator.pressure_model import from_sheet
from frothline.trials.foam_history import foam_of_build
from frothline.trials.notebook import Notebook, season
from frothline.trials.own_generators import TrialExperience, foam_prior_of, own_generators


@pytest.fixture(scope="module")
def trials():
    return Notebook(season()).trials


def sample(density, output=1.0e-3):
    """A bucket of 10 L of foam, weighed and timed."""
    return evaluate(Weighing(0.010, 0.5, 0.5 + density * 0.010, fill_time=0.010 / output), None)


def test_each_build_of_a_season_is_predicted_closer_by_the_runs_of_the_others(trials):
    builds = own_generators(trials)
    alone, learned = [], []
    for one in builds.measured:
        others = builds.without(one.build)
        assert len(others.measured) == len(builds.measured) - 1
        for found, experience in ((alone, None), (learned, others)):
            model = from_sheet(one.build, one.conditions, experience)
            found.append(log(model.pressure(one.wet[0].flow) / one.wet[0].pressure))
    assert np.median(np.abs(alone)) > 0.25
    assert np.median(np.abs(learned)) < 0.6 * np.median(np.abs(alone))


def test_runs_of_one_build_are_one_measured_build_with_their_figures_as_points(trials):
    found = {one.build.name: one for one in own_generators(trials).measured}
    first = [one for one in trials if one.build.name == "long packing"]
    points = found["long packing"].wet
    assert len(points) == len(first) == 2
    assert [point.pressure for point in points] == [one.line_pressure.value for one in first]
    assert points[0].u_flow == pytest.approx(first[0].standard_flow.standard_uncertainty)
    assert {part.name for part in points[0].common} == {part.name for part in points[1].common}


def test_the_room_of_the_runs_is_that_of_their_density(trials):
    """A workshop at 1,500 m has 84.6 kPa (ISO 2533): its runs must not be read as if at sea level."""
    share = 84.6 / 101.325
    high = [
        replace(one, air_rate=one.air_rate.scaled(1 / share)) if one.air_rate is not None else one for one in trials
    ]
    low, up = (own_generators(some).measured[0].conditions.ambient.pressure for some in (trials, high))
    assert up == pytest.approx(share * low, rel=1e-6)


def test_simulated_runs_teach_nothing_where_there_are_real_ones(trials):
    real = replace(trials[-1], simulated=False)
    assert len(own_generators([*trials[:-1], real]).measured) == 1
    assert len(own_generators(trials).measured) > 1


def test_the_same_pipe_with_another_agent_is_another_measured_build(trials):
    soap = replace(trials[0], build=trials[0].build.with_entry("solution.agent", "another soap"))
    found = own_generators([trials[0], soap]).measured
    assert [one.build.solution.agent for one in found] == [trials[0].build.solution.agent, "another soap"]


def test_a_run_without_flow_or_sheet_is_left_out(trials):
    broken = [replace(trials[0], standard_flow=None), replace(trials[1], build=None)]
    assert own_generators(broken).measured == ()
    assert TrialExperience(broken).factors_for(trials[0].build, {}) is None


def with_sample(trial, *samples, agent=None, **changed):
    build = trial.build.with_entry("solution.agent", agent) if agent else trial.build
    for path, value in changed.items():
        build = build.with_entry(path.replace("__", "."), value)
    return replace(trial, build=build, samples=samples, simulated=False)


def test_without_another_build_of_the_agent_the_foam_is_the_usual_one(trials):
    build = trials[0].build
    assert foam_prior_of(build, []) is caught_prior(build)
    own, other = with_sample(trials[0], sample(80.0)), with_sample(trials[0], sample(80.0), agent="another soap")
    assert foam_prior_of(build, [own, other]) == DRAWN


def test_one_other_build_moves_the_foam_by_three_quarters_and_leaves_the_rest_open(trials):
    build = trials[0].build
    other = with_sample(trials[0], sample(60.0), packing__length=0.41)
    prior = foam_prior_of(build, [other])
    measured = foam_of_build(other.build, other.samples)
    usual = caught_prior(build)
    moved = log(prior.ratio / usual.ratio) / log((measured.expansion - 1.0) / usual.ratio)
    assert moved == pytest.approx(0.75, abs=0.03)  # the sample is known to some per cent, the prior to a factor of two
    assert prior.u_ratio == pytest.approx(usual.u_ratio * (1 - 0.75**2) ** 0.5, rel=0.05)
    assert prior.builds == 1
    assert "learned from 1 other build with this agent" in prior.ratio_words


def test_more_builds_of_the_agent_narrow_the_foam_of_the_next(trials):
    build = trials[0].build
    others = [
        with_sample(trials[0], sample(density), packing__length=length)
        for density, length in ((62.0, 0.41), (66.0, 0.43), (64.0, 0.45), (63.0, 0.47), (65.0, 0.49))
    ]
    us = [foam_prior_of(build, others[:count]).u_ratio for count in range(6)]
    assert us == sorted(us, reverse=True)
    assert us[5] < 0.6 * us[1]
    assert foam_prior_of(build, others).ratio == pytest.approx(998.0 / 64.0 - 1.0, rel=0.12)


def test_a_share_of_the_air_that_comes_out_above_one_is_cut_at_one(trials):
    build = trials[0].build
    other = replace(
        with_sample(trials[0], packing__length=0.41),
        samples=(replace(sample(80.0), capture=Estimate.positive(1.3, 0.05, "1")),),
    )
    prior = foam_prior_of(build, [other])
    assert prior.low < prior.high <= 1.0
