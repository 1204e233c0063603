"""The next unit from measured ones, against conditioning of one joint normal distribution by SciPy and NumPy.

The model is the normal hierarchical one of A. Gelman and others, Bayesian Data Analysis, 3rd ed. 2013, section 5.4.
"""

import numpy as np
import pytest
from scipy import stats

from frothline.numerics.hierarchical import CERTAIN, ESTIMATED_FROM, OWN_SHARE, UnitLikelihood, next_unit


def seen(value, u):
    """A unit measured directly: its z with independent standard uncertainties."""
    precision = np.diag(1.0 / np.asarray(u, float) ** 2)
    return UnitLikelihood(precision, precision @ np.asarray(value, float))


def joint(values, us, own):
    """Mean, variance of the next unit's z and the density of what was seen, from the joint normal distribution."""
    n = len(values)
    covariance = np.full((n + 1, n + 1), 1.0 - own) + own * np.eye(n + 1)
    among = covariance[:n, :n] + np.diag(np.asarray(us) ** 2)
    gain = np.linalg.solve(among, covariance[:n, n])
    density = stats.multivariate_normal(np.zeros(n), among).pdf(values)
    return gain @ values, 1.0 - gain @ covariance[:n, n], density


def test_without_a_measured_unit_the_stated_uncertainty_stays():
    mean, covariance = next_unit([], 3)
    assert mean == pytest.approx(np.zeros(3))
    assert covariance == pytest.approx(np.eye(3))


def test_one_well_measured_unit_moves_the_next_by_three_quarters_of_its_deviation():
    mean, covariance = next_unit([seen([2.0], [1e-6])], 1)
    assert mean[0] == pytest.approx(1.5, rel=1e-6)  # 0.75 of 2: conditional mean of two normals with correlation 0.75
    assert covariance[0, 0] == pytest.approx(1.0 - 0.75**2, rel=1e-6)


@pytest.mark.parametrize(
    ("values", "us"), [([-1.2], [0.4]), ([0.8, 1.6], [0.2, 1.5]), ([0.5, -0.4, 2.0], [0.1, 3.0, 0.7])]
)
def test_up_to_three_units_give_the_joint_normal_distribution_with_a_quarter_of_the_variance_own(values, us):
    mean, covariance = next_unit([seen([v], [u]) for v, u in zip(values, us, strict=True)], 1)
    wanted = joint(values, us, 0.25)
    assert (mean[0], covariance[0, 0]) == pytest.approx(wanted[:2], rel=1e-9)


@pytest.mark.parametrize("values", [(0.9, 1.0, 1.05, 0.95), (-1.5, 1.2, 0.1, 2.0, -0.6)])
def test_from_four_units_the_own_share_is_what_the_units_show(values):
    """Against the mixture over the share, by Gauss-Legendre quadrature of the same beta distribution."""
    us = [0.3] * len(values)
    mean, covariance = next_unit([seen([v], [0.3]) for v in values], 1)
    nodes, weights = np.polynomial.legendre.leggauss(40)
    shares = (nodes + 1.0) / 2.0
    told = np.array([joint(values, us, share) for share in shares])
    weights = weights * stats.beta(OWN_SHARE * CERTAIN, (1 - OWN_SHARE) * CERTAIN).pdf(shares) * told[:, 2]
    weights /= weights.sum()
    middle = weights @ told[:, 0]
    assert mean[0] == pytest.approx(middle, rel=0.01)
    assert covariance[0, 0] == pytest.approx(weights @ (told[:, 1] + (told[:, 0] - middle) ** 2), rel=0.03)


def test_units_that_agree_leave_the_next_one_less_uncertain_than_units_that_scatter():
    alike = next_unit([seen([v], [0.1]) for v in (1.0, 1.1, 0.9, 1.0, 1.05)], 1)[1]
    apart = next_unit([seen([v], [0.1]) for v in (-1.0, 2.1, 0.9, -1.6, 1.4)], 1)[1]
    assert alike[0, 0] < 0.25 < apart[0, 0]
    assert ESTIMATED_FROM == 4


def test_a_unit_of_which_only_a_sum_is_known_teaches_only_the_sum():
    along = np.array([1.0, 1.0])
    told = UnitLikelihood(np.outer(along, along) / 0.01, along * 2.0 / 0.01)  # z1 + z2 = 2.0, give or take 0.1
    mean, covariance = next_unit([told], 2)
    # the sum has a variance of 2, of which 1.5 is common; gain 1.5 / (2 + 0.01)
    assert mean.sum() == pytest.approx(2.0 * 1.5 / 2.01, rel=1e-9)
    assert along @ covariance @ along == pytest.approx(2.0 - 1.5**2 / 2.01, rel=1e-9)
    difference = np.array([1.0, -1.0])
    assert difference @ covariance @ difference == pytest.approx(2.0)
