"""The port in a process of its own: what happens to this process, or to that one, costs no recorded frame.

The board is a program of its own behind a pseudo-terminal, which keeps 4 kB (0.3 s at 500 Hz) for a late reader.
"""

import ctypes
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from waiting import until

from frothline.bench.session import Session
from frothline.errors import PortNotFound, PortSilent, RecordingUnwritable
from frothline.recording.reader import load, verify

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
BOARD = Path(__file__).parents[1] / "support" / "pty_board.py"
FROZEN = 3.0  # s


@pytest.fixture
def port(tmp_path):
    (tmp_path / "dev").mkdir()
    command = [sys.executable, str(BOARD), str(tmp_path / "dev"), "500"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as board:
        yield board.stdout.readline().strip()
        board.stdin.close()


def freeze(seconds):
    """As a regular expression or a fit would that never lets go of the interpreter: no thread of this process runs.

    A signal ends ``usleep`` early, so it is called again for the rest, without a change of threads in between.
    """
    switching, end = sys.getswitchinterval(), time.monotonic() + seconds
    sys.setswitchinterval(100.0)
    try:
        while (left := end - time.monotonic()) > 0:
            ctypes.PyDLL(None).usleep(int(left * 1e6) + 1)
    finally:
        sys.setswitchinterval(switching)


def record_through_a_freeze(port, folder, *, own_process):
    with Session(port, folder, rate=500, own_process=own_process) as session:
        session.start(wait=True)
        until(lambda: session.snapshot().losses.frames > 500)
        path = session.start_recording("frozen")
        time.sleep(0.3)
        freeze(FROZEN)
        frames = session.snapshot().losses.frames
        until(lambda: session.snapshot().losses.frames > frames + 200)
        session.stop_recording()
    return path


def test_a_process_that_is_frozen_for_three_seconds_loses_no_frame_of_the_recording(port, tmp_path):
    path = record_through_a_freeze(port, tmp_path, own_process=True)
    report = verify(path)
    assert report.lost == 0, report.sentences()
    assert not report.damage
    assert report.messages["line"] > 500 * FROZEN


def test_in_one_process_the_same_freeze_does_lose_frames(port, tmp_path):
    report = verify(record_through_a_freeze(port, tmp_path, own_process=False))
    assert report.lost > 500 * FROZEN / 2  # the terminal kept 0.3 s of them


def test_a_port_process_that_is_killed_is_started_again_and_the_recording_goes_on(port, tmp_path):
    with Session(port, tmp_path, rate=500) as session:
        session.start(wait=True)
        path = session.start_recording("killed")
        until(lambda: session.snapshot().losses.frames > 300)
        before = session.snapshot().recording.bytes
        os.kill(session._link._port._process.pid, signal.SIGKILL)
        until(lambda: session.snapshot().link.state == "lost", "the loss of the port")
        until(lambda: session.snapshot().link.state == "live", "its return")
        until(lambda: session.snapshot().recording.bytes > before + 5000, "the recording's growth")
        session.mark("after")
        now = session.snapshot()
        assert now.recording.trouble == ""
        assert not now.recording.ended
        session.stop_recording()
    report = verify(path)
    assert report.closed
    assert report.resumed == 1
    assert report.messages["line"] > 300
    assert [row["text"] for row in load(path).decoded.tables["note"]] == [b"after"]


def test_a_program_that_is_killed_leaves_a_recording_that_is_closed_in_order(port, tmp_path):
    program = (
        "import sys, time\n"
        "from frothline.bench.session import Session\n"
        f"session = Session({port!r}, {str(tmp_path)!r}, rate=500)\n"
        "session.start(wait=True)\n"
        "session.start_recording('left')\n"
        "while session.snapshot().losses.frames < 500: time.sleep(0.02)\n"
        "print(session._link._port._process.pid, flush=True)\n"
        "time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True) as victim:
        pid = int(victim.stdout.readline())
        victim.kill()
    path = tmp_path / "left.froth"
    until(lambda: verify(path).closed, "the end of the recording")
    report = verify(path)
    assert report.lost == 0
    assert load(path).decoded.tables["recording_closed"]["reason"][-1] == b"the program ended"
    until(lambda: ended(pid), "the end of the process that had the port")


def ended(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return "zombie" in Path(f"/proc/{pid}/status").read_text() if Path(f"/proc/{pid}/status").exists() else False


def test_errors_of_the_port_arrive_as_they_are(tmp_path):
    with (
        Session("/dev/ttyNOSUCHPORT", tmp_path) as session,
        pytest.raises(PortNotFound, match="port does not exist") as seen,
    ):
        session.start(wait=True)
    assert seen.value.where == "/dev/ttyNOSUCHPORT"
    assert "frothline find" in seen.value.remedy


def test_a_session_that_is_closed_while_it_looks_for_the_rig_ends_at_once(tmp_path):
    master, slave = os.openpty()  # a port on which nobody answers; asking takes 5 s
    try:
        took = []
        while len(took) < 6 and not (took and min(took) < 4.0):  # a busy machine needs several tries
            session = Session(os.ttyname(slave), tmp_path).start()
            until(lambda session=session: session._link._port._process is not None)
            time.sleep(0.5)
            began = time.monotonic()
            session.close()
            took.append(time.monotonic() - began)
            assert not session._link._opener.is_alive()
        assert min(took) < 4.0
    finally:
        os.close(master)
        os.close(slave)


def test_a_silent_port_says_so_with_the_time_that_was_waited(tmp_path):
    master, slave = os.openpty()
    try:
        with Session(os.ttyname(slave), tmp_path) as session, pytest.raises(PortSilent, match=r"no data arrived"):
            session.start(wait=True)
    finally:
        os.close(master)
        os.close(slave)


def test_a_folder_that_cannot_be_written_is_refused_from_the_other_process(port, tmp_path):
    (tmp_path / "a-file").write_text("not a folder")
    with Session(port, tmp_path / "a-file") as session:
        session.start(wait=True)
        with pytest.raises(RecordingUnwritable, match="file"):
            session.start_recording("nowhere")


def test_another_board_on_the_port_is_named_in_the_link_and_in_the_recording(tmp_path):
    (tmp_path / "dev").mkdir()

    def board(number):
        command = [sys.executable, str(BOARD), str(tmp_path / "dev"), "100", str(number)]
        started = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        return started, started.stdout.readline().strip()

    first, port = board(0x11)
    with Session(port, tmp_path, rate=100) as session:
        session.start(wait=True)
        path = session.start_recording("two boards")
        until(lambda: session.snapshot().losses.frames > 50)
        with first:
            first.stdin.close()
        second, _ = board(0x22)
        link = until(lambda: (one := session.snapshot().link).other_board and one, "the other board")
        assert link.state == "lost"
        assert "(00000022) answers" in link.words
        assert "(00000011) is expected" in link.other_board
        with second:
            second.stdin.close()
        third, _ = board(0x11)
        until(lambda: session.snapshot().link.state == "live", "the return of the right board")
        assert session.snapshot().link.other_board == ""
        session.stop_recording()
    with third:
        third.stdin.close()
    notes = load(path).decoded.tables["note"]
    assert b"other board" in set(notes["kind"])
    assert verify(path).boards == ("bench 0.1.0",)  # no byte of the other one is in it
