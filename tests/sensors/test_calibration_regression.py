"""Regressions of the calibrations against certified and published data sets. Digits are counted, not waved at."""

import warnings
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats
from york_line import york_line

from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.sensors.regression import choose_order, polynomial, polynomial_both


def digits(computed, certified):
    """Common decimal digits, the log relative error that NIST counts in."""
    computed, certified = np.asarray(computed, float), np.asarray(certified, float)
    error = np.abs(computed - certified) / np.abs(certified)
    return -np.log10(np.maximum(error, 1e-16))


# NIST StRD, linear regression, "Pontius": load-cell calibration, quadratic, 40 observations.
PONTIUS_Y = """
.11019 .21956 .32949 .43899 .54803 .65694 .76562 .87487 .98292 1.09146
1.20001 1.30822 1.41599 1.52399 1.63194 1.73947 1.84646 1.95392 2.06128 2.16844
.11052 .22018 .32939 .43886 .54798 .65739 .76596 .87474 .98300 1.09150
1.20004 1.30818 1.41613 1.52408 1.63159 1.73965 1.84696 1.95445 2.06177 2.16829
"""
PONTIUS_X = np.tile(np.arange(1, 21) * 150000.0, 2)
PONTIUS = np.array([float(y) for y in PONTIUS_Y.split()])


def test_the_load_cell_of_nist_pontius_is_fitted_to_eleven_certified_digits():
    fit = polynomial(PONTIUS_X, PONTIUS, 2)
    certified = [0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14]
    deviations = [0.107938612033077e-03, 0.157817399981659e-09, 0.486652849992036e-16]
    # Coefficients: y has six digits and the condition of the scaled design is near 1e2, so 11 of 15 can be asked for.
    assert digits(fit.coefficients, certified).min() > 11
    assert digits(np.sqrt(np.diag(fit.covariance)), deviations).min() > 10
    assert digits(fit.chi_square, 0.155761768796992e-05) > 10
    total = np.sum((PONTIUS - PONTIUS.mean()) ** 2)
    assert digits(1 - fit.chi_square / total, 0.999999900178537) > 13
    assert digits(total - fit.chi_square, 15.6040343244198) > 12


# NIST StRD, linear regression, "Norris": ozone monitors, straight, 36 observations (y, x). From memory; the certified
# digits below come out only if every one of them is right.
NORRIS = """
0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6
778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6
557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1
888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5
"""


def test_the_ozone_monitors_of_nist_norris_are_fitted_to_twelve_certified_digits():
    y, x = np.array([float(v) for v in NORRIS.split()]).reshape(-1, 2).T
    fit = polynomial(x, y, 1)
    assert digits(fit.coefficients, [-0.262323073774029, 1.00211681802045]).min() > 12
    assert digits(np.sqrt(np.diag(fit.covariance)), [0.232818234301152, 0.429796848199937e-03]).min() > 12
    assert digits(np.sqrt(fit.chi_square / fit.dof), 0.884796396144373) > 12


@pytest.mark.parametrize(("ratio", "asked"), [(1.0, 10), (0.1, 13)], ids=["Wampler1", "Wampler2"])
def test_the_fifth_order_polynomials_of_nist_wampler(ratio, asked):
    """NIST StRD "Wampler1" and "Wampler2": y is the sum of (ratio x)^k, k 0 to 5, x 0 to 20; certified B_k = ratio^k.

    NIST level "higher": with x over its largest the design's condition is 3e3, but the terms span six decades, which
    is what the digits of the small ones are lost to.
    """
    x = np.arange(21.0)
    y = np.round(sum((ratio * x) ** k for k in range(6)), 5)
    assert digits(polynomial(x, y, 5).coefficients, ratio ** np.arange(6.0)).min() > asked


# GUM H.3 (JCGM 100:2008, table H.6): a thermometer's corrections.
THERMOMETER = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
CORRECTION = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])


