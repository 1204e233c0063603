"""Options of ``bubbles``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import quantity
from frothline.cli.options import add_units

ABOUT = (
    "Bubble diameter, spread and growth from photos of a foam behind a clear pane, with the printed target on the\n"
    "pane. --target writes the page to print. Exit code 1: a photo has a warning."
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
        "--times", nargs="+", metavar="TIME", help="time of each photo (0 s, 2 min), if the camera's are wrong"
    )
    sub.add_argument("--outlines", type=Path, metavar="FILE", help="write the first window with outlines (JPEG)")
    add_units(sub)
