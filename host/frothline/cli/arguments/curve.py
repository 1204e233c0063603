"""Options of ``curve``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import motor, number, quantity
from frothline.cli.options import add_holes, add_now, add_sensors, add_units
from frothline.curve.source_entries import ALTITUDES, MOTORS
from frothline.units import ZERO_CELSIUS

ABOUT = (
    "Finds the steady points in recorded sweeps of an air source and fits pressure against flow, as measured\nand "
    "corrected to standard air, 1.2 kg/m³. Several recordings are tested for the same source. Exit\ncode 1: "
    "different sources; 5: not enough points for a fit; the message lists what is missing."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "recording",
        nargs="*",
        type=Path,
        help="one or more recorded sweeps of the same air source (.froth), or tables of points (.csv)",
    )
    sub.add_argument(
        "--points",
        nargs="+",
        type=Path,
        default=[],
        metavar="FILE",
        help="points entered by hand (.csv): holes of drilled plates with the pressure or U-tube, or a maker's table "
        "of orifice, suction and flow; the header has units, like hole (mm); U-tube (mm)",
    )
    add_holes(sub)
    sub.add_argument(
        "--motor",
        type=motor,
        choices=MOTORS,
        default="series",
        help="motor type: series (brushed motor without speed control, as in vacuums) or constant speed",
    )
    sub.add_argument(
        "--altitude",
        type=quantity("altitude", *ALTITUDES),
        metavar="HEIGHT",
        help="also report at this altitude: 500, 500 m, 1600 ft",
    )
    sub.add_argument(
        "--temperature",
        type=quantity("temperature", ZERO_CELSIUS - 60, ZERO_CELSIUS + 80),
        metavar="TEMP",
        help="also report at this air temperature: 30, 30 °C, 86 °F",
    )
    sub.add_argument(
        "--volts", nargs=2, type=number(), metavar=("THEN", "WANTED"), help="also report at another supply voltage"
    )
    add_now(sub)
    sub.add_argument(
        "--list-points",
        action="store_true",
        help="list the steady points and the refused stretches with their reasons",
    )
    add_sensors(sub)
    add_units(sub)
