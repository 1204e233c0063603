"""The functions behind ``import frothline as fl`` for foaming agents, batches and pours.

As in ``api``: each calls the function used by the pages and the command line. Text is read as on the command line,
numbers are SI.
"""

from __future__ import annotations

from numbers import Real
from pathlib import Path
from typing import Any

from frothline.bench.folders import default_folder
from frothline.bench.pour_planning import plan_pour
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.agent import AgentBook
from frothline.foam.agent_file import read_agents
from frothline.foam.batch_order import BatchOrder
from frothline.foam.concrete_batch import ConcreteBatch, mix_batch
from frothline.foam.dilution import read_dilution
from frothline.pours.plan import PourPlan
from frothline.pours.plan_entries import BY_NAME, read_foam_figure, read_survival
from frothline.quantities import read_quantity
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial
from frothline.trials.workshop_foam import foam_for_batch
from frothline.units import ENTRY_UNITS, entry_unit


def agents(folder: str | Path | None = None) -> AgentBook:
    """The foaming agents of a folder, with the surface tension of their solution by the weight of drops.

    folder : of the recordings, with agents in its folder ``agents``; FROTHLINE_FOLDER, else ``~/Frothline``, if not
    given. ``fl.notebook(folder).compare_agents("drainage")`` compares the agents of its trials
    """
    return read_agents(default_folder() if folder is None else Path(folder))


def batch(
    density: str | float,
    volume: str | float,
    foam: Trial | Estimate | str | float,
    *,
    notebook: Notebook | None = None,
    output: Estimate | str | float | None = None,
    dry: bool = False,
    water_cement: float = 0.5,
    sand_cement: float = 0.0,
    bag: str | float = "25 kg",
    bucket: str | float = "10 L",
    dilution: str | None = None,
    survival: Estimate | str | float | None = None,
    reservoir: str | float | None = None,
) -> ConcreteBatch:
    """A batch of cellular concrete: cement, water, foam, run time, and the density to expect.

    density : target, like "600 kg/m3";  ``dry``: it is the oven-dry density
    volume : to fill, like "120 L"
    foam : a trial, whose density, output, dilution and start-up are used, or a density, like "60 kg/m3" or, with its
        95 % interval, "75 kg/m3 (73 to 77)"
    notebook : its trials give the share of foam that survives mixing; that of the trial's folder if not given
    output : of foam, like "30 L/min" or "60 L/min (55 to 65)", where it is not that of the trial
    bag, bucket, reservoir : cement in one bag, bucket for the foam, solution in the full reservoir
    dilution : "1+30" or "1 in 31"
    survival : share of the foam's air that survives mixing: 0.9, "90 %" or "90 % (85 to 95)"

    Text is read as on the command line; numbers are SI: kg/m³, m³, m³/s, kg.

    Raises InputError for an impossible mix or an unknown figure.
    """
    trial = foam if isinstance(foam, Trial) else None
    trials = () if trial is None else (notebook or Notebook(trial.path.parent)).trials
    order = BatchOrder(
        _quantity(density, "density", "density"),
        _quantity(volume, "volume", "volume"),
        water_cement,
        sand_cement,
        dry=dry,
        bag=_quantity(bag, "mass", "bag"),
        bucket=_quantity(bucket, "volume", "bucket"),
    )
    given = foam_for_batch(
        trial,
        trials,
        density=None if isinstance(foam, Trial) else _foam_figure(foam, "foam-density", "foam"),
        output=None if output is None else _foam_figure(output, "output", "output"),
        dilution=None if dilution is None else _dilution(dilution),
        survival=None if survival is None else _survival(survival),
        reservoir=None if reservoir is None else _quantity(reservoir, "volume", "reservoir"),
    )
    return mix_batch(order, given)


def pour_plan(
    path: str | Path | None = None,
    *,
    trial: Trial | None = None,
    folder: str | Path | None = None,
    prices: str | Path | None = None,
    seed: int = 0,
    **entries: Any,
) -> PourPlan:
    """The plan of a pour: mixes, foam by time, bucket and scale, timetable, lifts, form pressure, shopping, density.

    path : plan file (TOML), see ``frothline.pours.plan_file``
    trial : that made the foam;  folder : of the trials that the plan file names, that of the file if not given
    prices : price file, see ``frothline.pours.prices``; ``prices.toml`` next to the plan file if it is there
    seed : of the simulation of the density
    entries : by name, as the options of ``frothline pourplan``: ``volume="400 L", foam_density="75 kg/m3 (73 to 77)"``;
    they take precedence over the file. Text is read as on the command line, numbers are SI; ``foam_density``,
    ``output``, ``survival`` and ``start_up`` may be estimates

    Raises InputError with everything that is wrong at once.
    """
    return plan_pour(
        None if path is None else Path(path),
        {(entry := name.replace("_", "-")): _plan_entry(entry, value) for name, value in entries.items()},
        folder=None if folder is None else Path(folder),
        trial=trial,
        prices=None if prices is None else Path(prices),
        seed=seed,
    )


def _plan_entry(name: str, value: Any) -> Any:
    """An entry of a plan: a number with its SI unit, as the units of numbers in a file are those of the workshop."""
    kind = BY_NAME[name].kind.rpartition("-")[2] if name in BY_NAME else ""
    if isinstance(value, bool) or not isinstance(value, Real) or not (kind == "span" or kind in ENTRY_UNITS):
        return value
    if kind == "span":
        return f"{float(value):.12g} s"
    unit = entry_unit(kind, "metric")
    return f"{unit.from_si(float(value)):.12g} {unit.symbol}"


def _quantity(value: str | float, kind: str, name: str) -> float:
    if not isinstance(value, str):
        return float(value)
    try:
        return read_quantity(value, kind)
    except ValueError as error:
        raise InputError(str(error), where=f"batch: {name}", remedy="Write it with its unit") from error


def _foam_figure(value: Estimate | str | float, entry: str, name: str) -> Estimate | float:
    """A text with or without its interval, as in a pour plan; numbers are SI."""
    if not isinstance(value, str):
        return value if isinstance(value, Estimate) else float(value)
    try:
        return read_foam_figure(entry, value, limited=False)
    except ValueError as error:
        remedy = "Write it with its unit, and its 95 % interval like “75 kg/m³ (73 to 77)”"
        raise InputError(str(error), where=f"batch: {name}", remedy=remedy) from error


def _survival(value: Estimate | str | float) -> Estimate:
    try:
        return read_survival(value)
    except (ValueError, TypeError, OverflowError) as error:
        remedy = "Give a share like 0.9 or “90 %”, with its interval as “90 % (85 to 95)”, or an estimate"
        raise InputError(str(error), where="batch: survival", remedy=remedy) from error


def _dilution(text: str) -> Any:
    try:
        return read_dilution(text)
    except ValueError as error:
        raise InputError(str(error), where="batch: dilution", remedy="Write it like 1+30") from error
