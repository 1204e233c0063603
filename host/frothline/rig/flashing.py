"""Flashing of the firmware to a board: choice of port and image, and the call of avrdude.

avrdude (a Debian package, and one of every common editor for such boards) implements the bootloader's protocol. This
module chooses the port, checks the image, and explains avrdude's errors. The port is that of an answering rig, else the
only USB serial port.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from serial.tools import list_ports

from frothline.errors import (
    FrothlineError,
    InputError,
    PortBusy,
    PortError,
    PortLost,
    PortNotFound,
    PortSilent,
    WrongDevice,
)
from frothline.rig.finder import PortCandidate, find_rigs
from frothline.rig.handshake import Handshake, ask
from frothline.rig.known_boards import GOOD_BOARDS, OtherBoard, chip_in, is_uno, other_board, other_board_at
from frothline.rig.port import open_port
from frothline.wire import WIRE

TOOL = "avrdude"
CHIPS = ("atmega328p", "atmega328pb")
BAUDS = (115200, 57600)  # newer bootloaders, then those of older boards
ROOM = 32768 - 512  # bytes; the smallest bootloader of the common boards takes the rest
LONGEST = 180.0  # s; 10 kB take 5 s, ten vain attempts to wake a bootloader 30 s
ANSWER_PATIENCE = 5.0  # s for the board to start and say who it is
OTHER_CLOCKS = (1000000, 250000, 125000)  # Bd of this firmware on a chip whose clock is not 16 MHz
OTHER_CLOCK_PATIENCE = 1.0  # s for each
UF2 = b"UF2\n"  # first bytes of the format of boards with the RP2040 (its published specification)
MARK = b"differential\0"  # name of a channel in each firmware of this project
SHIPPED = "Leave out --image: the image of this package is then used"
_KEPT = 6  # lines of avrdude's words that an error quotes


@dataclass(frozen=True)
class Image:
    """A checked firmware image. ``size`` in bytes of flash; ``ours``: it is a firmware of this project."""

    path: Path
    size: int
    ours: bool = True


@dataclass(frozen=True)
class Flashing:
    """The plan: ``commands`` are tried in turn until one works; ``why`` explains the choice of the port."""

    port: str
    why: str
    image: Image
    commands: tuple[tuple[str, ...], ...]


def shipped_image() -> Path:
    """The image that belongs to this package."""
    return Path(str(files("frothline.rig.image").joinpath("frothline.hex")))


def read_image(path: Path) -> Image:
    """Check an Intel HEX file: every record's sum, its end, and that it leaves the bootloader alone.

    Raises InputError with the line. Source of the format: Intel, Hexadecimal Object File Format Specification, revision
    A (1988).
    """
    try:
        if path.read_bytes()[:4] == UF2:
            raise InputError("this is a UF2 image, for a board with another chip", where=str(path), remedy=SHIPPED)
        lines = path.read_text("ascii").split()
    except (OSError, UnicodeDecodeError) as trouble:
        raise InputError(f"the image cannot be read ({trouble})", where=str(path)) from trouble
    size, top, ended, content = 0, 0, False, bytearray()
    for number, line in enumerate(lines, 1):
        where = f"{path}:{number}"
        try:
            record = bytes.fromhex(line.removeprefix(":"))
        except ValueError:
            record = b""
        if not line.startswith(":") or len(record) < 5 or len(record) != record[0] + 5 or sum(record) & 0xFF:
            raise InputError(
                "this is not a complete Intel HEX record", where=where, remedy="Download or build the image again"
            )
        if record[3] == 0:
            size += record[0]
            content += record[4:-1]
            top = max(top, int.from_bytes(record[1:3], "big") + record[0])
        ended |= record[3] == 1
    if not ended or not size:
        raise InputError("the image has no end", where=str(path), remedy="Download or build the image again")
    if top > ROOM:
        raise InputError(
            f"the image reaches up to byte {top}, where the bootloader is",
            where=str(path),
            remedy=f"The limit is {ROOM}",
        )
    return Image(path, size, MARK in content)


def plan(
    port: str | None = None, *, image: Path | None = None, chip: str = CHIPS[0], baud: int | None = None
) -> Flashing:
    """Choose port, image and commands; opens only the ports, to search for rigs.

    Raises InputError (a bad image, several boards, avrdude missing) or PortNotFound.
    """
    looked = read_image(image or shipped_image())
    if not looked.ours:
        raise InputError("this image is not a firmware of Frothline", where=str(looked.path), remedy=SHIPPED)
    tool = shutil.which(TOOL)
    if tool is None:
        raise InputError(
            f"{TOOL} is not installed; it is required to write the board's memory",
            where=TOOL,
            remedy="Debian: sudo apt-get install avrdude. macOS: brew install avrdude. Windows: put avrdude.exe on the"
            " PATH. Or upload the image with the Arduino IDE, as in the guide",
        )
    chosen, why = (port, "as given") if port else choose_port()
    if port and (wrong := other_board_at(port)) is not None:
        raise _other_board(port, wrong)
    if "://" in chosen:
        raise InputError(
            "only a board on a serial port can be flashed", where=chosen, remedy="Give a device, /dev/ttyUSB0 or COM5"
        )
    bauds = (baud,) if baud else BAUDS
    commands = tuple(
        (tool, "-q", "-c", "arduino", "-p", chip, "-P", chosen, "-b", str(rate), "-D", "-U", _operation(looked.path))
        for rate in bauds
    )
    return Flashing(chosen, why, looked, commands)


def _operation(path: Path) -> str:
    return f"flash:w:{path}:i"


def choose_port(ports: Sequence[Any] | None = None) -> tuple[str, str]:
    """The port to flash and why; ``ports`` as pyserial lists them. Raises PortNotFound or InputError."""
    every = list_ports.comports() if ports is None else ports
    boards = sorted((one for one in every if one.vid is not None), key=lambda one: str(one.device))
    if not boards:
        others = ", ".join(str(one.device) for one in every)
        raise PortNotFound(
            "no board is on USB" + (f" (there are {others}, which are not USB)" if others else ""),
            where="all ports",
            remedy="Connect the board; a charging cable has no data wires. If you know the port, give --port",
        )
    wrong = {str(one.device): found for one in boards if (found := other_board(one.vid, one.pid)) is not None}
    right = [one for one in boards if str(one.device) not in wrong]
    if not right:
        raise _other_board(*next(iter(wrong.items())))
    if len(right) == 1:
        left_out = "".join(f"; {device} is a {found}" for device, found in wrong.items())
        kind = "the only Uno R3" if is_uno(right[0].vid, right[0].pid) else "the only USB serial port"
        return str(right[0].device), f"{kind}{left_out}"
    boards = right
    rigs = find_rigs([PortCandidate(str(one.device), str(one.description or "")) for one in boards]).rigs
    if len(rigs) == 1:
        return rigs[0].url, f"the rig {rigs[0].label!r} answers there"
    names = ", ".join(f"{one.device} ({one.description or 'no name'})" for one in boards)
    raise InputError(
        f"{len(boards)} USB serial ports found, and {'none' if not rigs else len(rigs)} answers as a rig: {names}",
        where="--port",
        remedy="Give one with --port; unplug the board to see which port disappears",
    )


def _other_board(device: str, board: OtherBoard) -> InputError:
    return InputError(
        f"the board at {device} is a {board}; flash writes the ATmega328P only",
        where=device,
        remedy=f"{board.how or f'Use {GOOD_BOARDS}'}. Nothing was written",
    )


def write(flashing: Flashing) -> bool:
    """Let avrdude write and verify; returns whether the board answered at the speed of old bootloaders, with which the
    firmware leaves the watchdog off. Raises PortSilent, PortBusy, PortNotFound, PortLost, PortError.
    """
    trouble: FrothlineError | None = None
    for command in flashing.commands:
        try:
            done = subprocess.run(
                command,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                errors="replace",
                timeout=LONGEST,
                check=False,
            )
        except subprocess.TimeoutExpired as late:
            raise PortSilent(
                f"{TOOL} did not finish within {LONGEST:g} s",
                where=flashing.port,
                remedy="Unplug the board, plug it in and try again; its bootloader is unchanged",
            ) from late
        if done.returncode == 0:
            return str(BAUDS[1]) in command
        trouble = explain(done.stdout, flashing.port)
        if not isinstance(trouble, PortSilent):
            break
    assert trouble is not None, "a plan has at least one command"
    raise trouble


# What avrdude says, and what it means; the first that is found counts.
_MEANINGS: tuple[tuple[tuple[str, ...], type[PortError], str, str], ...] = (
    (
        ("permission denied", "access is denied"),
        PortError,
        "this user may not open the port",
        'Join the group that owns it ("sudo usermod -aG dialout $USER" on Debian), then log in again',
    ),
    (
        ("device or resource busy", "resource temporarily unavailable"),
        PortBusy,
        "the port is in use by another program",
        (
            "Close it: a serial monitor, another Frothline, or a service that looks for modems (ModemManager), "
            "which lets go after half a minute"
        ),
    ),
    (
        ("no such file", "cannot find the file", "can't open device", "cannot open port"),
        PortNotFound,
        "this port does not exist",
        "Connect the board; `frothline find` lists the ports",
    ),
    (
        ("signature", "expected signature"),
        PortError,
        "the image is for another chip",
        "For a 328PB give --chip atmega328pb; other chips are not supported",
    ),
    (
        ("verification error", "verification mismatch", "content mismatch"),
        PortError,
        "the memory read back differs from the image",
        "Try again with a shorter USB cable; disconnect everything else from the board",
    ),
    (
        ("not in sync", "not responding", "timeout", "timed out"),
        PortSilent,
        "the bootloader does not answer",
        (
            "Press the board's reset button when the command starts, take the wires off D0 and D1, and check the port. "
            "A board that is new or had its chip replaced may have no bootloader: it needs a programmer once"
        ),
    ),
    (("ser_send", "input/output error", "disconnected"), PortLost, "the port was lost", "Check the USB cable"),
)


def explain(words: str, port: str) -> FrothlineError:
    """Convert avrdude's output to an error with a remedy; its last lines are quoted."""
    low = words.lower()
    said = [line.strip() for line in words.splitlines() if line.strip() and "Thank you" not in line]
    tail = " | ".join(dict.fromkeys(said[-_KEPT:]))
    if chip := chip_in(words):
        also = "Run it again with --chip atmega328pb" if chip == "ATmega328PB" else f"Use {GOOD_BOARDS}"
        what = f"the board's chip is an {chip}, not an ATmega328P ({TOOL}: {tail})"
        return PortError(what, where=port, remedy=f"{also}. Nothing was written")
    for signs, kind, what, remedy in _MEANINGS:
        if any(sign in low for sign in signs):
            return kind(f"{what} ({TOOL}: {tail})", where=port, remedy=remedy)
    return PortError(f"{TOOL} failed: {tail or 'no message'}", where=port, remedy="Unplug the board and try again")


