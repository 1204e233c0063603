"""Options of ``calibrate``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_port, add_units

ABOUT = (
    "Says what to set, asks what it is, waits until the reading is steady, keeps the result in calibration.toml,\n"
    "in the folder of the recordings: pages and other commands look for it there. pressure: U-tube of water;\n"
    "flow-bag: bag of known volume; flow-plates, thermal-plates: drilled plates; scale-masses, scale-water;\n"
    "temperature: ice and warm water; supply: multimeter; zero: at rest. previous: use what the channel given by\n"
    "--channel had before (no rig needed). A point or a line that cannot be right is refused and not kept."
)
NAMES = ("pressure", "flow-bag", "flow-plates", "thermal-plates", "scale-masses", "scale-water", "temperature",
         "supply", "zero")  # fmt: skip
PREVIOUS = "previous"
CHANNELS = ("pressure", "differential", "rotor", "thermal", "temperature", "scale", "supply")


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("procedure", choices=(*NAMES, PREVIOUS), help="what to calibrate, and against what")
    add_port(sub)
    sub.add_argument(
        "--into",
        type=Path,
        metavar="FILE",
        help="put it in here (that of --calibration, else calibration.toml in the folder of the recordings)",
    )
    sub.add_argument(
        "--folder", type=Path, metavar="DIR", help="folder of the recordings (FROTHLINE_FOLDER, else ~/Frothline)"
    )
    sub.add_argument("--channel", choices=CHANNELS, default="pressure", help="of a zero, or of the previous one")
    sub.add_argument("--who", default="", help="who does it, kept in the file")
    add_units(sub)
