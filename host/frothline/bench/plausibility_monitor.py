"""Plausibility checks of the running rig: the rules of ``sensors.plausibility`` on the newest samples and the sweep.

A finding is advice: no data is dropped and nothing stops.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from frothline.sensors.datasheets import RatiometricPressure
from frothline.sensors.finding import Finding
from frothline.sensors.plausibility import look_at_samples
from frothline.sensors.series import Series
from frothline.sensors.sweep_plausibility import look_at_reach, look_at_sweep

if TYPE_CHECKING:
    from frothline.bench.ring_buffer import RingBuffer
    from frothline.bench.snapshot import SeriesWindow
    from frothline.curve.steady_points import SteadyPoint

LOOKED_AT = 60.0  # s of the newest samples
LONGEST = 900.0  # s of a sweep, at most
LEAST = 5.0  # s, shorter stretches are not checked
WHOLE_SWEEP = {"sweep-one-end", "sweep-short"}  # only after the end of the sweep: before that the sweep is incomplete


def series_of(rings: Mapping[str, RingBuffer], begin: float, end: float) -> dict[str, Series]:
    """Samples of the rings between two session times, as series; samples of one message stay aligned."""
    found = {name: _since(ring, begin) for name, ring in list(rings.items())}
    pressure = found.get("line_pressure")
    if pressure is None:
        return {}
    made = {}
    for name, window in found.items():
        cut = _beside(window, pressure) if _together(window, pressure) else window
        inside = (cut.time >= begin) & (cut.time <= end)
        made[name] = Series(
            name, cut.unit, cut.time[inside], cut.value[inside], cut.u[inside], cut.status[inside].astype(np.uint8)
        )
    return made


def _since(ring: RingBuffer, begin: float) -> SeriesWindow:
    """Window length in s back from the ring's newest sample, not from the end of the checked stretch."""
    newest = ring.newest(1).time
    return ring.window(float(newest[-1]) - begin + 1.0 if len(newest) else 0.0)


def _together(window: SeriesWindow, pressure: SeriesWindow) -> bool:
    """Whether two series come in the same messages and so have the same sample numbers and times."""
    first = max(window.first, pressure.first)
    mine, its = window.time[first - window.first :], pressure.time[first - pressure.first :]
    both = min(len(mine), len(its))
    return both > 0 and bool(mine[0] == its[0]) and bool(mine[both - 1] == its[both - 1])


def _beside(window: SeriesWindow, pressure: SeriesWindow) -> SeriesWindow:
    """The samples with numbers in both series; the two were copied at slightly different times."""
    end = min(window.first + len(window.time), pressure.first + len(pressure.time))
    first = max(window.first, pressure.first)
    cut = slice(first - window.first, end - window.first)
    return replace(
        window, first=first, time=window.time[cut], value=window.value[cut], u=window.u[cut], status=window.status[cut]
    )


class PlausibilityMonitor:
    """Repeated plausibility checks; findings on a finished sweep do not change with later readings."""

    def __init__(self) -> None:
        self._of: object = None
        self._whole: tuple[Finding, ...] = ()
        self._sensor: RatiometricPressure | None = None

    def look(
        self,
        rings: Mapping[str, RingBuffer],
        now: float,
        sweep: tuple[float, float | None] | None,
        points: Sequence[SteadyPoint] = (),
        sensor: RatiometricPressure | None = None,
    ) -> tuple[Finding, ...]:
        """Findings of the newest minute and of the sweep (its begin, and its end unless it still runs).

        ``points`` are the shown points of the sweep's curve; its range is read from them. ``sensor``:
        the pressure sensor of the board's settings.
        """
        self._sensor = sensor
        recent = series_of(rings, now - LOOKED_AT, now)
        pressure = recent.get("line_pressure")
        if pressure is None or len(pressure) < 2 or pressure.time[-1] - pressure.time[0] < LEAST:
            return ()
        found = [*look_at_samples(recent, sensor), *self._of_sweep(rings, now, sweep, points)]
        return tuple({(one.code, one.channel): one for one in found}.values())

    def _of_sweep(
        self,
        rings: Mapping[str, RingBuffer],
        now: float,
        sweep: tuple[float, float | None] | None,
        points: Sequence[SteadyPoint],
    ) -> tuple[Finding, ...]:
        if sweep is None:
            return ()
        begin, end = sweep
        if end is None:
            running = look_at_sweep(series_of(rings, max(begin, now - LONGEST), now), running=True, sensor=self._sensor)
            return tuple(one for one in running if one.code not in WHOLE_SWEEP)
        places = tuple((point.pressure, point.flow) for point in points)
        if self._of != (sweep, places):
            self._of, self._whole = (sweep, places), self._of_whole(rings, begin, end, places)
        return self._whole

    def _of_whole(
        self, rings: Mapping[str, RingBuffer], begin: float, end: float, places: Sequence[tuple[float, float]]
    ) -> tuple[Finding, ...]:
        reach = np.array(places, dtype=np.float64).reshape(-1, 2).T
        series = series_of(rings, begin, end)
        pressure = series.get("line_pressure")
        if pressure is None or not len(pressure) or pressure.time[0] > begin + LEAST:  # its beginning was overwritten
            return tuple(look_at_reach(reach[0], reach[1]))
        return tuple(look_at_sweep(series, (reach[0], reach[1]), sensor=self._sensor))
