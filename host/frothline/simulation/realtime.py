"""A simulated rig in real time: a thread that advances board and world, and a buffer for the port.

:class:`Simulation` is the interface for tests and demonstrations (``control``, ``truth``) and for the port.
"""

from __future__ import annotations

import threading
import time
from typing import Any, Protocol

SLICE = 0.005  # s of wall time between two steps
BACKLOG = 8000  # bytes, about a second, by which a faster-than-real rig may be ahead of the session that follows it
FOLLOWS = 5.0  # s for which a silent session is waited for
ROOM = 1 << 18  # bytes of the buffer; when full, a fast rig waits for its reader, a real-time one loses frames


class SimulatedRig(Protocol):
    """Interface of a rig: bytes in, bytes out, simulated time."""

    @property
    def time(self) -> float: ...

    def run(self, seconds: float) -> bytes: ...

    def receive(self, data: bytes) -> None: ...

    def reset(self, cause: str) -> None: ...

    def control(self, name: str, value: Any) -> None: ...

    def truth(self) -> dict[str, Any]: ...

    def faults(self) -> dict[str, str]: ...

    def figures(self) -> dict[str, float]: ...


class Simulation:
    """One rig, running from the first opening until its port is closed (an unplugged one keeps running).

    ``control(name, value)`` changes the scenario; in addition to the names of ``World.control`` there are ``cable``
    (False unplugs the USB cable, True plugs it in) and ``reset``. Thread-safe.
    """

    _taken = 0  # bytes since the port was opened
    _handled: int | None = None  # bytes of them that the session has handled
    _handled_at = 0.0

    def __init__(self, url: str, rig: SimulatedRig, *, speed: float = 1.0, late: float = 0.0) -> None:
        self.url = url
        self.speed = speed
        self.lost_bytes = 0
        self._rig = rig
        self._late = late
        self._boot_over = 0.0
        self._booting: str | None = None
        self._lock = threading.Lock()
        self._came = threading.Condition()
        self._waiting = bytearray()
        self._plugged = True
        self._alive = True
        self._thread = threading.Thread(target=self._live, name=f"simulated rig {url}", daemon=True)
        self._thread.start()

    # --- for tests and demonstrations -----------------------------------------------------------------------------

    def control(self, name: str, value: Any = None) -> None:
        """Change the scenario; raises ValueError for an unknown name."""
        if name == "cable":
            self._set_cable(bool(value))
        elif name == "reset":
            self._reset(str(value or "external"))
        else:
            with self._lock:
                self._rig.control(name, value)

    def truth(self) -> dict[str, Any]:
        """True state of the line now, see ``World.truth``."""
        with self._lock:
            return self._rig.truth()

    def faults(self) -> dict[str, str]:
        """Faults for ``control("fault", name)``: names, each with its visible effect."""
        with self._lock:
            return self._rig.faults()

    def figures(self) -> dict[str, float]:
        """True figures for comparison with a sweep and a sheet, see ``World.figures``."""
        with self._lock:
            return self._rig.figures()

    def asked_speed(self) -> float:
        """Simulated seconds for each real one that were asked for; 0: as fast as possible."""
        return self.speed

    def handled(self, count: int) -> None:
        """Say that ``count`` bytes since the opening of the port are handled. From then on a faster-than-real rig waits
        for its session, so that whoever acts on the readings acts in time, however busy the machine is.
        """
        self._handled, self._handled_at = count, time.monotonic()

    @property
    def time(self) -> float:
        """Simulated seconds since the start."""
        with self._lock:
            return self._rig.time

    @property
    def rig(self) -> SimulatedRig:
        """The rig itself; not thread-safe."""
        return self._rig

    @property
    def plugged(self) -> bool:
        return self._plugged

    @property
    def alive(self) -> bool:
        return self._alive

    def end(self) -> None:
        """Stop permanently."""
        self._alive = False
        with self._came:
            self._came.notify_all()
        if self._thread is not threading.current_thread():
            self._thread.join(5.0)

    # --- for the port ---------------------------------------------------------------------------------------------

    def opened(self, *, reset: bool) -> None:
        """Called when a port is opened: DTR resets the board, unread bytes are discarded."""
        if reset:
            self._reset("external")
        else:
            with self._came:
                self._waiting.clear()
        self._taken, self._handled = 0, None

    def waiting(self) -> int:
        return len(self._waiting)

    def take(self, size: int, timeout: float | None) -> bytes:
        """Up to ``size`` bytes; waits for all of them at most ``timeout`` s (None: without limit)."""
        until = None if timeout is None else time.monotonic() + timeout
        with self._came:
            while len(self._waiting) < size and self._plugged and self._alive:
                left = None if until is None else until - time.monotonic()
                if left is not None and left <= 0.0:
                    break
                self._came.wait(left)
            data = bytes(self._waiting[:size])
            del self._waiting[:size]
            self._taken += len(data)
            self._came.notify_all()
            return data

    def give(self, data: bytes) -> None:
        """Bytes from the host to the board; a board in its bootloader ignores them."""
        with self._lock:
            if self._plugged and self._rig.time >= self._boot_over:
                self._rig.receive(data)

    # --- internal -------------------------------------------------------------------------------------------------

    def _reset(self, cause: str) -> None:
        with self._lock:
            self._boot_over = self._rig.time + self._late
            self._booting = cause
        with self._came:
            self._waiting.clear()

    def _set_cable(self, plugged: bool) -> None:
        with self._came:
            self._plugged = plugged
            self._waiting.clear()
            self._came.notify_all()
        if plugged:
            self._reset("power_on")

    def _live(self) -> None:
        origin, began = time.monotonic(), self._rig.time
        while self._alive:
            if self._waits_for_session():
                time.sleep(SLICE)
                continue
            if self.speed > 0.0:
                now = time.monotonic()
                ahead = began + (now - origin) * self.speed - self._rig.time
                if ahead > 1.0 * self.speed:  # the computer slept or is too slow: do not catch up
                    origin, began = now, self._rig.time
                    ahead = SLICE * self.speed
                if ahead < 0.002:
                    time.sleep(SLICE)
                    continue
                ahead = min(ahead, 0.25)
            else:
                ahead = 0.05
            with self._lock:
                sent = self._run(ahead)
            self._deliver(sent)

    def _waits_for_session(self) -> bool:
        if self._handled is None or self.speed in {0.0, 1.0}:
            return False
        ahead = len(self._waiting) + self._taken - self._handled
        return ahead > BACKLOG and time.monotonic() - self._handled_at < FOLLOWS

    def _run(self, seconds: float) -> bytes:
        if self._booting is not None:
            left = self._boot_over - self._rig.time
            if left > 0.0:
                self._rig.run(min(left, seconds))  # the world continues, the board is silent
                return b""
            self._rig.reset(self._booting)
            self._booting = None
        return self._rig.run(seconds)

    def _deliver(self, sent: bytes) -> None:
        if not sent:
            return
        with self._came:
            if not self._plugged:
                return
            while self.speed != 1.0 and len(self._waiting) > ROOM and self._alive and self._plugged:
                self._came.wait(0.2)
            if len(self._waiting) > ROOM:
                self.lost_bytes += len(sent)
                return
            self._waiting += sent
            self._came.notify_all()
