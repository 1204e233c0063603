"""The state of a guided calibration, as pages show it."""

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
    """One point: input and reference with their standard uncertainties, its setting, and its residual from the line
    through all points (None while there is no line).
    """

    x: float
    y: float
    u_y: float
    note: str
    residual: float | None


@dataclass(frozen=True)
class CalibrationState:
    """The current calibration, or the one just finished.

    ``unit`` is the references' unit. ``reason`` explains the order of the line through the points so far, or why there
    is no line yet. ``made`` is set when the calibration is saved.
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
    """Calibrations of this session: the file's content, its path, the fitted sensors, and the findings."""

    calibration: Calibration
    path: Path
    label: str
    fitted: tuple[str, ...]
    warnings: tuple[Finding, ...]
    trouble: str
