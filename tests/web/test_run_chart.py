"""The chart of a run over time, without a browser."""

import dataclasses
import json
import math

import pytest
from fake_session import FakeSession, course_of, state_of_run
from test_run_page import alarm

from frothline.bench.snapshot import SessionMark
from frothline.estimate import Estimate
from frothline.foam.sample import Weighing, evaluate
from frothline.run.state import ExpectedRun, SampleTaken
from frothline.web.feed import Feed
from frothline.web.pages.run import chart, labels
from frothline.web.viewer import Viewer

ROWS = len(labels.CHART)


def run_of(seconds=120.0, **changes):
    course = course_of(seconds)
    made = {"started": 20.0, "time": 20.0 + seconds, "elapsed": seconds, "course": course} | changes
    return state_of_run(20.0 + seconds, **made)


def traces(run, system="metric", marks=()):
    """Points of each trace with what is drawn of it: (trace, x, y)."""
    drawn = chart.figure(system, "light").to_plotly_json()["data"]
    live = chart.live(run, marks, system)
    assert len(drawn) == len(live["x"]) == len(live["y"]) == len(live["text"])
    return list(zip(drawn, live["x"], live["y"], strict=True))


def line(run, title, system="metric", **more):
    return next((x, y) for one, x, y in traces(run, system, **more) if one["name"] == title and "fill" not in one)


def test_the_chart_has_the_readers_units():
    """20 L are 5.283 gal, and 5 kPa 20.07 inH2O (NIST SP 811, appendix B.8)."""
    for system, pressure, left in (("metric", 5.0, 20.0), ("inch-pound", 20.07, 5.283)):
        assert line(run_of(), "Pressure", system)[1][0] == pytest.approx(pressure, rel=0.02)
        assert line(run_of(), "Solution left", system)[1][0] == pytest.approx(left, rel=0.02)


def test_times_are_minutes_since_the_run_began_and_the_axis_holds_all_of_it():
    run = run_of(600.0)
    x, _ = line(run, "Pressure")
    assert x[-1] == pytest.approx(10.0)
    low, high = chart.ranges(run)["xaxis"]
    assert low == 0.0
    assert 10.0 <= high < 10.6
    assert chart.ranges(run_of(5.0))["xaxis"] == [0.0, 1.0]


def test_nothing_is_drawn_where_nothing_is_known():
    """No foam in the first 10 s, no readings between 40 and 70 s: neither line nor interval crosses the gap."""
    run = run_of(120.0, course=course_of(120.0, silent=range(40, 71)))
    x, y = line(run, "Foam rate")
    assert all(value is None for time, value in zip(x, y, strict=True) if time <= 10 / 60)
    assert None in line(run, "Pressure")[1]
    (band,) = [(x, y) for one, x, y in traces(run) if one["name"] == "Solution left" and "fill" in one]
    outline = [[]]
    for time, value in zip(*band, strict=True):
        outline[-1].append(time) if value is not None else outline.append([])
    for one in filter(None, outline):
        assert max(one) <= 39 / 60 + 0.01 or min(one) >= 71 / 60 - 0.01
        assert one == one[::-1]  # there along the one end of the interval, and back along the other


def test_the_prediction_is_a_dashed_line_with_its_band_and_missing_where_none_is_known():
    found = {one["name"]: (one, x, y) for one, x, y in traces(run_of()) if "predicted" in one["name"]}
    assert len(found) == ROWS
    assert all(x == y == [] for _, x, y in found.values())
    run = run_of(expected=ExpectedRun(Estimate(5.2e3, 100.0, 5.0e3, 5.4e3, "Pa"), None))
    band, middle = [(one, x, y) for one, x, y in traces(run) if one["name"] == "Pressure, predicted"]
    assert sorted(set(band[2])) == pytest.approx([5.0, 5.4])
    assert middle[0]["line"]["dash"] == "dash"
    assert middle[2] == pytest.approx([5.2, 5.2])
    assert middle[1] == pytest.approx([0.0, 2.0])
    assert not any(x for one, x, _ in traces(run) if one["name"] == "Foam rate, predicted")


def test_alarms_samples_and_notes_are_marks_at_their_time(tmp_path):
    weighing = Weighing(0.020, 0.640, 1.790, 3.2)  # 57.5 kg/m3
    ended = dataclasses.replace(alarm("clogging", number=2), ended=40.0)  # raised at 31 s, 11 s after the start
    run = run_of(log=(ended,), samples=(SampleTaken(80.0, weighing, evaluate(weighing)),))
    now = dataclasses.replace(
        FakeSession(tmp_path).snapshot(),
        marks=(
            SessionMark(5.0, "note", "before the run"),
            SessionMark(50.0, "mark", "hose moved"),
            SessionMark(60.0, "alarm", "shown by its own mark"),
        ),
    )
    found = chart.events(run, now, "metric")
    assert [one.at for one in found] == pytest.approx([11.0, 30.0, 60.0])
    assert [one.alarm for one in found] == [True, False, False]
    assert found[1].words == "hose moved"
    assert "57.5 kg/m³" in found[2].words
    live = chart.live(run, found, "metric")
    assert live["x"][-2:] == [pytest.approx([11 / 60], abs=1e-3), pytest.approx([0.5, 1.0])]
    assert live["text"][-2] == ["0:11 generator clogs"]
    assert live["x"][-3] == [pytest.approx(11 / 60, abs=1e-3)] * 2 + [None]  # a line from foot to top


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_message_has_the_chart_once_and_then_its_points(bench, scheme):
    feed = Feed(bench)
    assert "run-chart" not in feed.update(Viewer(page="run"), 1)["figures"]
    bench.run = run_of(3600.0)
    feed._snapshot = None
    viewer = Viewer(page="run", scheme=scheme)
    first = feed.update(viewer, 2)["figures"]["run-chart"]
    assert {trace["type"] for trace in first["figure"]["data"]} == {"scatter"}
    message = feed.update(dataclasses.replace(viewer, have={"run-chart": first["key"]}), 4)
    again = message["figures"]["run-chart"]
    between = [feed.update(dataclasses.replace(viewer, have={"run-chart": first["key"]}), 5 + k) for k in range(4)]
    assert sum("run-chart" in one["figures"] for one in between) == 1
    assert "figure" not in again
    assert message["states"]["run-chart"] == "on"
    assert len(json.dumps(again, allow_nan=False)) < 30_000  # bytes of an hour
    assert all(value is None or math.isfinite(value) for y in again["live"]["y"] for value in y)
