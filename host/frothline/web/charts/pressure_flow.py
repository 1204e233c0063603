"""The chart of pressure against flow: curve, band, points, trail and live dot.

SVG traces only, transparent ground, no text smaller than 13 px. Input is in SI, output in the reader's units. The
traces that move with every frame come last, so that a page replaces only their points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import plotly.graph_objects as go

from frothline.estimate import Z95
from frothline.formatting import unit_of
from frothline.web.charts import readout
from frothline.web.charts.decimate import Floats
from frothline.web.charts.layout import NARROW_LEGEND, WIDE_LEGEND, chart_axis, chart_layout, numbers
from frothline.web.charts.palette import PALETTES, Palette, Scheme, tint

MEASURED, PREDICTED = "Curve, measured", "Curve, predicted"  # the word, the dash and the weight tell them apart


class ChartPoint(Protocol):
    """A steady point in the chart: means and their standard uncertainties, SI."""

    @property
    def flow(self) -> float: ...
    @property
    def pressure(self) -> float: ...
    @property
    def u_flow(self) -> float: ...
    @property
    def u_pressure(self) -> float: ...


@dataclass(frozen=True)
class CurveDrawing:
    """A curve on a grid of flows with its 95 % band, all (n,) in SI, and the measured range of flow."""

    flow: Floats
    pressure: Floats
    lower: Floats
    upper: Floats
    measured_from: float
    measured_to: float


@dataclass(frozen=True)
class SourceDrawing:
    """An air source in the chart."""

    points: Sequence[ChartPoint] = ()
    curve: CurveDrawing | None = None


def plane(
    source: SourceDrawing,
    system: str,
    scheme: Scheme,
    *,
    touch: bool = False,
    narrow: bool = False,
    over: Sequence[Any] = (),
    empty: str = "",
) -> go.Figure:
    """Chart of pressure (vertical) against flow: curve with band, steady points with intervals, trail and live dot.

    ``over`` : further traces, drawn above the curve and below the live dot
    ``empty`` : what to do to see a curve, shown in the chart

    The last two traces are the trail and the live dot; they are empty here, and ``plane_live`` fills them.
    """
    ink = PALETTES[scheme]
    flow, pressure = unit_of("flow", system), unit_of("pressure", system)
    figure = go.Figure()
    if source.curve is not None:
        _add_curve(figure, source.curve, flow.factor, pressure.factor, pressure.symbol, ink)
    if source.points or not over:
        _add_points(figure, source.points, flow.factor, pressure.factor, pressure.symbol, ink)
    figure.add_traces(list(over))
    figure.add_scatter(
        x=[],
        y=[],
        mode="lines",
        name="Recent path",
        line={"color": tint(ink.ink, 0.45), "width": 2},
        hoverinfo="skip",
        showlegend=False,
    )
    figure.add_scatter(
        x=[],
        y=[],
        mode="markers",
        name="Current",
        marker={"size": 15, "color": ink.ink, "line": {"color": ink.paper, "width": 3}},
        hovertemplate=readout.template("Current", pressure.symbol),
    )
    figure.update_layout(chart_layout(ink, touch=touch) | readout.read_out(ink))
    figure.update_layout(
        xaxis=chart_axis(ink, f"flow, {flow.symbol} (standard air, 1.2 kg/m³)")
        | readout.crosshair(ink, f"at %{{x:{readout.DIGITS}}} {flow.symbol}"),
        annotations=[readout.empty_note(empty, ink)] if empty else [],
        yaxis=chart_axis(ink, f"pressure, {pressure.symbol}"),
        showlegend=True,
        legend=NARROW_LEGEND if narrow else WIDE_LEGEND,
        margin={"l": 52, "r": 8, "t": 10, "b": 150} if narrow else {"l": 64, "r": 12, "t": 40, "b": 56},
    )
    return figure


def plane_limits(
    source: SourceDrawing, reach_flow: float, reach_pressure: float, system: str
) -> tuple[list[float], list[float]]:
    """Ranges of both axes in the reader's units, from 0 to a round figure above all values.

    ``reach_flow`` and ``reach_pressure`` are the largest live values so far, SI.
    """
    flows, pressures = [reach_flow], [reach_pressure]
    flows += [p.flow + Z95 * p.u_flow for p in source.points]
    pressures += [p.pressure + Z95 * p.u_pressure for p in source.points]
    if source.curve is not None:
        flows.append(float(source.curve.flow.max(initial=0.0)))
        pressures.append(float(np.nanmax(source.curve.pressure, initial=0.0)))
    return (
        [0.0, round_up(1.06 * unit_of("flow", system).from_si(max(flows)))],
        [0.0, round_up(1.06 * unit_of("pressure", system).from_si(max(pressures)))],
    )


def plane_live(trail_flow: Floats, trail_pressure: Floats, flow: float, pressure: float, system: str) -> dict[str, Any]:
    """Points of the two moving traces, in the reader's units."""
    kx, ky = unit_of("flow", system).factor, unit_of("pressure", system).factor
    known = np.isfinite(flow) and np.isfinite(pressure)
    return {
        "x": [numbers(trail_flow * kx, 4), [round(flow * kx, 4)] if known else []],
        "y": [numbers(trail_pressure * ky, 4), [round(pressure * ky, 4)] if known else []],
    }


