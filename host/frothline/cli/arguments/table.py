"""Options of ``table``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_sensors

FORMATS = ("csv", "parquet")


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", type=Path, help="a recording (.froth)")
    sub.add_argument("-o", "--output", type=Path, metavar="FILE", help="table file (default: next to the recording)")
    sub.add_argument("--format", choices=FORMATS, help="table format (default: by the ending of FILE, else csv)")
    sub.add_argument("--overwrite", action="store_true", help="overwrite an existing file")
    add_sensors(sub)
