"""Whether two sheets describe one generator, so that what was weighed of one tells of the other.

What lies before it, how much the reservoir holds and how warm the water was change the run, not whose foam it is.
"""

from __future__ import annotations

from math import isclose
from typing import Any

from frothline.generator.build import Build, Difference, differences

ELSEWHERE = ("connection.", "hose.")  # parts that no foam passes through
OF_THE_RUN = ("reservoir.volume", "reservoir.flow", "solution.temperature")
NOT_IN_AIR_PATH = ("reservoir.volume", "reservoir.filling", "solution.dilution", "solution.agent")
ALIKE = 1e-3  # relative: a sheet that was written again gives its figures rounded


def makes_same_foam(one: Build, other: Build) -> bool:
    """Whether samples of one tell of the foam of the other."""
    return all(
        change.path.startswith(ELSEWHERE) or change.path in OF_THE_RUN or _alike(change.before, change.after)
        for change in differences(one, other)
    )


def has_same_air_path(one: Build, other: Build) -> bool:
    """Whether sweeps through one tell what the other needs: the same air way, and the same solution flow."""
    return not air_path_differences(one, other)


def air_path_differences(one: Build, other: Build) -> tuple[Difference, ...]:
    """Entries that differ and that the pressure drop depends on; what only rounding changed is left out."""
    return tuple(
        change
        for change in differences(one, other)
        if change.path not in NOT_IN_AIR_PATH and not _alike(change.before, change.after)
    )


def _alike(before: Any, after: Any) -> bool:
    numbers = isinstance(before, int | float) and isinstance(after, int | float)
    return numbers and isclose(before, after, rel_tol=ALIKE)
