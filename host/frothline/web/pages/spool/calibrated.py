"""Blocks of the spool page: which channels are calibrated, the history, and the calibrations that can be made."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from frothline.bench.calibration_session import CHANNELS, WITH_ZERO
from frothline.bench.calibration_state import CalibrationOverview, CalibrationState
from frothline.formatting import unit_of
from frothline.sensors.calibration import CALIBRATED, Calibration
from frothline.sensors.procedures.pressure_and_scale import PROCEDURES
from frothline.web.elements import Node, button, node, table
from frothline.web.texts import counted

if TYPE_CHECKING:
    from frothline.sensors.calibration import ChannelCalibration, Previous

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


def head(known: CalibrationOverview, state: CalibrationState | None, system: str, today: dt.date) -> list[Node | None]:
    """What is calibrated, by whom and for which board, with every warning; at the head of the page."""
    calibration = known.calibration
    said = [_known(name, line, known, system, today) for name, line in calibration.channels.items()]
    said += [
        _state(name, "zero only", "reading with the source at rest; data-sheet slope")
        for name in calibration.zeros
        if name not in calibration.channels
    ]
    said += [
        _state(name, "data sheet", "previous calibration not in use")
        for name in calibration.previous
        if name not in calibration.channels and name not in calibration.zeros
    ]
    return [
        node("p", known.trouble, class_="wrong", role="alert") if known.trouble else None,
        *(_warning(one.what, one.remedy) for one in known.warnings),
        node("ul", *said, class_="calibrated")
        if said
        else node("p", "Nothing is calibrated yet: data-sheet figures are used, and their intervals are wide."),
        _running(state) if state is not None else _ways(known),
    ]


def _ways(known: CalibrationOverview) -> Node:
    """The ways on from the head of the page: calibrate, or go back."""
    calibration = known.calibration
    back = [
        button(f"Use previous: {NAMES.get(one, one)} ({_previous(before)})", f"calibrate:previous:{one}", look="")
        for one, before in calibration.previous.items()
    ]
    return node("div", node("a", "Calibrate", href="#part-calibrate", class_="as-button"), *back, class_="choice")


def _previous(before: Previous) -> str:
    """What a channel used before, in a few words."""
    if before.line is None:
        return "data sheet" if before.zero is None else "zero only"
    return ", ".join(filter(None, (f"of {before.line.date}" if before.line.date else "", before.line.who))) or "undated"


def _state(name: str, state: str, about: str) -> Node:
    return node("li", node("b", f"{NAMES.get(name, name)}: {state}"), node("span", about, class_="small"))


def _known(name: str, line: ChannelCalibration, known: CalibrationOverview, system: str, today: dt.date) -> Node:
    board = line.board or known.calibration.board
    here = board in {"", known.label} or not known.label
    by = f" by {line.who}" if line.who else ""
    old = age(line.date, today)
    about = [
        counted(len(line.points), "point", "points not recorded"),
        _worst(line.residuals, line.unit, system),
        line.how,
        f"zeroed since: {known.calibration.zeros[name]:.5g}" if name in known.calibration.zeros else "",
        (f"for board {board}" if here else f"for board {board}: not this board, not used")
        if board
        else "for any board",
    ]
    when = f"{line.date} ({old})" if old and line.date else line.date or "date not known"
    return _state(name, f"calibrated {when}{by}", "; ".join(filter(None, about)))


def _worst(residuals: Sequence[float], si: str, system: str) -> str:
    """The largest residual, in the unit of the references."""
    if not residuals:
        return ""
    quantity = QUANTITIES.get(si, "")
    worst = max(abs(one) for one in residuals)
    if not quantity or si == "1/K":  # a residual of 1/T has no unit that a reader knows
        return f"residuals up to {worst:.2g} {si}"
    unit = unit_of(quantity, system)
    return f"residuals up to {worst * unit.factor:.2g} {unit.symbol}"


def procedures(known: CalibrationOverview, state: CalibrationState | None) -> list[Node | None]:
    """The calibrations that this rig's sensors allow."""
    return [_running(state) if state is not None else _choices(known)]


def history(known: CalibrationOverview, system: str) -> list[Node | None]:
    """All changes of calibrations, the newest first."""
    calibration = known.calibration
    noted = {one.channel for one in calibration.history}
    older = [
        change
        for name, line in calibration.channels.items()
        if name not in noted
        for change in Calibration(calibration.board, {name: line}).noted(name, CALIBRATED, line.date, line.who).history
    ]
    rows: list[list[Node]] = [
        [
            one.date or "date not known",
            NAMES.get(one.channel, one.channel),
            f"{one.what} (of {one.of})" if one.of else one.what,
            one.who,
            one.board,
            "; ".join(
                filter(
                    None,
                    (
                        counted(one.points, "point", ""),
                        "" if one.residual is None else _worst((one.residual,), one.unit, system),
                        one.how,
                    ),
                )
            ),
        ]
        for one in reversed((*older, *calibration.history))
    ]
    if not rows:
        return [node("p", "No calibration was made yet")]
    heads = ("when", "channel", "change", "by", "board", "details")
    return [table(f"Calibrations in {known.path}, newest first", heads, rows, name="calibrations")]


def calibrated_state(known: CalibrationOverview) -> str:
    """How many channels are calibrated, for a heading."""
    count = len(known.calibration.channels)
    return f"{count} of {len(known.fitted)} channels calibrated" if known.fitted else ""


def _warning(what: str, remedy: str) -> Node:
    return node("p", node("b", f"{what[:1].upper()}{what[1:]}."), f" {remedy}.", class_="wrong")


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
    zeros = [channel for channel in WITH_ZERO if channel in known.fitted]
    return node(
        "div",
        node("h3", "Calibrate against a reference"),
        node(
            "div",
            node("label", "Your name (saved in the file)", for_="calibrate-who"),
            node(
                "input",
                id="calibrate-who",
                name="who",
                type="text",
                inputmode="text",
                autocomplete="name",
                maxlength="60",
            ),
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
