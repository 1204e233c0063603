"""Options of ``curve``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number
from frothline.cli.options import add_sensors, add_units

ABOUT = (
    "Finds the steady points of recorded sweeps of one air source and fits pressure against flow, as found\n"
    "and corrected to air of 1.2 kg/m³. Several recordings are tested for being of one and the same source. Exit\n"
    "code 1: they are not; 5: the points cannot carry a fit, and the message says what is missing."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="one or more recorded sweeps of one air source (.froth)")
    sub.add_argument(
        "--holes",
        nargs="+",
        type=number(above=0),
        default=[],
        metavar="MM",
        help="without an anemometer: the hole of the drilled plate at the end of the line, mm, one a recording; an "
        "anemometer that turned all the same is held against the plates",
    )
    sub.add_argument(
        "--motor",
        choices=("series", "constant speed"),
        default="series",
        help="how the source's speed is governed: a brushed motor without a governor, as in vacuums (series), or not",
    )
    sub.add_argument("--altitude", type=number(-500, 9000), metavar="M", help="its figures at this altitude, too")
    sub.add_argument(
        "--temperature", type=number(-60, 80), metavar="C", help="its figures in air of this temperature, too"
    )
    sub.add_argument(
        "--volts", nargs=2, type=number(), metavar=("THEN", "WANTED"), help="its figures at another supply voltage, too"
    )
    sub.add_argument("--points", action="store_true", help="list the steady points, and what was refused and why")
    add_sensors(sub)
    add_units(sub)
