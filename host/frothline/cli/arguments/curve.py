"""Options of ``curve``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number
from frothline.cli.options import add_sensors, add_units

ABOUT = (
    "Finds the steady points in recorded sweeps of an air source and fits pressure against flow, as measured\nand "
    "corrected to standard air, 1.2 kg/m³. Several recordings are tested for the same source. Exit\ncode 1: "
    "different sources; 5: not enough points for a fit; the message lists what is missing."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "recording", nargs="+", type=Path, help="one or more recorded sweeps of the same air source (.froth)"
    )
    sub.add_argument(
        "--holes",
        nargs="+",
        type=number(above=0),
        default=[],
        metavar="MM",
        help="without an anemometer: hole diameter of the drilled plate at the end of the line, mm, one per "
        "recording; a working anemometer is compared with the plates",
    )
    sub.add_argument(
        "--motor",
        choices=("series", "constant speed"),
        default="series",
        help="motor type: series (brushed motor without speed control, as in vacuums) or constant speed",
    )
    sub.add_argument("--altitude", type=number(-500, 9000), metavar="M", help="also report at this altitude")
    sub.add_argument("--temperature", type=number(-60, 80), metavar="C", help="also report at this air temperature")
    sub.add_argument(
        "--volts", nargs=2, type=number(), metavar=("THEN", "WANTED"), help="also report at another supply voltage"
    )
    sub.add_argument(
        "--points", action="store_true", help="list the steady points and the refused stretches with their reasons"
    )
    add_sensors(sub)
    add_units(sub)
