"""The chart of a run over time: pressure, foam rate and solution left with their intervals, against the prediction.

Alarms are lines through all three, other events are marks on the time axis. Times are minutes since the run began.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go

from frothline.bench.snapshot import Snapshot
from frothline.estimate import Estimate
from frothline.formatting import running_time, show_estimate, unit_of
from frothline.numerics.arrays import Floats
from frothline.run.course import RunCourse
from frothline.run.state import RunState
from frothline.run.watch.alarm_kinds import NOTICE
from frothline.web.charts import readout
from frothline.web.charts.band import band_outline
from frothline.web.charts.layout import Numbers, chart_axis, chart_layout, numbers
from frothline.web.charts.palette import PALETTES, Palette, Scheme, tint
from frothline.web.pages.run import labels

MINUTE = 60.0
FOOT = 0.045  # share of the height below each row
LEAST_SHOWN = 1.0  # min, length of the time axis at the start
# Notes of the session that are no events of a run, or are shown otherwise
NO_EVENTS = frozenset({"alarm", "alarm over", "sample", "false alarm", "link"})


@dataclass(frozen=True)
class Event:
    """A mark on the time axis: ``at`` s since the run began, its words, and whether it is an alarm."""

    at: float
    words: str
    alarm: bool = False


def events(run: RunState, now: Snapshot, system: str) -> list[Event]:
    """Alarms, samples and notes of the run in order of time."""
    found = [Event(alarm.time - run.started, alarm.title, alarm=alarm.severity != NOTICE) for alarm in run.log]
    for taken in run.samples:
        shown = show_estimate(taken.sample.density, "density", system)
        found.append(Event(taken.time - run.started, labels.sample_event(f"{shown.value} {shown.unit}")))
    found += [
        Event(mark.time - run.started, mark.text or mark.kind) for mark in now.marks if mark.kind not in NO_EVENTS
    ]
    return sorted((one for one in found if 0.0 <= one.at <= run.elapsed + 1.0), key=lambda one: one.at)


def figure(system: str, scheme: Scheme, *, touch: bool = False) -> go.Figure:
    """The chart without its points, which ``live`` gives."""
    ink = PALETTES[scheme]
    drawn = go.Figure()
    layout: dict[str, Any] = chart_layout(ink, touch=touch)
    count = len(labels.CHART)
    annotations = []
    for row, (_, title, quantity) in enumerate(labels.CHART):
        suffix = "" if row == 0 else str(row + 1)
        top = 1 - row / count
        layout[f"yaxis{suffix}"] = chart_axis(ink, "") | {
            "domain": [top - 1 / count + FOOT, top - 0.06],
            "anchor": "free",
            "position": 0,
            "nticks": 4,
            "rangemode": "tozero",
            "autorange": True,
        }
        symbol = unit_of(quantity, system).symbol
        annotations.append(_title(f"{title}, {symbol}", top - 0.06, ink))
        _traces(drawn, title, symbol, f"y{suffix}", ink)
    _event_traces(drawn, f"y{count + 1}", ink)
    layout |= readout.read_out(ink) | {
        f"yaxis{count + 1}": readout.event_axis(FOOT),
        "xaxis": chart_axis(ink, labels.CHART_TIME)
        | readout.crosshair(ink, f"%{{x}} {labels.MINUTES}", ".2f")
        | {"anchor": f"y{count}", "range": [0, LEAST_SHOWN], "nticks": 7},
        "annotations": annotations,
        "hoversubplots": "axis",
        "showlegend": False,
        "margin": {"l": 52, "r": 10, "t": 4, "b": 46},
    }
    drawn.update_layout(layout)
    return drawn


def _title(words: str, y: float, ink: Palette) -> dict[str, Any]:
    place = {"xref": "paper", "yref": "paper", "x": 0, "y": y, "xanchor": "left", "yanchor": "bottom"}
    return place | {"text": words, "showarrow": False, "font": {"size": 14, "color": ink.ink}}


def _traces(drawn: go.Figure, title: str, unit: str, axis: str, ink: Palette) -> None:
    """The four traces of a row: expected band and line, measured band and line, in the order of ``_row``."""
    band = {"mode": "lines", "line": {"width": 0}, "fill": "toself", "hoverinfo": "skip", "yaxis": axis}
    line = {"mode": "lines", "connectgaps": False, "yaxis": axis}
    expected = f"{title}, {labels.EXPECTED}"
    drawn.add_scatter(x=[], y=[], name=expected, fillcolor=tint(ink.predicted, 0.16), **band)
    drawn.add_scatter(
        x=[],
        y=[],
        name=expected,
        line={"color": ink.predicted, "width": 1.8, "dash": "dash"},
        hovertemplate=readout.template(expected, unit),
        **line,
    )
    drawn.add_scatter(x=[], y=[], name=title, fillcolor=tint(ink.measured, 0.2), **band)
    drawn.add_scatter(
        x=[],
        y=[],
        name=title,
        line={"color": ink.measured, "width": 2.2},
        hovertemplate=readout.template(title, unit),
        **line,
    )


def _event_traces(drawn: go.Figure, axis: str, ink: Palette) -> None:
    """Lines and marks of alarms, then marks of other events."""
    drawn.add_scatter(
        x=[],
        y=[],
        mode="lines",
        name=labels.ALARMS,
        line={"color": ink.alarm, "width": 1.6},
        hoverinfo="skip",
        yaxis=axis,
    )
    drawn.add_trace(readout.event_marks(axis, labels.ALARMS, "x", ink.alarm, 12, ink))
    drawn.add_trace(readout.event_marks(axis, labels.EVENTS, "diamond", ink.ink, 10, ink))


def live(run: RunState, marks: Sequence[Event], system: str) -> dict[str, Any]:
    """Points of all traces in the reader's units, and texts of the marks; the course of the run must be known."""
    course = run.course
    assert course is not None
    time = (course.time - run.started) / MINUTE
    end = max(float(time[-1]) if len(time) else 0.0, 0.0)
    x: list[Numbers] = []
    y: list[Numbers] = []
    for name, _, quantity in labels.CHART:
        factor = unit_of(quantity, system).factor
        for points in _row(time, end, _measured(course, name) * factor, _expected(run, name), factor):
            x.append(numbers(np.asarray(points[0], float), 3))
            y.append(_figures(np.asarray(points[1], float)))
    alarms, others = ([one for one in marks if one.alarm is kind] for kind in (True, False))
    lines = [value for one in alarms for value in (one.at / MINUTE, one.at / MINUTE, np.nan)]
    x += [numbers(np.array(lines), 3)]
    y += [[0.0, 1.0, None] * len(alarms)]
    text: list[list[str]] = [[] for _ in y]
    for some in (alarms, others):
        x.append(numbers(np.array([one.at / MINUTE for one in some]), 3))
        y.append([0.0] * len(some))
        text.append([f"{running_time(one.at)} {one.words}" for one in some])
    return {"x": x, "y": y, "text": text}


def _measured(course: RunCourse, name: str) -> Floats:
    found: Floats = getattr(course, name)
    return found


def _expected(run: RunState, name: str) -> Estimate | None:
    found: Estimate | None = getattr(run.expected, name, None)
    return found if found is not None and found.known else None


def _row(time: Floats, end: float, values: Floats, expected: Estimate | None, factor: float) -> list[tuple[Any, Any]]:
    """Points of the four traces of a row, see ``_traces``."""
    found: list[tuple[Any, Any]] = [((), ()), ((), ())]
    if expected is not None:
        low, high, middle = (factor * one for one in (expected.lower, expected.upper, expected.value))
        found = [((0.0, end, end, 0.0), (low, low, high, high)), ((0.0, end), (middle, middle))]
    return [*found, band_outline(time, values[:, 1], values[:, 2]), (time, values[:, 0])]


def _figures(values: Floats) -> Numbers:
    """Four significant figures."""
    return [float(f"{value:.4g}") if np.isfinite(value) else None for value in values.tolist()]


def ranges(run: RunState) -> dict[str, list[float]]:
    """Range of the time axis: the whole run, at least a minute."""
    return {"xaxis": [0.0, round(max(run.elapsed / MINUTE * 1.02, LEAST_SHOWN), 1)]}
