"""``plan``: what to try next."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from dataclasses import replace
from pathlib import Path
from typing import Any

from frothline.cli.numbers import whole
from frothline.cli.options import add_sensors
from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError
from frothline.generator.sheet import write_sheet
from frothline.trials.next_trial import next_of
from frothline.trials.notebook import open_notebook
from frothline.trials.plan_file import read_plan

DONE, PROBLEMS = 0, 1
ABOUT = """Says which runs to make next, from a plan file and the trials beside it. A plan file:

  reference = "builds/first-tube.toml"
  batches = 2                          # solution batches for the first runs

  [factors]                            # entry of the build sheet = the parts at hand
  "packing.length" = ["250 mm", "400 mm"]
  "solution.dilution" = ["1+20", "1+30"]

  [along]                              # what else goes along, in proportion; wool goes with the packing and
  "hose.length" = "packing.length"     # holes under liquid with the rows by themselves (alone = true: they do not)

  [[wish]]
  response = "density"                 # or drainage, output, expansion …
  low = "60 kg/m3"
  high = "80 kg/m3\""""


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("plan", type=Path, help="plan file (TOML); the trials are those in its folder")
    sub.add_argument("--folder", type=Path, metavar="DIR", help="trials are here, not beside the plan")
    sub.add_argument("--seed", type=whole(), default=0, help="of the order of the runs and of the draws (0)")
    sub.add_argument("--sheet", type=Path, metavar="FILE", help="write the proposed build's sheet")
    add_sensors(sub)


def run(options: Namespace, say: Say) -> int:

    plan = read_plan(options.plan)
    folder = options.folder or options.plan.parent
    notebook = open_notebook(folder, **sensors_of(options, folder, say=say))
    found = next_of(plan, notebook.trials, seed=options.seed)
    lines = [found.reason]
    lines += [f"{k}. batch {r.batch}: {plan.words(r.settings)}  ({r.why})" for k, r in enumerate(found.runs, 1)]
    if found.proposal is not None:
        lines.append(f"build: {plan.words(found.proposal.settings)}")
    lines += [f"not counted: {one}" for one in found.left_out]
    data = found.as_dict()
    if options.sheet is not None:
        data["sheet"] = _write_sheet(options.sheet, found)
        lines.append(f"sheet written to {options.sheet}")
    say.result(data, "\n".join(lines))
    return DONE


def _write_sheet(path: Path, found: Any) -> Path:

    build = found.build if found.build is not None else found.plan.build(found.runs[0].settings)
    if path.exists():
        raise InputError("there is a file of that name already", where=str(path), remedy="Give another name")
    path.write_text(write_sheet(replace(build, name=path.stem)), encoding="utf-8")
    return path
