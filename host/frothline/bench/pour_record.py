"""Recording a pour: the entries of a form or of the command line, prefilled from one mix of a pour plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from frothline.errors import InputError
from frothline.pours.new_pour import new_pour
from frothline.pours.plan import PourPlan
from frothline.quantities import with_unit
from frothline.units import entry_unit

FORM = "record"


@dataclass(frozen=True)
class PourEntry:
    """One field: its ``name`` on the page, its ``path`` in the file, the ``kind`` of its figure ("" for a text)."""

    name: str
    path: str
    kind: str
    label: str
    about: str = ""


ENTRIES: tuple[PourEntry, ...] = (
    PourEntry("name", "", "", "Name of the file", "like 04-12-kerb"),
    PourEntry("trial", "trial", "", "Trial of the foam"),
    PourEntry("title", "title", "", "Title"),
    PourEntry("wanted-density", "wanted_density", "density", "Wanted density"),
    PourEntry("wanted-volume", "wanted_volume", "concrete", "Wanted volume"),
    PourEntry("cement", "masses.cement", "bag", "Cement put in"),
    PourEntry("sand", "masses.sand", "bag", "Sand put in"),
    PourEntry("water", "masses.water", "bag", "Water put in"),
    PourEntry("foam-volume", "masses.foam_volume", "volume", "Foam put in"),
    PourEntry("slurry", "slurry.density", "density", "Slurry as weighed"),
    PourEntry("cup", "cup.density", "density", "Cup as weighed"),
    PourEntry("cast", "cast.volume", "concrete", "Volume cast", "by the mould"),
    PourEntry("lift", "cast.lift", "length", "Depth of the pour"),
    PourEntry("note", "note", "", "Note"),
)


def entries_of_plan(plan: PourPlan | None, system: str = "metric") -> dict[str, str]:
    """Texts by name from one mix of a plan, with their units; empty without a plan."""
    if plan is None:
        return {}
    mix = plan.batch.mix
    figures = {
        "wanted-density": mix.cast_density,
        "wanted-volume": plan.batch.order.volume,
        "cement": mix.cement,
        "sand": mix.sand,
        "water": mix.mixer_water,
        "foam-volume": plan.batch.foam_volume,
    }
    kinds = {one.name: one.kind for one in ENTRIES}
    found = {}
    for name, value in figures.items():
        unit = entry_unit(kinds[name], system)
        found[name] = f"{unit.from_si(value):.4g} {unit.symbol}"
    return found


def record_pour(folder: Path, texts: Mapping[str, str], system: str = "metric") -> Path:
    """Write a pour into a folder of recordings from texts by name; numbers without a unit are those of ``system``.

    Raises InputError with every entry that cannot be read; nothing is written then. RecordingUnwritable.
    """
    known = {one.name: one for one in ENTRIES}
    unknown = [name for name in texts if name not in known]
    if unknown:
        raise InputError(
            f"“{unknown[0][:40]}” is not an entry of a pour", where="pour", remedy=f"Known: {', '.join(known)}"
        )
    entries = {
        one.path: with_unit(texts[one.name], one.kind, system) if one.kind else texts[one.name]
        for one in ENTRIES
        if one.path and texts.get(one.name, "").strip()
    }
    trial, title = entries.pop("trial", ""), entries.pop("title", "")
    return new_pour(folder, texts.get("name", "").strip(), trial=trial, title=title, entries=entries)
