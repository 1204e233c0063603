"""Numerical functions refuse what cannot be computed with, with an error that names the place."""

import math

import numpy as np
import pytest

from frothline.curve.blower import BlowerCurve
from frothline.curve.resistance_fit import fit_resistance
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError, InputError, TooFewPoints
from frothline.physics.foam import drainage_time
from frothline.sensors.sweep_plausibility import compare_flows
from frothline.trials.effect_statistics import effects
from frothline.trials.two_groups import welch
from frothline.trials.which_helped import two_builds, which_helped

SETTINGS = [{"length": 0.2}, {"length": 0.4}, {"length": 0.2}, {"length": 0.4}]


def of(settings=SETTINGS, response=(70.0, 60.0, 71.0, 61.0), **more):
    return effects(settings, response, name="density", unit="kg/m3", **more)


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        ({"response": (70.0, 60.0, 71.0)}, "4 of settings, 3 of response"),
        ({"u_response": (1.0, 1.0)}, "2 of u_response"),
        ({"blocks": ("A",)}, "1 of blocks"),
        ({"covariates": {"day": (1.0, 2.0, 3.0)}}, "3 of day"),
        ({"response": (70.0, 60.0, math.inf, 61.0)}, "trial 3"),
        ({"u_response": (1.0, 1.0, -1.0, 1.0)}, "trial 3: an uncertainty of -1"),
        ({"u_response": (1.0, 1.0, math.nan, 1.0)}, "trial 3"),
        ({"settings": [*SETTINGS[:3], {"length": math.nan}]}, "trial 4: length"),
    ],
)
def test_effects_refuse_arguments_that_do_not_go_together(arguments, match):
    with pytest.raises(InputError, match=match):
        of(**arguments)


def test_a_trial_without_the_figure_is_left_out_with_its_uncertainty():
    found = of(response=(70.0, 60.0, math.nan, 61.0), u_response=(1.0, 1.0, math.nan, 1.0))
    assert found.trials == 3
    assert found.effects[0].estimate.value == pytest.approx(-9.5)


@pytest.mark.parametrize(
    ("groups", "match"),
    [
        ((math.nan, 1.0, 3, 2.0, 1.0, 3), "first group"),
        ((1.0, 1.0, 3, 2.0, -1.0, 3), "second group"),
        ((1.0, math.inf, 3, 2.0, 1.0, 3), "first group"),
        ((1.0, 1.0, 2.5, 2.0, 1.0, 3), "2.5 runs"),
        ((1.0, 0.0, 3, 2.0, 0.0, 3), "neither group has scatter"),
        ((1.0, 1.0, 1, 2.0, 1.0, 3), "single run"),
    ],
)
def test_a_comparison_of_two_groups_refuses_what_is_no_group(groups, match):
    with pytest.raises(FrothlineError, match=match):
        welch(*groups)


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        (((60.0, 120.0), (1e-6,), 1e-4), "1 drained volumes do not match 2 times"),
        (((60.0, math.nan), (1e-6, 2e-6), 1e-4), "times"),
        (((60.0, 120.0), (1e-6, math.nan), 1e-4), "drained volume"),
        (((60.0, 120.0), (-1e-6, 2e-6), 1e-4), "0 or more"),
        (((60.0, 60.0), (1e-6, 2e-6), 1e-4), "given twice"),
        (((120.0, 60.0), (1e-6, 2e-6), 1e-4), "must rise"),
        (((60.0, 120.0), (1e-6, 2e-6), math.nan), "solution volume"),
        (((60.0, 120.0), (1e-6, 2e-6), 1e-4, 1.5), "share of 1.5"),
        (((60.0, 120.0), (1e-6, 2e-6), 1e-4, 0.25, -1e-6), "uncertainty"),
        (((60.0, 120.0), (1e-6, 2e-6), 1e-4, 0.25, 1e-6, math.nan), "uncertainty"),
    ],
)
def test_a_drainage_reading_that_cannot_be_is_named(arguments, match):
    with pytest.raises(InputError, match=match):
        drainage_time(*arguments)


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        ((np.ones(4), np.ones(5), 0.02), "4 flows"),
        ((np.ones(4), np.ones(4), -0.02), "-0.02"),
        ((np.ones(4),) * 2, None),
    ],
)
def test_two_flows_are_compared_only_where_they_belong_together(arguments, match):
    if match is None:
        arguments = (*arguments, math.nan)
    with pytest.raises(InputError, match=match or "nan"):
        compare_flows(*arguments, "the plates")


def through(n=8, **more):
    flows = np.linspace(2e-3, 2e-2, n)
    return [
        SteadyPoint(10.0 * k, 10.0 * k + 6, 2e5 * q + 4e6 * q**2, 5.0, q, 2e-5, **more) for k, q in enumerate(flows)
    ]


def of_source(n=10):
    flows = np.linspace(2e-3, 4.5e-2, n)
    return [
        SteadyPoint(10.0 * k, 10.0 * k + 6, 2e4 * (1 - (q / 0.05) ** 2), 15.0, q, 4e-5) for k, q in enumerate(flows)
    ]


@pytest.mark.parametrize("kind", ["source", "generator"])
def test_a_point_that_was_entered_twice_counts_once_and_is_named(kind):
    points, fit = (of_source(), BlowerCurve().fit) if kind == "source" else (through(), fit_resistance)
    once, twice = fit(points), fit([*points, points[3], points[3]])
    assert len(twice.points) == len(points)
    assert [one.reason for one in twice.refused] == ["duplicate of another point"] * 2
    line = (lambda found: found.shut_off) if kind == "source" else (lambda found: found.line.a)
    assert line(twice) == line(once)


def test_equal_readings_at_another_time_are_two_points():
    points = through()
    again = SteadyPoint(500.0, 506.0, points[3].pressure, 5.0, points[3].flow, 2e-5)
    assert len(fit_resistance([*points, again]).points) == len(points) + 1


def test_a_point_with_a_negative_uncertainty_is_refused_by_name():
    points = through()
    bad = SteadyPoint(500.0, 506.0, 1500.0, -5.0, 5e-3, 2e-5)
    found = fit_resistance([*points, bad])
    assert len(found.points) == len(points)
    assert found.refused[0].reason == "its uncertainty is below zero"


def test_a_trial_that_is_named_twice_is_no_repeat(season_trials):
    once, twice = (which_helped((*season_trials, *more), "density") for more in ((), season_trials[:1]))
    assert twice.report.effects == once.report.effects
    assert f"“{season_trials[0].name}” is given twice and counts once" in twice.words
    one = season_trials[0]
    other = next(two for two in season_trials if two.build_name != one.build_name)
    with pytest.raises(TooFewPoints):  # one run of each
        two_builds((one, one, other, other), one.build_name, other.build_name, "density")


@pytest.fixture(scope="module")
def season_trials():
    from pathlib import Path

    from frothline.trials.notebook import Notebook

    return Notebook(Path(__file__).parents[2] / "recordings" / "season").trials
