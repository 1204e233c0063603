"""Options of ``effects``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.options import add_folder, add_sensors, add_units

ABOUT = (
    "Effects of every change between the trials, by least squares. Changes that cannot be separated are "
    "listed\nfirst. Exit code 5: too few trials."
)


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument(
        "--response",
        default="density",
        help="figure to analyse: density (default), drainage, output, expansion, capture, line_pressure, air_rate "
        "or solution_use",
    )
    sub.add_argument("--trials", nargs="+", metavar="NAME", help="only these trials")
    sub.add_argument(
        "--builds", nargs=2, metavar=("A", "B"), help="compare the repeats of two builds by name (Welch's test)"
    )
    add_units(sub)
    add_sensors(sub)
