"""Traces of the generator in the chart: dry and wet lines, as built and as changed, with their operating points.

Predicted lines are dashed, measured ones solid, bands a tint. An operating point has its 95 % ellipse. If the generator
is known only to a factor, the chart shows a range on the source's curve instead.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import plotly.graph_objects as go

from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import OperatingPoint
from frothline.formatting import unit_of
from frothline.generator.evaluation import Evaluation, ResistanceGrid
from frothline.generator.prediction_result import Prediction
from frothline.label_case import label_case
from frothline.web.charts import readout
from frothline.web.charts.decimate import Floats
from frothline.web.charts.layout import numbers
from frothline.web.charts.palette import PALETTES, Palette, Scheme, tint
from frothline.web.pages.generator import labels

CHI_SQUARE = 5.991464547107979  # 95 % of two normal variables, -2 ln 0.05
EVEN = 0.1  # largest asymmetry of an interval for which an ellipse is drawn


def traces(answer: Evaluation, system: str, scheme: Scheme) -> list[Any]:
    """All traces between the source's curve and the live dot."""
    ink = PALETTES[scheme]
    kx, ky = unit_of("flow", system).factor, unit_of("pressure", system).factor
    found: list[Any] = []
    altered = answer.change is not None and bool(answer.changed)
    for load in answer.grids:
        found += _line(
            load,
            kx,
            ky,
            unit_of("pressure", system).symbol,
            ink,
            band=load.wet and (load.changed or not altered),
            beside=altered,
        )
    found += _places(answer, kx, ky, ink)
    if answer.given.new_source is not None:
        found.append(_source(answer.given.new_source, kx, ky, ink))
    if answer.change is not None:
        found += _meeting(answer.change.before, answer.given.source, kx, ky, ink, labels.AS_BUILT, old=True)
        blower = answer.given.new_source or answer.given.source
        found += _meeting(answer.change.after, blower, kx, ky, ink, labels.OPERATING_POINT_THEN, old=False)
    elif answer.built is not None:
        found += _meeting(answer.built, answer.given.source, kx, ky, ink, labels.POINT, old=False)
    return found


def reach(answer: Evaluation) -> tuple[float, float]:
    """Flow and pressure that the chart must include, SI: operating points with their intervals."""
    flows, pressures = [0.0], [0.0]
    for prediction in (answer.built, answer.change.after if answer.change is not None else None):
        if prediction is not None and isinstance(prediction.point, OperatingPoint):
            point = prediction.point
            flows += [end for end in (point.flow.value, point.flow.upper) if np.isfinite(end)]
            pressures += [end for end in (point.pressure.value, point.pressure.upper) if np.isfinite(end)]
    if answer.given.source is None:
        flows += [float(load.flow[-1]) for load in answer.grids]
        pressures += [float(load.pressure[-1]) for load in answer.grids]
    return max(flows), max(pressures)


def _line(
    load: ResistanceGrid, kx: float, ky: float, unit: str, ink: Palette, *, band: bool, beside: bool
) -> list[Any]:
    old = beside and not load.changed
    colour = ink.faint if old else ink.measured if load.measured else ink.predicted
    name = labels.line_name(wet=load.wet, changed=load.changed, measured=load.measured)
    dash = "solid" if load.measured else "dash" if load.wet else "dot"
    found: list[Any] = []
    if band:
        x = np.concatenate((load.flow, load.flow[::-1])) * kx
        y = np.concatenate((load.lower, load.upper[::-1])) * ky
        found.append(_tint(x, y, colour, 0.13, labels.interval_of(name)))
    found.append(
        go.Scatter(
            x=numbers(load.flow * kx, 4),
            y=numbers(load.pressure * ky, 4),
            mode="lines",
            name=name,
            line={
                "color": colour,
                "width": (3.5 if load.measured else 2.5) if load.wet and not old else 2,
                "dash": dash,
            },
            hovertemplate=readout.template(name, unit),
        )
    )
    return found


