"""The table: one time axis over boots, lost ports and wraps; gaps marked; nothing held on to."""

import numpy as np
import pandas as pd
import pytest
from recording_scenes import TICK_HZ, BoardStream, SetClock

from frothline.atomic_file import write_atomically
from frothline.errors import InputError, SensorMissing
from frothline.readings.export import export_table, to_csv, to_parquet
from frothline.readings.marks import marks
from frothline.readings.series import read_series
from frothline.readings.table import read_table
from frothline.readings.time_axis import pieces
from frothline.recording.reader import load
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter


class Scene:
    """A recording in which host time and board time go together, except where told otherwise."""

    def __init__(self, folder, tick=0, rate=100):
        self.clock, self.stream = SetClock(), BoardStream(tick=tick, rate=rate)
        self.writer = RecordingWriter.create(
            folder, "a", clock=self.clock, background=False, policy=Policy(free_floor=0), source="modelled://sweep"
        )
        self.send(self.stream.description())
        self.anchor("opened")

    def send(self, data):
        self.writer.write(data)

    def anchor(self, reason="periodic"):
        self.writer.anchor(self.stream.tick % 2**32, reason)

    def run(self, seconds):
        for _ in range(seconds):
            self.clock.advance(1)
            self.send(self.stream.seconds(1))
            self.anchor()

    def silence(self, seconds, *, board_runs_on=True):
        self.clock.advance(seconds)
        if board_runs_on:
            self.stream.tick += round(seconds * TICK_HZ)

    def done(self):
        self.writer.close()
        return self.writer.path


def test_a_row_for_each_line_message_in_si_with_units(tmp_path):
    scene = Scene(tmp_path)
    scene.run(3)
    frame = read_table(scene.done())
    assert len(frame) == 300
    assert np.allclose(np.diff(frame["time"]), 0.01, rtol=0, atol=1e-9)
    assert not frame["gap"].any()
    assert frame.attrs["units"]["line_pressure"] == "Pa"
    assert {column for column in frame if column not in frame.attrs["units"]} == set()
    for column in frame.columns.drop(["time", "gap"]):
        if not column.startswith("u_"):
            assert f"u_{column}" in frame
    # MPX5050 at half its supply: NXP data sheet rev 11, transfer function Vout = Vs (0.018 P + 0.04), so 25.56 kPa
    assert frame["line_pressure"].iloc[5] == pytest.approx((0.5 - 0.04) / 0.018 * 1e3, rel=0.002)
    assert frame.attrs["started"].startswith("2023-11-14T22:13:20")  # 1.7e9 s after 1970, `date -u -d @1700000000`


def test_a_rotor_turns_at_one_pulse_a_window(tmp_path):
    scene = Scene(tmp_path)
    scene.run(2)
    series = read_series(scene.done())
    frequency = series["rotor_frequency"].value
    assert np.nanmedian(frequency) == pytest.approx(100.0, rel=1e-6)


def test_lost_frames_are_a_gap_and_not_a_jump(tmp_path):
    scene = Scene(tmp_path)
    scene.run(1)
    scene.stream.lines(30)  # never arrive
    scene.clock.advance(0.3)
    scene.run(1)
    frame = read_table(scene.done())
    (row,) = np.flatnonzero(frame["gap"])
    assert row == 100
    assert frame["time"].iloc[100] - frame["time"].iloc[99] == pytest.approx(0.31)
    assert frame.attrs["lost"] == 30


def test_a_single_lost_frame_is_a_gap(tmp_path):
    scene = Scene(tmp_path)
    scene.run(1)
    scene.stream.line()
    scene.run(1)
    assert read_table(scene.done())["gap"].sum() == 1


def test_every_other_frame_lost_is_a_gap_each_time(tmp_path):
    scene = Scene(tmp_path)
    scene.run(2)
    for _ in range(5):
        scene.stream.line()
        scene.send(scene.stream.line())
    scene.run(2)
    assert read_table(scene.done())["gap"].sum() == 5


def test_another_rate_is_no_gap(tmp_path):
    scene = Scene(tmp_path)
    scene.run(1)
    scene.stream.rate = 10
    scene.send(scene.stream.description())
    scene.run(2)
    assert read_table(scene.done())["gap"].sum() == 0


