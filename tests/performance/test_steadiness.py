"""How quickly and how wrongly the steady-state test decides: bounds on what the kept page reports in full."""

from pathlib import Path

import numpy as np
import pytest
import steady_truth
from steadiness import watch

HERE = Path(__file__).parent
RUNS = 12


@pytest.fixture(scope="module")
def truth():
    return steady_truth


def seen(truth, change, noise, seed):
    return [watch(truth.signal(np.random.default_rng([seed, k]), change, noise)) for k in range(RUNS)]


@pytest.mark.parametrize("noise", ["quiet", "ordinary", "turbulent"])
def test_a_line_that_stands_still_is_called_steady_within_four_seconds(truth, noise):
    delay = [item.first_steady() for item in seen(truth, truth.still(12.0), noise, 1)]
    assert np.median(delay) < 4.0


@pytest.mark.parametrize(("noise", "rate"), [("quiet", 0.005), ("ordinary", 0.03), ("turbulent", 0.1)])
def test_a_line_that_moves_is_hardly_ever_called_steady(truth, noise, rate):
    called = [item.steady.mean() for item in seen(truth, truth.ramp(rate, 15.0), noise, 2)]
    assert np.mean(called) < 0.03


@pytest.mark.parametrize("noise", ["quiet", "ordinary", "turbulent"])
def test_a_movement_of_a_tenth_is_seen_within_a_second(truth, noise):
    watched = [item for item in seen(truth, truth.step(0.1, 8.0, 14.0), noise, 3) if item.steady[70]]
    delay = [item.left_steady(8.0) - 8.0 for item in watched]
    assert len(watched) >= RUNS // 2
    assert np.median(delay) < 1.0


def test_no_point_straddles_a_movement_of_a_tenth(truth):
    for noise in ("quiet", "ordinary", "turbulent"):
        for item in seen(truth, truth.step(0.1, 8.0, 20.0), noise, 4):
            assert not any(point.start < 7.5 and point.end > 9.5 for point in item.points)


def test_a_warm_up_of_three_percent_is_said(truth):
    said = [
        any("slowly" in r.reason for r in w.refused) for w in seen(truth, truth.warming(0.03, 60, 60), "ordinary", 5)
    ]
    assert np.mean(said) >= 0.9


def test_a_line_without_drift_is_not_accused_of_it(truth):
    said = [any("slowly" in r.reason for r in w.refused) for w in seen(truth, truth.still(60.0), "ordinary", 6)]
    assert np.mean(said) <= 0.1
