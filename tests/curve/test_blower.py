"""The curve of an air source: known blowers, bands, choice of shape, refusals."""

from dataclasses import replace

import known_sources as known
import numpy as np
import pytest
from scipy import optimize, stats

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.numerics.information import aicc

QUADRATIC = BlowerCurve(forms=("quadratic",))


def test_ten_orifice_case_gives_the_exact_figures():
    # Points are printed to 7 decimals of m3/s (half a digit: 5e-8, times 5e5 Pa s/m3 is 0.03 Pa) and 1e-3 Pa.
    fit = BlowerCurve().fit(known.ten_orifices())
    assert fit.form == "quadratic"
    assert fit.shut_off.value == pytest.approx(known.SHUT_OFF, abs=0.1)
    assert fit.free_delivery.value == pytest.approx(known.FREE_DELIVERY, abs=2e-7)
    assert fit.air_power.value == pytest.approx(known.LARGEST_POWER, abs=2e-3)
    assert fit.air_power_flow.value == pytest.approx(known.FLOW_AT_LARGEST_POWER, abs=2e-7)


def test_ten_orifice_coefficients_as_a_quadratic():
    fit = QUADRATIC.fit(known.ten_orifices())
    assert fit.coefficients[:3] == pytest.approx([20000.0, -120000.0, -3.5e6], rel=2e-5)
    assert np.all(fit.coefficients[3:] == 0)


def test_ten_orifices_mark_what_lies_outside_the_measured_range():
    fit = BlowerCurve().fit(known.ten_orifices())
    assert fit.shut_off.extrapolated  # the smallest orifice still lets 6 % through
    assert fit.free_delivery.extrapolated  # the largest one still holds 7 % of the pressure back
    assert not fit.air_power.extrapolated


def test_straight_line_and_parabola_have_their_textbook_largest_power():
    # p0 (1 - x): at x = 1/2, p0 qf / 4; p0 (1 - x^2): at 1/sqrt 3, 0.384900 p0 qf
    q = np.linspace(0.002, 0.048, 9)
    line = BlowerCurve().fit(known.points(q, 1e4 * (1 - q / 0.05)))
    parabola = BlowerCurve().fit(known.points(q, 1e4 * (1 - (q / 0.05) ** 2)))
    assert line.form == "line"
    assert (line.air_power_flow.value, line.air_power.value) == pytest.approx((0.025, 125.0), rel=1e-6)
    assert parabola.form == "quadratic without linear term"
    found = (parabola.air_power_flow.value, parabola.air_power.value)
    assert found == pytest.approx((0.05 * 0.577350, 1e4 * 0.05 * 0.384900), rel=2e-6)


def test_unweighted_quadratic_agrees_with_ordinary_least_squares():
    # NumPy's polyfit as the reference: errors in pressure alone, all alike
    rng = np.random.default_rng(1)
    q = np.linspace(0.003, 0.055, 12)
    p = known.blower(q) + 40 * rng.standard_normal(12)
    fit = QUADRATIC.fit(known.points(q, p, u_p=40.0, u_q=0.0))
    coefficients, covariance = np.polyfit(q, p, 2, cov=True)
    assert fit.coefficients[:3][::-1] == pytest.approx(coefficients, rel=1e-8)
    assert fit.covariance[:3, :3][::-1, ::-1] == pytest.approx(covariance, rel=1e-6)
    # its 95 % interval of the pressure at no flow is Student's with 9 degrees of freedom
    half = stats.t.ppf(0.975, 9) * np.sqrt(covariance[2, 2])
    assert fit.shut_off.upper - fit.shut_off.value == pytest.approx(half, rel=1e-6)


