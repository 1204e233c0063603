"""Which change helped, read off build sheets: a published factorial, what cannot be told apart, and two builds."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from builds import FIRST
from scipy import stats

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.foam.dilution import Dilution
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
    with pytest.raises(InputError, match="only two can be compared"):
        which_helped([trial(k, 80.0 + k, source=f"s{k}") for k in range(3)], "density")


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
