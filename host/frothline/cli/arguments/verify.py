"""Options of ``verify``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

ABOUT = (
    "Checks a recording for damage. Exit code 0: whole, or complete despite a failed write;"
    " 1: interrupted, damaged or incomplete; 4: not readable."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="one or more recordings (.froth)")
