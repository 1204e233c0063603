"""Options of ``jar``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_folder, add_units

ABOUT = (
    "Jars of slurry and foam: share of the foam's air that survives, and settlement. A jar is a TOML file in the\n"
    "folder “jars” of a folder of recordings; --file judges one file. Its entries are in the example that\n"
    "--example prints. Exit code 1: an entry cannot be read, or a jar contradicts itself."
)


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument("--file", type=Path, metavar="FILE", help="a jar's file")
    sub.add_argument("--example", action="store_true", help="print a jar's file to fill in")
    add_units(sub)
