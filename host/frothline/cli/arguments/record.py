"""Options of ``record``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number
from frothline.cli.options import add_port, add_units

GIVE_UP_AFTER = 30.0  # s that a recording waits for a lost port, unless --wait gives another time


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("name", nargs="?", default="", help="name of the recording (by date and time if not given)")
    add_port(sub)
    sub.add_argument(
        "--folder", type=Path, metavar="DIR", help="folder for recordings (FROTHLINE_FOLDER, else ~/Frothline)"
    )
    sub.add_argument(
        "--seconds", type=number(above=0), metavar="S", help="stop after S seconds (default: until Ctrl-C)"
    )
    sub.add_argument("--note", default="", help="note to save with the recording")
    sub.add_argument("--sweep", action="store_true", help="guide a sweep of the air source, and stop when it is done")
    sub.add_argument(
        "--through",
        choices=("dry", "wet"),
        default="",
        help="guide a sweep through a generator instead, with a bleed before the spool; press the rig's button to "
        "confirm",
    )
    sub.add_argument("--build", type=Path, metavar="SHEET", help="with --through: build sheet of that generator (TOML)")
    sub.add_argument(
        "--wait",
        type=number(low=0),
        default=GIVE_UP_AFTER,
        metavar="S",
        help="seconds to wait for a lost port (30)",
    )
    add_units(sub)
