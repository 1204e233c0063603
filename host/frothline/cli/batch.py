"""``batch``: mix quantities for the foam of a trial, or for foam given by its figures."""

from __future__ import annotations

import math
from argparse import Namespace
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from frothline.bench.folders import default_folder
from frothline.cli.output import Say
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_check import check_figure
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import (
    ConcreteBatch,
    SlurryCorrection,
    correct_cast,
    correct_slurry,
    mix_batch,
)
from frothline.foam.dilution import read_dilution
from frothline.formatting import full_text
from frothline.label_case import label_case
from frothline.pours.stated import WITH_INTERVAL
from frothline.quantities import in_entry_unit
from frothline.report.batch import batch_card, batch_data, batch_report, batch_rows
from frothline.trials.cup_notes import keep_cup
from frothline.trials.notebook import open_notebook
from frothline.trials.trial import Trial
from frothline.trials.workshop_foam import foam_for_batch
from frothline.units import SYSTEMS

DONE = 0


def run(options: Namespace, say: Say) -> int:

    order = BatchOrder(
        check_figure("density", options.density, "--density"),
        options.volume,
        options.water_cement,
        options.sand_cement,
        dry=options.dry,
        bag=options.bag,
        bucket=options.bucket,
    )
    trial, foam = _foam(options)
    try:
        batch = mix_batch(order, foam)
    except InputError as error:
        name = error.where.removeprefix("batch: ").replace("_", "-").replace(" ", "-")
        if not hasattr(options, name.replace("-", "_")):
            raise
        raise InputError(error.what, where=f"--{name}", remedy=error.remedy) from error
    weighed = {key: value for key in ("slurry", "cup") if (value := getattr(options, key)) is not None}
    correct: dict[str, Callable[..., SlurryCorrection]] = {"slurry": correct_slurry, "cup": correct_cast}
    corrections = {key: correct[key](batch, foam, value) for key, value in weighed.items()}
    system = SYSTEMS[options.units]
    data = batch_data(batch, foam) | {"trial": None if trial is None else trial.name}
    lines = ["Simulated foam: do not mix from this"] if trial is not None and trial.simulated else []
    for key, found in corrections.items():
        data[f"correction_{key}"] = {
            "foam": found.foam,
            "slurry": found.slurry,
            "run_time": found.run_time if math.isfinite(found.run_time) else None,
            "survival": found.survival,
            "words": found.words,
        }
        lines.append(f"{key} of {in_entry_unit(weighed[key], 'density', options.units)}: {found.words}")
    lines += [f"warning: {one}" for one in batch.warnings]
    lines += batch.said[len(batch.warnings) :]
    lines += [f"{label_case(a):30} {b:>22}   one bag {c}" for a, b, c in batch_rows(batch, system)]
    lines.append(f"Expected cast density    {full_text(batch.cast_density, system['density'])}")
    lines.append(f"Expected dry density     {full_text(batch.dry_density, system['density'])}")
    lines += [f"assumed: {one}" for one in dict.fromkeys((*foam.survival.assumptions, *foam.start_up.assumptions))]
    if options.keep_cup:
        data["kept"] = _keep(trial, weighed.get("cup"), batch, corrections)
        lines.append(f"cup saved in {data['kept']}")
    for key, make in (("report", batch_report), ("card", batch_card)):
        path: Path | None = getattr(options, key)
        if path is not None:
            data[key] = make(batch, foam, trial=trial, system=system).write(path)
            lines.append(f"{key} written to {path}")
    lines += list(batch.cautions)
    say.result(data, "\n".join(lines))
    return DONE


def _keep(
    trial: Trial | None, weighed: float | None, batch: ConcreteBatch, corrections: Mapping[str, SlurryCorrection]
) -> Path:
    """Save the weighed cup next to the trial's recording; returns the file."""
    cup = corrections.get("cup")
    if trial is None or weighed is None or cup is None or cup.survival is None:
        raise InputError("a cup is saved with its trial", where="--keep-cup", remedy="Give --trial and --cup as well")
    keep_cup(trial.path, weighed, batch.mix.cast_density, cup.survival)
    return trial.path.with_suffix(".toml")


def _figure(typed: Estimate | None, u: float | None, name: str) -> Estimate | None:
    """A figure of the foam from the command line; ``u`` : its standard uncertainty, where it is given apart."""
    if typed is None:
        return None
    option = f"--{name.replace('_', '-')}"
    check_figure(name, typed.value, option)
    said = ("given on the command line",)
    if u is None:
        return replace(typed, assumptions=said)
    if WITH_INTERVAL in typed.assumptions:
        raise InputError(
            "the interval and its standard uncertainty are both given",
            where=f"--u{option[1:]}",
            remedy=f"Leave one of them out; {option} has an interval already",
        )
    return Estimate.normal(typed.value, u, typed.unit, assumptions=said)


def _foam(options: Namespace) -> tuple[Trial | None, MeasuredFoam]:

    trial: Trial | None = None
    trials: tuple[Trial, ...] = ()
    dilution = survival = reservoir = None
    if options.trial is not None:
        notebook = open_notebook(options.folder or default_folder())
        trial, trials = notebook.trial(options.trial), notebook.trials
    density = _figure(options.foam_density, options.u_foam_density, "foam_density")
    output = _figure(options.foam_output, options.u_foam_output, "foam_output")
    if options.dilution is not None:
        try:
            dilution = read_dilution(options.dilution)
        except ValueError as error:
            raise InputError(str(error), where="--dilution") from error
    if options.survival is not None:
        survival = replace(options.survival, assumptions=("given on the command line",))
    if options.reservoir is not None:
        reservoir = options.reservoir
    given: dict[str, Any] = {"density": density, "output": output, "dilution": dilution}
    given |= {"survival": survival, "reservoir": reservoir}
    try:
        return trial, foam_for_batch(trial, trials, **given)
    except InputError as error:
        remedy = "Give --foam-density, or a --trial with one"
        raise InputError(error.what, where=error.where, remedy=remedy) from error
