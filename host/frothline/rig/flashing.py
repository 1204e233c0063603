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

from frothline.errors import FrothlineError, InputError, PortBusy, PortError, PortLost, PortNotFound, PortSilent
from frothline.rig.finder import PortCandidate, find_rigs
from frothline.rig.handshake import Handshake, ask
from frothline.rig.port import open_port

TOOL = "avrdude"
CHIPS = ("atmega328p", "atmega328pb")
BAUDS = (115200, 57600)  # newer bootloaders, then those of older boards
ROOM = 32768 - 512  # bytes; the smallest bootloader of the common boards takes the rest
LONGEST = 180.0  # s; 10 kB take 5 s, ten vain attempts to wake a bootloader 30 s
ANSWER_PATIENCE = 6.0  # s for the board to start and say who it is
_KEPT = 6  # lines of avrdude's words that an error quotes


@dataclass(frozen=True)
class Image:
    """A checked firmware image. ``size`` in bytes of flash."""

    path: Path
    size: int


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
        lines = path.read_text("ascii").split()
    except (OSError, UnicodeDecodeError) as trouble:
        raise InputError(f"the image cannot be read ({trouble})", where=str(path)) from trouble
    size, top, ended = 0, 0, False
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
    return Image(path, size)


def plan(
    port: str | None = None, *, image: Path | None = None, chip: str = CHIPS[0], baud: int | None = None
) -> Flashing:
    """Choose port, image and commands; opens only the ports, to search for rigs.

    Raises InputError (a bad image, several boards, avrdude missing) or PortNotFound.
    """
    looked = read_image(image or shipped_image())
    tool = shutil.which(TOOL)
    if tool is None:
        raise InputError(
            f"{TOOL} is not installed; it is required to write the board's memory",
            where=TOOL,
            remedy="Debian: sudo apt-get install avrdude. macOS: brew install avrdude. Windows: put avrdude.exe on the"
            " PATH. Or upload the image with the Arduino IDE, as in the guide",
        )
    chosen, why = (port, "as given") if port else choose_port()
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
    if len(boards) == 1:
        return str(boards[0].device), "the only USB serial port"
    rigs = find_rigs([PortCandidate(str(one.device), str(one.description or "")) for one in boards]).rigs
    if len(rigs) == 1:
        return rigs[0].url, f"the rig {rigs[0].label!r} answers there"
    names = ", ".join(f"{one.device} ({one.description or 'no name'})" for one in boards)
    raise InputError(
        f"{len(boards)} USB serial ports found, and {'none' if not rigs else len(rigs)} answers as a rig: {names}",
        where="--port",
        remedy="Give one with --port; unplug the board to see which port disappears",
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
        "Close that program, such as a serial monitor or another Frothline",
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
        "Press the board's reset button when the command starts, disconnect D0 and D1, and check the port",
    ),
    (("ser_send", "input/output error", "disconnected"), PortLost, "the port was lost", "Check the USB cable"),
)


def explain(words: str, port: str) -> FrothlineError:
    """Convert avrdude's output to an error with a remedy; its last lines are quoted."""
    low = words.lower()
    said = [line.strip() for line in words.splitlines() if line.strip() and "Thank you" not in line]
    tail = " | ".join(dict.fromkeys(said[-_KEPT:]))
    for signs, kind, what, remedy in _MEANINGS:
        if any(sign in low for sign in signs):
            return kind(f"{what} ({TOOL}: {tail})", where=port, remedy=remedy)
    return PortError(f"{TOOL} failed: {tail or 'no message'}", where=port, remedy="Unplug the board and try again")


def ask_who(port: str, patience: float = ANSWER_PATIENCE) -> Handshake:
    """The freshly flashed board's own introduction; the errors of ``ask``."""
    line = open_port(port)
    try:
        return ask(line, patience)
    finally:
        line.close()
