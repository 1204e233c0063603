"""The resistance of a generator from recorded sweeps, as a displayable result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from frothline.curve.resistance_fit import ResistanceFit, fit_resistance
from frothline.estimate import Z95
from frothline.presentable import Observations, Picture, PictureAxis, PictureLine, PicturePoints, Plottable
from frothline.presentable import PresentedFigure as Row
from frothline.readings.applied_calibration import AUTO, paths_of
from frothline.sweep.recorded_generator import Role, read_generator_sweep, role_notes
from frothline.sweep.steady_table import point_rows, point_units
from frothline.units import METRIC, Unit

STEPS = 61


@dataclass(frozen=True, repr=False)
class GeneratorResistance(Plottable):
    """Pressure against flow through a generator: p = c + a q + b q².

    fit : the line, its form and the power law through the same points
    recordings : the recordings it was read from
    notes : notes on the recordings
    """

    fit: ResistanceFit
    recordings: tuple[Path, ...]
    notes: tuple[str, ...] = ()

    def _title(self) -> str:
        low, high = (1e3 * end for end in self.fit.range)
        names = ", ".join(path.stem for path in self.recordings)
        return f"{names}: p = {self.fit.form}, {len(self.fit.points)} points from {low:.3g} to {high:.3g} L/s"

    def _figures(self) -> Sequence[Row]:
        return tuple(Row(name, one, Unit(one.unit, 1.0)) for name, one in self.fit.line.estimates().items())

    def _words(self) -> Sequence[str]:
        return (*self.notes, self.fit.why)

    def _observations(self) -> Observations:
        return Observations(point_rows(self.recordings, self.fit.points, self.fit.refused), point_units())

    def _picture(self) -> Picture:
        fit, points = self.fit, self.fit.points
        flow = np.linspace(0.0, fit.range[1], STEPS)
        lower, upper = fit.line.band(flow)
        p, q = np.array([one.pressure for one in points]), np.array([one.flow for one in points])
        u_p = Z95 * np.array([one.u_pressure for one in points])
        return Picture(
            ", ".join(path.stem for path in self.recordings),
            PictureAxis("flow (standard air, 1.2 kg/m³)", METRIC["flow"]),
            PictureAxis("pressure", METRIC["pressure"]),
            (
                PictureLine("resistance", list(flow), list(fit.line.pressure(flow)[0]), list(lower), list(upper)),
                PicturePoints("steady points", list(q), list(p), y_ends=(list(p - u_p), list(p + u_p))),
            ),
        )


def read_resistance(
    recordings: str | Path | Sequence[str | Path],
    role: Role = "generator",
    *,
    calibration: Any = AUTO,
    spool: Any = None,
) -> GeneratorResistance:
    """Read recorded sweeps through one generator and fit its resistance.

    ``role`` : "dry", "wet", or "generator" for either. Errors as in ``read_generator_sweep`` and ``fit_resistance``.
    """
    paths = paths_of(recordings)
    points = read_generator_sweep(paths, role, calibration=calibration, spool=spool)
    return GeneratorResistance(fit_resistance(points), tuple(paths), role_notes(paths, role))
