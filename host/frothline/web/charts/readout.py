"""What can be read on all charts: figures under a pointer or finger, marks of events, and words where nothing is drawn.

A pointer shows the figures while it is over the chart, a tap shows them where it was.
"""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

from frothline.web.charts.palette import Palette

DIGITS = ".3~g"  # of a figure under the pointer


def read_out(ink: Palette) -> dict[str, Any]:
    """Layout of a chart that shows the figures of all its lines under the pointer."""
    return {
        "hovermode": "x unified",
        "hoverlabel": {"bgcolor": ink.paper, "bordercolor": ink.faint, "font": {"color": ink.ink, "size": 14}},
    }


def crosshair(ink: Palette, words: str, digits: str = DIGITS) -> dict[str, Any]:
    """The axis along which the pointer moves. ``words`` : head of the figures, with ``%{x}``."""
    return {
        "showspikes": True,
        "spikemode": "across",
        "spikesnap": "cursor",
        "spikethickness": 1,
        "spikedash": "solid",
        "spikecolor": ink.faint,
        "hoverformat": digits,
        "unifiedhovertitle": {"text": words},
    }


def template(words: str, unit: str) -> str:
    """The line of a trace among the figures under the pointer."""
    return f"{words} %{{y:{DIGITS}}} {unit}<extra></extra>"


def event_axis(foot: float) -> dict[str, Any]:
    """The axis of the marks of events, 0 at the time axis, 1 at the top. ``foot`` : share below the time axis."""
    return {"domain": [foot, 1], "range": [0, 1], "visible": False, "fixedrange": True}


def event_marks(axis: str, name: str, symbol: str, colour: str, size: int, ink: Palette) -> go.Scatter:
    """Marks of events at the foot of a chart over time; their texts are shown under the pointer."""
    return go.Scatter(
        x=[],
        y=[],
        text=[],
        mode="markers",
        name=name,
        marker={"symbol": symbol, "color": colour, "size": size, "line": {"width": 1, "color": ink.paper}},
        cliponaxis=False,
        hovertemplate="%{text}<extra></extra>",
        yaxis=axis,
    )


def empty_note(words: str, ink: Palette) -> dict[str, Any]:
    """An annotation in the middle of a chart that has nothing to draw yet."""
    return {
        "text": words,
        "xref": "paper",
        "yref": "paper",
        "x": 0.5,
        "y": 0.6,
        "showarrow": False,
        "font": {"size": 16, "color": ink.faint},
        "name": "empty",
    }
