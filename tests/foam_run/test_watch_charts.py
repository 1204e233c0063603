"""The charts of the run watch against published run lengths and against chance itself."""

import numpy as np
import pytest
from scipy import signal, stats

from frothline.run.watch.change_shape import shape_of
from frothline.run.watch.cusum import Cusum, average_run_length, decision_interval, long_run_deviation

# One-sided run lengths of a CUSUM with k = 1/2 by shift of the mean, as handbooks of process control print them
# (after J. M. Lucas and R. B. Crosier, Technometrics 24, 1982; from memory): shift, h = 4, h = 5
PUBLISHED = [
    (0.0, 336.0, 930.0),
    (0.25, 74.2, 140.0),
    (0.5, 26.6, 38.0),
    (0.75, 13.3, 17.0),
    (1.0, 8.38, 10.4),
    (1.5, 4.75, 5.75),
]


@pytest.mark.parametrize(("shift", "h4", "h5"), PUBLISHED)
def test_run_lengths_are_those_of_the_handbooks(shift, h4, h5):
    """Siegmund's approximation is good to 2 % near the design and 5 % away from it."""
    assert average_run_length(0.5, 4.0, shift) == pytest.approx(h4, rel=0.05)
    assert average_run_length(0.5, 5.0, shift) == pytest.approx(h5, rel=0.05)


def exact_run_length(k, h, states=600):
    """By a Markov chain on ``states`` values of the sum (Brook and Evans, Biometrika 59, 1972): written here anew."""
    width = 2.0 * h / (2 * states - 1)
    place = width * np.arange(states)
    upper = stats.norm.cdf(place[None, :] + width / 2 - place[:, None] + k)
    lower = stats.norm.cdf(place[None, :] - width / 2 - place[:, None] + k)
    step = upper - lower
    step[:, 0] = upper[:, 0]
    return float(np.linalg.solve(np.eye(states) - step, np.ones(states))[0])


@pytest.mark.parametrize(
    ("k", "h", "low", "high"),
    [
        (0.25, 8.0, -0.03, 0.03),
        (0.5, 3.0, -0.03, 0.03),
        (0.5, 5.0, -0.03, 0.03),
        (1.0, 2.0, 0.0, 0.10),
        (2.0, 1.0, 0.0, 0.55),
    ],
)
def test_the_approximation_is_as_good_as_it_says_against_a_markov_chain(k, h, low, high):
    assert exact_run_length(0.5, 4.0) == pytest.approx(336.0, rel=0.01)  # the chain itself, against the printed figure
    assert low < average_run_length(k, h) / exact_run_length(k, h) - 1.0 < high


@pytest.mark.parametrize(("k", "run_length"), [(0.25, 300.0), (0.5, 300.0), (1.0, 1000.0), (2.5, 1000.0)])
def test_a_chart_on_pure_chance_runs_as_long_as_it_was_designed_for(k, run_length):
    """400 charts on normal numbers; the mean of as many run lengths, near exponential, is known to 5 %. The design may be
    on the safe side, where single readings decide, but not on the other."""
    rng = np.random.default_rng(5)
    h = decision_interval(k, run_length)
    lengths = []
    for _ in range(400):
        chart = Cusum("", +1, k, h)
        n = 0
        while True:
            n += 1
            if chart.feed(n, rng.standard_normal()):
                break
        lengths.append(n)
    assert 0.85 * run_length < np.mean(lengths) < 2.0 * run_length


@pytest.mark.parametrize("k", [0.0, 1e-4, 0.05, 0.5, 2.0, 8.0])
@pytest.mark.parametrize("run_length", [2.5, 50.0, 4e5, 3e8])
def test_the_decision_interval_is_where_the_run_length_is_reached(k, run_length):
    h = decision_interval(k, run_length)
    if h > 0.0:
        assert average_run_length(k, h) == pytest.approx(run_length, rel=1e-5)
    else:
        assert average_run_length(k, 0.0) >= run_length * (1.0 - 1e-9)


