"""Errors in both variables and certified polynomials: published answers, with the digits that are reached."""

import numpy as np
import pytest

from frothline.curve.regression import fit_polynomial
from frothline.errors import NotIdentifiable

# K. Pearson's data (1901) with the weights of D. York, Can. J. Phys. 44 (1966) 1079: x, weight of x, y, weight of y.
PEARSON = np.array(
    [
        (0.0, 1000, 5.9, 1.0),
        (0.9, 1000, 5.4, 1.8),
        (1.8, 500, 4.4, 4.0),
        (2.6, 800, 4.6, 8.0),
        (3.3, 200, 3.5, 20),
        (4.4, 80, 3.7, 20),
        (5.2, 60, 2.8, 70),
        (6.1, 20, 2.8, 70),
        (6.5, 1.8, 2.4, 100),
        (7.4, 1.0, 1.5, 500),
    ]
)

# NIST Statistical Reference Datasets, "Pontius": deflection of a load cell against load, quadratic, 40 observations.
PONTIUS_LOAD = np.tile(np.arange(150000.0, 3000001.0, 150000.0), 2)
PONTIUS_DEFLECTION = np.array(
    [
        ".11019",
        ".21956",
        ".32949",
        ".43899",
        ".54803",
        ".65694",
        ".76562",
        ".87487",
        ".98292",
        "1.09146",
        "1.20001",
        "1.30822",
        "1.41599",
        "1.52399",
        "1.63194",
        "1.73947",
        "1.84646",
        "1.95392",
        "2.06128",
        "2.16844",
        ".11052",
        ".22018",
        ".32939",
        ".43886",
        ".54798",
        ".65739",
        ".76596",
        ".87474",
        ".98300",
        "1.09150",
        "1.20004",
        "1.30818",
        "1.41613",
        "1.52408",
        "1.63159",
        "1.73965",
        "1.84696",
        "1.95445",
        "2.06177",
        "2.16829",
    ],
    dtype=float,
)


def york():
    x, wx, y, wy = PEARSON.T
    return fit_polynomial(x, y, 1 / wx, 1 / wy, 0.0, (0, 1))


def agreeing_digits(found, published):
    return -np.log10(np.max(np.abs(np.asarray(found) / np.asarray(published) - 1)) + 1e-17)


def test_pearsons_data_with_yorks_weights_give_the_accepted_line():
    # Accepted: 5.47991022403286, -0.48053340744620 (high-precision solution; Williamson 1968 gives 5.47991022403,
    # -0.48053340745). 13 digits: the iteration stops at 1e-13 of the coefficients.
    assert agreeing_digits(york().coefficients, [5.47991022403286, -0.48053340744620]) > 12


def test_pearsons_data_give_the_standard_errors_of_york_2004():
    # York et al., Am. J. Phys. 72 (2004) 367: unscaled, at the adjusted points: 0.29497073549310865, 0.05798500900077447.
    errors = np.sqrt(np.diag(york().covariance))
    assert agreeing_digits(errors, [0.29497073549310865, 0.05798500900077447]) > 11


def test_pearsons_data_give_the_published_sum_of_squares():
    # S = 11.866353194061 and S/(n - 2) = 1.4832941492576808
    fit = york()
    assert agreeing_digits(fit.chi_square, 11.866353194061) > 12
    assert agreeing_digits(fit.chi_square / fit.degrees_of_freedom, 1.4832941492576808) > 12


def test_x_intercept_of_pearsons_data_needs_the_covariance():
    # Published -a/b = 11.403806975993, standard error 0.80209694483 with the covariance
    fit = york()
    a, b = fit.coefficients
    gradient = np.array([-1 / b, a / b**2])
    assert -a / b == pytest.approx(11.403806975993, rel=1e-12)
    assert np.sqrt(gradient @ fit.covariance @ gradient) == pytest.approx(0.80209694483, rel=1e-10)


def test_exchanging_the_axes_gives_the_same_line():
    x, wx, y, wy = PEARSON.T
    turned = fit_polynomial(y, x, 1 / wy, 1 / wx, 0.0, (0, 1))
    a, b = york().coefficients
    c, d = turned.coefficients
    assert 1 / d == pytest.approx(b, rel=1e-10)
    assert -c / d == pytest.approx(a, rel=1e-10)


