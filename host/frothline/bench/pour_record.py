"""A pour recorded from a form or the command line, prefilled from one mix of a pour plan; and its corrections."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from frothline.bench.pour_questions import and_asked, questions_of
from frothline.bench.record_entries import PourEntry, changed_entries, file_texts, labels_of, record_path, wrong_of
from frothline.pours.later_entries import change_entries
from frothline.pours.new_pour import new_pour
from frothline.pours.plan import PourPlan
from frothline.pours.record import FOLDER, read_pour, wrong_pour_entry
from frothline.units import entry_unit

FORM = "record"


ENTRIES: tuple[PourEntry, ...] = (
    PourEntry("name", "", "", "Name of the file", "like 04-12-kerb"),
    PourEntry("trial", "trial", "", "Trial of the foam"),
    PourEntry("title", "title", "", "Title"),
    PourEntry("poured", "poured", "", "Time of the pour", "now, if empty; like 2025-04-12 15:30"),
    PourEntry("wanted-density", "wanted_density", "density", "Wanted density"),
    PourEntry("wanted-volume", "wanted_volume", "concrete", "Wanted volume"),
    PourEntry("cement", "masses.cement", "bag", "Cement put in"),
    PourEntry("sand", "masses.sand", "bag", "Sand put in"),
    PourEntry("water", "masses.water", "bag", "Water put in"),
    PourEntry("foam", "masses.foam", "bag", "Foam put in, mass", "the mixer weighed before and after"),
    PourEntry("foam-volume", "masses.foam_volume", "volume", "Foam put in, volume"),
    PourEntry("slurry", "slurry.density", "density", "Slurry density", "or the three weighings"),
    PourEntry("slurry-container", "slurry.container", "volume", "Slurry cup, volume"),
    PourEntry("slurry-empty", "slurry.empty", "mass", "Slurry cup, empty"),
    PourEntry("slurry-full", "slurry.full", "mass", "Slurry cup, full"),
    PourEntry("cup", "cup.density", "density", "Density with the foam", "or the three weighings"),
    PourEntry("cup-container", "cup.container", "volume", "Cup with the foam, volume"),
    PourEntry("cup-empty", "cup.empty", "mass", "Cup with the foam, empty"),
    PourEntry("cup-full", "cup.full", "mass", "Cup with the foam, full"),
    PourEntry("cone-time", "flow.cone_time", "", "Cone time", "s, until the cone is empty"),
    PourEntry("spread", "flow.spread", "length", "Spread"),
    PourEntry("slurry-temperature", "temperatures.slurry", "temperature", "Temperature of the slurry"),
    PourEntry("air-temperature", "temperatures.air", "temperature", "Temperature of the air"),
    PourEntry("cast", "cast.volume", "concrete", "Volume cast", "by the mould"),
    PourEntry("lift", "cast.lift", "length", "Depth of the pour"),
    PourEntry("note", "note", "", "Note"),
)


BY_NAME = {one.name: one for one in ENTRIES}


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
    found = {}
    for name, value in figures.items():
        unit = entry_unit(BY_NAME[name].kind, system)
        found[name] = f"{unit.from_si(value):.4g} {unit.symbol}"
    return found


def record_pour(folder: Path, texts: Mapping[str, str], system: str = "metric") -> Path:
    """Write a pour into a folder of recordings from texts by name; numbers without a unit are those of ``system``.

    Raises InputError with every entry that cannot be read; nothing is written then. RecordingUnwritable.
    """
    entries = file_texts(texts, ENTRIES, "a pour", system)
    trial, title = entries.pop("trial", ""), entries.pop("title", "")
    return new_pour(folder, texts.get("name", "").strip(), trial=trial, title=title, entries=entries)


def correct_pour(folder: Path, pour: str, texts: Mapping[str, str], system: str = "metric", seen: str = "") -> str:
    """Change entries of a pour; an unchanged text stays as it is written, an empty one takes the entry out.

    Cubes and the rise or sink have functions of their own, see ``cube_record``.

    seen : stamp of the pour as the page showed it; another one is refused. Returns what was done; raises as
    ``record_pour``.
    """
    path = record_path(folder, "pour", pour)
    record = read_pour(path)
    place = f"{FOLDER}/{path.name}"
    changed = changed_entries(ENTRIES, record.written, texts, "a pour", system, place, seen)
    if not changed:
        return "Nothing was changed"
    before = questions_of(path)
    change_entries(path, changed)
    said = f"Pour corrected in {place}: {labels_of(ENTRIES, changed)}; what was written stays there as a comment"
    return and_asked(said, path, before)


def wrong_entries(texts: Mapping[str, str], system: str = "metric") -> dict[str, str]:
    """Name of each typed entry that cannot be read -> what is wrong with it."""
    return wrong_of(texts, ENTRIES, "a pour", system, wrong_pour_entry)
