"""``plan``: the next trial."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError
from frothline.generator.sheet import save_build
from frothline.trials.next_trial import next_of
from frothline.trials.notebook import open_notebook
from frothline.trials.plan_file import read_plan

DONE, PROBLEMS = 0, 1


def run(options: Namespace, say: Say) -> int:

    plan = read_plan(options.plan)
    folder = options.folder or options.plan.parent
    notebook = open_notebook(folder, **sensors_of(options, folder, say=say))
    found = next_of(plan, notebook.trials, seed=options.seed)
    lines = [found.reason]
    lines += [
        f"{k}. batch {r.batch}: {plan.words(r.settings, options.units)}  ({r.why})" for k, r in enumerate(found.runs, 1)
    ]
    if found.proposal is not None:
        lines.append(f"build: {plan.words(found.proposal.settings, options.units)}")
    lines += [f"also planned: {one.name}" for one in found.planned[1:]]
    lines += [f"excluded: {one}" for one in found.left_out]
    data = found.as_dict()
    if options.sheet is not None:
        data["sheet"] = _write_sheet(options.sheet, found)
        lines.append(f"sheet written to {options.sheet}")
    say.result(data, "\n".join(lines))
    return DONE


def _write_sheet(path: Path, found: Any) -> Path:

    if found.build is None and not found.runs:
        raise InputError("there is no next trial to write a sheet of", where=str(path), remedy=found.reason)
    build = found.build if found.build is not None else found.plan.build(found.runs[0].settings)
    return save_build(build, path)
