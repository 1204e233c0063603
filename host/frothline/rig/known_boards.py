"""Names of boards and chips that a port or a bootloader reports, to tell a builder which board is on the table.

USB numbers: boards.txt of the makers' packages for the Arduino IDE (AVR 1.8, megaAVR, Renesas), read in copies; the
vendor numbers of RP2040 and ESP32 from memory. A bridge chip is on boards of many kinds, so its number names no board.
Signatures: data sheets of the chips, as avrdude's table of parts has them (from memory).
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from serial.tools import list_ports

GOOD_BOARDS = "an Uno R3 or a Nano with the ATmega328P"
ARDUINO = (0x2341, 0x2A03)
_UNO_R3 = (0x0043, 0x0001, 0x0243)
_OTHERS = {  # product numbers of ARDUINO: (board, chip)
    (0x0010, 0x0042, 0x0210, 0x0242, 0x003F, 0x0044): ("Mega 2560", "ATmega2560"),
    (0x0036, 0x8036): ("Leonardo", "ATmega32U4"),
    (0x0037, 0x8037, 0x0237, 0x8237): ("Micro", "ATmega32U4"),
    (0x003D, 0x003E): ("Due", "SAM3X"),
    (0x0058,): ("Nano Every", "ATmega4809"),
    (0x0069, 0x0369): ("Uno R4 Minima", "RA4M1"),
    (0x1002, 0x006D): ("Uno R4 WiFi", "RA4M1"),
    (0x0074, 0x0374): ("Nano R4", "RA4M1"),
}
_BY_NUMBER = {(vid, pid): named for vid in ARDUINO for pids, named in _OTHERS.items() for pid in pids}
_BY_NUMBER |= {(0x03EB, 0x2145): ("Uno WiFi Rev2", "ATmega4809")}
RP2040_PAGE = "firmware/boards/rp2040/README.md"
_BY_VENDOR = {
    0x2E8A: ("Pico or another board", "RP2040 or RP2350", f"The RP2040 has an image of its own: {RP2040_PAGE}"),
    0x303A: ("board", "ESP32"),
}

SIGNATURES = {
    "1e950f": "ATmega328P",
    "1e9516": "ATmega328PB",
    "1e9514": "ATmega328",
    "1e9406": "ATmega168",
    "1e940b": "ATmega168P",
    "1e9307": "ATmega8",
    "1e9801": "ATmega2560",
    "1e9587": "ATmega32U4",
    "1e9651": "ATmega4809",
    "1e9705": "ATmega1284P",
}


@dataclass(frozen=True)
class OtherBoard:
    """A board that ``flash`` cannot write. ``how``: where its own firmware is described, if it has one."""

    board: str
    chip: str
    how: str = ""

    def __str__(self) -> str:
        return f"{self.board} with the chip {self.chip}"


def other_board(vid: int | None, pid: int | None) -> OtherBoard | None:
    """The board with this USB number, if it is known and not one for this firmware."""
    named: tuple[str, ...] | None = _BY_NUMBER.get((vid or 0, pid or 0)) or _BY_VENDOR.get(vid or 0)
    return None if named is None else OtherBoard(*named)


def is_uno(vid: int | None, pid: int | None) -> bool:
    """Whether the USB number is that of an Uno R3."""
    return vid in ARDUINO and pid in _UNO_R3


def other_board_at(device: str, ports: Iterable[Any] | None = None) -> OtherBoard | None:
    """The board at a port of this computer, as ``other_board``; ``ports`` as pyserial lists them."""
    every = list_ports.comports() if ports is None else ports
    wanted = os.path.realpath(device)  # a link in /dev/serial/by-id, too
    return next((other_board(one.vid, one.pid) for one in every if os.path.realpath(str(one.device)) == wanted), None)


def chip_in(words: str) -> str:
    """The chip whose signature avrdude printed; empty without one other than the ATmega328P's."""
    plain = words.lower().replace(" ", "").replace("0x", "")
    for line in plain.splitlines():
        if "signature=" not in line:
            continue
        number = line.split("signature=", 1)[1][:6]
        if number in SIGNATURES:
            return SIGNATURES[number] if number != "1e950f" else ""
        return f"unknown chip, signature {number}"
    return ""
