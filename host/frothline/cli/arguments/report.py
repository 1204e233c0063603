"""Options of ``report``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_holes, add_sensors, add_units

ABOUT = (
    "Writes one HTML file with charts, figures with intervals, uncertainty budgets, and the hashes of "
    "the\nrecordings. It opens offline and prints on A4. --json gives the same figures. `frothline batch --report` "
    "writes\na report of a batch."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "what",
        nargs="+",
        type=Path,
        help="recorded sweeps of an air source, a recorded run, or a folder of trials",
    )
    sub.add_argument("-o", "--output", type=Path, metavar="FILE", help="report file (default: next to its data)")
    sub.add_argument("--overwrite", action="store_true", help="overwrite an existing file")
    sub.add_argument("--trials", nargs="+", metavar="NAME", help="only these trials of the folder")
    add_holes(sub)
    add_sensors(sub)
    add_units(sub)