def _places(answer: Evaluation, kx: float, ky: float, ink: Palette) -> list[Any]:
    """The steady points measured through the generator as built."""
    return [
        go.Scatter(
            x=numbers(np.array([point.flow for point in points]) * kx, 4),
            y=numbers(np.array([point.pressure for point in points]) * ky, 4),
            mode="markers",
            name=labels.measured(state),
            showlegend=False,
            marker={"size": 8, "symbol": symbol, "color": ink.paper, "line": {"color": ink.measured, "width": 2}},
        )
        for state, points, symbol in (
            (labels.DRY, answer.given.dry, "square"),
            (labels.WET, answer.given.wet, "circle"),
        )
        if points
    ]


def _source(blower: BlowerFit, kx: float, ky: float, ink: Palette) -> Any:
    free = blower.free_delivery.value if blower.free_delivery.known else blower.range[1]
    flow = np.linspace(0.0, max(free, blower.range[1]), 61)
    pressure = np.asarray(blower.pressure(flow)[0], dtype=float)
    y = np.where(pressure >= 0, pressure * ky, np.nan)
    line = {"color": ink.measured, "width": 3, "dash": "dashdot"}
    return go.Scatter(
        x=numbers(flow * kx, 4), y=numbers(y, 4), mode="lines", name=label_case(labels.OTHER_SOURCE), line=line
    )


def _meeting(
    prediction: Prediction, blower: BlowerFit | None, kx: float, ky: float, ink: Palette, name: str, *, old: bool
) -> list[Any]:
    point = prediction.point
    if not isinstance(point, OperatingPoint):
        return []
    colour = ink.faint if old else ink.predicted
    q, p = point.flow.value, point.pressure.value
    found: list[Any] = []
    low, high = q - point.flow.lower, point.flow.upper - q
    even = np.isfinite(high) and abs(high - low) <= EVEN * (high + low)
    if even:
        x, y = ellipse(q, p, point.covariance)
        found.append(_tint(x * kx, y * ky, colour, 0.35, labels.interval_of(name)))
    elif blower is not None and np.isfinite(high):
        flow = np.linspace(point.flow.lower, point.flow.upper, 25)
        pressure = np.asarray(blower.pressure(flow)[0], dtype=float)
        found.append(
            go.Scatter(
                x=numbers(flow * kx, 4),
                y=numbers(pressure * ky, 4),
                mode="lines",
                name=labels.interval_of(name),
                showlegend=False,
                hoverinfo="skip",
                line={"color": tint(colour, 0.35), "width": 14},
            )
        )
    found.append(
        go.Scatter(
            x=[round(q * kx, 4)],
            y=[round(p * ky, 4)],
            mode="markers",
            name=label_case(name),
            marker={
                "size": 15 if not old else 11,
                "symbol": "diamond",
                "color": ink.paper if old else colour,
                "line": {"color": colour, "width": 2.5},
            },
        )
    )
    return found


def ellipse(flow: float, pressure: float, covariance: Floats, steps: int = 49) -> tuple[Floats, Floats]:
    """Outline ``(flow, pressure)`` of the 95 % region of two normal variables, ``covariance`` of (pressure, flow)."""
    values, vectors = np.linalg.eigh(np.asarray(covariance, dtype=float))
    turn = np.linspace(0.0, 2.0 * np.pi, steps)
    circle = np.vstack((np.cos(turn), np.sin(turn)))
    shape = vectors @ (np.sqrt(CHI_SQUARE * np.maximum(values, 0.0))[:, None] * circle)
    return flow + shape[1], pressure + shape[0]


def _tint(x: Floats, y: Floats, colour: str, alpha: float, name: str) -> Any:
    return go.Scatter(
        x=np.round(x, 4).tolist(),
        y=np.round(np.maximum(y, 0.0), 4).tolist(),
        mode="lines",
        fill="toself",
        fillcolor=tint(colour, alpha),
        line={"width": 0},
        name=name,
        hoverinfo="skip",
        showlegend=False,
    )
