"""Which change helped, held against published factorials, fractions and two-sample tests."""

from dataclasses import replace

import numpy as np
import pytest
from factorial_designs import alias_chains, factorial_effects, lenth

from frothline.errors import InputError, TooFewPoints
from frothline.trials.effect_statistics import effects
from frothline.trials.two_groups import welch

# D. C. Montgomery, Design and Analysis of Experiments, pilot plant filtration rate, 2^4 in standard order.
# A temperature, B pressure, C formaldehyde concentration, D stirring rate.
FILTRATION = [45, 71, 48, 65, 68, 60, 80, 65, 43, 100, 45, 104, 75, 86, 70, 96]


def standard_order(k):
    return np.array([[1 if run >> j & 1 else -1 for j in range(k)] for run in range(2**k)])


def test_filtration_factorial_gives_montgomerys_effects():
    """All fifteen contrasts are exact to the digits printed in the textbook's table of effects."""
    found = factorial_effects(standard_order(4), FILTRATION, "ABCD")
    published = {
        "A": 21.625, "B": 3.125, "C": 9.875, "D": 14.625, "AB": 0.125, "AC": -18.125, "AD": 16.625, "BC": 2.375,
        "BD": -0.375, "CD": -1.125, "ABC": 1.875, "ABD": 4.125, "ACD": -1.625, "BCD": -2.625, "ABCD": 1.375,
    }  # fmt: skip
    assert found == pytest.approx(published, abs=1e-12)


def test_lenths_margin_flags_the_five_effects_of_the_textbook():
    """Lenth 1989 on the same data: pseudo standard error 2.625, margin 6.748; A, C, D, AC, AD stand out."""
    found = factorial_effects(standard_order(4), FILTRATION, "ABCD")
    pse, margin = lenth(found)
    assert pse == pytest.approx(2.625, abs=1e-12)
    assert margin == pytest.approx(6.748, abs=5e-4)
    assert {name for name, value in found.items() if abs(value) > margin} == {"A", "C", "D", "AC", "AD"}


def test_half_fraction_has_the_published_estimates_and_aliases():
    """Montgomery's 2^(4-1) with D = ABC, resolution IV: estimates and alias pairs of the textbook."""
    full = standard_order(3)
    half = np.column_stack([full, full.prod(axis=1)])
    rate = [45, 100, 45, 65, 75, 60, 80, 96]
    published = {"A": 19.0, "B": 1.5, "C": 14.0, "D": 16.5, "AB": -1.0, "AC": -18.5, "AD": 19.0}
    assert factorial_effects(half, rate, "ABCD") == pytest.approx(published, abs=1e-12)
    chains = alias_chains(half, "ABCD")
    assert chains["A"] == ("A", "BCD")
    assert chains["AB"] == ("AB", "CD")
    assert chains["AD"] == ("AD", "BC")


def test_folding_the_fraction_over_separates_what_was_aliased():
    """The complementary half changes the sign of every odd alias; half the sum and difference give the full table."""
    full = standard_order(3)
    runs = {tuple(row): y for row, y in zip(standard_order(4), FILTRATION, strict=True)}
    results = []
    for sign in (1, -1):
        levels = np.column_stack([full, sign * full.prod(axis=1)])
        results.append(factorial_effects(levels, [runs[tuple(row)] for row in levels], "ABCD"))
    assert (results[0]["A"] + results[1]["A"]) / 2 == pytest.approx(21.625)
    assert (results[0]["A"] - results[1]["A"]) / 2 == pytest.approx(-2.625)  # BCD


def test_reduced_filtration_model_has_the_textbook_residual():
    """A, C, D, AC, AD kept: residual sum of squares 195.125 on 10 degrees of freedom (Montgomery)."""
    levels = standard_order(4)
    settings = [{"A": a, "C": c, "D": d, "AC": a * c, "AD": a * d} for a, _, c, d in levels.astype(float).tolist()]
    report = effects(settings, FILTRATION, name="filtration rate", unit="gal/h")
    assert report.degrees_of_freedom == 10
    assert report.residual_standard_deviation**2 * 10 == pytest.approx(195.125, abs=1e-9)
    by_name = {effect.factor: effect.estimate.value for effect in report.effects}
    assert by_name["A"] == pytest.approx(21.625)
    assert by_name["AC"] == pytest.approx(-18.125)


@pytest.mark.parametrize(
    ("figures", "t", "freedom", "p", "interval"),
    [
        # NAG library manual, g07ca example: printed 2.5922, 7.9925, 0.0320, 0.4410 to 7.5590, from unrounded data;
        # the rounded summary figures carry four digits of it
        ((25.0, 0.8185, 4, 21.0, 4.208, 8), 2.5922, 7.9925, 0.0320, (0.4410, 7.5590)),
        # the sleep data of Student 1908 as in R's documentation: t = -1.8608, df = 17.776, p = 0.07939
        ((0.75, 1.789010, 10, 2.33, 2.002249, 10), -1.8608, 17.776, 0.07939, (-3.36548, 0.20548)),
    ],
)
def test_welchs_test_gives_published_results(figures, t, freedom, p, interval):
    result = welch(*figures)
    assert result.t == pytest.approx(t, abs=3e-4)
    assert result.degrees_of_freedom == pytest.approx(freedom, abs=2e-3)
    assert result.p_value == pytest.approx(p, abs=5e-5)
    assert (result.difference.lower, result.difference.upper) == pytest.approx(interval, abs=5e-4)


