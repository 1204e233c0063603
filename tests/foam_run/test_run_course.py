"""A run over time, where it should work, and which of its parts agree."""

import math

import numpy as np
import pytest
from builds import FIRST
from test_watch_line import BLOWER, LINE, meets

from frothline.estimate import Estimate
from frothline.foam.sample import Weighing
from frothline.run.agreement import ANEMOMETER, BUILD, PARTS, SAMPLE, SCALE, SOURCE, agreement_of, differ
from frothline.run.course import MOST, CourseRecorder
from frothline.run.foam_figures import rate_of_air
from frothline.run.run import Run
from frothline.sensors.series import Series

LITRE, MINUTE = 1e-3, 60.0


def recorded(seconds, pressure, *, every=0.2):
    """A course of ``seconds`` with a state every 0.2 s, as a live run makes it."""
    recorder = CourseRecorder()
    for k in range(round(seconds / every)):
        time = (k + 1) * every
        recorder.take(pressure(time))
        recorder.close(time, Estimate.normal(time, 0.1, "m3/s"), None)
    return recorder


def test_all_of_a_run_is_there_however_long_it_was():
    for seconds in (30.0, 500.0, 3600.0):
        course = recorded(seconds, lambda time: 5000.0).course()
        assert len(course.time) <= MOST + 1
        assert course.time[0] <= 2 * course.row
        assert course.time[-1] == pytest.approx(seconds)
        assert np.all(np.diff(course.time) > 0)
    assert 3600 / MOST <= course.row <= 2 * 3600 / MOST


def test_a_pressure_of_a_fifth_of_a_second_stays_visible_after_two_hours():
    course = recorded(7200.0, lambda time: 9000.0 if abs(time - 600.0) < 0.1 else 5000.0).course()
    assert np.nanmax(course.pressure[:, 2]) == 9000.0
    assert np.nanmin(course.pressure[:, 1]) == 5000.0
    assert np.nanmax(course.pressure[:, 0]) < 5500.0  # the mean of its row


def test_the_mean_of_the_rows_is_the_mean_of_the_readings():
    course = recorded(1920.0, lambda time: time).course()  # 1920 = 240 rows of 8 s: all rows are whole
    assert np.nanmean(course.pressure[:, 0]) == pytest.approx((0.2 + 1920.0) / 2, rel=5e-3)


def test_the_line_is_broken_where_no_readings_came():
    recorder = recorded(20.0, lambda time: 5000.0)
    recorder.take(5000.0)
    recorder.close(80.0, Estimate.normal(1.0, 0.1, "m3/s"), None)
    course = recorder.course()
    inside = (course.time > 20.1) & (course.time < 79.0)
    assert inside.sum() == 1
    assert np.isnan(course.pressure[inside]).all()
    assert np.isnan(course.foam_rate[inside]).all()


def test_a_figure_that_is_not_known_is_no_point_of_the_line():
    recorder = CourseRecorder()
    recorder.take(math.nan)
    recorder.close(1.0, None, Estimate.normal(0.01, 0.001, "m3"))
    course = recorder.course()
    assert np.isnan(course.pressure).all()
    assert np.isnan(course.foam_rate).all()
    assert course.solution_left[0, 0] == 0.01
    assert course.solution_left[0, 1] < 0.01 < course.solution_left[0, 2]


# --- a whole run


def batch(start, seconds, *, pressure=10e3, flow=1.0 * LITRE, mass=None):
    time = start + (np.arange(round(seconds * 20)) + 1) * 0.05
    found = {}
    values = {"line_pressure": (pressure, 50.0), "standard_flow": (flow, 2e-5), "free_air_flow": (flow, 2e-5)}
    if mass is not None:
        values["scale_mass"] = (mass(time), 1e-3)
    for name, (value, u) in values.items():
        filled = np.broadcast_to(np.asarray(value, float), time.shape).copy()
        found[name] = Series(name, "", time, filled, np.full(len(time), u), np.zeros(len(time), np.uint8))
    return found


def test_a_run_keeps_its_course_also_after_its_stop():
    run = Run(build=FIRST)
    for k in range(30):
        run.feed(batch(0.5 * k, 0.5))
        assert run.state.course is not None
    during = run.state.course
    run.stop()
    after = run.state.course
    assert during.time[-1] == after.time[-1] == pytest.approx(15.0, abs=0.3)
    assert after.pressure[-1, 0] == pytest.approx(10e3)
    assert run.state.expected.pressure is None  # without a source curve there is nothing to expect


