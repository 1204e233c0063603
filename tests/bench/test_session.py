"""A session with the modelled rig and with a recording played back: link, losses, recording, marks, points, fit.

Truth comes from the simulated world, which shares no code with sensors and curve.
"""

import time
import tomllib

import numpy as np
import pytest
from waiting import frames_pass, until

from frothline.bench.folders import default_folder
from frothline.bench.session import Session
from frothline.errors import InputError, PortNotFound, RecordingUnwritable
from frothline.readings.table import read_table
from frothline.recording.reader import verify
from frothline.recording.sidecar import clean_name, free_name

STEADY = "modelled://steady?seed=2"


@pytest.fixture
def session(tmp_path):
    with Session(STEADY, tmp_path / "recordings") as one:
        one.start(wait=True)
        yield one


def figure(session, name):
    return session.snapshot().latest.get(name)


def test_figures_are_live_soon_after_starting(tmp_path):
    with Session(STEADY, tmp_path) as session:
        session.start(wait=True)
        pressure = until(lambda: (one := figure(session, "line_pressure")) and one.known and one)
        assert pressure.time < 1.5 or session.snapshot().losses.frames < 150  # of the board's own time
        now = session.snapshot()
        assert now.link.state == "live"
        assert now.board.label == "simulated 2"
        assert now.simulated


def test_pressure_and_flow_agree_with_what_the_simulated_air_really_does(session):
    until(lambda: (one := figure(session, "standard_flow")) and one.known and one.time > 3)
    now, truth = session.snapshot(), session.simulation.truth()
    for name, true in (("line_pressure", truth["line_pressure"]), ("mass_flow", truth["mass_flow"])):
        one = now.latest[name]
        # The sensors' errors are drawn once per seed from their data sheets; four standard uncertainties hold all of them.
        assert abs(one.value - true) < 4 * one.u + 0.02 * abs(true), name
        assert 0 < one.u < 0.2 * abs(true)


def test_a_recording_holds_what_was_seen_and_is_whole(session):
    until(lambda: session.snapshot().losses.frames > 50)
    path = session.start_recording("evening: first / try", {"source": "vacuum", "openings": 11})
    assert path.name == "evening-first-try.froth"
    session.mark("here")
    until(lambda: session.snapshot().recording.bytes > 5000)
    running = session.snapshot().recording
    assert running.name == "evening-first-try"
    assert running.running > 0.2
    session.note("the hose was kinked")
    assert session.stop_recording() == path
    now = session.snapshot()
    assert now.recording is None
    assert now.last_recording == path
    report = verify(path)
    assert report.whole, report.sentences()
    assert report.messages["description"] >= 1  # it says who was speaking
    assert report.messages["anchor"] >= 2
    assert report.messages["note"] == 2
    beside = tomllib.loads(path.with_suffix(".toml").read_text())
    assert beside["source"] == "vacuum"
    assert beside["openings"] == 11
    assert [mark.text for mark in now.marks if mark.kind in {"mark", "note"}] == ["here", "the hose was kinked"]


def test_the_table_of_a_recording_has_the_values_that_were_shown_live(session):
    until(lambda: (one := figure(session, "standard_flow")) and one.known)
    path = session.start_recording("compare")
    assert session.catch_up(60.0)  # what was received before the recording began
    frames_pass(session, 150)
    live = session.window("line_pressure", 1.0)
    session.stop_recording()
    table = read_table(path)
    assert np.isin(np.round(live.value, 6), np.round(table["line_pressure"].to_numpy(), 6)).mean() > 0.9


def test_a_name_that_is_taken_gets_a_number(session, tmp_path):
    until(lambda: session.snapshot().losses.frames > 10)
    first = session.start_recording("again")
    session.stop_recording()
    second = session.start_recording("again")
    session.stop_recording()
    assert (first.name, second.name) == ("again.froth", "again-2.froth")
    assert free_name(first.parent, "again") == "again-3"


def test_one_recording_at_a_time_and_none_without_a_rig(session, tmp_path):
    session.start_recording("one")
    with pytest.raises(InputError, match="already running"):
        session.start_recording("two")
    with pytest.raises(InputError, match="no rig"):
        Session("modelled://steady", tmp_path).start_recording("three")


def test_a_folder_that_cannot_be_written_is_said_and_the_link_goes_on(session, tmp_path):
    (tmp_path / "a-file").write_text("not a folder")
    session.folder = tmp_path / "a-file"
    with pytest.raises(RecordingUnwritable):
        session.start_recording("nowhere")
    frames = session.snapshot().losses.frames
    until(lambda: session.snapshot().losses.frames > frames + 20)
    assert session.snapshot().recording is None


