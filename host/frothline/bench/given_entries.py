"""Entries of a record given in Python: texts as page and prompt have them, numbers in SI; and what was written."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from numbers import Real
from pathlib import Path
from typing import Any

from frothline.bench.folders import default_folder
from frothline.bench.record_entries import SECONDS, UNITS_OF_TIMES, PourEntry
from frothline.errors import InputError
from frothline.presentable import Observations, Presentable
from frothline.quantities import unknown_entry
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial
from frothline.units import entry_unit

Folder = str | Path | Notebook | None


@dataclass(frozen=True, repr=False)
class Saved(Presentable):
    """What was written: ``said`` is the sentence of page and prompt, ``path`` the file, or the folder of several."""

    said: str
    path: Path

    def _title(self) -> str:
        return self.said

    def _observations(self) -> Observations:
        return Observations(({"file": str(self.path), "said": self.said},), {"file": "", "said": ""})

    def _names(self) -> Sequence[str]:
        return (self.path.name,)


def folder_of(folder: Folder) -> Path:
    """The folder of the recordings. FROTHLINE_FOLDER, else ``~/Frothline``, if not given."""
    if isinstance(folder, Notebook):
        return folder.folder
    return default_folder() if folder is None else Path(folder)


def trial_name(trial: Trial | str) -> str:
    """Name of a trial."""
    return trial.name if isinstance(trial, Trial) else str(trial)


def texts_of(
    entries: Mapping[str, Any],
    known: Sequence[PourEntry],
    where: str,
    *,
    but: Sequence[str] = (),
    emptied: bool = False,
) -> dict[str, str]:
    """Texts by the name of the entry, from keywords of Python.

    but : known entries that are not taken;  emptied : entries without a value are empty texts, else left out

    Raises InputError for an unknown name, and a value that is neither a text nor a number.
    """
    kinds = {one.name: one.kind for one in known if one.name not in but}
    found = {}
    for given, value in entries.items():
        name = given.replace("_", "-")
        if name not in kinds:
            shown = dict.fromkeys(one.replace("-", "_") for one in kinds)
            raise InputError(unknown_entry(given, shown), where=where, remedy="Give entries by these names")
        text = text_of(given, value, kinds[name], where)
        if text or emptied:
            found[name] = text
    return found


def text_of(name: str, value: Any, kind: str, where: str) -> str:
    """A value as page and prompt have it: a number with the unit of its entry, a text unchanged."""
    if value is None or isinstance(value, str):
        return value or ""
    of_time = UNITS_OF_TIMES.get(name.replace("_", "-"), "")
    if isinstance(value, bool) or not isinstance(value, Real) or not (kind or of_time):
        raise InputError(f"“{str(value)[:40]}” is not a text", where=f"{where}: {name}", remedy="Write it in quotes")
    number = float(value)
    if not math.isfinite(number):
        raise InputError(f"{number} is not a number", where=f"{where}: {name}", remedy="Give a number, or leave it out")
    if of_time:
        return f"{number / SECONDS[of_time]:.12g} {of_time}"
    unit = entry_unit(kind, "metric")
    return f"{unit.from_si(number):.12g} {unit.symbol}"
