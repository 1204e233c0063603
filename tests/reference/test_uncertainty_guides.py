"""The law of propagation, effective degrees of freedom and drawing, against the worked examples of the guides."""

import numpy as np
import pytest
from monte_carlo import arcsine, curvilinear, monte_carlo, normal, numerical_tolerance, student, uniform
from scipy import stats
from uncertainties import correlated_values, ufloat, umath

from frothline.numerics.autocorrelation import mean_of_stretch
from frothline.numerics.uncertainty import coverage_factor, effective_dof, propagate, share


def test_the_end_gauge_of_gum_h1():
    """JCGM 100:2008, H.1, figures from memory: shares 25, 5.8, 3.9, 6.7, 2.9 and 16.6 nm give 32 nm, 16 dof, U99 93 nm.

    The shares are built here from the example's inputs: comparison 13 nm (24 dof), comparator 3.9 nm (5) and 6.7 nm (8),
    standard 25 nm (18), temperature of the lab and coefficient of expansion.
    """
    length = 50e6  # nm
    alpha, u_dalpha = 11.5e-6, 0.58e-6  # 1/K; +-1e-6 as a rectangle
    u_dtheta = 0.029  # K; +-0.05 K as a rectangle
    theta, u_theta = -0.1, 0.41
    shares = np.array([25.0, np.sqrt(5.8**2 + 3.9**2 + 6.7**2), 2.9, 16.6])
    assert length * abs(theta) * u_dalpha == pytest.approx(2.9, abs=0.05)
    assert length * alpha * u_dtheta == pytest.approx(16.6, abs=0.15)
    assert np.sqrt(np.sum(shares**2)) == pytest.approx(32, abs=0.5)
    second_order = length * 0.58e-6 * u_theta
    assert second_order == pytest.approx(11.7, abs=0.3)  # the guide's own second-order term
    assert np.sqrt(np.sum(shares**2) + second_order**2) == pytest.approx(34, abs=0.5)
    parts = ((25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2))  # nm, degrees of freedom
    dof = effective_dof([share("", "random", u, dof=freedom) for u, freedom in parts])
    assert np.floor(dof) == 16
    assert coverage_factor(dof, 0.99) == pytest.approx(2.92, abs=0.005)
    assert coverage_factor(dof, 0.99) * 32 == pytest.approx(93, abs=1)


# JCGM 100:2008, H.2, table H.2 (from memory, held to its own published means and results below).
VOLTAGE = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
CURRENT = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
PHASE = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def test_the_impedance_of_gum_h2_with_its_correlated_inputs():
    inputs = np.array([VOLTAGE, CURRENT, PHASE])
    means, covariance = inputs.mean(axis=1), np.cov(inputs) / 5
    # Means and correlations as the guide prints them: 4.9990 V, 19.6610 mA, 1.04446 rad; -0.36, 0.86, -0.65.
    assert means == pytest.approx([4.9990, 19.6610e-3, 1.04446], abs=5e-6)
    u = np.sqrt(np.diag(covariance))
    assert u == pytest.approx([0.0032, 0.0095e-3, 0.00075], rel=0.02)
    correlation = covariance / np.outer(u, u)
    assert np.round([correlation[0, 1], correlation[0, 2], correlation[1, 2]], 2) == pytest.approx([-0.36, 0.86, -0.65])
    resistance = propagate(lambda x: x[0] / x[1] * np.cos(x[2]), means, covariance)
    reactance = propagate(lambda x: x[0] / x[1] * np.sin(x[2]), means, covariance)
    impedance = propagate(lambda x: x[0] / x[1], means, covariance)
    # Table H.3: R = 127.732(71), X = 219.847(295), Z = 254.260(236) ohm.
    for found, value, uncertainty in (
        (resistance, 127.732, 0.071),
        (reactance, 219.847, 0.295),
        (impedance, 254.260, 0.236),
    ):
        assert found.value == pytest.approx(value, abs=6e-4)
        assert found.u == pytest.approx(uncertainty, abs=6e-4)
    # Without correlations R would come out near 0.195: the test can tell.
    assert propagate(lambda x: x[0] / x[1] * np.cos(x[2]), means, u).u > 0.15


