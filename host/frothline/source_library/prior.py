"""Sources of one kind, pooled: the curve of the kind and of a source of this kind that nobody measured.

Each measured source has a shut-off pressure, a free delivery and a shape: its pressure at a quarter, a half and three
quarters of free delivery, relative to shut-off. Their logarithms (of the shape: the shares) are combined with the
spread between units (``numerics.random_effects``). A source of this kind then has these figures with the interval of a
prediction, which is that of a new unit and not of the mean.

Positive-displacement sources have a free delivery and a leakage instead (``source_library.pump_prior``). Compressors
with a tank are not pooled (``source_library.tank``).

The result is the file of a source whose points are on the mean curve. The spread between units is in their common
errors, so that it reaches every figure that is calculated with the curve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, nan, sqrt
from pathlib import Path

import numpy as np

from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import InputError, TooFewPoints
from frothline.estimate import NOT_MEASURED, Z95, Estimate
from frothline.generator.room_air import RoomAir
from frothline.numerics.random_effects import RandomEffects, random_effects
from frothline.numerics.uncertainty import student_factor
from frothline.presentable import Observations, Presentable, PresentedFigure, estimate_cells, estimate_units
from frothline.rounding import counted
from frothline.source_library.collection import LibraryCollection
from frothline.source_library.pump_prior import combined, notes, pump_points
from frothline.source_library.tank import refuse_tank
from frothline.sweep.source_file import SHAPE, PumpFigures, SourceFigures, SourceFile, write_source
from frothline.units import METRIC, Unit

AT = (0.02, 0.15, 0.3, 0.45, 0.6, 0.75, 0.88, 0.97)  # of free delivery: flows of the points on the mean curve
SPREAD = "spread between units"
# Measured units. With three, Student's factor of a new one is 12.7: its interval would reach from no pressure to five
# times the mean, which no propagation from points carries. With four it is 4.3.
FEWEST = 4
CORRELATED = 5  # units from which the correlation of pressure and flow between units is used
LEAST_SHAPE = 1e-3  # standard deviation of a share, so that the points have a random part


@dataclass(frozen=True, repr=False)
class PooledKind(Presentable):
    """A kind of source.

    shut_off, free_delivery : of a new unit of this kind, with the interval of a prediction
    mean_shut_off, mean_free_delivery : of the mean of all units
    units : number of measured sources
    leakage : of a new pump, the share of its free delivery that it loses at ``highest`` Pa; None for other sources
    source : a source of this kind, unmeasured, for every place where a source is taken
    """

    group: str
    units: int
    shut_off: Estimate
    free_delivery: Estimate
    mean_shut_off: Estimate
    mean_free_delivery: Estimate
    between_pressure: float
    between_flow: float
    source: SourceFile
    leakage: Estimate | None = None
    highest: float = nan

    def write(self, path: str | Path) -> Path:
        """Write the unmeasured source as a file. Raises InputError, RecordingUnwritable."""
        return write_source(path, self.source)

    @property
    def words(self) -> str:
        if self.leakage is not None:
            return (
                f"{self.group}: {self.units} measured pumps; between units the free delivery varies by "
                f"{100 * self.between_flow:.0f} % (standard deviation), and up to {self.highest / 1e3:.3g} kPa an "
                f"unmeasured one loses {100 * self.leakage.value:.2g} % of it"
            )
        return (
            f"{self.group}: {self.units} measured units; between units the shut-off pressure varies by "
            f"{100 * self.between_pressure:.0f} % and the free delivery by {100 * self.between_flow:.0f} % "
            "(standard deviation)"
        )

    def _title(self) -> str:
        return f"{self.group}, {self.units} measured units"

    def _figures(self) -> Sequence[PresentedFigure]:
        if self.leakage is not None:
            return (
                PresentedFigure("free delivery, unmeasured", self.free_delivery, METRIC["flow"]),
                PresentedFigure("mean free delivery", self.mean_free_delivery, METRIC["flow"]),
                PresentedFigure("flow lost at the highest pressure", self.leakage, Unit("%", 0.01)),
            )
        return (
            PresentedFigure("shut-off pressure, unmeasured", self.shut_off, METRIC["pressure"]),
            PresentedFigure("free delivery, unmeasured", self.free_delivery, METRIC["flow"]),
            PresentedFigure("mean shut-off pressure", self.mean_shut_off, METRIC["pressure"]),
            PresentedFigure("mean free delivery", self.mean_free_delivery, METRIC["flow"]),
        )

    def _words(self) -> Sequence[str]:
        return (self.words,)

    def _observations(self) -> Observations:
        cells = {"shut_off": self.shut_off, "free_delivery": self.free_delivery}
        cells |= {"mean_shut_off": self.mean_shut_off, "mean_free_delivery": self.mean_free_delivery}
        units = estimate_units(shut_off="Pa", free_delivery="m3/s", mean_shut_off="Pa", mean_free_delivery="m3/s")
        row = {"group": self.group, "units": self.units, **estimate_cells(**cells)}
        return Observations((row,), {"group": "", "units": "", **units})


def pool_group(library: LibraryCollection, group: str) -> PooledKind:
    """Pool the measured sources of a group.

    Raises TooFewPoints below four sources with figures, InputError for a group of pumps and other sources, and for
    compressors with a tank.
    """
    chosen = library.search(group=group, measured=True)
    refuse_tank(group, (one.source for one in chosen.entries), str(library.folder))
    # A copy of a file is no further unit, whatever its name. As texts, because unknown times of points by hand are NaN,
    # which equals nothing.
    once = {repr((one.source.points, one.source.figures)): one for one in reversed(chosen.entries)}
    copies = len(chosen.entries) - len(once)
    known = [one.source.figures for one in once.values()]
    figures = [one for one in known if isinstance(one, SourceFigures)]
    pumps = [one for one in known if isinstance(one, PumpFigures)]
    if figures and pumps:
        raise InputError(
            f"of the kind “{group}” {len(pumps)} are pumps and {len(figures)} are not",
            where=str(library.folder),
            remedy="Give pumps and blowers different kinds in their files",
        )
    count = len(figures) + len(pumps)
    if count < FEWEST:
        kinds = ", ".join(f"{name} ({number})" for name, number in library.groups.items()) or "none"
        twice = f"; {counted(copies, 'file')} more with the points of another" if copies else ""
        raise TooFewPoints(
            f"{counted(count, 'measured source')} of the kind “{group}” {'is' if count == 1 else 'are'} not "
            f"enough; the minimum is {FEWEST}{twice}",
            where=str(library.folder),
            remedy=f"Kinds in this library: {kinds}",
        )
    # sorted, so that the result does not depend on the names of the files
    named = next(one.source.group for one in chosen.entries)
    if pumps:
        return pool_pumps(sorted(pumps, key=lambda one: (one.free_delivery, one.leakage, one.highest)), named)
    figures.sort(key=lambda one: (one.shut_off, one.free_delivery, one.shape))
    return pool_figures(figures, named)


def pool_figures(figures: list[SourceFigures], group: str) -> PooledKind:
    """Pool the figures of at least four sources."""
    top, free = (_combined([getattr(one, name) for one in figures]) for name in ("shut_off", "free_delivery"))
    shape = [random_effects([one.shape[k] for one in figures], [1e-8] * len(figures)) for k in range(len(SHAPE))]
    units = len(figures)
    wider = _wider(units)
    r = _correlation(figures) if units >= CORRELATED else 0.0
    points = _points(top, free, shape, wider, r)
    said = (_said(units),)
    new = SourceFigures(
        (exp(top.mean), exp(top.mean) * top.u_new),
        (exp(free.mean), exp(free.mean) * free.u_new),
        tuple(s.mean for s in shape),
    )
    source = SourceFile(f"{group}, unmeasured", group, points, RoomAir(), new, notes=said, measured=False)
    return PooledKind(
        group,
        units,
        _estimate(top, "Pa", new=True),
        _estimate(free, "m³/s", new=True),
        _estimate(top, "Pa", new=False),
        _estimate(free, "m³/s", new=False),
        sqrt(top.tau2),
        sqrt(free.tau2),
        source,
    )


def pool_pumps(pumps: list[PumpFigures], group: str) -> PooledKind:
    """Pool the figures of at least four positive-displacement sources."""
    free, leak, highest = combined(pumps)
    units = len(pumps)
    points = pump_points(free, leak, highest, _wider(units), SPREAD)
    new = PumpFigures((exp(free.mean), exp(free.mean) * free.u_new), (leak.mean, leak.u_new), highest)
    said = (_said(units), *notes())
    source = SourceFile(f"{group}, unmeasured", group, points, RoomAir(), new, notes=said, measured=False)
    half = float(student_factor(float(units - 2), 0.95)) * leak.u_new
    lost = max(leak.mean, 0.0) * highest
    lower, upper = max(lost - half * highest, 0.0), lost + half * highest
    none = Estimate(nan, nan, nan, nan, "Pa", assumptions=("the pressure of a pump rises until a part fails",))
    return PooledKind(
        group,
        units,
        none,
        _estimate(free, "m³/s", new=True),
        none,
        _estimate(free, "m³/s", new=False),
        nan,
        sqrt(free.tau2),
        source,
        Estimate(lost, leak.u_new * highest, lower, upper, "1"),
        highest,
    )


def _wider(units: int) -> float:
    """Student's factor of a prediction with k - 2 degrees of freedom, relative to the normal one that a fit uses."""
    return float(student_factor(float(units - 2), 0.95)) / Z95


