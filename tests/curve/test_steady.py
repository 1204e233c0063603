"""Steady stretches: the published ratio, autocorrelated means, holds and movements, drift, faults of the stream."""

import itertools

import numpy as np
import pytest
from scipy.signal import lfilter

from frothline.curve.steadiness_test import trend_statistic
from frothline.curve.steady import OnlineSteady, find_steady
from frothline.errors import InputError
from frothline.numerics.autocorrelation import mean_of

RATE = 100.0


def hold(rng, seconds, flow, noise=0.005):
    n = int(seconds * RATE)
    p = 20000 - 120000 * flow - 3.5e6 * flow**2
    return p * (1 + noise * rng.standard_normal(n)), flow * (1 + noise * rng.standard_normal(n))


def joined(*parts):
    p, q = (np.concatenate([part[k] for part in parts]) for k in (0, 1))
    return np.arange(len(p)) / RATE, p, q


def test_ratio_of_variances_by_hand():
    # 1 2 3 4: differences 1 1 1, sum of squares 3; deviations -1.5 -0.5 0.5 1.5, sum of squares 5; M = 0.6;
    # T = (1 - 0.3) / sqrt(2 / 15) = 1.917 (formula of NIST Dataplot, Mean Successive Differences Test)
    assert trend_statistic([1.0, 2.0, 3.0, 4.0]) == pytest.approx(0.7 / np.sqrt(2 / 15))


def test_ratio_of_variances_is_about_standard_normal_for_independent_values():
    rng = np.random.default_rng(1)
    values = np.array([trend_statistic(rng.standard_normal(12)) for _ in range(4000)])
    assert values.mean() == pytest.approx(0.0, abs=0.05)  # 1/sqrt(4000) = 0.016
    assert values.std() == pytest.approx(1.0, abs=0.04)
    assert np.mean(values > 2.58) < 0.01  # nominal 0.5 %; the exact distribution of 12 has a shorter tail


def test_mean_of_independent_samples_is_s_over_root_n():
    x = np.random.default_rng(2).standard_normal((400, 2))
    found = mean_of(x)
    assert found.value == pytest.approx(x.mean(axis=0))
    assert np.diag(found.covariance) == pytest.approx(x.var(axis=0, ddof=1) / 400, rel=0.02)
    assert found.n_effective == pytest.approx([400, 400], rel=0.02)


@pytest.mark.parametrize("keep", [0.8, 0.9, 0.95])
def test_mean_of_autocorrelated_samples(keep):
    # First-order autoregression: variance of the mean = s^2/n (1 + 2 sum (1 - k/n) keep^k), N. F. Zhang,
    # Metrologia 43 (2006) S276, equation for stationary processes
    rng = np.random.default_rng(3)
    n = 600
    truth = (1 + 2 * sum((1 - k / n) * keep**k for k in range(1, n))) / n
    found = []
    for _ in range(300):
        x = lfilter([np.sqrt(1 - keep**2)], [1, -keep], rng.standard_normal(n + 500))[500:]
        found.append(mean_of(x).covariance[0, 0])
    assert np.mean(found) == pytest.approx(truth, rel=0.3)  # one stretch knows it to a factor of two only
    assert np.mean(found) > 3 / n  # far from the naive 1/n


def test_covariance_of_means_of_channels_that_move_together():
    rng = np.random.default_rng(4)
    shared = rng.standard_normal(1000)
    found = mean_of(np.stack([shared + 0.1 * rng.standard_normal(1000), -shared], axis=1))
    correlation = found.covariance[0, 1] / np.sqrt(np.prod(np.diag(found.covariance)))
    assert correlation == pytest.approx(-1 / np.sqrt(1.01), abs=0.02)


def test_each_held_opening_becomes_one_point():
    rng = np.random.default_rng(5)
    flows = (0.01, 0.02, 0.03, 0.04, 0.05)
    time, p, q = joined(*(hold(rng, 6.0, flow) for flow in flows))
    report = find_steady(time, p, q)
    assert len(report.points) == 5
    for point, flow in zip(report.points, flows, strict=True):
        assert point.flow == pytest.approx(flow, abs=4 * point.u_flow)
        assert point.duration > 5.0
        # 500 samples of 0.5 % noise: 0.5 % / sqrt(500) = 0.022 %
        assert point.u_flow / flow == pytest.approx(0.005 / np.sqrt(point.n), rel=0.5)


def test_stretches_of_points_never_overlap():
    rng = np.random.default_rng(6)
    time, p, q = joined(*(hold(rng, 4.0, flow, 0.03) for flow in rng.uniform(0.01, 0.05, 12)))
    points = find_steady(time, p, q).points
    assert all(a.end <= b.start for a, b in itertools.pairwise(points))


