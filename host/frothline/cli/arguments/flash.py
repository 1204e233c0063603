"""Options of ``flash``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import whole

ABOUT = (
    "Writes this package's firmware to a board with an ATmega328P, through its bootloader, with\navrdude (Debian: "
    "apt-get install avrdude). It overwrites the program on the board and does not change its settings.\nFirst "
    "disconnect everything that must not move or heat while the pins float, and power the board from USB only."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--port", metavar="DEVICE", help="the board's port (/dev/ttyUSB0, COM5); without it the USB board is found"
    )
    sub.add_argument("--dry-run", action="store_true", help="print port, image and command; write nothing")
    sub.add_argument(
        "--image", type=Path, metavar="FILE", help="image to write (Intel HEX; default: the one in this package)"
    )
    sub.add_argument("--chip", choices=("atmega328p", "atmega328pb"), default="atmega328p", help="(atmega328p)")
    sub.add_argument(
        "--baud", type=whole(300, 4_000_000), metavar="BD", help="speed of the bootloader (115200, then 57600 is tried)"
    )
