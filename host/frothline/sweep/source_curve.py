"""The curve of an air source from recorded sweeps, with its points, air and findings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.loaded_filter import LoadedFilter, loaded_filter
from frothline.curve.source_entries import Motor
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import TooFewPoints
from frothline.estimate import Z95, Estimate
from frothline.presentable import Observations, Picture, PictureAxis, PictureLine, PicturePoints, Plottable
from frothline.presentable import PresentedFigure as Row
from frothline.readings.applied_calibration import AUTO
from frothline.sweep.recorded_source import RecordedSweeps, load_sweeps
from frothline.sweep.steady_table import point_rows, point_units
from frothline.units import METRIC

STEPS = 61  # points of a drawn curve


@dataclass(frozen=True, repr=False)
class SourceCurve(Plottable):
    """An air source's curve in the air of its recordings.

    fit : the curve
    sweeps : steady points, refused stretches, findings, and air during recording
    calibration, spool : used to read the recordings
    loaded : the later state of the filter that the curve is for; None for the curve as measured
    """

    fit: BlowerFit
    sweeps: RecordedSweeps
    calibration: Any = AUTO
    spool: Any = None
    loaded: LoadedFilter | None = None

    @property
    def recordings(self) -> tuple[Path, ...]:
        return self.sweeps.recordings

    @property
    def shut_off(self) -> Estimate:
        """Pressure at zero flow, Pa."""
        return self.fit.shut_off

    @property
    def free_delivery(self) -> Estimate:
        """Flow at zero pressure, m³/s at 1.2 kg/m³."""
        return self.fit.free_delivery

    @property
    def air_power(self) -> Estimate:
        """Largest air power, W."""
        return self.fit.air_power

    def with_loaded_filter(self, now: str | Path | Sequence[str | Path] | Sequence[SteadyPoint]) -> SourceCurve:
        """The curve of the same source in a later state, whose filter has loaded: rescaled to go through ``now``.

        ``now`` : recordings or tables with at least one steady point, or steady points. Raises OutsideValidity where
        the points show no filter, TooFewPoints without a steady point, else as ``load_sweeps``.
        """
        points = _points_now(now, self.calibration, self.spool)
        found = loaded_filter(self.fit, points)
        return replace(self, fit=found.fit, loaded=found)

    def _title(self) -> str:
        names = ", ".join(path.stem for path in self.recordings)
        figures = (self.shut_off.to("kPa"), self.free_delivery.to("L/s"))
        return f"{names}: shut-off {figures[0]}, free delivery {figures[1]}, {len(self.fit.points)} points"

    def _figures(self) -> Sequence[Row]:
        fit = self.fit
        return (
            Row("shut-off pressure", fit.shut_off, METRIC["pressure"]),
            Row("free delivery", fit.free_delivery, METRIC["flow"]),
            Row("peak air power", fit.air_power, METRIC["power"]),
            Row("at a flow of", fit.air_power_flow, METRIC["flow"]),
        )

    def _words(self) -> Sequence[str]:
        fit = self.fit
        found = [f"{self.recordings[at].stem}: {one.what}. {one.remedy}" for at, one in self.sweeps.findings]
        found += [f"{one.what}. {one.remedy}" for one in self.sweeps.together]
        found += [f"{self.recordings[one.source].stem}: {one.words()}" for one in self.sweeps.off]
        return (*fit.notes, *fit.advice, *found, f"form: {fit.form}; {fit.why}")

    def _observations(self) -> Observations:
        refused = (*self.sweeps.refused, *self.fit.refused)
        return Observations(point_rows(self.recordings, self.fit.points, refused), point_units())

    def _picture(self) -> Picture:
        fit = self.fit
        top = max(fit.range[1], fit.free_delivery.value if fit.free_delivery.known else 0.0)
        flow = np.linspace(0.0, top, STEPS)
        lower, upper = fit.band(flow)
        points = fit.points
        p, q = np.array([one.pressure for one in points]), np.array([one.flow for one in points])
        u_p, u_q = (Z95 * np.array([getattr(one, name) for one in points]) for name in ("u_pressure", "u_flow"))
        return Picture(
            ", ".join(path.stem for path in self.recordings),
            PictureAxis("flow (standard air, 1.2 kg/m³)", METRIC["flow"]),
            PictureAxis("pressure", METRIC["pressure"]),
            (
                PictureLine("curve", list(flow), list(fit.pressure(flow)[0]), list(lower), list(upper)),
                PicturePoints(
                    "steady points",
                    list(q),
                    list(p),
                    (list(q - u_q), list(q + u_q)),
                    (list(p - u_p), list(p + u_p)),
                ),
            ),
        )


def fit_source(
    recordings: str | Path | Sequence[str | Path],
    *,
    calibration: Any = AUTO,
    spool: Any = None,
    holes: Sequence[float] = (),
    motor: Motor = "series",
    now: str | Path | Sequence[str | Path] = (),
) -> SourceCurve:
    """Read recorded sweeps of one air source and fit its curve. Arguments and errors as in ``load_sweeps``; FitError if
    there are not enough points for a curve.

    ``motor`` : how the source's speed is governed, "series" or "constant speed"
    ``now`` : later recordings or tables of the same source; the curve is rescaled for its loaded filter
    """
    found = load_sweeps(recordings, calibration, spool, holes, motor)
    curve = SourceCurve(found.fit(BlowerCurve(motor=motor)), found, calibration, spool)
    return curve.with_loaded_filter(now) if now else curve


def _points_now(now: Any, calibration: Any, spool: Any) -> tuple[SteadyPoint, ...]:
    """Steady points of the present state."""
    if not isinstance(now, str | Path) and all(isinstance(one, SteadyPoint) for one in now):
        return tuple(now)
    points = load_sweeps(now, calibration, spool).points
    if not points:
        raise TooFewPoints(
            "no steady point was found in it",
            where=str(now),
            remedy="Hold one opening for some five seconds while recording",
        )
    return points
