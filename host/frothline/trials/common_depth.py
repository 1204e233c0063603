"""Conversion of drainage times to a common foam depth.

Free drainage of a foam of height H takes a time in proportion to H (kinematic waves; Koehler, Hilgenfeldt and Stone,
Langmuir 16, 2000, from memory). Real foams scatter about that, so the exponent has an uncertainty. The diameter of the
container does not matter. A drainage time depends on the depth as well as on the foam; effects, comparisons and plans
use the times of this module. Times of unknown depth are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, log
from typing import TYPE_CHECKING

from frothline.estimate import Estimate

if TYPE_CHECKING:
    from frothline.trials.trial import Trial

COMMON = 0.2  # m: the depth of a 6 L drainage pan of the fire services (standard pans, from memory)
U_DEPTH = 0.005  # m, standard uncertainty of a ruler reading in foam; judgement, no source
U_EXPONENT = 0.2  # standard uncertainty of the exponent 1; judgement, no source
ALIKE = 0.05  # relative: depths that differ less are compared unchanged
UNKNOWN = "its depth of foam is not recorded, and drainage depends on it"


def at_depth(drainage: Estimate, depth: float, common: float = COMMON) -> Estimate:
    """Convert a drainage time from one depth (m) to another: t H0/H with its uncertainty."""
    ratio = common / depth
    value = drainage.value * ratio
    u = hypot(drainage.standard_uncertainty / drainage.value, hypot(U_DEPTH / depth, U_EXPONENT * log(ratio)))
    said = f"corrected from {depth * 1e3:.0f} to {common * 1e3:.0f} mm of foam"
    return Estimate.positive(value, u, drainage.unit, assumptions=(*drainage.assumptions, said))


def comparable(trials: Sequence[Trial], response: str) -> tuple[list[Estimate | None], tuple[str, ...]]:
    """A figure of each trial in comparable form, with notes.

    All figures but drainage are as measured. Drainage is as measured if all depths are equal, or if no depth is known
    and all containers are equal. Otherwise it is converted to COMMON, and a trial without a depth has none.
    """
    figures = [one.figure(response) for one in trials]
    if response != "drainage":
        return figures, ()
    pairs = [(one, e) for one, e in zip(trials, figures, strict=True) if e is not None and e.known]
    depths = {one.name: one.drainage_depth for one, _ in pairs}
    known = [depth for depth in depths.values() if depth is not None]
    containers = {one.drainage_container for one, _ in pairs}
    if not known and len(containers) <= 1:
        return figures, ()
    if len(known) == len(pairs) and max(known, default=1.0) <= (1.0 + ALIKE) * min(known, default=1.0):
        return figures, ()
    found: list[Estimate | None] = []
    without = []
    for one, estimate in zip(trials, figures, strict=True):
        depth = depths.get(one.name)
        if estimate is not None and estimate.known and depth is None:
            without.append(one.title)
        usable = estimate is not None and estimate.known and depth is not None
        found.append(at_depth(estimate, depth) if usable and estimate is not None and depth is not None else None)
    words = []
    if known:
        words.append(f"drainage times are corrected to {COMMON * 1e3:.0f} mm of foam: the samples had different depths")
    words += [f"the drainage time of “{title}” is excluded: {UNKNOWN}" for title in without]
    return found, tuple(words)
