"""Options of ``overview``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number, whole
from frothline.cli.options import add_sensors, add_units

ABOUT = (
    "Shows a recording over time: the lowest and the highest value of pressure, flow, mass and temperature in equal\n"
    "stretches of time, and the notes and alarms between them. The values are those of “Look at it” on the notebook\n"
    "page; they are calculated once and stored next to the recording. With --json every series is given."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", type=Path, help="a recording (.froth)")
    sub.add_argument(
        "--from",
        dest="begin",
        type=number(low=0.0, unit="s"),
        default=0.0,
        metavar="SECONDS",
        help="begin of the part to show, s from the begin of the recording (default: its begin)",
    )
    sub.add_argument(
        "--to",
        dest="end",
        type=number(low=0.0, unit="s"),
        metavar="SECONDS",
        help="end of the part to show, s (default: the end of the recording)",
    )
    sub.add_argument(
        "--stretches",
        type=whole(1, 100_000),
        default=20,
        metavar="N",
        help="number of stretches, which are the rows of the table (default: 20)",
    )
    add_sensors(sub)
    add_units(sub)
