"""Options of ``build``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

ABOUT = (
    "Reads a build sheet, says all that is wrong with it with its line, and draws it to scale. Exit code 1:\n"
    "it can be, but something in it is odd; 2: it cannot be."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("sheet", type=Path, help="build sheet (TOML)")
    sub.add_argument("--new", action="store_true", help="write a sheet to start from, under this name")
    sub.add_argument("--svg", type=Path, metavar="FILE", help="draw it to scale")
    sub.add_argument("--against", type=Path, metavar="SHEET", help="say and mark what differs from this sheet")
