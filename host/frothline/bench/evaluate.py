"""From recorded sweeps of one air source to its steady points and its curve: the same steps as live."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from frothline.curve import BlowerCurve, BlowerFit, OnlineSteady, Refusal, SteadyPoint
from frothline.errors import InputError, SensorMissing, TooFewPoints
from frothline.recording import read_series
from frothline.sensors import Spool

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


def sweeps(
    recordings: Sequence[Path], calibration: Any = None, spool: Any = None, holes: Sequence[float] = ()
) -> Sweeps:
    """Read recordings and find their steady points. Raises RecordingError, SensorError, InputError.

    ``holes`` (m), one a recording: each was made with a drilled plate of that hole at the end of the line, and its flow
    is read off the line pressure; no anemometer is needed then.
    """
    points: list[SteadyPoint] = []
    refused: list[Refusal] = []
    spools = _with_plates(spool, holes, len(recordings)) if holes else [spool] * len(recordings)
    for number, (path, its) in enumerate(zip(recordings, spools, strict=True)):
        columns = steady_columns(read_series(path, calibration, its))
        if columns is None:
            raise SensorMissing(
                "there is no pressure with flow in it",
                where=str(path),
                remedy="A sweep needs a pressure sensor and an anemometer, or the holes of drilled plates",
            )
        finder = OnlineSteady(source=number)  # the one that is used live
        finder.feed(**columns)
        finder.finish()
        points += finder.points
        refused += finder.refused
    return Sweeps(tuple(recordings), tuple(points), tuple(refused))


def _with_plates(spool: Spool | None, holes: Sequence[float], recordings: int) -> list[Spool]:
    """The spool with each of the plates at its end."""
    drawn = spool or Spool.default()
    if len(holes) != recordings:
        raise InputError(
            f"{len(holes)} holes for {recordings} recordings", where="holes", remedy="Give one a recording, in order"
        )
    for hole in holes:
        if not 0 < hole < drawn.pipe.bore:
            raise InputError(
                f"a hole of {hole * 1e3:g} mm does not go with a bore of {drawn.pipe.bore * 1e3:g} mm", where="holes"
            )
    flow = replace(drawn.flow, element="plate")
    return [replace(drawn, flow=flow, plate=replace(drawn.plate, hole=hole)) for hole in holes]
