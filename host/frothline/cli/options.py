"""Options that several commands have."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from frothline.cli.numbers import whole
from frothline.errors import InputError
from frothline.units import SYSTEMS

NONE = Path("none")  # for --calibration: use the data sheets only, ignoring a file in the folder


def add_port(sub: ArgumentParser) -> None:
    """Options of every command that opens a rig."""
    sub.add_argument(
        "--port",
        metavar="URL",
        help="the rig's port (/dev/ttyUSB0, COM5, socket://host:port, modelled://sweep, replay://file.froth);"
        " default: search all ports",
    )
    sub.add_argument("--rate", type=whole(), metavar="HZ", help="line messages per second, 10 to 500")
    add_sensors(sub)


def add_sensors(sub: ArgumentParser) -> None:
    """Options of every command that converts counts to SI values."""
    sub.add_argument(
        "--calibration",
        type=Path,
        metavar="FILE",
        help="calibration of the sensors (TOML), or none (default: calibration.toml in the folder of the recordings)",
    )
    sub.add_argument(
        "--spool",
        type=Path,
        metavar="FILE",
        help="dimensions of the spool (TOML), if your spool differs from the guide",
    )


def checked_rate(options: Namespace) -> int | None:
    """The rate, if the board supports it."""
    rate: int | None = options.rate
    if rate is not None and not 10 <= rate <= 500:
        raise InputError(f"{rate} Hz is not a rate of the board", where="--rate", remedy="Give 10 to 500")
    return rate


def add_folder(sub: ArgumentParser) -> None:
    """Option for the folder of a command."""
    sub.add_argument("folder", nargs="?", type=Path, help="folder of recordings (FROTHLINE_FOLDER, else ~/Frothline)")


def add_units(sub: ArgumentParser) -> None:
    """Option ``--units``, for displayed text; JSON and tables are always SI."""
    sub.add_argument(
        "--units", choices=sorted(SYSTEMS), default="metric", help="units in the text (JSON and tables use SI)"
    )
