"""Options of ``find``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import number

ABOUT = (
    "Looks for a rig on every serial port. Opening a port resets many boards, and each port receives a few "
    "bytes.\nDo not run it while another serial device must not be disturbed."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--patience", type=number(above=0, high=600), default=5.0, metavar="S", help="seconds to wait for answers (5)"
    )
