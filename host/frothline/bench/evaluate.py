"""From recorded sweeps of one air source to its steady points and its curve: the same steps as live."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from frothline.curve import BlowerCurve, BlowerFit, OnlineSteady, Refusal, SteadyPoint
from frothline.errors import SensorMissing, TooFewPoints
from frothline.recording import read_series

from .points import steady_columns


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
    """Read recordings and find their steady points. Raises RecordingError, SensorError, InputError."""
    points: list[SteadyPoint] = []
    refused: list[Refusal] = []
    for number, path in enumerate(recordings):
        columns = steady_columns(read_series(path, calibration, spool))
        if columns is None:
            raise SensorMissing(
                "there is no pressure with flow in it",
                where=str(path),
                remedy="A sweep needs a pressure sensor and an anemometer",
            )
        finder = OnlineSteady(source=number)  # the one that is used live
        finder.feed(**columns)
        finder.finish()
        points += finder.points
        refused += finder.refused
    return Sweeps(tuple(recordings), tuple(points), tuple(refused))
