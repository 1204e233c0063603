"""Options of ``drainage``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.options import add_units

ABOUT = "The drainage curve of foam from three or more readings: times of 25 % and 50 %, with intervals."


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "readings", nargs="+", metavar="TIME=VOLUME", help="liquid under the foam, by the clock (60s=4mL 120s=9mL)"
    )
    sub.add_argument("--solution", metavar="VOLUME", help="solution in the foam, volume or mass (147 mL, 147 g)")
    sub.add_argument("--depth", metavar="LENGTH", help="depth of the foam (190 mm)")
    add_units(sub)