def _add_curve(figure: go.Figure, curve: CurveDrawing, kx: float, ky: float, unit: str, ink: Palette) -> None:
    q = curve.flow * kx
    band = np.concatenate((curve.lower, curve.upper[::-1])) * ky
    figure.add_scatter(
        x=np.round(np.concatenate((q, q[::-1])), 4).tolist(),
        y=np.round(np.maximum(band, 0.0), 4).tolist(),
        mode="lines",
        fill="toself",
        fillcolor=tint(ink.measured, 0.18),
        line={"width": 0},
        name="95 % band",
        hoverinfo="skip",
    )
    measured = (curve.flow >= curve.measured_from) & (curve.flow <= curve.measured_to)
    low_to_high = " to ".join(f"%{{customdata[{end}]:{readout.DIGITS}}}" for end in (0, 1))
    interval = np.round(np.column_stack((np.maximum(curve.lower, 0.0), curve.upper)) * ky, 3)
    for name, mask, colour, dash, width in (
        (MEASURED, measured, ink.measured, "solid", 3.5),
        (PREDICTED, ~measured, ink.predicted, "dash", 2.5),
    ):
        # The dashed ranges begin at the last point of the solid range.
        reach = mask.copy()
        if name == PREDICTED:
            reach[:-1] |= mask[1:]
            reach[1:] |= mask[:-1]
        y = np.where(reach & (curve.pressure >= 0), curve.pressure * ky, np.nan)
        if np.isfinite(y).any():
            figure.add_scatter(
                x=np.round(q, 4).tolist(),
                y=numbers(y, 4),
                mode="lines",
                name=name,
                line={"color": colour, "width": width, "dash": dash},
                customdata=interval.tolist(),
                hovertemplate=readout.template(name, f"({low_to_high}) {unit}"),
            )


def _add_points(figure: go.Figure, points: Sequence[ChartPoint], kx: float, ky: float, unit: str, ink: Palette) -> None:
    def bars(half: list[float]) -> dict[str, Any]:
        return {"type": "data", "array": half, "color": ink.measured, "thickness": 1.5, "width": 5}

    figure.add_scatter(
        x=[round(p.flow * kx, 4) for p in points],
        y=[round(p.pressure * ky, 4) for p in points],
        error_x=bars([round(Z95 * p.u_flow * kx, 4) for p in points]),
        error_y=bars([round(Z95 * p.u_pressure * ky, 4) for p in points]),
        mode="markers",
        name="Points",
        marker={"size": 10, "color": ink.paper, "line": {"color": ink.measured, "width": 2.5}},
        hovertemplate=readout.template("Point", unit),
    )


def round_up(value: float) -> float:
    """The next of 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 10 times a power of ten; 1 for 0."""
    if not np.isfinite(value) or value <= 0:
        return 1.0
    power = 10.0 ** np.floor(np.log10(value))
    for step in (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 10):
        if value <= step * power * (1 + 1e-12):
            return float(step * power)
    return float(10 * power)
