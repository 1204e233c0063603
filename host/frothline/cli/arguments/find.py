"""Options of ``find``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import number

ABOUT = (
    "Asks every serial port whether a rig is there. Opening a port resets many boards, and a few bytes are sent to"
    " each;\ndo not run it while another device on a serial port is doing something that must not be disturbed."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--patience", type=number(above=0, high=600), default=5.0, metavar="S", help="seconds to wait for answers (5)"
    )
