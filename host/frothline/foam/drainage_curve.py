"""The drainage curve: drained liquid over time from a few readings, with the times of 25 % and 50 %.

The drained volume rises like ``v(t) = V t^n / (c + t^n)`` (an empirical sigmoid, with the half time ``c^(1/n)``). Its
three parameters come from bounded least squares: the final volume is at least the last reading and at most the solution
in the foam, if that was weighed. The time of 25 % of a sample is interpolated between its readings, as the standards of
foam tests have it; the curve adds the later times, and what was not waited for, marked as extrapolated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.formatting import full_text
from frothline.numerics.arrays import Floats
from frothline.numerics.scatter import widening
from frothline.presentable import (
    Observations,
    Picture,
    PictureAxis,
    PictureLine,
    PicturePoints,
    Plottable,
    PresentedFigure,
)
from frothline.units import METRIC

QUARTER, HALF = 0.25, 0.5
FEWEST = 3  # readings: the curve has three parameters
U_VOLUME = 2e-6  # m³: a glass divided by 5 mL, as of a sample
U_TIME = 2.0  # s: a look at the clock and at the glass; judgement, no source
U_DEPTH = 5e-3  # m: a ruler in foam, as in trials.common_depth; judgement, no source
DEPTHS = (5e-3, 3.0)  # m of foam in a container; others are a slip of the unit; judgement, no source
U_SHAPE = 0.03  # relative, of a time within the readings: no foam drains exactly like the curve; judgement, no source
U_GAP = 0.2  # the same times the logarithm of the time over the nearest reading; from the curves of network models
U_BEYOND = 0.35  # the same times the logarithm of the time over the last reading, beyond the readings
STEEP = (0.6, 6.0)  # bounds of n
MOST_TIMES = 20.0  # final volume over the last reading, where the solution was not weighed
BACK = 3.0  # standard uncertainties by which a reading may be below an earlier one
STEPS = 60  # of the drawn curve


@dataclass(frozen=True, repr=False)
class DrainageCurve(Plottable):
    """A drainage curve, SI.

    readings : (time s, drained m³);  solution : m³ in the foam, NaN if not weighed;  depth : m of foam, NaN if unknown
    quarter, half : s in which 25 % and 50 % of the solution drained (of the final volume, if it was not weighed)
    final : m³, volume that drains in the end;  steepness : n;  residual : m³, rms of the readings about the curve
    rate : m/s, depth of the foam over the time of 25 %: it hardly depends on the container; None without depth
    """

    readings: tuple[tuple[float, float], ...]
    solution: float
    depth: float
    quarter: Estimate
    half: Estimate
    final: float
    steepness: float
    half_time: float
    residual: float
    rate: Estimate | None

    def at(self, time: float) -> float:
        """Drained volume after ``time`` s by the curve, m³."""
        return float(_volume(np.array([time]), self.final, self.half_time, self.steepness)[0])

    @property
    def whole(self) -> float:
        """The volume of which the shares are, m³."""
        return self.final if math.isnan(self.solution) else self.solution

    @property
    def words(self) -> tuple[str, ...]:
        """Notes, the most important first."""
        said = []
        most = max(drained for _, drained in self.readings)
        if most > self.solution:
            said.append(
                f"{most * 1e6:.0f} mL drained, but the foam holds {self.solution * 1e6:.0f} mL of solution by its "
                "weight: check both."
            )
        for share, time in ((25, self.quarter), (50, self.half)):
            if time.extrapolated and time.known:
                said.append(f"The {share} % time is after the last reading: it is extrapolated.")
        if math.isnan(self.solution):
            said.append("The solution in the foam is not weighed: shares are of the volume that the curve ends at.")
        if math.isnan(self.depth):
            said.append("The depth of the foam is not given; deeper foam drains more slowly.")
        return tuple(said)

    def as_dict(self) -> dict[str, object]:
        """For ``--json``: plain values, SI."""
        return {
            "quarter": self.quarter.as_dict(),
            "half": self.half.as_dict(),
            "rate": None if self.rate is None else self.rate.as_dict(),
            "final": self.final,
            "half_time": self.half_time,
            "steepness": self.steepness,
            "residual": self.residual,
            "words": list(self.words),
        }

    def _title(self) -> str:
        return f"drainage: 25 % after {full_text(self.quarter, METRIC['time'])}"

    def _figures(self) -> Sequence[PresentedFigure]:
        return (
            PresentedFigure("25 % drainage time", self.quarter, METRIC["time"]),
            PresentedFigure("50 % drainage time", self.half, METRIC["time"]),
            PresentedFigure("foam height over 25 % time", self.rate, RATE, "the depth of the foam is not given"),
        )

    def _words(self) -> Sequence[str]:
        return self.words

    def _observations(self) -> Observations:
        rows = [{"time": t, "drained": v, "curve": self.at(t), "share": v / self.whole} for t, v in self.readings]
        return Observations(tuple(rows), {"time": "s", "drained": "m3", "curve": "m3", "share": "1"})

    def _picture(self) -> Picture:
        end = max(self.readings[-1][0], min(self.half.value, 3 * self.readings[-1][0]))
        t = np.linspace(0.0, 1.05 * end, STEPS)
        line = PictureLine("curve", t.tolist(), [self.at(float(one)) for one in t])
        points = PicturePoints("readings", [a for a, _ in self.readings], [b for _, b in self.readings])
        y = PictureAxis("drained", METRIC["volume"])
        return Picture("drainage", PictureAxis("time", METRIC["time"]), y, (line, points))


RATE_KIND = "bubble_growth"  # key of the units of length over hours
RATE = METRIC[RATE_KIND]  # mm/h


def fit_drainage(
    readings: Sequence[tuple[float, float]],
    *,
    solution: float | None = None,
    depth: float | None = None,
    u_volume: float = U_VOLUME,
) -> DrainageCurve:
    """Fit the drainage curve.

    readings : (time s since the container was full, drained m³), at least three, in order of time
    solution : m³ in the foam: its mass over the density of the solution;  depth : m of foam

    Raises InputError for readings that contradict themselves, and for too few.
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  takes time to load

    t, v = _checked(readings, solution, depth, u_volume)
    top = float(v.max())
    most = MOST_TIMES * top if solution is None else max(solution, top * 1.0001)
    bounds = (np.log([top, t.min() / 20, STEEP[0]]), np.log([most, max(t.max(), 60.0) * 500, STEEP[1]]))
    middle = float(np.interp(0.5 * top, np.maximum.accumulate(v), t))
    start = np.clip(np.log([min(1.5 * top, 0.98 * most), 1.5 * middle, 1.4]), bounds[0] + 1e-6, bounds[1] - 1e-6)

    def misfit(x: Floats) -> Floats:
        expected = _volume(t, *np.exp(x))
        slope = expected * np.exp(x[2]) * (1 - expected / np.exp(x[0])) / t
        return np.asarray((expected - v) / np.hypot(u_volume, slope * U_TIME))

    found = least_squares(misfit, start, bounds=bounds, x_scale=(0.3, 0.3, 0.3))
    final, half_time, steep = (float(one) for one in np.exp(found.x))
    held = int((np.abs(found.x - np.array(bounds)) < 1e-3).any(axis=0).sum())  # at a bound: not free to fit
    wider = widening(float((found.fun**2).sum()), len(t) - FEWEST + held)
    weak = 4.0 if solution is None else 1.0  # prior widths of the logarithms keep a flat direction finite
    information = found.jac.T @ found.jac + np.diag([1 / weak**2, 1 / 4.0, 1.0])
    covariance = wider**2 * np.linalg.inv(information)
    whole = final if solution is None else solution

    def time_of(share: float) -> Estimate:
        value = _time(share, whole, found.x, solution)
        if not math.isfinite(value):
            said = (f"{100 * share:.0f} % is more than the curve ever reaches",)
            return Estimate(math.nan, math.nan, float(t[-1]), math.inf, "s", extrapolated=True, assumptions=said)
        gradient = np.array(
            [
                (_log_time(share, whole, found.x + step, solution) - _log_time(share, whole, found.x - step, solution))
                / 2e-4
                for step in np.eye(3) * 1e-4
            ]
        )
        u = math.sqrt(max(float(gradient @ covariance @ gradient), 0.0))
        beyond = value > t[-1]
        away = float(np.abs(np.log(t / value)).min())
        model = U_SHAPE + (U_BEYOND if beyond else U_GAP) * away
        lowest = math.hypot(u, model)
        found_time = Estimate.positive(value, min(lowest, 3.0), "s", extrapolated=bool(beyond))
        before = t[v + 2.0 * u_volume < share * whole]  # less than the share had drained then
        least = min(float(before[-1]) if solution is not None and len(before) else 0.0, value)
        return replace(found_time, lower=max(found_time.lower, least))

    quarter, half = time_of(QUARTER), time_of(HALF)
    rate = None
    if depth is not None and quarter.known:
        u_rate = math.hypot(quarter.standard_uncertainty / quarter.value, U_DEPTH / depth)
        rate = Estimate.positive(depth / quarter.value, u_rate, "m/s", extrapolated=quarter.extrapolated)
    return DrainageCurve(
        tuple((float(a), float(b)) for a, b in zip(t, v, strict=True)),
        math.nan if solution is None else solution,
        math.nan if depth is None else depth,
        quarter,
        half,
        final,
        steep,
        half_time,
        float(np.sqrt(np.mean((_volume(t, final, half_time, steep) - v) ** 2))),
        rate,
    )


