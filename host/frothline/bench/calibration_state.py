"""What a guided calibration shows of itself."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from frothline.sensors.calibration import Calibration, ChannelCalibration
    from frothline.sensors.finding import Finding
    from frothline.sensors.procedures.base import Prompt


@dataclass(frozen=True)
class CalibrationPoint:
    """One point: input and reference with their standard uncertainties, what was set, and how far the line through all
    points misses it (None while there is no line).
    """

    x: float
    y: float
    u_y: float
    note: str
    residual: float | None


@dataclass(frozen=True)
class CalibrationState:
    """What a page shows of the calibration that is under way, or has just been finished.

    ``unit`` is that of the references; ``reason`` why the line through the points so far has the order it has, or why
    there is none yet; ``made`` is there once it is kept.
    """

    name: str
    channel: str
    unit: str
    how: str
    prompt: Prompt
    timed: bool
    fewest: int
    seconds: float  # of the hold so far
    points: tuple[CalibrationPoint, ...]
    reason: str
    made: ChannelCalibration | None = None


@dataclass(frozen=True)
class CalibrationOverview:
    """Calibrations of this session: the whole of the file, where it lies, what is fitted, and what looks wrong."""

    calibration: Calibration
    path: Path
    label: str
    fitted: tuple[str, ...]
    warnings: tuple[Finding, ...]
    trouble: str
