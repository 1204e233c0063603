"""The pour plan as a form of the page: its entries as typed, and the plan worked from them and the foam of the run."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from frothline.bench.batch_form import foam_of
from frothline.bench.pour_planning import WorkedPlan, work_plan
from frothline.errors import InputError
from frothline.foam.batch_order import MeasuredFoam
from frothline.foam.dilution import Dilution
from frothline.pours.plan import MEASURED
from frothline.pours.plan_entries import BY_NAME, ENTRIES, PlanEntry
from frothline.pours.prices import Prices
from frothline.run.state import RunState

FORM = "pour"
THIS_RUN = "foam of this run"
# Groups of the form, by the table of the plan file; the title is not on the page.
GROUPS = ("form", "concrete", "mixer", "foam", "times")
_WITH = {"team": "mixer", "sources": "foam"}  # tables that share a group


def group_of(entry: PlanEntry) -> str:
    """The group of an entry on the page; empty for one that is not there."""
    table = entry.path.partition(".")[0]
    return _WITH.get(table, table if table in GROUPS else "")


def typed_plan(wish: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """The entries as typed on this page; entries never edited have their usual text."""
    found = {}
    for entry in ENTRIES:
        said = wish.get(f"{FORM}-{entry.name}")
        found[entry.name] = entry.usual if said is None else "".join(said[:1]).strip()
    return found


def touched(wish: Mapping[str, tuple[str, ...]]) -> bool:
    """True if an entry of the plan was edited on this page."""
    return any(f"{FORM}-{name}" in wish for name in BY_NAME)


def worked_plan(
    typed: Mapping[str, str],
    run: RunState | None,
    dilution: Dilution,
    habits: Mapping[str, Any] | None = None,
    system: str = "metric",
    prices: Prices | None = None,
    *,
    simulated: bool = False,
) -> WorkedPlan:
    """The plan of the typed entries; the foam of the run where none is typed, as in the form of a batch.

    simulated : the run is of a simulated rig
    """
    own = bool(typed.get("foam-density") and typed.get("output"))

    def foam(values: Mapping[str, Any]) -> MeasuredFoam:
        given = {**(habits or {})}
        given |= {name: values[name] for name in ("survival", "reservoir") if name in values}
        found, said, _ = foam_of(
            values.get("foam-density"), values.get("output"), run, values.get("dilution", dilution), given
        )
        if found is None:
            raise InputError(said, where="foam-density")
        return found

    source = MEASURED if typed.get("output") else THIS_RUN
    return work_plan(typed, system, foam_of=foam, prices=prices, source=source, simulated=simulated and not own)
