"""Dosing of the foam of a batch: by run time from air on, or by level buckets; and refills of the reservoir.

A generator gives no foam in its first seconds: packing and hose fill first. So the time for a volume V is t0 + V/Q. An
error of t0 matters more for a shorter run; below ``SHORTEST_BY_TIME`` the foam is measured in a struck bucket.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, inf, isfinite, sqrt

import numpy as np
from numpy.typing import NDArray

from frothline.estimate import Estimate
from frothline.numerics.scatter import DEVIATION_OVER_MEDIAN
from frothline.physics.foam import SOLUTION_DENSITY

SHORTEST_BY_TIME = 30.0  # s of run time; shorter runs are dosed by the bucket; judgement, no source
BUCKET = 0.010  # m³, struck level
U_BUCKET = 0.02  # relative standard uncertainty of a volume measured in level buckets; judgement, no source
LEVEL = 0.005  # relative: the line is settled when its pressure stays this close to its steady value; judgement
REFILL_AT = 0.1  # of the reservoir: refilled before it is empty; judgement, no source
LEAST = 4.0  # s, minimum start-up: a source of constant pressure hardly shows the start; judgement
LONGEST = 60.0  # s after air on, latest foam; a longer time is not a start-up

# Before a run was recorded: between no time at all and LATEST, as a rectangle (JCGM 100:2008, 4.3.7).
LATEST = 8.0  # s; judgement, no source
START_UP = Estimate(
    LATEST / 2,
    LATEST / sqrt(12.0),
    0.025 * LATEST,
    0.975 * LATEST,
    "s",
    assumptions=(f"foam starts within {LATEST:.0f} s: judgement, until a run with this generator is recorded",),
)


def start_up_of(
    time: NDArray[np.float64], pressure: NDArray[np.float64], settled: tuple[float, float]
) -> Estimate | None:
    """Start-up of a recorded run without foam after air on, s: t0 of t0 + V/Q.

    time, pressure : (n,) s and Pa gauge of the line;  settled : start and end of a steady stretch of foaming, s

    Between the first rise of the pressure and the time from which it stays near its steady value, the foam rate is
    between none and full: t0 is half of that time, with a rectangle over all of it. None if the recording lacks the
    start.
    """
    known = np.isfinite(pressure) & (time <= settled[1])
    time, pressure = time[known], pressure[known]
    inside = time >= settled[0]
    if np.count_nonzero(inside) < 10 or np.count_nonzero(~inside) < 10:
        return None
    steady = float(np.median(pressure[inside]))
    step = float(np.median(np.diff(time)))
    smooth = _running_median(pressure, max(round(0.3 / step), 1))
    noise = DEVIATION_OVER_MEDIAN * float(np.median(np.abs(pressure[inside] - steady)))
    off = smooth < max(0.1 * steady, 3.0 * noise)
    before = np.flatnonzero(off & ~inside)
    if steady <= 0.0 or not len(before):
        return None
    on = float(time[before[-1]])
    away = np.abs(smooth - steady) > LEVEL * steady + 2.0 * noise
    late = np.flatnonzero(away & (time > on) & ~inside)
    reached = float(time[late[-1]]) if len(late) else on + step
    whole = max(reached - on, LEAST)
    if whole > LONGEST:
        return None
    said = ("foam output between air on and steady pressure is unknown",)
    return Estimate(whole / 2, whole / sqrt(12.0), 0.025 * whole, 0.975 * whole, "s", assumptions=said)


def _running_median(values: NDArray[np.float64], half: int) -> NDArray[np.float64]:
    padded = np.pad(values, half, mode="edge")
    found: NDArray[np.float64] = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    return found


def mean_start_up(several: Sequence[Estimate]) -> Estimate:
    """Mean start-up of several runs of one generator, with at least the uncertainty of one run; the assumption without
    runs.
    """
    if not several:
        return START_UP
    value = float(np.mean([one.value for one in several]))
    scatter = float(np.std([one.value for one in several], ddof=1)) if len(several) > 1 else 0.0
    u = hypot(float(np.mean([one.standard_uncertainty for one in several])), scatter)
    lower = min(max(value - sqrt(3.0) * u, 0.0), value)
    return Estimate(value, u, lower, value + sqrt(3.0) * u, "s", assumptions=several[0].assumptions)


def run_time(volume: float, output: Estimate | None, start_up: Estimate, starts: int = 1) -> Estimate | None:
    """Time with air on for a volume of foam, s: n t0 + V/Q; None if the output is unknown.

    starts : n times that the air comes on; the error of t0 is common to them. ``generator_run`` counts them
    """
    if output is None or not output.known or output.value <= 0.0:
        return None
    flowing = volume / output.value
    lost, low, high = (starts * one for one in (start_up.value, start_up.lower, start_up.upper))
    u = hypot(starts * start_up.standard_uncertainty, flowing * output.standard_uncertainty / output.value)
    value = lost + flowing
    least = volume / output.upper if output.upper > 0.0 else 0.0
    most = volume / output.lower if output.lower > 0.0 else inf
    # the two are independent: their half intervals add as squares
    lower = value - hypot(lost - low, flowing - least)
    upper = value + hypot(high - lost, most - flowing) if isfinite(most) else inf
    return Estimate(value, u, max(lower, 0.0), upper, "s", assumptions=(*start_up.assumptions, *output.assumptions))


@dataclass(frozen=True)
class Dosing:
    """The dosing method: ``by`` "time" or "bucket"; ``bucket`` m³; ``buckets`` of it for the whole batch; ``u_volume``
    relative standard uncertainty of the foam's volume measured this way.
    """

    by: str
    bucket: float
    buckets: float
    u_volume: float
    words: str


def dosing(
    volume: float,
    time: Estimate | None,
    output: Estimate | None,
    start_up: Estimate,
    bucket: float,
    starts: int = 1,
) -> Dosing:
    """Choose the dosing method for a volume of foam (m³) that takes ``time`` with this number of starts."""
    count = volume / bucket
    struck = f"{count:.1f} level buckets of {bucket * 1e3:.3g} L"
    if time is None or output is None:
        return Dosing("bucket", bucket, count, U_BUCKET, f"dose by the bucket, the output is not known: {struck}")
    if time.value < SHORTEST_BY_TIME:
        words = f"{time.value:.0f} s is too short to dose by time: dose by the bucket, {struck}"
        return Dosing("bucket", bucket, count, U_BUCKET, words)
    late = starts * output.value * start_up.standard_uncertainty / volume
    u = hypot(output.standard_uncertainty / output.value, late)
    words = f"count from air on; the first {start_up.value:.0f} s give no foam"
    if starts > 1:
        words += f" at each of {starts} starts: count the time with air on alone"
    return Dosing("time", bucket, count, u, words)


@dataclass(frozen=True)
class Refills:
    """Refills of the reservoir: ``wanted`` and ``held`` m³ of solution; ``times`` of refills in s after air on."""

    wanted: float
    held: float
    times: tuple[float, ...]
    words: str


def refills(wanted: float, drawn: float, held: float, output: Estimate | None, density: float, count: int) -> Refills:
    """Calculate the times of refills, s with air on; solution is drawn from air on.

    wanted : m³ of solution to prepare, with the reserve
    drawn : part of it that is drawn
    held : m³ of the full reservoir
    density : kg/m³ of the foam;  count : of the refills, see ``generator_run``
    """
    usable = (1.0 - REFILL_AT) * held
    if not count:
        words = f"the reservoir is sufficient: {held * 1e3:.3g} L for {drawn * 1e3:.3g} L used"
        return Refills(wanted, held, (), words)
    words = f"the reservoir holds {held * 1e3:.3g} L and {drawn * 1e3:.3g} L are needed: refill it {count} times"
    words = words.replace("1 times", "once") if count == 1 else words
    if output is None or not output.known or output.value <= 0.0:
        return Refills(wanted, held, (), f"{words}, each time before it is empty")
    rate = output.value * density / SOLUTION_DENSITY
    times = tuple((k + 1) * usable / rate for k in range(count))
    said = ", ".join(f"{one:.0f} s" for one in times[:6]) + (" …" if count > 6 else "")
    return Refills(wanted, held, times, f"{words}, after {said} of running")
