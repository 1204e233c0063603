"""``pours``: the record of pours, with survival, yield, densities, settlement and strength."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from frothline.bench.cube_record import add_cube, add_settlement, correct_cube, remove_cube
from frothline.bench.cube_table import add_cube_table
from frothline.bench.pour_planning import plan_pour
from frothline.bench.pour_questions import questions_of
from frothline.bench.pour_record import correct_pour, entries_of_plan, record_pour
from frothline.bench.trial_entry import with_trial
from frothline.cli.entry_texts import entry_texts, one_action
from frothline.cli.notebook import notebook_of
from frothline.cli.output import Say, fitted_columns
from frothline.errors import InputError
from frothline.formatting import full_text, value_text
from frothline.label_case import label_case
from frothline.pours.later_entries import SETTLEMENT
from frothline.report.pours import pour_data, pour_facts, pour_rows, pours_report
from frothline.rounding import counted
from frothline.trials.figures import BY_NAME, CONCRETE, unit_of
from frothline.trials.notebook import Notebook
from frothline.trials.pours import Pour
from frothline.units import SYSTEMS

DONE, PROBLEMS = 0, 1


# Options of which each writes something else; a second one would be forgotten.
_WRITES = ("new", "correct", "add_cube", "add_cubes", "correct_cube", "remove_cube", "sank", "rose", "report")


def run(options: Namespace, say: Say) -> int:
    one_action(options, _WRITES)
    if options.new is None and (options.entry or options.plan is not None or options.trial):
        raise InputError("--entry, --plan and --trial are of a new pour", where="pours", remedy="Name it with --new")
    if options.report is not None and options.pour is not None:
        raise InputError("the report is of all pours", where="--report", remedy="Leave --pour out")
    notebook = notebook_of(options, say)
    if options.new is not None:
        plan = None if options.plan is None else plan_pour(options.plan)
        texts = {**entries_of_plan(plan), **entry_texts(options.entry or ())}
        if options.trial and texts.get("trial"):
            raise InputError("the trial is given twice", where="--trial", remedy="Leave trial= or --trial out")
        texts |= {"name": options.new} | ({"trial": options.trial} if options.trial else {})
        path = record_pour(notebook.folder, with_trial(texts, notebook), options.units)
        asked = questions_of(path)
        lines = [f"{path} written; fill it in, then run `frothline pours` again", *(f"But {one}" for one in asked)]
        say.result({"file": path, "questions": list(asked)}, "\n".join(lines))
        return DONE
    system = SYSTEMS[options.units]
    book = notebook.pours
    if options.add_cubes is not None:
        said = add_cube_table(notebook.folder, options.add_cubes, options.units)
        say.result({"said": said}, said)
        return DONE
    later = _later(options, notebook)
    if later is not None:
        if options.pour is None:
            raise InputError("the pour is not named", where="pours", remedy="Name it with --pour")
        said = later(notebook.folder, book.named(options.pour).name)
        say.result({"said": said}, said)
        return DONE
    if options.pour is not None:
        pour = book.named(options.pour)
        lines = [f"{pour.record.title}{_simulated(pour)}"]
        lines += [
            f"{label_case(label):32} {full_text(estimate, unit, reason=why)}"
            for label, estimate, unit, why in pour_rows(pour, system)
        ]
        lines += [f"{label_case(label):32} {text}" for label, text in pour_facts(pour, system)]
        lines += [f"problem: {one}" for one in pour.problems]
        say.result(pour_data(pour), "\n".join(lines))
        return PROBLEMS if pour.problems else DONE
    data: dict[str, Any] = {"pours": [pour_data(one) for one in book.pours], "problems": list(book.problems)}
    lines = [f"{counted(len(book.pours), 'pour')} in {notebook.folder}"]
    lines += _listed(book.pours, system)
    lines += [] if book.law is None else [f"strengths: {one}" for one in book.law.words]
    problems = [*book.problems, *(said for one in book.pours for said in one.problems)]
    lines += [f"problem: {one}" for one in problems]
    if not book.pours:
        lines.append("A pour is a TOML file in the folder pours: `frothline pours --new NAME` writes one.")
    if options.report is not None:
        data["report"] = pours_report(notebook, system=system).write(options.report)
        lines.append(f"report written to {options.report}")
    say.result(data, "\n".join(lines))
    return PROBLEMS if problems else DONE


def _later(options: Namespace, notebook: Notebook) -> Callable[[Path, str], str] | None:
    """What the options add to a recorded pour; None without such an option."""
    units = options.units
    if options.correct is not None:
        texts = with_trial(entry_texts(options.correct), notebook)
        return lambda folder, pour: correct_pour(folder, pour, texts, units)
    if options.add_cube is not None:
        return lambda folder, pour: _cubes(folder, pour, options.add_cube, units)
    if options.correct_cube is not None:
        number, *given = options.correct_cube
        if not number.isdecimal() or not given:
            raise InputError(
                "number or entry of the cube is missing", where="--correct-cube", remedy="Write 2 load='7.4 kN'"
            )
        return lambda folder, pour: correct_cube(folder, pour, int(number), entry_texts(given), units)
    if options.remove_cube is not None:
        return lambda folder, pour: remove_cube(folder, pour, options.remove_cube)
    for key in SETTLEMENT:
        text = getattr(options, key)
        if text is not None:
            return lambda folder, pour: add_settlement(folder, pour, key, text, units)
    return None


def _cubes(folder: Path, pour: str, several: Sequence[Sequence[str]], units: str) -> str:
    """Add a cube for each time that the option was given."""
    said: list[str] = []
    for given in several:
        try:
            said.append(add_cube(folder, pour, entry_texts(given), units))
        except InputError as error:
            before = f"{'; '.join(said)}; then: " if said else ""
            raise InputError(f"{before}{error.what}", where=error.where, remedy=error.remedy) from error
    return "; ".join(said)


def _simulated(pour: Pour) -> str:
    return " (simulated)" if pour.record.simulated else ""


def _listed(pours: Any, system: Any) -> list[str]:
    if not pours:
        return []
    short = {"cast_density": "Cast", "survival": "Air left", "dry_density": "Oven-dry", "settlement": "Settled"}
    short |= {"strength_7": "7 days", "strength_28": "28 days"}
    rows = [["Pour", *(short[name] for name in CONCRETE)]]
    for one in pours:
        cells = (value_text(one.figure(name), unit_of(BY_NAME[name], system)) for name in CONCRETE)
        rows.append([one.name, *cells])
    return fitted_columns(rows)
