"""Options of ``demo``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.arguments.pages import add_page_options
from frothline.cli.numbers import number, whole

ABOUT = (
    "Starts a simulated rig, records a sweep from shut-off to free delivery, and serves the\npages on this "
    "computer. No board is needed."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--emulated", action="store_true", help="run the board's own firmware in the instruction simulator"
    )
    sub.add_argument("--scenario", default="sweep", help="simulated scenario: sweep, steady, run … (sweep)")
    sub.add_argument("--seed", type=whole(), default=1, help="random seed (1)")
    sub.add_argument(
        "--speed", type=number(low=0, high=1000), default=1.0, help="speed, as a multiple of real time (1)"
    )
    sub.add_argument("--no-record", action="store_true", help="do not start a sweep and its recording at the beginning")
    add_page_options(sub)
