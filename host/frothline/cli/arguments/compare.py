"""Options of ``compare``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number, quantity
from frothline.cli.options import add_holes, add_sensors, add_units

ABOUT = (
    "Fits a curve to a sweep of each air source and compares them. With a generator's resistance it shows\nwhich of "
    "them can drive it. Exit code 1: none of them has a pressure margin."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="recorded sweeps, one per air source, or points (.csv)")
    add_holes(sub)
    generator = sub.add_mutually_exclusive_group()
    generator.add_argument("--through", type=Path, metavar="FILE", help="a sweep recorded through the generator")
    generator.add_argument(
        "--resistance",
        nargs=2,
        type=number(low=0),
        metavar=("A", "B"),
        help="the generator's line p = A q + B q², Pa s/m³ and Pa s²/m⁶, flow of standard air, 1.2 kg/m³",
    )
    sub.add_argument(
        "--wanted",
        type=quantity("air_flow", low=0.0),
        default="0",
        metavar="FLOW",
        help="required flow: 12, 12 L/s, 25 cfm",
    )
    add_sensors(sub)
    add_units(sub)
