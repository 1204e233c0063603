"""Options of ``build``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_units

ABOUT = (
    "Checks a build sheet, lists every error with its line, and draws the build to scale. Exit code 1:\nwarnings "
    "only; 2: errors."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("sheet", type=Path, help="build sheet (TOML)")
    sub.add_argument("--new", action="store_true", help="write a new sheet under this name")
    sub.add_argument("--svg", type=Path, metavar="FILE", help="write the drawing to scale (SVG)")
    sub.add_argument("--against", type=Path, metavar="SHEET", help="list and mark the differences from this sheet")
    sub.add_argument(
        "--as-mine",
        type=Path,
        metavar="NEW",
        help="write the sheet of a received generator as a new sheet of yours; its notes say where it comes from",
    )
    add_units(sub)
