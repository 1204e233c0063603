"""A recording played back as a port: the same messages at the same pace, losses included."""

import time

import pytest
from waiting import until

from frothline.errors import FrothlineError, InputError, NotARecording, PortNotFound
from frothline.recording.disk import Disk
from frothline.recording.reader import verify
from frothline.recording.writer import RecordingWriter
from frothline.rig import open_rig
from frothline.rig.replay import from_share, read_url, segments
from frothline.simulation.modelled import stream
from frothline.wire import Received, StreamDecoder, decode_all, encode


def line_numbers(data):
    return decode_all(data).tables["line"]["tick"].tolist()


@pytest.fixture
def recorded(tmp_path):
    """Four seconds of the modelled rig, with a host's note between and its description at the front."""
    data, _ = stream("modelled://steady?seed=4&streaming=1", 4.0)
    cut = data.index(b"\0", len(data) // 2) + 1
    note = encode("note", 0, unix_ns=0, monotonic_ns=0, tick=0, kind="mark", text="here")
    path = tmp_path / "four.froth"
    path.write_bytes(data[:cut] + note + data[cut:])
    return path, data


def play(path, speed):
    """Everything a rig on the playback hands on, and how long it took."""
    seen = []
    began = time.monotonic()
    with open_rig(f"replay://{path}?speed={speed}") as rig:
        rig.run(seen.append)
        until(lambda: rig.ended and not rig.reader.live._items, "the end")
        took = time.monotonic() - began
        time.sleep(0.1)
    return seen, took, rig


def ticks_of(batches):
    return [int(tick) for batch in batches for tick in batch.tables["line"]["tick"]]


def test_every_line_message_comes_back_in_order_and_nothing_counts_as_lost(recorded):
    path, data = recorded
    seen, _, rig = play(path, speed=0)
    assert ticks_of(seen) == line_numbers(data)
    assert rig.counts.missing == 0
    assert not rig.counts.damage


@pytest.mark.parametrize("speed", [4, 8])
def test_playback_is_no_faster_than_its_speed(recorded, speed):
    path, data = recorded
    ticks = line_numbers(data)
    length = (ticks[-1] - ticks[0]) / 2e6
    _, took, _ = play(path, speed)
    assert length / speed <= took


@pytest.mark.benchmark
@pytest.mark.parametrize("speed", [4, 8])
def test_playback_keeps_the_pace_of_the_board(recorded, speed):
    path, data = recorded
    ticks = line_numbers(data)
    length = (ticks[-1] - ticks[0]) / 2e6
    _, took, _ = play(path, speed)
    assert took < length / speed + 1.0  # a second for opening


def test_the_host_s_own_frames_stay_out(recorded):
    path, _ = recorded
    seen, _, _ = play(path, speed=0)
    assert not any(len(batch.tables["note"]) for batch in seen)


def test_what_is_missing_in_the_recording_is_missing_in_the_playback_and_no_more(tmp_path, recorded):
    _, data = recorded
    events = [event for event in StreamDecoder().feed(data) if isinstance(event, Received)]
    holes = {40, 41, 90}
    path = tmp_path / "holes.froth"
    path.write_bytes(b"".join(event.raw for number, event in enumerate(events) if number not in holes))
    _, _, rig = play(path, speed=0)
    assert rig.counts.missing == 3


def test_damage_in_the_recording_is_damage_in_the_playback(tmp_path, recorded):
    _, data = recorded
    spoilt = bytearray(data)
    place = data.index(b"\0", len(data) // 3) + 5
    spoilt[place] ^= 0x20
    path = tmp_path / "spoilt.froth"
    path.write_bytes(bytes(spoilt))
    _, _, rig = play(path, speed=0)
    assert sum(rig.counts.damage.values()) == len(decode_all(bytes(spoilt)).damage) > 0


def test_a_recording_in_segments_is_played_as_one(tmp_path, recorded):
    _, data = recorded
    cut = data.index(b"\0", len(data) // 2) + 1
    (tmp_path / "long.froth").write_bytes(data[:cut])
    (tmp_path / "long.s001.froth").write_bytes(data[cut:])
    (tmp_path / "longer.froth").write_bytes(b"")
    assert [path.name for path in segments(tmp_path / "long.froth")] == ["long.froth", "long.s001.froth"]
    seen, _, _ = play(tmp_path / "long.froth", speed=0)
    assert ticks_of(seen) == line_numbers(data)


def test_commands_are_acknowledged_and_change_nothing(recorded):
    path, _ = recorded
    with open_rig(f"replay://{path}?speed=1") as rig:
        rig.run()
        assert rig.command("set_rate", rate=10).result == "ok"
        assert int(rig.tables["description"]["rate"][-1]) == 100


def test_a_playback_cannot_be_opened_from_nothing(tmp_path):
    with pytest.raises(PortNotFound):
        open_rig(f"replay://{tmp_path}/no-such.froth")
    empty = tmp_path / "empty.froth"
    empty.write_bytes(b"this is no recording\0")
    with pytest.raises(NotARecording, match="no description"):
        open_rig(f"replay://{empty}")
    with pytest.raises(InputError, match="volume"):
        read_url("replay://x.froth?volume=11")
    for bad in ("speed=-1", "speed=fast", "speed=nan", "from=-0.1", "from=1.1", "from=nan", "from=half"):
        with pytest.raises(FrothlineError):
            read_url(f"replay://x.froth?{bad}")


def test_a_playback_from_within_sends_the_rest_and_the_description_in_force_there(tmp_path):
    """Two boards one after the other at 100 and 50 lines a second: three quarters on, the second one's is in force."""
    first = stream("modelled://steady?seed=4&streaming=1", 4.0)[0]
    second = stream("modelled://steady?seed=5&streaming=1&rate=50", 8.0)[0]
    path = tmp_path / "both.froth"
    path.write_bytes(first + second)
    url = from_share(f"replay://{path}?speed=0", 0.75)
    assert read_url(url) == (path, 0.0, 0.75)
    seen, _, rig = play(path, "0&from=0.75")
    rest = line_numbers(second)
    played = ticks_of(seen)
    assert played == rest[-len(played) :]
    assert 0.2 * (len(first) + len(second)) < len(played) * len(second) / len(rest) < 0.3 * (len(first) + len(second))
    assert rig.counts.missing == 0
    assert int(rig.tables["description"]["rate"][-1]) == 50
    assert from_share(url, 0.0) == f"replay://{path}?speed=0"


def test_what_was_written_twice_because_a_disk_failed_is_played_once(tmp_path):
    """The first sync fails: what had been written since the last good one is repeated in the next segment."""

    class FailsOnce(Disk):
        failing = False

        def sync(self, descriptor):
            if self.failing:
                self.failing = False
                raise OSError(5, "Input/output error")
            super().sync(descriptor)

    data, _ = stream("modelled://steady?seed=4&streaming=1", 3.0)
    cut = data.index(b"\0", len(data) // 2) + 1
    disk = FailsOnce()
    writer = RecordingWriter.create(tmp_path, "twice", disk=disk, background=False)
    writer.write(data[:cut])
    disk.failing = True
    writer.note("mark", "synced at once", 0)
    writer.write(data[cut:])
    writer.close()
    first = tmp_path / "twice.froth"
    assert len(segments(first)) == 2
    assert "given up" in verify(first).faults[0]
    on_disk = [tick for one in segments(first) for tick in line_numbers(one.read_bytes())]
    assert len(on_disk) > len(line_numbers(data))  # it does stand there twice
    seen, _, rig = play(first, speed=0)
    assert ticks_of(seen) == line_numbers(data)
    assert rig.counts.missing == 0
