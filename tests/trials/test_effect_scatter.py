"""Effects where alike runs show equal values, a curve, an order, or more than two names."""

import math

import numpy as np
import pytest
from scipy import stats

from frothline.numerics.blocked_design import compare_in_blocks
from frothline.trials.effect_statistics import effects

Z = 1.959964


def two_settings(first, second, **also):
    """Effects of runs at two settings, alternating as far as there are some of both."""
    size = max(len(first), len(second))
    rows = [({"length": x}, y[k]) for k in range(size) for x, y in ((250.0, first), (400.0, second)) if k < len(y)]
    return effects([row for row, _ in rows], [y for _, y in rows], name="foam density", unit="kg/m³", **also)


def test_equal_readings_tell_no_effect_and_not_its_absence_either():
    """Five readings of 73 with a scale of 5 g: no change, give or take the readings. By hand: 1.96 x 2 x 1."""
    found = two_settings([73.0] * 3, [73.0] * 2, u_reading=[2.0] * 5)
    (one,) = found.effects
    assert one.estimate.value == 0.0
    assert (one.estimate.lower, one.estimate.upper) == pytest.approx((-2 * Z, 2 * Z), rel=1e-5)
    assert one.p_value == 1.0
    assert any("does not change" in text and "includes no change" in text for text in found.words)
    assert not any("e-1" in text for text in found.words)


def test_one_step_of_the_scale_is_no_clear_effect():
    """330, 325, 330, 325 g in 2 L: the scatter is none, a reading is good to 2 kg/m³; by hand sqrt(4/2 + 4/2)."""
    found = two_settings([72.5, 72.5], [70.0, 70.0], u_reading=[2.0] * 4)
    (one,) = found.effects
    assert one.estimate.value == pytest.approx(-2.5)
    assert one.estimate.standard_uncertainty == pytest.approx(2.0)
    assert one.estimate.lower < -2.5 < 0.0 < one.estimate.upper
    assert one.p_value == pytest.approx(2 * stats.norm.sf(1.25))
    assert any("less than a reading is uncertain (2 kg/m³" in text for text in found.words)


def test_many_runs_rounded_alike_are_not_averaged_below_one_weighing():
    """Sixteen runs each, all rounded to one step: half the variance of a reading stays, on each side."""
    (one,) = two_settings([72.5] * 16, [70.0] * 16, u_reading=[2.0] * 32).effects
    assert one.estimate.standard_uncertainty == pytest.approx(math.sqrt(2 * 2.0**2 / 2))
    scattered = [72.5 + (-1) ** k for k in range(16)], [70.0 + (-1) ** k for k in range(16)]
    (one,) = two_settings(*scattered, u_reading=[2.0] * 32).effects
    assert one.estimate.standard_uncertainty == pytest.approx(math.sqrt(2 * 2.0**2 / 16))


@pytest.mark.parametrize(("step", "shared"), [(0.9, True), (1.1, False)])
def test_runs_count_as_rounded_alike_up_to_half_the_uncertainty_of_a_reading(step, shared):
    """Alternating values have a scatter of step x sqrt(32/30); half of it on each side of 1, half of 2."""
    first, second = ([y + step * (-1) ** k for k in range(16)] for y in (72.5, 70.0))
    (one,) = two_settings(first, second, u_reading=[2.0] * 32).effects
    assert one.estimate.standard_uncertainty == pytest.approx(2.0 if shared else 2.0 / math.sqrt(8))


def test_ordinary_scatter_keeps_students_interval():
    first, second = [70.1, 71.9, 69.2, 70.6], [73.0, 72.1, 74.4, 71.8]
    (one,) = two_settings(first, second, u_reading=[0.42] * 8).effects
    low, high = stats.ttest_ind(second, first).confidence_interval(0.95)
    assert (one.estimate.lower, one.estimate.upper) == pytest.approx((low, high))
    assert one.p_value == pytest.approx(stats.ttest_ind(second, first).pvalue)


def test_equal_values_without_a_known_uncertainty_have_no_interval():
    found = two_settings([72.5, 72.5], [70.0, 70.0])
    (one,) = found.effects
    assert (one.estimate.lower, one.estimate.upper) == (-math.inf, math.inf)
    assert any("scatter is not known; no interval" in text for text in found.words)
    stated = two_settings([72.5, 72.5], [70.0, 70.0], u_response=[3.0] * 4)
    assert stated.effects[0].estimate.upper == pytest.approx(-2.5 + Z * 3.0, rel=1e-5)


