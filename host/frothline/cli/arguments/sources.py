"""Options of ``sources``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import number
from frothline.cli.options import add_units


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("kind", nargs="?", default="", help="kind of air source (default: all)")
    tank = sub.add_argument_group(
        "how long a compressor's tank lasts", "all options except --pump are required; gauge pressures"
    )
    tank.add_argument("--tank", type=number(), metavar="VOLUME", help="the tank's volume, L (gal)")
    tank.add_argument("--full", type=number(), metavar="PRESSURE", help="pressure at the beginning, bar (psi)")
    tank.add_argument(
        "--down-to",
        type=number(),
        metavar="PRESSURE",
        help="lowest usable pressure, bar (psi): the regulator's setting plus about 2 bar",
    )
    tank.add_argument("--draw", type=number(), metavar="FLOW", help="flow drawn, standard air of 1.2 kg/m³, L/s (cfm)")
    tank.add_argument(
        "--pump",
        type=number(),
        default=0.0,
        metavar="FLOW",
        help="flow from the pump meanwhile, L/s (cfm), 0 or more (default: off)",
    )
    add_units(sub)
