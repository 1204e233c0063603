"""A program that is stopped while a recording begins leaves no recording without its TOML file, and blocks no name."""

from types import SimpleNamespace

import pytest

from frothline.bench.recorder import Recorder
from frothline.errors import RecordingUnwritable
from frothline.recording.catalogue import Catalogue
from frothline.recording.writer import RecordingWriter
from frothline.rig import BoardIdentity


class Port:
    """Makes the recording, or ends before or behind it."""

    def __init__(self, fails=None):
        self.fails = fails

    def record(self, folder, name, source):
        if isinstance(self.fails, Exception):
            raise self.fails
        writer = RecordingWriter.create(folder, name, source=source, background=False)
        self.seen = sorted(path.name for path in folder.iterdir())
        return writer

    def detach(self):
        pass


RIG = SimpleNamespace(
    url="modelled://sweep",
    describe=lambda: None,
    answer=SimpleNamespace(identity=BoardIdentity(2, "shed")),
    playback=None,
)


def test_the_toml_file_is_there_before_the_recording(tmp_path):
    port = Port()
    recorder = Recorder(port, lambda: 0.0)
    path = recorder.start(RIG, tmp_path / "new folder", "evening", {"kind": "run"})
    assert port.seen == ["evening.froth", "evening.toml"]
    recorder.stop(None, "stopped")
    (entry,) = Catalogue(path.parent)
    assert (entry.kind, entry.metadata["recording"], entry.metadata["source"]) == ("run", "evening", "modelled://sweep")


def test_no_toml_file_is_left_of_a_recording_that_could_not_begin(tmp_path):
    recorder = Recorder(Port(RecordingUnwritable("the disk is read-only")), lambda: 0.0)
    with pytest.raises(RecordingUnwritable):
        recorder.start(RIG, tmp_path, "evening", {})
    assert list(tmp_path.iterdir()) == []
    assert not recorder.running


def test_the_next_start_goes_on_beside_an_empty_recording(tmp_path):
    (tmp_path / "evening.froth").write_bytes(b"")
    recorder = Recorder(Port(), lambda: 0.0)
    path = recorder.start(RIG, tmp_path, "evening", {})
    recorder.stop(None, "stopped")
    assert path.name == "evening-2.froth"
    assert (tmp_path / "evening.froth").read_bytes() == b""
    problems = {entry.name: entry.problem for entry in Catalogue(tmp_path)}
    assert problems == {"evening": "it is empty", "evening-2": ""}
