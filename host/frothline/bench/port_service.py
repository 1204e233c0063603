"""The port process: reads the port, writes the recording, passes the bytes on, and decodes nothing.

``port_process`` starts it. It reads one line from its standard input (the key of the connection), prints one line (its
address), and serves until its standard input is closed. That also happens when the other program is killed; the
recording is then closed in order.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from dataclasses import dataclass, replace
from multiprocessing.managers import BaseManager
from typing import Any

from frothline.errors import InputError, PortLost, RecordingError, RecordingUnwritable
from frothline.recording.writer import RecordingWriter, WriterStatus
from frothline.rig import Handshake, Item, Reader, open_reader

HOST_FRAMES = ("note", "anchor", "port", "alarm")
SIMULATION = ("control", "truth", "faults", "figures", "asked_speed", "handled")
PLAYBACK = ("state", "pause", "set_speed")
EXPOSED = (
    "open",
    "start",
    "take",
    "write",
    "stop",
    "record",
    "resume",
    "detach",
    "host_frame",
    "end_recording",
    "simulation",
    "playback",
)
MOST_TAKEN = 0.5  # s that ``take`` may wait


@dataclass(frozen=True)
class OpenedPort:
    """The opened port: ``answer`` without its bytes, which come through ``take``."""

    answer: Handshake
    url: str
    simulated: bool
    replayed: bool = False


@dataclass(frozen=True)
class TakenBytes:
    """New ``items`` since the last call, and the state after them. ``recording`` is None without a recording."""

    items: list[Item]
    skipped: int
    url: str
    ended: bool
    alive: bool
    recording: WriterStatus | None


class PortService:
    """Serves one port and one recording at a time. Methods may be called from any thread."""

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._reader: Reader | None = None
        self._writer: RecordingWriter | None = None

    # --- the port ---------------------------------------------------------------------------------------------------

    def open(self, url: str | None) -> OpenedPort:
        """Open the port, or find the rig. Raises as ``open_rig``."""
        self.stop()
        reader, answer = open_reader(url)
        self._reader = reader
        return OpenedPort(
            replace(answer, chunks=()), reader.url, reader.simulation is not None, reader.playback is not None
        )

    def start(self) -> None:
        """Begin to read."""
        self._open_reader().start()

    def take(self, timeout: float) -> TakenBytes:
        """New items; waits up to ``timeout`` s for them."""
        reader, writer = self._reader, self._writer
        recording = None if writer is None else writer.status()
        if reader is None:
            return TakenBytes([], 0, "", ended=False, alive=False, recording=recording)
        alive = reader.is_alive()  # before the items: the last of them may come while the thread ends
        items = reader.live.take(min(timeout, MOST_TAKEN))
        return TakenBytes(items, reader.live.skipped, reader.url, reader.ended, alive, recording)

    def write(self, data: bytes) -> None:
        """Send to the board. Raises PortLost."""
        self._open_reader().write(data)

    def stop(self) -> None:
        """Close the port; the recording stays open for its last host frames."""
        with self._lock:
            reader, self._reader = self._reader, None
        if reader is not None:
            reader.stop()

    def _open_reader(self) -> Reader:
        reader = self._reader
        if reader is None:
            raise PortLost("no port is open", where="port")
        return reader

    # --- the recording ----------------------------------------------------------------------------------------------

    def record(self, folder: str, name: str, source: str) -> WriterStatus:
        """Begin a recording and write every frame from the next one on. Raises as ``RecordingWriter.create``."""
        return self._attach(RecordingWriter.create(folder, name, source=source))

    def resume(self, path: str) -> WriterStatus:
        """Continue the recording of a process that ended. Raises as ``RecordingWriter.resume``."""
        return self._attach(RecordingWriter.resume(path))

    def _attach(self, writer: RecordingWriter) -> WriterStatus:
        with self._lock:
            if self._writer is not None:
                self._writer.close("another recording begins")
            self._writer = writer
            if self._reader is not None:
                self._reader.attach(writer.write, writer.port)
        return writer.status()

    def detach(self) -> None:
        """Stop writing the board's bytes at the end of the current frame."""
        if self._reader is not None:
            self._reader.detach()

    def host_frame(self, kind: str, *values: Any, **named: Any) -> None:
        """Call ``note``, ``anchor``, ``port`` or ``alarm`` of the writer."""
        writer = self._writer
        if writer is None or kind not in HOST_FRAMES:
            raise RecordingUnwritable("nothing is recorded", where=kind)
        getattr(writer, kind)(*values, **named)

    def end_recording(self, reason: str) -> tuple[WriterStatus, RecordingError | None]:
        """Close the recording; returns its last state, and the error if bytes could not be written."""
        with self._lock:
            writer, self._writer = self._writer, None
        if writer is None:
            raise RecordingUnwritable("nothing is recorded", where="end")
        try:
            writer.close(reason)
        except RecordingError as error:
            return writer.status(), error
        return writer.status(), None

    # --- a simulated rig ----------------------------------------------------------------------------------------------

    def simulation(self, what: str, *values: Any) -> Any:
        """A method of the simulation (one of SIMULATION) behind the port."""
        simulation = self._open_reader().simulation
        if simulation is None or what not in SIMULATION:
            raise InputError("this rig is not simulated", where=what)
        return getattr(simulation, what)(*values)

    def playback(self, what: str, *values: Any) -> Any:
        """``state``, ``pause`` or ``set_speed`` of the playback behind the port."""
        playback = self._open_reader().playback
        if playback is None or what not in PLAYBACK:
            raise InputError("this is not a replay", where=what)
        return getattr(playback, what)(*values)

    def shut_down(self) -> None:
        """Close the recording in order, and the port."""
        self.detach()
        if self._writer is not None:
            try:
                self.end_recording("the program ended")
            except RecordingError as error:
                print(error, file=sys.stderr)
        self.stop()


class ServiceManager(BaseManager):
    """The connection to the service; both processes use it."""


def main() -> None:
    """Run the port process; see the module docstring."""
    key = bytes.fromhex(sys.stdin.buffer.readline().decode().strip())
    service = PortService()
    ServiceManager.register("service", callable=lambda: service, exposed=EXPOSED)
    server: Any = ServiceManager(authkey=key).get_server()
    print(json.dumps(server.address), flush=True)

    def wait_for_the_end() -> None:
        while sys.stdin.buffer.read(1):
            pass
        service.shut_down()
        while True:  # ``serve_forever`` makes its event when it begins
            if hasattr(server, "stop_event"):
                server.stop_event.set()
            time.sleep(0.1)

    threading.Thread(target=wait_for_the_end, name="frothline-end", daemon=True).start()
    server.serve_forever()
