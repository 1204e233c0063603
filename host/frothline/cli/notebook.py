"""``recordings``, ``trials``, ``effects`` and ``plan``: a folder of recordings at the prompt."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.cli.numbers import whole
from frothline.cli.output import Command, Say, add_units
from frothline.cli.port import add_sensors, sensors_of
from frothline.errors import InputError
from frothline.formatting import difference_text, full_text, local_time, value_text
from frothline.units import SYSTEMS, Unit

if TYPE_CHECKING:
    from frothline.trials.notebook import Notebook
    from frothline.trials.trial import Trial

DONE, PROBLEMS = 0, 1


def add_folder(sub: ArgumentParser) -> None:
    """The folder that a command looks at."""
    sub.add_argument("folder", nargs="?", type=Path, help="folder of recordings (FROTHLINE_FOLDER, else ~/Frothline)")


def notebook_of(options: Namespace, say: Say) -> Notebook:
    """The notebook of the folder in the options."""
    from frothline.bench.folders import default_folder  # noqa: PLC0415
    from frothline.trials.notebook import open_notebook  # noqa: PLC0415  scipy and pandas take a second to load

    folder = options.folder or default_folder()
    sensors = sensors_of(options, folder, say=say) if hasattr(options, "calibration") else {}
    return open_notebook(folder, **sensors)


# --- recordings -------------------------------------------------------------------------------------------------------


def _recordings_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument(
        "--words", default="", help="only recordings that hold all of these words, anywhere, small or capital"
    )
    for name, words in (
        ("kind", "sweep, run …, as written beside the recording"),
        ("build", "build as written beside the recording"),
        ("tag", "one of the tags written beside the recording"),
        ("state", "closed, open, newer or unreadable"),
    ):
        sub.add_argument(f"--{name}", default="", help=f"only those of this {name}: {words}")
    sub.add_argument("--since", metavar="DATE", help="only those begun on this day or later (2025-04-12)")
    sub.add_argument("--until", metavar="DATE", help="only those begun on this day or before")


def _recordings(options: Namespace, say: Say) -> int:
    from frothline.bench.folders import default_folder  # noqa: PLC0415
    from frothline.recording import Catalogue  # noqa: PLC0415

    catalogue = Catalogue(options.folder or default_folder())
    found = catalogue.find(
        options.words,
        kind=options.kind,
        build=options.build,
        tag=options.tag,
        state=options.state,
        since=_day(options.since, "--since"),
        until=_day(options.until, "--until", end=True),
    )
    lines = [f"{len(found)} of {len(catalogue)} recordings in {catalogue.folder}"]
    for one in found:
        began = (local_time(one.began) if one.began else "time not known").ljust(21)
        seconds = "     ?" if one.seconds is None else f"{one.seconds:6.0f}"
        state = "" if one.state == "closed" else f"  [{one.state}{': ' + one.problem if one.problem else ''}]"
        lines.append(f"{began}  {seconds} s  {one.kind or '–':6}  {one.title}  ({one.path}){state}")
    say.result([vars(one) for one in found], "\n".join(lines))
    return PROBLEMS if any(one.state in ("newer", "unreadable") or one.problem for one in found) else DONE


def _day(text: str | None, option: str, *, end: bool = False) -> datetime | None:
    if text is None:
        return None
    try:
        day = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{text!r} is no date", where=option, remedy="Write it like 2025-04-12") from error
    if end and len(text) <= len("2025-04-12"):
        day = day.replace(hour=23, minute=59, second=59)
    return day.astimezone()  # a day without a zone is one of this computer's calendar


# --- trials -----------------------------------------------------------------------------------------------------------


def _trials_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument("--trial", metavar="NAME", help="all of one trial")
    sub.add_argument("--compare", nargs=2, metavar=("BEFORE", "AFTER"), help="what changed from one trial to another")
    sub.add_argument(
        "--drawing", type=Path, metavar="FILE", help="with --compare: the later build, changes marked (SVG)"
    )
    add_sensors(sub)
    add_units(sub)


def _trials(options: Namespace, say: Say) -> int:
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
    lines = [f"{len(trials)} trials in {notebook.folder}{_simulated(trials)}"]
    lines += _side_by_side(trials, system)
    lines += [f"{one.name}: {problem}" for one in trials for problem in one.problems]
    if not trials:
        lines.append("A trial is a recording with kind = “run” in the TOML file beside it.")
    say.result([one.as_dict() for one in trials], "\n".join(lines))
    return PROBLEMS if any(one.problems for one in trials) else DONE


def _simulated(trials: Any) -> str:
    return " (simulated)" if any(one.simulated for one in trials) else ""


_COLUMNS = ("density", "output", "drainage", "air_rate", "line_pressure", "solution_use")


def _side_by_side(trials: Any, system: Any) -> list[str]:
    from frothline.trials.figures import BY_NAME, unit_of  # noqa: PLC0415

    if not trials:
        return []
    width = max(len(one.name) for one in trials)
    rows = [
        [
            one.name.ljust(width),
            *(value_text(one.figure(c), unit_of(BY_NAME[c], system)).rjust(12) for c in _COLUMNS),
            f"{one.build_name} / {one.air_source}",
        ]
        for one in trials
    ]
    head = [
        " " * width,
        *(BY_NAME[c].label.split(",")[0].replace("25 % drainage time", "25 % drained") for c in _COLUMNS),
    ]
    first = "  ".join([head[0], *(word.rjust(12) for word in head[1:]), "build / air source"])
    return [first, *("  ".join(row) for row in rows)]


def _told(trial: Trial, system: Any) -> str:
    from frothline.trials.figures import FIGURES, unit_of  # noqa: PLC0415

    lines = [f"{trial.title}: {trial.build_name} on {trial.air_source or 'an unnamed source'}{_simulated([trial])}"]
    for one in FIGURES:
        estimate, unit = trial.figure(one.name), unit_of(one, system)
        lines.append(f"{one.label:24} {full_text(estimate, unit, reason=trial.why.get(one.name, 'not known'))}")
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
    }
    if options.drawing is not None:
        options.drawing.write_text(found.drawing(), encoding="utf-8")
        data["drawing"] = options.drawing
    say.result(data, found.words)
    return DONE


# --- effects ----------------------------------------------------------------------------------------------------------


def _effects_options(sub: ArgumentParser) -> None:
    add_folder(sub)
    sub.add_argument(
        "--response",
        default="density",
        help="the figure that is to be moved: density (if not given), drainage, output, expansion, capture, "
        "line_pressure, air_rate or solution_use",
    )
    sub.add_argument("--trials", nargs="+", metavar="NAME", help="only these trials")
    sub.add_argument(
        "--builds", nargs=2, metavar=("A", "B"), help="compare the repeats of two builds by name (Welch's test)"
    )
    add_sensors(sub)


def _effects(options: Namespace, say: Say) -> int:
    notebook = notebook_of(options, say)
    trials = tuple(notebook.trial(name) for name in options.trials) if options.trials else notebook.trials
    if options.builds:
        return _two_builds(trials, options, say)
    found = notebook.which_helped(options.response, trials)
    lines = [f"{found.label}, {len(found.trials)} trials{' (simulated)' if found.simulated else ''}"]
    lines += [f"- {one}" for one in found.words]
    lines += [f"a run that would tell: {one}" for one in found.runs]
    for one in sorted(found.report.effects, key=lambda e: e.p_value):
        lines.append(f"{one.factor:32} {difference_text(one.estimate, Unit(found.unit.symbol, 1.0))}")
    say.result(found.as_dict(), "\n".join(lines))
    return DONE


def _two_builds(trials: Any, options: Namespace, say: Say) -> int:
    from frothline.trials.figures import BY_NAME, unit_of  # noqa: PLC0415
    from frothline.trials.which_helped import two_builds  # noqa: PLC0415

    first, second = options.builds
    found = two_builds(trials, first, second, options.response)
    unit = unit_of(BY_NAME[options.response])
    d = found.difference
    sure = "more than their scatter explains" if found.p_value < 0.05 else "within what their scatter explains"
    text = (
        f"{first} minus {second}: {BY_NAME[options.response].label} {difference_text(d, unit)}, "
        f"p = {found.p_value:.2g}: {sure}"
    )
    data = {
        "difference": d.as_dict(),
        "t": found.t,
        "degrees_of_freedom": found.degrees_of_freedom,
        "p_value": found.p_value,
        "response": options.response,
    }
    say.result(data, text)
    return DONE


# --- plan -------------------------------------------------------------------------------------------------------------


def _plan_options(sub: ArgumentParser) -> None:
    sub.add_argument("plan", type=Path, help="plan file (TOML); the trials are those in its folder")
    sub.add_argument("--folder", type=Path, metavar="DIR", help="trials are here, not beside the plan")
    sub.add_argument("--seed", type=whole(), default=0, help="of the order of the runs and of the draws (0)")
    sub.add_argument("--sheet", type=Path, metavar="FILE", help="write the proposed build's sheet")
    add_sensors(sub)


def _plan(options: Namespace, say: Say) -> int:
    from frothline.trials.next_trial import next_of  # noqa: PLC0415
    from frothline.trials.notebook import open_notebook  # noqa: PLC0415
    from frothline.trials.plan_file import read_plan  # noqa: PLC0415

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
    from dataclasses import replace  # noqa: PLC0415

    from frothline.generator.sheet import write_sheet  # noqa: PLC0415

    build = found.build if found.build is not None else found.plan.build(found.runs[0].settings)
    if path.exists():
        raise InputError("there is a file of that name already", where=str(path), remedy="Give another name")
    path.write_text(write_sheet(replace(build, name=path.stem)), encoding="utf-8")
    return path


_PLAN_ABOUT = """Says which runs to make next, from a plan file and the trials beside it. A plan file:

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

COMMANDS = (
    Command(
        "recordings",
        "list the recordings of a folder, searched and filtered",
        _recordings_options,
        _recordings,
        "Lists the recordings of a folder and the folders in it, newest first. Exit code 1: some cannot be read.",
    ),
    Command(
        "trials",
        "runs with their builds and samples, side by side",
        _trials_options,
        _trials,
        "Condenses every run of a folder with its build sheet and its samples. Exit code 1: something beside a run\n"
        "(sheet, sample) cannot be read; the rest is shown.",
    ),
    Command(
        "effects",
        "which change helped, and what the trials cannot tell apart",
        _effects_options,
        _effects,
        "Effects of everything that changed between the trials, by least squares. What cannot be told apart is said\n"
        "first. Exit code 5: too few trials.",
    ),
    Command("plan", "what to try next, from the parts at hand", _plan_options, _plan, _PLAN_ABOUT),
)
