"""Data of the pressure-flow chart: the recent path of the operating point, and the fitted curve on a grid."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from frothline.bench.snapshot import SeriesWindow, Snapshot
from frothline.web.charts.decimate import Floats
from frothline.web.charts.pressure_flow import CurveDrawing

TRAIL_SECONDS = 5.0


TRAIL_STEP = 0.25  # s, averaging time of one point of the trail


CURVE_POINTS = 121


def trail(pressure: SeriesWindow, flow: SeriesWindow, now: float) -> tuple[Floats, Floats]:
    """The operating point over the last seconds: ``(flow, pressure)``, one mean per 0.25 s.

    The 0.25 s bins are counted from the beginning of the session, so that the trail does not flicker.
    """
    last = math.floor(now / TRAIL_STEP)
    edges: Floats = np.arange(last - round(TRAIL_SECONDS / TRAIL_STEP), last + 2, dtype=np.float64) * TRAIL_STEP
    q, p = _means(flow, edges), _means(pressure, edges)
    known = np.isfinite(q) & np.isfinite(p)
    return q[known], p[known]


def _means(window: SeriesWindow, edges: Floats) -> Floats:
    """Mean of the known samples from each edge up to the next; the samples are in order of time."""
    good = np.isfinite(window.value)
    at = np.searchsorted(window.time[good], edges)
    count = np.diff(at)
    total = np.diff(np.concatenate(([0.0], np.cumsum(window.value[good])))[at])
    return np.asarray(np.divide(total, count, out=np.full(len(count), np.nan), where=count > 0), dtype=np.float64)


def curve(now: Snapshot) -> CurveDrawing | None:
    """The fitted curve on a grid from zero flow to free delivery, with its band; None without a fit."""
    return curve_of(now.fit)


def curve_of(fit: Any) -> CurveDrawing | None:
    """The curve of any fit on a grid, with its band."""
    if fit is None:
        return None
    lowest, highest = fit.range
    end = fit.free_delivery.value if fit.free_delivery.known else highest
    q = np.linspace(0.0, max(end, highest), CURVE_POINTS)
    p = np.asarray(fit.pressure(q)[0], dtype=float)
    lower, upper = fit.band(q)
    return CurveDrawing(q, p, np.asarray(lower, dtype=float), np.asarray(upper, dtype=float), lowest, highest)
