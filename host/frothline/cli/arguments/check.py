"""Options of ``check``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number
from frothline.cli.options import add_port

ABOUT = (
    "Walks through the rig: each sensor at rest, then the tap, the rotor, the button and the scale, which need a"
    " breath,\na press and a weight. What to do is said on standard error, the card goes to standard output."
    "\nExit code 0: all well; 1: something wants looking at; 3: no rig."
)


def add_options(sub: ArgumentParser) -> None:
    add_port(sub)
    sub.add_argument(
        "--folder",
        type=Path,
        metavar="DIR",
        help="folder of recordings whose calibration is used (FROTHLINE_FOLDER, else ~/Frothline)",
    )
    sub.add_argument(
        "--level", type=int, choices=(1, 2, 3), default=2, help="how far the rig is built, as in the parts list (2)"
    )
    sub.add_argument("--at-rest", action="store_true", help="leave out all that needs a person beside the rig")
    sub.add_argument(
        "--patience",
        type=number(above=0, high=600),
        default=30.0,
        metavar="S",
        help="seconds for each thing done by hand (30)",
    )
