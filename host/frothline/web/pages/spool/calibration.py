"""Blocks of the guided calibration, and parsing of typed references.

An active calibration covers the page of the viewer who began it: an instruction in the largest type, the field to type,
and a large button. The blocks of the page itself are in ``calibrated``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from frothline.bench.calibration_session import CalibrationSession, read_answer
from frothline.bench.calibration_state import CalibrationOverview, CalibrationPoint, CalibrationState
from frothline.formatting import DASH, running_time, unit_of
from frothline.sensors.procedures.base import Question, Stage
from frothline.units import Unit
from frothline.web.elements import Node, block, button, in_reader_units, node, table
from frothline.web.form_fields import keyboard
from frothline.web.pages.spool import labels
from frothline.web.pages.spool.calibrated import (
    LARGE,
    QUANTITIES,
    calibrated_state,
    head,
    history,
    procedures,
)
from frothline.web.texts import counted

if TYPE_CHECKING:
    from frothline.sensors.calibration import ChannelCalibration
    from frothline.web.viewer import Viewer


def say(
    calibrating: CalibrationSession,
    known: CalibrationOverview | None,
    viewer: Viewer,
    message: dict[str, Any],
    today: dt.date,
    refused: str = "",
) -> None:
    """Put the calibration into a message; ``known`` may be some seconds old, ``refused`` why none can be made."""
    state = calibrating.state()
    large = state is not None and bool(viewer.wish.get(LARGE))
    message["states"]["calibration"] = "large" if large else "off"
    message["bars"]["calibration"] = 0.0 if state is None else round(state.prompt.progress, 3)
    message["texts"]["calibration-seconds"] = "" if state is None else running_time(state.seconds)
    blocks = message["blocks"]
    have = viewer.have
    blocks["calibration"] = block(
        [] if state is None else in_reader_units(under_way(state, viewer.system), viewer.system),
        have.get("calibration"),
    )
    rest: dict[str, list[Node | None]] = {"calibration-head": [], "calibrations": [], "calibration-history": []}
    if known is not None:
        rest["calibration-head"] = head(known, state, viewer.system, today, refused)
        rest["calibrations"] = procedures(known, state, refused)
        rest["calibration-history"] = history(known, viewer.system)
    for name, made in rest.items():
        blocks[name] = block(made, have.get(name))
    message["texts"] |= {
        "part-calibrate": "" if known is None else calibrated_state(known),
        "part-calibrated": "" if known is None else counted(len(known.calibration.history), "change", ""),
    }


# --- under way --------------------------------------------------------------------------------------------------------


def under_way(state: CalibrationState, system: str) -> list[Node | None]:
    """The full-screen calibration, for wet hands."""
    prompt = state.prompt
    return [
        node(
            "div",
            node("span", prompt.title, class_="count"),
            node("span", labels.points_of(prompt.points, state.fewest) if state.unit else "", class_="points"),
            node("div", *_ways_out(state), class_="choice"),
            class_="top",
        ),
        *(_result(state, system) if state.made is not None else _step(state, system)),
    ]


def _ways_out(state: CalibrationState) -> list[Node]:
    if state.made is not None:
        return []
    leave = button(labels.CANCEL, "calibrate:leave", also=f"{LARGE}:")
    return [button(labels.REDO_POINT, "calibrate:cancel"), leave] if state.prompt.stage is Stage.HOLD else [leave]


def _step(state: CalibrationState, system: str) -> list[Node | None]:
    stage, prompt = state.prompt.stage, state.prompt
    hold, instruction = stage is Stage.HOLD, _instruction(state)
    middle: list[Node | None] = [
        node("p", _instruction(state), class_="instruction", role="status", data_long=len(instruction) > 24),
        node("p", _why(state), class_="why"),
        node("p", prompt.problem, class_="missing", role="alert") if prompt.problem else None,
    ]
    points = _points(state, system)
    if stage is Stage.ASK:
        return [
            node(
                "div",
                node("div", *(part for part in middle if part is not None), class_="middle"),
                node("div", *(_entry(q, len(state.points), system) for q in prompt.questions), class_="entries"),
                node("input", type="hidden", name="system", value=system),
                button(
                    labels.BAG_ON if state.timed else labels.TAKE_READING,
                    "calibrate:answer",
                    look="large",
                    id=f"calibrate-answer-{len(state.points)}",
                    data_focus=not prompt.questions,
                ),
                class_="asked",
                data_form=True,
            ),
            points,
        ]
    if hold and state.timed:
        stop = button(labels.BAG_FULL, "calibrate:stop", look="large", id="calibrate-stop", data_focus=True)
        seconds = node("p", node("span", data_live="calibration-seconds"), class_="seconds")
        return [node("div", *(part for part in middle if part is not None), seconds, class_="middle"), stop, points]
    if hold:
        bar = node(
            "div",
            node("div", data_bar="calibration"),
            class_="bar",
            role="progressbar",
            aria_label=labels.PROGRESS_OF_HOLD,
            aria_valuemin="0",
            aria_valuemax="100",
        )
        return [node("div", *(part for part in middle if part is not None), class_="middle"), bar, points]
    enough = len(state.points) >= state.fewest
    finish = button(
        labels.SAVE,
        "calibrate:finish",
        look="large" if enough and state.fewest == 1 else "",
        id="calibrate-finish",
    )
    more = button(labels.ANOTHER_POINT, "calibrate:again", look="large", id="calibrate-again", data_focus=True)
    drop = button(labels.DROP_POINT, "calibrate:drop", look="")
    row = node("div", *((finish, drop) if enough else (drop,)), class_="row")
    return [node("div", *(part for part in middle if part is not None), class_="middle"), more, row, points]


def _instruction(state: CalibrationState) -> str:
    stage = state.prompt.stage
    if stage is Stage.HOLD:
        return labels.FILLING if state.timed else labels.HOLD_SETTING
    return labels.POINT_SAVED if stage is Stage.CHOOSE else state.prompt.say


def _why(state: CalibrationState) -> str:
    stage = state.prompt.stage
    if stage is Stage.HOLD:
        return labels.PRESS_WHEN_FULL if state.timed else labels.WHEN_STEADY
    if stage is not Stage.CHOOSE:
        return ""
    if len(state.points) < state.fewest:
        return state.reason
    return f"{state.reason}. {labels.MORE_POINTS}" if state.reason else labels.MORE_POINTS


def _entry(question: Question, number: int, system: str) -> Node:
    """A field to type. Its id has the number of the point, so that the next point begins empty."""
    unit, name = unit_of(question.quantity, system), f"calibrate-{question.name}-{number}"
    counted = question.quantity == "count"
    usual = None
    if question.default is not None:
        usual = f"{unit.from_si(question.default):.6g}" + ("" if counted else f" {unit.symbol}")
    return node(
        "div",
        node("label", f"{question.words}, {unit.symbol}", for_=name),
        node(
            "input",
            id=name,
            name=question.name,
            type="text",
            inputmode=keyboard("count" if counted else "number"),
            data_unit=None if counted else unit.symbol,
            autocomplete="off",
            value=usual,
            data_focus=question.default is None or number == 0,
        ),
        class_="entry",
    )


def _points(state: CalibrationState, system: str) -> Node | None:
    if not state.points or not state.unit:
        return None
    return table(labels.POINTS_SO_FAR, labels.POINT_HEADS, _rows(state, system), name="calibration")


def _rows(state: CalibrationState, system: str) -> list[list[Node]]:
    unit = unit_of(QUANTITIES[state.unit], system)
    return [
        [
            f"{number}",
            _reference(point, state.unit, unit),
            f"{point.x:.5g}",
            DASH if point.residual is None else _residual(point, point.residual, state.unit, unit),
        ]
        for number, point in enumerate(state.points, 1)
    ]


def _reference(point: CalibrationPoint, si: str, unit: Unit) -> str:
    value = unit.from_si(1 / point.y) if si == "1/K" else unit.from_si(point.y)
    return f"{value:.5g} {unit.symbol}"


def _residual(point: CalibrationPoint, residual: float, si: str, unit: Unit) -> str:
    """A difference, in the unit of the reference: T = 1/y, so that dT = -T2 dy."""
    size = -residual / point.y**2 * unit.factor if si == "1/K" else residual * unit.factor
    symbol = {"°C": "K"}.get(unit.symbol, unit.symbol)
    return f"{size:+.2g} {symbol}".replace("-", "−")


def _result(state: CalibrationState, system: str) -> list[Node | None]:
    made = state.made
    assert made is not None
    words = [made.reason or _order(made), *made.remarks]
    return [
        node(
            "div",
            node("p", labels.SAVED, class_="instruction", data_long=True, role="status"),
            *(node("p", text, class_="why") for text in words),
            class_="middle",
        ),
        button(
            labels.BACK,
            "calibrate:leave",
            look="large",
            also=f"{LARGE}:",
            id="calibrate-leave",
            data_focus=True,
        ),
        table(
            labels.RESIDUALS,
            labels.POINT_HEADS,
            _rows(state, system),
            name="calibration",
        ),
    ]


def _order(made: ChannelCalibration) -> str:
    if made.king is not None:
        return labels.KINGS_LAW
    return labels.ORDERS.get(made.coefficients.size, labels.ANY_ORDER)


# --- what a person typed ----------------------------------------------------------------------------------------------


def read_answers(questions: Sequence[Question], typed: Mapping[str, str]) -> dict[str, float]:
    """Parse texts in the units of ``typed["system"]`` to SI. InputError names the entry, in those units."""
    system = "inch-pound" if typed.get("system") == "inch-pound" else "metric"
    return {
        question.name: read_answer(question, typed.get(question.name, ""), unit_of(question.quantity, system))
        for question in questions
    }
