"""Measurements of a trial's run: line pressure, air rate and solution use over one window.

A run is less steady than a sweep: the reservoir empties and the source warms up. The window is therefore the filling
time of the timed sample, because its foam was made by that air. Drift inside the window counts as uncertainty, as a
rectangle over the change (JCGM 100:2008, 4.3.7). Without a timed sample the window is the longest steady stretch with
air flow.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.curve.steady import OnlineSteady
from frothline.errors import FrothlineError, InvalidEstimate
from frothline.estimate import NOT_CALIBRATED, Estimate
from frothline.foam.dosing import start_up_of
from frothline.numerics.arrays import Floats
from frothline.numerics.autocorrelation import mean_of
from frothline.numerics.scatter import DEVIATION_OVER_MEDIAN
from frothline.physics.air import STANDARD_DENSITY, AirState
from frothline.physics.foam import SOLUTION_DENSITY
from frothline.readings.applied_calibration import AUTO
from frothline.readings.false_alarms import alarm_texts
from frothline.readings.marks import marks
from frothline.readings.series import read_series
from frothline.readings.steady_input import steady_columns
from frothline.recording.reader import load
from frothline.recording.recorded import Recorded
from frothline.sensors.series import Series, Status

SHORTEST = 4.0  # s: for a faster filling the window begins a little earlier
FALLS = 4.0  # standard uncertainties by which a scale must fall for a solution use
POURED = 0.05  # kg, minimum rise of a scale from one second to the next that counts as a refill
FLOWING = 1e-3  # m3/s: less does not count as air flow


@dataclass(frozen=True)
class Filling:
    """Time of the full timed sample (s since the recording began), and its filling time."""

    at: float
    took: float


@dataclass(frozen=True)
class Used:
    """The window of the figures: s since the begin of the recording, and the reason of its choice."""

    start: float
    end: float
    why: str


@dataclass(frozen=True)
class Measured:
    """Measurements of a run. An unknown estimate is None, with its reason in ``why``, by name.

    ``line_pressure`` Pa gauge; ``air_rate`` m3/s of free air; ``standard_flow`` m3/s at 1.2 kg/m3; ``solution_use``
    m3/s by the scale; ``ambient_density`` kg/m3 (NaN unknown); ``start_up`` s without foam after the air came on (None
    where the start is not in the recording); ``refused`` unsteady stretches of the recording, with the reason;
    ``sha256`` of the recording's bytes; ``alarms`` texts of the recorded alarms, with those marked as false.
    """

    sha256: str
    used: Used | None = None
    line_pressure: Estimate | None = None
    air_rate: Estimate | None = None
    standard_flow: Estimate | None = None
    solution_use: Estimate | None = None
    ambient_density: float = math.nan
    start_up: Estimate | None = None
    refused: tuple[tuple[float, float, str], ...] = ()
    words: tuple[str, ...] = ()
    why: Mapping[str, str] | None = None
    alarms: tuple[str, ...] = ()


def measure(path: Path, filling: Filling | None = None, calibration: Any = AUTO, spool: Any = None) -> Measured:
    """Measure a recorded run. Raises RecordingError or SensorError if it cannot be read."""
    recorded = load(path)
    measured = _measure(recorded, filling, calibration, spool)
    return replace(measured, alarms=alarm_texts(marks(recorded)))


def _measure(recorded: Recorded, filling: Filling | None, calibration: Any, spool: Any) -> Measured:
    digest = recorded.digest()
    series = read_series(recorded, calibration, spool)
    why: dict[str, str] = {}
    columns = steady_columns(series)
    if columns is None:
        nothing = "the rig measured no pressure with flow"
        return Measured(digest, why=dict.fromkeys(("line_pressure", "air_rate", "standard_flow"), nothing))
    density = _ambient_density(series)
    used, refused = _window(columns, filling)
    if used is None:
        reasons = "; ".join(dict.fromkeys(reason for _, _, reason in refused)) or "no air flowed"
        nothing = f"no sample has a fill time, and no stretch was steady ({reasons})"
        return Measured(digest, refused=refused, ambient_density=density, why=dict.fromkeys(_FIGURES, nothing))
    words: list[str] = []
    pressure = _mean(series["line_pressure"], used, "line pressure", words)
    flow = _mean(series["standard_flow"], used, "air rate", words)
    if pressure is None:
        why["line_pressure"] = "the pressure was not read in this stretch"
    air = None
    if flow is None:
        why["air_rate"] = why["standard_flow"] = "the flow was not read in this stretch"
    elif not math.isfinite(density):
        why["air_rate"] = "the rig measured no ambient air, mass flow cannot be converted to free air"
    else:
        air = flow.scaled(STANDARD_DENSITY / density)
    solution, wanting = None, "no scale under the reservoir"
    if "scale_mass" in series:
        solution, wanting = _solution(series["scale_mass"], used)
    if solution is None:
        why["solution_use"] = wanting
    start_up = start_up_of(columns["time"], columns["pressure"], (used.start, used.end))
    return Measured(digest, used, pressure, air, flow, solution, density, start_up, refused, tuple(words), why)


_FIGURES = ("line_pressure", "air_rate", "standard_flow", "solution_use")
_ESTIMATES = (*_FIGURES, "start_up")


def _ambient_density(series: Mapping[str, Series]) -> float:
    """Density of the room's air by the ambient module, kg/m3; NaN without it."""
    names = ("ambient_temperature", "ambient_pressure", "ambient_humidity")
    if any(name not in series or not np.isfinite(series[name].value).any() for name in names):
        return math.nan
    temperature, pressure, humidity = (float(np.nanmedian(series[name].value)) for name in names)
    try:
        return AirState.free_air(temperature, pressure, humidity).density
    except FrothlineError:
        return math.nan


