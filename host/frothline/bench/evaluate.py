"""From recorded sweeps of one air source to its steady points and its curve: the same steps as live."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from frothline.curve import BlowerCurve, BlowerFit, Refusal, SteadyPoint, find_steady
from frothline.errors import TooFewPoints
from frothline.recording import read_table

STATUS_STOPPED = 8  # bit of sensors.Series.status


@dataclass(frozen=True)
class Sweeps:
    """Steady points of all recordings, each with the number of its recording as ``source``."""

    recordings: tuple[Path, ...]
    points: tuple[SteadyPoint, ...]
    refused: tuple[Refusal, ...]

    def fit(self) -> BlowerFit:
        """The curve; raises FitError, TooFewPoints with the reasons of the refused stretches when there is no point."""
        if not self.points:
            reasons = "; ".join(dict.fromkeys(one.reason for one in self.refused)) or "nothing held still"
            raise TooFewPoints(
                f"no steady point was found ({reasons})",
                where=", ".join(map(str, self.recordings)),
                remedy="Hold each opening for some five seconds while recording",
            )
        return BlowerCurve().fit(self.points)


def sweeps(recordings: Sequence[Path], calibration: Any = None, spool: Any = None) -> Sweeps:
    """Read recordings and find their steady points. Raises RecordingError, SensorError."""
    points: list[SteadyPoint] = []
    refused: list[Refusal] = []
    for number, path in enumerate(recordings):
        report = steady_points(read_table(path, calibration=calibration, spool=spool), number)
        points += report.points
        refused += report.refused
    return Sweeps(tuple(recordings), tuple(points), tuple(refused))


def steady_points(table: Any, source: int = 0) -> Any:
    """Steady points of a recording's table (pandas, columns named as the series of ``sensors``)."""

    def column(name: str) -> Any:
        return np.asarray(table[name], dtype=float) if name in table else np.full(len(table), np.nan)

    def shared(name: str) -> Any:
        both = f"u_systematic_{name}"
        return column(both) if both in table else column(f"u_{name}")

    more = {name: column(name) for name in ("mass_flow", "line_temperature")}
    if "status_standard_flow" in table:
        more["stopped"] = ((np.asarray(table["status_standard_flow"]).astype(int) & STATUS_STOPPED) > 0).astype(float)
    return find_steady(
        column("time"),
        column("line_pressure"),
        column("standard_flow"),
        shared("line_pressure"),
        shared("standard_flow"),
        source=source,
        **more,
    )
