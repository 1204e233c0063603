"""The scatter between repeated runs in the comparison of two trials."""

import math
from dataclasses import replace

import pytest
from builds import FIRST
from scipy import stats
from test_trial_effects import trial, weighed

from frothline.trials.compare import compare
from frothline.trials.effect_statistics import effects
from frothline.trials.run_scatter import change_between, scatter_between

LONG = FIRST.with_entry("packing.length", 0.30)


def density_of(found):
    return next(one for one in found.figures if one.figure.name == "density")


def test_the_scatter_is_that_of_the_effects_and_of_the_hand():
    """Groups 80, 82, 84 (squares 8) and 70, 73 (4.5), and one run alone: 12.5 with three degrees of freedom."""
    values = {FIRST: (80.0, 82.0, 84.0), LONG: (70.0, 73.0), FIRST.with_entry("tube.rows", 8): (60.0,)}
    runs = [trial(10 * k + j, y, build) for k, (build, row) in enumerate(values.items()) for j, y in enumerate(row)]
    found = scatter_between(runs, "density")
    assert (found.deviation, found.freedom) == pytest.approx((math.sqrt(12.5 / 3), 3))
    rows = [{"build": f"build {one.name[:-1]}"} for one in runs]
    by_effects = effects(rows, [one.density.value for one in runs], name="density", unit="")
    assert found.deviation == pytest.approx(by_effects.residual_standard_deviation)


def test_weather_is_no_other_build_and_another_source_is_no_repeat():
    warm = replace(FIRST, solution=replace(FIRST.solution, temperature=300.0))
    assert scatter_between([trial(1, 80.0), trial(2, 82.0, warm)], "density").freedom == 1
    assert scatter_between([trial(1, 80.0), trial(2, 82.0, source="blower")], "density") is None
    assert scatter_between([trial(1, 80.0), trial(2, 82.0, None), trial(3, None)], "density") is None
    assert scatter_between([], "density") is None


def test_a_copy_of_a_recording_is_no_repeat():
    first = replace(trial(1, 80.0), sha256="a")
    assert scatter_between([first, replace(first, name="copy")], "density") is None
    assert scatter_between([first, replace(first, name="other", sha256="b")], "density") is not None


def test_two_runs_of_one_build_are_not_called_higher_by_their_own_scatter():
    """Their only repeat is each other: Student's factor of one degree of freedom is 12.7."""
    low, high = trial(1, 74.0, u=0.5), trial(2, 80.0, u=0.5)
    found = density_of(compare(low, high))
    assert found.words == "not clear"
    assert found.repeats == 1
    rest = 1.96 * math.hypot(0.5, 0.5)
    assert found.change.upper - 6.0 == pytest.approx(math.hypot(rest, stats.t.ppf(0.975, 1) * 6.0), rel=1e-4)


def test_one_run_of_each_build_is_not_called_higher_and_says_why():
    found = compare(trial(1, 74.0, u=0.5), trial(2, 84.0, LONG, u=0.5))
    assert density_of(found).words == "scatter between runs not included"
    assert found.scatter_words == ("one run each: scatter between runs not included; repeat a build to know it",)
    alike = density_of(compare(trial(1, 74.0, u=5.0), trial(2, 75.0, LONG, u=5.0)))
    assert alike.words == "not clear"


def test_repeats_in_the_folder_give_the_scatter():
    """Five runs of a third build scatter by 1: t of four degrees of freedom times sqrt(2), and the readings' rest."""
    third = FIRST.with_entry("tube.rows", 8)
    repeats = [trial(10 + k, y, third) for k, y in enumerate((59.0, 61.0, 59.0, 61.0, 60.0))]
    before, after = trial(1, 74.0, u=0.5), trial(2, 84.0, LONG, u=0.5)
    found = compare(before, after, (before, after, *repeats))
    one = density_of(found)
    assert (one.words, one.repeats) == ("higher", 4)
    half = math.hypot(1.96 * math.hypot(0.5, 0.5), stats.t.ppf(0.975, 4) * math.sqrt(2.0))
    assert one.change.upper - one.change.value == pytest.approx(half, rel=1e-4)
    assert found.scatter_words == ("intervals include the scatter between runs, from 4 repeated runs",)
    assert density_of(compare(before, after, [before, after])).words == "scatter between runs not included"


def test_repeats_that_read_alike_by_chance_do_not_make_the_interval_narrower_than_the_readings():
    """A scale of 5 g: the change of one step is within the two readings, 1.96 x 2.04 x sqrt(2), and the volumes."""
    runs = [weighed(k, 330.0) for k in range(3)] + [replace(weighed(9, 325.0), build=LONG)]
    one = density_of(compare(runs[0], runs[3], runs))
    assert one.words == "not clear"
    assert one.change.upper - one.change.value >= 1.96 * 2.041 * math.sqrt(2)
    plain = change_between("density", (runs[0], runs[0].density), (runs[3], runs[3].density), None)
    assert one.change.upper == pytest.approx(plain.upper)
