"""Resistances: fits with errors in both variables, networks, other air."""

from dataclasses import replace

import known_sources as known
import numpy as np
import pytest

from frothline.curve.blower import BlowerCurve
from frothline.curve.resistance import ResistanceLine
from frothline.curve.resistance_fit import fit_resistance
from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.sweep.resistance_text import resistance_text


def test_flow_is_the_inverse_of_pressure_and_nothing_below_the_entry_pressure():
    line = ResistanceLine(1e5, 4e6, 800.0)
    q = np.array([0.001, 0.01, 0.05])
    assert line.flow(line.pressure(q)[0]) == pytest.approx(q, rel=1e-12)
    assert line.flow(700.0) == 0.0


def test_purely_square_and_purely_viscous_resistance():
    assert float(ResistanceLine(0.0, 4e6).flow(1e4)) == pytest.approx(0.05)
    assert float(ResistanceLine(2e5, 0.0).flow(1e4)) == pytest.approx(0.05)


def test_measured_line_holds_the_true_coefficients():
    # Truth by construction; 95 % of 100 is 95 with standard deviation 2.2
    held = np.zeros(2)
    for k in range(100):
        rng = np.random.default_rng([20, k])
        q = np.linspace(0.004, 0.045, 10)
        line = fit_resistance(known.noisy(rng, q, lambda x: 2e5 * x + 6e6 * x**2), entry=False).line
        found = line.estimates()
        held += [found[name].lower <= true <= found[name].upper for name, true in (("a", 2e5), ("b", 6e6))]
    assert np.all(held >= 88)


def test_entry_pressure_is_found_where_there_is_one():
    q = np.linspace(0.004, 0.045, 10)
    rng = np.random.default_rng(21)
    fit = fit_resistance(known.noisy(rng, q, lambda x: 900 + 2e5 * x + 6e6 * x**2, u_p=15.0, u_q=2e-5))
    assert fit.line.c == pytest.approx(900.0, abs=80.0)
    dry = fit_resistance(known.noisy(rng, q, lambda x: 2e5 * x + 6e6 * x**2, u_p=15.0, u_q=2e-5))
    assert dry.line.c == 0.0


def test_a_common_flow_factor_goes_into_both_coefficients():
    # q too large by 2 %: a = p/q too small by 2 %, b = p/q^2 by 4 %
    q = np.linspace(0.004, 0.045, 10)
    made = known.points(q, 2e5 * q + 6e6 * q**2, u_p=1e-3, u_q=1e-9, common=[("flow factor", 0.0, 0.02)])
    found = fit_resistance(made, entry=False).line.estimates()
    assert found["a"].standard_uncertainty == pytest.approx(0.02 * 2e5, rel=0.02)
    assert found["b"].standard_uncertainty == pytest.approx(0.04 * 6e6, rel=0.02)


def test_a_sweep_of_a_source_is_not_taken_for_a_resistance():
    with pytest.raises(NotIdentifiable, match="pressure falls"):
        fit_resistance(known.ten_orifices())
    with pytest.raises(TooFewPoints):
        fit_resistance(known.ten_orifices()[:2])


# --- the order in which the points were measured -----------------------------------------------------------------


def at_times(points):
    """The same points, measured one after the other in the order given: 8 s each, 2 s apart."""
    return [replace(point, start=10.0 * k, end=10.0 * k + 8.0) for k, point in enumerate(points)]


def orders(number, seed=1):
    """Ascending, descending, and three random orders of ``number`` points."""
    rng = np.random.default_rng(seed)
    return [np.arange(number), np.arange(number)[::-1], *(rng.permutation(number) for _ in range(3))]


def test_every_good_point_of_a_generator_is_used_in_any_order():
    # Truth by construction: ten exact points of p = 2e5 q + 4e6 q^2
    q = np.linspace(0.002, 0.045, 10)
    made = known.points(q, 2e5 * q + 4e6 * q**2)
    for order in orders(10):
        fit = fit_resistance(at_times([made[k] for k in order]))
        assert len(fit.points) == 10, order
        assert fit.refused == ()
        assert (fit.line.a, fit.line.b) == pytest.approx((2e5, 4e6), rel=1e-6)


def test_the_order_of_noisy_points_changes_nothing():
    q = np.linspace(0.002, 0.045, 9)
    made = known.noisy(np.random.default_rng(5), q, lambda x: 900 + 2e5 * x + 4e6 * x**2)
    found = [fit_resistance(at_times([made[k] for k in order])) for order in orders(9)]
    for fit in found[1:]:
        assert fit.why == found[0].why
        assert fit.line.pressure(q)[0] == pytest.approx(found[0].line.pressure(q)[0], rel=1e-9)
        assert fit.line.pressure(q)[1] == pytest.approx(found[0].line.pressure(q)[1], rel=1e-6)


