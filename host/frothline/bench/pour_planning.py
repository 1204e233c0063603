"""The pour plan for page, command line and Python: entries, the foam of a trial or run, and the price file together."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from frothline.errors import FrothlineError, InputError
from frothline.foam.batch_order import MeasuredFoam
from frothline.pours.plan import MEASURED, PourPlan, make_plan
from frothline.pours.plan_entries import BY_NAME, read_entries
from frothline.pours.plan_file import PRICES, TRIAL, read_plan_file
from frothline.pours.plan_order import order_of
from frothline.pours.prices import FILE, Prices, read_prices
from frothline.trials.notebook import open_notebook
from frothline.trials.trial import Trial
from frothline.trials.workshop_foam import foam_for_batch
from frothline.units import ENTRY_UNITS

FoamOf = Callable[[Mapping[str, Any]], MeasuredFoam]
_BATCH_NAMES = {  # place of an error of the batch -> entry
    "volume": "volume",
    "water_cement": "water-cement",
    "sand_cement": "sand-cement",
    "foam density": "foam-density",
    "foam output": "output",
    "foam": "foam-density",
}


@dataclass(frozen=True)
class WorkedPlan:
    """A plan, or None with everything that is ``wrong`` by name of the entry."""

    plan: PourPlan | None
    wrong: Mapping[str, str]


def work_plan(
    given: Mapping[str, Any],
    system: str = "metric",
    *,
    foam_of: FoamOf,
    prices: Prices | None = None,
    source: str = MEASURED,
    wrong: Mapping[str, str] | None = None,
    seed: int = 0,
    simulated: bool = False,
) -> WorkedPlan:
    """Plan a pour from raw entries by name.

    system : units of numbers without one
    foam_of : the foam for the entries that were read; may raise InputError
    wrong : problems found before;  seed : of the simulation
    """
    values, problems = read_entries(given, system)
    order, found = order_of(values, {**(wrong or {}), **problems})
    try:
        foam = foam_of(values)
        if "start-up" in values:
            foam = replace(foam, start_up=values["start-up"])
    except FrothlineError as error:
        found.setdefault(_place(error, "foam-density"), _said(error))
        return WorkedPlan(None, found)
    if order is None:
        return WorkedPlan(None, found)
    try:
        plan = make_plan(order, foam, prices, source=source, seed=seed, simulated=simulated)
        return WorkedPlan(plan, found)
    except FrothlineError as error:
        return WorkedPlan(None, {_place(error, "density"): _said(error)})


def _place(error: FrothlineError, otherwise: str) -> str:
    name = error.where.removeprefix("batch: ")
    name = _BATCH_NAMES.get(name, name)
    return name if name in BY_NAME else otherwise


def _said(error: FrothlineError) -> str:
    return f"{error.what}. {error.remedy}".strip(". ")


def foam_from(values: Mapping[str, Any], trial: Trial | None, trials: tuple[Trial, ...]) -> MeasuredFoam:
    """The foam of a plan: of a trial, or as given; given figures take precedence. Raises InputError."""
    return foam_for_batch(
        trial,
        trials,
        density=values.get("foam-density"),
        output=values.get("output"),
        dilution=values.get("dilution"),
        survival=values.get("survival"),
        reservoir=values.get("reservoir"),
    )


def plan_pour(
    path: Path | None = None,
    given: Mapping[str, Any] | None = None,
    *,
    system: str = "metric",
    folder: Path | None = None,
    trial: Trial | None = None,
    prices: Path | None = None,
    seed: int = 0,
) -> PourPlan:
    """The plan of a file, of entries, or of both; entries take precedence.

    path : of the plan file
    given : raw entries by name, with ``trial`` and ``prices``;  system : units of their numbers without one
    folder : of the trials, default that of the plan file;  trial : that made the foam;  prices : price file

    Raises InputError with everything that is wrong.
    """
    raw, wrong = ({}, {}) if path is None else read_plan_file(path)
    if system != "metric":  # a bare number in a file is metric; on the command line it is in the reader's units
        raw = {name: _with_metric_unit(name, value) for name, value in raw.items()}
    merged = {**raw, **(given or {})}
    if {"length", "width", "height"} & set(given or {}) and "volume" not in (given or {}):
        merged.pop("volume", None)
    if "volume" in (given or {}):
        for name in {"length", "width"} - set(given or {}):
            merged.pop(name, None)
    near = folder or (path.parent if path is not None else None)
    name = str(merged.pop(TRIAL, "") or "")
    price_file = _price_file(prices, merged.pop(PRICES, None), near)
    trials: tuple[Trial, ...] = ()
    if trial is None and name:
        book = open_notebook(near) if near is not None else None
        if book is None:
            raise InputError(f"the folder of trial “{name[:60]}” is not known", where="trial", remedy="Give the folder")
        trial, trials = book.trial(name), book.trials
    elif trial is not None:
        trials = open_notebook(trial.path.parent).trials
    found = work_plan(
        merged,
        system,
        foam_of=lambda values: foam_from(values, trial, trials),
        prices=None if price_file is None else read_prices(price_file),
        source=MEASURED if trial is None else trial.title,
        wrong=wrong,
        seed=seed,
        simulated=trial is not None and trial.simulated,
    )
    if found.plan is None:
        raise all_problems(found.wrong, "" if path is None else str(path))
    return found.plan


def _with_metric_unit(name: str, value: Any) -> Any:

    entry = BY_NAME.get(name)
    kind = "" if entry is None else entry.kind.rpartition("-")[2]
    bare = isinstance(value, (int, float)) and not isinstance(value, bool)
    return f"{value} {ENTRY_UNITS[kind]['metric']}" if bare and kind in ENTRY_UNITS else value


def _price_file(given: Path | None, written: Any, near: Path | None) -> Path | None:
    """The price file: as given, as written in the plan, or the one of the usual name that is there."""
    if given is not None:
        return given
    if written:
        return (near or Path()) / str(written)
    usual = None if near is None else near / FILE
    return usual if usual is not None and usual.is_file() else None


def all_problems(wrong: Mapping[str, str], where: str = "") -> InputError:
    """One error with everything that is wrong, one entry a line."""
    lines = [f"{BY_NAME[name].path if name in BY_NAME else name}: {text}" for name, text in wrong.items()]
    if len(lines) == 1:
        return InputError(lines[0], where=where or "pour plan")
    head = f"{len(lines)} entries cannot be used"
    return InputError("\n  ".join([head, *lines]), where=where or "pour plan")
