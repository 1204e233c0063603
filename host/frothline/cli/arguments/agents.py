"""Options of ``agents``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.options import add_folder, add_sensors, add_units

ABOUT = (
    "Lists the foaming agents in the folder “agents” of a folder of recordings, with the surface tension of their\n"
    "solution by the weight of drops. --compare compares the agents of the trials on a figure, with the day (or the\n"
    "batch of solution) as the block. Exit code 1: an entry cannot be used; 5: too few trials to compare."
)


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument("--agent", metavar="NAME", help="all that is written of an agent")
    sub.add_argument("--new", metavar="NAME", help="write a file for a new agent")
    sub.add_argument(
        "--compare", metavar="FIGURE", help="compare the agents on density, drainage, output or another figure"
    )
    sub.add_argument("--block", default="day", choices=("day", "batch"), help="with --compare: the block (day)")
    sub.add_argument("--trials", nargs="+", metavar="NAME", help="with --compare: only these trials")
    add_sensors(sub)
    add_units(sub)
