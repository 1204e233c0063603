"""Which change helped, read off build sheets: a published factorial, what cannot be told apart, and two builds."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from builds import FIRST
from scipy import stats

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.foam.dilution import Dilution
from frothline.foam.sample import Weighing, combine, evaluate
from frothline.trials.reading_uncertainty import reading_of
from frothline.trials.trial import Trial
from frothline.trials.which_helped import two_builds, which_helped

DAY = datetime(2025, 4, 1, 9, tzinfo=UTC)
EMPTY = dict.fromkeys(
    ("used", "line_pressure", "air_rate", "standard_flow", "expansion", "output", "drainage", "solution_use", "capture")
)


def trial(number, density, build=FIRST, *, source="motor", batch="", days=None, u=1.0):
    """A trial with nothing known of it but its density."""
    return Trial(
        name=f"t{number}",
        title=f"trial {number}",
        path=f"t{number}.froth",
        started=DAY + timedelta(days=number if days is None else days),
        sha256="",
        identity="",
        software="",
        firmware="",
        air_source=source,
        solution_batch=batch,
        build=build,
        build_name=build.name if build else "",
        build_file=None,
        samples=(),
        density=None if density is None else Estimate.normal(density, u, "kg/m3"),
        water_temperature=None,
        why={},
        **EMPTY,
    )


# Box, Hunter and Hunter, Statistics for Experimenters, pilot plant: temperature, concentration, catalyst; yields in
# standard order. Published main effects 23, -5 and 1.5 (interactions 1.5, 10, 0 and 0.5).
YIELDS = (60, 72, 54, 68, 52, 83, 45, 80)


def pilot_plant():
    """The 2^3 of the book, its factors as rows of holes, packing length and air source."""
    # in an order that no factor follows exactly
    order = (3, 6, 0, 5, 2, 7, 1, 4)
    made = []
    for day, k in enumerate(order):
        build = FIRST.with_entry("tube.rows", 8 if k & 1 else 6).with_entry("tube.under_liquid", 48 if k & 1 else 36)
        build = build.with_entry("packing.length", 0.30 if k & 2 else 0.15)
        build = build.with_entry("packing.mass", 0.160 if k & 2 else 0.080)
        made.append(trial(k, float(YIELDS[k]), build, source="motor" if k & 4 else "blower", days=day))
    return made


def test_the_pilot_plant_of_the_book_through_build_sheets():
    found = which_helped(pilot_plant(), "density")
    effect = {one.factor: one.estimate.value for one in found.report.effects}
    assert effect == pytest.approx({"tube rows": 23.0, "packing length (mm)": -5.0, "air source": 1.5}, abs=1e-9)


def test_what_only_went_along_is_no_factor_of_its_own_and_is_said():
    found = which_helped(pilot_plant(), "density")
    assert [one.path for one in found.factors] == ["tube.rows", "packing.length", ""]
    assert any("packing mass always changed together with packing length" in one for one in found.words)
    assert any("tube under liquid always changed together with the number of holes" in one for one in found.words)


def test_wool_of_another_mass_in_the_same_length_is_a_factor():
    heavier = FIRST.with_entry("packing.mass", 0.120)
    found = which_helped([trial(1, 80.0), trial(2, 76.0, heavier)], "density")
    (effect,) = found.report.effects
    assert effect.factor == "packing mass (g)"
    assert (effect.low, effect.high) == (80.0, 120.0)


def test_what_changed_together_is_said_first_with_the_run_that_would_tell():
    both = FIRST.with_entry("tube.rows", 8).with_entry("outlet.bore", 0.026)
    found = which_helped([trial(1, 80.0), trial(2, 70.0, both)], "density")
    assert found.words[0] == (
        "Tube rows and outlet bore (mm) changed together in every pair: these trials cannot separate them"
    )
    assert not found.report.effects
    (run,) = found.runs
    assert run.startswith("as the last trial, but tube rows 6")


def test_one_run_each_is_called_one_run_each():
    found = which_helped([trial(1, 80.0), trial(2, 76.0, FIRST.with_entry("outlet.bore", 0.026))], "density")
    assert any(one.startswith("one run each") for one in found.words)


def test_batches_are_taken_out_as_blocks_while_the_solution_is_the_same():
    narrow = FIRST.with_entry("outlet.bore", 0.026)
    # batch B makes foam 10 kg/m3 heavier, the narrow outlet 5: unbalanced, so that plain means would mix them up
    runs = [
        trial(1, 80.0, batch="A"),
        trial(2, 85.0, narrow, batch="A"),
        trial(3, 90.0, batch="B"),
        trial(4, 95.0, narrow, batch="B"),
        trial(5, 95.0, narrow, batch="B", days=2.5),
    ]
    (effect,) = which_helped(runs, "density").report.effects
    assert effect.estimate.value == pytest.approx(-5.0)  # from the narrow to the wide one


def test_a_changed_dilution_leaves_the_batches_in_the_scatter_and_says_so():
    strong = replace(FIRST, solution=replace(FIRST.solution, dilution=Dilution(20, "1+N")))
    runs = [
        trial(1, 80.0, batch="A"),
        trial(2, 81.0, batch="B"),
        trial(3, 75.0, strong, batch="C"),
        trial(4, 74.0, strong, batch="D"),
    ]
    found = which_helped(runs, "density")
    (effect,) = found.report.effects
    assert effect.factor == "solution dilution (% agent)"
    assert effect.estimate.value == pytest.approx(-6.0)
    assert any("the solution was changed between batches" in one for one in found.words)


def test_a_drift_with_the_days_is_named():
    narrow = FIRST.with_entry("outlet.bore", 0.026)
    runs = [
        trial(k, 80.0 + 2.0 * k + (0.1 if k % 3 else 0.0), narrow if k in (1, 2, 5, 6) else FIRST) for k in range(1, 9)
    ]
    assert any("also followed the day" in one for one in which_helped(runs, "density").words)


def test_json_gives_the_effect_in_si_and_words_give_it_in_units_of_the_bench():
    fast = [replace(one, output=Estimate.normal(k * 1e-3, 1e-5, "m3/s")) for k, one in enumerate(pilot_plant(), 1)]
    found = which_helped(fast, "output")
    first = found.report.effects[0]
    data = found.as_dict()["effects"][0]
    assert data["unit"] == "m3/s"
    assert first.estimate.value == pytest.approx(data["value"] * 60_000)  # L/min


def test_what_cannot_be_compared_is_refused_with_a_way_out():
    with pytest.raises(InputError, match="not a figure of a trial"):
        which_helped(pilot_plant(), "colour")
    with pytest.raises(TooFewPoints, match="1 of 2 trials have a readable build sheet"):
        which_helped([trial(1, 80.0), trial(2, 70.0, None)], "density")


def test_three_air_sources_are_compared_in_pairs():
    found = which_helped([trial(k, 80.0 + k % 3, source=f"s{k % 3}") for k in range(9)], "density")
    assert {(one.low, one.high): one.estimate.value for one in found.report.effects} == pytest.approx(
        {("s0", "s1"): 1.0, ("s0", "s2"): 2.0, ("s1", "s2"): 1.0}
    )
    assert {one.factor for one in found.report.effects} == {"air source"}


def weighed(number, *grams, division=0.005):
    """A trial with samples in a jug of 2 L on a scale with steps of ``division`` kg."""
    u = 2 * division / math.sqrt(12)
    samples = tuple(evaluate(Weighing(2e-3, 0.185, full / 1e3, u_mass=u)) for full in grams)
    density = combine([one.density for one in samples], [one.shared["density"] for one in samples]).mean
    return replace(trial(number, 1.0), samples=samples, density=density)


def test_the_part_of_a_reading_is_that_of_the_scale_without_the_volume():
    """By hand: two weighings of 2 x 5 g / sqrt(12) in 2 L, 2.04 kg/m3; the volume's 1 % is common and not in it."""
    one, two = weighed(1, 330.0), weighed(2, 330.0, 330.0)
    assert reading_of(one, "density", one.density) == pytest.approx(math.sqrt(2) * 2 * 5 / math.sqrt(12) / 2)
    assert one.density.standard_uncertainty > 1.03 * reading_of(one, "density", one.density)
    assert reading_of(two, "density", two.density) == pytest.approx(reading_of(one, "density", one.density) / 2**0.5)
    assert reading_of(one, "line_pressure", one.density) == 0.0
    assert reading_of(trial(1, 80.0), "density", one.density) == 0.0


