"""The chart of a part of a recording: lowest and highest values of its series, one below the other, with its marks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import plotly.graph_objects as go

from frothline.formatting import running_time, unit_of
from frothline.label_case import label_case
from frothline.numerics.arrays import Floats
from frothline.readings.overview_result import SHOWN, series_of, values_in, without_empty
from frothline.web.charts import readout
from frothline.web.charts.band import band_outline
from frothline.web.charts.layout import Numbers, chart_axis, chart_layout, numbers
from frothline.web.charts.palette import PALETTES, Palette, Scheme, tint
from frothline.web.pages.notebook import labels

if TYPE_CHECKING:
    import pandas as pd

    from frothline.units import Unit

FOOT = 0.04  # share of the height below each
TIME_UNITS = ((180.0, 1.0, labels.SECONDS), (7200.0, 60.0, labels.MINUTES), (float("inf"), 3600.0, labels.HOURS))


def time_unit(frame: pd.DataFrame) -> tuple[float, str]:
    """Unit of the time axis by the length of the part: its seconds and its name."""
    seconds = float(frame.attrs["stretch"]) * len(frame)
    return next((unit, name) for longest, unit, name in TIME_UNITS if seconds <= longest)


def extremes(frame: pd.DataFrame, system: str) -> list[tuple[str, str, str, str]]:
    """Title, lowest and highest value, and unit of each series that is shown."""
    found = []
    for name in series_of(frame):
        unit = unit_of(SHOWN[name][0], system)
        low, high = values_in(frame, name, unit)
        if np.isfinite(low).any():
            lowest, highest = (f"{value:.4g}".replace("-", "−") for value in (np.nanmin(low), np.nanmax(high)))
            found.append((label_case(SHOWN[name][1]), lowest, highest, unit.symbol))
    return found


def figure(frame: pd.DataFrame, system: str, scheme: Scheme, *, touch: bool = False) -> go.Figure:
    """The chart with its points; times are those of the recording."""
    ink = PALETTES[scheme]
    drawn = go.Figure()
    layout: dict[str, Any] = chart_layout(ink, touch=touch)
    per, unit_name = time_unit(frame)
    stretch = float(frame.attrs["stretch"])
    time = (frame["time"].to_numpy() + stretch / 2) / per
    rows = series_of(frame)
    count = max(1, len(rows))
    annotations = []
    for row, name in enumerate(rows):
        suffix = "" if row == 0 else str(row + 1)
        top = 1 - row / count
        unit = unit_of(SHOWN[name][0], system)
        layout[f"yaxis{suffix}"] = chart_axis(ink, "") | {
            "domain": [top - 1 / count + FOOT, top - 0.07],
            "anchor": "free",
            "position": 0,
            "nticks": 4,
            "autorange": True,
            "fixedrange": True,
        }
        place = {"xref": "paper", "yref": "paper", "x": 0, "y": top - 0.065, "xanchor": "left", "yanchor": "bottom"}
        words = {"text": f"{label_case(SHOWN[name][1])}, {unit.symbol}", "showarrow": False}
        annotations.append(place | words | {"font": {"size": 14, "color": ink.ink}})
        _traces(drawn, frame, name, unit, time, f"y{suffix}", ink)
    _marks(drawn, frame, per, f"y{count + 1}", ink)
    begin = float(frame["time"].iloc[0])
    layout |= readout.read_out(ink) | {
        f"yaxis{count + 1}": readout.event_axis(FOOT),
        "xaxis": chart_axis(ink, labels.time_axis(unit_name))
        | readout.crosshair(ink, f"%{{x}} {unit_name}", ".2f" if per == 1.0 else ".3f")
        | {
            "anchor": f"y{count}",
            "range": [begin / per, (begin + stretch * len(frame)) / per],
            "nticks": 7,
            "exponentformat": "none",
        },
        "annotations": annotations if rows else [readout.empty_note(labels.NO_SERIES, ink)],
        "hoversubplots": "axis",
        "showlegend": False,
        "margin": {"l": 56, "r": 10, "t": 4, "b": 46},
    }
    drawn.update_layout(layout)
    return drawn


def _traces(
    drawn: go.Figure, frame: pd.DataFrame, name: str, unit: Unit, time: Floats, axis: str, ink: Palette
) -> None:
    """A band from the lowest to the highest value of each stretch, and a line for each."""
    at, low, high = without_empty(time, *values_in(frame, name, unit))
    x, y = band_outline(at, low, high)
    drawn.add_scatter(
        x=_figures(x),
        y=_figures(y),
        mode="lines",
        fill="toself",
        fillcolor=tint(ink.measured, 0.35),
        line={"width": 0},
        hoverinfo="skip",
        yaxis=axis,
    )
    for values, words in ((high, labels.HIGHEST), (low, labels.LOWEST)):
        drawn.add_scatter(
            x=_figures(at),
            y=_figures(values),
            mode="lines",
            name=words,
            line={"color": ink.measured, "width": 1.3},
            connectgaps=False,
            hovertemplate=readout.template(f"{label_case(SHOWN[name][1])}, {words}", unit.symbol),
            yaxis=axis,
        )


def _marks(drawn: go.Figure, frame: pd.DataFrame, per: float, axis: str, ink: Palette) -> None:
    """Alarms as lines, and all marks at the foot; their words are shown under the pointer."""
    for alarm in (True, False):
        some = [mark for mark in frame.attrs["marks"] if (mark["kind"] in labels.ALARM_KINDS) is alarm]
        at = np.array([mark["time"] / per for mark in some])
        colour = ink.alarm if alarm else ink.faint
        lines: Floats = np.repeat(at, 3)
        lines[2::3] = np.nan
        drawn.add_scatter(
            x=_figures(lines),
            y=[0.0, 1.0, None] * len(some),
            mode="lines",
            line={"color": tint(colour, 1.0 if alarm else 0.5), "width": 1.2},
            hoverinfo="skip",
            yaxis=axis,
        )
        words = [f"{running_time(mark['time'])} {labels.mark(mark['kind'], mark['text'])}" for mark in some]
        shape = ("x", 12) if alarm else ("diamond", 9)
        marks = readout.event_marks(axis, labels.MARKS, shape[0], colour, shape[1], ink)
        marks.update(x=at.tolist(), y=[0.0] * len(some), text=[_plain(one) for one in words])
        drawn.add_trace(marks)


def _plain(words: str) -> str:
    """Words without what the chart library would read as markup."""
    return words.replace("<", "‹").replace(">", "›")


def _figures(values: Floats) -> Numbers:
    return numbers(np.asarray(values, dtype=float), 6)
