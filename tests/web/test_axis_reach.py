"""Axes that grow at once and shrink again: one wrong value must not squash the picture for the rest of the day."""

import math

import pytest

from frothline.bench import snapshot as bench_snapshot
from frothline.web.charts.axis_reach import HOLD, AxisReach
from frothline.web.feed import Feed
from frothline.web.viewer import Viewer


def test_a_value_of_an_hour_ago_no_longer_holds_the_axis_open():
    clock = [0.0]
    reach = AxisReach(2, lambda: clock[0])
    reach.take([0.02, 100e3])
    assert reach.look() == [0.02, 100e3]
    for second in range(1, int(2 * HOLD) + 2):
        clock[0] = float(second)
        reach.take([0.03, 6e3])
        if second < HOLD:
            assert reach.look() == [0.03, 100e3]  # it does not jump back after each puff
    assert reach.look() == [0.03, 6e3]


def test_a_gap_longer_than_the_hold_leaves_only_what_came_after_it():
    clock = [0.0]
    reach = AxisReach(1, lambda: clock[0])
    reach.take([100e3])
    clock[0] = 3600.0
    reach.take([6e3])
    assert reach.look() == [6e3]


def test_a_figure_that_is_not_known_changes_nothing():
    reach = AxisReach(1, lambda: 0.0)
    reach.take([math.nan])
    assert reach.look() == [0.0]
    reach.take([5.0])
    reach.take([math.nan])
    assert reach.look() == [5.0]


def pressures_of(feed, bench, clock, kilopascal):
    """The plane's pressure axis, kPa, with the line at a pressure."""
    snapshot = FakeLook.of(bench, kilopascal * 1e3)
    bench.snapshot = lambda: snapshot
    clock[0] += 0.1
    return feed.update(Viewer(), 1)["figures"]["plane"]["ranges"]["yaxis"][1]


class FakeLook:
    @staticmethod
    def of(bench, pascal):
        from dataclasses import replace

        now = type(bench).snapshot(bench)
        latest = now.latest | {"line_pressure": bench_snapshot.Latest(pascal, 10.0, "Pa", 0, now.time, 100, 1.0)}
        return replace(now, latest=latest)


def test_the_planes_axis_comes_back_after_a_pressure_that_was_never_there(bench):
    clock = [0.0]
    feed = Feed(bench, clock=lambda: clock[0])
    assert pressures_of(feed, bench, clock, 6.0) == pytest.approx(7.0)
    assert pressures_of(feed, bench, clock, 100.0) > 100.0
    for _ in range(3):
        clock[0] += HOLD
        last = pressures_of(feed, bench, clock, 6.0)
    assert last == pytest.approx(7.0)


def test_the_axis_comes_back_at_once_when_the_calibration_is_replaced(bench):
    clock = [0.0]
    feed = Feed(bench, clock=lambda: clock[0])
    assert pressures_of(feed, bench, clock, 100.0) > 100.0
    bench.calibrating().changes += 1
    assert pressures_of(feed, bench, clock, 6.0) == pytest.approx(7.0)
