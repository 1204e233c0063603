"""Options of ``recordings``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.options import add_folder

ABOUT = "Lists the recordings of a folder and the folders in it, newest first. Exit code 1: some cannot be read."


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument(
        "--words", default="", help="only recordings with all of these words, in any field, upper or lower case"
    )
    for name, words in (
        ("kind", "kind in the recording's TOML file: sweep, run …"),
        ("build", "build in the recording's TOML file"),
        ("tag", "tag in the recording's TOML file"),
        ("state", "closed, open, newer or unreadable"),
    ):
        sub.add_argument(f"--{name}", default="", help=f"only recordings with this {name}: {words}")
    sub.add_argument("--since", metavar="DATE", help="only recordings started on this day or later (2025-04-12)")
    sub.add_argument("--until", metavar="DATE", help="only recordings started on this day or earlier")
