"""The form of a concrete batch: its entries, their problems, and the batch calculated from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from frothline.errors import FrothlineError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import (
    ConcreteBatch,
    mix_batch,
)
from frothline.foam.dilution import Dilution
from frothline.foam.life import life_by_drainage
from frothline.pours.plan_entries import read_foam_figure
from frothline.quantities import read_number, read_quantity
from frothline.run.state import RunState, no_foam_reason
from frothline.trials.trial_foam import drained_of

FORM = "batch"


START = {
    "density": "600 kg/m³",
    "dry": "cast",
    "volume": "200 L",
    "water": "0.5",
    "sand": "0",
    "bag": "25 kg",
    "bucket": "10 L",
}


# Name, label, remark, and kind of value: "number", "share", or a key of ``units.ENTRY_UNITS``.
ENTRIES: tuple[tuple[str, str, str, str], ...] = (
    ("density", "Target density", "", "density"),
    ("volume", "Volume to fill", "", "concrete"),
    ("water", "Water to cement, by mass", "", "number"),
    ("sand", "Sand to cement, by mass", "0 without sand", "number"),
    ("bag", "Bag size", "", "bag"),
    ("bucket", "Bucket for the foam", "", "volume"),
    ("foam", "Foam density", "empty: as weighed in this run; or like 75 kg/m³ (73 to 77)", "density"),
    ("output", "Foam rate", "empty: as in this run; or like 60 L/min (55 to 65)", "flow"),
    ("survival", "Air surviving the mixer", "empty: by cups, else assumed; or like 90 % (85 to 95)", "share"),
)


_ENTRY_OF = {  # field name in the check of a batch -> entry of the form
    "batch: volume": "volume",
    "batch: water_cement": "water",
    "batch: sand_cement": "sand",
    "batch: bag": "bag",
    "batch: bucket": "bucket",
    "batch: foam density": "foam",
    "batch: foam output": "output",
    "batch: survival": "survival",
}


# Field name -> entry of a pour plan that it is too.
_FOAM = {"foam": "foam-density", "output": "output", "survival": "survival"}


@dataclass(frozen=True)
class WorkedBatch:
    """Result of the form: the batch, or the problem of each wrong entry."""

    batch: ConcreteBatch | None
    foam: MeasuredFoam | None
    wrong: Mapping[str, str]
    source: str  # source of the foam's figures, as text
    ends: tuple[ConcreteBatch | None, ConcreteBatch | None] = (
        None,
        None,
    )  # the batch at the lower and upper limit of the foam's density
    no_output: str = ""  # reason why the foam output is unknown


def typed(wish: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """The entries as typed on this page; entries never edited have their default."""
    names = [*START, *_FOAM, "slurry", "cup"]
    found = {}
    for name in names:
        said = wish.get(f"{FORM}-{name}")
        found[name] = START.get(name, "") if said is None else "".join(said[:1]).strip()
    return found


def worked(
    values: Mapping[str, str],
    run: RunState | None,
    dilution: Dilution,
    habits: Mapping[str, Any] | None = None,
    system: str = "metric",
) -> WorkedBatch:
    """Calculate the batch with the foam of the run or the typed foam; ``habits`` as returned by ``foam_habits``.

    system : units of numbers that are typed without one
    """
    wrong: dict[str, str] = {}
    read: dict[str, float] = {}
    stated: dict[str, Estimate] = {}
    for name, label, _, kind in (*ENTRIES, *CORRECTIONS):
        text = values.get(name, "")
        if text:
            try:
                if name in _FOAM:
                    stated[name] = read_foam_figure(_FOAM[name], text, system, limited=kind == "share")
                else:
                    read[name] = _read(text, kind, system)
            except ValueError as error:
                wrong[name] = str(error)
        elif name in START:
            wrong[name] = f"Enter the {label[:1].lower()}{label[1:]}."
    known = dict(habits or {}) | ({"survival": stated["survival"]} if "survival" in stated else {})
    foam, source, no_output = foam_of(stated.get("foam"), stated.get("output"), run, dilution, known)
    if foam is None:
        return WorkedBatch(None, None, wrong, source)
    if wrong:
        return WorkedBatch(None, foam, wrong, source)
    order = BatchOrder(
        density=read["density"],
        volume=read["volume"],
        water_cement=read["water"],
        sand_cement=read["sand"],
        dry=values.get("dry") == "dry",
        bag=read["bag"],
        bucket=read["bucket"],
    )
    try:
        ends = tuple(_at(order, foam, density) for density in (foam.density.lower, foam.density.upper))
        return WorkedBatch(mix_batch(order, foam), foam, wrong, source, (ends[0], ends[1]), no_output)
    except FrothlineError as error:
        wrong[_ENTRY_OF.get(error.where, "density")] = f"{error.what}. {error.remedy}".strip()
        return WorkedBatch(None, foam, wrong, source)


def _at(order: BatchOrder, foam: MeasuredFoam, density: float) -> ConcreteBatch | None:
    """The batch with foam of another density; None where no batch is possible."""
    try:
        return mix_batch(order, replace(foam, density=Estimate.normal(density, 0.0, "kg/m3")))
    except FrothlineError:
        return None


def _read(text: str, kind: str, system: str = "metric") -> float:
    value = read_number(text) if kind == "number" else read_quantity(text, kind, system)
    if not isfinite(value) or value < 0:
        raise ValueError(f"“{text}” cannot be used here")
    return value


def foam_of(
    density: Estimate | None,
    output: Estimate | None,
    run: RunState | None,
    dilution: Dilution,
    habits: Mapping[str, Any],
) -> tuple[MeasuredFoam | None, str, str]:
    """The foam, the source of its figures, and the reason why its output is unknown.

    density, output : as entered, None to take those of the run
    """
    no_output = "no run yet" if run is None else run.output.why.get("foam_rate", "")
    stopping = "" if run is None else no_foam_reason(run)
    words = []
    if density is not None:
        words.append(f"foam density as entered, uncertainty {_per_cent(density)} %")
    elif run is not None and run.output.density is not None and run.output.density.known:
        density = run.output.density
        words.append("foam density of this run" + ("" if run.samples else ", not weighed yet"))
    if output is not None:
        words.append(f"output as entered, uncertainty {_per_cent(output)} %")
    elif stopping:
        no_output = stopping
    elif run is not None and run.output.foam_rate is not None and run.output.foam_rate.known:
        output = run.output.foam_rate
        words.append("output of this run")
    if density is None:
        return None, "The foam's density is not known: weigh a sample in a run, or enter it here.", no_output
    said = ". ".join(text[:1].upper() + text[1:] for text in words) + "."
    drainage, sample = drained_of([] if run is None else [one.sample for one in run.samples if one.counts], [])
    life = life_by_drainage(drainage, "samples of this run", None if sample is None else sample.depth)
    habits = habits if life is None else {**habits, "life": life}
    more = {**habits, "agent_parts": dilution.parts, "convention": dilution.convention}
    return MeasuredFoam(density, output, **more), said, no_output


def _per_cent(one: Estimate) -> str:
    """Half the 95 % interval of an entered figure, in per cent of it."""
    return f"{200 * one.standard_uncertainty / one.value:.2g}"


CORRECTIONS: tuple[tuple[str, str, str, str], ...] = (
    ("slurry", "Slurry as weighed, without foam", "", "density"),
    ("cup", "Cup as weighed, with foam", "before the pour", "density"),
)
