"""Blocks of the run page: alarms, buttons, details, alarm log, simulated faults. Pure functions."""

from __future__ import annotations

from collections.abc import Set as AbstractSet

from frothline.bench.run_control import SimulatedFaults
from frothline.formatting import DASH, running_time, show_estimate
from frothline.run.state import RunState
from frothline.run.watch.alarms import Alarm
from frothline.web import form_fields
from frothline.web.elements import Node, button, figure_cell, node, nodes, table
from frothline.web.pages.run import labels
from frothline.web.run_summary import run_figure
from frothline.web.texts import sentence

FORM, NAME = "run", "name"  # of the field with the run's name


def alarm_block(run: RunState | None, marked: AbstractSet[int] = frozenset()) -> list[Node | None]:
    """Active alarms: the most severe first, those marked as false last. Each has observation, cause, action.

    ``marked`` : numbers of alarms that a person marked as false
    """
    if run is None or not run.running:
        return [None]
    return [_alarm(alarm, marked=alarm.number in marked) for alarm in _in_order(run, marked)]


def _in_order(run: RunState, marked: AbstractSet[int]) -> list[Alarm]:
    return sorted(run.alarms, key=lambda alarm: alarm.number in marked)


def _alarm(alarm: Alarm, *, marked: bool) -> Node:
    severity = "notice" if marked else alarm.severity
    head = (node("h2", alarm.title), node("p", labels.MARKED_FALSE, class_="marked") if marked else None)
    return node(
        "div",
        *head,
        node("p", node("b", labels.DO), alarm.do, class_="do"),
        node("p", node("b", labels.SEEN), sentence(alarm.seen), class_="seen"),
        node("p", node("b", labels.LIKELY), alarm.means, class_="seen"),
        class_=f"alarm {severity}",
        id=f"alarm-{alarm.number}",
    )


def button_block(
    run: RunState | None,
    simulated: SimulatedFaults | None,
    doing: str,
    marked: AbstractSet[int] = frozenset(),
    *,
    again: str = "",
) -> list[Node | None]:
    """The buttons of the run. During a run each has its own place, so that an alarm moves none of them.

    ``again`` : why a run of a replay is not recorded; such a run needs no name
    """
    if run is not None and run.running:
        alarm = next((one for one in _in_order(run, marked) if one.number not in marked), None)
        false = f"run:false-alarm:{alarm.number}" if alarm is not None else ""
        return [
            node(
                "div",
                button(labels.REFILLED, "run:refilled"),
                button(labels.SILENCE, "", data_silence=True, disabled=alarm is None),
                button(labels.FALSE_ALARM, false, data_silence=True, disabled=alarm is None),
                class_="alarm-actions",
            ),
            button(labels.STOP, "run:stop", look="main stop"),
        ]
    make = simulated is not None and not simulated.foam
    start = labels.START if run is None else labels.START_AGAIN
    return [
        node("p", labels.MAKE_FOAM_ABOUT if make else doing, class_="small"),
        node("p", again) if again else form_fields.entry(FORM, NAME, labels.RUN_NAME, example=labels.RUN_NAME_EXAMPLE),
        button(labels.MAKE_FOAM, "run:foam", look="main") if make else button(start, "run:start", look="main"),
    ]


def more_block(run: RunState | None, doing: str, system: str) -> list[Node | None]:
    """Details of foam and solution, with their sources."""
    if run is None:
        return [node("p", labels.NO_RUN, class_="small")]
    rows: list[list[Node]] = []
    for name, title, quantity in labels.MORE:
        shown = run_figure(run, name, quantity, system)
        if shown.value == DASH and not run.output.why.get(name):
            continue
        rows.append([title, figure_cell(shown)])
    views: list[list[Node]] = [
        [title, figure_cell(show_estimate(getattr(run.views, name), "flow", system, reason=labels.NOT_KNOWN))]
        for name, title in labels.VIEWS
    ]
    said = [*run.output.assumptions, *run.cannot_see]
    return [
        node("p", doing, class_="small") if run.running else None,
        node(
            "div",
            table(labels.MORE_TABLE, (), rows, name="more"),
            table(labels.VIEWS_TABLE, (), views, name="views"),
            class_="two",
        ),
        node("ul", *nodes("li", [sentence(text) for text in dict.fromkeys(said)]), class_="small") if said else None,
    ]


def log_block(run: RunState | None, marked: AbstractSet[int] = frozenset()) -> list[Node | None]:
    """All alarms of the run, the newest first."""
    if run is None or not run.log:
        return [node("p", labels.ALL_WELL, class_="small")]
    rows: list[list[Node]] = []
    for alarm in reversed(run.log):
        state = [labels.FALSE] if alarm.number in marked else []
        ended = alarm.ended or alarm.time
        state.append(labels.ACTIVE if alarm.active else labels.over_after(running_time(ended - alarm.time)))
        at = running_time(alarm.time - run.started)
        rows.append([at, node("b", alarm.title), sentence(alarm.seen), ", ".join(state)])
    return [table(labels.LOG_TABLE, labels.LOG_HEADS, rows, name="log")]


def fault_block(simulated: SimulatedFaults | None) -> list[Node | None]:
    """Buttons that start faults on a simulated line."""
    if simulated is None:
        return [None]
    items: list[Node] = []
    for name, words in simulated.faults.items():
        on = name in simulated.active
        ask = f"run:heal:{name}" if on else f"run:fault:{name}"
        items.append(button(words, ask, aria_pressed="true" if on else "false"))
    clear = button(labels.CLEAR_FAULTS, "run:heal:all", look="", disabled=not simulated.active)
    refill = button(labels.REFILL, "run:refill", look="") if simulated.foam else None
    return [node("p", labels.FAULTS_ABOUT, class_="small"), node("div", *items, clear, refill, class_="faults")]
