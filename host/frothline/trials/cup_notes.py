"""Weighed cups of foamed concrete, saved as ``[[cup]]`` tables in the TOML next to the foam's recording.

[[cup]]
density = "652 kg/m3"      # as weighed
wanted = "600 kg/m3"       # by the sheet
survival = 0.86            # share of the foam's air that the cup implied
u_survival = 0.02          # its standard uncertainty
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.trials.sample_sidecar import append_table


def read_cup(table: Any, where: str) -> Estimate:
    """Read the survival of a ``[[cup]]`` table. Raises InputError with the entry."""
    if not isinstance(table, Mapping):
        raise InputError("“cup” is not a list of tables", where=where, remedy="Write each cup below [[cup]]")
    found = {}
    for key, high in (("survival", 1.0), ("u_survival", 0.5)):
        value = table.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            raise InputError(f"“{key}” is missing or not a number", where=where, remedy=f"Write it like {key} = 0.05")
        if not 0.0 < value <= high:
            raise InputError(f"{key} {value:g} is not plausible", where=where, remedy=f"Give up to {high:g}")
        found[key] = float(value)
    return Estimate.normal(found["survival"], found["u_survival"], "1", assumptions=("by a weighed cup",))


def keep_cup(path: Path, cup_density: float, wanted: float, survival: Estimate) -> None:
    """Append a cup (weighed and target density, kg/m³) to the TOML next to the recording ``path``.

    Raises as ``sample_sidecar.append_table``.
    """
    entry = {
        "density": f"{cup_density:.4g} kg/m3",
        "wanted": f"{wanted:.4g} kg/m3",
        "survival": round(survival.value, 4),
        "u_survival": round(max(survival.standard_uncertainty, 1e-4), 4),
    }
    append_table(path.with_suffix(".toml"), "cup", entry)
