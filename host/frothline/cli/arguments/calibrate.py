"""Options of ``calibrate``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_port, add_units

ABOUT = (
    "Shows what to set, reads the reference value, waits for a steady reading, and saves the result to "
    "calibration.toml\nin the folder of the recordings. Pages and other commands read it there. pressure: water "
    "manometer;\nflow-bag: bag of known volume; flow-plates, thermal-plates: drilled plates; scale-masses, "
    "scale-water;\ntemperature: ice and warm water; supply: multimeter; zero: at rest. previous: use the "
    "earlier\ncalibration of --channel (no rig needed). An implausible point or line is refused and not saved."
)
NAMES = ("pressure", "flow-bag", "flow-plates", "thermal-plates", "scale-masses", "scale-water", "temperature",
         "supply", "zero")  # fmt: skip
PREVIOUS = "previous"
CHANNELS = ("pressure", "differential", "rotor", "thermal", "temperature", "scale", "supply")


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("procedure", choices=(*NAMES, PREVIOUS), help="procedure: channel and reference")
    add_port(sub)
    sub.add_argument(
        "--into",
        type=Path,
        metavar="FILE",
        help="calibration file to write (default: that of --calibration, else calibration.toml in the folder of "
        "the recordings)",
    )
    sub.add_argument(
        "--folder", type=Path, metavar="DIR", help="folder of the recordings (FROTHLINE_FOLDER, else ~/Frothline)"
    )
    sub.add_argument(
        "--channel",
        choices=CHANNELS,
        default="pressure",
        help="which channel to zero, or to return to its previous calibration",
    )
    sub.add_argument("--who", default="", help="your name, saved in the file")
    add_units(sub)
