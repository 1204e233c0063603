"""Steady points and refused stretches as rows of a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import nan
from pathlib import Path
from typing import Any

from frothline.curve.steady import Refusal
from frothline.curve.steady_points import SteadyPoint

_UNITS = {
    "start": "s",
    "end": "s",
    "flow": "m3/s",
    "u_flow": "m3/s",
    "pressure": "Pa",
    "u_pressure": "Pa",
    "covariance": "Pa m3/s",
    "mass_flow": "kg/s",
    "line_temperature": "K",
    "ambient_density": "kg/m3",
}


def point_units() -> dict[str, str]:
    """Units of the columns of ``point_rows``."""
    return {"recording": "", "used": "", **_UNITS, "reason": ""}


def point_rows(
    recordings: Sequence[Path], points: Sequence[SteadyPoint], refused: Sequence[Refusal]
) -> tuple[Mapping[str, Any], ...]:
    """One row per stretch: ``used`` is whether it is a point of the fit, ``reason`` why not.

    A refused stretch has times but no figures; its recording is unknown if there are several.
    """
    rows: list[Mapping[str, Any]] = [
        {
            "recording": recordings[one.source].stem if one.source < len(recordings) else "",
            "used": True,
            **{name: getattr(one, name) for name in _UNITS},
            "reason": "",
        }
        for one in points
    ]
    name = recordings[0].stem if len(recordings) == 1 else ""
    for one in dict.fromkeys(refused):
        missing = dict.fromkeys(_UNITS, nan) | {"start": one.start, "end": one.end}
        rows.append({"recording": name, "used": False, **missing, "reason": one.reason})
    return tuple(rows)
