"""Random effects against a published meta-analysis, and how often the prediction has a new unit."""

import numpy as np
import pytest

from frothline.errors import TooFewPoints
from frothline.numerics.random_effects import random_effects

# Thirteen trials of BCG vaccine: cases and others, vaccinated and not (G. A. Colditz et al., JAMA 271 (1994) 698; the
# data set of many texts on meta-analysis; numbers from memory, confirmed by the published results below)
BCG = np.array(
    [
        (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
        (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232),
        (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
    ],
    dtype=float,
)  # fmt: skip


def risk_ratios():
    a, b, c, d = BCG.T
    return np.log(a / (a + b) / (c / (c + d))), 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)


@pytest.mark.parametrize(
    ("method", "tau2", "mean", "u"),
    # as the manuals of programs for meta-analysis print them for this data set (from memory)
    [("reml", 0.3132, -0.7145, 0.1798), ("moments", 0.3088, -0.7141, 0.1787)],
)
def test_the_published_meta_analysis_is_reproduced(method, tau2, mean, u):
    found = random_effects(*risk_ratios(), method)
    assert found.tau2 == pytest.approx(tau2, abs=6e-5)
    assert found.mean == pytest.approx(mean, abs=6e-5)
    assert found.u_mean == pytest.approx(u, abs=6e-5)


def test_equal_units_have_no_spread_between_them():
    found = random_effects([1.0, 1.01, 0.99, 1.0], [0.01] * 4)
    assert found.tau2 == 0.0
    assert found.mean == pytest.approx(1.0)


def test_two_units_say_nothing_about_a_spread():
    with pytest.raises(TooFewPoints):
        random_effects([1.0, 2.0], [0.1, 0.1])


def coverage(units, tau, draws, seed):
    rng = np.random.default_rng(seed)
    held = 0
    for _ in range(draws):
        u = rng.uniform(0.02, 0.05, units)
        seen = tau * rng.standard_normal(units) + u * rng.standard_normal(units)
        lower, upper = random_effects(seen, u**2).prediction()
        held += lower < tau * rng.standard_normal() < upper
    return held / draws


def test_a_prediction_from_eight_units_has_the_new_one_in_nineteen_of_twenty():
    # 500 draws: a standard error of 1 %
    assert 0.925 < coverage(8, 0.12, 500, 1) < 0.98


@pytest.mark.exhaustive
@pytest.mark.parametrize("units", [4, 6, 12, 30])
@pytest.mark.parametrize("tau", [0.06, 0.12, 0.25])
def test_a_prediction_has_the_new_unit_in_nineteen_of_twenty(units, tau):
    assert 0.93 < coverage(units, tau, 4000, units) < 0.985
