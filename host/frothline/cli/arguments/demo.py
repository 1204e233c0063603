"""Options of ``demo``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.arguments.pages import add_page_options
from frothline.cli.numbers import number, whole

ABOUT = (
    "Starts a simulated rig whose throttle is worked from shut-off to free delivery, records it, and serves the\n"
    "pages on loopback. No board is needed."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--emulated", action="store_true", help="run the board's own firmware in the instruction simulator"
    )
    sub.add_argument("--scenario", default="sweep", help="what the simulated air source and hand do (sweep)")
    sub.add_argument("--seed", type=whole(), default=1, help="of all chance in the simulation (1)")
    sub.add_argument("--speed", type=number(low=0, high=1000), default=1.0, help="times real time (1)")
    sub.add_argument("--no-record", action="store_true", help="do not begin a sweep and its recording by itself")
    add_page_options(sub)
