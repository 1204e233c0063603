"""One serial line, real or simulated: exclusive opening, fastest measured way of reading, one error for port loss.

Everything goes through pyserial's URL handlers, so a device name, ``socket://host:port`` and our own ``modelled://``,
``emulated://`` and ``replay://`` are opened alike. All errors of pyserial and the system when a cable is pulled
(SerialException, a bare OSError, termios.error, TypeError) are raised as PortLost.
"""

from __future__ import annotations

import errno
import os
import threading
from typing import Any

import serial

from frothline.errors import FrothlineError, InputError, PortBusy, PortError, PortLost, PortNotFound, WrongDevice
from frothline.rig.playback import Playback
from frothline.rig.port_holder import holder_of
from frothline.wire import WIRE

try:
    import termios

    _TERMIOS: tuple[type[Exception], ...] = (termios.error,)
except ImportError:  # Windows
    _TERMIOS = ()

LOST: tuple[type[Exception], ...] = (OSError, TypeError, ValueError, AttributeError, *_TERMIOS)
# ValueError and AttributeError: another thread closed the port between two calls (file descriptor -1, socket None).

FAILED: tuple[type[Exception], ...] = (*LOST, LookupError)  # opening: KeyError where pyserial stumbles over a bad URL

READ_TIMEOUT = 0.2  # s; never 0 (spins), never None (Ctrl-C is not seen on Windows), never changed while running
WRITE_TIMEOUT = 1.0  # s
WINDOWS_BUFFER = 1 << 16  # bytes; the driver's 4,096 are full after 82 ms at 500 kBd
HANDLERS = ("frothline.rig.url_handlers", "frothline.simulation.url_handlers")  # named only: nothing here imports them

_MISSING = {errno.ENOENT, errno.ENXIO, errno.ENODEV, errno.EIO, errno.ECONNREFUSED, errno.EHOSTUNREACH, errno.ETIMEDOUT}
_BUSY = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}
_FORBIDDEN = {errno.EACCES, errno.EPERM}


def register_handlers() -> None:
    """Let pyserial find our URL handlers, our ``socket://`` before its own (see url_handlers/protocol_socket.py)."""
    for package in HANDLERS:
        if package not in serial.protocol_handler_packages:
            serial.protocol_handler_packages.insert(0, package)


class Line:
    """An open port. ``read`` and ``write`` raise PortLost and nothing else; ``close`` never raises."""

    def __init__(self, url: str, raw: Any) -> None:
        self.url = url
        self._raw = raw
        self._writing = threading.Lock()
        # Control of a simulated rig, an object with ``control(name, value)`` and ``truth()``; it outlives the port, so
        # that a cable which was pulled there can be put back. None for a real rig.
        self.simulation: Any = getattr(raw, "simulation", None)
        self.playback: Playback | None = getattr(raw, "playback", None)  # of a recording that is played back

    def read(self) -> bytes:
        """Read the waiting bytes; waits up to READ_TIMEOUT for a first byte, b"" without one."""
        try:
            return bytes(self._raw.read(max(1, self._raw.in_waiting)))
        except LOST as error:
            raise self._lost(error) from error

    def write(self, data: bytes) -> None:
        """Send; one writer at a time."""
        try:
            with self._writing:
                self._raw.write(data)
        except LOST as error:
            raise self._lost(error) from error

    def close(self) -> None:
        try:
            self._raw.close()
        except LOST:
            pass  # it is gone already

    @property
    def ended(self) -> bool:
        """Whether a playback has ended."""
        return bool(getattr(self._raw, "ended", False))

    def _lost(self, error: Exception) -> PortLost:
        if "returned no data" in str(error):
            return PortLost(
                "the port returned no data: it was unplugged, or two programs read it",
                where=self.url,
                remedy="Check the cable, and close every other program that may have this port open",
            )
        return PortLost(f"the port was lost ({error})", where=self.url, remedy="Check the cable and the board's supply")


def open_port(url: str, baud: int = WIRE.baud) -> Line:
    """Open exclusively, at the line speed of the rig unless ``baud`` is given.

    Opening a device resets many boards and throws away what they had sent; both are normal here. Raises PortNotFound,
    PortBusy, WrongDevice (not a serial port), PortError (no permission, or something else), InputError (no such URL).
    """
    register_handlers()
    try:
        raw = serial.serial_for_url(
            url,
            baudrate=baud,
            timeout=READ_TIMEOUT,
            write_timeout=WRITE_TIMEOUT,
            exclusive=True,
            do_not_open=True,
        )
    except ValueError as error:
        raise InputError(
            f"this is not a port ({error})",
            where=url,
            remedy="Give a device (/dev/ttyUSB0, COM3), socket://host:port, or modelled://sweep",
        ) from error
    try:
        raw.open()
        if hasattr(raw, "set_buffer_size"):
            raw.set_buffer_size(rx_size=WINDOWS_BUFFER)
    except FrothlineError:
        raise
    except FAILED as error:
        raise _why_not(url, error) from error
    return Line(url, raw)


def _why_not(url: str, error: Exception) -> FrothlineError:
    number, text = getattr(error, "errno", None), str(error)
    if number in _FORBIDDEN and os.name != "nt":
        return PortError(
            "this user may not open the port",
            where=url,
            remedy='Join the group that owns it ("sudo usermod -aG dialout $USER" on Debian), then log in again',
        )
    if "not functioning" in text:  # Windows error 31, which pyserial shows as a PermissionError
        return PortError(
            "the port's device does not respond", where=url, remedy="Pull the board's USB cable and plug it in again"
        )
    if number in _BUSY or number in _FORBIDDEN or "PermissionError" in text or "Access is denied" in text:
        holder = holder_of(url)
        return PortBusy(
            f"the port is in use by another program{f' ({holder})' if holder else ''}",
            where=url,
            remedy="Close that program: a serial monitor, another Frothline, or a service that looks for modems",
        )
    if number in _MISSING or any(word in text for word in ("FileNotFound", "Errno 2]", "Errno 111]", "(5, ")):
        return PortNotFound(
            "this port does not exist" if "://" not in url else f"nothing answers at this address ({text})",
            where=url,
            remedy="Connect the board and run `frothline find`, which searches every port",
        )
    if "ioctl" in text or "configure port" in text or number == errno.ENOTTY:
        return WrongDevice(
            "this is not a serial port", where=url, remedy="Run `frothline find`, which searches every port"
        )
    return PortError(f"the port could not be opened ({text})", where=url, remedy="Run `frothline find`")
