"""Options of ``recordings``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.options import add_folder

ABOUT = "Lists the recordings of a folder and the folders in it, newest first. Exit code 1: some cannot be read."


def add_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument(
        "--words", default="", help="only recordings that hold all of these words, anywhere, small or capital"
    )
    for name, words in (
        ("kind", "sweep, run …, as written beside the recording"),
        ("build", "build as written beside the recording"),
        ("tag", "one of the tags written beside the recording"),
        ("state", "closed, open, newer or unreadable"),
    ):
        sub.add_argument(f"--{name}", default="", help=f"only those of this {name}: {words}")
    sub.add_argument("--since", metavar="DATE", help="only those begun on this day or later (2025-04-12)")
    sub.add_argument("--until", metavar="DATE", help="only those begun on this day or before")
