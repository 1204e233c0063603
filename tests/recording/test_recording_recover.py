"""Reading what is left: cut at every byte, any bit turned over, while it is written, and after being killed."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from recording_scenes import BoardStream, SetClock

from frothline.errors import InputError, NotARecording, RecordingError
from frothline.readings.marks import marks
from frothline.recording.reader import load, segments_of, verify
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.wire import Received, StreamDecoder, decode_all


def short_recording(folder):
    stream = BoardStream()
    writer = RecordingWriter.create(folder, "short", clock=SetClock(), background=False, policy=Policy(free_floor=0))
    writer.write(stream.send("start") + stream.line() + stream.slow())
    writer.note("mark", "one")
    writer.write(stream.line())
    writer.close()
    return writer.path


def raws(data):
    decoder = StreamDecoder()
    return [event.raw for event in decoder.feed(data) if isinstance(event, Received)]


def test_cut_at_every_byte_all_whole_frames_are_read_and_the_rest_is_told(tmp_path):
    whole = short_recording(tmp_path).read_bytes()
    ends = [k + 1 for k, byte in enumerate(whole) if byte == 0]
    path = tmp_path / "cut.froth"
    for cut in range(len(whole)):
        path.write_bytes(whole[:cut])
        expected = sum(1 for end in ends if end - 1 <= cut)
        if not expected:
            with pytest.raises(NotARecording):
                verify(path)
            continue
        report = verify(path)
        assert report.frames == expected, cut
        if cut < len(whole) - 1:  # lacking its last zero alone, nothing is lost
            assert not report.closed
            assert report.exit_code == 1
        assert (report.tail > 0) == (cut + 1 not in ends and cut not in ends), cut


@pytest.mark.parametrize("stride", [17, pytest.param(1, marks=pytest.mark.soak)])
@pytest.mark.exhaustive
def test_every_bit_turned_over_costs_at_most_two_frames_and_is_found(tmp_path, stride):
    path = short_recording(tmp_path)
    whole = path.read_bytes()
    before = raws(whole)
    for bit in range(0, 8 * len(whole), stride):
        damaged = bytearray(whole)
        damaged[bit // 8] ^= 1 << bit % 8
        path.write_bytes(damaged)
        report = verify(path)
        kept = raws(bytes(damaged))
        assert all(raw in before for raw in kept)
        assert len(before) - report.frames in {1, 2} or (len(before) == report.frames and bit // 8 == len(whole) - 1)
        assert not report.whole, bit


def test_damage_is_told_by_file_offset_and_length(tmp_path):
    stream = BoardStream()
    writer = RecordingWriter.create(tmp_path, "a", background=False, policy=Policy(segment_bytes=900, free_floor=0))
    for _ in range(30):
        writer.write(stream.line())
    writer.close()
    second = segments_of(tmp_path / "a")[1]
    data = bytearray(second.read_bytes())
    at = data.index(b"\0", 400) + 1
    end = data.index(b"\0", at)
    data[at + 20] ^= 0x10
    second.write_bytes(data)
    report = verify(tmp_path / "a")
    (damage,) = report.damage
    assert (damage.file, damage.offset, damage.length) == (str(second), at, end - at)
    assert report.lost == 1
    assert report.sentences()[-1] == "damaged or incomplete; the rest can be read"
    assert json.loads(json.dumps(report.as_dict()))["damage"][0]["offset"] == at


def test_a_reader_beside_the_writer_sees_whole_frames_only(tmp_path):
    stream = BoardStream()
    writer = RecordingWriter.create(tmp_path, "a", background=False, policy=Policy(free_floor=0))
    sent = stream.lines(300)
    seen = 0
    for start in range(0, len(sent), 53):
        writer.write(sent[start : start + 53])
        recorded = load(writer.path)
        assert not recorded.decoded.damage.size
        lines = len(recorded.decoded.tables["line"])
        assert lines >= seen
        seen = lines
    writer.close()
    assert len(load(writer.path).decoded.tables["line"]) == 300


@pytest.mark.parametrize("content", [b"", b"\0\0\0", b"Dear customer,\n", bytes(range(256)) * 20])
def test_what_is_no_recording_is_told_so(tmp_path, content):
    path = tmp_path / "x.froth"
    path.write_bytes(content)
    with pytest.raises(NotARecording, match=r"x\.froth"):
        load(path)


def test_a_path_that_leads_nowhere_is_told(tmp_path):
    with pytest.raises(NotARecording, match="recording does not exist"):
        verify(tmp_path / "nothing")


def test_a_recording_with_a_broken_head_is_still_read(tmp_path):
    path = short_recording(tmp_path)
    data = bytearray(path.read_bytes())
    data[5] ^= 0xFF
    path.write_bytes(data)
    report = verify(path)
    assert report.messages["line"] == 2
    assert report.identity == ""
    assert not report.whole


def test_a_stranger_of_the_same_name_is_left_out(tmp_path):
    short_recording(tmp_path)
    other = tmp_path / "elsewhere"
    other.mkdir()
    stranger = short_recording(other)
    stranger.rename(tmp_path / "short.s001.froth")
    assert [path.name for path in load(tmp_path / "short").paths] == ["short.froth"]


# --- killed in the middle ------------------------------------------------------------------------------------------

VICTIM = """
import sys
sys.path.insert(0, {scenes!r})
from recording_scenes import BoardStream
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
stream = BoardStream()
writer = RecordingWriter.create({folder!r}, {name!r}, policy=Policy(free_floor=0, segment_bytes=200_000, hold=0.01))
writer.write(stream.description())
print("ready", flush=True)
k = 0
while True:
    k += 1
    writer.write(stream.lines(3))
    # told only after it was written: what was told must be in the file
    sys.stdout.write(f"{{stream.sequence - 1}}\\n")
    sys.stdout.flush()
    if k % 50 == 0:
        writer.note("mark", str(k))
