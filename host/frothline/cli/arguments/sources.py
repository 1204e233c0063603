"""Options of ``sources``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import number
from frothline.cli.options import add_units


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("kind", nargs="?", default="", help="one kind of air source; all of them if left out")
    tank = sub.add_argument_group(
        "how long a compressor's tank lasts", "all but --pump are needed; pressures as the tank's gauge shows them"
    )
    tank.add_argument("--tank", type=number(), metavar="VOLUME", help="the tank's volume, L (gal)")
    tank.add_argument("--full", type=number(), metavar="PRESSURE", help="its pressure at the beginning, bar (psi)")
    tank.add_argument(
        "--down-to",
        type=number(),
        metavar="PRESSURE",
        help="the lowest that will do, bar (psi): the regulator's setting and what it needs above that, some 2 bar",
    )
    tank.add_argument("--draw", type=number(), metavar="FLOW", help="what is drawn, as air at 1.2 kg/m³, L/s (cfm)")
    tank.add_argument(
        "--pump",
        type=number(),
        default=0.0,
        metavar="FLOW",
        help="what its pump delivers meanwhile, L/s (cfm); else off",
    )
    add_units(sub)
