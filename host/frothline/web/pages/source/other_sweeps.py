"""Comparison with other sources and earlier sweeps: their curves, traces, and verdicts on driving the generator.

An earlier curve is thin and grey with its own marker, solid in the measured range, dashed beyond.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import plotly.graph_objects as go

from frothline.bench.background import BackgroundAnswer
from frothline.bench.library import FolderView, Library, title_of
from frothline.curve.blower import BlowerFit
from frothline.curve.can_drive import CANNOT, DriveCheck, judge_source, sort_carried
from frothline.curve.operating_point import OperatingPoint
from frothline.curve.source_kinds import Trace, overlay
from frothline.formatting import DASH, show_estimate, unit_of
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.label_case import Name
from frothline.readings.applied_calibration import AUTO
from frothline.sentence_units import in_units
from frothline.trials.trial import is_simulated
from frothline.web.charts.layout import numbers
from frothline.web.charts.palette import PALETTES, Scheme
from frothline.web.elements import Node, node, table
from frothline.web.pages.source import labels

if TYPE_CHECKING:
    from frothline.recording.summary import Entry
    from frothline.sensors.calibration import Calibration

WISH = "overlay"
MOST = 4  # further curves: more cannot be distinguished
OFFERED = 14  # sweeps to choose from, the newest first
MARKS = (("circle-open", "○"), ("square-open", "□"), ("triangle-up-open", "△"), ("diamond-open", "◇"))
SHORT = 18  # characters of a name in the legend: half a phone's width
EVERY = 15  # grid steps between two markers


@dataclass(frozen=True)
class Other:
    """A chosen sweep: name, marker, and curve or reason why there is none (neither while it is read)."""

    name: str
    short: str  # for the legend
    path: str
    mark: int
    fit: BlowerFit | None
    trouble: str
    working: bool
    simulated: bool


@dataclass(frozen=True)
class Overlay:
    """The compared sweeps of one viewer. ``key`` changes with the drawing."""

    others: tuple[Other, ...]
    key: str

    @property
    def known(self) -> list[tuple[str, BlowerFit]]:
        return [(other.name, other.fit) for other in self.others if other.fit is not None]

    def reach(self) -> tuple[float, float]:
        """Largest flow and pressure drawn, SI."""
        drawn = overlay(self.known)
        return (
            max((float(one.flow[-1]) for one in drawn), default=0.0),
            max((float(np.max(one.pressure)) for one in drawn), default=0.0),
        )


def choose(shelf: Library, wished: Sequence[str], *, simulated: bool, calibration: Any, stamp: Any) -> Overlay:
    """The chosen sweeps with the curves read so far. Unknown paths are ignored.

    ``calibration`` is used for the session's own recordings, and ``stamp`` changes with it; others are read with
    "auto".
    """
    offered = {entry.path: (seen, entry) for seen, entry in shelf.sweeps(simulated=simulated)}
    others = []
    for mark, path in enumerate([one for one in dict.fromkeys(wished) if one in offered][-MOST:]):
        seen, entry = offered[path]
        own = seen.place == "own"
        answer = shelf.answers.look(
            ("curve", path, entry.bytes, stamp if own else None),
            partial(_curve, path, calibration if own else AUTO),
        )
        others.append(_other(entry, mark, answer))
    key = "/".join(f"{one.path}{one.fit is not None}" for one in others)
    return Overlay(tuple(others), f"{key}/{stamp}" if others else "")


def stamp_of(calibration: Calibration) -> str:
    """A stamp that changes with anything that changes a curve."""
    lines = [(name, one.coefficients.tolist()) for name, one in sorted(calibration.channels.items())]
    return repr((lines, sorted(calibration.zeros.items()))) if lines or calibration.zeros else ""


def _curve(path: str, calibration: Any) -> BlowerFit:
    from frothline.sweep.recorded_source import load_sweeps  # noqa: PLC0415  reads a whole recording

    return load_sweeps([Path(path)], calibration).fit()


def _other(entry: Entry, mark: int, answer: BackgroundAnswer) -> Other:
    short = str(entry.metadata.get("air_source") or entry.title)[:SHORT]
    return Other(
        title_of(entry), short, entry.path, mark, answer.value, answer.trouble, answer.working, is_simulated(entry)
    )


# --- the picture ------------------------------------------------------------------------------------------------------


def traces(chosen: Overlay, system: str, scheme: Scheme) -> list[Any]:
    """Traces of the sweeps, below the live dot."""
    ink = PALETTES[scheme]
    kx, ky = unit_of("flow", system).factor, unit_of("pressure", system).factor
    drawn = overlay(chosen.known)
    known = [other for other in chosen.others if other.fit is not None]
    found: list[Any] = []
    for trace, other in zip(drawn, known, strict=True):
        found += _curve_of(trace, other.short, MARKS[other.mark], kx, ky, ink.faint)
    return found


def _curve_of(trace: Trace, name: str, mark: tuple[str, str], kx: float, ky: float, colour: str) -> list[Any]:
    x, good = numbers(trace.flow * kx, 4), trace.pressure >= 0
    marked = np.zeros(len(trace.flow), bool)
    marked[EVERY // 2 :: EVERY] = True
    beyond = ~trace.measured
    beyond[:-1] |= ~trace.measured[1:]
    beyond[1:] |= ~trace.measured[:-1]

    def line(mask: Any, dash: str) -> Any:
        y = numbers(np.where(mask & good, trace.pressure * ky, np.nan), 4)
        return go.Scatter(
            x=x,
            y=y,
            mode="lines",
            line={"color": colour, "width": 1.8, "dash": dash},
            name=name,
            showlegend=False,
            hoverinfo="skip",
        )

    points = go.Scatter(
        x=numbers(trace.flow[marked & good] * kx, 4),
        y=numbers(trace.pressure[marked & good] * ky, 4),
        mode="markers",
        name=name,
        marker={"symbol": mark[0], "size": 10, "color": colour, "line": {"width": 2}},
    )
    return [line(trace.measured, "solid"), line(beyond, "dash"), points]


# --- the words --------------------------------------------------------------------------------------------------------


def carried(
    shelf: Library, chosen: Overlay, here: BlowerFit | None, generator: PressureModel | None, stamp: Any
) -> tuple[BackgroundAnswer | None, str]:
    """Verdicts on driving the generator, and its name; None without sweeps to compare."""
    if generator is None:
        return None, ""
    sources = [*([(labels.HERE, here)] if here is not None else []), *chosen.known]
    if not sources:
        return None, generator.build.name
    question = ("carry", stamp, id(here), chosen.key)
    return shelf.answers.look(question, lambda: _which(sources, generator)), generator.build.name


def _which(sources: Sequence[tuple[str, BlowerFit]], generator: PressureModel) -> tuple[DriveCheck, ...]:
    """The verdicts, best first, with the same figures as on the generator page."""
    return sort_carried([judge_source(name, predict(generator, fit).point) for name, fit in sources])


def pieces(
    offered: Sequence[tuple[FolderView, Entry]],
    chosen: Overlay,
    verdict: BackgroundAnswer | None,
    generator: str,
    system: str,
) -> list[Node | None]:
    """Blocks of the comparison: choice, figures of the chosen sweeps, and verdict."""
    if not offered and verdict is None:
        return [node("p", labels.NO_OTHER, class_="small")]
    wished = {other.path for other in chosen.others}
    shown = [(seen, entry) for number, (seen, entry) in enumerate(offered) if number < OFFERED or entry.path in wished]
    marks = {other.path: MARKS[other.mark][1] for other in chosen.others}
    full = len(chosen.others) >= MOST
    boxes = [_box(entry, marks.get(entry.path, ""), blocked=full and entry.path not in wished) for _, entry in shown]
    return [
        node("fieldset", node("legend", labels.show_on_chart(MOST)), *boxes, class_="boxes") if boxes else None,
        _figures(chosen, system),
        *_verdict(verdict, generator, system),
    ]


def _box(entry: Entry, mark: str, *, blocked: bool) -> Node:
    made = labels.SIMULATED_MARK if is_simulated(entry) else ""
    return node(
        "label",
        node(
            "input",
            type="checkbox",
            value=entry.path,
            data_wish=WISH,
            checked=bool(mark),
            disabled=blocked,
        ),
        node("span", f"{mark} {title_of(entry)}{made}".strip()),
    )


def _figures(chosen: Overlay, system: str) -> Node | None:
    if not chosen.others:
        return None
    rows: list[list[Node]] = []
    for other in chosen.others:
        name = Name(f"{MARKS[other.mark][1]} {other.name}")
        if other.fit is None:
            rows.append([name, labels.READING if other.working else DASH, "", other.trouble])
            continue
        cells = []
        for figure, quantity in (("shut_off", "pressure"), ("free_delivery", "flow"), ("air_power", "power")):
            shown = show_estimate(getattr(other.fit, figure), quantity, system)
            cells.append(DASH if shown.value == DASH else f"{shown.value} {shown.unit} ({shown.under})")
        rows.append([name, *cells])
    return table(labels.OTHER_TABLE, labels.OTHER_HEADS, rows, name="overlay")


def _verdict(verdict: BackgroundAnswer | None, generator: str, system: str) -> list[Node | None]:
    if verdict is None:
        return []
    head = node("h3", labels.which_drive(generator))
    if verdict.working:
        return [head, node("p", labels.CALCULATING_DRIVE)]
    if verdict.trouble:
        return [head, node("p", verdict.trouble, class_="wrong")]
    rows: list[list[Node]] = [_carried(one, system) for one in verdict.value]
    return [head, table(labels.DRIVE_TABLE, labels.DRIVE_HEADS, rows, name="carried")]


def _carried(one: DriveCheck, system: str) -> list[Node]:
    meets: Mapping[str, Any] = {}
    if isinstance(one.point, OperatingPoint):
        meets = {"pressure": one.point.pressure, "flow": one.point.flow}
    texts = []
    for quantity, estimate in meets.items():
        shown = show_estimate(estimate, quantity, system)
        texts.append(f"{shown.value} {shown.unit} ({shown.under})")
    # the first sentence has the operating point in SI; the columns have it in the reader's units
    said = [part for part in one.words.split("; ") if not part.startswith("operating point")]
    return [
        Name(one.name),
        node("b", one.verdict, data_is=str(one.verdict != CANNOT).lower()),
        labels.at(texts) or DASH,
        in_units("; ".join(said), system),
    ]
