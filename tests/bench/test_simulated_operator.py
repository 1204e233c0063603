"""The simulated hand at the throttle, and a sweep that does not depend on how busy the machine is."""

from time import sleep

import numpy as np
import pytest
from waiting import until

from frothline.bench.live_sweep import LiveSweep
from frothline.bench.session import Session
from frothline.bench.simulated_operator import SimulatedSourceOperator
from frothline.errors import InputError
from frothline.readings.note_times import note_times
from frothline.recording.reader import load
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.simulation import realtime
from frothline.simulation.modelled import ModelledRig, simulate
from frothline.simulation.options import read_url
from frothline.simulation.realtime import BACKLOG
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.withdrawn import withdrawn_note, withdrawn_stretches
from frothline.wire import StreamDecoder, gather


class OnTheBench:
    """A rig, its converter and a sweep in one thread: ``batch`` s of simulated time pass between two looks of the host."""

    def __init__(self, scenario, batch, seed=5):
        self.rig = ModelledRig(read_url(f"modelled://{scenario}?seed={seed}"))
        self.rig.board.start()
        self.batch, self.decoder, self.converter, self.tables = batch, StreamDecoder(), None, None
        self.sweep = LiveSweep()
        self.presses = 0

    def control(self, name, value=None):
        self.presses += name == "button"
        if name == "button":
            self.sweep.button()
        else:
            self.rig.control(name, value)

    def truth(self):
        return self.rig.truth()

    def step(self):
        tables = gather(self.decoder.feed(self.rig.run(self.batch)))
        if self.converter is None:
            self.converter = Converter(RigDescription.from_tables(tables), None, None)
        self.sweep.feed(self.converter.convert(tables))
        return self.sweep.look().sweep

    def swept(self, limit=400.0):
        for _ in range(round(2.0 / self.batch)):
            self.step()
        self.sweep.begin_sweep()
        hand = SimulatedSourceOperator(self)
        state = self.sweep.look().sweep
        while not state.done:
            state = self.step()
            hand.follow(state, self.sweep.time)
            assert self.rig.time < limit, f"{state.phase}: {state.why}"
        return state


@pytest.mark.slow
@pytest.mark.parametrize(
    "scenario",
    [
        "sweep",
        pytest.param("sweep-hump", marks=pytest.mark.exhaustive),
        pytest.param("sweep-displacement", marks=pytest.mark.exhaustive),
        pytest.param("sweep-compressor", marks=pytest.mark.exhaustive),
    ],
)
def test_the_simulated_hand_brings_every_kind_of_source_to_a_curve(scenario):
    rig = OnTheBench(scenario, 0.5)
    state = rig.swept()
    if scenario != "sweep-compressor":  # its regulator hunts in the middle
        assert state.missing == ()
    pressures = [point.pressure for point in rig.sweep.look().points]
    assert min(pressures) < 0.15 * max(pressures)


@pytest.mark.parametrize("batch", [*(pytest.param(s, marks=pytest.mark.exhaustive) for s in (0.1, 1.5)), 0.6])
def test_a_sweep_comes_to_the_same_end_however_late_the_readings_arrive(batch):
    """A busy machine hands over many readings at once."""
    rig = OnTheBench("sweep", batch)
    state = rig.swept()
    assert state.missing == ()
    assert 8 <= state.points <= 14
    flows = [point.flow for point in rig.sweep.look().points]
    assert max(flows) == pytest.approx(0.0549, rel=0.02)
    assert rig.presses == 0  # the guide saw that it was closed, and that it was open


def test_the_guide_sees_as_much_in_one_large_batch_as_in_many_small_ones():
    rig = ModelledRig(read_url("modelled://steady?seed=2"))
    rig.board.start()
    sent = rig.run(3.0)
    rig.control("throttle", 0.0)
    found = gather(StreamDecoder().feed(sent + rig.run(22.0)))
    series = Converter(RigDescription.from_tables(found), None, None, rotor_turned=True).convert(found)
    whole = LiveSweep()
    whole.begin_sweep()
    whole.feed(series)
    # closed, held, captured, shown for 0.8 s, and the next opening is asked for
    assert whole.look().sweep.phase in {"open", "open_fully"}
    assert whole.look().sweep.points == 1


def test_a_rig_that_is_faster_than_real_time_waits_for_the_session_that_follows_it(monkeypatch):
    monkeypatch.setattr(realtime, "FOLLOWS", 3600.0)  # s, however long this test waits for the processor
    rig = simulate("modelled://steady?seed=2&speed=50")
    try:
        rig.opened(reset=False)
        rig.handled(0)
        taken = 0

        def full():
            nonlocal taken
            taken += len(rig.take(rig.waiting(), 0.0))
            return taken > BACKLOG

        until(full, "the first messages")
        before = rig.time
        for _ in range(5):
            sleep(0.05)
            rig.handled(0)
        assert rig.time - before < 1.0  # 250 ms at fifty times real time are 12 s
        rig.handled(taken)
        until(lambda: rig.time > before + 1.0, "the rig that goes on")
    finally:
        rig.end()


@pytest.mark.slow
@pytest.mark.exhaustive
def test_a_withdrawn_point_is_neither_in_the_session_nor_read_from_the_recording(tmp_path):
    with Session("modelled://sweep?seed=5&speed=12", tmp_path) as session:
        session.start(wait=True)
        session.start_sweep()
        redone = []

        def done():
            state = session.snapshot().sweep
            if state.points == 4 and not redone:
                redone.append((session.snapshot().sweep.pressure, session.redo_point()))
            return state.done

        until(done, "the end of the sweep")
        assert redone[0][1]
        assert not session.redo_point()  # a sweep that has ended
        until(lambda: not session.snapshot().fit_running, "the fit")
        until(lambda: session.snapshot().last_recording, "the end of the recording")
        now = session.snapshot()
    recorded = load(now.last_recording)
    (note,) = withdrawn_stretches(note_times(recorded, "step"))
    live = np.array([point.flow for point in now.points])
    read = np.array([point.flow for point in load_sweeps(now.last_recording).points])
    # the point was measured again at the same opening: once in both
    again = live[np.argsort(np.abs(live - live[3]))]
    assert np.all(np.min(np.abs(live[:, None] - read), axis=1) < 0.02 * live.max())
    assert len(again) == len(live)
    assert all(
        not note[0] < 0.5 * (point.start + point.end) < note[1] for point in load_sweeps(now.last_recording).points
    )


def test_the_note_of_a_withdrawn_point_gives_its_stretch():
    notes = [(3.0, "sweep begins"), (41.5, withdrawn_note(7.25)), (60.0, "point withdrawn: the last x s do not count")]
    ((begin, end),) = withdrawn_stretches(notes)
    assert end == 41.5
    assert begin == pytest.approx(34.25, abs=0.06)


def test_a_person_takes_the_throttle_from_the_simulated_hand_and_gives_it_back(tmp_path):
    with Session("modelled://sweep?seed=5", tmp_path, own_process=False) as session:
        session.start(wait=True)
        session.start_sweep(record=False)
        assert session.hand_follows()
        session.turn_throttle(0.4)
        assert not session.hand_follows()
        until(lambda: abs(session.simulation.truth()["throttle"] - 0.4) < 0.02, "the throttle")
        session.turn_throttle(7.0)  # a slider never says more than fully open
        until(lambda: session.simulation.truth()["throttle"] > 0.98, "the open throttle")
        session.turn_throttle(None)
        assert session.hand_follows()
        session.stop_sweep()
        with pytest.raises(InputError, match="no sweep is running"):
            session.turn_throttle(None)
