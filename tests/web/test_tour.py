"""The tour of a simulated rig, and the state of each part of the line."""

import dataclasses
from types import SimpleNamespace

import pytest
from fake_session import state_of_run

from frothline.bench.run_control import TakenSample
from frothline.foam.sample import Weighing, evaluate
from frothline.web import tour
from frothline.web.elements import words_of
from frothline.web.feed import Feed
from frothline.web.line_status import line_status, say_status
from frothline.web.pages import PAGES
from frothline.web.viewer import Viewer


@pytest.fixture
def feed(bench):
    return Feed(bench)


def said(now, sheet, **viewer):
    return " ".join(words_of(piece) for piece in tour.pieces(now, sheet, Viewer(**viewer)))


def test_the_tour_leads_from_a_sweep_to_a_cleared_alarm(feed):
    now = dataclasses.replace(feed.snapshot(), simulated=True, fit=None)
    sheet = SimpleNamespace(altered=())
    assert "Press “Guided sweep”" in said(now, sheet, page="source")
    assert "Next: sweep the air source, on the page “source”." in said(now, sheet, page="notebook")
    now = dataclasses.replace(now, fit=object(), fit_running=False)
    assert "Next: change the outlet" in said(now, sheet)
    sheet = SimpleNamespace(altered=("outlet.bore",))
    assert "Next: make foam" in said(now, sheet)
    blown = SimpleNamespace(code="packing_blown", active=True)
    now = dataclasses.replace(now, run=state_of_run(now.time))
    assert "Next: blow the packing out" in said(now, sheet)
    now = dataclasses.replace(now, run=state_of_run(now.time, log=(SimpleNamespace(code="leak", active=False), blown)))
    assert "Next: clear the fault" in said(now, sheet)
    blown.active = False
    assert "All five done." in said(now, sheet)


def test_a_step_has_its_number_also_where_the_others_are_hidden(feed):
    """A phone shows the next step alone, which is not the first one."""
    (piece,) = tour.pieces(dataclasses.replace(feed.snapshot(), simulated=True), feed.desk.look(), Viewer())
    steps = next(child for child in piece[2:] if child[0] == "ol")[2:]
    assert [step[1]["value"] for step in steps] == ["1", "2", "3", "4", "5"]


def test_the_tour_is_for_a_simulated_rig_and_goes_when_it_is_dismissed(feed):
    now, sheet = feed.snapshot(), SimpleNamespace(altered=())
    assert tour.pieces(dataclasses.replace(now, simulated=False), sheet, Viewer()) == []
    simulated = dataclasses.replace(now, simulated=True)
    assert tour.pieces(simulated, sheet, Viewer()) != []
    assert tour.pieces(simulated, sheet, Viewer(wish={"tour": ("off",)})) == []


def test_the_alarm_of_the_tour_is_one_that_a_run_can_raise():
    from frothline.run.watch.alarm_kinds import KINDS

    assert tour.BROKEN in KINDS
    assert tour.RUN in PAGES


def test_each_part_of_the_line_says_what_is_done_or_what_to_do_next(feed, bench):
    now = dataclasses.replace(feed.snapshot(), fit=None, sweep=None)
    words = line_status(feed, now)
    assert set(say_status(feed, now)[1].values()) <= {"to do", ""}  # an empty folder has no part that is done
    assert words["status-source"] == "measure its curve"
    assert words["status-run"] == "no sample"
    assert words["status-generator"] == "save the build"
    bench.start_sweep()
    assert line_status(feed, bench.snapshot())["status-source"] == "sweep running"
    assert line_status(feed, dataclasses.replace(now, fit=object()))["status-source"] == "curve measured"
    assert say_status(feed, dataclasses.replace(now, fit=object()))[1]["status-source"] == "done"
    assert say_status(feed, bench.snapshot())[1]["status-source"] == "under way"
    running = dataclasses.replace(now, run=state_of_run(now.time))
    assert line_status(feed, running)["status-run"] == "run in progress"


def test_the_last_sample_has_the_time_of_the_clock_on_the_wall(feed):
    import time
    from datetime import datetime

    now = feed.snapshot()
    weighing = Weighing(0.020, 0.640, 2.040, 56.0)  # m3, kg, kg, s
    feed.runs.samples._taken = (TakenSample(now.time - 3600.0, weighing, evaluate(weighing)),)
    before = datetime.fromtimestamp(time.time() - 3600.0).astimezone()
    words = line_status(feed, now)["status-run"]
    after = datetime.fromtimestamp(time.time() - 3600.0).astimezone()
    assert words in {f"last sample {one:%H:%M}" for one in (before, after)}
