"""Draws from a posterior, compared with the normal distribution of a linear fit and with sums over a fine grid."""

import numpy as np
import pytest

from frothline.numerics.posterior_draws import posterior_draws


def test_draws_of_a_linear_fit_have_its_covariance_and_equal_weights():
    slopes = np.array([[2.0, 1.0], [0.5, -1.0], [3.0, 0.2]])
    seen = np.array([1.0, -2.0, 0.5])
    covariance = np.linalg.inv(np.eye(2) + slopes.T @ slopes)
    best = covariance @ slopes.T @ seen
    draws, share = posterior_draws(
        lambda x: np.hstack([x, x @ slopes.T - seen]), best, 20_000, np.random.default_rng(1)
    )
    assert share == pytest.approx(1.0, abs=1e-6)
    assert draws.mean(axis=0) == pytest.approx(best, abs=0.01)  # 0.6 of it divided by the root of 20,000 is 0.004
    assert np.cov(draws.T) == pytest.approx(covariance, abs=0.01)


def sum_of_two(size, u):
    """Two parts, each known to a factor of e, of which the sum was measured."""
    return lambda x: np.hstack([x, (np.exp(x[:, :1]) + np.exp(x[:, 1:]) - size) / u])


@pytest.mark.parametrize(("size", "u"), [(2.0, 0.04), (2.0, 0.5), (8.0, 0.1)])
def test_draws_of_two_parts_with_a_measured_sum_have_the_quantiles_of_a_fine_grid(size, u):
    residuals = sum_of_two(size, u)
    x = np.linspace(-6.0, 4.0, 1001)
    grid = np.stack(np.meshgrid(x, x, indexing="ij"), axis=-1).reshape(-1, 2)
    weight = np.exp(-0.5 * np.sum(residuals(grid) ** 2, axis=1)).reshape(len(x), len(x))
    whole = np.cumsum(weight.sum(axis=1)) / weight.sum()
    best = grid[np.argmax(weight)]
    for _ in range(30):  # the nearest of the two alike is refined by Gauss and Newton
        slopes = np.vstack([np.eye(2), np.exp(best)[None] / u])
        best = best - np.linalg.lstsq(slopes, residuals(best[None])[0], rcond=None)[0]
    draws, share = posterior_draws(residuals, best, 8000, np.random.default_rng(2))
    assert 0.3 < share <= 1.0
    for level in (0.025, 0.16, 0.5, 0.84, 0.975):
        # four standard deviations of the share below a limit, of 8000 draws of which a share is independent
        limit = np.interp(level, whole, x)
        off = 4.0 * np.sqrt(level * (1.0 - level) / (8000 * share))
        assert np.mean(draws[:, 0] <= limit) == pytest.approx(level, abs=off)


def test_draws_keep_a_sum_that_was_measured_well():
    """To first order a part three times as large would make the sum more than twice as large."""
    residuals = sum_of_two(2.0, 0.02)
    draws, _ = posterior_draws(residuals, np.zeros(2), 1000, np.random.default_rng(3))
    assert np.std(np.exp(draws).sum(axis=1)) == pytest.approx(0.02, rel=0.1)
    assert np.exp(np.quantile(draws[:, 0], 0.025)) < 0.4


def test_the_same_generator_gives_the_same_draws():
    one, other = (posterior_draws(sum_of_two(2.0, 0.1), np.zeros(2), 50, np.random.default_rng(4))[0] for _ in "ab")
    assert np.array_equal(one, other)
