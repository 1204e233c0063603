"""Options of ``sample``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import quantity
from frothline.cli.options import add_units

ABOUT = "Foam density, expansion, output and drainage time from two weighings, a clock and a measuring glass."


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("--container", required=True, metavar="VOLUME", help="volume of the container to its rim (2 L)")
    sub.add_argument("--empty", required=True, metavar="MASS", help="mass of the empty container (184 g)")
    sub.add_argument("--full", required=True, metavar="MASS", help="mass of the container full of foam (331 g)")
    sub.add_argument("--fill-time", metavar="TIME", help="fill time (8.1 s)")
    sub.add_argument(
        "--depth", metavar="LENGTH", help="depth of foam in the container (190 mm); drainage depends on it"
    )
    sub.add_argument(
        "--drained", nargs="+", metavar="TIME=VOLUME", help="liquid under the foam, by the clock (60s=4mL 120s=9mL)"
    )
    sub.add_argument(
        "--air",
        type=quantity("air_flow", above=0.0),
        metavar="FLOW",
        help="free air flow, for the share of air retained (10, 10 L/s, 21 cfm)",
    )
    sub.add_argument(
        "--u-air",
        type=quantity("air_flow", low=0.0),
        default="0",
        metavar="FLOW",
        help="standard uncertainty of the free air flow (0)",
    )
    sub.add_argument(
        "--wanted",
        nargs=2,
        type=quantity("density", above=0.0),
        metavar=("FROM", "TO"),
        help="target foam density (default: 40 to 80 kg/m³)",
    )
    sub.add_argument("--toml", action="store_true", help="print only the lines for the recording's TOML file")
    add_units(sub)