def test_a_pulled_cable_pauses_the_same_recording_and_the_gap_is_marked(session):
    until(lambda: session.snapshot().losses.frames > 50)
    path = session.start_recording("pulled")
    frames_pass(session, 50)
    session.simulation.control("cable", False)
    until(lambda: session.snapshot().link.state == "lost")
    assert not session.snapshot().latest["line_pressure"].known  # never the last value
    time.sleep(0.5)  # nothing comes meanwhile
    session.simulation.control("cable", True)
    until(lambda: session.snapshot().link.state == "live" and figure(session, "line_pressure").known)
    frames_pass(session, 70)
    session.stop_recording()
    now = session.snapshot()
    assert now.losses.times_lost == 1
    assert now.losses.missing == 0  # what the board sent to nobody is a gap, not a damaged link
    report = verify(path)
    assert report.port_lost == 1
    assert report.closed
    table = read_table(path)
    assert table["gap"].sum() == 1
    time_, value = session.series("line_pressure", 60)
    assert (np.diff(time_) > 0).all()
    assert np.isnan(value).sum() >= 1  # a line drawn through it is broken there


def test_a_board_that_resets_in_the_middle_goes_on_in_the_same_recording(session):
    until(lambda: session.snapshot().losses.frames > 50)
    path = session.start_recording("brown-out")
    frames_pass(session, 50)
    session.simulation.control("reset", "brown_out")
    until(lambda: session.snapshot().losses.board_resets == 1)
    until(lambda: session.snapshot().link.state == "live" and figure(session, "line_pressure").known)
    frames_pass(session, 50)
    session.stop_recording()
    assert verify(path).boots == 2
    assert any("brown out" in mark.text for mark in session.snapshot().marks)
    time_, _ = session.series("line_pressure", 60)
    assert (np.diff(time_) > 0).all()


def test_a_rig_that_is_not_there_is_waited_for_and_the_reason_is_shown(tmp_path):
    with Session("/dev/ttyNOSUCHPORT", tmp_path) as session:
        session.start()
        until(lambda: session.snapshot().link.state == "absent")
        link = session.snapshot().link
        assert link.error["code"] == "port-not-found"
        assert "port does not exist" in link.words
        with pytest.raises(PortNotFound):
            Session("/dev/ttyNOSUCHPORT", tmp_path).start(wait=True)


def test_the_button_on_the_rig_makes_a_mark(session):
    until(lambda: session.snapshot().losses.frames > 20)
    session.simulation.control("button", True)
    until(lambda: [mark for mark in session.snapshot().marks if mark.kind == "button"])


def test_a_session_closes_in_order_though_a_recording_is_running(tmp_path):
    with Session(STEADY, tmp_path) as session:
        session.start(wait=True)
        path = session.start_recording("left running")
        frames_pass(session, 30)
    assert verify(path).whole
    assert session.snapshot().link.state == "closed"
    session.close()  # twice is no harm


def test_a_recording_can_be_looked_at_as_if_it_were_live(session, tmp_path):
    path = session.start_recording("for later")
    frames_pass(session, 150)
    session.stop_recording()
    with Session(f"replay://{path}?speed=4", tmp_path) as again:
        again.start(wait=True)
        until(lambda: again.snapshot().link.state == "ended")
        assert again.snapshot().losses.missing == 0
        assert again.window("line_pressure", 60).time.size > 100
        assert again.simulation is None


@pytest.mark.slow
def test_a_guided_sweep_ends_with_a_curve_that_holds_the_truth(tmp_path):
    # The scripted hand of the scenario, at twelve times real time; truth is read off the world at the steady places.
    with Session("modelled://sweep?seed=5&speed=12", tmp_path) as session:
        session.start(wait=True)
        session.start_sweep()
        truths = []

        def done():
            truth = session.simulation.truth()
            truths.append((truth["line_pressure"], truth["mass_flow"] / 1.2))
            return session.snapshot().sweep.done

        until(done, "the end of the sweep")
        until(lambda: not session.snapshot().fit_running, "the fit")
        until(lambda: session.snapshot().last_recording, "the end of the sweep's own recording")
        now = session.snapshot()
    assert len(now.points) >= 8
    assert now.fit is not None, now.fit_refused
    shut_off = max(pressure for pressure, _ in truths)
    assert now.fit.shut_off.lower < shut_off < now.fit.shut_off.upper
    pressures, flows = np.array(truths).T
    most = int(np.argmax(flows))
    lower, upper = now.fit.band(np.array([flows[most]]))
    assert lower[0] < pressures[most] < upper[0]
    assert verify(now.last_recording).whole  # the sweep's own recording ended with it


def test_names_become_file_names_on_every_system():
    assert clean_name('a<b>:"c"/d\\e|f?g*') == "a-b-c-d-e-f-g"
    assert clean_name("  ..  ") == ""
    assert clean_name("Größe 5") == "Größe-5"


def test_the_folder_is_the_home_folder_s_unless_said_otherwise(monkeypatch, tmp_path):
    monkeypatch.delenv("FROTHLINE_FOLDER", raising=False)
    assert default_folder().name == "Frothline"
    monkeypatch.setenv("FROTHLINE_FOLDER", str(tmp_path))
    assert default_folder() == tmp_path