def _volume(t: Floats, final: float, half_time: float, steep: float) -> Floats:
    return np.asarray(final / (1 + (half_time / np.maximum(t, 1e-9)) ** steep))


def _time(share: float, whole: float, x: Floats, solution: float | None) -> float:
    """Time in which a share of the whole drained, s; infinite if the curve ends below it."""
    final, half_time, steep = np.exp(x)
    part = share if solution is None else share * whole / final
    return float(half_time * (part / (1 - part)) ** (1 / steep)) if part < 1.0 else math.inf


def _log_time(share: float, whole: float, x: Floats, solution: float | None) -> float:
    time = _time(share, whole, x, solution)
    return math.log(time) if math.isfinite(time) else 20.0


def check_depth(depth: float | None, where: str) -> None:
    """Raise InputError for a depth of foam that no container has, m; None is unknown."""
    low, high = DEPTHS
    if depth is not None and not low <= depth <= high:
        what = "must be greater than 0" if depth <= 0.0 else "is not the depth of foam in a container"
        raise InputError(f"{depth:g} m {what}", where=where, remedy="Check its unit, and write it like 190 mm")


def _checked(
    readings: Sequence[tuple[float, float]], solution: float | None, depth: float | None, u_volume: float
) -> tuple[Floats, Floats]:
    pairs = [(float(a), float(b)) for a, b in readings]
    for number, (time, volume) in enumerate(pairs, 1):
        where = f"drainage: reading {number}"
        if not (math.isfinite(time) and math.isfinite(volume)) or time < 0.0 or volume < 0.0:
            raise InputError(
                "time and volume must be numbers of 0 or more", where=where, remedy="Write it like 60s=4mL"
            )
        if number > 1 and time <= pairs[number - 2][0]:
            raise InputError(
                f"{time:g} s comes after {pairs[number - 2][0]:g} s",
                where=where,
                remedy="Give the readings in order of time, each once",
            )
        highest = max((one for _, one in pairs[: number - 1]), default=0.0)
        if volume < highest - BACK * math.sqrt(2.0) * u_volume:
            raise InputError(
                f"the drained volume goes down from {highest * 1e6:.0f} to {volume * 1e6:.0f} mL",
                where=where,
                remedy="Check the reading; liquid that was poured out counts too",
            )
    used = [(a, b) for a, b in pairs if a > 0.0]
    if len(used) < FEWEST:
        raise InputError(
            f"{len(used)} reading{'' if len(used) == 1 else 's'} after the start",
            where="drainage",
            remedy=f"Give {FEWEST} or more: the curve has three parameters",
        )
    t, v = np.array(used).T
    if not v.max() > 0.0:
        raise InputError("nothing has drained yet", where="drainage", remedy="Wait for the first liquid")
    if solution is not None and not 0.0 < solution < math.inf:
        raise InputError(f"{solution:g} must be greater than 0", where="drainage: solution", remedy="Check its unit")
    check_depth(depth, "drainage: depth")
    if solution is not None and v.max() > 1.02 * solution + 2.0 * u_volume:
        raise InputError(
            f"{v.max() * 1e6:.0f} mL drained from foam that holds {solution * 1e6:.0f} mL of solution",
            where="drainage",
            remedy="Check the unit of the readings, and the weighings",
        )
    return t, v
