"""The start of a run: when the line is steady, whether it foams, and whether it runs at its operating point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, isfinite, nan

import numpy as np

from frothline.run.watch.fault_signatures import NO_PACKING
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.settings import WatchSettings

Block = Mapping[str, float]  # logarithms by name, see ``reference.NAMES``
DRY_APART = 0.15  # ln: if a dry build passes less than this more than a wet one, the two are indistinguishable
OFF = 0.1  # ln of flow: tolerated deviation of build and curve, in addition to their uncertainty; judgement
OFF_BY_STEEPNESS = 0.06  # of the source's pressure: times the slope of its curve this is a share of its flow


def steadiest_estimate(lately: Sequence[tuple[float, Block]], *, build: bool) -> str:
    """The best view present in all of these blocks; empty without one."""
    names = ("build", "pressure", "flow") if build else ("pressure", "flow")
    return next((name for name in names if all(isfinite(block[name]) for _, block in lately)), "")


def at_rest(lately: Sequence[tuple[float, Block]], view: str, settings: WatchSettings) -> bool:
    """Whether a view was steady over these blocks, at least seven."""
    if len(lately) < 7:
        return False
    times, values = np.array([(time, block[view]) for time, block in lately]).T
    slope = float(np.polyfit(times - times[-1], values, 1)[0])
    return abs(slope) < settings.steady_slope and float(values.std()) < settings.steady_spread


def looks_dry(views: FlowEstimates, block: Block) -> bool:
    """Whether the line's flow agrees with its model without solution rather than wet."""
    if views.dried is None or not (isfinite(block["pressure"]) and isfinite(block["build"])):
        return False
    whole = views.dried.at(exp(block["pressure"]))
    return whole > DRY_APART and block["build"] > 0.5 * whole


def off_design_point(given: FlowEstimates, views: FlowEstimates, level: Block, steepness: float) -> list[str]:
    """The deviation of the line from the operating point of curve and build, as text; ``given``: measured estimates."""
    off = []
    pressure, build, source = level["pressure"], level["build"], level["source"]
    if given.build is not None and isfinite(build) and isfinite(pressure):
        found = views.by_build(exp(pressure))
        spread = found.standard_uncertainty / found.value if found is not None else 0.0
        if abs(build) > OFF + 2.0 * spread:
            bare = nan if views.bare is None else views.bare.at(exp(pressure))
            alike = bare > NO_PACKING and 0.6 * bare < build < 1.4 * bare
            packing = ", as it would without its packing" if alike else ""
            off.append(f"it passes {share_of(build)} air than the build should at this pressure{packing}")
    if given.source is not None and abs(source) > OFF + OFF_BY_STEEPNESS * steepness:
        off.append(f"the source gives {share_of(source)} air than its curve at this pressure")
    return off


def share_of(level: float) -> str:
    """A logarithm as "12 % more" or "12 % less"."""
    return f"{100 * abs(exp(level) - 1.0):.0f} % {'more' if level > 0 else 'less'}"
