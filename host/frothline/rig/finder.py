"""Search for a rig: all ports are queried at once and identified by the answer, not by name.

A query opens the port, which resets many boards, and sends a few bytes. Ports that cannot be a rig (Bluetooth, built-in
serial ports without hardware) are not opened.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from serial.tools import list_ports

from frothline.errors import FrothlineError, InputError, PortNotFound
from frothline.rig.handshake import PATIENCE, Handshake, ask
from frothline.rig.known_boards import other_board_at
from frothline.rig.port import Line, open_port

MOST_AT_ONCE = 16


@dataclass(frozen=True)
class PortCandidate:
    url: str
    what: str  # what the system calls the device behind it
    usb: tuple[int, int, str] | None = None  # vendor, product, serial number, where there is one


@dataclass(frozen=True)
class FoundRig:
    url: str
    what: str
    label: str
    firmware: str
    board_kind: int
    rate: int  # Hz
    waited: float  # s until it had introduced itself
    number: int = 0  # drawn at its first boot; 0 with firmware older than that


@dataclass(frozen=True)
class NoRig:
    """A port without a rig, and the reason."""

    url: str
    what: str
    code: str
    why: str


@dataclass(frozen=True)
class FindReport:
    rigs: tuple[FoundRig, ...]
    others: tuple[NoRig, ...]


def candidates() -> list[PortCandidate]:
    """Ports that may have a rig, USB ones first."""
    found = [
        (one.vid is None, PortCandidate(one.device, one.description or "", _usb(one)))
        for one in list_ports.comports()
        if "bluetooth" not in f"{one.device} {one.description} {one.hwid}".lower()
    ]
    return [one for _, one in sorted(found, key=lambda item: (item[0], item[1].url))]


def _usb(one: Any) -> tuple[int, int, str] | None:
    return (one.vid, one.pid, one.serial_number) if one.vid is not None and one.serial_number else None


class Whereabouts:
    """Ports where a rig may reappear after its port was lost.

    At its old name; or at a port that was not there when it was opened; or at one with the same USB serial number.
    Ports that were there all along belong to other devices, which are not to be reset every two seconds.
    """

    def __init__(self, url: str) -> None:
        self._is_device = "://" not in url
        there = candidates() if self._is_device else []
        self._others = {one.url for one in there} - {url}
        self._usb = next((one.usb for one in there if one.url == url), None)

    def may_be_at(self, old: str) -> list[str]:
        """Ports to query now, the old one first."""
        if not self._is_device:
            return [old]
        return [
            old,
            *(
                one.url
                for one in candidates()
                if one.url != old and (one.url not in self._others or (one.usb is not None and one.usb == self._usb))
            ),
        ]


def find_rigs(ports: Sequence[PortCandidate] | None = None, patience: float = PATIENCE) -> FindReport:
    """Query all ports at once; takes ``patience`` s if one stays silent. Closes all of them."""
    found = _ask_all(candidates() if ports is None else list(ports), patience)
    rigs, others = [], []
    for port, result in found:
        if isinstance(result, FrothlineError):
            board = other_board_at(port.url)
            named = f"the board is a {board}; " if board is not None else ""
            others.append(NoRig(port.url, port.what, result.code, f"{named}{result.what}"))
        else:
            line, answer = result
            line.close()
            rigs.append(_found(port, answer))
    return FindReport(tuple(rigs), tuple(others))


def find_one(ports: Sequence[PortCandidate] | None = None, patience: float = PATIENCE) -> tuple[Line, Handshake]:
    """Find the only rig and leave it open. Raises PortNotFound without a rig, InputError with several."""
    asked = candidates() if ports is None else list(ports)
    found = _ask_all(asked, patience)
    rigs = [(port, result) for port, result in found if not isinstance(result, FrothlineError)]
    if len(rigs) == 1:
        return rigs[0][1]
    for _, (line, _answer) in rigs:
        line.close()
    if rigs:
        names = ", ".join(f"{answer.identity} at {port.url}" for port, (_line, answer) in rigs)
        raise InputError(f"{len(rigs)} rigs answer: {names}", where="--port", remedy="Give one with --port")
    refusals = "; ".join(f"{port.url}: {result.what}" for port, result in found if isinstance(result, FrothlineError))
    raise PortNotFound(
        f"no rig answered ({refusals})" if asked else "no serial port on this computer",
        where="all ports",
        remedy="Connect the board (a charging cable has no data wires), or try `frothline demo`, which needs no board",
    )


def _ask_all(
    ports: Sequence[PortCandidate], patience: float
) -> list[tuple[PortCandidate, tuple[Line, Handshake] | FrothlineError]]:
    stop = threading.Event()

    def one(port: PortCandidate) -> tuple[Line, Handshake] | FrothlineError:
        try:
            line = open_port(port.url)
        except FrothlineError as error:
            return error
        try:
            return line, ask(line, patience, stop)
        except FrothlineError as error:
            line.close()
            return error

    if not ports:
        return []
    with ThreadPoolExecutor(min(MOST_AT_ONCE, len(ports)), thread_name_prefix="frothline-ask") as pool:
        try:
            return list(zip(ports, pool.map(one, ports), strict=True))
        except BaseException:
            stop.set()  # Ctrl-C: let the threads end
            raise


def _found(port: PortCandidate, answer: Handshake) -> FoundRig:
    row = answer.description
    return FoundRig(
        port.url,
        port.what,
        answer.label,
        answer.firmware,
        int(row["board_kind"]),
        int(row["rate"]),
        answer.waited,
        answer.identity.number,
    )