@pytest.mark.parametrize("value", [73.0, 73.1, 1 / 3])
def test_rounding_of_numbers_is_no_drift_and_no_difference_of_batches(value):
    batches = ["a", "a", "a", "a", "b", "b", "b", "b"]
    found = two_settings([value] * 4, [value] * 4, blocks=batches, covariates={"the day": [0, 1, 2, 3, 5, 6, 7, 9]})
    assert found.drifts == ()
    known = two_settings(
        [value] * 4, [value] * 4, blocks=batches, covariates={"the day": range(8)}, u_reading=[0.1] * 8
    )
    assert known.drifts == ()


def test_a_drift_of_less_than_the_readings_can_show_is_none():
    """One step of 2.5 after the half of the runs is within readings good to 2, and not within those good to 0.2."""
    steps = [70.0, 70.0, 72.5, 72.5]
    rough, fine = (two_settings(steps, steps, covariates={"the day": range(8)}, u_reading=[u] * 8) for u in (2.5, 0.2))
    assert rough.drifts == ()
    assert "also followed the day" in fine.drifts[0]


def covered(repeats, scatter, step, u_reading, *, true=-1.0, blocks=1, trials=300, seed=5):
    """Share of the intervals that hold a true effect; readings rounded to steps of a scale, as in a 2 L jug."""
    rng = np.random.default_rng([seed, repeats, round(10 * scatter), blocks])
    x = np.tile([0.0, 1.0], repeats * blocks)
    batch = np.repeat(np.arange(blocks), 2 * repeats)
    held = 0
    for _ in range(trials):
        y = 70.0 + rng.uniform(0, 2.5) + true * x + rng.normal(0, scatter, x.size) + rng.normal(0, 3.0, blocks)[batch]
        y = np.round(y / step) * step if step else y
        found = effects(
            [{"length": float(v)} for v in x],
            y.tolist(),
            name="foam density",
            unit="kg/m³",
            u_reading=[u_reading] * x.size,
            blocks=[f"b{k}" for k in batch] if blocks > 1 else None,
        )
        estimate = found.effects[0].estimate
        held += estimate.lower <= true <= estimate.upper
    return held / trials


# a scale of 5 g under 2 L: steps of 2.5 kg/m³, each weighing 2 x 5 g / sqrt(12), a density 2.04 kg/m³
COARSE = {"step": 2.5, "u_reading": 2.04}


@pytest.mark.parametrize(("repeats", "scatter"), [(2, 0.4), (4, 0.4)])
def test_intervals_hold_with_a_coarse_scale(repeats, scatter):
    """From the scatter alone they hold 37 and 62 %."""
    assert covered(repeats, scatter, **COARSE, trials=100) >= 0.93


@pytest.mark.exhaustive
@pytest.mark.parametrize("true", [-1.0, 0.0, -2.0])
@pytest.mark.parametrize("scatter", [0.2, 0.4, 0.8, 1.5])
@pytest.mark.parametrize("repeats", [2, 3, 4, 8, 16])
def test_intervals_hold_with_a_coarse_scale_in_every_cell(repeats, scatter, true):
    assert covered(repeats, scatter, **COARSE, true=true, trials=500) >= 0.93


@pytest.mark.exhaustive
@pytest.mark.parametrize("blocks", [1, 3])
@pytest.mark.parametrize("scatter", [1.5, 3.0])
@pytest.mark.parametrize("repeats", [2, 4, 8])
def test_intervals_with_ordinary_scatter_stay_at_95_percent(repeats, scatter, blocks):
    """A scale of 1 g: 0.42 kg/m³ a reading, far below the scatter."""
    share = covered(repeats, scatter, 0.5, 0.42, blocks=blocks, trials=1500)
    assert 0.93 <= share <= 0.97


def held_in_blocks(scatter, step, reading, days, trials):
    """Share of the comparisons of three soaps in blocks whose three intervals all hold, on a scale with steps."""
    rng = np.random.default_rng([days, round(10 * scatter), round(10 * step)])
    soaps, blocks = list("abc") * days, [day for day in range(days) for _ in range(3)]
    truth = {"a": 0.0, "b": -1.0, "c": -2.0}
    held = 0
    for _ in range(trials):
        level = 70.0 + rng.uniform(0, 2.5) + rng.normal(0, 3.0, days)
        y = [level[day] + truth[soap] + rng.normal(0, scatter) for soap, day in zip(soaps, blocks, strict=True)]
        found = compare_in_blocks(
            np.round(np.array(y) / step) * step, soaps, [str(day) for day in blocks], reading=reading
        )
        held += all(d.lower <= truth[d.second] - truth[d.first] <= d.upper for d in found.differences)
    return held / trials


