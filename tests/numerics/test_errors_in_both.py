"""Errors in both variables and certified polynomials: published answers, with the digits that are reached."""

from fractions import Fraction

import numpy as np
import pytest
from york_line import york_line

from frothline.errors import NotIdentifiable
from frothline.numerics.errors_in_both import fit_polynomial

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
    fit = fit_polynomial(x, y, 0.0, 0.0, 0.0, (0, 1))
    deviation = np.sqrt(fit.chi_square / fit.degrees_of_freedom)
    assert agreeing_digits(fit.coefficients, [-0.262323073774029, 1.00211681802045]) > 12
    certified = [0.232818234301152, 0.429796848199937e-03]
    assert agreeing_digits(np.sqrt(np.diag(fit.covariance)) * deviation, certified) > 12
    assert agreeing_digits(deviation, 0.884796396144373) > 12


@pytest.mark.parametrize(("ratio", "asked"), [(1.0, 9), (0.1, 12)], ids=["Wampler1", "Wampler2"])
def test_the_fifth_order_polynomials_of_nist_wampler(ratio, asked):
    """NIST StRD "Wampler1" and "Wampler2": y is the sum of (ratio x)^k, k 0 to 5, x 0 to 20; certified B_k = ratio^k.

    NIST level "higher": with x over its largest the design's condition is 3e3, but the terms span six decades, which
    is what the digits of the small ones are lost to.
    """
    x = np.arange(21.0)
    y = np.round(sum((ratio * x) ** k for k in range(6)), 5)
    assert (
        agreeing_digits(fit_polynomial(x, y, 0.0, 0.0, 0.0, tuple(range(6))).coefficients, ratio ** np.arange(6.0))
        > asked
    )


def test_weights_in_y_alone_give_the_published_lines_of_the_same_points():
    """The published values agree with exact rational arithmetic (first line) to nine digits only; so much is asked."""
    x, _, y, weight = PEARSON.T
    n, sx, sy = 10, sum(map(Fraction, map(str, x))), sum(map(Fraction, map(str, y)))
    sxx = sum(Fraction(str(one)) ** 2 for one in x)
    sxy = sum(Fraction(str(one)) * Fraction(str(other)) for one, other in zip(x, y, strict=True))
    exact = (n * sxy - sx * sy) / (n * sxx - sx**2)
    plain = fit_polynomial(x, y, 0.0, 1.0, 0.0, (0, 1)).coefficients
    assert agreeing_digits(plain[1], float(exact)) > 13
    assert agreeing_digits(plain, (5.76118519259, -0.53957727555)) > 8.5
    weighted = fit_polynomial(x, y, 0.0, 1 / weight, 0.0, (0, 1)).coefficients
    assert agreeing_digits(weighted, (6.10010929336, -0.61081295310)) > 8


# Observed points (Kalantar 1992: 0.29193, 0.057617), with the digits of the GUM Tree Calculator's own test
OBSERVED_ERRORS = (0.2919334989766298, 0.05761674076886482)


def test_yorks_unified_equations_give_the_same_line_and_the_same_errors():
    """The reference has both conventions of the standard errors; the fit has the one of the adjusted points."""
    x, wx, y, wy = PEARSON.T
    line = york_line(x, y, wx**-0.5, wy**-0.5)
    assert agreeing_digits([line.intercept, line.slope], york().coefficients) > 12
    assert agreeing_digits(np.sqrt(np.diag(line.expected_point)), np.sqrt(np.diag(york().covariance))) > 11
    assert agreeing_digits(np.sqrt(np.diag(line.observed_point)), OBSERVED_ERRORS) > 7.5  # their iteration stops there


def test_correlated_errors_of_a_point_are_taken_as_the_unified_equations_take_them():
    """York et al. 2004, eq. 13: a correlation of 0.5 in each point."""
    x, wx, y, wy = PEARSON.T
    line = york_line(x, y, wx**-0.5, wy**-0.5, 0.5)
    fit = fit_polynomial(x, y, 1 / wx, 1 / wy, 0.5 * (wx * wy) ** -0.5, (0, 1))
    assert agreeing_digits([line.intercept, line.slope], fit.coefficients) > 11
    assert agreeing_digits(np.sqrt(np.diag(line.expected_point)), np.sqrt(np.diag(fit.covariance))) > 10


