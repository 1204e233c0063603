"""Options of ``whatif``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_sensors, add_units

ABOUT = (
    "Where a generator meets an air source, now and after a change, each with its 95 % interval; or, with\n"
    "--wanted, which size that is sold brings a figure: --wanted pressure=9 --by tube.hole"
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("sheet", type=Path, help="build sheet of the generator as it is (TOML)")
    sub.add_argument(
        "--sweep", nargs="+", type=Path, required=True, metavar="FILE", help="recorded sweeps of the air source"
    )
    sub.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="ENTRY=VALUE",
        help='change an entry of the sheet, like --set "outlet.bore=50x3.7"; may be given several times',
    )
    sub.add_argument(
        "--alone",
        action="store_true",
        help="change these entries alone: wool does not go along with the packing's length, holes under liquid not "
        "with the rows",
    )
    sub.add_argument("--other", nargs="+", type=Path, metavar="FILE", help="recorded sweeps of another air source")
    sub.add_argument("--wet", nargs="+", type=Path, metavar="FILE", help="recorded wet sweeps through this generator")
    sub.add_argument("--dry-sweep", nargs="+", type=Path, metavar="FILE", help="recorded dry sweeps through it")
    sub.add_argument(
        "--folder",
        type=Path,
        metavar="DIR",
        help="folder whose foam samples of this build are used (that of the first --sweep, if not given)",
    )
    sub.add_argument(
        "--wanted",
        metavar="FIGURE=VALUE",
        help="which size brings this: pressure=9, air=12 (free air) or ratio=20 (air to solution), in the chosen units",
    )
    sub.add_argument(
        "--by",
        choices=("outlet.bore", "tube.hole", "tube.holes_per_row", "packing.length"),
        default="outlet.bore",
        help="the entry whose sizes are tried for --wanted (default: %(default)s)",
    )
    add_sensors(sub)
    add_units(sub)