def test_the_wrap_of_the_board_clock_is_not_seen(tmp_path):
    scene = Scene(tmp_path, tick=2**32 - TICK_HZ)
    scene.run(3)
    frame = read_table(scene.done())
    assert np.allclose(np.diff(frame["time"]), 0.01, rtol=0, atol=1e-9)
    assert not frame["gap"].any()


def test_a_board_that_ran_on_while_the_port_was_lost_measures_the_silence_itself(tmp_path):
    scene = Scene(tmp_path)
    scene.run(2)
    scene.writer.port("lost", "unplugged")
    scene.silence(5.0)
    scene.clock.advance(0.2)  # the host saw it a little later
    scene.writer.port("back")
    scene.run(2)
    frame = read_table(scene.done())
    (row,) = np.flatnonzero(frame["gap"])
    assert frame["time"].iloc[row] - frame["time"].iloc[row - 1] == pytest.approx(5.01, abs=1e-6)


def test_a_silence_longer_than_the_board_clock_is_measured_with_the_hosts_help(tmp_path):
    scene = Scene(tmp_path)
    scene.run(2)
    scene.writer.port("lost")
    scene.silence(2 * 2**32 / TICK_HZ + 100)  # it wraps after 36 minutes
    scene.writer.port("back")
    scene.run(2)
    frame = read_table(scene.done())
    (row,) = np.flatnonzero(frame["gap"])
    step = frame["time"].iloc[row] - frame["time"].iloc[row - 1]
    assert step == pytest.approx(2 * 2**32 / TICK_HZ + 100.01, abs=1e-6)


def test_a_board_that_started_anew_is_placed_by_the_hosts_clock(tmp_path):
    scene = Scene(tmp_path)
    scene.run(2)
    scene.writer.port("lost")
    scene.silence(7.0, board_runs_on=False)
    scene.writer.port("back")
    scene.stream = BoardStream(boot=2)
    scene.send(scene.stream.description())
    scene.run(2)
    frame = read_table(scene.done())
    (row,) = np.flatnonzero(frame["gap"])
    assert frame["time"].iloc[row] - frame["time"].iloc[row - 1] == pytest.approx(7.01, abs=0.02)
    assert frame.attrs["boots"] == 2
    assert frame.attrs["guessed_silences"] == 0
    assert len(frame) == 400


def test_a_silence_that_no_clock_tells_is_said_to_be_guessed(tmp_path):
    stream = BoardStream()
    writer = RecordingWriter.create(tmp_path, "a", background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.seconds(1))
    again = BoardStream(boot=2)
    writer.write(again.description() + again.seconds(1))
    writer.close()
    frame = read_table(writer.path)
    assert frame.attrs["guessed_silences"] == 1
    assert frame["gap"].sum() == 1
    assert (np.diff(frame["time"]) >= 0).all()


def test_without_anchors_the_messages_of_the_port_tell_the_silence(tmp_path):
    clock, stream = SetClock(), BoardStream()
    writer = RecordingWriter.create(tmp_path, "a", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.seconds(1))
    writer.port("lost")
    clock.advance(30)
    writer.port("back")
    again = BoardStream(boot=2)
    writer.write(again.description() + again.seconds(1))
    writer.close()
    frame = read_table(writer.path)
    (row,) = np.flatnonzero(frame["gap"])
    assert frame["time"].iloc[row] - frame["time"].iloc[row - 1] == pytest.approx(30, abs=0.02)
    assert frame.attrs["guessed_silences"] == 0


def test_board_time_goes_on_through_segments(tmp_path):
    scene = Scene(tmp_path)
    scene.writer._policy = scene.writer._segments._policy = Policy(free_floor=0, segment_bytes=4000)
    scene.run(4)
    scene.done()
    recorded = load(tmp_path / "a")
    assert len(recorded.paths) > 2
    assert len(pieces(recorded)) == 1
    frame = read_table(recorded)
    assert np.allclose(np.diff(frame["time"]), 0.01, rtol=0, atol=1e-9)
    assert not frame["gap"].any()


def test_slow_readings_stand_as_lines_between_them_and_never_beyond(tmp_path):
    scene = Scene(tmp_path)
    scene.run(2)
    scene.send(scene.stream.lines(200))  # two seconds without a slow reading
    scene.clock.advance(2)
    scene.run(1)
    frame = read_table(scene.done())
    temperature = frame["line_temperature"]
    # 10 kOhm at half the supply against 10 kOhm: 25 °C, the nominal point of the thermistor
    assert temperature.iloc[50] == pytest.approx(298.15, abs=0.3)
    between = (frame["time"] > 2.05) & (frame["time"] < 4.0)
    assert temperature[between].isna().all()
    assert np.isfinite(temperature[(frame["time"] > 0.5) & (frame["time"] < 1.9)]).all()
    assert frame["scale_mass"].isna().all() if "scale_mass" in frame else True


