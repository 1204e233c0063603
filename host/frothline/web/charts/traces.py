"""Charts of the live signals against time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import plotly.graph_objects as go

from frothline.formatting import unit_of
from frothline.label_case import label_case
from frothline.web.charts import readout
from frothline.web.charts.decimate import DecimatedLine
from frothline.web.charts.layout import Numbers, chart_axis, chart_layout, numbers
from frothline.web.charts.palette import PALETTES, Scheme

TRACES: tuple[tuple[str, str, str], ...] = (
    ("line_pressure", "pressure", "pressure"),
    ("standard_flow", "flow", "flow"),
    ("air_power", "air power", "power"),
)


NOTES = "Notes"
FOOT = 0.055  # share of the height below each row
Note = tuple[float, str]  # time, s, and words


def traces(system: str, scheme: Scheme, seconds: float, *, touch: bool = False, empty: str = "") -> go.Figure:
    """Charts of pressure, flow and air power over the last seconds, stacked; ``traces_live`` fills them.

    ``empty`` : the reason why there is nothing to draw, shown in the chart
    """
    ink = PALETTES[scheme]
    figure = go.Figure()
    layout: dict[str, Any] = chart_layout(ink, touch=touch)
    count = len(TRACES)
    for row, (_, title, quantity) in enumerate(TRACES):
        suffix = "" if row == 0 else str(row + 1)
        top = 1 - row / count
        layout[f"yaxis{suffix}"] = chart_axis(ink, "") | {
            "domain": [top - 1 / count + FOOT, top - 0.045],
            "anchor": f"x{suffix}" if row == count - 1 else "free",
            "position": 0,
            "nticks": 4,
            "rangemode": "tozero",
            "autorange": True,
        }
        layout.setdefault("annotations", []).append(
            {
                "text": label_case(f"{title}, {unit_of(quantity, system).symbol}"),
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
            name=label_case(title),
            yaxis=f"y{suffix}",
            line={"color": ink.measured, "width": 1.6},
            connectgaps=False,
            hovertemplate=readout.template(label_case(title), unit_of(quantity, system).symbol),
        )
    figure.add_trace(readout.event_marks(f"y{count + 1}", NOTES, "diamond", ink.ink, 10, ink))
    layout[f"yaxis{count + 1}"] = readout.event_axis(FOOT) | {"overlaying": "y"}
    if empty:
        layout["annotations"].append(readout.empty_note(empty, ink))
    word, scale = _ago(seconds)
    layout |= readout.read_out(ink) | {"hoversubplots": "axis"}
    layout["xaxis"] = (
        chart_axis(ink, f"{word} ago")
        | readout.crosshair(ink, f"%{{x:{readout.DIGITS}}} {word} ago")
        | {
            "range": [seconds / scale, 0],
            "anchor": f"y{count}",
            "nticks": 7,
            "tickmode": "auto",
        }
    )
    layout["showlegend"] = False
    layout["margin"] = {"l": 56, "r": 12, "t": 8, "b": 48}
    figure.update_layout(layout)
    return figure


def traces_live(
    lines: Sequence[DecimatedLine], now: float, seconds: float, system: str, notes: Sequence[Note] = ()
) -> dict[str, Any]:
    """Points of all traces in the reader's units, and texts of the marks; x is seconds or minutes before ``now``, s."""
    _, scale = _ago(seconds)
    x: list[Numbers] = []
    y: list[Numbers] = []
    for line, (_, _, quantity) in zip(lines, TRACES, strict=True):
        x.append(numbers((now - line.time) / scale, 3 if scale == 1 else 4))
        y.append(numbers(line.value * unit_of(quantity, system).factor, 4))
    shown = [(now - at, words) for at, words in notes if 0.0 <= now - at <= seconds]
    text: list[list[str]] = [[] for _ in lines]
    x.append([round(ago / scale, 3) for ago, _ in shown])
    y.append([0.0] * len(shown))
    text.append([words for _, words in shown])
    return {"x": x, "y": y, "text": text}


def _ago(seconds: float) -> tuple[str, float]:
    """The unit word of the time axis, and its length in s."""
    return ("seconds", 1.0) if seconds <= 120 else ("minutes", 60.0)
