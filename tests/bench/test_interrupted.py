"""After a crash the next recording continues the interrupted one, or names it and says why it does not."""

import os
import shutil
import time
from types import SimpleNamespace

import pytest
from recording_scenes import BoardStream, SetClock
from waiting import until

from frothline.bench.interrupted import interrupted
from frothline.bench.recorder import Recorder
from frothline.bench.session import Session
from frothline.recording.catalogue import Catalogue
from frothline.recording.reader import load, verify
from frothline.recording.segments import Policy
from frothline.recording.sidecar import write_metadata
from frothline.recording.summary import read_metadata
from frothline.recording.writer import RecordingWriter
from frothline.rig import BoardIdentity

SHED = BoardIdentity(2, "shed")  # the board of ``BoardStream``
NOW = 1_700_000_000.0
POLICY = Policy(free_floor=0)


class Port:
    """Access to a port without a process; its recordings are forced to the medium by ``write`` alone."""

    def record(self, folder, name, source):
        return RecordingWriter.create(folder, name, source=source, background=False, policy=POLICY)

    def resume(self, path):
        return RecordingWriter.resume(path, background=False, policy=POLICY)

    def detach(self):
        pass


def rig(identity=SHED, playback=None):
    return SimpleNamespace(
        url="/dev/ttyUSB0", describe=lambda: None, answer=SimpleNamespace(identity=identity), playback=playback
    )


def crashed(folder, name="evening", *, kind=None, at=NOW, seconds=20.0, cut=7, described=True, **policy):
    """A recording of 20 s whose program was killed in the middle of a frame."""
    folder.mkdir(parents=True, exist_ok=True)
    clock, stream = SetClock(at - seconds), BoardStream()
    write_metadata(folder / f"{name}.toml", {"recording": name, "kind": kind})
    writer = RecordingWriter.create(
        folder, name, clock=clock, background=False, policy=Policy(free_floor=0, **policy), source="/dev/ttyUSB0"
    )
    if described:
        writer.write(stream.description())
    for _ in range(round(seconds)):
        writer.write(stream.seconds(1))
    clock.advance(seconds)
    writer.anchor(stream.tick)
    writer.write(stream.line()[:cut])
    writer._segments._disk.close(writer._segments._descriptor)
    return writer.path, stream


def start(folder, name="", metadata=None, *, at=NOW + 60, the_rig=None, monkeypatch=None):
    recorder = Recorder(Port(), lambda: 500.0)
    if monkeypatch is not None:
        monkeypatch.setattr("frothline.bench.recorder.time.time", lambda: at)
    return recorder, recorder.start(the_rig or rig(), folder, name, metadata or {})


@pytest.mark.parametrize("name", ["", "evening"])
def test_a_recording_that_was_interrupted_a_minute_ago_goes_on_in_the_same_file(tmp_path, monkeypatch, name):
    path, stream = crashed(tmp_path)
    before = path.read_bytes()
    recorder, went_on = start(tmp_path, name, {"note": "power was out"}, monkeypatch=monkeypatch)
    assert went_on == path
    assert recorder.interrupted.words == (
        "the recording evening was interrupted 60 s ago and continues in the same files"
    )
    recorder._writer.write(stream.line())
    assert recorder.state().running == pytest.approx(80.0)  # samples are placed by the begin of the recording
    recorder.stop(None, "stopped")
    assert path.read_bytes().startswith(before)
    report = verify(path)
    assert (report.verdict, report.resumed, report.torn) == ("interrupted", 1, 1)
    metadata, _ = read_metadata(tmp_path / "evening.toml")
    assert (metadata["recording"], metadata["note"]) == ("evening", "power was out")
    assert [entry.name for entry in Catalogue(tmp_path)] == ["evening"]