def test_propagation_agrees_with_the_package_uncertainties():
    values = np.array([0.60, 0.0200, 5000.0, 1.2])
    u = np.array([0.006, 0.00005, 25.0, 0.003])

    def flow(x):
        return x[0] * np.pi / 4 * x[1] ** 2 * np.sqrt(2 * x[2] / x[3])

    ours = propagate(flow, values, u)
    cd, d, dp, rho = (ufloat(v, s) for v, s in zip(values, u, strict=True))
    theirs = cd * np.pi / 4 * d**2 * umath.sqrt(2 * dp / rho)
    assert ours.value == pytest.approx(theirs.n, rel=1e-14)
    # Central differences over a thousandth of u leave a relative error near 1e-8.
    assert ours.u == pytest.approx(theirs.s, rel=1e-7)

    covariance = np.outer(u, u) * np.array([[1, 0.3, 0, 0], [0.3, 1, 0, 0], [0, 0, 1, -0.5], [0, 0, -0.5, 1]])
    cd, d, dp, rho = correlated_values(values, covariance)
    theirs = cd * np.pi / 4 * d**2 * umath.sqrt(2 * dp / rho)
    assert propagate(flow, values, covariance).u == pytest.approx(theirs.s, rel=1e-7)


@pytest.mark.parametrize(
    ("dof", "level", "factor"), [(9, 0.95, 2.26), (18, 0.99, 2.88), (5, 0.95, 2.57), (1, 0.95, 12.71)]
)
def test_coverage_factors_are_those_of_the_guides_table_g2(dof, level, factor):
    assert round(coverage_factor(dof, level), 2) == factor


def test_a_fractional_number_of_degrees_of_freedom_is_cut_down():
    """JCGM 100:2008, G.4.2: interpolate or truncate to the next lower integer."""
    assert coverage_factor(9.9) == coverage_factor(9.0)


# JCGM 101:2008, clause 9.


def test_four_normal_inputs_added_give_2_and_3_92():
    """JCGM 101:2008, 9.2.2 (from memory; exact by theory): X1..X4 ~ N(0, 1): u = 2.00, 95 % interval +-3.92."""
    drawn = monte_carlo(lambda a, b, c, d: a + b + c + d, {k: normal(0, 1) for k in "abcd"}, seed=1, trials=1_000_000)
    assert drawn.u == pytest.approx(2.00, abs=0.005)  # three standard deviations of the sd of 1e6 draws
    assert (drawn.lower, drawn.upper) == (pytest.approx(-3.92, abs=0.015), pytest.approx(3.92, abs=0.015))


def test_four_rectangular_inputs_added_give_2_and_3_88():
    """JCGM 101:2008, 9.2.3 (from memory): rectangles of unit standard deviation: u = 2.00, interval +-3.88."""
    root = np.sqrt(3)
    inputs = {k: uniform(-root, root) for k in "abcd"}
    drawn = monte_carlo(lambda a, b, c, d: a + b + c + d, inputs, seed=2, trials=1_000_000)
    assert drawn.u == pytest.approx(2.00, abs=0.005)
    assert (drawn.lower, drawn.upper) == (pytest.approx(-3.88, abs=0.015), pytest.approx(3.88, abs=0.015))


def test_one_dominating_rectangle_gives_10_1_and_17_0():
    """JCGM 101:2008, 9.2.4 (from memory): the fourth rectangle ten times as wide: u = 10.1, interval +-17.0."""
    root = np.sqrt(3)
    inputs = {k: uniform(-root, root) for k in "abc"} | {"d": uniform(-10 * root, 10 * root)}
    drawn = monte_carlo(lambda a, b, c, d: a + b + c + d, inputs, seed=3, trials=1_000_000)
    assert drawn.u == pytest.approx(10.1, abs=0.06)
    assert (drawn.lower, drawn.upper) == (pytest.approx(-17.0, abs=0.05), pytest.approx(17.0, abs=0.05))


def test_the_mass_calibration_of_jcgm_101_9_3_where_the_first_order_law_fails():
    """JCGM 101:2008, 9.3 (inputs from memory): first order 0.0539 mg, drawn 0.0754 mg, interval 1.0835 to 1.3825 mg.

    m_R,c 100 000.000 mg, u 0.050; dm 1.234 mg, u 0.020; air density 1.10 to 1.30; weight's density 7000 to 9000, of the
    reference 7950 to 8050 kg/m3. Deviation from the nominal 100 g.
    """

    def deviation(mr, dm, air, weight, reference):
        return (mr + dm) * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 100_000.0

    inputs = {
        "mr": normal(100_000.0, 0.050),
        "dm": normal(1.234, 0.020),
        "air": uniform(1.10, 1.30),
        "weight": uniform(7000.0, 9000.0),
        "reference": uniform(7950.0, 8050.0),
    }
    drawn = monte_carlo(deviation, inputs, seed=4, trials=1_000_000)
    assert drawn.value == pytest.approx(1.2341, abs=3e-4)
    assert drawn.u == pytest.approx(0.0754, abs=3e-4)
    assert drawn.lower == pytest.approx(1.0834, abs=2e-3)
    assert drawn.upper == pytest.approx(1.3825, abs=2e-3)
    first_order = propagate(
        lambda x: deviation(*x),
        [100_000.0, 1.234, 1.2, 8000.0, 8000.0],
        [0.050, 0.020, 0.1 / np.sqrt(3), 1000 / np.sqrt(3), 50 / np.sqrt(3)],
        steps=[0.05, 0.02, 0.001, 1.0, 1.0],
    )
    assert first_order.u == pytest.approx(0.0539, abs=1e-4)


