"""Options of ``sources``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.numbers import minutes, quantity
from frothline.cli.options import add_units


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("kind", nargs="?", default="", help="kind of air source (default: all)")
    tank = sub.add_argument_group(
        "how long a compressor's tank lasts", "all options except --pump are required; gauge pressures (above ambient)"
    )
    tank.add_argument("--tank", type=quantity("volume"), metavar="VOLUME", help="the tank's volume: 60, 60 L, 16 gal")
    tank.add_argument(
        "--full",
        type=quantity("tank_pressure"),
        metavar="PRESSURE",
        help="pressure at the beginning, above ambient: 8, 8 bar, 116 psi",
    )
    tank.add_argument(
        "--down-to",
        type=quantity("tank_pressure"),
        metavar="PRESSURE",
        help="lowest usable pressure, above ambient: the regulator's setting plus about 2 bar (30 psi)",
    )
    tank.add_argument(
        "--draw",
        type=quantity("air_flow"),
        metavar="FLOW",
        help="flow drawn, standard air of 1.2 kg/m³: 3, 3 L/s, 6 cfm",
    )
    tank.add_argument(
        "--pump",
        type=quantity("air_flow"),
        default="0",
        metavar="FLOW",
        help="flow from the pump meanwhile, 0 or more (default: off)",
    )
    tank.add_argument(
        "--cut-in",
        type=quantity("tank_pressure"),
        metavar="PRESSURE",
        help="pressure at which the pump starts, above ambient; it stops when the tank is full (default: it runs)",
    )
    duty = sub.add_argument_group(
        "how long a pump with a duty cycle takes", "all three are required; 25 and 25 min are minutes"
    )
    duty.add_argument(
        "--run-time", type=minutes, metavar="TIME", help="time that the pump must run: 25, 25 min, 1500 s"
    )
    duty.add_argument("--on", type=minutes, metavar="TIME", help="longest run before it must rest: 10, 10 min")
    duty.add_argument("--rest", type=minutes, metavar="TIME", help="rest after it: 20, 20 min")
    add_units(sub)
