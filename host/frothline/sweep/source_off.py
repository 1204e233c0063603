"""Detection of stretches of a plate recording in which the air source is off.

With a drilled plate the pressure alone gives the flow, so a stretch with the source off is read as a point at the
offset of the pressure sensor and biases the curve. It is left out. Its pressure is the sensor's zero reading only if
other evidence shows that no air flowed, because a weak source reads like an offset. The evidence is a rotor that stood
in the stretch and turned later. A rotor stands up to its start-up speed, so the pressure in the stretch may be up to
what the plate needs for that flow. If this is not small against the uncertainty of the offset, no zero is taken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.readings import time_axis
from frothline.recording.recorded import Recorded
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Series
from frothline.sensors.spool import Spool

SHORTEST = 2.0  # s
BEFORE_RISE = 1.5  # s left out before the pressure rises: a motor starts slowly
SAME = 0.02  # share of the later pressure that counts as not risen yet
RISE = 50.0  # Pa that the pressure must rise by at least
WITHIN = 1.8  # standard uncertainties of the zero reading: the limits of a data sheet's band (rectangular) are at 1.73
NARROWEST = 60.0  # Pa: three times the drift of a zero within a session
QUIET = 2.0  # times the sensor's own scatter; a running source adds scatter
FLOOR = 5.0  # Pa of scatter that any sensor is allowed
SURE = 2.0  # times the start-up flow, at which a rotor surely turns
SMALL = 0.2  # of the uncertainty of the offset
LITTLE = 0.1  # of the highest pressure of the recording
COASTS = 0.7  # share of its speed that a rotor without air has at most at the end of the stretch


@dataclass(frozen=True)
class SourceOff:
    """A stretch from ``start`` to ``end`` (s) of recording ``source`` in which the source was off.

    ``pressure`` (Pa): its mean as read. ``zero``: that reading as a ratio of the supply, if it is used as the zero of
    the recording, else None. ``within`` (Pa): largest possible true pressure there, NaN if unknown.
    """

    source: int
    start: float
    end: float
    pressure: float
    zero: float | None
    within: float
    why_not: str = ""

    def words(self) -> str:
        said = (
            f"source off from {self.start:.1f} to {self.end:.1f} s, left out; the pressure reads {self.pressure:.0f} Pa"
        )
        if self.zero is None:
            return f"{said}, not used as zero: {self.why_not}"
        return f"{said}, used as the zero of this recording (±{self.within:.0f} Pa)"


def find_source_off(
    number: int, recorded: Recorded, series: Mapping[str, Series], rotor: Series | None, spool: Spool
) -> SourceOff | None:
    """The stretch at the start of a plate recording in which the source is off; None without one.

    ``series`` is read with the plate, ``rotor`` is the rotor's frequency if one is fitted.
    """
    pressure = series["line_pressure"]
    known = np.isfinite(pressure.value)
    time, value = pressure.time[known], pressure.value[known]
    if value.size < 20 or time[-1] - time[0] < SHORTEST:
        return None
    base = float(np.median(value[time <= time[0] + SHORTEST]))
    rise = float(np.percentile(value, 90)) - base
    if rise < RISE:
        return None  # this recording has no stretch with the source on
    smooth = _smoothed(time, value)
    risen = np.flatnonzero(np.abs(smooth - base) > max(SAME * rise, FLOOR))
    end = time[risen[0]] - BEFORE_RISE if risen.size else time[-1]
    inside = time <= end
    if not inside.any() or end - time[0] < SHORTEST:
        return None
    mean = float(value[inside].mean())
    doubt = float(np.median(pressure.u_systematic[known][inside]))
    scatter = float(np.median(pressure.u_random[known][inside]))
    if abs(mean) > max(WITHIN * doubt, NARROWEST) or value[inside].std() > max(QUIET * scatter, FLOOR):
        return None
    moves = _moves(rotor, time[0], end)
    if moves == "turns":
        return None
    within = _standing_pressure(spool)
    why_not = ""
    if moves != "stands":
        why_not = {
            "coasts": "the anemometer still turned",
            "unknown": "no anemometer to confirm that the air was at rest",
        }[moves]
    elif within > SMALL * max(doubt, abs(mean)):
        why_not = f"the anemometer does not turn up to {within:.0f} Pa before this plate"
    zero = None if why_not else _ratio(recorded, float(time[0]), float(end))
    return SourceOff(number, float(time[0]), float(end), mean, zero, within if zero is not None else np.nan, why_not)


def _smoothed(time: NDArray[np.float64], value: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over the 0.3 s up to each sample."""
    total = np.concatenate([[0.0], np.cumsum(value)])
    first = np.searchsorted(time, time - 0.3)
    last = np.arange(1, time.size + 1)
    return np.asarray((total[last] - total[first]) / (last - first), dtype=np.float64)


