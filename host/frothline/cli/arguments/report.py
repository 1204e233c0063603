"""Options of ``report``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_sensors, add_units

ABOUT = (
    "Writes one HTML file with charts, figures and their intervals, budgets, and the hashes of the recordings\n"
    "behind it. It opens offline and prints on A4. --json gives the same figures. `frothline batch --report` does\n"
    "the same for a batch."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "what",
        nargs="+",
        type=Path,
        help="recorded sweeps of one air source, or one recorded run, or a folder of trials",
    )
    sub.add_argument("-o", "--output", type=Path, metavar="FILE", help="where to (beside what it is of, if not given)")
    sub.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    sub.add_argument("--trials", nargs="+", metavar="NAME", help="of a folder: only these trials")
    add_sensors(sub)
    add_units(sub)