def test_a_chart_on_correlated_readings_needs_the_long_run_deviation():
    """First-order autoregression with r = 0.8: long-run deviation 3 times that of one reading (Johnson and Bagshaw 1974).
    Designed with it, false alarms come no more often than wanted; designed without it, many times as often."""
    rng = np.random.default_rng(6)
    r = 0.8

    def runs(long_run, wanted=2000.0, total=200_000):
        chart = Cusum("", +1, 0.5, 1.0)
        chart.design(1.0, long_run, wanted)
        x, alarms = 0.0, 0
        for n, e in enumerate(rng.standard_normal(total)):
            x = r * x + np.sqrt(1 - r * r) * e
            if chart.feed(n, x):
                alarms += 1
                chart.reset()
        return total / max(alarms, 1)

    assert runs(3.0) > 2000.0
    assert runs(1.0) < 400.0


def test_the_long_run_deviation_of_an_autoregression_is_found():
    rng = np.random.default_rng(7)
    r, x = 0.6, np.zeros(20000)
    for k in range(1, len(x)):
        x[k] = r * x[k - 1] + rng.standard_normal()
    one, run = long_run_deviation(x)
    assert one == pytest.approx(1 / np.sqrt(1 - r * r), rel=0.03)  # stationary deviation, by hand
    assert run == pytest.approx(1 / (1 - r), rel=0.05)  # the sum's deviation over the root of its length, by hand


@pytest.mark.parametrize(("slow", "r"), [(0.5, 0.9), (0.5, 0.95), (1.0, 0.95)])
def test_a_slow_wander_under_quick_noise_counts_in_the_long_run_deviation(slow, r):
    """White noise of deviation 1 on mains that wander slowly: neighbours correlate little, means of 20 readings a lot.
    Deviation of a mean of n readings of a first-order autoregression, summed over all lags (any text on time series):
    n Var = (1 + r)/(1 - r) - 2 r (1 - r^n)/(n (1 - r)^2). The correlation of neighbours alone gives a third less or
    worse."""
    rng = np.random.default_rng(12)
    n, length = 20, 40_000
    wander = signal.lfilter([slow * np.sqrt(1 - r * r)], [1.0, -r], rng.standard_normal(length))
    one, run = long_run_deviation(wander + rng.standard_normal(length))
    assert one == pytest.approx(np.hypot(1.0, slow), rel=0.03)
    of_means = (1 + r) / (1 - r) - 2 * r * (1 - r**n) / (n * (1 - r) ** 2)
    assert run == pytest.approx(np.sqrt(1.0 + slow**2 * of_means), rel=0.06)


def test_the_onset_of_a_change_is_when_the_sum_left_zero():
    """Hinkley 1970. A step of five deviations at reading 500 is placed within two readings."""
    rng = np.random.default_rng(8)
    chart = Cusum("", -1, 2.0, decision_interval(2.0, 1e5))
    for n in range(520):
        if chart.feed(n, rng.standard_normal() - (5.0 if n >= 500 else 0.0)):
            break
    assert 500 <= n < 503
    assert abs(chart.since - 500) <= 2


@pytest.mark.parametrize(("kind", "shape"), [("step", lambda t: 1.0), ("ramp", lambda t: t / 10.0)])
def test_a_step_and_a_ramp_are_told_apart_with_onset_and_size(kind, shape):
    rng = np.random.default_rng(9)
    t = np.arange(0.0, 40.0, 0.25)
    x = np.array([shape(s - 30.0) if s >= 30.0 else 0.0 for s in t]) + 0.05 * rng.standard_normal(len(t))
    found = shape_of(t, x)
    assert found.kind == kind
    assert found.onset == pytest.approx(30.0, abs=1.5)
    assert found.size == pytest.approx(1.0, abs=0.05)


def test_nothing_is_made_of_too_few_readings():
    assert shape_of(np.arange(3.0), np.ones(3)) is None
    assert shape_of(np.arange(9.0), np.full(9, np.nan)) is None
