"""The next unit from measured ones, against one joint normal distribution by NumPy, SciPy and quadrature.

The model is the normal hierarchical one of A. Gelman and others, Bayesian Data Analysis, 3rd ed. 2013, section 5.4.
"""

from itertools import product

import numpy as np
import pytest
from scipy import stats

from frothline.numerics.hierarchical import UnitLikelihood, next_unit


def seen(value, u):
    """A unit measured directly: its z with independent standard uncertainties."""
    precision = np.diag(1.0 / np.asarray(u, float) ** 2)
    return UnitLikelihood(precision, precision @ np.asarray(value, float))


def joint(groups, us, own, between):
    """Mean, variance of the next unit of the first group and the density of what was seen, all in one quantity."""
    values = np.array([value for group in groups for value in group])
    of = np.array([0, *(k for k, group in enumerate(groups) for _ in group)])
    same = of[:, None] == of[None, :]
    covariance = (1.0 - own) * np.where(same, 1.0, 1.0 - between) + own * np.eye(len(of))
    among = covariance[1:, 1:] + us**2 * np.eye(len(values))
    gain = np.linalg.solve(among, covariance[1:, 0])
    density = stats.multivariate_normal(np.zeros(len(values)), among).pdf(values)
    return gain @ values, 1.0 - gain @ covariance[1:, 0], density


def mixture(groups, us):
    """Mean and variance over both shares, by Gauss-Legendre quadrature of their beta distributions."""
    nodes, weights = np.polynomial.legendre.leggauss(16)
    shares, weights = (nodes + 1.0) / 2.0, weights / 2.0
    # means of a quarter and a half; the exponents add up to 6 and 3
    of_own, of_group = (weights * stats.beta(*exponents).pdf(shares) for exponents in ((1.5, 4.5), (1.5, 1.5)))
    told = np.array([joint(groups, us, own, between) for own, between in product(shares, shares)])
    weights = np.outer(of_own, of_group).ravel() * told[:, 2]
    weights /= weights.sum()
    middle = weights @ told[:, 0]
    return middle, weights @ (told[:, 1] + (told[:, 0] - middle) ** 2)


def test_without_a_measured_unit_the_stated_uncertainty_stays():
    mean, covariance = next_unit([], 3)
    assert mean == pytest.approx(np.zeros(3))
    assert covariance == pytest.approx(np.eye(3))


def test_one_usual_unit_moves_the_next_by_some_three_quarters_of_its_deviation():
    """A unit at one standard uncertainty is as probable with any own share, so that its mean, a quarter, stays."""
    mean, covariance = next_unit([seen([1.0], [1e-4])], 1)
    assert mean[0] == pytest.approx(0.75, abs=0.02)
    # the mean of 1 - (1 - s)^2 and the variance of 1 - s add up to 1 - (3/4)^2, whatever the variance of s
    assert covariance[0, 0] == pytest.approx(1.0 - 0.75**2, abs=0.02)


@pytest.mark.parametrize(
    "groups",
    [
        [[-1.2]],
        [[0.9, 1.0, 1.05, 0.95]],
        [[-1.5, 1.2, 0.1, 2.0, -0.6]],
        [[], [1.0]],
        [[0.3], [1.0, 1.2], [1.1]],
        [[], [1.0, 1.1, 0.9], [-1.4, -1.3], [0.3]],
    ],
)
def test_the_next_unit_is_that_of_the_mixture_over_both_shares(groups):
    units = [[seen([value], [0.3]) for value in group] for group in groups]
    mean, covariance = next_unit(units[0], 1, units[1:])
    wanted = mixture(groups, 0.3)
    assert mean[0] == pytest.approx(wanted[0], abs=0.02)
    assert covariance[0, 0] == pytest.approx(wanted[1], rel=0.04)


def test_units_that_agree_leave_the_next_one_less_uncertain_than_units_that_scatter():
    alike = next_unit([seen([v], [0.1]) for v in (1.0, 1.1, 0.9, 1.0, 1.05)], 1)[1]
    apart = next_unit([seen([v], [0.1]) for v in (-1.0, 2.1, 0.9, -1.6, 1.4)], 1)[1]
    assert alike[0, 0] < 0.25 < apart[0, 0]


def test_each_quantity_has_its_own_share():
    values = [(1.0, -1.0), (1.1, 2.1), (0.9, 0.9), (1.0, -1.6), (1.05, 1.4)]
    covariance = next_unit([seen(v, [0.1, 0.1]) for v in values], 2)[1]
    assert covariance[0, 0] < 0.3
    assert covariance[1, 1] > 0.6


def test_a_hundred_units_of_one_other_group_leave_that_group_and_this_one_apart():
    """All of another workshop's builds together say less than two of the own, and their number makes it no better."""
    few, many = (next_unit([], 1, [[seen([1.5], [0.1])] * count]) for count in (10, 100))
    own = next_unit([seen([1.5], [0.1])] * 2, 1)
    assert few[1][0, 0] > 0.6
    assert many[1][0, 0] == pytest.approx(few[1][0, 0], rel=0.1)
    assert own[0][0] > many[0][0] > 0.3
    assert own[1][0, 0] < many[1][0, 0]


def test_groups_that_agree_say_more_than_groups_that_differ_and_than_one_group():
    def after(*middles):
        return next_unit([], 1, [[seen([m], [0.1]), seen([m + 0.05], [0.1])] for m in middles])[1][0, 0]

    agree = after(1.0, 1.05, 0.95, 1.0, 1.02)
    assert agree < 0.35
    assert agree < after(1.0)
    assert after(-1.2, 1.4, 0.2, -0.6, 1.0) > 0.6


def test_own_units_outweigh_those_of_another_group():
    own, other = [seen([-1.0], [0.1])] * 3, [[seen([1.5], [0.1])] * 10]
    assert next_unit(own, 1, other)[0][0] < -0.6


def test_a_unit_of_which_only_a_sum_is_known_teaches_only_the_sum():
    along = np.array([1.0, 1.0])
    told = UnitLikelihood(np.outer(along, along) / 0.01, along * 2.0 / 0.01)  # z1 + z2 = 2.0, give or take 0.1
    mean, covariance = next_unit([told], 2)
    assert 1.0 < mean.sum() < 1.6
    assert along @ covariance @ along < 1.4  # 2 before
    difference = np.array([1.0, -1.0])
    assert difference @ covariance @ difference == pytest.approx(2.0, rel=0.05)
    assert mean[0] == pytest.approx(mean[1], abs=0.1)
