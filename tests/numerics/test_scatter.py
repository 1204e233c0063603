"""Intervals of few points whose scatter is not what was stated: calibration lines and repeated foam samples.

The stated scatter is that of the procedure; the true one is drawn as 1, 2 and 4 times that. Draws are normal; the
judge is the share of intervals that hold the truth. Binomial bands: 4 standard deviations of 600 draws are 3.6 %.
"""

import numpy as np
import pytest
from scipy import stats

from frothline.estimate import Z95, Estimate
from frothline.foam.sample import combine
from frothline.numerics.scatter import DEVIATION_OVER_MEDIAN, widening
from frothline.sensors.procedures.base import Point, line_through
from frothline.sensors.procedures.pressure_and_scale import PressureByWater

DRAWS = 600


@pytest.mark.parametrize("dof", [1, 2, 3, 5, 12])
def test_the_factor_lies_between_stated_and_student(dof):
    """Without any limit on the scatter the factor would be Student's t over 1.96, here it is at most that."""
    student = float(stats.t.ppf(0.975, dof)) / Z95
    assert 1.0 < widening(dof, dof) <= 1.05 * student
    assert widening(4.0 * dof, dof) > 1.5 * widening(dof, dof) or dof == 1
    assert widening(0.0, 0) == 1.0
    assert widening(2.0 * dof, dof) > widening(dof, dof) > widening(0.2 * dof, dof)
    assert widening(0.0, dof) > 0.3  # agreement by chance never makes it much surer than stated


@pytest.mark.parametrize("worse", [1.0, pytest.param(2.0, marks=pytest.mark.exhaustive), 4.0])
@pytest.mark.parametrize(
    "n", [2, 3, pytest.param(4, marks=pytest.mark.exhaustive), pytest.param(5, marks=pytest.mark.exhaustive), 7]
)
def test_the_mean_of_repeated_samples_holds_whatever_the_samples_scatter(n, worse):
    """Targets 93 to 97 %. Two samples alone are on the safe side at the stated scatter, and hold 92 % at four times."""
    random = np.random.default_rng(100 * n + int(worse))
    held = 0
    for _ in range(DRAWS):
        values = 75.0 + worse * random.standard_normal(n)
        found = combine([Estimate.normal(float(one), 1.0, "kg/m3") for one in values]).mean
        held += found.lower <= 75.0 <= found.upper
    share = held / DRAWS
    assert share > (0.90 if n == 2 else 0.92)
    assert share < (1.0 + 1e-9 if n <= 3 else 0.99)


@pytest.mark.parametrize("worse", [1.0, pytest.param(2.0, marks=pytest.mark.exhaustive), 4.0])
@pytest.mark.parametrize(
    "n", [3, pytest.param(4, marks=pytest.mark.exhaustive), pytest.param(5, marks=pytest.mark.exhaustive), 7]
)
def test_a_calibration_line_holds_whatever_its_points_scatter(n, worse):
    """Ratio to pressure through n columns of water; judged at a third and at nine tenths of the range."""
    random = np.random.default_rng(100 * n + int(worse))
    x = np.linspace(0.05, 0.45, n)
    truth = np.array([-2500.0, 55e3])
    held = np.zeros(2)
    at = np.array([0.18, 0.41])
    for _ in range(DRAWS):
        y = truth[0] + truth[1] * x + worse * 8.0 * random.standard_normal(n)
        procedure = PressureByWater()
        procedure.points = [Point(float(a), 1e-9, float(b), 8.0) for a, b in zip(x, y, strict=True)]
        line = procedure.calibration(line_through(procedure.points, 1), None, "straight", "2026-05-02")
        u = np.sqrt([np.array([1.0, v]) @ line.covariance @ np.array([1.0, v]) for v in at])
        error = np.abs(line.coefficients[0] + line.coefficients[1] * at - (truth[0] + truth[1] * at))
        held += error <= Z95 * u
    share = held / DRAWS
    assert np.all(share > (0.90 if n == 3 else 0.92))
    assert np.all(share < (1.0 + 1e-9 if n <= 4 else 0.985))


def test_shared_errors_are_not_widened_with_the_scatter():
    shared = [{"the bucket": 2.0}] * 4
    values = [Estimate.normal(v, float(np.hypot(1.0, 2.0)), "kg/m3") for v in (74.0, 75.0, 76.0, 75.0)]
    found = combine(values, shared).mean
    alone = combine([Estimate.normal(one.value, 1.0, "kg/m3") for one in values]).mean
    assert found.standard_uncertainty == pytest.approx(np.hypot(alone.standard_uncertainty, 2.0), rel=1e-6)


def test_samples_without_a_stated_uncertainty_have_students_interval():
    values = (70.0, 72.0, 77.0)
    found = combine([Estimate.normal(v, 0.0, "kg/m3") for v in values]).mean
    half = stats.t.ppf(0.975, 2) * np.std(values, ddof=1) / np.sqrt(3)
    assert found.upper - found.value == pytest.approx(half, rel=1e-6)


def test_a_builder_is_told_that_few_points_make_a_wide_interval():
    procedure = PressureByWater()
    procedure.points = [Point(v, 1e-9, 55e3 * v + e, 8.0) for v, e in ((0.05, 12.0), (0.2, -15.0), (0.45, 10.0))]
    line = procedure.calibration(line_through(procedure.points, 1), None, "straight", "2026-05-02")
    assert any("3 points leave the scatter uncertain" in one for one in line.remarks)


def test_the_factor_from_median_to_standard_deviation_is_that_of_the_normal_distribution():
    """1/Phi^-1(3/4), here from scipy.stats; P. J. Rousseeuw and C. Croux, J. Am. Stat. Assoc. 88 (1993) 1273."""
    assert stats.norm.ppf(0.75) * DEVIATION_OVER_MEDIAN == pytest.approx(1.0, rel=1e-5)