def test_a_line_that_moves_all_the_time_gives_no_point():
    rng = np.random.default_rng(7)
    flow = np.linspace(0.01, 0.05, 2000)
    p = 20000 - 120000 * flow - 3.5e6 * flow**2
    noise = 1 + 0.005 * rng.standard_normal((2, 2000))
    report = find_steady(np.arange(2000) / RATE, p * noise[0], flow * noise[1])
    assert report.points == ()


def test_warm_up_drift_is_refused_and_said_not_averaged_away():
    # 3 % in 40 s, slower than any window sees
    rng = np.random.default_rng(8)
    p, q = hold(rng, 40.0, 0.03)
    report = find_steady(np.arange(4000) / RATE, p * np.linspace(1, 0.97, 4000), q)
    assert any("fell slowly" in item.reason and "warm up" in item.reason for item in report.refused)
    assert not any(point.duration > 25.0 for point in report.points)


def test_live_state_says_drifting():
    rng = np.random.default_rng(9)
    p, q = hold(rng, 40.0, 0.03, 0.002)
    finder = OnlineSteady()
    state = finder.feed(np.arange(4000) / RATE, p * np.linspace(1, 0.98, 4000), q)
    assert state.state == "drifting"
    assert "slowly" in state.reason


def test_live_and_from_file_are_the_same():
    rng = np.random.default_rng(10)
    time, p, q = joined(*(hold(rng, 5.0, flow) for flow in (0.01, 0.03, 0.05)))
    whole = find_steady(time, p, q)
    finder = OnlineSteady()
    start = 0
    while start < len(time):
        size = int(rng.integers(1, 40))
        part = slice(start, start + size)
        finder.feed(time[part], p[part], q[part])
        start += size
    finder.finish()
    assert tuple(finder.points) == whole.points
    assert tuple(finder.refused) == whole.refused


def test_progress_grows_to_one_and_the_point_is_handed_over_once():
    rng = np.random.default_rng(11)
    time, p, q = joined(hold(rng, 6.0, 0.02), hold(rng, 3.0, 0.04))
    finder = OnlineSteady()
    progress, finished, states = [], [], []
    for k in range(0, len(time), 10):
        state = finder.feed(time[k : k + 10], p[k : k + 10], q[k : k + 10])
        progress.append(state.progress)
        states.append(state.state)
        finished += [state.finished] if state.finished else []
    assert progress[0] == 0.0
    assert max(progress) == 1.0
    assert "settling" in states
    assert "steady" in states
    assert len(finished) == 1
    assert finished[0].flow == pytest.approx(0.02, rel=2e-3)


def test_a_gap_ends_the_stretch():
    rng = np.random.default_rng(12)
    time, p, q = joined(hold(rng, 5.0, 0.02), hold(rng, 5.0, 0.02))
    time[500:] += 3.0
    points = find_steady(time, p, q).points
    assert len(points) == 2
    assert points[0].end <= 5.3
    assert points[1].start >= 7.9


def test_unknown_readings_make_no_point_and_are_named():
    rng = np.random.default_rng(13)
    p, q = hold(rng, 10.0, 0.02)
    q[:] = np.nan
    finder = OnlineSteady()
    state = finder.feed(np.arange(1000) / RATE, p, q)
    finder.finish()
    assert finder.points == []
    assert "not known" in state.reason


def test_a_stopped_rotor_makes_a_point_whose_flow_is_as_open_as_the_sensors_say():
    # rectangular between -2 and 2 L/s: u = 2 / sqrt 3 (JCGM 100:2008, 4.3.7), one error for the whole stretch
    rng = np.random.default_rng(14)
    p, _ = hold(rng, 6.0, 0.0)
    open_ = {"below start-up speed": (np.zeros(600), np.full(600, 0.002 / np.sqrt(3)))}
    (point,) = find_steady(np.arange(600) / RATE, p, np.zeros(600), common=open_, stopped=np.ones(600)).points
    assert point.flow == 0.0
    assert point.u_flow == pytest.approx(0.002 / np.sqrt(3))
    assert point.random[1] == 0.0
    assert "did not turn" in point.notes[0]


def test_what_sensors_share_becomes_common_and_does_not_shrink_with_samples():
    rng = np.random.default_rng(15)
    p, q = hold(rng, 6.0, 0.02)
    time = np.arange(600) / RATE
    (point,) = find_steady(time, p, q, 0.01 * p, 0.02 * q).points
    assert {part.name for part in point.common} == {"pressure sensor", "flow sensor"}
    assert point.u_pressure == pytest.approx(0.01 * point.pressure, rel=0.01)
    assert point.random[0] < 0.05 * point.u_pressure
    (named,) = find_steady(time, p, q, common={"span": (0.01 * p, 0 * p)}).points
    assert [part.name for part in named.common] == ["span"]


def test_arrays_of_different_length_are_refused():
    with pytest.raises(InputError):
        OnlineSteady().feed([0.0, 0.1], [1.0], [1.0, 2.0])