def test_points_that_all_lie_on_the_axis_give_a_line_of_zeros():
    fit = fit_polynomial([1.0, 2.0, 3.0], [0.0, 0.0, 0.0], 0.01, 0.01, 0.0, (0, 1))
    assert fit.coefficients == pytest.approx([0.0, 0.0], abs=1e-15)
    assert fit.chi_square == pytest.approx(0.0, abs=1e-15)


def bent(seed, count=12, along=0.06, across=0.01):
    """Points of a curve that bends much within their error in x."""
    chance = np.random.default_rng(seed)
    x = np.linspace(0.05, 1.0, count)
    return x + chance.normal(0.0, along, count), 1 - 0.2 * x - 0.8 * x**4 + chance.normal(0.0, across, count)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("powers", [(0, 1, 2), (0, 1, 2, 3), (0, 1, 2, 3, 4)])
def test_a_curve_that_bends_within_the_error_is_fitted_as_by_a_general_package(seed, powers):
    """Plain iteration swings for ever there. odrpack may end in a worse minimum, never in a better one."""
    odrpack = pytest.importorskip("odrpack")
    x, y = bent(seed)
    fit = fit_polynomial(x, y, 0.06**2, 0.01**2, 0.0, powers)
    start = np.linalg.lstsq(x[:, None] ** np.array(powers), y, rcond=None)[0]
    other = odrpack.odr_fit(
        lambda at, beta: sum(b * at**k for b, k in zip(beta, powers, strict=True)),
        x, y, start, weight_x=np.full(x.size, 0.06**-2), weight_y=np.full(x.size, 0.01**-2), maxit=300,
    )  # fmt: skip
    assert fit.chi_square <= other.sum_square * (1 + 1e-6)
    if fit.chi_square > 0.999 * other.sum_square:
        assert np.abs(fit.coefficients - other.beta) / np.sqrt(np.diag(fit.covariance)) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("count", [61, 400])
def test_a_long_table_of_a_bent_curve_is_fitted_as_by_a_general_package(count):
    """A full matrix of 400 points takes 10 s, of 1,500 many minutes; a table entered by hand may have them."""
    odrpack = pytest.importorskip("odrpack")
    x, y = bent(11, count)
    fit = fit_polynomial(x, y, 0.06**2, 0.01**2, 0.0, (0, 1, 2, 3))
    start = np.linalg.lstsq(np.vander(x, 4, increasing=True), y, rcond=None)[0]
    other = odrpack.odr_fit(
        lambda at, beta: beta[0] + at * (beta[1] + at * (beta[2] + at * beta[3])),
        x, y, start, weight_x=np.full(count, 0.06**-2), weight_y=np.full(count, 0.01**-2), maxit=300,
    )  # fmt: skip
    assert fit.chi_square <= other.sum_square * (1 + 1e-3)
    assert np.abs(fit.coefficients - other.beta) / np.sqrt(np.diag(fit.covariance)) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("correlation", [-0.9, 0.5, 0.999])
@pytest.mark.parametrize("free", [12, 7])
def test_a_bent_curve_with_correlated_errors_is_at_its_least_distance(correlation, free):
    """Squared distances in the metric of each point, written down anew; some points may have no error in x."""
    x, y = bent(3)
    var_x, var_y = np.where(np.arange(12) < free, 0.06**2, 0.0), np.full(12, 0.01**2)
    cov = correlation * np.sqrt(var_x * var_y)
    powers = (0, 1, 2, 3)
    fit = fit_polynomial(x, y, var_x, var_y, cov, powers)

    def squares(coefficients, at):
        total = 0.0
        for k in range(12):
            off = np.array([x[k] - at[k], y[k] - sum(c * at[k] ** j for j, c in enumerate(coefficients))])
            matrix = np.array([[var_x[k], cov[k]], [cov[k], var_y[k]]])
            total += off @ np.linalg.solve(matrix, off) if var_x[k] else off[1] ** 2 / var_y[k]
        return total

    least = squares(fit.coefficients, fit.x_adjusted)
    assert fit.chi_square == pytest.approx(least, rel=1e-5)
    chance = np.random.default_rng(8)
    for size in (1e-2, 1e-3):
        for _ in range(40):
            moved = fit.x_adjusted + np.where(var_x > 0, size * chance.normal(size=12), 0.0)
            other = fit.coefficients + size * np.sqrt(np.diag(fit.covariance)) * chance.normal(size=4)
            assert squares(other, moved) > least * (1 - 1e-9)