def _moves(rotor: Series | None, start: float, end: float) -> str:
    """Whether the rotor "stands", "coasts" or "turns" in the stretch; "unknown" without a signal, or if it never turns
    later (unplugged or stuck).
    """
    if rotor is None or not len(rotor):
        return "unknown"
    known = np.isfinite(rotor.value)
    inside, later = known & (rotor.time >= start) & (rotor.time <= end), known & (rotor.time > end)
    if not inside.any() or not (rotor.value[later] > 0).any():
        return "unknown"
    speed = rotor.value[inside]
    if not (speed > 0).any():
        return "stands"
    third = max(1, speed.size // 3)
    return "coasts" if speed[-third:].mean() < COASTS * speed[:third].mean() else "turns"


def _standing_pressure(spool: Spool) -> float:
    """Pa before the plate at which a rotor surely turns; with discharge coefficient 0.6 and 1.2 kg/m3, accurate enough
    for a bound.
    """
    flow = SURE * spool.rotor.start_speed * spool.pipe.area
    return 0.5 * 1.2 * (flow / (0.6 * pi / 4 * spool.plate.hole**2)) ** 2


def _ratio(recorded: Recorded, start: float, end: float) -> float:
    """Mean reading of the pressure's pin in the stretch, as a ratio of the supply."""
    rows, offsets = recorded.decoded.tables["line"], recorded.decoded.offsets["line"]
    time = time_axis.place(rows["tick"], offsets, time_axis.pieces(recorded))
    inside = rows[(time >= start) & (time <= end) & (rows["pressure_n"] > 0)]
    levels = RigDescription.from_tables(recorded.decoded.tables).adc.levels
    return float(np.mean(inside["pressure_sum"] / inside["pressure_n"] / levels))


def without(points: Sequence[SteadyPoint], off: SourceOff | None) -> list[SteadyPoint]:
    """The points of a recording outside of the stretch, each with the uncertainty of the zero taken from it."""
    if off is None:
        return list(points)
    kept = [point for point in points if point.start >= off.end]
    if off.zero is None:
        return kept
    u = off.within / sqrt(3.0)  # rectangular, JCGM 100:2008, 4.3.7
    return [_doubted(point, CommonError(f"zero of recording {off.source}", u, _on_flow(point, u))) for point in kept]


def switched_off(number: int, points: Sequence[SteadyPoint]) -> list[SourceOff]:
    """Steady stretches after the highest pressure of a recording in which the source was switched off again.

    The pressure is then as near to 0 as the offset of the sensor, and at most a tenth of the highest. Air may still
    flow while the source runs down, so that no zero is taken.
    """
    if not points:
        return []
    on = max(points, key=lambda point: point.pressure)
    return [
        SourceOff(number, one.start, one.end, one.pressure, None, np.nan, "the source may still have been running down")
        for one in points
        if one.start > on.start
        and abs(one.pressure) <= max(WITHIN * one.u_pressure, NARROWEST)
        and abs(one.pressure) <= LITTLE * on.pressure
    ]


def _on_flow(point: SteadyPoint, u: float) -> float:
    """The effect on a plate's flow, which is proportional to the root of its pressure."""
    return point.flow * u / (2 * point.pressure) if point.pressure > u else point.flow / 2


def _doubted(point: SteadyPoint, error: CommonError) -> SteadyPoint:
    return replace(
        point,
        u_pressure=float(np.hypot(point.u_pressure, error.on_pressure)),
        u_flow=float(np.hypot(point.u_flow, error.on_flow)),
        covariance=point.covariance + error.on_pressure * error.on_flow,
        common=(*point.common, error),
    )
