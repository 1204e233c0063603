"""An emulated rig in a separate process: server and client side.

The process prints one line, ``{"line": port, "control": port}``: two loopback sockets, one for the bytes of the serial
line, one for lines of JSON ``{"do": …, "value": …}`` each answered by one line. It ends when either is closed.
"""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import threading
from typing import Any

from frothline.errors import PortError
from frothline.simulation.options import read_url
from frothline.simulation.realtime import Simulation

_HOST = "127.0.0.1"
START_PATIENCE = 20.0  # s


# --- server process with the rig ------------------------------------------------------------------------------


def _pump_out(living: Simulation, line: socket.socket) -> None:
    try:
        while living.alive:
            data = living.take(1, 0.2)
            if data:
                line.sendall(data + living.take(living.waiting(), 0.0))
    except OSError:
        pass
    living.end()


def _pump_in(living: Simulation, line: socket.socket) -> None:
    try:
        while data := line.recv(4096):
            living.give(data)
    except OSError:
        pass
    living.end()


def _answer(living: Simulation, request: dict[str, Any]) -> Any:
    do, value = request["do"], request.get("value")
    if do == "truth":
        return living.truth()
    if do == "faults":
        return living.faults()
    if do == "figures":
        return living.figures()
    if do == "time":
        return living.time
    if do == "opened":
        living.opened(reset=bool(value))
        return None
    living.control(do, value)
    return None


def _converse(living: Simulation, stream: Any) -> None:
    for text in stream:
        try:
            answer = {"answer": _answer(living, json.loads(text))}
        except (ValueError, KeyError, TypeError) as error:
            answer = {"error": str(error)}
        stream.write(json.dumps(answer).encode() + b"\n")
        stream.flush()


def serve(living: Simulation) -> int:
    """Serve ``living`` to one client on two loopback sockets until it disconnects."""
    with socket.create_server((_HOST, 0)) as line_door, socket.create_server((_HOST, 0)) as control_door:
        ports = {"line": line_door.getsockname()[1], "control": control_door.getsockname()[1]}
        print(json.dumps(ports), flush=True)
        line_door.settimeout(START_PATIENCE)
        control_door.settimeout(START_PATIENCE)
        try:
            control, _ = control_door.accept()
            line, _ = line_door.accept()
        except TimeoutError:
            living.end()
            return 1
    line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    control.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    threads = [threading.Thread(target=pump, args=(living, line), daemon=True) for pump in (_pump_out, _pump_in)]
    for thread in threads:
        thread.start()
    try:
        with control, control.makefile("rwb") as stream:
            _converse(living, stream)
    except OSError:
        pass
    living.end()
    line.close()
    return 0


def serve_terminal(living: Simulation) -> int:
    """Serve ``living`` on a pseudo-terminal until interrupted; its name is printed. POSIX only."""
    import tty  # noqa: PLC0415  # not on every system

    master, slave = os.openpty()
    tty.setraw(slave)
    print(os.ttyname(slave), flush=True)

    def listen() -> None:
        while living.alive:
            living.give(os.read(master, 4096))

    threading.Thread(target=listen, daemon=True).start()
    try:
        while living.alive:
            data = living.take(1, 0.2)
            if data:
                os.write(master, data + living.take(living.waiting(), 0.0))
    except (KeyboardInterrupt, OSError):
        pass
    living.end()
    return 0


# --- client process -------------------------------------------------------------------------------------------


class RemoteSimulation(Simulation):
    """A :class:`.realtime.Simulation` whose rig is in a separate process."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.speed = read_url(url).speed
        self.lost_bytes = 0
        self._lock = threading.Lock()
        self._came = threading.Condition()
        self._waiting = bytearray()
        self._plugged = True
        self._alive = True
        self._process = subprocess.Popen(
            [sys.executable, "-m", "frothline.simulation.emulated", url],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,  # Ctrl-C is for the program that uses the rig
        )
        ports = self._ports()
        self._control = socket.create_connection((_HOST, ports["control"]), START_PATIENCE)
        self._line = socket.create_connection((_HOST, ports["line"]), START_PATIENCE)
        for one in (self._control, self._line):
            one.settimeout(None)
            one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._talk = self._control.makefile("rwb")
        self._thread = threading.Thread(target=self._listen, name=f"line of {url}", daemon=True)
        self._thread.start()

    def _ports(self) -> dict[str, int]:
        assert self._process.stdout is not None
        assert self._process.stderr is not None
        text = self._process.stdout.readline()
        if not text:
            why = self._process.stderr.read().decode(errors="replace").strip()
            self._process.wait()
            self._process.stdout.close()
            self._process.stderr.close()
            raise PortError(why or "the emulated rig did not start", where=self.url)
        found: dict[str, int] = json.loads(text)
        return found

    def _ask(self, do: str, value: Any = None) -> Any:
        with self._lock:
            try:
                self._talk.write(json.dumps({"do": do, "value": value}).encode() + b"\n")
                self._talk.flush()
                text = self._talk.readline()
            except (OSError, ValueError) as error:
                raise PortError("the emulated rig has ended", where=self.url) from error
        if not text:
            raise PortError("the emulated rig has ended", where=self.url)
        answer = json.loads(text)
        if "error" in answer:
            raise ValueError(answer["error"])
        return answer["answer"]

    def control(self, name: str, value: Any = None) -> None:
        """Change the scenario; raises ValueError for an unknown name, PortError when the rig has ended."""
        self._ask(name, value)
        if name == "cable":
            with self._came:
                self._plugged = bool(value)
                self._waiting.clear()
                self._came.notify_all()

    def truth(self) -> dict[str, Any]:
        """True state of the line now, see ``World.truth``."""
        found: dict[str, Any] = self._ask("truth")
        return found

    def faults(self) -> dict[str, str]:
        """Faults for ``control("fault", name)``: names, each with its visible effect."""
        found: dict[str, str] = self._ask("faults")
        return found

    def figures(self) -> dict[str, float]:
        """True figures for comparison with a sweep and a sheet, see ``World.figures``."""
        found: dict[str, float] = self._ask("figures")
        return found

    @property
    def time(self) -> float:
        """Simulated seconds since the start."""
        return float(self._ask("time"))

    @property
    def rig(self) -> Any:
        """Not available, because it is in another process."""
        raise AttributeError("the rig lives in a process of its own")

    def opened(self, *, reset: bool) -> None:
        """A port was opened."""
        self._ask("opened", reset)
        with self._came:
            self._waiting.clear()

    def give(self, data: bytes) -> None:
        """Bytes from the host to the board."""
        if self._plugged:
            self._line.sendall(data)

    def end(self) -> None:
        """Stop, and wait for the end of the process."""
        self._alive = False
        for one in (self._line, self._control):
            try:
                one.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass
        with self._came:
            self._came.notify_all()
        try:
            self._process.wait(5.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._thread is not threading.current_thread():
            self._thread.join(5.0)
        try:
            self._talk.close()
        except OSError:
            pass
        for channel in (self._line, self._control, self._process.stdout, self._process.stderr):
            if channel is not None:
                channel.close()

    def _listen(self) -> None:
        try:
            while data := self._line.recv(1 << 16):
                self._deliver(data)
        except OSError:
            pass
        with self._came:
            self._alive = False
            self._came.notify_all()


def remote(url: str) -> RemoteSimulation:
    """Start a process for ``url``; raises InputError for the URL and PortError when the rig does not start."""
    read_url(url)
    return RemoteSimulation(url)
