"""A disk that fails at the first, second, third … call, once or for ever, and takes writes in bits."""

import errno

import pytest
from recording_scenes import BoardStream, FailingDisk, SetClock

from frothline.errors import NoSpace, RecordingError, RecordingUnwritable
from frothline.recording.reader import load, verify
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.wire import Received, StreamDecoder

N = 40


def record(folder, disk):
    """Forty chunks with marks between, two seconds apart; gives the writer and what the board sent."""
    clock, stream = SetClock(), BoardStream()
    folder.mkdir(exist_ok=True)
    writer = RecordingWriter.create(
        folder, "a", disk=disk, clock=clock, background=False, policy=Policy(segment_bytes=4000)
    )
    sent = stream.description()
    writer.write(sent)
    rest = b""
    for k in range(N):
        chunk = rest + stream.line()
        cut = 7 * k % len(chunk)
        sent += chunk[len(rest) :]
        writer.write(chunk[:cut])
        rest = chunk[cut:]
        clock.advance(0.6)
        if k % 9 == 4:
            writer.note("mark", f"mark {k}")
    writer.write(rest)
    return writer, sent


def frames(data):
    decoder = StreamDecoder()
    events = [event for event in decoder.feed(data) + decoder.finish() if isinstance(event, Received)]
    lines = [event.raw for event in events if event.name == "line"]
    marks = [event.record["text"] for event in events if event.name == "note" and event.record["kind"] == b"mark"]
    return lines, marks


def calls_of_a_good_run(tmp_path):
    disk = FailingDisk()
    writer, _ = record(tmp_path / "good", disk)
    writer.close()
    return disk.calls


@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC])
def test_one_failure_at_any_call_loses_no_frame_and_no_mark(tmp_path, number):
    calls = calls_of_a_good_run(tmp_path)
    assert calls > 60
    refused = []
    for k in range(1, calls + 1):
        disk = FailingDisk(k, number)
        try:
            writer, sent = record(tmp_path / str(k), disk)
        except RecordingError:
            refused.append(k)
            continue
        writer.close()
        assert disk.failures == 1
        assert writer.trouble is None
        assert isinstance(writer.status().last_fault, NoSpace if number == errno.ENOSPC else RecordingUnwritable)
        recorded = load(tmp_path / str(k) / "a")
        lines, marks = frames(recorded.data)
        assert lines == frames(sent)[0], f"failure at call {k}"
        assert marks == [b"mark 4", b"mark 13", b"mark 22", b"mark 31"], f"failure at call {k}"
        assert not recorded.decoded.damage.size
        report = verify(tmp_path / str(k) / "a")
        assert not report.missing_segments
        if report.faults:
            assert not report.whole
        assert writer.dropped == 0
    # create, write of the head, its sync, its name, sync of the folder: the file could not even be begun, and that was told
    assert refused == [1, 2, 3, 4, 5]
    assert not [path for k in refused for path in (tmp_path / str(k)).iterdir()]


def test_a_failure_that_lasts_leaves_a_readable_beginning_and_is_told_at_the_end(tmp_path):
    calls = calls_of_a_good_run(tmp_path)
    for k in range(6, calls, 7):
        disk = FailingDisk(k, for_ever=True)
        writer, sent = record(tmp_path / str(k), disk)
        assert writer.trouble is not None
        with pytest.raises(RecordingUnwritable, match="could not be written"):
            writer.close()
        lines, _ = frames(load(tmp_path / str(k) / "a").data)
        assert lines == frames(sent)[0][: len(lines)]


@pytest.mark.parametrize("most", [1, 2, 3, 17])
def test_writes_that_are_taken_in_bits_are_completed(tmp_path, most):
    writer, sent = record(tmp_path / "a", FailingDisk(most=most))
    writer.close()
    assert frames(load(tmp_path / "a" / "a").data)[0] == frames(sent)[0]
    assert verify(tmp_path / "a" / "a").whole


def test_a_disk_that_takes_nothing_is_a_failed_one(tmp_path):
    writer, _ = record(tmp_path / "a", disk := FailingDisk())
    disk.most = 0
    writer.write(BoardStream().line())
    assert "nothing was written" in str(writer.trouble)
    with pytest.raises(RecordingUnwritable):
        writer.close()


def test_what_no_longer_fits_into_memory_is_counted_and_told(tmp_path):
    clock, stream, disk = SetClock(), BoardStream(), FailingDisk()
    writer = RecordingWriter.create(
        tmp_path, "a", disk=disk, clock=clock, background=False, policy=Policy(memory=1000, retry_every=5.0)
    )
    writer.write(stream.description() + stream.lines(2))
    writer.sync()
    disk.fail_at, disk.for_ever = disk.calls + 1, True
    for _ in range(60):
        writer.write(stream.line())
    assert writer.dropped > 1000
    disk.fail_at = 0
    clock.advance(6)
    writer.idle()
    writer.write(stream.lines(3))
    writer.close()
    report = verify(tmp_path / "a")
    assert f"{writer.dropped} bytes were lost" in report.faults[0]
    assert report.lost > 0
    recorded = load(tmp_path / "a")
    sequence = recorded.decoded.tables["line"]["sequence"]
    assert (sequence[1:] > sequence[:-1]).all()  # in order, none twice
    assert sequence[-1] == stream.sequence - 1


def test_a_failed_disk_is_not_tried_at_every_chunk(tmp_path):
    clock, stream, disk = SetClock(), BoardStream(), FailingDisk()
    writer = RecordingWriter.create(tmp_path, "a", disk=disk, clock=clock, background=False)
    disk.fail_at, disk.for_ever = disk.calls + 1, True
    writer.write(stream.line())
    before = disk.calls
    for _ in range(100):
        writer.write(stream.line())
    assert disk.calls == before
    clock.advance(1.1)
    writer.write(stream.line())
    assert disk.calls == before + 1
    disk.fail_at = 0
    clock.advance(1.1)
    writer.write(stream.line())
    writer.close()
    assert len(load(tmp_path / "a").decoded.tables["line"]) == 103
