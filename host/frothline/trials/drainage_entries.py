"""Drainage readings as people write them: “60 s” and “4 mL”, or the mass of the liquid."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from frothline.errors import InputError
from frothline.foam.drainage_curve import DrainageCurve, fit_drainage
from frothline.physics.foam import SOLUTION_DENSITY
from frothline.quantities import read_quantity
from frothline.trials.sample_sidecar import read_time

HOW = "Write each reading like 60s=4mL, or with the mass of the liquid like 60s=4g"


def drainage_of(
    readings: Sequence[tuple[Any, Any]],
    *,
    solution: Any = None,
    depth: Any = None,
    system: str = "metric",
) -> DrainageCurve:
    """The drainage curve of readings in text or SI; ``fit_drainage`` has the fit and its errors.

    readings : (time, volume or mass); text as in a sample, numbers in s and m³
    solution : volume or mass of the solution in the foam;  depth : of the foam
    """
    pairs = []
    for number, (time, drained) in enumerate(readings, 1):
        try:
            pairs.append((read_time(time), _liquid(drained, system)))
        except ValueError as error:
            raise InputError(str(error), where=f"drainage: reading {number}", remedy=HOW) from error
    try:
        whole = None if solution is None else _liquid(solution, system)
        deep = depth if depth is None or not isinstance(depth, str) else read_quantity(depth, "length", system)
    except ValueError as error:
        raise InputError(str(error), where="drainage", remedy="Write it with its unit") from error
    return fit_drainage(pairs, solution=whole, depth=deep)


def _liquid(value: Any, system: str) -> float:
    """m³ of liquid from a volume, or from a mass."""
    if not isinstance(value, str):
        return float(value)
    try:
        return read_quantity(value, "drained", system)
    except ValueError:
        try:
            return read_quantity(value, "mass", system) / SOLUTION_DENSITY
        except ValueError:
            pass
        raise