def test_a_difference_is_called_more_than_scatter_below_p_of_5_percent():
    """The published p values of the comparisons above: 0.0320 and 0.07939; and the usual limit from both sides."""
    assert welch(25.0, 0.8185, 4, 21.0, 4.208, 8).words == "p = 0.032: more than their scatter explains"
    sleep = welch(0.75, 1.789010, 10, 2.33, 2.002249, 10)
    assert sleep.words == "p = 0.079: within the range that their scatter explains"
    assert "more than" in replace(sleep, p_value=0.0499).words
    assert "within" in replace(sleep, p_value=0.0501).words


def test_one_run_each_is_refused_as_a_comparison_of_means():
    with pytest.raises(TooFewPoints, match="one run each"):
        welch(50.0, 0.0, 1, 60.0, 2.0, 3)


def test_two_parts_changed_together_are_named_before_any_figure():
    settings = [
        {"hole rows": 4, "packing length": 0.10, "outlet": 0.025},
        {"hole rows": 6, "packing length": 0.15, "outlet": 0.025},
        {"hole rows": 4, "packing length": 0.10, "outlet": 0.032},
        {"hole rows": 6, "packing length": 0.15, "outlet": 0.032},
    ]
    report = effects(settings, [82.0, 70.0, 90.0, 77.0], name="foam density", unit="kg/m3")
    assert report.words[0] == (
        "hole rows and packing length changed together in every pair: these trials cannot separate them"
    )
    assert [effect.factor for effect in report.effects] == ["outlet"]


def test_the_suggested_run_does_tell_the_confounded_parts_apart():
    settings = [
        {"hole rows": 4, "packing length": 0.10},
        {"hole rows": 6, "packing length": 0.15},
        {"hole rows": 4, "packing length": 0.10},
    ]
    before = effects(settings, [82.0, 70.0, 81.0], name="foam density", unit="kg/m3")
    extra = before.confounded[0].runs
    assert len(extra) == 1
    after = effects([*settings, *extra], [82.0, 70.0, 81.0, 76.0], name="foam density", unit="kg/m3")
    assert not after.confounded
    assert {effect.factor for effect in after.effects} == {"hole rows", "packing length"}


def test_one_run_each_is_called_one_run_each():
    report = effects([{"outlet": 0.025}, {"outlet": 0.032}], [60.0, 75.0], name="foam density", unit="kg/m3",
                     u_response=[1.0, 1.0])  # fmt: skip
    assert any(line.startswith("one run each") for line in report.words)
    assert report.effects[0].estimate.standard_uncertainty == pytest.approx(2**0.5)


def test_a_drift_with_the_order_of_runs_is_named_and_a_steady_series_is_not():
    rng = np.random.default_rng(5)
    settings = [{"outlet": 0.025 if i % 2 else 0.032} for i in range(12)]
    noise = rng.normal(0, 0.5, 12)
    base = np.array([60.0 if i % 2 else 70.0 for i in range(12)])
    order = list(range(12))
    steady = effects(settings, base + noise, name="foam density", unit="kg/m3", covariates={"run order": order})
    drifting = effects(
        settings, base + noise + 0.8 * np.arange(12), name="foam density", unit="kg/m3", covariates={"run order": order}
    )
    assert steady.drifts == ()
    assert "run order" in drifting.drifts[0]


def test_solution_batches_that_differ_are_taken_out_and_named():
    rng = np.random.default_rng(8)
    settings = [{"outlet": 0.025 if i % 2 else 0.032} for i in range(12)]
    batches = ["first"] * 6 + ["second"] * 6
    truth = np.array([10.0 * (i % 2 == 0) + 25.0 * (i >= 6) for i in range(12)]) + 60
    report = effects(settings, truth + rng.normal(0, 1, 12), name="foam density", unit="kg/m3", blocks=batches)
    (effect,) = report.effects
    assert effect.estimate.lower < 10.0 < effect.estimate.upper
    assert effect.estimate.standard_uncertainty < 1.5  # with the batches left in, it would be about 8
    assert any("solution batches differed" in line for line in report.drifts)


def test_a_factor_with_numbers_and_names_says_what_to_do():
    with pytest.raises(InputError, match="both numbers and names"):
        effects([{"packing": n} for n in ("wool", 2.0, "beads")], [1.0, 2.0, 3.0], name="x", unit="")


def test_two_groups_of_one_step_of_the_scale_are_not_told_apart():
    """330, 330 against 325, 325 g in 2 L, a reading good to 2 kg/m3: z = 2.5/2, p = 0.211 by the normal table."""
    found = welch(75.0, 0.0, 2, 72.5, 1e-14, 2, reading=2.0)
    assert found.p_value == pytest.approx(0.2113, abs=5e-4)
    assert (found.difference.lower, found.difference.upper) == pytest.approx((2.5 - 3.92, 2.5 + 3.92), abs=1e-3)
    with pytest.raises(InputError, match="neither group has scatter"):
        welch(75.0, 0.0, 2, 72.5, 1e-14, 2)
    ordinary = welch(25.0, 0.8185, 4, 21.0, 4.208, 8, reading=0.5)
    assert ordinary.difference == welch(25.0, 0.8185, 4, 21.0, 4.208, 8).difference
