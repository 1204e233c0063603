"""``pourplan``: mixes, foam, timetable, lifts, shopping and density of a pour."""

from __future__ import annotations

from argparse import Namespace

from frothline.bench.folders import default_folder
from frothline.bench.pour_planning import plan_pour
from frothline.cli.output import Say
from frothline.pours.plan_entries import ENTRIES
from frothline.pours.plan_file import new_plan
from frothline.report.pour_plan import plan_card, plan_data, plan_lines
from frothline.trials.notebook import open_notebook
from frothline.units import SYSTEMS

DONE = 0


def run(options: Namespace, say: Say) -> int:
    if options.new is not None:
        path = new_plan(options.new)
        say.result({"file": path}, f"{path} written; fill it in, then run `frothline pourplan {path}`")
        return DONE
    given = {
        entry.name: value
        for entry in ENTRIES
        if (value := getattr(options, entry.name.replace("-", "_"))) not in (None, "")
    }
    trial = None
    if options.trial is not None:
        trial = open_notebook(options.folder or default_folder()).trial(options.trial)
    plan = plan_pour(
        options.plan,
        given,
        system=options.units,
        folder=options.folder,
        trial=trial,
        prices=options.prices,
        seed=options.seed,
    )
    system = SYSTEMS[options.units]
    data, lines = plan_data(plan), plan_lines(plan, system)
    if options.card is not None:
        data["card"] = plan_card(plan, system=system).write(options.card)
        lines.append(f"card written to {options.card}")
    say.result(data, "\n".join(lines))
    return DONE