# --- agreement


def flow(litres, percent=1.0):
    return Estimate.positive(litres * LITRE, 0.01 * percent, "m3/s")


def views(anemometer=None, source=None, build=None):
    return {ANEMOMETER: anemometer, SOURCE: source, BUILD: build}


def test_three_flows_that_agree_are_called_so():
    found = agreement_of(views(flow(10.0), flow(10.3), flow(9.8)))
    assert found.agree == (ANEMOMETER, SOURCE, BUILD)
    assert found.apart == ()
    assert found.words.startswith("Anemometer, source curve and build sheet agree.")
    assert "Not compared: scale, sample." in found.words


@pytest.mark.parametrize("odd", [ANEMOMETER, SOURCE, BUILD])
def test_the_flow_that_differs_from_two_that_agree_is_named(odd):
    names = (ANEMOMETER, SOURCE, BUILD)
    found = agreement_of(views(*(flow(14.0 if name == odd else 10.0) for name in names)))
    assert found.apart == (odd,)
    assert set(found.agree) == set(names) - {odd}
    assert f"{odd} does not agree with" in found.words.lower()


def test_of_two_flows_that_differ_both_are_named():
    found = agreement_of(views(flow(14.0), flow(10.0)))
    assert set(found.apart) == {ANEMOMETER, SOURCE}
    assert found.words.startswith("Anemometer and source curve do not agree.")


def test_flows_differ_beyond_their_intervals_and_a_tenth_and_not_within():
    """95 % half-widths of 1.96 x 5 % each, in quadrature 0.1386, and the watch's tolerance of 0.1: 0.2386 in ln."""
    for factor, apart in ((math.exp(0.23), False), (math.exp(0.25), True)):
        assert differ(flow(10.0, 5.0), flow(10.0 * factor, 5.0)) is apart
        assert differ(flow(10.0 * factor, 5.0), flow(10.0, 5.0)) is apart


def test_a_wide_interval_disagrees_with_nothing():
    assert not differ(Estimate.normal(0.010, 0.02, "m3/s"), flow(25.0))
    assert not differ(flow(25.0), Estimate.positive(0.010, 0.6, "m3/s"))


def test_one_flow_alone_is_compared_with_nothing():
    found = agreement_of(views(flow(10.0)))
    assert found.missing == PARTS
    assert found.words == "Not compared: anemometer, source curve, build sheet, scale, sample."


def weighed_run(density):
    """A run whose scale shows 4 L/min of solution in 60 L/min of air; a sample of ``density`` kg/m3 is confirmed."""
    run = Run(build=FIRST)
    for k in range(120):
        run.feed(batch(0.5 * k, 0.5, mass=lambda time: 20.0 - 4.0 / 60.0 * time))
    run.add_sample(Weighing(10 * LITRE, 0.0, density * 10 * LITRE, confirmed=True))
    return run.state.agreement


def test_scale_and_sample_are_compared_once_both_are_there():
    """Of 1 L/s of air at most all is caught: with 4 L/min of solution at least 62 kg/m3 by conservation of mass."""
    assert {SCALE, SAMPLE} <= set(weighed_run(82.0).agree)
    assert {SCALE, SAMPLE} <= set(weighed_run(20.0).apart)


def test_the_expected_pressure_is_where_curve_and_build_balance():
    """The bisection of the two flows in ``test_watch_line.meets`` is the reference."""
    pressure, flow = meets()
    run = Run(blower=BLOWER, resistance=LINE)
    assert run.state.expected.foam_rate is None  # the state of the air is not known before a reading
    run.feed(batch(0.0, 2.0, pressure=pressure, flow=flow))
    expected = run.state.expected
    assert expected.pressure.value == pytest.approx(pressure, rel=0.01)
    assert expected.pressure.lower < pressure < expected.pressure.upper
    assert expected.foam_rate.value == pytest.approx(
        rate_of_air(run.ledger, Estimate.normal(flow, 0.0, "m3/s")).value, rel=0.01
    )
    assert Run(blower=BLOWER).state.expected.pressure is None
    assert Run(resistance=LINE).state.expected.pressure is None
