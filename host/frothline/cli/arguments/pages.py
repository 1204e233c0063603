"""Options of the commands that serve the pages."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import whole
from frothline.web.address import HOST, PORT


def add_page_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--folder", type=Path, metavar="DIR", help="folder for recordings (FROTHLINE_FOLDER, else ~/Frothline)"
    )
    sub.add_argument("--no-browser", action="store_true", help="print the address, do not open a browser")
    sub.add_argument(
        "--host",
        default=HOST,
        help=f"address or name to serve on ({HOST}: this computer only; 0.0.0.0: every network it is in, by a link "
        "with a key)",
    )
    sub.add_argument("--viewers-operate", action="store_true", help="the link for others may also operate the rig")
    sub.add_argument(
        "--web-port", type=whole(0, 65535), metavar="N", help=f"port to serve on ({PORT}, or a free one if it is taken)"
    )
