"""Options of ``pours``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_folder, add_sensors, add_units

ABOUT = (
    "Lists the pours in the folder “pours” of a folder of recordings, with what became of them. --new writes\na file "
    "to fill in by hand. With --pour, --add-cube and the options below it write what is known weeks later.\n"
    "Exit code 1: an entry cannot be read, or a pour contradicts itself; the rest is shown."
)


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument("--pour", metavar="NAME", help="all figures of a pour")
    sub.add_argument("--new", metavar="NAME", help="write a file for a new pour")
    sub.add_argument("--trial", metavar="NAME", help="with --new: the trial that made the foam")
    sub.add_argument(
        "--plan", type=Path, metavar="FILE", help="with --new: take the masses of a single mix from a pour plan"
    )
    sub.add_argument(
        "--entry",
        nargs="+",
        action="extend",
        metavar="NAME=TEXT",
        help="with --new: entries, like --entry cement='25 kg' cup='640 kg/m3'",
    )
    sub.add_argument(
        "--correct",
        nargs="+",
        action="extend",
        metavar="NAME=TEXT",
        help="with --pour: correct entries, like --correct cup='640 kg/m3'; an empty text takes one out. What was "
        "written stays in the file as a comment",
    )
    sub.add_argument(
        "--add-cube",
        nargs="+",
        action="append",
        metavar="NAME=TEXT",
        help="with --pour: add a cube, like --add-cube edge='100 mm' age='28 d' mass='587 g' load='7.4 kN'; a cylinder "
        "has diameter and height, a block length, width and height; also dry-mass and note; once for each cube",
    )
    sub.add_argument(
        "--add-cubes",
        type=Path,
        metavar="FILE",
        help="add the cubes of a table (CSV), of several pours: pour, edge, age, mass, load, also dry-mass and note; "
        "a head may have a unit, like load [kN] or age, d; "
        "an empty pour is that of the row above, an empty size or age that of the same pour's row above",
    )
    sub.add_argument(
        "--correct-cube",
        nargs="+",
        metavar=("NUMBER", "NAME=TEXT"),
        help="with --pour: correct entries of a cube, like --correct-cube 2 load='7.4 kN'; an empty text takes one out",
    )
    sub.add_argument("--remove-cube", type=int, metavar="NUMBER", help="with --pour: take a cube out")
    sub.add_argument("--sank", metavar="DEPTH", help="with --pour: how far the top sank in 24 h, like '2 mm'")
    sub.add_argument("--rose", metavar="DEPTH", help="with --pour: how far the top rose in 24 h")
    sub.add_argument("--report", type=Path, metavar="FILE", help="write the report (HTML)")
    add_sensors(sub)
    add_units(sub)
