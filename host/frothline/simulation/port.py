"""A pyserial port connected to a simulation."""

from __future__ import annotations

import errno
from collections.abc import Callable
from typing import Any

import serial
from serial.serialutil import PortNotOpenError, SerialBase, to_bytes

from frothline.simulation import registry
from frothline.simulation.options import read_url
from frothline.simulation.realtime import Simulation


class SimulatedPort(SerialBase):  # type: ignore[misc]  # pyserial is not typed
    """Port with the interface of a real one; ``simulation`` is the simulation behind it.

    Subclasses set ``make``, which starts the simulation of a URL. Opening resets the board, as DTR does on most boards,
    unless the URL has ``reset=0``. A rig has at most one open port; a second opening fails, as for an exclusive port.
    """

    make: Callable[[str], Simulation]
    _taken: set[int] = set()  # noqa: RUF012  # shared between ports on purpose: the lock of the device

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.simulation: Simulation | None = None
        self.is_open: bool
        super().__init__(*args, **kwargs)

    def open(self) -> None:
        """Open; raises SerialException (busy, unplugged) and InputError (the URL)."""
        if self.is_open:
            raise serial.SerialException("Port is already open.")
        if self._port is None:
            raise serial.SerialException("Port must be configured before it can be used.")
        url = str(self._port)
        options = read_url(url)
        simulation = registry.acquire(url, type(self).make)
        if not simulation.plugged:
            raise serial.SerialException(errno.ENOENT, f"could not open port {url}: it is unplugged")
        if id(simulation) in self._taken:
            raise serial.SerialException(errno.EAGAIN, f"Could not exclusively lock port {url}: it is in use")
        self._taken.add(id(simulation))
        self.simulation = simulation
        simulation.opened(reset=bool(options.reset))
        self.is_open = True

    def close(self) -> None:
        """Close; the rig ends with its port, unless its cable is unplugged."""
        simulation, self.simulation = self.simulation, None
        self.is_open = False
        if simulation is not None:
            self._taken.discard(id(simulation))
            registry.release(simulation)

    def _behind(self) -> Simulation:
        simulation = self.simulation
        if simulation is None:
            raise PortNotOpenError
        if not simulation.plugged:
            raise serial.SerialException(errno.EIO, "the device was disconnected")
        if not simulation.alive:
            raise serial.SerialException(errno.EIO, "the simulated rig has ended")
        return simulation

    @property
    def in_waiting(self) -> int:
        """Number of bytes available."""
        return self._behind().waiting()

    def read(self, size: int = 1) -> bytes:
        """Up to ``size`` bytes; waits for all of them at most the timeout."""
        data = self._behind().take(size, self._timeout)
        if not data:
            self._behind()  # unplugged while waiting
        return data

    def write(self, data: bytes) -> int:
        """Send to the board."""
        sent = to_bytes(data)
        self._behind().give(sent)
        return len(sent)

    def flush(self) -> None:
        """No effect: writes are immediate."""

    def reset_input_buffer(self) -> None:
        """Discard received bytes."""
        simulation = self._behind()
        while simulation.waiting():
            simulation.take(simulation.waiting(), 0.0)

    def reset_output_buffer(self) -> None:
        """No effect: writes are immediate."""

    @property
    def out_waiting(self) -> int:
        """Always 0: writes are immediate."""
        self._behind()
        return 0

    def _reconfigure_port(self) -> None:
        """No effect: any line setting is valid."""

    def _update_dtr_state(self) -> None:
        """No effect: the board is reset when the port is opened."""

    def _update_rts_state(self) -> None:
        """No effect: not connected."""

    def _update_break_state(self) -> None:
        """No effect: not connected."""