def test_load_cell_of_nist_agrees_to_twelve_digits():
    # Certified: 0.673565789473684E-03, 0.732059160401003E-06, -0.316081871345029E-14. Reached 12 to 13; the data's own
    # condition (loads to the fourth power over 26 decades, unscaled) allows no more in double precision.
    fit = fit_polynomial(PONTIUS_LOAD, PONTIUS_DEFLECTION, 0.0, 0.0, 0.0, (0, 1, 2))
    certified = [0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14]
    assert agreeing_digits(fit.coefficients, certified) > 12


def test_load_cell_of_nist_standard_deviations():
    # Certified: 0.107938612033077E-03, 0.157817399981659E-09, 0.486652849992036E-16; residual sum 0.155761768796992E-05
    fit = fit_polynomial(PONTIUS_LOAD, PONTIUS_DEFLECTION, 0.0, 0.0, 0.0, (0, 1, 2))
    variance = fit.chi_square / fit.degrees_of_freedom
    certified = [0.107938612033077e-03, 0.157817399981659e-09, 0.486652849992036e-16]
    assert agreeing_digits(fit.chi_square, 0.155761768796992e-05) > 10
    assert agreeing_digits(np.sqrt(np.diag(fit.covariance) * variance), certified) > 10


def test_thermometer_of_the_guide_keeps_the_covariance():
    # JCGM 100:2008, H.3: y1 -0.1712 (0.0029), y2 0.00218 (0.00067), r -0.930; b(30 C) -0.1494 with 0.0041
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])
    fit = fit_polynomial(t - 20, b, 0.0, 0.0, 0.0, (0, 1))
    covariance = fit.covariance * fit.chi_square / fit.degrees_of_freedom
    u = np.sqrt(np.diag(covariance))
    assert fit.coefficients == pytest.approx([-0.1712, 0.00218], rel=2e-3)
    assert u == pytest.approx([0.0029, 0.00067], rel=1e-2)
    assert covariance[0, 1] / u[0] / u[1] == pytest.approx(-0.930, abs=5e-4)
    at_30 = np.array([1.0, 10.0])
    assert at_30 @ fit.coefficients == pytest.approx(-0.1494, abs=5e-5)
    assert np.sqrt(at_30 @ covariance @ at_30) == pytest.approx(0.0041, abs=5e-5)


def test_a_correlation_of_the_errors_along_the_curve_costs_nothing():
    # Errors that move a point along the line leave the line where it is: slope -2, so cov = -2 var_x, var_y = 4 var_x.
    # By hand: the variance across the line is var_y + 4 var_x + 4 cov = 4 + 4 - 8 = 0 (times var_x), here plus 1.
    rng = np.random.default_rng(4)
    x = np.linspace(0.0, 10.0, 40)
    y = 30 - 2 * x
    along = rng.standard_normal(40)
    across = rng.standard_normal(40)
    fit = fit_polynomial(x + along, y - 2 * along + across, 1.0, 5.0, -2.0, (0, 1))
    expected = np.sqrt(1 / np.sum((x - x.mean()) ** 2))  # slope of a line with unit errors in y alone
    assert np.sqrt(fit.covariance[1, 1]) == pytest.approx(expected, rel=0.1)
    assert fit.coefficients[1] == pytest.approx(-2.0, abs=4 * expected)


def test_shift_by_a_common_error_is_that_of_refitting_moved_points():
    x, wx, y, wy = PEARSON.T
    fit = york()
    moved = fit_polynomial(x * 1.0001, y * 1.0002, 1 / wx, 1 / wy, 0.0, (0, 1)).coefficients
    predicted = fit.coefficients + fit.shift(0.0001 * x, 0.0002 * y)
    # to first order in a change of 1e-4, second-order terms being 1e-8; the weights' own change is of first order in
    # the residuals, which for these data is a tenth of the shift
    assert predicted == pytest.approx(moved, abs=2e-4)


def test_points_at_one_flow_are_refused():
    with pytest.raises(NotIdentifiable):
        fit_polynomial([1.0, 1.0, 1.0, 1.0], [1.0, 2.0, 3.0, 4.0], 0.01, 0.01, 0.0, (0, 1, 2))
