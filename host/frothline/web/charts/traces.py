"""Charts of the live signals against time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import plotly.graph_objects as go

from frothline.formatting import unit_of
from frothline.web.charts.decimate import DecimatedLine
from frothline.web.charts.layout import Numbers, chart_axis, chart_layout, numbers
from frothline.web.charts.palette import PALETTES, Scheme

TRACES: tuple[tuple[str, str, str], ...] = (
    ("line_pressure", "pressure", "pressure"),
    ("standard_flow", "flow", "flow"),
    ("air_power", "air power", "power"),
)


def traces(system: str, scheme: Scheme, seconds: float, *, touch: bool = False) -> go.Figure:
    """Charts of pressure, flow and air power over the last seconds, stacked; ``traces_live`` fills them."""
    ink = PALETTES[scheme]
    figure = go.Figure()
    layout: dict[str, Any] = chart_layout(ink, touch=touch)
    count = len(TRACES)
    for row, (_, title, quantity) in enumerate(TRACES):
        suffix = "" if row == 0 else str(row + 1)
        top = 1 - row / count
        layout[f"yaxis{suffix}"] = chart_axis(ink, "") | {
            "domain": [top - 1 / count + 0.055, top - 0.045],
            "anchor": f"x{suffix}" if row == count - 1 else "free",
            "position": 0,
            "nticks": 4,
            "rangemode": "tozero",
            "autorange": True,
        }
        layout.setdefault("annotations", []).append(
            {
                "text": f"{title}, {unit_of(quantity, system).symbol}",
                "xref": "paper",
                "yref": "paper",
                "x": 0,
                "y": top - 0.045,
                "xanchor": "left",
                "yanchor": "bottom",
                "showarrow": False,
                "font": {"size": 14, "color": ink.ink},
            }
        )
        figure.add_scatter(
            x=[],
            y=[],
            mode="lines",
            name=title,
            yaxis=f"y{suffix}",
            line={"color": ink.measured, "width": 1.6},
            connectgaps=False,
        )
    word, scale = _ago(seconds)
    layout["xaxis"] = chart_axis(ink, f"{word} ago") | {
        "range": [seconds / scale, 0],
        "anchor": f"y{count}",
        "nticks": 7,
        "tickmode": "auto",
    }
    layout["showlegend"] = False
    layout["margin"] = {"l": 56, "r": 12, "t": 8, "b": 48}
    figure.update_layout(layout)
    return figure


def traces_live(lines: Sequence[DecimatedLine], now: float, seconds: float, system: str) -> dict[str, Any]:
    """Points of all traces in the reader's units; time as seconds or minutes before ``now`` (s)."""
    _, scale = _ago(seconds)
    x: list[Numbers] = []
    y: list[Numbers] = []
    for line, (_, _, quantity) in zip(lines, TRACES, strict=True):
        x.append(numbers((now - line.time) / scale, 3 if scale == 1 else 4))
        y.append(numbers(line.value * unit_of(quantity, system).factor, 4))
    return {"x": x, "y": y}


def _ago(seconds: float) -> tuple[str, float]:
    """The unit word of the time axis, and its length in s."""
    return ("seconds", 1.0) if seconds <= 120 else ("minutes", 60.0)
