"""The session's side of the port process; the other side is ``port_service``.

The live thread takes the bytes from the port process 12.5 times a second. When this process is busy, the bytes wait in
the port process, up to a limit, while the recording goes on. When the port process crashes or is killed, it is started
again, and the recording goes on in the same files.
"""

from __future__ import annotations

import json
import logging
import os
import secrets
import subprocess
import sys
import threading
import time
import weakref
from collections.abc import Callable
from pathlib import Path
from typing import Any

import frothline
from frothline.bench.port_service import OpenedPort, ServiceManager, TakenBytes
from frothline.errors import FrothlineError, PortError, PortLost, RecordingError, RecordingUnwritable
from frothline.recording.segments import stem_and_number
from frothline.recording.writer import WriterStatus
from frothline.rig import Back, Gone, Item, Rig, Stranger
from frothline.rig.playback import PlaybackState

START_PATIENCE = 30.0  # s for the process to answer; half a second on an idle machine
END_PATIENCE = 5.0  # s for it to close the recording
REVIVE_EVERY = 1.0  # s
_ENDED: tuple[type[Exception], ...] = (EOFError, OSError)  # errors of a call when the other process has ended

_PACKAGES = str(Path(frothline.__file__).parents[1])  # the other process loads the same package as this one

_log = logging.getLogger(__name__)


class PortProcess:
    """The port in its own process; the methods are those of ``PortAccess``."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._proxy: Any = None
        self._lock = threading.RLock()
        self._closed = False
        self._end: Any = None  # also called when a session is forgotten without being closed
        self._writer: ProcessWriter | None = None

    # --- the process ------------------------------------------------------------------------------------------------

    def call(self, method: str, *values: Any, **named: Any) -> Any:
        """Call the service. Raises what the service raises, and PortLost where its process has ended.

        Only ``open`` starts the process: a new process has no port for other calls.
        """
        proxy = self._service(start=method == "open")
        try:
            return proxy._callmethod(method, values, named)  # noqa: SLF001  its documented way to call by name
        except FrothlineError:
            raise
        except _ENDED as error:
            raise _has_ended(method) from error

    def _service(self, *, start: bool) -> Any:
        with self._lock:
            if self._closed:
                raise PortError("the session is closed", where="port")
            if self._process is None or self._process.poll() is not None:
                if not start:
                    raise _has_ended("port")
                if self._end is not None:
                    self._end()
                self._start()
            return self._proxy

    def _start(self) -> None:
        key = secrets.token_bytes(32)
        own: dict[str, Any] = (
            {"creationflags": 0x200}  # CREATE_NEW_PROCESS_GROUP, defined only on Windows
            if sys.platform == "win32"
            else {"start_new_session": True}  # Ctrl-C is for this program, which then ends the other in order
        )
        self._process = process = subprocess.Popen(
            [sys.executable, "-c", "from frothline.bench.port_service import main; main()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, (_PACKAGES, os.environ.get("PYTHONPATH"))))},
            **own,
        )
        self._end = weakref.finalize(self, _end, process)
        assert process.stdin is not None
        try:
            process.stdin.write(key.hex().encode() + b"\n")
            process.stdin.flush()
            said = _first_line(process)
            ServiceManager.register("service")
            manager: Any = ServiceManager(json.loads(said), authkey=key)
            manager.connect()
            self._proxy = manager.service()
        except (OSError, ValueError, EOFError) as error:
            process.kill()
            raise PortError(
                f"the process that reads the port did not start ({error or 'no message'})",
                where=sys.executable,
                remedy="Start Frothline again",
            ) from error

    # --- calls of a session ----------------------------------------------------------------------------------------

    def open(self, url: str | None) -> Rig:
        """The rig at ``url``, or the one that is found. Raises as ``frothline.rig.open_rig``."""
        opened: OpenedPort = self.call("open", url)
        return Rig(ProcessReader(self, opened), opened.answer)

    def record(self, folder: Path, name: str, source: str) -> ProcessWriter:
        """Begin a recording of the rig that is open. Raises RecordingUnwritable, NoSpace, PortLost."""
        status: WriterStatus = self.call("record", str(folder), name, source)
        self._writer = ProcessWriter(self, name, status)
        return self._writer

    def resume(self, path: Path) -> ProcessWriter:
        """Continue an interrupted recording; ``path`` is its last segment. Raises as ``RecordingWriter.resume``."""
        status: WriterStatus = self.call("resume", str(path))
        self._writer = ProcessWriter(self, stem_and_number(path)[0], status)
        return self._writer

    def resume_recording(self) -> None:
        """Continue the recording of the process that ended, if there was one."""
        writer = self._writer
        if writer is None or writer.status().ended:
            return
        try:
            writer.see(self.call("resume", str(writer.status().path)))
        except RecordingError as error:
            writer.lose(error)

    def detach(self) -> None:
        """Stop the recording's bytes from the board."""
        try:
            self.call("detach")
        except PortLost:
            _log.warning("the port's process had ended before the recording did")

    def see(self, recording: WriterStatus | None) -> None:
        """The last status of the recording from the service."""
        if recording is not None and self._writer is not None:
            self._writer.see(recording)

    def close(self) -> None:
        """End the process; a recording that is still open is closed in order. May be called twice."""
        with self._lock:
            self._closed = True
            if self._end is not None:
                self._end()