def test_damage_in_the_file_is_counted_and_marked_and_the_rest_is_read(tmp_path):
    scene = Scene(tmp_path)
    scene.run(2)
    path = scene.done()
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 0x5A
    path.write_bytes(data)
    frame = read_table(path)
    assert len(frame) >= 197
    assert frame.attrs["damaged"] >= 1
    assert frame["gap"].sum() == 1


def test_marks_and_notes_have_their_place_on_the_axis(tmp_path):
    scene = Scene(tmp_path)
    scene.run(1)
    scene.writer.note("note", "Düse gewechselt. " * 20, scene.stream.tick)
    scene.send(scene.stream.send("mark", tick=scene.stream.tick, number=1, source=1))
    scene.run(1)
    scene.writer.alarm("warning", "solution-low", "four minutes left", scene.stream.tick)
    told = marks(load(scene.done()))
    assert [mark.kind for mark in told] == ["note", "button", "warning"]
    assert told[0].text == "Düse gewechselt. " * 20
    assert told[0].time == pytest.approx(0.99)
    assert told[2].text == "solution-low: four minutes left"


def test_chosen_columns_alone_are_given_and_a_wrong_one_is_told(tmp_path):
    scene = Scene(tmp_path)
    scene.run(1)
    path = scene.done()
    frame = read_table(path, columns=["line_pressure"])
    assert list(frame) == ["time", "gap", "line_pressure", "u_line_pressure"]
    with pytest.raises(InputError, match=r"'pressure'.*line_pressure"):
        read_table(path, columns=["pressure"])


def test_a_recording_without_a_description_is_told_so(tmp_path):
    writer = RecordingWriter.create(tmp_path, "a", background=False, policy=Policy(free_floor=0))
    writer.write(BoardStream().lines(5))
    writer.close()
    with pytest.raises(SensorMissing, match="no description"):
        read_table(writer.path)


def test_a_recording_without_any_sample_gives_an_empty_table(tmp_path):
    frame = read_table(Scene(tmp_path).done())
    assert len(frame) == 0
    assert list(frame.columns[:2]) == ["time", "gap"]


# --- exports -------------------------------------------------------------------------------------------------------


@pytest.fixture
def frame(tmp_path):
    scene = Scene(tmp_path)
    scene.run(1)
    scene.writer.note("note", 'a, "b"\n# c')
    return read_table(scene.done())


def test_csv_comes_back_with_its_units_and_the_hash_of_its_recording(tmp_path, frame):
    path = to_csv(frame, tmp_path / "t.csv")
    back = pd.read_csv(path, comment="#")
    pd.testing.assert_frame_equal(back, frame, check_dtype=False, rtol=1e-8, check_exact=False)
    text = path.read_text(encoding="utf-8")
    assert f"# sha256: {load(tmp_path / 'a').digest()}" in text
    assert '"line_pressure": "Pa"' in text
    assert [path.name for path in tmp_path.glob(".*")] == []


def test_parquet_comes_back_with_its_units_and_the_hash_of_its_recording(tmp_path, frame):
    pq = pytest.importorskip("pyarrow.parquet")
    path = to_parquet(frame, tmp_path / "t.parquet")
    table = pq.read_table(path)
    assert table.schema.field("line_pressure").metadata[b"unit"] == b"Pa"
    assert load(tmp_path / "a").digest().encode() in table.schema.metadata[b"frothline"]
    pd.testing.assert_frame_equal(table.to_pandas(), frame, check_exact=True)


def test_an_export_that_fails_leaves_the_old_table_alone(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("old", encoding="utf-8")

    def half(file):
        file.write(b"new")
        raise RuntimeError("power cut")

    with pytest.raises(RuntimeError):
        write_atomically(path, half)
    assert path.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_an_unknown_kind_of_table_is_told(tmp_path, frame):
    with pytest.raises(InputError, match=r"\.csv or \.parquet"):
        export_table(frame, tmp_path / "t.xlsx")
