"""The chart of pressure against flow for reports, with the source's curve and measured points."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from frothline.curve.blower import BlowerFit
from frothline.curve.steady_points import SteadyPoint
from frothline.estimate import Estimate
from frothline.readings.marks import RecordedMark
from frothline.report.svg_chart import Chart, thinned
from frothline.sensors.series import Series
from frothline.units import Unit

_PLACES = 121


def plane(
    fit: BlowerFit | None,
    points: Sequence[SteadyPoint] = (),
    runs: Iterable[tuple[str, Estimate, Estimate]] = (),
    *,
    system: Mapping[str, Unit],
    title: str,
) -> str:
    """Curve with its simultaneous 95 % band, steady points, and runs as (words, pressure, standard flow)."""
    p, q = system["pressure"], system["flow"]
    marked = list(runs)
    flows = [point.flow for point in points] + [flow.upper for _, _, flow in marked]
    pressures = [point.pressure for point in points] + [pressure.upper for _, pressure, _ in marked]
    if fit is not None:
        free = fit.free_delivery.value
        flows.append(free if math.isfinite(free) and free < 1.6 * fit.range[1] else fit.range[1])
        flows.append(fit.range[1])
        pressures += [fit.pressure_range[1], fit.shut_off.value]
    known_q = [v for v in flows if math.isfinite(v)]
    known_p = [v for v in pressures if math.isfinite(v)]
    if not known_q or not known_p:
        return ""
    top_q, top_p = 1.06 * max(known_q), 1.08 * max(known_p)
    chart = Chart(
        (0.0, q.from_si(top_q)),
        (0.0, p.from_si(top_p)),
        x_label=f"flow, air of 1.2 kg/m³, {q.symbol}",
        y_label=f"pressure, {p.symbol}",
        title=title,
    )
    if fit is not None:
        grid = np.linspace(0.0, top_q, _PLACES)
        lower, upper = fit.band(grid)
        value = fit.pressure(grid)[0]
        chart.band(grid * q.factor, lower * p.factor, upper * p.factor)
        inside = (grid >= fit.range[0]) & (grid <= fit.range[1])
        chart.line(grid[inside] * q.factor, value[inside] * p.factor, "measured")
        for part in (grid < fit.range[0], grid > fit.range[1]):  # beyond the measured range: dashed
            edge = part | np.roll(part, 1) | np.roll(part, -1)
            edge[0], edge[-1] = part[0], part[-1]
            if part.any():
                chart.line(grid[edge] * q.factor, value[edge] * p.factor, "predicted")
    if points:
        chart.points(
            [one.flow * q.factor for one in points],
            [one.pressure * p.factor for one in points],
            [_random(one.u_flow, [c.on_flow for c in one.common]) * q.factor for one in points],
            [_random(one.u_pressure, [c.on_pressure for c in one.common]) * p.factor for one in points],
        )
    told: list[tuple[float, float, float]] = []
    for words, pressure, flow in sorted(marked, key=lambda run: run[2].value):
        x, y = q.from_si(flow.value), p.from_si(pressure.value)
        chart.points(
            [x], [y], [flow.standard_uncertainty * q.factor], [pressure.standard_uncertainty * p.factor], "dot aside"
        )
        _label(chart, x, y, words, told)
    return chart.svg()


def _label(chart: Chart, x: float, y: float, words: str, told: list[tuple[float, float, float]]) -> None:
    """A label next to a point, moved up until it overlaps none of ``told`` (left, right, height in px)."""
    left, height = chart.px(x) + 7.0, chart.py(y) - 7.0
    right = left + 7.0 * len(words) + 4.0
    while height > chart.py(chart.y[1]) + 12 and any(
        left < there[1] and right > there[0] and abs(height - there[2]) < 12 for there in told
    ):
        height -= 3.0
    told.append((left, right, height))
    low, high = chart.py(chart.y[0]), chart.py(chart.y[1])
    chart.note(
        x + 7.0 * (chart.x[1] - chart.x[0]) / (chart.px(chart.x[1]) - chart.px(chart.x[0])),
        chart.y[0] + (low - height) / (low - high) * (chart.y[1] - chart.y[0]),
        words,
    )


def _random(total: float, common: Sequence[float]) -> float:
    """The random part of a point's uncertainty; the rest moves all points together and is in the band."""
    return math.sqrt(max(total**2 - sum(part**2 for part in common), 0.0))


def trace(
    series: Series,
    unit: Unit,
    *,
    label: str,
    spans: Iterable[tuple[float, float, str]] = (),
    marks: Iterable[RecordedMark] = (),
) -> str:
    """One series over time, decimated without loss of extremes, with tinted ranges and marks as thin lines."""
    time, value = series.time, series.value * unit.factor + unit.offset
    good = np.isfinite(value)
    if good.sum() < 2:
        return ""
    low, high = float(value[good].min()), float(value[good].max())
    pad = 0.06 * ((high - low) or abs(high) or 1.0)
    chart = Chart(
        (float(time[0]), float(time[-1])),
        (min(low - pad, 0.0) if low >= 0 else low - pad, high + 2 * pad),
        x_label="time since the recording began, s",
        y_label=f"{label}, {unit.symbol}",
        title=f"{label} over time",
        size=(660.0, 210.0),
    )
    for start, end, said in spans:
        chart.span(start, end, said)
    thin_time, thin_value = thinned(time, value)
    chart.line(thin_time, thin_value)
    for mark in marks:
        if math.isfinite(mark.time):
            chart.line([mark.time, mark.time], chart.y, "thin")
    return chart.svg()