def _end(process: subprocess.Popen[bytes]) -> None:
    """Close the input of the process, so that it ends in order; kill it if it does not."""
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        process.stdin.close()
    except OSError:
        pass  # the process has ended
    try:
        process.wait(END_PATIENCE)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    process.stdout.close()


def _has_ended(where: str) -> PortLost:
    return PortLost("the process that reads the port has ended", where=where, remedy="It restarts automatically")


def _first_line(process: subprocess.Popen[bytes]) -> bytes:
    """The address that the process prints; the process is killed on timeout."""
    assert process.stdout is not None
    timer = threading.Timer(START_PATIENCE, process.kill)
    timer.start()
    try:
        return process.stdout.readline()
    finally:
        timer.cancel()


class ProcessReader:
    """The ``PortReader`` of a rig whose port is in another process."""

    def __init__(self, process: PortProcess, opened: OpenedPort) -> None:
        self._process = process
        self._asked_url = opened.url
        self._last = TakenBytes([], 0, opened.url, ended=False, alive=True, recording=None)
        self._skipped_before = 0  # by processes that have ended
        self._stopping = threading.Event()
        self._lost_at: float | None = None  # when the process ended
        self._identity = opened.answer.identity
        self.live = self
        self.simulation = PortSimulation(process) if opened.simulated else None
        self.playback = PortPlayback(process) if opened.replayed else None

    @property
    def url(self) -> str:
        return self._last.url or self._asked_url

    @property
    def ended(self) -> bool:
        return self._last.ended

    @property
    def skipped(self) -> int:
        return self._skipped_before + self._last.skipped

    def start(self) -> None:
        """Begin to read. Raises PortLost."""
        self._process.call("start")

    def is_alive(self) -> bool:
        return not self._stopping.is_set() and (self._last.alive or self._lost_at is not None)

    def write(self, data: bytes) -> None:
        """Send to the board. Raises PortLost."""
        self._process.call("write", data)

    def take(self, timeout: float) -> list[Item]:
        """New bytes; waits up to ``timeout`` s for them. Only the live thread calls this."""
        if self._lost_at is not None:
            return self._revive()
        try:
            self._last = self._process.call("take", timeout)
        except PortError as why:
            if self._stopping.is_set():
                self._last = TakenBytes([], self._last.skipped, self.url, ended=False, alive=False, recording=None)
                return []
            self._skipped_before += self._last.skipped
            self._last = TakenBytes([], 0, self.url, ended=False, alive=False, recording=None)
            self._lost_at = time.monotonic()
            return [_gone(PortLost(why.what, where=self.url))]
        self._process.see(self._last.recording)
        return self._last.items

    def _revive(self) -> list[Item]:
        """Start the process again and open the same board."""
        if self._stopping.wait(REVIVE_EVERY):
            return []
        try:
            opened: OpenedPort = self._process.call("open", self._asked_url)
            found = opened.answer.identity
            if not self._identity.is_same_board(found):
                self._process.call("stop")
                return [Stranger(opened.url, found, self._identity, time.time_ns(), time.monotonic_ns())]
            self._process.resume_recording()
            self._process.call("start")
        except PortError:
            return []
        lost_at, self._lost_at = self._lost_at, None
        assert lost_at is not None
        words = f"{opened.url} is back after {time.monotonic() - lost_at:.1f} s"
        return [Back(opened.answer, words, time.time_ns(), time.monotonic_ns())]

    def stop(self) -> None:
        """Close the port."""
        self._stopping.set()
        try:
            self._process.call("stop")
        except PortError:
            pass  # the process has ended, and the port with it