def test_the_adaptive_procedure_stops_when_two_digits_stand_still():
    drawn = monte_carlo(lambda a, b: a + b, {"a": normal(0, 3), "b": normal(0, 4)}, seed=5, digits=2)
    assert drawn.stable
    assert drawn.u == pytest.approx(5.0, abs=numerical_tolerance(5.0, 2) * 1.5)
    again = monte_carlo(lambda a, b: a + b, {"a": normal(0, 3), "b": normal(0, 4)}, seed=5, digits=2)
    assert again == drawn


def test_numerical_tolerances_of_the_guide():
    """JCGM 101:2008, 7.9.2, examples (from memory): 0.000 35 to two digits -> 0.000 005; 0.000 3 to one -> 0.000 05; 2 K -> 0.5 K."""
    assert numerical_tolerance(0.00035, 2) == pytest.approx(0.000005)
    assert numerical_tolerance(0.0003, 1) == pytest.approx(0.00005)
    assert numerical_tolerance(2.0, 1) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("draw", "sd"),
    [
        (uniform(-1, 1), 1 / np.sqrt(3)),
        (arcsine(-1, 1), 1 / np.sqrt(2)),
        # JCGM 101:2008, 6.4.3.3: u2 = (b - a)2/12 + d2/9
        (curvilinear(-1, 1, 0.3), np.sqrt(4 / 12 + 0.3**2 / 9)),
        # 6.4.9.4: the variance of t with 5 degrees of freedom is 5/3
        (student(0, 1, 5), np.sqrt(5 / 3)),
    ],
)
def test_drawn_distributions_have_the_standard_deviations_of_the_guide(draw, sd):
    values = draw(np.random.default_rng(6), 400_000)
    assert values.std() == pytest.approx(sd, rel=0.01)


def test_the_shortest_interval_of_a_skew_output_leans_to_its_peak():
    """Squares of a normal: chi-square with one degree of freedom; its shortest 95 % interval begins at 0."""
    skew = monte_carlo(lambda a: a**2, {"a": normal(0, 1)}, seed=8, shortest=True)
    assert skew.lower == pytest.approx(0.0, abs=1e-3)
    assert skew.upper == pytest.approx(stats.chi2.ppf(0.95, 1), rel=0.01)


# Means of samples that hang together.


def autoregressive(generator, n, phi, sd):
    noise = generator.normal(0, sd * np.sqrt(1 - phi**2), n)
    x = np.empty(n)
    x[0] = generator.normal(0, sd)
    for i in range(1, n):
        x[i] = phi * x[i - 1] + noise[i]
    return x


def test_independent_samples_count_one_each():
    stretch = mean_of_stretch(np.random.default_rng(9).normal(5, 2, 2000))
    assert stretch.n_effective == pytest.approx(2000, rel=0.1)
    assert stretch.u == pytest.approx(2 / np.sqrt(2000), rel=0.1)


@pytest.mark.parametrize("phi", [0.5, 0.9, 0.97])
def test_the_uncertainty_of_a_correlated_mean_matches_theory(phi):
    """First-order autoregression: tau = (1 + phi)/(1 - phi), u = s sqrt(tau/n) for n >> tau (Box and Jenkins)."""
    generator = np.random.default_rng(10)
    tau = (1 + phi) / (1 - phi)
    n = int(60 * tau)
    found = [mean_of_stretch(autoregressive(generator, n, phi, 1.0)) for _ in range(60)]
    assert np.median([f.u for f in found]) == pytest.approx(np.sqrt(tau / n), rel=0.15)


@pytest.mark.slow
def test_intervals_of_correlated_means_hold_the_truth_about_as_often_as_they_say():
    """Stretches of 30 correlation lengths: 95 % intervals with the effective dof hold the mean in 92 to 97 %.

    The estimate of tau from a short stretch is itself uncertain, which costs a little; ignoring it would hold 45 %.
    """
    generator = np.random.default_rng(12)
    phi, n = 0.8, 270
    inside = 0
    for _ in range(1500):
        stretch = mean_of_stretch(autoregressive(generator, n, phi, 1.0))
        inside += abs(stretch.value) < coverage_factor(stretch.dof) * stretch.u
    assert 0.92 < inside / 1500 < 0.97
