"""Fonts, axes and margins of all charts."""

from __future__ import annotations

from typing import Any

from frothline.label_case import label_case
from frothline.web.charts.decimate import Floats
from frothline.web.charts.palette import Palette

FONT = 'system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", "Liberation Sans", sans-serif'


WIDE_LEGEND = {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": 14}}


# Two columns under the axis, so that the chart fits the width of a phone.
NARROW_LEGEND = {
    "orientation": "h",
    "x": 0,
    "xref": "container",
    "y": 0,
    "yref": "container",
    "yanchor": "bottom",
    "entrywidth": 0.5,
    "entrywidthmode": "fraction",
    "font": {"size": 13},  # "Curve, predicted" then fits its half
}


Numbers = list[float | None]


def numbers(values: Floats, decimals: int) -> Numbers:
    """Rounded plain numbers for the message to the page; None breaks a line."""
    return [None if item != item else item for item in values.round(decimals).tolist()]  # noqa: PLR0124  NaN is the only number unlike itself


def chart_layout(ink: Palette, *, touch: bool) -> dict[str, Any]:
    return {
        "template": None,
        "uirevision": "kept",
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": FONT, "size": 14, "color": ink.ink},
        "hovermode": False,
        # Touch scrolls the page; a mouse draws a zoom box.
        "dragmode": False if touch else "zoom",
    }


def chart_axis(ink: Palette, title: str) -> dict[str, Any]:
    return {
        "title": {"text": label_case(title), "font": {"size": 15, "color": ink.ink}, "standoff": 8},
        "gridcolor": ink.rule,
        "linecolor": ink.faint,
        "tickcolor": ink.faint,
        "tickfont": {"size": 14, "color": ink.ink},
        "ticks": "outside",
        "showline": True,
        "zeroline": False,
        "fixedrange": False,
    }
