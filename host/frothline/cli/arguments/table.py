"""Options of ``table``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_sensors

FORMATS = ("csv", "parquet")


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", type=Path, help="a recording (.froth)")
    sub.add_argument("-o", "--output", type=Path, metavar="FILE", help="where to (beside the recording if not given)")
    sub.add_argument("--format", choices=FORMATS, help="by the ending of FILE if not given, else csv")
    sub.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    add_sensors(sub)
