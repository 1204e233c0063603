"""``effects``: effects of changes."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from frothline.cli.notebook import notebook_of
from frothline.cli.output import Say
from frothline.formatting import difference_text
from frothline.label_case import label_case
from frothline.rounding import counted
from frothline.trials.figures import BY_NAME, unit_of
from frothline.trials.which_helped import two_builds
from frothline.units import SYSTEMS

DONE, PROBLEMS = 0, 1


def run(options: Namespace, say: Say) -> int:
    notebook = notebook_of(options, say)
    trials = tuple(notebook.trial(name) for name in options.trials) if options.trials else notebook.trials
    if options.builds:
        return _two_builds(trials, options, say)
    found = notebook.which_helped(options.response, trials)
    lines = [f"{found.label}, {counted(len(found.trials), 'trial')}{' (simulated)' if found.simulated else ''}"]
    lines += [f"- {one}" for one in found.words]
    lines += [f"a run that would separate them: {one}" for one in found.runs]
    unit = found.shown_unit(SYSTEMS[options.units])
    for one in sorted(found.report.effects, key=lambda e: e.p_value):
        label = label_case(found.label_shown(one, options.units))
        lines.append(f"{label:32} {difference_text(one.estimate, unit)}")
    say.result(found.as_dict(), "\n".join(lines))
    return DONE


def _two_builds(trials: Any, options: Namespace, say: Say) -> int:

    first, second = options.builds
    found = two_builds(trials, first, second, options.response)
    unit = unit_of(BY_NAME[options.response], SYSTEMS[options.units])
    d = found.difference
    text = f"{first} minus {second}: {BY_NAME[options.response].label} {difference_text(d, unit)}, {found.words}"
    data = {
        "difference": d.as_dict(),
        "t": found.t,
        "degrees_of_freedom": found.degrees_of_freedom,
        "p_value": found.p_value,
        "response": options.response,
    }
    say.result(data, text)
    return DONE
