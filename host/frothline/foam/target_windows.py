"""Target windows of the figures of a foam sample, with their sources, and verdicts.

The target density comes from the folder's plan (its wish for the foam density). Without a plan it is the usual range of
the trade.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from frothline.estimate import Estimate

Range = tuple[float, float]  # kg/m3


@dataclass(frozen=True)
class TargetWindow:
    """The target window of a figure, and the reliability of its source."""

    quantity: str
    low: float
    high: float
    unit: str
    words: str
    provenance: str


USUAL_DENSITY = TargetWindow("density", 40.0, 80.0, "kg/m3", "usual for foamed concrete", "common practice, no source")


OTHERS = (
    TargetWindow("density", 30.0, 120.0, "kg/m3", "workable range", "judgement, no source"),
    TargetWindow(
        "drained_share",
        0.0,
        0.12,
        "1",
        "stable: less than 12 % drained after 300 s",
        "Ranjani and Ramamurthy, Materials and Structures 43 (2010) 1317, abstract",
    ),
    TargetWindow(
        "drainage",
        625.0,
        math.inf,
        "s",
        "25 % drainage time, minimum",
        "extrapolated from the limit above as a straight line",
    ),
)


@dataclass(frozen=True)
class WindowVerdict:
    """Verdict of a figure: ``state`` is inside, below, above, or open if the 95 % interval includes the edge."""

    window: TargetWindow
    state: str


def windows_for(wanted: Range | None = None) -> tuple[TargetWindow, ...]:
    """All windows; ``wanted`` kg/m3 replaces the usual density."""
    if wanted is None:
        return (USUAL_DENSITY, *OTHERS)
    return (TargetWindow("density", *wanted, "kg/m3", "your target", "the plan of this folder"), *OTHERS)


def judge_figures(figures: Mapping[str, Estimate | None], wanted: Range | None = None) -> tuple[WindowVerdict, ...]:
    """Verdicts of density, drainage and drained share; unmeasured figures are left out."""
    pairs = ((window, figures.get(window.quantity)) for window in windows_for(wanted))
    return tuple(WindowVerdict(window, _state(window, figure)) for window, figure in pairs if figure is not None)


def with_wanted(
    verdicts: Iterable[WindowVerdict], density: Estimate, wanted: Range | None
) -> tuple[WindowVerdict, ...]:
    """The verdicts of a sample with the target density in place of the usual one."""
    if wanted is None:
        return tuple(verdicts)
    own = windows_for(wanted)[0]
    return tuple(WindowVerdict(own, _state(own, density)) if one.window == USUAL_DENSITY else one for one in verdicts)


def _state(window: TargetWindow, figure: Estimate) -> str:
    if figure.lower >= window.low and figure.upper <= window.high:
        return "inside"
    if figure.upper < window.low:
        return "below"
    if figure.lower > window.high:
        return "above"
    return "open"
