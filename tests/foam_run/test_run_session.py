"""A run through the whole path: modelled rig, port, reader, recording, converter, run, watch, snapshot."""

import pytest
from waiting import until

from frothline.bench.session import Session
from frothline.errors import InputError
from frothline.foam.sample import Weighing
from frothline.readings.marks import marks
from frothline.readings.series import read_series
from frothline.recording.reader import load as load_recording
from frothline.recording.reader import verify
from frothline.run.run import run_of_recording


def still(session):
    """Whether no air flows in the simulated line, and the session has read that much of the coasting rotor too."""
    flow = session.snapshot().latest.get("standard_flow")
    return abs(session.simulation.truth()["source_flow"]) < 1e-4 and flow is not None and flow.value < 5e-4


@pytest.mark.slow
def test_a_blown_packing_is_told_in_snapshot_and_recording_and_again_from_the_recording(tmp_path):
    with Session("modelled://run-fed?seed=2&speed=20", tmp_path) as session:
        session.start(wait=True)
        # No air flows when run and recording begin and end: how long one lasts beyond the other then makes no difference.
        session.simulation.control("motor", False)
        until(lambda: still(session), "still air")
        session.start_run("evening run", {"agent": "soap"})
        session.simulation.control("motor", True)
        path = session.snapshot().recording.path
        until(lambda: (run := session.snapshot().run) and run.phase == "foaming", "foaming")
        until(lambda: session.snapshot().run.elapsed > 30, "time to learn how the line is")
        state = session.snapshot().run
        assert state.running
        assert not state.alarms
        assert state.output.foam_rate.lower < session.simulation.truth()["foam_rate"] < state.output.foam_rate.upper
        assert any("no source curve" in words for words in state.cannot_see)
        session.simulation.control("fault", "packing_blown")
        alarm = until(lambda: next(iter(session.snapshot().run.alarms), None), "an alarm")
        assert alarm.code == "packing_blown"
        assert alarm.place == "outlet"
        assert alarm.severity == "alarm"
        assert alarm.time - alarm.onset < 0.5
        until(lambda: any(mark.kind == "alarm" for mark in session.snapshot().marks), "a mark")
        session.simulation.control("motor", False)
        until(lambda: still(session), "still air")
        ended = session.stop_run()
        assert not ended.running
        assert session.snapshot().recording is None  # the run began the recording, and ends it
    assert not verify(path).damage
    kept = [mark for mark in marks(load_recording(path)) if "packing" in mark.text]
    assert kept
    again = run_of_recording(path).state
    assert [one.code for one in again.log] == [one.code for one in ended.log]
    assert again.output.air_used.value == pytest.approx(ended.output.air_used.value, rel=0.06)
    assert "standard_flow" in read_series(path)


def test_a_sample_without_a_run_is_refused_and_a_run_without_a_rig_waits(tmp_path):
    session = Session("modelled://run-fed?seed=2", tmp_path)  # never opened
    with pytest.raises(InputError, match="no run"):
        session.add_sample(Weighing(0.010, 0.5, 1.2, 4.0))
    assert session.stop_run() is None
    session.start_run(record=True)
    state = session.snapshot().run
    assert state.phase == "waiting"
    assert state.output.foam_rate is None
    assert "no air" in state.output.why["foam_rate"]
    session.close()
    assert not session.snapshot().run.running
