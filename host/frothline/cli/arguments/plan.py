"""Options of ``plan``."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from frothline.cli.numbers import whole
from frothline.cli.options import add_sensors, add_units

ABOUT = """Proposes the next runs from a plan file and the trials in its folder. A plan file:

  reference = "builds/first-tube.toml"
  batches = 2                          # solution batches for the first runs

  [factors]                            # entry of the build sheet = the parts at hand
  "packing.length" = ["250 mm", "400 mm"]
  "solution.dilution" = ["1+20", "1+30"]

  [along]                              # what else changes, in proportion; wool follows the packing and
  "hose.length" = "packing.length"     # holes under liquid follow the rows (alone = true: they do not)

  [[wish]]
  response = "density"                 # or drainage, output, expansion …
  low = "60 kg/m3"
  high = "80 kg/m3"

  [[planned]]                          # a build chosen by hand: comes before everything proposed
  name = "Narrow outlet"
  added = "2026-05-02T14:03:00+02:00"
  build_sheet = "..."                  # the whole sheet

The notebook page has the plan as a form, without writing a file: the part "Plan" saves reference, targets and
parts as plan.toml in the folder of the recordings, and "Undo the last change" brings the plan before it back. "Plan
this as next trial" on the generator page adds a [[planned]] build; "Remove it from the plan" takes it out."""


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("plan", type=Path, help="plan file (TOML); the trials are those in its folder")
    sub.add_argument("--folder", type=Path, metavar="DIR", help="folder of the trials (default: that of the plan)")
    sub.add_argument("--seed", type=whole(), default=0, help="random seed (0)")
    sub.add_argument("--sheet", type=Path, metavar="FILE", help="write the proposed build's sheet")
    add_units(sub)
    add_sensors(sub)
