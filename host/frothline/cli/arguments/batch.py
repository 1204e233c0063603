"""Options of ``batch``."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path

from frothline.cli.numbers import number, quantity
from frothline.cli.options import add_units
from frothline.estimate import Estimate
from frothline.pours.plan_entries import read_survival

ABOUT = (
    "A batch of cellular concrete by absolute volumes, from a trial's foam or from figures given here; "
    "with\n--slurry or --cup what to add. Not structural without the approval of a licensed engineer."
)


def _survival(text: str) -> Estimate:
    try:
        return read_survival(text)
    except ValueError as error:
        raise ArgumentTypeError(str(error)) from None


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--density",
        type=quantity("density", above=0.0),
        required=True,
        metavar="DENSITY",
        help="target density (600, or 37 lb/ft3)",
    )
    sub.add_argument("--dry", action="store_true", help="the target is the oven-dry density, not the cast density")
    sub.add_argument(
        "--volume",
        type=quantity("concrete"),
        required=True,
        metavar="VOLUME",
        help="volume to fill (120 L, or 1/4 yd3)",
    )
    sub.add_argument(
        "--water-cement", type=number(low=0), default=0.5, metavar="RATIO", help="all water over cement (0.5)"
    )
    sub.add_argument(
        "--sand-cement", type=number(low=0), default=0.0, metavar="RATIO", help="sand over cement by mass (0)"
    )
    sub.add_argument(
        "--bag", type=quantity("bag", above=0.0), default="25 kg", metavar="MASS", help="cement in one bag (25 kg)"
    )
    sub.add_argument(
        "--bucket",
        type=quantity("volume", above=0.0),
        default="10 L",
        metavar="VOLUME",
        help="bucket used to measure the foam (10 L)",
    )
    sub.add_argument(
        "--reservoir",
        type=quantity("volume", above=0.0),
        metavar="VOLUME",
        help="solution in the reservoir (default: the trial's build)",
    )
    sub.add_argument("--folder", type=Path, metavar="DIR", help="with --trial: folder of the trials")
    sub.add_argument("--trial", metavar="NAME", help="trial that made the foam")
    sub.add_argument(
        "--foam-density",
        type=quantity("density", above=0.0, foam="foam-density"),
        metavar="DENSITY",
        help="density of the foam, without a trial (70, 4.4 lb/ft3, or with its 95 %% interval: 75 (73 to 77))",
    )
    sub.add_argument(
        "--u-foam-density",
        type=quantity("density", low=0.0),
        metavar="DENSITY",
        help="standard uncertainty of the density (1 %%)",
    )
    sub.add_argument(
        "--foam-output",
        type=quantity("flow", above=0.0, foam="output"),
        metavar="RATE",
        help="foam output of the generator, without a trial (60 L/min, 16 gal/min, or 60 (55 to 65))",
    )
    sub.add_argument(
        "--u-foam-output",
        type=quantity("flow", low=0.0),
        metavar="RATE",
        help="standard uncertainty of the output (2.5 %%)",
    )
    sub.add_argument(
        "--dilution",
        default=None,
        help="dilution of the solution: 1+30 or 1 in 31 (default: the trial's build, else 1+40)",
    )
    sub.add_argument(
        "--survival", type=_survival, metavar="SHARE", help="share of the air that survives mixing (90 %%, or 0.9)"
    )
    sub.add_argument(
        "--slurry",
        type=quantity("density", above=0.0),
        metavar="DENSITY",
        help="density of the slurry before the foam: gives the correction",
    )
    sub.add_argument(
        "--cup",
        type=quantity("density", above=0.0),
        metavar="DENSITY",
        help="density of the foamed concrete: gives the correction",
    )
    sub.add_argument("--keep-cup", action="store_true", help="with --trial and --cup: save the cup for later batches")
    sub.add_argument("--report", type=Path, metavar="FILE", help="write the report (HTML)")
    sub.add_argument("--card", type=Path, metavar="FILE", help="write the batch card (HTML)")
    add_units(sub)