def _window(
    columns: Mapping[str, Floats], filling: Filling | None
) -> tuple[Used | None, tuple[tuple[float, float, str], ...]]:
    finder = OnlineSteady()
    finder.feed(**columns)
    finder.finish()
    refused = tuple((one.start, one.end, one.reason) for one in finder.refused)
    if filling is not None:
        start = filling.at - max(filling.took, SHORTEST)
        inside = (columns["time"] >= start) & (columns["time"] <= filling.at)
        if np.isfinite(columns["flow"][inside]).sum() > 10:
            return Used(start, filling.at, "while the timed sample was filled"), refused
    flowing = [point for point in finder.points if point.flow > FLOWING]
    if not flowing:
        return None, refused
    longest = max(flowing, key=lambda point: point.end - point.start)
    return Used(longest.start, longest.end, "the longest steady stretch with air flowing"), refused


def _inside(series: Series, used: Used) -> NDArray[np.bool_]:
    return (series.time >= used.start) & (series.time <= used.end) & np.isfinite(series.value)


def _mean(series: Series, used: Used, name: str, words: list[str]) -> Estimate | None:
    """Mean over the window: random part with autocorrelation, drift as a rectangle, full systematic part."""
    inside = _inside(series, used)
    if inside.sum() < 10:
        return None
    time, value = series.time[inside], series.value[inside]
    mean = mean_of(value)
    slope = float(np.polyfit(time - time.mean(), value, 1)[0])
    drift = slope * (used.end - used.start)
    shared = series.u if series.u_systematic is None else series.u_systematic
    u = math.sqrt(float(mean.covariance[0, 0]) + drift**2 / 12 + float(np.nanmean(shared[inside])) ** 2)
    level = float(mean.value[0])
    if abs(drift) > 0.01 * abs(level):
        words.append(f"{name} drifted by {100 * drift / level:+.1f} % in the window; included in its interval")
    found = Estimate.normal(level, u, series.unit)
    return found.marked_uncalibrated() if (series.status[inside] & Status.UNCALIBRATED).any() else found


def _solution(scale: Series, used: Used) -> tuple[Estimate | None, str]:
    """Volume flow out of the reservoir: slope of the scale over the window, m3/s. None with the reason if it lost no
    mass, or gained some: a refill or feed cannot be separated from the draw.
    """
    inside = _inside(scale, used)
    if inside.sum() < 10:
        uncalibrated = (scale.status & Status.UNCALIBRATED).any()
        return None, f"the scale is {NOT_CALIBRATED}" if uncalibrated else "the scale was not read in this stretch"
    time, mass = scale.time[inside] - used.start, scale.value[inside]
    (slope, _), covariance = np.polyfit(time, mass, 1, cov=True)
    if _poured(time, mass):
        return None, "the reservoir was refilled in this stretch: the scale is ignored"
    if slope > -FALLS * math.sqrt(float(covariance[0, 0])):
        return None, "the mass on the scale does not fall: the scale is ignored (check for a refill)"
    shared = scale.u if scale.u_systematic is None else scale.u_systematic
    span = float(np.nanmean(shared[inside])) / max(abs(float(mass.mean())), 1e-9)  # an error of the scale's span
    u = math.hypot(math.sqrt(float(covariance[0, 0])), span * slope)
    said = ("reservoir on the scale; solution density taken as that of water with a little soap",)
    return Estimate.normal(-slope / SOLUTION_DENSITY, u / SOLUTION_DENSITY, "m3/s", assumptions=said), ""


def _poured(time: Floats, mass: Floats) -> bool:
    """Whether a scale rises anywhere by more than its noise, by medians over a second."""
    seconds = np.floor(time)
    pieces = [mass[seconds == second] for second in np.unique(seconds)]
    middles = np.array([np.median(piece) for piece in pieces])
    noise = float(np.median([DEVIATION_OVER_MEDIAN * np.median(np.abs(piece - np.median(piece))) for piece in pieces]))
    return bool(np.any(np.diff(middles) > max(6.0 * noise, POURED)))


def as_json(measured: Measured) -> dict[str, Any]:
    """Plain types, for a cache."""
    data = dict(vars(measured))
    for name in _ESTIMATES:
        data[name] = None if data[name] is None else dict(vars(data[name]))
    data["used"] = None if measured.used is None else dict(vars(measured.used))
    return data


def from_json(data: Mapping[str, Any]) -> Measured:
    """Inverse of :func:`as_json`. Raises KeyError, TypeError or ValueError for other data."""
    values = dict(data)
    for name in _ESTIMATES:
        if values[name] is not None:
            try:
                values[name] = Estimate(**values[name] | {"assumptions": tuple(values[name]["assumptions"])})
            except InvalidEstimate as error:
                raise ValueError(error.what) from error
    values["used"] = None if values["used"] is None else Used(**values["used"])
    values["refused"] = tuple((float(a), float(b), str(c)) for a, b, c in _rows(values["refused"]))
    values["words"] = tuple(values["words"])
    values["alarms"] = tuple(map(str, values["alarms"]))
    return Measured(**values)


def _rows(value: Any) -> Sequence[Any]:
    if not isinstance(value, list):
        raise TypeError("no list")
    return value
