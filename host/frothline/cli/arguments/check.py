"""Options of ``check``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number
from frothline.cli.options import add_port

ABOUT = (
    "Tests each sensor at rest, then the tap, the rotor, the button and the scale, which need a breath,\na press "
    "and a weight. Instructions go to standard error, the card goes to standard output.\nExit code 0: all checks "
    "passed; 1: a check failed; 3: no rig."
)


def add_options(sub: ArgumentParser) -> None:
    add_port(sub)
    sub.add_argument(
        "--folder",
        type=Path,
        metavar="DIR",
        help="folder of recordings whose calibration is used (FROTHLINE_FOLDER, else ~/Frothline)",
    )
    sub.add_argument("--level", type=int, choices=(1, 2, 3), default=2, help="level of the rig in the parts list (2)")
    sub.add_argument("--at-rest", action="store_true", help="skip the checks that need a person at the rig")
    sub.add_argument(
        "--patience",
        type=number(above=0, high=600),
        default=30.0,
        metavar="S",
        help="seconds for each check done by hand, 1 to 600 (30)",
    )
