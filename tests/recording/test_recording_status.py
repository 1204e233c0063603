"""What the writer says of itself while the disk fails, heals, fills up, or loses its file."""

import shutil

import pytest
from recording_scenes import BoardStream, FailingDisk, SetClock

from frothline.errors import NoSpace
from frothline.recording.reader import load, verify
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter


def begin(folder, disk=None, **policy):
    clock, stream = SetClock(), BoardStream()
    writer = RecordingWriter.create(
        folder, "a", disk=disk or FailingDisk(), clock=clock, background=False, policy=Policy(**policy)
    )
    writer.write(stream.description() + stream.lines(5))
    writer.sync()
    return writer, stream, clock


def test_a_write_error_that_passes_leaves_no_trouble_once_the_next_segment_is_on_the_disk(tmp_path):
    disk = FailingDisk()
    writer, stream, _ = begin(tmp_path, disk)
    disk.fail_at = disk.calls + 1
    writer.write(stream.lines(5))
    status = writer.status()
    assert disk.failures == 1
    assert status.trouble is None
    assert status.write_faults == 1
    assert "Input/output error" in status.last_fault.what
    assert not status.ended
    writer.write(stream.lines(5))
    writer.close()
    assert len(load(tmp_path / "a").decoded.tables["line"]) == 15


def test_trouble_lasts_as_long_as_the_disk_refuses_and_ends_with_it(tmp_path):
    disk = FailingDisk()
    writer, stream, clock = begin(tmp_path, disk)
    disk.fail_at, disk.for_ever = disk.calls + 1, True
    writer.write(stream.lines(5))
    assert writer.status().trouble is not None
    assert writer.status().kept > 0
    assert not writer.status().ended
    disk.fail_at = 0
    clock.advance(1.1)
    writer.idle()
    assert writer.status().trouble is None
    writer.close()
    assert len(load(tmp_path / "a").decoded.tables["line"]) == 10


def test_a_disk_below_its_floor_ends_the_recording_and_counts_what_came_later(tmp_path):
    disk = FailingDisk()
    writer, stream, clock = begin(tmp_path, disk)
    disk.room = 10_000_000
    clock.advance(61)
    writer.idle()
    late = stream.lines(7)
    writer.write(late)
    status = writer.status()
    assert status.ended
    assert isinstance(status.trouble, NoSpace)
    assert status.dropped == len(late)
    assert verify(tmp_path / "a").closed


@pytest.mark.parametrize("what", ["file", "folder"])
def test_a_recording_whose_file_is_deleted_goes_on_in_a_new_segment(tmp_path, what):
    folder = tmp_path / "recordings"
    writer, stream, clock = begin(folder)
    if what == "file":
        writer.path.unlink()
    else:
        shutil.rmtree(folder)
    writer.write(stream.lines(3))  # the system takes these bytes without an error
    clock.advance(1.1)
    writer.idle()
    status = writer.status()
    assert status.trouble is None
    assert "deleted or moved" in status.last_fault.what
    assert status.path.name == "a.s001.froth"
    writer.write(stream.lines(4))
    writer.close()
    recorded = load(folder / "a")
    assert len(recorded.decoded.tables["line"]) == 7  # what was synced into the deleted file is gone
    report = verify(folder / "a")
    assert not report.whole
    assert report.missing_segments == (0,)


def test_a_recording_whose_file_is_moved_away_is_noticed(tmp_path):
    writer, stream, clock = begin(tmp_path)
    writer.path.rename(tmp_path / "elsewhere.bin")
    writer.write(stream.lines(3))
    clock.advance(1.1)
    writer.idle()
    assert "deleted or moved" in writer.status().last_fault.what
    writer.close()
    assert (tmp_path / "a.s001.froth").exists()


def test_a_folder_that_cannot_be_made_again_is_trouble_with_its_reason(tmp_path):
    folder = tmp_path / "recordings"
    writer, stream, clock = begin(folder)
    shutil.rmtree(folder)
    folder.write_text("a file in its way")
    clock.advance(1.1)
    writer.idle()
    writer.write(stream.lines(3))
    assert writer.status().trouble is not None
    assert not writer.status().ended
    folder.unlink()
    clock.advance(1.1)
    writer.idle()
    assert writer.status().trouble is None
    writer.close()
    assert len(load(folder / "a").decoded.tables["line"]) == 3
