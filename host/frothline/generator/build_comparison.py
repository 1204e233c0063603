"""Whether two build sheets describe the same generator, so that foam samples of one are valid for the other.

Parts upstream, the reservoir's volume and the water's temperature change the run, but not the generator's foam.
"""

from __future__ import annotations

from math import isclose
from typing import Any

from frothline.generator.build import Build, Difference, differences

ELSEWHERE = ("connection.", "hose.")  # parts without foam
OF_THE_RUN = ("reservoir.volume", "reservoir.flow", "solution.temperature")
NOT_IN_AIR_PATH = ("reservoir.volume", "reservoir.filling", "solution.dilution", "solution.agent")
ALIKE = 1e-3  # relative: a rewritten sheet has rounded figures


def makes_same_foam(one: Build, other: Build) -> bool:
    """Whether samples of one build are valid for the foam of the other."""
    return all(
        change.path.startswith(ELSEWHERE) or change.path in OF_THE_RUN or _alike(change.before, change.after)
        for change in differences(one, other)
    )


def has_same_air_path(one: Build, other: Build) -> bool:
    """Whether sweeps of one build are valid for the other: the same air path and the same solution flow."""
    return not air_path_differences(one, other)


def air_path_differences(one: Build, other: Build) -> tuple[Difference, ...]:
    """Differing entries that affect the pressure drop; differences by rounding are left out."""
    return tuple(
        change
        for change in differences(one, other)
        if change.path not in NOT_IN_AIR_PATH and not _alike(change.before, change.after)
    )


def _alike(before: Any, after: Any) -> bool:
    numbers = isinstance(before, int | float) and isinstance(after, int | float)
    return numbers and isclose(before, after, rel_tol=ALIKE)
