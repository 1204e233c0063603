"""``record``: the result and the exit code come from what is on the disk when the recording has ended."""

import shutil
import threading
import time
from pathlib import Path

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench import port_access, session
from frothline.recording import writer as recording_writer
from frothline.recording.disk import Disk
from frothline.recording.reader import load, verify
from frothline.recording.segments import Policy
from frothline.sweep.recorded_source import load_sweeps


@pytest.fixture
def in_this_process(monkeypatch):
    """The recording is written by this process, so that a test can put a failing disk under it."""
    monkeypatch.setattr(session, "in_own_process", port_access.PortHere)
    monkeypatch.setattr(recording_writer, "Policy", lambda: Policy(free_every=0.2, sync_every=0.2))


def record(capsys, folder, *more, seconds=2.5):
    code = cli.main(
        ["record", "first", "--port", "modelled://steady", "--folder", str(folder), "--seconds", str(seconds), *more]
    )
    return code, capsys.readouterr()


def when_there(path, do):
    """Call ``do`` half a second after a file is there."""

    def wait():
        end = time.monotonic() + 120
        while not path.exists() and time.monotonic() < end:
            time.sleep(0.02)
        time.sleep(0.5)
        do()

    threading.Thread(target=wait, daemon=True).start()


def test_the_result_counts_the_frames_that_are_on_the_disk(capsys, tmp_path):
    code, said = record(capsys, tmp_path, "--json", seconds=1.5)
    result = result_of(said.out)
    assert code == 0
    assert result["lost"] == []
    assert result["frames"] == verify(tmp_path / "first.froth").frames > 100


def test_a_folder_that_is_deleted_while_it_is_recorded_into_is_a_loss(capsys, tmp_path):
    folder = tmp_path / "recordings"
    when_there(folder / "first.froth", lambda: shutil.rmtree(folder))
    code, said = record(capsys, folder, seconds=3)
    assert code == 1
    assert "no data lost" not in said.out
    assert "segments missing: 0" in said.out
    assert "deleted or moved" in said.out
    assert verify(folder / "first").frames > 0  # what came after was kept


def test_a_file_that_is_deleted_just_before_the_end_is_a_loss(capsys, tmp_path, in_this_process, monkeypatch):
    monkeypatch.setattr(Disk, "is_at", lambda *_: True)  # the writer does not notice
    when_there(tmp_path / "first.froth", (tmp_path / "first.froth").unlink)
    code, said = record(capsys, tmp_path, seconds=2)
    assert code == 1
    assert "deleted, moved" in said.out
    assert "0 frames" in said.out


def test_a_disk_that_fills_up_ends_the_recording_and_says_what_was_not_written(
    capsys, tmp_path, in_this_process, monkeypatch
):
    room = [10**12]
    monkeypatch.setattr(Disk, "free", lambda *_: room[0])
    when_there(tmp_path / "first.froth", lambda: room.__setitem__(0, 10**6))
    code, said = record(capsys, tmp_path, seconds=200)  # it does not wait for the end of the time
    assert code == 1
    assert "MB are free" in said.out
    assert verify(tmp_path / "first.froth").closed


@pytest.mark.exhaustive
def test_a_guided_sweep_ends_though_one_write_failed(capsys, tmp_path, in_this_process, monkeypatch):
    failed = []
    write = Disk.write

    def once(self, descriptor, data):
        path = tmp_path / "first.froth"
        if len(failed) == 0 and path.exists() and path.stat().st_size > 20_000:
            failed.append(1)
            raise OSError(5, "Input/output error")
        return write(self, descriptor, data)

    monkeypatch.setattr(Disk, "write", once)
    code = cli.main(
        f"record first --port modelled://sweep?seed=5&speed=8 --folder {tmp_path} --sweep --seconds 150".split()
    )
    said = capsys.readouterr()
    assert failed == [1]
    assert code == 1
    assert "Input/output error" in said.out
    assert "0 frames missing" not in said.out
    assert "gives the air source's curve" in said.out  # the sweep came to its end
    assert verify(tmp_path / "first").lost == 0


def test_a_disk_that_never_recovers_is_named_with_the_bytes_that_are_missing(
    capsys, tmp_path, in_this_process, monkeypatch
):
    create = Disk.create

    def refuse(self, path):
        if "first.froth" not in path.name:
            raise OSError(30, "Read-only file system")
        return create(self, path)

    monkeypatch.setattr(Disk, "create", refuse)
    broken = []
    write = Disk.write

    def breaks(self, descriptor, data):
        if broken:
            raise OSError(30, "Read-only file system")
        return write(self, descriptor, data)

    monkeypatch.setattr(Disk, "write", breaks)
    when_there(tmp_path / "first.froth", lambda: broken.append(1))
    code, said = record(capsys, tmp_path, seconds=2)
    assert code == 1
    assert "Read-only file system" in said.out
    assert "could not be written" in said.out


@pytest.mark.parametrize(
    "speed", [pytest.param(0, marks=pytest.mark.exhaustive), 40, pytest.param(1000, marks=pytest.mark.exhaustive)]
)
@pytest.mark.exhaustive
def test_a_playback_is_recorded_from_its_first_frame_to_its_last(tmp_path, capsys, speed):
    """The figures at the end are those after the line was drained, however fast it played."""
    source = Path(__file__).parents[2] / "recordings" / "season" / "03-29-sweep-shop-motor.froth"
    url = f"replay://{source}?speed={speed}"
    code = cli.main(["record", "copy", "--port", url, "--folder", str(tmp_path), "--sweep", "--json"])
    data = result_of(capsys.readouterr().out)
    assert code == 0
    played = verify(source)
    assert data["losses"]["frames"] >= played.frames - 4  # all but the answer to the first question
    lines = len(load(source).decoded.tables["line"])
    assert len(load(tmp_path / "copy.froth").decoded.tables["line"]) >= lines - 1
    assert data["points"] == len(load_sweeps(source).points)


def test_a_recording_that_was_cut_off_goes_on_in_the_same_file_and_the_prompt_says_so(capsys, tmp_path):
    record(capsys, tmp_path, seconds=1)
    path = tmp_path / "first.froth"
    path.write_bytes(path.read_bytes()[:-200])  # as a power cut leaves it: without its end
    begun = path.read_bytes()
    code, said = record(capsys, tmp_path, seconds=1)
    assert code == 1  # it has a gap
    assert "the recording first was interrupted" in said.err
    assert "continues in the same files" in said.err
    assert path.read_bytes().startswith(begun)
    assert verify(path).resumed == 1
    code, said = record(capsys, tmp_path, seconds=1)  # it was closed properly meanwhile
    assert "interrupted" not in said.err
    assert (tmp_path / "first-2.froth").exists()
