"""Opening a port, and every way in which that fails: what is said, and that nothing of pyserial leaks out."""

import os
import socket
import time
from types import SimpleNamespace

import pytest
import serial
from fake_board import FakeBoard, PtyBoard, SocketBoard
from waiting import until

from frothline.errors import FrothlineError, InputError, PortBusy, PortError, PortLost, PortNotFound, WrongDevice
from frothline.rig import port
from frothline.rig.port import Line, open_port

posix = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")


@posix
def test_a_port_that_is_not_there_is_reported_with_its_name_and_a_remedy():
    with pytest.raises(PortNotFound) as caught:
        open_port("/dev/ttyNOSUCHPORT")
    assert caught.value.where == "/dev/ttyNOSUCHPORT"
    assert "frothline find" in caught.value.remedy


@posix
def test_a_port_in_use_is_reported_as_in_use(tmp_path):
    with PtyBoard(FakeBoard(), tmp_path) as there:
        first = open_port(there.url)
        with pytest.raises(PortBusy, match="in use by another program"):
            open_port(there.url)
        first.close()
        open_port(there.url).close()  # free again


@posix
def test_a_file_that_is_no_serial_port_is_reported_as_such(tmp_path):
    with pytest.raises(WrongDevice, match="not a serial port"):
        open_port("/dev/null")
    plain = tmp_path / "notes.txt"
    plain.write_text("not a port")
    with pytest.raises(WrongDevice):
        open_port(str(plain))


def test_an_address_of_no_known_kind_is_an_input_error():
    with pytest.raises(InputError, match="not a port"):
        open_port("carrier-pigeon://roof")


def test_a_socket_where_nobody_listens_is_reported_as_not_found():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        free = probe.getsockname()[1]
    with pytest.raises(PortNotFound, match="nothing answers"):
        open_port(f"socket://127.0.0.1:{free}")


@posix
@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may open everything")
def test_a_port_without_permission_names_the_group_to_join(tmp_path):
    locked = tmp_path / "tty"
    locked.write_text("")
    locked.chmod(0)
    with pytest.raises(PortError, match="may not open") as caught:
        open_port(str(locked))
    assert "dialout" in caught.value.remedy


def test_a_permission_error_of_the_system_becomes_a_remedy_naming_the_group(monkeypatch):
    class Locked:
        def open(self):
            raise serial.SerialException(13, "could not open port: [Errno 13] Permission denied")

    monkeypatch.setattr(os, "name", "posix")
    monkeypatch.setattr(serial, "serial_for_url", lambda *_, **__: Locked())
    with pytest.raises(PortError, match="may not open") as caught:
        open_port("/dev/ttyUSB0")
    assert "dialout" in caught.value.remedy


# The texts of pyserial 3.5 on Windows (serialwin32.py: open and _reconfigure_port), with the system's errors 2, 5, 31, 121.
# A port is opened there without sharing, so that a second program always gets error 5.
WINDOWS = {
    "could not open port 'COM3': PermissionError(13, 'Access is denied.', None, 5)": (PortBusy, "another program"),
    "could not open port 'COM9': FileNotFoundError(2, 'The system cannot find the file specified.', None, 2)": (
        PortNotFound,
        "does not exist",
    ),
    "Cannot configure port, something went wrong. Original message: PermissionError(13, 'A device attached to the system "
    "is not functioning.', None, 31)": (PortError, "does not respond"),
    "could not open port 'COM3': OSError(22, 'The semaphore timeout period has expired.', None, 121)": (
        PortError,
        "semaphore timeout",
    ),
}


@pytest.mark.parametrize(("text", "expected"), WINDOWS.items(), ids=["in use", "missing", "device hangs", "timeout"])
def test_the_errors_of_windows_are_told_apart(monkeypatch, text, expected):
    class Refused:
        def open(self):
            raise serial.SerialException(text)

    kind, words = expected
    monkeypatch.setattr(port, "os", SimpleNamespace(name="nt"))
    monkeypatch.setattr(serial, "serial_for_url", lambda *_, **__: Refused())
    with pytest.raises(PortError, match=words) as caught:
        open_port("COM3")
    assert type(caught.value) is kind
    assert caught.value.remedy


# What pyserial 3.5 and the system raise when a cable is pulled, collected from its issues 401, 417 and 572 and from
# pulling a pseudo-terminal: all of it is one thing to the rest of the program.
PULLED = [
    serial.SerialException("read failed: [Errno 5] Input/output error"),
    OSError(5, "Input/output error"),
    TypeError("'NoneType' object cannot be interpreted as an integer"),
    serial.PortNotOpenError(),
    ValueError("file descriptor cannot be a negative integer (-1)"),
]
if os.name != "nt":
    import termios

    PULLED.append(termios.error(5, "Input/output error"))


@pytest.mark.parametrize("raised", PULLED, ids=lambda error: type(error).__name__)
@pytest.mark.parametrize("where", ["in_waiting", "read", "write"])
def test_whatever_is_raised_when_a_cable_is_pulled_becomes_port_lost(raised, where):
    class Pulled:
        @property
        def in_waiting(self):
            if where == "in_waiting":
                raise raised
            return 0

        def read(self, size):
            raise raised

        def write(self, data):
            raise raised

        def close(self):
            raise raised

    line = Line("/dev/ttyX", Pulled())
    with pytest.raises(PortLost, match="ttyX"):
        line.write(b"\0") if where == "write" else line.read()
    line.close()  # never raises


def test_two_readers_on_one_port_are_named_as_a_cause():
    class Shared:
        in_waiting = 1

        def read(self, size):
            raise serial.SerialException(
                "device reports readiness to read but returned no data (device disconnected or multiple access on port?)"
            )

    with pytest.raises(PortLost, match="two programs read it"):
        Line("/dev/ttyX", Shared()).read()


@posix
def test_a_pulled_pseudo_terminal_is_port_lost_within_one_read(tmp_path):
    with PtyBoard(FakeBoard(streaming=True), tmp_path) as there:
        line = open_port(there.url)
        there.unplug()
        with pytest.raises(PortLost):
            [line.read() for _ in range(3)]
        line.close()


def test_a_socket_tells_how_many_bytes_wait_and_gives_them_in_one_read():
    board = FakeBoard(mute=True)
    with SocketBoard(board) as there:
        line = open_port(there.url)
        time.sleep(0.05)
        payload = bytes(range(1, 251)) * 4
        with there.lock:
            there.line.sendall(payload)
        until(lambda: line._raw.in_waiting == len(payload), "all of it")
        assert line.read() == payload  # pyserial's own socket port gives one byte here
        line.close()


def test_a_read_with_nothing_to_come_waits_its_timeout_and_gives_nothing():
    with SocketBoard(FakeBoard(mute=True)) as there:
        line = open_port(there.url)
        began = time.monotonic()
        assert line.read() == b""
        assert time.monotonic() - began > 0.15  # the timeout is 0.2 s
        line.close()


def test_every_error_of_opening_is_one_of_ours():
    for url in [
        "",
        "COM77x",
        "socket://",
        "socket://nowhere.invalid:1",
        "loop://?bad=1",
        "modelled://no-such-scenario",
    ]:
        with pytest.raises(FrothlineError):
            open_port(url).close()
