"""``trials``: runs with their builds and samples, compared."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from frothline.cli.notebook import notebook_of
from frothline.cli.output import Say, fitted_columns
from frothline.formatting import difference_text, full_text, value_text
from frothline.label_case import label_case
from frothline.rounding import counted
from frothline.trials.figures import BY_NAME, change_unit_of, shown_figures, unit_of
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial
from frothline.units import SYSTEMS

DONE, PROBLEMS = 0, 1


def run(options: Namespace, say: Say) -> int:
    notebook = notebook_of(options, say)
    system = SYSTEMS[options.units]
    if options.compare:
        return _compare(notebook, options, say)
    if options.trial:
        trial = notebook.trial(options.trial)
        say.result(trial.as_dict(), _told(trial, system))
        return PROBLEMS if trial.problems else DONE
    say.progress(f"reading {notebook.folder}")
    trials = notebook.trials
    lines = [f"{counted(len(trials), 'trial')} in {notebook.folder}{_simulated(trials)}"]
    lines += _side_by_side(trials, system)
    lines += [f"{one.name}: {problem}" for one in trials for problem in one.problems]
    if not trials:
        lines.append("A trial is a recording with kind = “run” in its TOML file.")
    say.result([one.as_dict() for one in trials], "\n".join(lines))
    return PROBLEMS if any(one.problems for one in trials) else DONE


def _simulated(trials: Any) -> str:
    return " (simulated)" if any(one.simulated for one in trials) else ""


_COLUMNS = ("density", "output", "drainage", "air_rate", "line_pressure", "solution_use")


def _side_by_side(trials: Any, system: Any) -> list[str]:

    if not trials:
        return []
    rows = [
        [
            one.name,
            *(value_text(one.figure(c), unit_of(BY_NAME[c], system)) for c in _COLUMNS),
            f"{one.build_name} / {one.air_source}",
        ]
        for one in trials
    ]
    heads = [label_case(BY_NAME[c].label).split(",")[0].replace("25 % drainage time", "25 % drained") for c in _COLUMNS]
    return fitted_columns([["Trial", *heads, "Build / air source"], *rows])


def _told(trial: Trial, system: Any) -> str:

    lines = [f"{trial.title}: {trial.build_name} on {trial.air_source or 'an unnamed source'}{_simulated([trial])}"]
    for one in shown_figures([trial]):
        estimate, unit = trial.figure(one.name), unit_of(one, system)
        shown = full_text(estimate, unit, reason=trial.why.get(one.name, "not known"))
        lines.append(f"{label_case(one.label):24} {shown}")
    if trial.used is not None:
        lines.append(f"air from {trial.used.start:.1f} to {trial.used.end:.1f} s, {trial.used.why}")
    lines += [*trial.words, *(f"note: {one}" for one in trial.notes), *(f"problem: {one}" for one in trial.problems)]
    return "\n".join(lines)


def _compare(notebook: Notebook, options: Namespace, say: Say) -> int:
    found = notebook.compare(*options.compare)
    data = {
        "before": found.before.name,
        "after": found.after.name,
        "changed": [
            {"path": d.path, "about": d.about, "before": str(d.before), "after": str(d.after)} for d in found.changed
        ],
        "rows": found.rows,
        "words": found.words,
        "figures": {
            one.figure.name: None if one.change is None else {**one.change.as_dict(), "words": one.words}
            for one in found.figures
        },
        "scatter": list(found.scatter_words),
    }
    system = SYSTEMS[options.units]
    lines = [found.words]
    for one in found.figures:
        shown = difference_text(one.change, change_unit_of(one.figure, system), reason=one.why)
        lines.append(f"{label_case(one.figure.label):24} {shown} {one.words}".rstrip())
    lines += found.scatter_words
    if options.drawing is not None:
        options.drawing.write_text(found.drawing(), encoding="utf-8")
        data["drawing"] = options.drawing
    say.result(data, "\n".join(lines))
    return DONE
