"""Options of ``trials``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_folder, add_sensors, add_units

ABOUT = (
    "Summarises every run of a folder with its build sheet and its samples. Exit code 1: a sheet or sample\ncannot "
    "be read; the rest is shown."
)


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument("--trial", metavar="NAME", help="all figures of a trial")
    sub.add_argument("--compare", nargs=2, metavar=("BEFORE", "AFTER"), help="what changed from one trial to another")
    sub.add_argument(
        "--drawing", type=Path, metavar="FILE", help="with --compare: the later build, changes marked (SVG)"
    )
    add_sensors(sub)
    add_units(sub)