def test_the_band_of_a_descending_sweep_holds_the_truth_at_a_quarter_of_full_flow():
    # 95 % of 300 is 285 with standard deviation 3.8; three of them either way leave 274 to 296
    held = 0
    for k in range(300):
        rng = np.random.default_rng([22, k])
        q = np.linspace(0.045, 0.002, 10)
        line = fit_resistance(at_times(known.noisy(rng, q, lambda x: 2e5 * x + 4e6 * x**2, 60.0, 3e-4))).line
        lower, upper = line.band(0.045 / 4)
        held += bool(lower <= 2e5 * 0.045 / 4 + 4e6 * (0.045 / 4) ** 2 <= upper)
    assert 274 <= held <= 296


def test_an_air_source_whose_supply_ran_down_still_loses_those_points():
    # a tank: full pressure at the first, larger flows, and a tenth of it at small flows afterwards
    q = np.array([0.02, 0.03, 0.04, 0.045, 0.05, 0.01, 0.005])
    p = np.array([15e3, 12e3, 8e3, 6e3, 4e3, 1e3, 1e3])
    fit = BlowerCurve().fit(at_times(known.points(q, p)))
    assert len(fit.points) == 5
    assert all("the supply had run down" in one.reason for one in fit.refused)


# --- few points ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("number", "says"), [(0, "there are 0"), (1, "there is 1"), (3, "there are 3")])
def test_fewer_than_four_points_are_refused_with_how_many_are_missing(number, says):
    q = np.array([0.01, 0.02, 0.04])[:number]
    with pytest.raises(TooFewPoints, match="at least 4 steady points") as refused:
        fit_resistance(known.points(q, 2e5 * q))
    assert says in refused.value.what
    assert f"Hold at {4 - number} more flow" in refused.value.remedy


@pytest.mark.parametrize("number", [4, 5, 9])
def test_exact_linear_points_are_not_taken_for_a_square_law(number):
    # Truth by construction: p = 2e5 q
    q = np.linspace(0.005, 0.04, number)
    fit = fit_resistance(known.points(q, 2e5 * q))
    assert fit.line.a == pytest.approx(2e5, rel=1e-6)
    assert fit.line.b == pytest.approx(0.0, abs=1.0)
    assert fit.chi_square < 1e-6
    assert fit.line.pressure(q)[0] == pytest.approx(2e5 * q, rel=1e-6)


@pytest.mark.parametrize("number", [4, 5, 10])
@pytest.mark.parametrize("power", [1.0, 2.0])
def test_a_term_that_is_left_out_keeps_an_uncertainty(number, power):
    left_out = "b" if power == 1.0 else "a"
    dropped = 0
    for k in range(20):
        q = np.linspace(0.005, 0.04, number)
        fit = fit_resistance(known.noisy(np.random.default_rng([23, k]), q, lambda x: 8e3 * (x / 0.04) ** power))
        found = fit.line.estimates()
        assert all(one.upper > one.value and one.standard_uncertainty > 0 for one in found.values())
        if getattr(fit.line, left_out) == 0.0:
            dropped += 1
            assert found[left_out].lower == 0.0
            assert "came out negative and is set to 0" in fit.why
            assert f"{left_out} q" not in fit.form
    assert dropped >= 3


def test_the_stated_uncertainties_decide_about_an_entry_pressure_at_four_points():
    # 900 Pa before any air passes: clear with 10 Pa and 0.02 L/s at each point, unknown with 1 kPa
    q = np.array([0.005, 0.015, 0.028, 0.04])
    p = 900 + 2e5 * q + 4e6 * q**2
    assert fit_resistance(known.points(q, p, 10.0, 2e-5)).line.c == pytest.approx(900.0, rel=1e-3)
    vague = fit_resistance(known.points(q, p, 1000.0, 2e-5)).line
    assert vague.c == 0.0
    assert vague.estimates()["c"].upper > 500.0


def test_points_without_stated_uncertainties_have_their_law_found():
    q = np.linspace(0.005, 0.04, 8)
    fit = fit_resistance(known.points(q, 2e5 * q + 4e6 * q**2, 0.0, 0.0))
    assert (fit.line.a, fit.line.b) == pytest.approx((2e5, 4e6), rel=1e-6)


def test_form_and_chi_squared_are_shown_with_the_fit():
    q = np.linspace(0.005, 0.04, 8)
    fit = fit_resistance(known.noisy(np.random.default_rng(3), q, lambda x: 2e5 * x + 4e6 * x**2))
    assert f"p = {fit.form}" in repr(fit)
    assert f"chi² {fit.chi_square:.3g} at 6 degrees of freedom" in repr(fit)
    text = "\n".join(resistance_text(fit, "metric"))
    assert "p = a q + b q²; chi² " in text
    assert "power law p = k Qⁿ, Q in L/s: k = " in text
