"""Options of ``bubbles``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import quantity
from frothline.cli.options import add_units

ABOUT = (
    "Bubble diameter, spread and growth from photos of a foam behind a clear pane, with the printed target on the\n"
    "pane, or a ruler in the photo. --target writes the page to print. Exit code 1: a photo has a warning."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "photos", nargs="*", type=Path, metavar="photo", help="JPEG, PNG or WebP; several of the same foam"
    )
    sub.add_argument("--target", type=Path, metavar="FILE", help="write the target to print (HTML)")
    sub.add_argument(
        "--ruler",
        type=quantity("length", above=0.0),
        metavar="LENGTH",
        help="measured length of the printed ruler, if it is not 100.0 mm (95 mm)",
    )
    sub.add_argument(
        "--scale",
        nargs=3,
        metavar=("POINT", "POINT", "LENGTH"),
        help="where there is no target: two marks of a ruler in pixels of the photo, across and down, and the length "
        "between them, like --scale 120,300 820,310 '50 mm'",
    )
    sub.add_argument("--jar", metavar="DIAMETER", help="inner diameter of a round wall ('92 mm'), in place of a pane")
    sub.add_argument(
        "--keep",
        action="store_true",
        help="save --scale, --jar and --ruler in a file next to each photo, for the page",
    )
    sub.add_argument(
        "--times", nargs="+", metavar="TIME", help="time of each photo (0 s, 2 min), if the camera's are wrong"
    )
    sub.add_argument("--outlines", type=Path, metavar="FILE", help="write the first window with outlines (JPEG)")
    add_units(sub)