@pytest.mark.parametrize(
    ("scene", "asked", "because"),
    [
        ({"kind": "run"}, {}, "the state of a run is not saved with it"),
        ({}, {"metadata": {"kind": "sweep"}}, "a sweep has a recording of its own"),
        ({}, {"name": "morning"}, "this one has another name, morning"),
        ({"described": False}, {}, "its board is unknown"),
        ({}, {"the_rig": rig(BoardIdentity(2, "house"))}, "it is of another board, 'shed'; 'house' is connected"),
        ({}, {"at": NOW - 30}, "the computer's clock is 30 s behind its last frame"),
        ({}, {"at": NOW + 1200}, "it stopped 20 min ago, more than 15 min"),
    ],
)
def test_a_recording_that_cannot_go_on_is_named_by_the_next_one_with_the_reason(
    tmp_path, monkeypatch, scene, asked, because
):
    path, _ = crashed(tmp_path, **scene)
    before = path.read_bytes()
    recorder, new = start(tmp_path, monkeypatch=monkeypatch, **asked)
    recorder.stop(None, "stopped")
    assert new != path
    assert path.read_bytes() == before
    words = f"the recording evening was interrupted and is not continued: {because}"
    assert recorder.interrupted.words == words
    assert read_metadata(new.with_suffix(".toml"))[0]["after"] == words
    assert recorder.state() is None


@pytest.mark.parametrize(("ago", "goes_on"), [(899, True), (901, False), (-0.9, True), (-1.1, False)])
def test_a_quarter_of_an_hour_is_the_limit_and_a_clock_may_be_a_second_late(tmp_path, ago, goes_on):
    crashed(tmp_path)
    assert (interrupted(tmp_path, "", {}, SHED, NOW + ago).obstacle == "") is goes_on


def test_killed_between_two_segments_it_goes_on_in_the_next_one(tmp_path, monkeypatch):
    path, stream = crashed(tmp_path, segment_bytes=20_000)
    assert path.name == "evening.s003.froth"
    path.unlink()
    recorder, went_on = start(tmp_path, monkeypatch=monkeypatch, at=NOW)
    recorder._writer.write(stream.line())
    recorder.stop(None, "stopped")
    assert went_on == path
    assert verify(path).host.sentences == []


def test_a_closed_a_written_a_strange_and_an_empty_recording_are_not_interrupted(tmp_path):
    assert interrupted(tmp_path / "missing", "", {}, SHED, NOW) is None
    (tmp_path / "a.froth").write_bytes(b"")
    assert interrupted(tmp_path, "", {}, SHED, NOW) is None
    (tmp_path / "a.froth").write_bytes(b"Dear customer,\n")
    assert interrupted(tmp_path, "", {}, SHED, NOW) is None
    (tmp_path / "a.froth").unlink()
    with RecordingWriter.create(tmp_path, "b", background=False, policy=POLICY) as writer:
        writer.write(BoardStream().description())
        assert interrupted(tmp_path, "", {}, SHED, time.time()) is None  # this writer holds it
    assert interrupted(tmp_path, "", {}, SHED, time.time()) is None


def test_only_the_newest_recording_of_the_folder_counts(tmp_path):
    path, _ = crashed(tmp_path)
    os.utime(path, (NOW, NOW))
    RecordingWriter.create(tmp_path, "later", background=False, policy=POLICY).close()
    assert interrupted(tmp_path, "", {}, SHED, NOW) is None


def test_a_replay_continues_nothing(tmp_path, monkeypatch):
    path, _ = crashed(tmp_path)
    recorder, new = start(tmp_path, the_rig=rig(playback=object()), monkeypatch=monkeypatch)
    recorder.stop(None, "stopped")
    assert new != path
    assert recorder.interrupted is None


@pytest.mark.parametrize("own_process", [False, True])
def test_a_session_after_a_power_cut_goes_on_and_says_so(tmp_path, own_process):
    def session(folder):
        return Session("modelled://steady?seed=4", folder, own_process=own_process)

    def grown(one, size):
        until(lambda: (state := one.snapshot().recording) is not None and state.bytes > size, "bytes in the recording")

    with session(tmp_path / "before") as one:
        one.start(wait=True, record="evening")
        grown(one, 4000)
        shutil.copytree(tmp_path / "before", tmp_path / "after")  # what a power cut would leave
    with session(tmp_path / "after") as one:
        one.start(wait=True, record="evening")
        assert "was interrupted" in one.interrupted_words()
        assert one.interrupted_words() in [mark.text for mark in one.snapshot().marks]
        grown(one, 8000)
        path = one.stop_recording()
    assert path.name == "evening.froth"
    recorded = load(path)
    assert len(recorded.decoded.tables["recording_resumed"]) == 1
    (said,) = [row for row in recorded.decoded.tables["note"] if b"was interrupted" in row["text"]]
    described = recorded.decoded.tables["description"]["tick"]
    assert int(said["tick"]) in described.tolist()  # the board's clock, though no reading has come yet