def test_the_thermometer_of_gum_h3_gives_the_published_line_and_keeps_its_covariance():
    fit = polynomial(THERMOMETER - 20, CORRECTION, 1)
    u1, u2 = np.sqrt(np.diag(fit.covariance))
    assert round(fit.coefficients[0], 4) == -0.1712
    assert round(u1, 4) == 0.0029
    assert round(fit.coefficients[1], 5) == 0.00218
    assert round(u2, 5) == 0.00067
    assert round(fit.covariance[0, 1] / u1 / u2, 3) == -0.930
    assert round(np.sqrt(fit.chi_square / fit.dof), 4) == 0.0035
    assert fit.dof == 9
    value, u = fit.predict(30.0 - 20)
    assert round(float(value), 4) == -0.1494
    assert round(float(u), 4) == 0.0041  # 0.0073 if the covariance were dropped


# Pearson's points with York's weights; answers as collected in York et al., Am. J. Phys. 72 (2004).
X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
U_X = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0]) ** -0.5
U_Y = np.array([1.0, 1.8, 4.0, 8.0, 20, 20, 70, 70, 100, 500]) ** -0.5
EXACT = (5.47991022403286, -0.48053340744620)
YORK_ERRORS = (0.294970735, 0.0579850090)  # expected points, unscaled
# Observed points (Kalantar 1992: 0.29193, 0.057617), with the digits of the GUM Tree Calculator's own test
OBSERVED_ERRORS = (0.2919334989766298, 0.05761674076886482)


def test_pearsons_points_with_yorks_weights_give_the_accepted_line():
    line = york_line(X, Y, U_X, U_Y)
    assert digits([line.intercept, line.slope], EXACT).min() > 12
    assert digits(line.chi_square, 11.866353194061) > 11
    assert digits(np.sqrt(np.diag(line.expected_point)), YORK_ERRORS).min() > 8
    assert digits(np.sqrt(np.diag(line.observed_point)), OBSERVED_ERRORS).min() > 7.5  # their iteration stops there
    scaled = np.sqrt(np.diag(line.scaled(line.expected_point)))
    assert digits(scaled, (0.359246522551112, 0.070620269528771)).min() > 8
    # Where the line meets the axis, 11.403806975993 with 0.80209694483 (published): holds only with the covariance.
    slope = np.array([-1 / line.slope, line.intercept / line.slope**2])
    assert digits(-line.intercept / line.slope, 11.403806975993) > 12
    assert digits(np.sqrt(slope @ line.expected_point @ slope), 0.80209694483) > 10


def test_the_general_fit_with_errors_in_both_variables_is_yorks_line_at_order_one():
    fit = polynomial_both(X, Y, U_X, U_Y, 1)
    assert digits(fit.coefficients, EXACT).min() > 12
    assert digits(np.sqrt(np.diag(fit.covariance)), YORK_ERRORS).min() > 8
    assert stats.chi2.sf(fit.chi_square, fit.dof) == pytest.approx(0.157267, abs=1e-6)  # published p-value of this case


def test_weights_in_y_alone_give_the_published_lines_of_the_same_points():
    """The published values agree with exact rational arithmetic (first line) to nine digits only; so much is asked."""
    n, sx, sy = 10, sum(map(Fraction, map(str, X))), sum(map(Fraction, map(str, Y)))
    sxx = sum(Fraction(str(x)) ** 2 for x in X)
    sxy = sum(Fraction(str(x)) * Fraction(str(y)) for x, y in zip(X, Y, strict=True))
    exact = (n * sxy - sx * sy) / (n * sxx - sx**2)
    assert digits(polynomial(X, Y, 1).coefficients[1], float(exact)) > 14
    assert digits(polynomial(X, Y, 1).coefficients, (5.76118519259, -0.53957727555)).min() > 8.5
    assert digits(polynomial(X, Y, 1, U_Y).coefficients, (6.10010929336, -0.61081295310)).min() > 8


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
        polynomial([1.0], [1.0], 1)


@pytest.mark.slow
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