def _gone(why: PortLost) -> Gone:
    return Gone(why, time.time_ns(), time.monotonic_ns())


class ProcessWriter:
    """The recording written by the other process. Host frames are sent to it one by one."""

    def __init__(self, process: PortProcess, name: str, status: WriterStatus) -> None:
        self.name, self.path = name, status.path
        self._process, self._status = process, status

    def see(self, status: WriterStatus) -> None:
        """The newest status."""
        self._status = status

    def lose(self, why: RecordingError) -> None:
        """Mark the recording as lost."""
        one = self._status
        self._status = WriterStatus(one.path, one.size, 0, one.dropped, why, one.write_faults + 1, why, ended=True)

    def status(self) -> WriterStatus:
        """The last status from the other process; at most 0.2 s old while frames arrive."""
        return self._status

    def note(self, kind: str, text: str = "", tick: int = 0) -> None:
        """As ``RecordingWriter.note``."""
        self._put("note", kind, text, tick)

    def anchor(self, tick: int, reason: str = "periodic", *, unix_ns: int, monotonic_ns: int) -> None:
        """As ``RecordingWriter.anchor``."""
        self._put("anchor", tick, reason, unix_ns=unix_ns, monotonic_ns=monotonic_ns)

    def port(self, event: str, detail: str = "") -> None:
        """As ``RecordingWriter.port``."""
        self._put("port", event, detail)

    def alarm(self, severity: str, code: str, text: str, tick: int = 0) -> None:
        """As ``RecordingWriter.alarm``."""
        self._put("alarm", severity, code, text, tick)

    def _put(self, kind: str, *values: Any, **named: Any) -> None:
        self._asked(lambda: self._process.call("host_frame", kind, *values, **named))

    def close(self, reason: str = "stopped") -> None:
        """End the recording in order. Raises RecordingUnwritable if bytes are left that could not be written."""
        error: RecordingError | None
        self._status, error = self._asked(lambda: self._process.call("end_recording", reason))
        if error is not None:
            raise error

    def _asked(self, call: Callable[[], Any]) -> Any:
        try:
            return call()
        except PortError as error:
            raise RecordingUnwritable(
                error.what, where=str(self.path), remedy="What was written before is safe."
            ) from error


class PortPlayback:
    """Control of a playback in the other process."""

    def __init__(self, process: PortProcess) -> None:
        self._process = process

    def state(self) -> PlaybackState:
        found: PlaybackState = self._process.call("playback", "state")
        return found

    def pause(self, paused: bool) -> None:
        self._process.call("playback", "pause", paused)

    def set_speed(self, speed: float) -> None:
        self._process.call("playback", "set_speed", speed)


class PortSimulation:
    """Control of a simulated rig in the other process."""

    def __init__(self, process: PortProcess) -> None:
        self._process = process

    def control(self, name: str, value: Any = None) -> None:
        """Control the scenario; raises ValueError for an unknown name."""
        self._process.call("simulation", "control", name, value)

    def truth(self) -> dict[str, Any]:
        """True state of the line now."""
        return dict(self._process.call("simulation", "truth"))

    def faults(self) -> dict[str, str]:
        """Faults for ``control("fault", name)``: name and visible effect."""
        return dict(self._process.call("simulation", "faults"))

    def figures(self) -> dict[str, float]:
        """True values that a sweep and a sheet should give."""
        return dict(self._process.call("simulation", "figures"))

    def asked_speed(self) -> float:
        """Simulated seconds for each real one that were asked for; 0: as fast as possible."""
        return float(self._process.call("simulation", "asked_speed"))

    def handled(self, count: int) -> None:
        """Let a faster-than-real rig wait for this session."""
        self._process.call("simulation", "handled", count)
