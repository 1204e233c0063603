"""The line of a calibration: against published answers, and which order the points can carry."""

import warnings

import numpy as np
import pytest
from scipy import stats

from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.sensors.calibration_fit import choose_order, polynomial_both


def digits(computed, certified):
    """Common decimal digits, the log relative error that NIST counts in."""
    computed, certified = np.asarray(computed, float), np.asarray(certified, float)
    error = np.abs(computed - certified) / np.abs(certified)
    return -np.log10(np.maximum(error, 1e-16))


# Pearson's points with York's weights; answers as collected in York et al., Am. J. Phys. 72 (2004).
X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
U_X = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0]) ** -0.5
U_Y = np.array([1.0, 1.8, 4.0, 8.0, 20, 20, 70, 70, 100, 500]) ** -0.5
EXACT = (5.47991022403286, -0.48053340744620)
YORK_ERRORS = (0.294970735, 0.0579850090)  # expected points, unscaled
# Observed points (Kalantar 1992: 0.29193, 0.057617), with the digits of the GUM Tree Calculator's own test
OBSERVED_ERRORS = (0.2919334989766298, 0.05761674076886482)


def test_the_general_fit_with_errors_in_both_variables_is_yorks_line_at_order_one():
    fit = polynomial_both(X, Y, U_X, U_Y, 1)
    assert digits(fit.coefficients, EXACT).min() > 12
    assert digits(np.sqrt(np.diag(fit.covariance)), YORK_ERRORS).min() > 8
    assert stats.chi2.sf(fit.chi_square, fit.dof) == pytest.approx(0.157267, abs=1e-6)  # published p-value of this case


def test_a_parabola_with_errors_in_both_variables_agrees_with_odrpack():
    """ODRPACK (scipy.odr) as the second opinion; its own convergence reaches about eight digits."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        odr = pytest.importorskip("scipy.odr")
    generator = np.random.default_rng(7)
    x = np.linspace(0, 10, 12)
    y = 1 + 2 * x - 0.15 * x**2 + generator.normal(0, 0.1, 12)
    x = x + generator.normal(0, 0.2, 12)
    u_x, u_y = np.full(12, 0.2), np.linspace(0.05, 0.2, 12)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        model = odr.Model(lambda b, x: b[0] + b[1] * x + b[2] * x**2)
        run = odr.ODR(odr.RealData(x, y, sx=u_x, sy=u_y), model, beta0=[1, 2, -0.1], sstol=1e-15, partol=1e-15)
        other = run.run()
    fit = polynomial_both(x, y, u_x, u_y, 2)
    assert fit.coefficients == pytest.approx(other.beta, rel=1e-5)
    assert fit.chi_square == pytest.approx(other.sum_square, rel=1e-7)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(np.sqrt(np.diag(other.cov_beta)), rel=0.02)


def test_the_order_is_chosen_by_what_the_points_can_carry():
    x = np.linspace(0, 20, 9)
    generator = np.random.default_rng(3)
    noise = generator.normal(0, 0.05, 9)
    straight = choose_order(x, 1 + 2 * x + noise, 0.01, 0.05)
    assert straight.fit.order == 1
    assert straight.reason.startswith("straight")
    curved = choose_order(x, 1 + 2 * x - 0.01 * x**2 + noise, 0.01, 0.05)
    assert curved.fit.order == 2
    assert curved.rival is not None
    assert curved.rival.order == 1


def test_four_points_never_carry_a_parabola():
    chosen = choose_order([0, 1, 2, 3], [0.0, 1.0, 4.0, 9.0], 0.01, 0.01)
    assert chosen.fit.order == 1
    assert "too few" in chosen.reason


def test_points_at_one_setting_are_refused_with_what_to_do():
    with pytest.raises(NotIdentifiable, match="more settings"):
        polynomial_both([2.0, 2.0, 2.0], [1.0, 1.1, 0.9], 0.1, 0.1, 1)
    with pytest.raises(TooFewPoints):
        polynomial_both([1.0], [1.0], 0.1, 0.1, 1)


@pytest.mark.slow
@pytest.mark.exhaustive
def test_the_interval_of_a_line_with_errors_in_both_variables_holds_the_truth():
    """2,000 drawn lines: the 95 % interval of the slope holds it in 93 to 97 % (binomial sd 0.5 %)."""
    generator = np.random.default_rng(11)
    truth = np.linspace(0, 10, 8)
    u_x, u_y = 0.1, 0.3
    inside = 0
    for _ in range(2000):
        fit = polynomial_both(
            truth + generator.normal(0, u_x, 8), 3 - 2 * truth + generator.normal(0, u_y, 8), u_x, u_y, 1
        )
        inside += abs(fit.coefficients[1] + 2) < 1.96 * np.sqrt(fit.covariance[1, 1])
    assert 0.93 < inside / 2000 < 0.97


def test_a_line_through_counts_far_from_zero_keeps_its_digits():
    """A load cell at rest reads some 8 million counts and moves by ten thousand: exact points give exact constants."""
    counts = 8_388_608.0 + np.array([0.0, 2000, 4000, 6000, 8000, 10000])
    mass = 0.5 + 2e-4 * (counts - 8_388_608) + 1e-10 * (counts - 8_388_608) ** 2
    fit = polynomial_both(counts, mass, 1.0, 1e-4, 2)
    assert np.polynomial.polynomial.polyval(counts, fit.coefficients) == pytest.approx(mass, abs=1e-7)
    slope = fit.coefficients[1] + 2 * fit.coefficients[2] * 8_388_608.0
    assert slope == pytest.approx(2e-4, rel=1e-6)
