"""Options of ``library``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.options import add_holes, add_sensors, add_units

ABOUT = (
    "Files of measured air sources that can be passed on. Lists those of a folder and its folders; --group pools\n"
    "those of a kind, and --prior writes the curve of a source of this kind that nobody measured, which every\n"
    "command takes in place of a recording. Compressors with a tank are not pooled: sources --tank is for them.\n"
    "--add makes the file of recorded sweeps. Exit code 1: a file cannot be read."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("folder", nargs="?", type=Path, help="folder with the files (default: sources in your folder)")
    sub.add_argument("--group", default="", metavar="KIND", help="kind of the sources: “workshop vacuum”")
    sub.add_argument("--search", default="", metavar="TEXT", help="only sources whose name, kind or notes contain this")
    sub.add_argument("--prior", type=Path, metavar="FILE", help="with --group: write the unmeasured source (.toml)")
    sub.add_argument("--parquet", type=Path, metavar="FILE", help="write all points as a columnar file (pyarrow)")
    add = sub.add_argument_group("a new file")
    add.add_argument(
        "--add", nargs="+", type=Path, default=[], metavar="FILE", help="recorded sweeps or tables of the source"
    )
    add.add_argument(
        "--generator", type=Path, metavar="SHEET", help="build sheet of a measured generator, with --wet or --dry-sweep"
    )
    add.add_argument("--wet", nargs="+", type=Path, default=[], metavar="FILE", help="recorded wet sweeps through it")
    add.add_argument("--dry-sweep", nargs="+", type=Path, default=[], metavar="FILE", help="recorded dry sweeps")
    add.add_argument("--name", default="", metavar="NAME", help="name of the source or generator")
    add.add_argument("--to", type=Path, metavar="FILE", help="the file to write (.toml)")
    add_holes(sub, of="--add")
    add_sensors(sub)
    add_units(sub)
