"""The record of pours as rows, as data, and as a report."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_cautions import CAUTIONS
from frothline.formatting import RATIO, full_text, interval_text, value_text
from frothline.pours.entries import DAY
from frothline.pours.record import PourRecord
from frothline.pours.strength import FEWEST, strengths, typical_range
from frothline.report.html_page import Report, figure_rows, page, section, table, words
from frothline.rounding import counted
from frothline.trials.figures import BY_NAME, CONCRETE, unit_of
from frothline.trials.notebook import Notebook
from frothline.trials.pours import Pour
from frothline.units import METRIC, Unit

Rows = Sequence[tuple[str, Estimate | None, Unit, str]]
LITERATURE = "published 7-day range at this dry density, no prediction"


def pour_rows(pour: Pour, system: Mapping[str, Unit] = METRIC) -> Rows:
    """Figures of one pour: label, estimate, unit, and the reason of an unknown one."""
    outcome = pour.outcome
    rows: list[tuple[str, Estimate | None, Unit, str]] = [
        (BY_NAME[name].label, pour.figure(name), unit_of(BY_NAME[name], system), pour.why(name)) for name in CONCRETE
    ]
    more = (("volume made", "made", system["volume"]), ("yield, made over wanted", "yield_ratio", RATIO))
    rows += [(label, getattr(outcome, name), unit, outcome.why.get(name, "")) for label, name, unit in more]
    rows.append(("air content", outcome.air, RATIO, outcome.why.get("air", "")))
    rows += [
        (f"measured strength, {days:g} days", estimate, system["strength"], "")
        for days, estimate in strengths(pour.record).items()
    ]
    return rows


def pour_facts(pour: Pour, system: Mapping[str, Unit] = METRIC) -> list[tuple[str, str]]:
    """What was written of a pour, and published ranges, as label and text."""
    record = pour.record
    facts = [("foam of trial", record.trial or "not written")]
    if record.poured is not None:
        facts.append(("poured", str(record.poured).replace("T", " ")[:16]))
    for label, value, quantity in (
        ("cone time", record.cone_time, "time"),
        ("spread", record.spread, "length"),
        ("lift", record.lift, "length"),
        ("volume cast", record.cast_volume, "volume"),
    ):
        if math.isfinite(value):
            facts.append((label, f"{system[quantity].from_si(value):.3g} {system[quantity].symbol}"))
    if math.isfinite(pour.outcome.water_cement):
        facts.append(("water to cement with the foam's water", f"{pour.outcome.water_cement:.2f}"))
    dry = pour.outcome.dry_density
    if dry is not None and (found := typical_range(dry.value)) is not None:
        unit = system["strength"]
        low, high = (unit.from_si(end) for end in found)
        facts.append((LITERATURE, f"{low:.3g} to {high:.3g} {unit.symbol}"))
    if record.note:
        facts.append(("note", record.note))
    return facts


def pour_data(pour: Pour) -> dict[str, Any]:
    """A pour as plain JSON, SI."""
    record, outcome = pour.record, pour.outcome
    names = (*CONCRETE, "made", "yield_ratio", "air")
    figures = {name: pour.figure(name) if name in CONCRETE else getattr(outcome, name) for name in names}
    return {
        "name": pour.name,
        "title": record.title,
        "trial": record.trial,
        "poured": None if record.poured is None else record.poured.isoformat(),
        "simulated": record.simulated,
        **{name: None if one is None else one.as_dict() for name, one in figures.items()},
        "water_cement": _known(outcome.water_cement),
        "specimens": [
            {
                "age": _known(one.age),
                "density": _known(one.density),
                "dry_density": _known(one.dry_density),
                "strength": _known(one.strength),
            }
            for one in record.specimens
        ],
        "why": {name: pour.why(name) for name, one in figures.items() if one is None},
        "problems": list(pour.problems),
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def pours_report(notebook: Notebook, *, system: Mapping[str, Unit] = METRIC) -> Report:
    """Report of all pours of a notebook. Raises InputError without one."""
    book = notebook.pours
    if not book.pours:
        raise InputError(
            "no pour is recorded in this folder",
            where=str(notebook.folder),
            remedy="Write one with frothline pours --new, and fill it in",
        )
    law = list(book.law.words) if book.law else [f"fewer than {FEWEST} own specimens: strengths are not compared"]
    problems = [*book.problems, *(said for one in book.pours for said in one.problems)]
    sections = [
        section("Pours side by side", _side_by_side(book.pours, system)),
        section("To answer", words(problems)),
        section("Strength law of the own specimens", words(law)),
        *(
            section(one.record.title, figure_rows(pour_rows(one, system)), table(["", ""], pour_facts(one, system)))
            for one in book.pours
        ),
        section("Specimens", table(*_specimens([one.record for one in book.pours], system), right=(2, 3, 4))),
        section("Cautions", words(CAUTIONS, "caution")),
    ]
    names = [text for one in book.pours for text in (one.name, one.record.title, one.record.trial) if text]
    return page(
        f"Pours: {notebook.folder.name}",
        counted(len(book.pours), "pour"),
        sections,
        {"pours": [pour_data(one) for one in book.pours], "problems": problems},
        simulated=any(one.record.simulated for one in book.pours),
        system=system,
        names=names,
    )


def _side_by_side(pours: Sequence[Pour], system: Mapping[str, Unit]) -> str:
    rows = []
    for one in pours:
        cells = []
        for name in CONCRETE:
            unit = unit_of(BY_NAME[name], system)
            text, under = value_text(one.figure(name), unit), interval_text(one.figure(name), unit)
            cells.append(f"{text} ({under})" if under else text)
        rows.append([one.record.title, one.record.trial, *cells])
    return table(["pour", "foam of trial", *(BY_NAME[name].label for name in CONCRETE)], rows, kind="many")


def _specimens(records: Sequence[PourRecord], system: Mapping[str, Unit]) -> tuple[list[str], list[list[str]]]:
    head = ["pour", "shape", "age", "density", "strength"]
    rows = [
        [
            record.title,
            one.shape,
            f"{one.age / DAY:.3g} d" if math.isfinite(one.age) else "not written",
            *(
                full_text(Estimate.normal(value, math.nan, ""), system[quantity]).split(" (")[0]
                if math.isfinite(value)
                else "not written"
                for value, quantity in ((one.density, "density"), (one.strength, "strength"))
            ),
        ]
        for record in records
        for one in record.specimens
    ]
    return head, rows