"""


def kill_once(folder, name, after):
    """Start a writer, kill it after that many seconds, hold what it left to what it had told."""
    script = VICTIM.format(scenes=str(Path(__file__).parents[1] / "support"), folder=str(folder), name=name)
    victim = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE)
    assert victim.stdout.readline() == b"ready\n"
    time.sleep(after)
    os.kill(victim.pid, signal.SIGKILL)
    told = [line for line in victim.stdout.read().split(b"\n")[:-1] if line]
    victim.wait()
    victim.stdout.close()
    recorded = load(folder / name)
    decoded = recorded.decoded
    assert not decoded.damage.size
    assert decoded.lost == 0
    sequences = decoded.tables["line"]["sequence"].astype(int)
    if told:
        assert len(sequences) >= 3 * len(told)
    assert ((sequences[1:] - sequences[:-1]) % 65536 == 1).all()
    return segments_of(folder / name)[-1]


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_killed_at_random_moments_every_frame_that_was_written_is_there(tmp_path):
    rng = random.Random(7)
    for k in range(6):
        path = kill_once(tmp_path, f"r{k}", rng.uniform(0.0, 0.15))
        writer = RecordingWriter.resume(path, background=False, policy=Policy(free_floor=0))
        writer.write(BoardStream().line())
        writer.close()
        assert verify(path).closed


@pytest.mark.soak
@pytest.mark.timeout(1800)
def test_killed_at_five_hundred_random_moments(tmp_path):
    rng = random.Random(11)
    for k in range(500):
        for left in segments_of(kill_once(tmp_path, f"r{k}", rng.uniform(0.0, 0.3))):
            left.unlink()


def test_killed_while_it_was_made_leaves_nothing_that_harms(tmp_path):
    """The head cut off anywhere: the file is either read or told to be none; a new name can be used."""
    head = short_recording(tmp_path).read_bytes()
    head = head[: head.index(b"\0") + 1]
    path = tmp_path / "begun.froth"
    for cut in range(len(head) + 1):
        path.write_bytes(head[:cut])
        if cut < len(head) - 1:
            with pytest.raises(RecordingError):
                load(path)
            with pytest.raises(RecordingError):
                RecordingWriter.resume(path)
        else:
            assert load(path).decoded.frames == 1


def test_a_whole_recording_is_called_whole(tmp_path):
    report = verify(short_recording(tmp_path))
    assert report.whole
    assert report.exit_code == 0
    assert report.sentences()[-1] == "whole"
    assert decode_all(Path(report.files[0]).read_bytes()).frames == report.frames


@pytest.mark.parametrize("kind", ["fault", "simulated"])  # the first by recordings of earlier versions
def test_a_fault_that_was_tried_on_a_simulated_line_is_no_loss_of_the_recording(tmp_path, kind):
    stream = BoardStream()
    writer = RecordingWriter.create(tmp_path, "tried", clock=SetClock(), background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.lines(20))
    writer.note(kind, "simulated fault: packing_blown", stream.tick)
    writer.write(stream.lines(5))
    writer.close()
    report = verify(writer.path)
    assert report.faults == ()
    assert report.whole, report.sentences()
    assert report.exit_code == 0
    (mark,) = marks(load(writer.path))
    assert mark.time == pytest.approx(0.19, abs=0.02)  # with the 20th of the lines at 100 Hz


def test_an_empty_list_of_segments_is_refused_by_name():
    with pytest.raises(InputError, match="no recording is given"):
        load([])
