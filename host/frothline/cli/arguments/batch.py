"""Options of ``batch``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import number
from frothline.cli.options import add_units

ABOUT = (
    "A batch of cellular concrete by absolute volumes, from a trial's foam or from figures given here; with\n"
    "--slurry or --cup what to add. Not structural unless a licensed engineer says so."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("--density", required=True, metavar="DENSITY", help="density wanted (600, or 37 lb/ft3)")
    sub.add_argument("--dry", action="store_true", help="that is the oven-dry density, not the cast one")
    sub.add_argument("--volume", required=True, metavar="VOLUME", help="volume to fill (120 L)")
    sub.add_argument(
        "--water-cement", type=number(low=0), default=0.5, metavar="RATIO", help="all water over cement (0.5)"
    )
    sub.add_argument(
        "--sand-cement", type=number(low=0), default=0.0, metavar="RATIO", help="sand over cement by mass (0)"
    )
    sub.add_argument("--bag", default="25 kg", metavar="MASS", help="cement in one bag (25 kg)")
    sub.add_argument("--bucket", default="10 L", metavar="VOLUME", help="bucket that foam is measured in (10 L)")
    sub.add_argument("--reservoir", metavar="VOLUME", help="solution that it holds (of the trial's build)")
    sub.add_argument("--folder", type=Path, metavar="DIR", help="with --trial: folder of the trials")
    sub.add_argument("--trial", metavar="NAME", help="the trial whose foam it is")
    sub.add_argument(
        "--foam-density", type=number(above=0), metavar="KG/M3", help="density of the foam, without a trial"
    )
    sub.add_argument(
        "--u-foam-density", type=number(low=0), metavar="KG/M3", help="its standard uncertainty (1 %% of it)"
    )
    sub.add_argument(
        "--foam-output", type=number(above=0), metavar="L/MIN", help="foam the generator makes, without a trial"
    )
    sub.add_argument(
        "--u-foam-output", type=number(low=0), metavar="L/MIN", help="its standard uncertainty (2.5 %% of it)"
    )
    sub.add_argument(
        "--dilution", default=None, help="of the solution: 1+30 or 1 in 31 (of the trial's build, else 1+40)"
    )
    sub.add_argument("--survival", type=number(), metavar="SHARE", help="share of the air still there after mixing")
    sub.add_argument(
        "--slurry", type=number(above=0), metavar="KG/M3", help="slurry weighed before the foam: gives the correction"
    )
    sub.add_argument(
        "--cup", type=number(above=0), metavar="KG/M3", help="foamed concrete weighed: gives the correction"
    )
    sub.add_argument(
        "--keep-cup", action="store_true", help="with --trial and --cup: keep the cup, later batches learn from it"
    )
    sub.add_argument("--report", type=Path, metavar="FILE", help="write the report (HTML)")
    sub.add_argument("--card", type=Path, metavar="FILE", help="write the card for the wall (HTML)")
    add_units(sub)
