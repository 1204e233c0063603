"""The state of a sweep guide: phase, instruction, progress and missing points."""

from __future__ import annotations

import math
from dataclasses import dataclass

SWEEP_NAMES = {"source": "A sweep of the source", "dry": "A dry sweep", "wet": "A wet sweep"}


def is_guiding(sweep: GuideState | None) -> bool:
    """Whether a guided sweep is active."""
    return sweep is not None and sweep.running and not sweep.done


@dataclass(frozen=True)
class CapturedPoint:
    """A captured point: Pa, m3/s, and the time of the reading that captured it, s."""

    pressure: float
    flow: float
    time: float = math.nan


@dataclass(frozen=True)
class SteadyProgress:
    """Steadiness of the reading: ``state`` "unsteady", "settling", "steady" or "unknown"; progress 0 to 1."""

    state: str
    progress: float
    reason: str = ""


@dataclass(frozen=True)
class GuideState:
    """The state of a guided sweep.

    phase : stable name, see PHASES of ``source_guide`` and ``generator_guide``
    instruction : largest text on the page
    why : explains the wait
    progress : 0 to 1 while holding
    points, wanted : captured points, and how many the sweep takes at least
    missing : what a fit lacks, at the end
    gap : range of pressure in Pa where points are missing; None without one
    done, running : whether the sweep is complete, and whether it is active
    of : the swept object, "source", or the generator "dry" or "wet"
    caution : the hazard of this step
    target : the pressure to go to, lowest and highest, Pa; None without one
    pressure, flow : of the newest reading, Pa and m3/s
    can_redo : whether the newest point can be measured again
    captured : the captured points
    """

    phase: str
    instruction: str
    why: str
    progress: float
    points: int
    wanted: int
    missing: tuple[str, ...] = ()
    gap: tuple[float, float] | None = None
    done: bool = False
    running: bool = True
    of: str = "source"
    caution: str = ""
    target: tuple[float, float] | None = None
    pressure: float = math.nan
    flow: float = math.nan
    can_redo: bool = False
    captured: tuple[CapturedPoint, ...] = ()
