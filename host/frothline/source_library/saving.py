"""A fitted curve of a source as a file of the library."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from frothline.curve.blower import BlowerFit
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.room_air import RoomAir
from frothline.preferences import builder_name
from frothline.readings.applied_calibration import calibration_for
from frothline.sweep.point_table import is_point_table
from frothline.sweep.source_curve import SourceCurve
from frothline.sweep.source_file import SourceFigures, SourceFile, holds_points


def source_of(curve: SourceCurve, name: str = "", group: str = "") -> SourceFile:
    """The file of a curve from recordings, tables or other files.

    name : of the source (default: that of the first recording);  group : its kind, for pooling
    Raises InputError for a curve whose filter was loaded later: its points are those of the clean source.
    """
    if curve.loaded is not None:
        raise InputError(
            "a curve rescaled for a loaded filter is not saved",
            where=name,
            remedy="Save the curve as measured, or sweep the source again",
        )
    origin = [path.name for path in curve.recordings]
    calibrated = _calibration_words(curve.recordings, curve.calibration)
    named = name or curve.recordings[0].stem
    return source_of_points(
        curve.sweeps.points, curve.fit, named, group, air=curve.sweeps.air, calibrated=calibrated, origin=origin
    )


def source_of_points(
    points: Sequence[SteadyPoint],
    fit: BlowerFit,
    name: str,
    group: str = "",
    *,
    air: RoomAir | None = None,
    calibrated: str = "",
    origin: Sequence[str] = (),
) -> SourceFile:
    """The file of a curve and the points that it was fitted to."""
    kept = tuple(replace(one, source=0, notes=()) for one in points)
    return SourceFile(
        name, group, kept, air or RoomAir(), SourceFigures.of(fit), calibrated, tuple(origin), builder=builder_name()
    )


def _calibration_words(recordings: Sequence[Path], calibration: Any) -> str:
    recorded = [path for path in recordings if not holds_points(path)]
    if not recorded:
        return "entered by hand" if all(map(is_point_table, recordings)) else "as in the files"
    return calibration_words(calibration_for(calibration, recorded[0]))


def calibration_words(calibration: Any) -> str:
    """How the sensors were calibrated: None and a calibration without channels and zeros are the data sheets."""
    if calibration is None or not (getattr(calibration, "channels", None) or getattr(calibration, "zeros", None)):
        return "data sheets"
    return "calibrated: " + ", ".join(sorted({*calibration.channels, *calibration.zeros}))
