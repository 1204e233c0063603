"""Blocks of the guided calibration, and parsing of typed references.

An active calibration covers the page of the viewer who began it: an instruction in the largest type, the field to type,
and a large button. Otherwise the block lists the channels, their calibrations with age, and findings.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from frothline.bench.calibration_session import CHANNELS, ZEROED, CalibrationSession, read_answer
from frothline.bench.calibration_state import CalibrationOverview, CalibrationPoint, CalibrationState
from frothline.formatting import DASH, running_time, unit_of
from frothline.sensors.procedures.base import Question, Stage
from frothline.sensors.procedures.pressure_and_scale import PROCEDURES
from frothline.units import Unit
from frothline.web.elements import Node, block, button, node, table

if TYPE_CHECKING:
    from frothline.sensors.calibration import ChannelCalibration
    from frothline.web.viewer import Viewer

LARGE = "calibrating"  # the viewer setting for the calibration in large type
OLD = 365  # days after which a calibration counts as old; common practice, no source
# Equipment of each procedure, in one line.
NEEDS = {
    "pressure": "water manometer (clear hose bent to a U), ruler, thermometer",
    "flow-bag": "a bag of known volume, and a hand to put it over the end of the line",
    "flow-plates": "the set of drilled plates, a calliper",
    "thermal-plates": "the set of drilled plates with a blind one, a calliper",
    "scale-masses": "three or more known masses",
    "scale-water": "a measuring jug, a bucket, water",
    "temperature": "crushed ice, warm water, a thermometer",
    "supply": "a multimeter",
}
NAMES = {
    "pressure": "pressure at the tap",
    "differential": "pressure across the orifice",
    "rotor": "flow, by the rotor",
    "thermal": "flow, by the hot film",
    "scale": "scale",
    "temperature": "temperature in the spool",
    "supply": "supply of the board",
    "plate": "drilled plate",
}
# The quantity of references in these units.
QUANTITIES = {"Pa": "pressure", "m3/s": "flow", "m/s": "speed", "kg": "mass", "V": "voltage", "1/K": "temperature"}


def say(
    calibrating: CalibrationSession,
    known: CalibrationOverview | None,
    viewer: Viewer,
    message: dict[str, Any],
    today: dt.date,
) -> None:
    """Put the calibration into a message; ``known`` may be some seconds old."""
    state = calibrating.state()
    large = state is not None and bool(viewer.wish.get(LARGE))
    message["states"]["calibration"] = "large" if large else "off"
    message["bars"]["calibration"] = 0.0 if state is None else round(state.prompt.progress, 3)
    message["texts"]["calibration-seconds"] = "" if state is None else running_time(state.seconds)
    blocks = message["blocks"]
    have = viewer.have
    blocks["calibration"] = block([] if state is None else under_way(state, viewer.system), have.get("calibration"))
    rest = () if known is None else at_rest(known, state, viewer.system, today)
    blocks["calibrations"] = block(rest, have.get("calibrations"))


# --- under way --------------------------------------------------------------------------------------------------------


def under_way(state: CalibrationState, system: str) -> list[Node | None]:
    """The full-screen calibration, for wet hands."""
    prompt = state.prompt
    return [
        node(
            "div",
            node("span", prompt.title, class_="count"),
            node("span", f"{prompt.points} of at least {state.fewest} points" if state.unit else "", class_="points"),
            node("div", *_ways_out(state), class_="choice"),
            class_="top",
        ),
        *(_result(state, system) if state.made is not None else _step(state, system)),
    ]


def _ways_out(state: CalibrationState) -> list[Node]:
    if state.made is not None:
        return []
    leave = button("Cancel calibration", "calibrate:leave", also=f"{LARGE}:")
    return [button("Redo this point", "calibrate:cancel"), leave] if state.prompt.stage is Stage.HOLD else [leave]


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
                    "Bag on – start" if state.timed else "Ready – take reading",
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
        stop = button("Bag full – stop", "calibrate:stop", look="large", id="calibrate-stop", data_focus=True)
        seconds = node("p", node("span", data_live="calibration-seconds"), class_="seconds")
        return [node("div", *(part for part in middle if part is not None), seconds, class_="middle"), stop, points]
    if hold:
        bar = node(
            "div",
            node("div", data_bar="calibration"),
            class_="bar",
            role="progressbar",
            aria_label="progress of the hold",
            aria_valuemin="0",
            aria_valuemax="100",
        )
        return [node("div", *(part for part in middle if part is not None), class_="middle"), bar, points]
    enough = len(state.points) >= state.fewest
    finish = button(
        "Save calibration",
        "calibrate:finish",
        look="large" if enough and state.fewest == 1 else "",
        id="calibrate-finish",
    )
    more = button("Another point", "calibrate:again", look="large", id="calibrate-again", data_focus=True)
    drop = button("Drop the last point", "calibrate:drop", look="")
    row = node("div", *((finish, drop) if enough else (drop,)), class_="row")
    return [node("div", *(part for part in middle if part is not None), class_="middle"), more, row, points]


def _instruction(state: CalibrationState) -> str:
    stage = state.prompt.stage
    if stage is Stage.HOLD:
        return "Filling" if state.timed else "Hold the setting"
    return "Point saved" if stage is Stage.CHOOSE else state.prompt.say


def _why(state: CalibrationState) -> str:
    stage = state.prompt.stage
    if stage is Stage.HOLD:
        return "press when the bag is full" if state.timed else "the reading is taken when it is steady"
    if stage is not Stage.CHOOSE:
        return ""
    if len(state.points) < state.fewest:
        return state.reason
    more = "More points over a wide range reduce the uncertainty"
    return f"{state.reason}. {more}" if state.reason else more


def _entry(question: Question, number: int, system: str) -> Node:
    """A field to type. Its id has the number of the point, so that the next point begins empty."""
    unit, name = unit_of(question.quantity, system), f"calibrate-{question.name}-{number}"
    usual = None if question.default is None else f"{unit.from_si(question.default):.6g}"
    return node(
        "div",
        node("label", f"{question.words}, {unit.symbol}", for_=name),
        node(
            "input",
            id=name,
            name=question.name,
            type="text",
            inputmode="decimal",
            autocomplete="off",
            value=usual,
            data_focus=question.default is None or number == 0,
        ),
        class_="entry",
    )


def _points(state: CalibrationState, system: str) -> Node | None:
    if not state.points or not state.unit:
        return None
    caption = "Points so far; the residual is the distance of each point from the fitted line"
    return table(caption, ("", "reference", "reading", "residual"), _rows(state, system), name="calibration")


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
            node("p", "Saved and in use", class_="instruction", data_long=True, role="status"),
            *(node("p", text, class_="why") for text in words),
            class_="middle",
        ),
        button(
            "Back to the spool",
            "calibrate:leave",
            look="large",
            also=f"{LARGE}:",
            id="calibrate-leave",
            data_focus=True,
        ),
        table(
            "Residuals of the fitted line",
            ("", "reference", "reading", "residual"),
            _rows(state, system),
            name="calibration",
        ),
    ]


def _order(made: ChannelCalibration) -> str:
    if made.king is not None:
        return "King's law"
    return {1: "one constant", 2: "a straight line", 3: "a quadratic"}.get(made.coefficients.size, "a line")


# --- at rest ----------------------------------------------------------------------------------------------------------


def at_rest(
    known: CalibrationOverview, state: CalibrationState | None, system: str, today: dt.date
) -> list[Node | None]:
    """The calibration block of the spool page."""
    del system
    calibration = known.calibration
    rows = [_known_row(name, line, known, today) for name, line in calibration.channels.items()]
    rows += [
        [NAMES.get(name, name), "zero", "", "", calibration.board, "reading with the source at rest"]
        for name in calibration.zeros
    ]
    rows += [
        [NAMES.get(name, name), "data sheet", "", "", "", "previous calibration not in use"]
        for name in calibration.previous
        if name not in calibration.channels and name not in calibration.zeros
    ]
    heads = ("channel", "calibrated", "age", "by", "board", "how")
    caption = f"Calibrations in {known.path}"
    listed = table(caption, heads, rows, name="calibrations") if rows else None
    none = (
        None
        if rows
        else node("p", "Nothing is calibrated yet: data-sheet figures are used, and their intervals are wide.")
    )
    return [
        node("p", known.trouble, class_="wrong", role="alert") if known.trouble else None,
        *(_warning(one.what, one.remedy) for one in known.warnings),
        none,
        listed,
        _previous(known) if state is None else None,
        _running(state) if state is not None else _choices(known),
    ]


def _warning(what: str, remedy: str) -> Node:
    return node("p", node("b", f"{what[:1].upper()}{what[1:]}."), f" {remedy}.", class_="wrong")


def _previous(known: CalibrationOverview) -> Node | None:
    """A button for each channel with a previous calibration."""
    channels = known.calibration.previous
    if not channels:
        return None
    return node(
        "div",
        *(button(f"Use previous: {NAMES.get(one, one)}", f"calibrate:previous:{one}", look="") for one in channels),
        class_="procedures",
    )


def _known_row(name: str, line: ChannelCalibration, known: CalibrationOverview, today: dt.date) -> list[Node]:
    board = line.board or known.calibration.board
    here = board in {"", known.label} or not known.label
    return [
        NAMES.get(name, name),
        line.date or "date not known",
        age(line.date, today),
        line.who,
        board if here else f"{board}: not this board, not used",
        line.how,
    ]


def age(date: str, today: dt.date) -> str:
    """The age as text; empty for an unreadable date."""
    try:
        days = (today - dt.date.fromisoformat(date)).days
    except ValueError:
        return ""
    if days < 0:
        return "date in the future: check this computer's clock"
    if days < 1:
        return "today"
    if days < 60:
        return f"{days} day{'s' if days > 1 else ''}"
    words = f"{days / 30.44:.0f} months" if days < 2 * 365 else f"{days / 365.25:.0f} years"
    return f"{words}: calibrate again" if days > OLD else words


def _running(state: CalibrationState) -> Node:
    return node(
        "p",
        f"A calibration is under way: {state.prompt.title}. {state.prompt.problem} ",
        button("Show full-screen", "", also=f"{LARGE}:yes", look=""),
        class_="sweep-line",
    )


def _choices(known: CalibrationOverview) -> Node:
    possible = [name for name, channel in CHANNELS.items() if channel in known.fitted]
    zeros = [channel for channel in ZEROED if channel in known.fitted]
    return node(
        "div",
        node("h3", "Calibrate against a reference"),
        node(
            "div",
            node("label", "Your name (saved in the file)", for_="calibrate-who"),
            node("input", id="calibrate-who", name="who", type="text", autocomplete="name", maxlength="60"),
            class_="entry",
        ),
        node("div", *(_choice(name) for name in possible), class_="procedures") if possible else None,
        node("h3", "Zero") if zeros else None,
        node("p", "With the source stopped and the line open to the room, or the pan empty.", class_="small")
        if zeros
        else None,
        node(
            "div",
            *(button(f"Zero the {NAMES[one]}", f"calibrate:zero:{one}", look="") for one in zeros),
            class_="procedures",
        )
        if zeros
        else None,
        data_form=True,
        class_="calibrate",
    )


def _choice(name: str) -> Node:
    words = node("span", node("b", PROCEDURES[name].title), node("span", NEEDS[name], class_="small"))
    made = button("", f"calibrate:begin:{name}", look="", also=f"{LARGE}:yes")
    assert isinstance(made, list)
    return [*made[:2], words]


# --- what a person typed ----------------------------------------------------------------------------------------------


def read_answers(questions: Sequence[Question], typed: Mapping[str, str]) -> dict[str, float]:
    """Parse texts in the units of ``typed["system"]`` to SI. InputError names the entry, in those units."""
    system = "inch-pound" if typed.get("system") == "inch-pound" else "metric"
    return {
        question.name: read_answer(question, typed.get(question.name, ""), unit_of(question.quantity, system))
        for question in questions
    }
