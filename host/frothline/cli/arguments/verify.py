"""Options of ``verify``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

ABOUT = (
    "Says what of a recording is whole, damaged or missing. Exit code 0: whole, or complete though a write failed;"
    " 1: interrupted, damaged or incomplete; 4: not readable."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("recording", nargs="+", type=Path, help="one or more recordings (.froth)")