def test_one_step_of_a_kitchen_scale_is_no_clear_effect():
    narrow = FIRST.with_entry("outlet.bore", 0.026)
    runs = [weighed(k, 330.0 - 5.0 * (k % 2)) for k in range(4)]
    runs = [replace(one, build=narrow) if k % 2 else one for k, one in enumerate(runs)]
    (effect,) = which_helped(runs, "density").report.effects
    assert abs(effect.estimate.value) == pytest.approx(2.5)
    assert effect.estimate.lower < 0.0 < effect.estimate.upper


def test_runs_sorted_by_build_are_said_with_the_remedy():
    narrow = FIRST.with_entry("outlet.bore", 0.026)
    sorted_ = [trial(k, 80.0 + k % 3, narrow if k >= 3 else FIRST) for k in range(6)]
    mixed = [trial(k, 80.0 + k % 3, narrow if k % 2 else FIRST) for k in range(6)]
    assert any("run the settings alternately" in one for one in which_helped(sorted_, "density").words)
    assert not any("alternately" in one for one in which_helped(mixed, "density").words)


def test_repeats_of_one_build_have_no_entry_that_differs():
    assert "no entry differs between these trials" in which_helped([trial(1, 80.0), trial(2, 81.0)], "density").words


def test_two_builds_are_compared_by_welch():
    other = replace(FIRST.with_entry("outlet.bore", 0.026), name="narrow")
    a, b = (80.1, 79.2, 81.0), (76.0, 77.9, 75.1, 76.6)
    runs = [trial(k, v) for k, v in enumerate(a)] + [trial(10 + k, v, other) for k, v in enumerate(b)]
    found = two_builds(runs, "first tube", "narrow")
    from_library = stats.ttest_ind(a, b, equal_var=False)  # scipy, from the single values
    assert found.t == pytest.approx(from_library.statistic)
    assert found.p_value == pytest.approx(from_library.pvalue)
    low, high = from_library.confidence_interval(0.95)
    assert (found.difference.lower, found.difference.upper) == pytest.approx((low, high))