@pytest.mark.exhaustive
@pytest.mark.parametrize("days", [2, 3, 6])
@pytest.mark.parametrize("scatter", [0.2, 0.4, 0.8, 1.5])
def test_intervals_of_soaps_hold_with_a_coarse_scale(scatter, days):
    assert held_in_blocks(scatter, 2.5, 2.04, days, 1000) >= 0.93


@pytest.mark.exhaustive
@pytest.mark.parametrize("days", [2, 4, 8])
def test_intervals_of_soaps_with_ordinary_scatter_stay_at_95_percent(days):
    """Bonferroni: all three together hold a little more often than 95 %."""
    assert 0.93 <= held_in_blocks(1.5, 0.5, 0.42, days, 2000) <= 0.98


# --- curve ------------------------------------------------------------------------------------------------------------


# Kutner, Nachtsheim, Neter and Li, Applied Linear Statistical Models, 3.7, bank example (from memory): new accounts
# against the size of the minimum deposit. Published: F = 14.80 with 4 and 5 degrees of freedom, P = 0.006.
DEPOSIT = (125, 100, 200, 75, 150, 175, 75, 175, 125, 200, 100)
ACCOUNTS = (160, 112, 124, 28, 152, 156, 42, 124, 150, 104, 136)


def test_lack_of_fit_of_the_textbook_is_said_with_its_p():
    found = effects([{"deposit": float(x)} for x in DEPOSIT], ACCOUNTS, name="accounts", unit="")
    (text,) = found.drifts
    assert f"p = {stats.f.sf(14.80, 4, 5):.2g}" in text
    assert "p = 0.0056" in text


def length_runs(densities, sizes):
    return effects([{"length (mm)": float(s)} for s in sizes], densities, name="foam density", unit="kg/m³")


def test_a_best_size_in_the_middle_is_said_with_its_distance_from_the_line():
    """60, 80, 60 with repeats: 325 mm is (80 + 81)/2 - (60.5 + 60.25)/2 = 20.125 above the line between the ends."""
    found = length_runs([60.0, 80.0, 60.5, 81.0, 61.0, 60.0], [250, 325, 400, 325, 250, 400])
    (text,) = [one for one in found.words if "straight line" in one]
    assert "at 325 mm it is 20.1 kg/m³ above the line between the ends" in text
    below = length_runs([80.0, 60.0, 80.5, 61.0, 81.0, 80.0], [250, 325, 400, 325, 250, 400])
    assert any("at 325 mm it is 19.9 kg/m³ below" in one for one in below.words)


def test_a_straight_line_and_sizes_without_repeats_are_no_curve():
    straight = length_runs([60.0, 70.2, 80.5, 69.6, 60.4, 79.9], [250, 325, 400, 325, 250, 400])
    single = length_runs([60.0, 80.0, 60.0], [250, 325, 400])
    assert not any("straight line" in one for found in (straight, single) for one in found.words)


# --- order ------------------------------------------------------------------------------------------------------------


def in_order(letters, started=None):
    settings = [{"outlet": letter} for letter in letters]
    when = range(len(letters)) if started is None else started
    values = [70.0, 71.2, 70.4, 69.5, 70.9, 71.6, 69.9, 70.2][: len(letters)]
    return effects(settings, values, name="foam density", unit="kg/m³", started=when, covariates={"the day": when})


def test_runs_sorted_by_setting_are_said_with_the_remedy():
    (text,) = in_order("AAAABBBB").drifts
    assert text.startswith("outlet: all runs with one setting came before all runs with the other")
    assert text.endswith("run the settings alternately")
    assert in_order("AAAABBBB").in_order == ("outlet",)
    assert in_order("ABABABAB").in_order == ()
    assert in_order("ABABABAB").drifts == ()
    assert in_order("AAABBBBA").drifts == ()
    assert in_order("ABABABAB", started=[0, 4, 1, 5, 2, 6, 3, 7]).drifts  # by the clock, not by the list


