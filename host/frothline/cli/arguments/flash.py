"""Options of ``flash``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import whole

ABOUT = (
    "Writes the firmware that belongs to this package to a board with an ATmega328P, through its bootloader, with"
    "\navrdude (Debian: apt-get install avrdude). It overwrites the program on the board; its settings stay."
    "\nFirst take off the board what must not move or heat while its pins float, and let USB alone power it."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--port", metavar="DEVICE", help="the board's port (/dev/ttyUSB0, COM5); without it the USB board is found"
    )
    sub.add_argument("--dry-run", action="store_true", help="find port and image, print the command, write nothing")
    sub.add_argument("--image", type=Path, metavar="FILE", help="another image (Intel HEX) than the one shipped here")
    sub.add_argument("--chip", choices=("atmega328p", "atmega328pb"), default="atmega328p", help="(atmega328p)")
    sub.add_argument(
        "--baud", type=whole(300, 4_000_000), metavar="BD", help="speed of the bootloader (115200, then 57600 is tried)"
    )
