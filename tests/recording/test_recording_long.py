"""Recordings longer than half the range of the board's counter, boards that boot in them, anchors that come late.

A board's oscillator is off by up to half a percent; here it is 0.3 % fast, so that host and board part by 6 s in 36 min.
"""

import numpy as np
import pytest
from recording_scenes import TICK_HZ, BoardStream, SetClock

from frothline.readings.marks import marks
from frothline.readings.series import read_series
from frothline.readings.table import read_table
from frothline.recording.reader import load
from frothline.recording.segments import Policy
from frothline.recording.summary import summarise
from frothline.recording.writer import RecordingWriter

FAST = 1.003
WRAP = 2**32


class Long:
    """A recording with its true times: board seconds while a board runs, the host's in between."""

    def __init__(self, folder, rate=10, **policy):
        self.clock, self.boot = SetClock(), 1
        self.stream = BoardStream(rate=rate)
        self.writer = RecordingWriter.create(
            folder, "long", clock=self.clock, background=False, policy=Policy(free_floor=0, sync_every=1e6, **policy)
        )
        self.writer.write(self.stream.description())
        self.seconds = 0  # of board time so far
        self.true, self.scale = [], []
        self.axis = 0.0  # of the present boot's tick 0

    def run(self, seconds, *, scale=False):
        for _ in range(seconds):
            begin = self.stream.tick
            data = self.stream.lines(self.stream.rate)
            self.true += [self.axis + (begin / TICK_HZ) + (k + 1) / self.stream.rate for k in range(self.stream.rate)]
            data += self.stream.slow()
            if scale:
                data += self.stream.send("scale", tick=self.stream.tick % WRAP, counts=5, flags=3)
                self.scale.append(self.true[-1])
            self.writer.write(data)
            self.clock.advance(1 / FAST)
            self.seconds += 1
            if self.seconds % 10 == 0:
                self.writer.anchor(self.stream.tick % WRAP)

    def restart(self, off=4.0):
        """The board loses its supply; ``off`` s pass until the first second of its stream has begun."""
        self.axis += self.stream.tick / TICK_HZ + off
        self.clock.advance(off)
        self.boot += 1
        self.stream = BoardStream(boot=self.boot, rate=self.stream.rate)
        self.writer.write(self.stream.description())

    def done(self):
        self.writer.close()
        return self.writer.path


@pytest.mark.parametrize("minutes", [18, 36, 75, pytest.param(600, marks=pytest.mark.exhaustive)])
def test_a_long_recording_is_read_on_one_axis(tmp_path, minutes):
    """The scale answers in the last minute only, as one that is plugged in late."""
    scene = Long(tmp_path)
    scene.run(60 * minutes - 60)
    scene.run(60, scale=True)
    path = scene.done()
    recorded = load(path)
    series, frame = read_series(recorded), read_table(recorded)
    zero = scene.true[0]
    assert np.abs(frame["time"] - (np.array(scene.true) - zero)).max() < 1e-6
    assert not frame["gap"].any()
    assert np.abs(series["line_pressure"].time - (np.array(scene.true) - zero)).max() < 1e-6
    assert np.abs(series["scale_mass"].time - (np.array(scene.scale) - zero)).max() < 1e-6
    temperature = series["line_temperature"]
    assert np.allclose(np.diff(temperature.time), 1.0, rtol=0, atol=1e-6)
    # slow readings reach all rows between them
    assert frame["line_temperature"].iloc[20:-20].notna().all()


def test_a_long_recording_with_restarts_is_read_on_one_axis(tmp_path):
    scene = Long(tmp_path)
    for seconds in (1200, 2400, 30, 1300):
        scene.run(seconds)
        if seconds != 1300:
            scene.restart()
    frame = read_table(scene.done())
    assert frame["gap"].sum() == 3
    assert frame.attrs["guessed_silences"] == 0
    time = frame["time"].to_numpy()
    assert np.abs(time - (np.array(scene.true) - scene.true[0])).max() < 3 * 0.15  # host and board differ by 0.3 %
    rotor = frame["rotor_frequency"].to_numpy()
    known = np.isfinite(rotor)
    assert rotor[known] == pytest.approx(10.0, rel=1e-3)
    assert known.sum() > len(frame) - 4 * 10  # the first second of each boot may be unknown


