"""Options that several commands have."""

from __future__ import annotations

import os
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from pathlib import Path

from frothline.cli.numbers import TypedFigure, quantity, whole
from frothline.errors import InputError
from frothline.units import NAMES, SYSTEMS, VARIABLE

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


def add_holes(sub: ArgumentParser, name: str = "--holes", of: str = "recording") -> None:
    """Option for recordings with drilled plates instead of an anemometer."""
    sub.add_argument(
        name,
        nargs="+",
        type=quantity("length", above=0.0),
        default=[],
        metavar="SIZE",
        help="without an anemometer: hole diameter of the drilled plate at the end of the line (12, 12 mm, “1/2 in”), "
        f"one per {of}; a working anemometer is compared with the plates",
    )


def add_now(sub: ArgumentParser) -> None:
    """Option for the present state of a source whose filter has loaded."""
    sub.add_argument(
        "--now",
        nargs="+",
        type=Path,
        default=[],
        metavar="FILE",
        help="a later recording or table of the same source with one steady point or more: the curve is rescaled for "
        "its loaded filter",
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
    """Option ``--units``, for displayed text and for numbers without a unit; JSON and tables are always SI."""
    sub.add_argument(
        "--units",
        type=system_of,
        default=os.environ.get(VARIABLE) or "metric",
        metavar="{metric,us}",
        help="units of the text and of numbers without a unit (FROTHLINE_UNITS, else metric); JSON and tables use SI",
    )


def system_of(name: str) -> str:
    """The key of ``units.SYSTEMS``: "metric" or "us", which may also be written "inch-pound"."""
    found = {**NAMES, **{one: one for one in SYSTEMS}}.get(name.strip().casefold())
    if found is None:
        raise ArgumentTypeError(f"“{name}” is not a system of units; give metric or us")
    return found


def given_texts(options: Namespace) -> tuple[str, ...]:
    """All texts and paths of a command line."""
    found: list[str] = []
    for value in vars(options).values():
        for one in value if isinstance(value, (list, tuple)) else (value,):
            if isinstance(one, Path):
                found += [str(one), one.stem]
            elif isinstance(one, TypedFigure):
                found.append(one.text)
            elif isinstance(one, str):
                found.append(one)
    return tuple(dict.fromkeys(text for text in found if text))