def test_errors_in_both_variables_agree_with_a_general_minimiser():
    # Reference: scipy.optimize.least_squares over coefficients and true flows together
    rng = np.random.default_rng(2)
    q = np.linspace(0.004, 0.055, 11)
    seen_q, seen_p = q * (1 + 0.01 * rng.standard_normal(11)), known.blower(q) + 50 * rng.standard_normal(11)

    def residuals(x):
        c, true = x[:3] * [1e4, 1e5, 1e6], x[3:] / 100
        return np.concatenate([(seen_q - true) / (0.01 * q), (seen_p - c[0] - c[1] * true - c[2] * true**2) / 50])

    start = np.concatenate([[2.0, -1.2, -3.5], seen_q * 100])
    reference = optimize.least_squares(residuals, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    made = [SteadyPoint.from_parts(b, a, (50.0, 0.01 * t, 0.0)) for a, b, t in zip(seen_q, seen_p, q, strict=True)]
    fit = QUADRATIC.fit(made)
    assert fit.coefficients[:3] == pytest.approx(reference.x[:3] * [1e4, 1e5, 1e6], rel=1e-5)
    assert fit.chi_square == pytest.approx(2 * reference.cost, rel=1e-8)


def test_common_error_of_the_pressure_span_moves_shut_off_by_its_share():
    # 1 % of span: 1 % of shut-off pressure and of air power, nothing of free delivery
    fit = QUADRATIC.fit(known.ten_orifices(u_p=1e-3, u_q=1e-9, common=[("pressure span", 0.01, 0.0)]))
    assert fit.shut_off.standard_uncertainty == pytest.approx(200.0, rel=1e-3)
    assert fit.air_power.standard_uncertainty == pytest.approx(0.01 * known.LARGEST_POWER, rel=1e-3)
    assert fit.free_delivery.standard_uncertainty < 1e-6


def test_common_error_of_the_flow_factor_moves_free_delivery_by_its_share():
    fit = QUADRATIC.fit(known.ten_orifices(u_p=1e-3, u_q=1e-9, common=[("flow factor", 0.0, 0.02)]))
    assert fit.free_delivery.standard_uncertainty == pytest.approx(0.02 * known.FREE_DELIVERY, rel=1e-3)
    assert fit.air_power.standard_uncertainty == pytest.approx(0.02 * known.LARGEST_POWER, rel=1e-3)
    assert fit.shut_off.standard_uncertainty < 2.0


def test_more_points_do_not_average_a_common_error_away():
    def u(n):
        q = np.linspace(0.003, 0.057, n)
        made = known.points(q, known.blower(q), u_p=1.0, u_q=1e-7, common=[("pressure span", 0.01, 0.0)])
        return QUADRATIC.fit(made).shut_off.standard_uncertainty

    assert u(40) == pytest.approx(u(10), rel=0.01)


def test_simultaneous_band_is_that_of_scheffe_or_a_little_less():
    # For a quadratic with 9 degrees of freedom Scheffé's factor sqrt(3 F(0.95; 3, 9)) = 3.404 is an upper bound
    # (H. Scheffé, The Analysis of Variance, 1959); over a finite range the exact one is somewhat smaller, and the
    # pointwise t = 2.262 is a lower bound.
    rng = np.random.default_rng(3)
    fit = QUADRATIC.fit(known.noisy(rng, np.linspace(0.003, 0.055, 12), known.blower))
    at = np.linspace(0.0, 0.06, 50)
    lower, upper = fit.band(at)
    factor = (upper - lower) / 2 / fit.pressure(at)[1]
    scheffe = np.sqrt(3 * stats.f.ppf(0.95, 3, 9))
    assert scheffe == pytest.approx(3.404, abs=1e-3)
    assert np.ptp(factor) < 1e-9
    assert 2.8 < factor[0] < scheffe
    lower, upper = fit.band(at, simultaneous=False)
    assert (upper - lower) / 2 / fit.pressure(at)[1] == pytest.approx(np.full(50, 2.262), abs=1e-3)


@pytest.mark.exhaustive
def test_simultaneous_band_holds_the_whole_curve_and_the_pointwise_one_does_not():
    held = {True: 0, False: 0}
    at = np.linspace(0.0, 0.0604, 40)
    for k in range(150):
        fit = QUADRATIC.fit(known.noisy(np.random.default_rng([5, k]), np.linspace(0.003, 0.055, 12), known.blower))
        for simultaneous in held:
            lower, upper = fit.band(at, simultaneous=simultaneous)
            held[simultaneous] += bool(np.all((lower <= known.blower(at)) & (known.blower(at) <= upper)))
    # 150 trials: 95 % gives 142.5 with standard deviation 2.7
    assert 133 <= held[True] <= 150
    assert held[False] < held[True] - 5


@pytest.mark.exhaustive
def test_next_reading_lies_in_the_prediction_range():
    inside = 0
    for k in range(150):
        rng = np.random.default_rng([6, k])
        fit = QUADRATIC.fit(known.noisy(rng, np.linspace(0.003, 0.055, 12), known.blower, u_q=0.0))
        lower, upper = fit.prediction(np.array([0.03]))
        inside += bool(lower[0] <= known.blower(0.03) + 30 * rng.standard_normal() <= upper[0])
    assert 133 <= inside <= 149


def test_hump_is_fitted_by_a_cubic():
    q = np.linspace(0.001, 0.055, 14)
    x = q / 0.06
    p = 15000 * (1 + 0.35 * x - 0.2 * x**2 - 1.15 * x**3)
    fit = BlowerCurve().fit(known.noisy(np.random.default_rng(7), q, lambda _: p, u_p=15.0, u_q=2e-5))
    assert fit.form == "cubic"
    assert fit.slope(0.002) > 0
    assert fit.shut_off.lower < 15000 < fit.shut_off.upper


def test_information_criterion_is_that_of_hurvich_and_tsai():
    # By hand: n = 10, chi2 = 10, 3 coefficients and the scale: 0 + 8 + 2*4*5/(10-5) = 16
    assert aicc(10.0, 10, 3) == pytest.approx(16.0)
    assert aicc(10.0, 5, 3) == np.inf


def test_choice_of_shape_is_said_in_words():
    fit = BlowerCurve().fit(known.noisy(np.random.default_rng(8), np.linspace(0.003, 0.055, 12), known.blower))
    assert "AICc" in fit.why
    assert "left-out" in fit.why


def test_fitting_twice_is_fitting_once():
    made = known.noisy(np.random.default_rng(9), np.linspace(0.003, 0.055, 12), known.blower)
    curve = BlowerCurve()
    first, second = curve.fit(made), curve.fit(made)
    assert first.shut_off == second.shut_off
    assert np.array_equal(first.covariance, second.covariance)


def test_a_point_taken_while_the_hand_moved_is_left_out_and_named():
    made = known.noisy(np.random.default_rng(10), np.linspace(0.003, 0.055, 14), known.blower, u_p=20.0, u_q=2e-5)
    bad = SteadyPoint.from_parts(made[6].pressure - 1500, made[6].flow, (20.0, 2e-5, 0.0), start=60.0, end=66.0)
    fit = BlowerCurve().fit([*made[:6], bad, *made[7:]])
    assert [item.start for item in fit.refused] == [60.0]
    assert "Pa off the curve" in fit.refused[0].reason
    assert fit.shut_off.lower < known.SHUT_OFF < fit.shut_off.upper


def test_three_points_are_refused_with_what_is_missing():
    q = np.array([0.004, 0.008, 0.012])
    with pytest.raises(TooFewPoints, match="high flow"):
        BlowerCurve().fit(known.points(q, known.blower(q)))


def test_sweep_that_stayed_at_low_flow_asks_for_more_points_at_high_flow():
    fit = BlowerCurve().fit(known.noisy(np.random.default_rng(11), np.linspace(0.003, 0.03, 9), known.blower))
    assert any("more points at high flow" in word for word in fit.advice)
    assert fit.free_delivery.extrapolated
    assert fit.free_delivery.lower < known.FREE_DELIVERY < fit.free_delivery.upper


def test_swapped_channels_are_named():
    q = np.linspace(0.003, 0.055, 10)
    with pytest.raises(NotIdentifiable, match=r"swapped|generator"):
        BlowerCurve().fit(known.points(q, 2e5 * q + 6e6 * q**2))


def test_a_blocked_pressure_tap_is_named():
    q = np.linspace(0.003, 0.055, 10)
    rng = np.random.default_rng(16)
    with pytest.raises(NotIdentifiable, match="blocked pressure tap"):
        BlowerCurve().fit(known.noisy(rng, q, lambda x: 1200 + 0 * x, u_p=1.0))


def test_an_anemometer_turned_round_is_named():
    q = np.linspace(0.003, 0.055, 10)
    with pytest.raises(TooFewPoints):
        BlowerCurve().fit(known.points(-q, known.blower(q)))
    made = known.points(np.concatenate([-q[:1], q[1:]]), known.blower(q))
    fit = BlowerCurve().fit(made)
    assert "direction of the anemometer" in fit.refused[0].reason


def test_points_that_never_left_one_place_are_refused():
    rng = np.random.default_rng(12)
    with pytest.raises(NotIdentifiable, match="same pressure and flow"):
        BlowerCurve().fit(known.noisy(rng, np.full(8, 0.03), known.blower, u_p=5.0, u_q=1e-5))


def test_drift_of_the_source_over_a_sweep_and_back_is_said():
    q = np.concatenate([np.linspace(0.004, 0.054, 9), np.linspace(0.054, 0.004, 9)])
    time = np.arange(18) * 8.0
    p = known.blower(q) * (1 - 0.02 * time / time[-1])
    made = [
        SteadyPoint.from_parts(y, x, (10.0, 1e-5, 0.0), start=t, end=t + 6) for x, y, t in zip(q, p, time, strict=True)
    ]
    fit = BlowerCurve().fit(made)
    assert any("drifted" in note and "fell by 2.0 %" in note for note in fit.notes)


def test_positive_displacement_source_is_fitted_as_flow_against_pressure():
    # A piston pump: 0.6 L/s free, losing 0.2 mL/s per kPa; truth by construction
    rng = np.random.default_rng(13)
    p = np.linspace(20e3, 500e3, 9)
    q = 6e-4 - 2e-10 * p
    made = [
        SteadyPoint.from_parts(
            y * (1 + 0.002 * rng.standard_normal()), x + 2e-6 * rng.standard_normal(), (0.002 * y, 2e-6, 0.0)
        )
        for x, y in zip(q, p, strict=True)
    ]
    fit = BlowerCurve().fit(made)
    assert fit.form == "steep line with leakage"
    assert fit.free_delivery.lower < 6e-4 < fit.free_delivery.upper
    assert fit.shut_off.extrapolated
    assert any("relief" in word for word in fit.advice)


def relieved(q):
    """A pump of 22 L/s losing 0.3 mL/s per Pa, with a relief valve from 22 kPa on that rises by 12 % of the rest."""
    pushed = (0.022 - q) / 3e-7
    return np.where(pushed > 22000, 22000 + 0.12 * (pushed - 22000), pushed)


def test_relief_valve_of_a_pump_is_found():
    q = np.array([0.001, 0.004, 0.007, 0.010, 0.013, 0.0165, 0.0178, 0.019, 0.0201, 0.021, 0.0216])
    fit = BlowerCurve().fit(known.noisy(np.random.default_rng(14), q, relieved, u_p=40.0, u_q=2e-5))
    assert fit.form == "steep line with leakage"
    assert any("relief valve opens at about 2" in note for note in fit.notes)
    # by hand: shut-off 22000 + 0.12 (73333 - 22000) = 28160 Pa; knee at 22 kPa and 0.022 - 0.0066 = 0.0154 m3/s: 338.8 W
    assert fit.shut_off.lower < 28160 < fit.shut_off.upper
    assert fit.free_delivery.lower < 0.022 < fit.free_delivery.upper
    assert fit.air_power.value == pytest.approx(338.8, rel=0.03)
    assert fit.pressure(np.array([0.005, 0.02]))[0] == pytest.approx(relieved(np.array([0.005, 0.02])), rel=0.02)


def test_a_tank_that_ran_down_is_told_from_the_regulated_line():
    # A regulator at 15 kPa with 40 Pa droop per L/s; then the tank is empty and 3.4 L/s are left at any opening
    made = known.noisy(np.random.default_rng(15), np.linspace(0.001, 0.018, 6), lambda q: 15000 - 4e4 * q, u_p=8.0)
    made = [replace(point, start=8.0 * k, end=8.0 * k + 6) for k, point in enumerate(made)]
    empty = [
        SteadyPoint.from_parts(p, 0.0034, (5.0, 1e-5, 0.0), start=t, end=t + 6.0)
        for p, t in ((440.0, 60.0), (320.0, 68.0), (190.0, 76.0))
    ]
    fit = BlowerCurve().fit([*made, *empty])
    assert [item.start for item in fit.refused] == [60.0, 68.0, 76.0]
    assert "run down" in fit.refused[0].reason
    assert "3.4 L/s" in fit.refused[0].reason
    assert fit.shut_off.value == pytest.approx(15000, abs=30)  # errors of 8 Pa in six points
    assert not fit.free_delivery.known  # 15 kPa are left at the highest flow: nobody knows where it would end
    assert fit.free_delivery.assumptions


def test_the_name_is_the_shape_with_the_largest_share():
    q = np.linspace(0.001, 0.055, 24)
    p = 15000 * (1 - 0.3 * (q / 0.06) - 0.7 * (q / 0.06) ** 4)
    fit = BlowerCurve().fit(known.points(q, p, u_p=3.0, u_q=1e-6))
    # a line with a fourth power is followed by both of these shapes
    shares = {item.form: item.weight for item in fit.candidates}
    assert max(shares, key=shares.get) == fit.form in ("quartic", "line and power")
    assert fit.why.startswith(f"{fit.form}: best of ")
    assert fit.order == 4
    assert fit.shut_off.value == pytest.approx(15000, rel=1e-4)


def test_flow_against_a_given_pressure_is_that_of_the_quadratic_formula():
    fit = QUADRATIC.fit(known.ten_orifices())
    exact = (-120000 + np.sqrt(120000**2 + 4 * 3.5e6 * 10000)) / (2 * 3.5e6)
    assert fit.flow_at(10000.0).value == pytest.approx(exact, rel=1e-5)


def test_points_far_better_than_stated_keep_their_stated_uncertainty():
    fit = QUADRATIC.fit(known.ten_orifices(u_p=50.0, u_q=0.0))
    assert fit.shut_off.standard_uncertainty > 20.0


def test_common_errors_of_one_name_add_with_their_signs():
    # The same error raising pressure at low flow and lowering it at high flow tilts the curve, and hardly moves its middle
    q = np.linspace(0.003, 0.057, 10)
    sign = np.linspace(1, -1, 10)
    made = [
        SteadyPoint.from_parts(y, x, (1.0, 1e-7, 0.0), [CommonError("tilt", 100 * s, 0.0)])
        for x, y, s in zip(q, known.blower(q), sign, strict=True)
    ]
    fit = QUADRATIC.fit(made)
    assert fit.pressure(0.03)[1] < 5.0
    assert fit.shut_off.standard_uncertainty == pytest.approx(100 * (1 + 0.003 / 0.027), rel=0.05)


@pytest.mark.parametrize("number", [2, 3, 4, 8])
def test_the_points_of_a_run_are_refused_as_one_place_and_not_measured_against_ends_that_nobody_knows(number):
    """A run stays at one opening: foam moves its pressure and flow by a few per cent, and there is no curve in it."""
    rng = np.random.default_rng(17)
    q = 0.0127 * (1 + 0.02 * rng.standard_normal(number))
    with pytest.raises(NotIdentifiable) as refused:
        BlowerCurve().fit(known.noisy(rng, q, known.blower, u_p=60.0, u_q=1e-5))
    assert "no curve" in refused.value.what
    said = f"{refused.value.what} {refused.value.remedy}"
    assert "sweep" in said
    assert "%" not in said


def test_few_points_are_not_compared_with_a_shut_off_that_was_not_fitted():
    with pytest.raises(TooFewPoints) as refused:
        BlowerCurve().fit(known.points(np.array([0.02, 0.025, 0.03]), known.blower(np.array([0.02, 0.025, 0.03]))))
    assert "shut-off" not in refused.value.remedy
    assert "of the highest" in refused.value.remedy