def _said(units: int) -> str:
    return f"{NOT_MEASURED}: pooled from {units} measured units of this kind, with the spread between units"


def _combined(pairs: list[tuple[float, float]]) -> RandomEffects:
    """Logarithms of values with relative variances."""
    return random_effects([log(value) for value, _ in pairs], [(u / value) ** 2 for value, u in pairs])


def _correlation(figures: list[SourceFigures]) -> float:
    p, q = np.log([one.shut_off[0] for one in figures]), np.log([one.free_delivery[0] for one in figures])
    if float(np.std(p)) == 0.0 or float(np.std(q)) == 0.0:
        return 0.0
    return float(np.clip(np.corrcoef(p, q)[0, 1], -0.95, 0.95))


def _points(
    top: RandomEffects, free: RandomEffects, shape: list[RandomEffects], wider: float, r: float
) -> tuple[SteadyPoint, ...]:
    """Points on the mean curve. Two common errors carry the spread of pressure and flow with their correlation."""
    p0, q0 = exp(top.mean), exp(free.mean)
    u_p, u_q = wider * top.u_new, wider * free.u_new
    curve = np.polyfit([*SHAPE, 1.0], [*(one.mean for one in shape), 0.0], len(SHAPE))
    u_shape = np.interp(AT, [*SHAPE, 1.0], [*(wider * one.u_new for one in shape), 0.0])
    made = []
    for share, u_of_shape in zip(AT, u_shape, strict=True):
        pressure, flow = p0 * float(np.polyval(curve, share)), q0 * share
        common = [
            CommonError(f"{SPREAD}, first", u_p * pressure, r * u_q * flow),
            CommonError(f"{SPREAD}, second", 0.0, sqrt(1 - r * r) * u_q * flow),
            CommonError(f"{SPREAD}, shape", p0 * float(u_of_shape), 0.0),
        ]
        made.append(SteadyPoint.from_parts(pressure, flow, (LEAST_SHAPE * p0, LEAST_SHAPE * q0, 0.0), common))
    return tuple(made)


def _estimate(of: RandomEffects, unit: str, *, new: bool) -> Estimate:
    u = of.u_new if new else of.u_mean
    freedom = float(of.units - 2) if new else float(of.units - 1)
    half = float(student_factor(freedom, 0.95)) * u
    value = exp(of.mean)
    return Estimate(value, value * u, value * exp(-half), value * exp(half), unit)