NO_ANSWER = (
    "Press the reset button, then run `frothline find`. If nothing answers: take the wires off D0 and D1, read the "
    "marking of the chip (it must be an ATmega328P with a 16 MHz clock), and flash again"
)


def ask_who(port: str, patience: float = ANSWER_PATIENCE) -> Handshake:
    """The freshly flashed board's own introduction; the errors of ``ask``.

    A board that is silent at the rig's speed is listened to at those of other clocks: a copy of the chip has its
    signature, and another clock. Raises WrongDevice with the clock then.
    """
    line = open_port(port)
    try:
        return ask(line, patience)
    except (PortSilent, WrongDevice) as silent:
        line.close()
        for baud in OTHER_CLOCKS:
            line = open_port(port, baud)
            try:
                ask(line, OTHER_CLOCK_PATIENCE)
            except (PortSilent, WrongDevice):
                continue
            finally:
                line.close()
            raise WrongDevice(
                f"the firmware is written, but the chip's clock is {16 * baud / WIRE.baud:g} MHz instead of 16 MHz",
                where=port,
                remedy=f"Read the marking of the chip: a copy (LGT8F328P) has the same signature. Use {GOOD_BOARDS}",
            ) from silent
        silent.remedy = f"The image is written and verified. {NO_ANSWER}"
        raise
    finally:
        line.close()
