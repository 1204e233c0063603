"""Options of ``pourplan``: one for each entry of a plan."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from frothline.cli.options import add_units
from frothline.pours.plan_entries import ENTRIES

ABOUT = (
    "Plans a pour: mixes, masses, foam by time, bucket or scale, timetable, lifts, form pressure, shopping and the\n"
    "density to expect. Entries come from a plan file, from options, or from both; options take precedence.\n"
    "Everything that is wrong is listed at once. Not structural without the approval of a licensed engineer."
)


def add_options(sub: ArgumentParser) -> None:

    sub.add_argument("plan", nargs="?", type=Path, metavar="FILE", help="plan file (TOML)")
    sub.add_argument("--new", type=Path, metavar="FILE", help="write a plan file to fill in")
    for entry in ENTRIES:
        about = "; ".join(filter(None, (entry.label, entry.about, " or ".join(entry.choices))))
        usual = f" ({entry.usual})" if entry.usual else ""
        many: dict[str, Any] = {"action": "append"} if entry.kind == "sources" else {}
        kind = entry.kind.rpartition("-")[2].upper()
        sub.add_argument(f"--{entry.name}", metavar=kind, help=f"{about}{usual}".replace("%", "%%"), **many)
    sub.add_argument("--folder", type=Path, metavar="DIR", help="folder of the trials")
    sub.add_argument("--trial", metavar="NAME", help="trial that made the foam")
    sub.add_argument(
        "--prices", type=Path, metavar="FILE", help="price file (TOML; default: prices.toml next to the plan)"
    )
    sub.add_argument("--seed", type=int, default=0, metavar="N", help="random seed of the density (0)")
    sub.add_argument("--card", type=Path, metavar="FILE", help="write the card for the wall (HTML)")
    add_units(sub)