def test_a_note_and_an_alarm_late_in_a_long_recording_have_their_place(tmp_path):
    scene = Long(tmp_path)
    scene.run(2500)
    scene.writer.note("note", "leak at the third clamp", scene.stream.tick % WRAP)
    scene.run(20)
    scene.writer.alarm("warning", "solution-low", "four minutes left", scene.stream.tick % WRAP)
    scene.run(20)
    told = marks(load(scene.done()))
    assert [mark.time for mark in told] == pytest.approx([2500 - 0.1, 2520 - 0.1], abs=1e-6)


@pytest.mark.parametrize("seconds", [700, 2200, 4400])
def test_the_catalogue_knows_the_length_of_a_long_recording_that_is_still_open(tmp_path, seconds):
    scene = Long(tmp_path, segment_bytes=200_000)
    scene.run(seconds)
    scene.writer.sync()
    paths = sorted(tmp_path.glob("long*.froth"), key=lambda path: (len(path.name), path.name))
    assert len(paths) > 1
    assert summarise(paths).seconds == pytest.approx(seconds, abs=0.2)


# --- anchors that come late -----------------------------------------------------------------------------------------


def reset_under_load(folder, lag):
    """A board that boots after 8 s; the live thread is ``lag`` s behind the bytes and writes its anchors late."""
    clock, waiting, true = SetClock(), [], []
    stream = BoardStream(rate=100)
    writer = RecordingWriter.create(folder, "late", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description())
    began = clock.monotonic
    for step in range(200):  # 0.1 s each
        if step == 80:
            clock.advance(0.4)
            stream = BoardStream(boot=2, rate=100)
            writer.write(stream.description())
        writer.write(stream.lines(10))
        clock.advance(0.1)
        true += [clock.monotonic - began - 0.1 + 0.01 * (k + 1) for k in range(10)]
        if step % 10 == 9 or step in {79, 81}:
            waiting.append((clock.monotonic + lag, stream.tick, clock.unix_ns(), clock.monotonic_ns()))
        while waiting and waiting[0][0] <= clock.monotonic:
            _, tick, unix_ns, monotonic_ns = waiting.pop(0)
            writer.anchor(tick, "periodic", unix_ns=unix_ns, monotonic_ns=monotonic_ns)
    writer.close()
    return writer.path, np.array(true)


@pytest.mark.parametrize("lag", [0.0, 0.3, 1.0, 2.5, 5.0])
def test_an_anchor_of_the_old_boot_that_is_written_in_the_new_one_does_not_move_the_axis(tmp_path, lag):
    path, true = reset_under_load(tmp_path, lag)
    frame = read_table(path)
    assert np.abs(frame["time"].to_numpy() - (true - true[0])).max() < 0.02
    assert frame.attrs["guessed_silences"] == 0


def test_a_note_that_was_written_behind_a_boot_stays_at_its_own_moment(tmp_path):
    scene = Long(tmp_path, rate=100)
    scene.run(20)
    pressed = scene.stream.tick
    scene.restart()
    scene.run(2)
    scene.writer.note("mark", "bleed open", pressed)
    scene.run(5)
    (mark,) = marks(load(scene.done()))
    assert mark.time == pytest.approx(20 - 0.01, abs=1e-6)


def test_an_anchor_whose_tick_fits_no_frame_is_not_used(tmp_path):
    """As of a board that was listened to before the recording began: 300 s from every tick that it holds."""
    scene = Long(tmp_path, rate=100)
    scene.run(10)
    scene.restart(off=6.0)
    scene.writer.anchor(scene.stream.tick + 300 * TICK_HZ)
    scene.run(20)
    frame = read_table(scene.done())
    assert np.abs(frame["time"] - (np.array(scene.true) - scene.true[0])).max() < 0.1
