"""Session time follows the readings of a rig that does not keep real time: sped-up simulations and playbacks."""

import time
import tomllib

import numpy as np
import pytest
from waiting import until

from frothline.bench.live_series import STALE_AFTER, LiveSeries
from frothline.bench.ring_buffer import RingBuffer
from frothline.bench.session import Session
from frothline.foam.sample import Weighing
from frothline.sensors.series import Series, Status


def newest(session):
    latest = session.snapshot().latest.get("line_pressure")
    return 0.0 if latest is None else latest.time


@pytest.mark.slow
def test_a_mark_of_a_fast_simulation_lies_where_its_readings_are(tmp_path):
    with Session("modelled://steady?seed=2&speed=20", tmp_path) as session:
        session.start(wait=True)
        until(lambda: newest(session) > 30.0, "half a minute of readings")
        before = newest(session)
        session.mark("here")
        assert before <= session.snapshot().marks[-1].time <= newest(session) + 2.0


@pytest.mark.slow
@pytest.mark.exhaustive
def test_a_sample_of_a_fast_simulation_is_kept_at_the_time_of_its_readings(tmp_path):
    with Session("modelled://run-fed?seed=2&speed=20", tmp_path) as session:
        session.start(wait=True)
        until(lambda: newest(session) > 5.0, "readings")
        earliest = newest(session)
        session.start_run("evening run", {"agent": "soap"})
        latest = session.now
        until(lambda: (run := session.snapshot().run) and run.output.foam_rate, "a foam rate")
        until(lambda: newest(session) > latest + 60.0, "a minute of readings")
        path, filled = session.snapshot().recording.path, session.snapshot().run.time
        session.add_sample(Weighing(0.060, 2.3, 6.6, 8.0, confirmed=True), filled)
        after = session.now
        session.stop_run()
    kept = tomllib.loads(path.with_suffix(".toml").read_text("utf-8"))["sample"][0]["at"]
    at = float(str(kept).split()[0])
    assert filled - latest - 0.1 <= at <= after - earliest + 0.1


@pytest.mark.exhaustive
@pytest.mark.slow
def test_a_fast_simulated_sweep_is_checked_on_its_own_readings(tmp_path):
    with Session("modelled://sweep?seed=5&speed=12", tmp_path) as session:
        session.start(wait=True)
        until(lambda: newest(session) > 20.0, "readings before the sweep")
        session.start_sweep()
        until(lambda: session.snapshot().sweep.done, "the end of the sweep")
        session.stop_sweep()
        until(lambda: newest(session) > session.now - 5.0, "the last readings")
        assert [one.code for one in session.findings() if one.code.startswith("tap")] == []


class Boards:
    """Stands for the converter: pressure at the board's times that are passed."""

    def convert(self, times):
        flat = np.zeros(len(times))
        return {"line_pressure": Series("line_pressure", "Pa", times, flat, flat, flat.astype(np.uint8))}


class SteppedSeries:
    """Live series on a stepped clock, fed ten times a second. ``said``: the session time after each step."""

    def __init__(self, monkeypatch):
        self.clock, self.sent = 100.0, 0.0
        monkeypatch.setattr("frothline.bench.live_series.time.monotonic", lambda: self.clock)
        self.series = LiveSeries(self.clock)
        self.series._converter = Boards()
        self.said = [self.series.now()]
        self.newest = 0.0

    def waits(self, seconds):
        self.clock += seconds
        self.said.append(self.series.now())

    def reads(self, seconds, speed=1.0):
        for _ in range(round(10 * seconds)):
            self.sent += 0.1 * speed
            self.clock += 0.1
            found = self.series.take(np.array([self.sent - 0.001, self.sent]))
            self.newest = found["line_pressure"].time[-1]
            self.said.append(self.series.now())

    def rig(self, *, simulated=False, played=False):
        self.series.gap()
        self.series.place_anew()
        self.series.begin_rig(simulated=simulated, played=played)


@pytest.mark.parametrize("on_while_away", [True, False])
def test_readings_after_a_pulled_cable_are_placed_at_the_time_of_their_arrival(monkeypatch, on_while_away):
    """The board goes on counting while the cable is out, or it was reset and counts on from where it was."""
    one = SteppedSeries(monkeypatch)
    one.reads(600.0)
    one.waits(5.0)
    one.sent += 5.0 if on_while_away else 0.0
    one.series.gap()
    one.series.place_anew()
    one.reads(2.0)
    assert one.newest == pytest.approx(607.0, abs=0.2)
    assert one.newest == pytest.approx(one.said[-1], abs=0.2)


def test_session_time_never_jumps_back_when_rigs_change(monkeypatch):
    """A board, a fast simulation, a playback at half speed and the board again."""
    one = SteppedSeries(monkeypatch)
    one.rig()
    one.reads(5.0)
    assert one.said[-1] == pytest.approx(5.0)
    one.rig(simulated=True)
    one.reads(5.0, speed=20.0)
    assert one.said[-1] == pytest.approx(105.0, abs=2.5)
    one.waits(3.0)  # unplugged: time goes on
    assert one.said[-1] == pytest.approx(one.said[-2] + 3.0)
    one.rig(played=True)
    one.reads(10.0, speed=0.5)
    one.waits(60.0)  # paused: time does not
    assert one.said[-1] == one.said[-2]
    one.rig()
    one.reads(5.0)
    assert one.said == sorted(one.said)
    assert one.newest == pytest.approx(one.said[-1], abs=0.2)


def test_a_figure_is_the_mean_of_the_last_second_until_newer_samples_come_or_it_is_old():
    samples = LiveSeries(time.monotonic())
    ring = samples.rings["line_pressure"] = RingBuffer("line_pressure", "Pa")
    samples._arrived["line_pressure"] = 0.0

    def put(first, *values):
        row = np.array(values)
        ring.write(first + np.arange(row.size) * 0.5, row, row / 100, np.zeros(row.size, np.uint8))

    put(0.0, 900.0, 100.0, 200.0, 300.0)  # the window is closed on both sides: 0.5 s to 1.5 s
    now = samples.latest()["line_pressure"]
    assert (now.value, now.u, now.n, now.time) == (200.0, 2.0, 3, 1.5)
    assert samples.latest()["line_pressure"] == now
    put(2.0, np.nan, 500.0)
    later = samples.latest()["line_pressure"]
    assert (later.value, later.u, later.n, later.time) == (400.0, 4.0, 2, 2.5)
    samples._arrived["line_pressure"] = -STALE_AFTER - 1.0
    old = samples.latest()["line_pressure"]
    assert not old.known
    assert old.status & Status.STALE
    samples._arrived["line_pressure"] = 0.0
    assert samples.latest()["line_pressure"] == later