def test_runs_of_the_same_time_are_not_one_after_the_other():
    """Only the day is known: the fourth run of A and the first of B were on day 3."""
    assert in_order("AAAABBBB", started=[0, 1, 2, 3, 3, 4, 5, 6]).in_order == ()


def test_three_sizes_in_rising_order_are_said_and_in_another_order_not():
    def three(sizes):
        runs = [{"length": float(s)} for s in sizes]
        values = [70.0, 71.2, 70.4, 69.5, 70.9, 71.6]
        return effects(runs, values, name="density", unit="", started=range(6)).drifts

    assert "length: all runs with one setting" in three([1, 1, 2, 2, 3, 3])[0]
    assert three([2, 2, 1, 1, 3, 3]) == ()


# --- names ------------------------------------------------------------------------------------------------------------


def sources(names, **also):
    """Runs of several sources at two lengths; each source has its level, the long one 10 less."""
    level = {name: 60.0 + 10.0 * k for k, name in enumerate(sorted(set(names)))}
    wobble = [0.0, 0.5, -0.3, 0.2, 0.4, -0.6, 0.1, -0.2, 0.3, -0.4, 0.6, -0.1]
    rows = [{"air source": name, "length": 250.0 if k % 2 else 400.0} for k, name in enumerate(names)]
    y = [level[row["air source"]] - 10.0 * (row["length"] > 300) + e for row, e in zip(rows, wobble, strict=False)]
    return rows, y, effects(rows, y, name="foam density", unit="kg/m³", **also)


def test_three_sources_leave_the_other_factor_judged_and_are_compared_in_pairs():
    names = [n for n in ("blower", "motor", "vac") for _ in range(4)]
    rows, y, found = sources(names)
    # ordinary least squares on indicator columns, as a general library has it
    matrix = np.array([[r["air source"] == n for n in ("blower", "motor", "vac")] + [r["length"] > 300] for r in rows])
    matrix = matrix.astype(float)
    fitted, rss, _, _ = np.linalg.lstsq(matrix, np.array(y), rcond=None)
    covariance = np.linalg.inv(matrix.T @ matrix) * rss[0] / 8
    half = stats.t.ppf(0.975, 8) * math.sqrt(covariance[1, 1] + covariance[2, 2] - 2 * covariance[1, 2])
    pairs = {(e.low, e.high): e.estimate for e in found.effects if e.factor == "air source"}
    assert set(pairs) == {("blower", "motor"), ("blower", "vac"), ("motor", "vac")}
    one = pairs["motor", "vac"]
    assert (one.value, one.upper - one.value) == pytest.approx((fitted[2] - fitted[1], half))
    assert pairs["blower", "vac"].value == pytest.approx(fitted[2] - fitted[0])
    (length,) = [e for e in found.effects if e.factor == "length"]
    assert length.estimate.value == pytest.approx(fitted[3])
    assert found.degrees_of_freedom == 8
    assert "air source from motor to vac: foam density rises by" in " ".join(found.words)


def test_four_names_are_compared_in_six_pairs():
    _, _, found = sources([n for n in "abcd" for _ in range(3)])
    assert len([e for e in found.effects if e.factor == "air source"]) == 6


def test_of_five_names_each_is_compared_with_the_most_frequent_one():
    names = ["a", "a", "b", "b", "c", "c", "c", "c", "d", "d", "e", "e"]
    _, _, found = sources(names)
    pairs = [(e.low, e.high) for e in found.effects if e.factor == "air source"]
    assert sorted(pairs) == [("c", "a"), ("c", "b"), ("c", "d"), ("c", "e")]
    assert any("has 5 names: each is compared with “c”" in one for one in found.words)


def test_a_source_that_ran_only_with_one_length_is_named_and_the_others_are_compared():
    rows = [
        {"air source": s, "length": x}
        for s, x in (("blower", 1.0), ("blower", 1.0), ("vac", 1.0), ("motor", 2.0), ("motor", 2.0), ("vac", 1.0))
    ]
    found = effects(rows, [60.0, 61.0, 70.0, 80.0, 81.0, 71.0], name="density", unit="")
    assert "air source “motor” and length" in found.words[0]
    assert [(e.low, e.high) for e in found.effects] == [("blower", "vac")]
    assert found.confounded[0].runs


def test_trials_without_a_difference_are_said_to_have_none():
    found = effects([{"length": 250.0}, {"length": 250.0}], [70.0, 71.0], name="density", unit="")
    assert found.effects == ()
    assert "no entry differs between these trials" in found.words
