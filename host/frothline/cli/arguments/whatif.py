"""Options of ``whatif``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_holes, add_now, add_sensors, add_units

ABOUT = (
    "Operating point of a generator on an air source, now and after a change, with 95 % intervals. With\n--wanted: "
    "the stock size that gives a target value, as in --wanted pressure=9 --by tube.hole"
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("sheet", type=Path, help="build sheet of the generator as it is (TOML)")
    sub.add_argument(
        "--sweep",
        nargs="+",
        type=Path,
        required=True,
        metavar="FILE",
        help="recorded sweeps of the air source, or points (.csv)",
    )
    add_holes(sub, of="--sweep")
    add_now(sub)
    sub.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="ENTRY=VALUE",
        help='change an entry of the sheet, like --set "outlet.bore=50x3.7"; repeatable',
    )
    sub.add_argument(
        "--alone",
        action="store_true",
        help="change only these entries: wool does not follow the packing's length, holes under liquid do not "
        "follow the rows",
    )
    sub.add_argument(
        "--other", nargs="+", type=Path, metavar="FILE", help="recorded sweeps of another air source, or points"
    )
    add_holes(sub, "--other-holes", "--other")
    sub.add_argument("--wet", nargs="+", type=Path, metavar="FILE", help="recorded wet sweeps through this generator")
    sub.add_argument("--dry-sweep", nargs="+", type=Path, metavar="FILE", help="recorded dry sweeps through it")
    sub.add_argument(
        "--folder",
        type=Path,
        metavar="DIR",
        help="folder with foam samples of this build (default: that of the first --sweep)",
    )
    sub.add_argument(
        "--wanted",
        metavar="FIGURE=VALUE",
        help="target value: pressure=9, air=12 (free air) or ratio=20 (air to solution), in the chosen units",
    )
    sub.add_argument(
        "--by",
        choices=("outlet.bore", "tube.hole", "tube.holes_per_row", "packing.length"),
        default="outlet.bore",
        help="entry to change for --wanted (default: %(default)s)",
    )
    add_sensors(sub)
    add_units(sub)
