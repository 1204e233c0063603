"""Options of ``jar``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_folder, add_units

ABOUT = (
    "Jars of slurry and foam: share of the foam's air that survives, and settlement. A jar is a TOML file in the\n"
    "folder “jars” of a folder of recordings; --file judges one file. Its entries are in the example that\n"
    "--example prints; --new writes a file from --entry, --settled adds the settled height to one,\n"
    "and --correct changes entries; what was written before stays in the file as a comment.\n"
    "Exit code 1: an entry cannot be read, or a jar contradicts itself."
)


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument("--file", type=Path, metavar="FILE", help="a jar's file")
    sub.add_argument("--example", action="store_true", help="print a jar's file to fill in")
    sub.add_argument("--new", metavar="NAME", help="write a file for a new jar into the folder")
    sub.add_argument(
        "--entry",
        nargs="+",
        action="extend",
        metavar="NAME=TEXT",
        help="with --new: trial, title, foam-density, cement, sand, water, foam, foam-volume, diameter, height, "
        "volume, settled, after or note, like --entry cement='300 g'",
    )
    sub.add_argument(
        "--settled",
        nargs=3,
        metavar=("NAME", "HEIGHT", "AFTER"),
        help="add the settled height to a jar of the folder, like --settled first '75 mm' '2 h'",
    )
    sub.add_argument(
        "--correct",
        nargs="+",
        metavar=("NAME", "ENTRY=TEXT"),
        help="correct entries of a jar of the folder, like --correct first cement='310 g'; an empty text takes one out",
    )
    add_units(sub)
