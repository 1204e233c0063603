"""Quantiles, tail probabilities and rank correlation against scipy.stats."""

import warnings

import numpy as np
import pytest
from scipy import stats

from frothline.numerics import distributions
from frothline.numerics.uncertainty import coverage_factor, student_factor

CLOSE = {"rel": 1e-12, "abs": 0.0}


@pytest.mark.parametrize("freedom", [1, 2, 3, 7.5, 40, 1000])
@pytest.mark.parametrize("level", [0.01, 0.5, 0.95, 0.99])
def test_a_quantile_of_chi_square_is_that_of_the_library(level, freedom):
    assert distributions.chi_square_quantile(level, freedom) == pytest.approx(stats.chi2.ppf(level, freedom), **CLOSE)


@pytest.mark.parametrize("freedom", [1, 2, 4.3, 12, 300])
@pytest.mark.parametrize("value", [-3.0, 0.0, 0.4, 2.0, 30.0, np.inf])
def test_a_tail_of_students_t_is_that_of_the_library(value, freedom):
    assert distributions.student_exceedance(value, freedom) == pytest.approx(stats.t.sf(value, freedom), **CLOSE)


@pytest.mark.parametrize("value", [-1e-15, 0.0, 0.3, 4.0, 1e3, np.inf])
@pytest.mark.parametrize(("above", "below"), [(1, 1), (1, 8), (3, 20), (6, 400)])
def test_a_tail_of_f_is_that_of_the_library(value, above, below):
    assert distributions.f_exceedance(value, above, below) == pytest.approx(stats.f.sf(value, above, below), **CLOSE)


def test_the_tail_of_the_normal_distribution_is_that_of_the_library():
    values = np.linspace(-9.0, 30.0, 79)
    assert distributions.normal_exceedance(values) == pytest.approx(stats.norm.sf(values), **CLOSE)


@pytest.mark.parametrize("level", [0.5, 0.9, 0.95, 0.99, 1 - 0.05 / 40])
@pytest.mark.parametrize("freedom", [1, 2, 2.7, 9, 150, 1e6])
def test_students_factor_is_that_of_the_library(level, freedom):
    assert float(student_factor(freedom, level)) == pytest.approx(stats.t.ppf(0.5 + level / 2, freedom), **CLOSE)
    assert float(student_factor(freedom, level)) == pytest.approx(stats.t.isf((1 - level) / 2, freedom), rel=1e-10)


def test_the_factor_of_what_is_exactly_known_is_that_of_the_normal_distribution():
    assert coverage_factor(np.inf, 0.95) == pytest.approx(stats.norm.ppf(0.975), **CLOSE)


@pytest.mark.parametrize("seed", range(8))
def test_a_rank_correlation_is_that_of_the_library_with_equal_values_too(seed):
    random = np.random.default_rng(seed)
    x, y = random.normal(size=15), random.normal(size=15)
    if seed % 2:
        x, y = np.round(x), np.round(y)  # many equal values
    assert distributions.rank_correlation(x, y) == pytest.approx(stats.spearmanr(x, y).statistic, rel=1e-12, abs=1e-15)
    assert distributions.rank_correlation(x, x) == pytest.approx(1.0, **CLOSE)
    assert distributions.rank_correlation(x, -x) == pytest.approx(-1.0, **CLOSE)


@pytest.mark.parametrize("y", [[2.0, 2.0, 2.0], [1.0, np.nan, 2.0]])
def test_a_rank_correlation_with_equal_values_alone_or_with_nan_is_not_known_and_warns_of_nothing(y):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert np.isnan(distributions.rank_correlation([1.0, 2.0, 3.0], y))
        assert np.isnan(distributions.rank_correlation([], []))