def test_one_run_of_a_build_cannot_be_compared_and_different_ones_are_no_repeats():
    other = replace(FIRST.with_entry("outlet.bore", 0.026), name="narrow")
    with pytest.raises(TooFewPoints, match="one run each"):
        two_builds([trial(1, 80.0), trial(2, 81.0), trial(3, 76.0, other)], "first tube", "narrow")
    odd = FIRST.with_entry("tube.rows", 8)  # under the same name
    with pytest.raises(InputError, match="not repeats"):
        two_builds([trial(1, 80.0), trial(2, 81.0, odd), trial(3, 76.0, other)], "first tube", "narrow")


def test_one_trial_without_a_build_is_one_trial_in_words():
    runs = [trial(1, 80.0), trial(2, 81.0), trial(3, 70.0, None)]
    assert "1 trial is excluded: its build is not known" in which_helped(runs, "density").words
    assert "2 trials are excluded: their build is not known" in which_helped([*runs, trial(4, 7.0, None)]).words


def test_capitals_and_spaces_make_no_other_agent_and_no_other_air_source():
    """As in the comparison of agents, and in the folder of agents."""
    spelled = [FIRST.with_entry("solution.agent", name) for name in ("Soap A", "soap  a", "SOAP A", "soap A")]
    trials = [trial(k + 1, 70.0 + 3 * (k % 2), build) for k, build in enumerate(spelled)]
    trials[1:] = [replace(one, air_source=one.air_source.upper()) for one in trials[1:]]
    assert not which_helped(trials).report.effects
    trials[3] = trial(4, 90.0, FIRST.with_entry("solution.agent", "soap B"))
    found = which_helped(trials).report.effects
    assert [(one.low, one.high) for one in found] == [("Soap A", "soap B")]
