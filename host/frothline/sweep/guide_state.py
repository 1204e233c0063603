"""What a guide of a sweep shows: phase, instruction, progress and missing points."""

from __future__ import annotations

from dataclasses import dataclass

SWEEP_NAMES = {"source": "A sweep of the source", "dry": "A dry sweep", "wet": "A wet sweep"}


def is_guiding(sweep: GuideState | None) -> bool:
    """Whether somebody is being guided."""
    return sweep is not None and sweep.running and not sweep.done


@dataclass(frozen=True)
class SteadyProgress:
    """Where the reading stands now: ``state`` "unsteady", "settling", "steady" or "unknown"; progress 0 to 1."""

    state: str
    progress: float
    reason: str = ""


@dataclass(frozen=True)
class GuideState:
    """The guided sweep: what to tell a person with busy hands.

    ``phase`` is stable (see PHASES of bench.sweep and bench.through); ``instruction`` is the largest word on the page;
    ``why`` says in plain words what is being waited for. ``progress`` fills the bar while holding. ``gap`` is a range
    of pressure in Pa where points are missing, None when there is none. ``of``: what is swept, "source", or the
    generator "dry" or "wet". ``caution``: what can hurt somebody at this very step.
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
