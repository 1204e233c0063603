"""A program that is killed while it begins or ends a segment, and what another program finds of it."""

import errno
import os
import sys
from types import SimpleNamespace

import pytest
from recording_scenes import BoardStream, FailingDisk, SetClock
from test_recording_log import create, messages

from frothline import atomic_file
from frothline.atomic_file import remove_leftovers, write_new
from frothline.errors import NotARecording, RecordingUnwritable
from frothline.recording import disk
from frothline.recording.reader import load, verify
from frothline.recording.segments import Policy
from frothline.recording.sidecar import write_metadata
from frothline.recording.writer import RecordingWriter


def test_a_program_killed_between_two_segments_leaves_a_recording_that_goes_on_in_the_next_one(tmp_path):
    stream, policy = BoardStream(), Policy(segment_bytes=2000)
    writer = create(tmp_path, policy=policy)
    writer.write(stream.description())
    while writer.path.name == "a.froth":
        writer.write(stream.line())
    writer.close()
    (tmp_path / "a.s001.froth").unlink()  # as if it had not been begun yet
    before = (tmp_path / "a.froth").read_bytes()
    again = RecordingWriter.resume(tmp_path / "a.froth", background=False, policy=Policy())
    again.write(stream.lines(3))
    again.close()
    assert (tmp_path / "a.froth").read_bytes() == before
    assert messages(tmp_path / "a.s001.froth")[:2] == ["recording_opened", "description"]
    report = verify(tmp_path / "a")
    assert (report.verdict, report.resumed, report.lost) == ("interrupted", 1, 0), report.sentences()


def test_no_moment_leaves_an_empty_segment(tmp_path):
    """Stopped before each call that the disk gets: what has a recording's name has its head."""

    class Killed(BaseException):
        pass

    class Stops(FailingDisk):
        def _call(self, path=None):
            self.calls += 1
            if self.calls >= self.fail_at:
                raise Killed

        def close(self, descriptor):
            if self.calls < self.fail_at:
                super().close(descriptor)

        def remove(self, path):
            pass  # a killed program clears nothing away

    seen = set()
    for call in range(1, 30):
        folder = tmp_path / str(call)
        folder.mkdir()
        try:
            writer = create(folder, disk=Stops(call), policy=Policy(segment_bytes=500))
            stream = BoardStream()
            writer.write(stream.description())
            for _ in range(40):
                writer.write(stream.line())
        except Killed:
            pass
        for path in folder.glob("*.froth"):
            assert load(path).heads[0].format == 1
            seen.add(path.name)
        assert not [path for path in folder.iterdir() if path.suffix not in {".froth", ".part"}]
    assert len(seen) > 1


def test_an_empty_file_is_reported_in_words(tmp_path):
    (tmp_path / "a.froth").write_bytes(b"")
    for use in (load, verify):
        with pytest.raises(NotARecording, match="it is empty"):
            use(tmp_path / "a.froth")


@pytest.mark.parametrize("number", [errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS])
def test_a_disk_without_links_takes_recordings_all_the_same_and_replaces_none(tmp_path, monkeypatch, number):
    def refuse(*_):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "link", refuse)
    writer = create(tmp_path)
    writer.write(BoardStream().line())
    with pytest.raises(RecordingUnwritable, match="with this name exists"):
        create(tmp_path)
    with pytest.raises(FileExistsError):
        write_new(writer.path, b"other")
    writer.close()
    assert verify(writer.path).whole
    assert [path.name for path in tmp_path.iterdir()] == ["a.froth"]


def test_a_recording_that_gets_its_name_meanwhile_is_not_replaced(tmp_path, monkeypatch):
    """Another program begins one of the same name between the look for the name and the naming."""
    monkeypatch.setattr(os.path, "lexists", lambda path: False)
    writer = create(tmp_path)
    with pytest.raises(RecordingUnwritable, match="with this name exists"):
        create(tmp_path)
    writer.close()
    assert verify(writer.path).whole


def test_a_toml_file_is_whole_or_not_there_and_never_replaced(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    write_metadata(path, {"kind": "run"})
    kept = path.read_text()
    with pytest.raises(FileExistsError):
        write_metadata(path, {"kind": "sweep"})
    assert path.read_text() == kept

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(atomic_file, "give_name", stop)
    with pytest.raises(KeyboardInterrupt):
        write_metadata(tmp_path / "b.toml", {})
    assert [one.name for one in tmp_path.iterdir()] == ["a.toml"]


def test_temporary_files_of_killed_programs_are_removed_after_an_hour_and_nothing_else(tmp_path):
    left = tmp_path / ".evening.froth.0123abcd.part"
    others = [tmp_path / name for name in (".notes.part", "evening.froth.0123abcd.part", "evening.froth")]
    for path in (left, *others):
        path.write_bytes(b"x")
        os.utime(path, (1000, 1000))
    assert remove_leftovers(tmp_path, 1000 + 3599) == 0
    assert remove_leftovers(tmp_path, 1000 + 3601) == 1
    assert sorted(tmp_path.iterdir()) == sorted(others)
    assert remove_leftovers(tmp_path / "missing", 1e9) == 0


class Windows:
    """The calls of Windows: a byte locked by one handle is refused to another."""

    LK_NBLCK = 2

    def __init__(self, number=errno.EACCES):
        self.locked, self.number = {}, number

    def locking(self, descriptor, mode, count):
        assert (mode, count) == (self.LK_NBLCK, 1)
        file, at = os.fstat(descriptor).st_ino, os.lseek(descriptor, 0, os.SEEK_CUR)
        if self.locked.setdefault((file, at), descriptor) != descriptor:
            raise OSError(self.number, os.strerror(self.number))


def test_on_windows_too_a_recording_is_locked_while_it_is_written(tmp_path, monkeypatch):
    windows = Windows()
    monkeypatch.setitem(sys.modules, "msvcrt", windows)
    monkeypatch.setattr(disk, "sys", SimpleNamespace(platform="win32"))
    monkeypatch.setattr(atomic_file, "sys", SimpleNamespace(platform="win32"))
    writer = create(tmp_path, clock=SetClock(), disk=disk.Disk(), policy=Policy(free_floor=0))
    writer.write(BoardStream().line())
    with pytest.raises(RecordingUnwritable, match="another program is writing"):
        RecordingWriter.resume(writer.path, background=False, policy=Policy(free_floor=0))
    writer.close()
    assert verify(writer.path).whole
    ((_, at),) = windows.locked
    assert at > Policy().segment_bytes  # another program can read what is written


def test_a_windows_drive_without_locks_takes_recordings_all_the_same(tmp_path, monkeypatch):
    windows = Windows(errno.EINVAL)
    windows.locking = lambda *_: (_ for _ in ()).throw(OSError(errno.EINVAL, "no locks"))
    monkeypatch.setitem(sys.modules, "msvcrt", windows)
    monkeypatch.setattr(disk, "sys", SimpleNamespace(platform="win32"))
    monkeypatch.setattr(atomic_file, "sys", SimpleNamespace(platform="win32"))
    writer = create(tmp_path, disk=disk.Disk(), policy=Policy(free_floor=0))
    writer.close()
    assert verify(writer.path).whole
