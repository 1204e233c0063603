"""The standard uncertainty of the mean of correlated samples against exact variances of the mean.

First-order autoregression with unit innovations: var(mean) = (1 + 2 sum (1 - k/n) phi^k) / n / (1 - phi^2), exact for
every n (N. F. Zhang, Metrologia 43 (2006) S276). A sine of random phase: the mean of its n samples has the variance
|sum exp(2 pi i k / T)|^2 / (2 n^2).
"""

import numpy as np
import pytest
from scipy.signal import lfilter

from frothline.numerics.autocorrelation import mean_of, mean_of_stretch

DRAWS = 300


def exact(phi, n):
    k = np.arange(1, n)
    return np.sqrt((1 + 2 * np.sum((1 - k / n) * phi**k)) / n / (1 - phi**2))


def first_order(rng, phi, n):
    start = rng.standard_normal() / np.sqrt(1 - phi**2)
    return np.append(start, lfilter([1], [1, -phi], rng.standard_normal(n - 1), zi=[phi * start])[0])


def found_over(truth, series):
    means = [mean_of_stretch(x) for x in series]
    return np.median([mean.u for mean in means]) / truth, np.mean([abs(mean.value) < 1.96 * mean.u for mean in means])


def test_exact_variance_of_the_first_order_process_is_that_of_many_means():
    rng = np.random.default_rng(1)
    means = [first_order(rng, 0.8, 60).mean() for _ in range(4000)]
    assert np.std(means) == pytest.approx(exact(0.8, 60), rel=0.04)  # three standard deviations of 4000 draws


# a stretch of 1.5 memories (0.95, 30) or 3 (0.95, 60) knows its own memory badly: the limits there are lower
@pytest.mark.parametrize(
    ("phi", "n", "least", "most", "holds"),
    [
        (0.3, 30, 0.75, 1.1, 0.84),
        (0.3, 60, 0.9, 1.1, 0.88),
        (0.3, 300, 0.95, 1.05, 0.91),
        (0.8, 30, 0.8, 1.15, 0.82),
        (0.8, 60, 0.88, 1.15, 0.86),
        (0.8, 300, 0.94, 1.06, 0.91),
        (0.95, 30, 0.55, 1.1, 0.64),
        (0.95, 60, 0.7, 1.1, 0.75),
        (0.95, 300, 0.92, 1.2, 0.88),
    ],
)
def test_uncertainty_of_the_mean_of_a_first_order_process_is_about_the_exact_one(phi, n, least, most, holds):
    rng = np.random.default_rng([2, n])
    ratio, inside = found_over(exact(phi, n), [first_order(rng, phi, n) for _ in range(DRAWS)])
    assert least < ratio < most
    assert inside > holds


@pytest.mark.parametrize("n", [30, 60, 300])
def test_uncertainty_of_the_mean_of_white_noise_is_s_over_root_n(n):
    rng = np.random.default_rng([3, n])
    ratio, inside = found_over(1 / np.sqrt(n), [rng.standard_normal(n) for _ in range(DRAWS)])
    assert ratio == pytest.approx(1.0, abs=0.03)
    assert 0.91 < inside < 0.985  # 95 % of 300, three standard deviations either side


def test_a_slow_swing_that_averages_out_is_not_taken_for_a_long_memory():
    # six periods of 47.3 samples and noise: cutting the sum of correlations at its first zero gives 3.8 times too much
    rng = np.random.default_rng(4)
    n, period = 300, 47.3
    k = np.arange(n)
    swing = abs(np.exp(2j * np.pi * k / period).mean()) / np.sqrt(2)
    series = [
        np.sin(2 * np.pi * k / period + rng.uniform(0, 2 * np.pi)) + 0.5 * rng.standard_normal(n) for _ in range(100)
    ]
    ratio, inside = found_over(np.hypot(swing, 0.5 / np.sqrt(n)), series)
    assert 0.95 < ratio < 1.4
    assert inside > 0.91


def test_one_channel_and_several_channels_give_the_same_uncertainty():
    rng = np.random.default_rng(5)
    x = first_order(rng, 0.8, 200)
    one = mean_of_stretch(x)
    assert mean_of(x).covariance[0, 0] == pytest.approx(one.u**2)
    # a second channel that is the first one in another unit changes nothing either
    assert np.diag(mean_of(np.stack([x, 1000 * x], axis=1)).covariance) == pytest.approx([one.u**2, 1e6 * one.u**2])


def test_difference_of_two_channels_that_move_together_is_better_known_than_each():
    rng = np.random.default_rng(6)
    ratios = []
    for _ in range(200):
        shared = first_order(rng, 0.9, 300)
        covariance = mean_of(shared[:, None] + 0.1 * rng.standard_normal((300, 2))).covariance
        ratios.append(np.array([1, -1]) @ covariance @ np.array([1, -1]) / np.trace(covariance))
    assert np.median(ratios) < 0.02  # independent means would give 1


def test_equal_samples_and_a_missing_one_are_borne():
    assert mean_of_stretch(np.full(50, 3.3)).u == 0.0
    assert mean_of_stretch([1.0, np.nan, 3.0]).value == 2.0
    assert np.isnan(mean_of_stretch([1.0]).u)
    assert np.all(mean_of(np.full((20, 2), [1.0, 0.0])).covariance == 0.0)
