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
from frothline.web.pages.spool import labels
from frothline.web.texts import counted

if TYPE_CHECKING:
    from frothline.sensors.calibration import ChannelCalibration, Previous

LARGE = "calibrating"  # the viewer setting for the calibration in large type
OLD = 365  # days after which a calibration counts as old; common practice, no source
# The quantity of references in these units.
QUANTITIES = {"Pa": "pressure", "m3/s": "flow", "m/s": "speed", "kg": "mass", "V": "voltage", "1/K": "temperature"}


def head(
    known: CalibrationOverview, state: CalibrationState | None, system: str, today: dt.date, refused: str = ""
) -> list[Node | None]:
    """What is calibrated, by whom and for which board, with every warning; at the head of the page."""
    calibration = known.calibration
    said = [_known(name, line, known, system, today) for name, line in calibration.channels.items()]
    said += [
        _state(name, labels.ZERO_ONLY, labels.ZERO_ONLY_ABOUT)
        for name in calibration.zeros
        if name not in calibration.channels
    ]
    said += [
        _state(name, labels.DATA_SHEET, labels.PREVIOUS_NOT_USED)
        for name in calibration.previous
        if name not in calibration.channels and name not in calibration.zeros
    ]
    return [
        node("p", known.trouble, class_="wrong", role="alert") if known.trouble else None,
        *(_warning(one.what, one.remedy) for one in known.warnings),
        node("ul", *said, class_="calibrated") if said else node("p", labels.NOTHING_CALIBRATED),
        _running(state) if state is not None else _ways(known, refused),
    ]


def _ways(known: CalibrationOverview, refused: str) -> Node:
    """The ways on from the head of the page: calibrate, or why not, and back to the previous calibration."""
    calibration = known.calibration
    back = [
        button(labels.use_previous(labels.NAMES.get(one, one), _previous(before)), f"calibrate:previous:{one}", look="")
        for one, before in calibration.previous.items()
    ]
    way = node("p", refused) if refused else node("a", labels.CALIBRATE, href="#part-calibrate", class_="as-button")
    return node("div", way, *back, class_="choice")


def _previous(before: Previous) -> str:
    """What a channel used before, in a few words."""
    if before.line is None:
        return labels.DATA_SHEET if before.zero is None else labels.ZERO_ONLY
    return (
        ", ".join(filter(None, (labels.of_date(before.line.date) if before.line.date else "", before.line.who)))
        or labels.UNDATED
    )


def _state(name: str, state: str, about: str) -> Node:
    return node("li", node("b", f"{labels.NAMES.get(name, name)}: {state}"), node("span", about, class_="small"))


def _known(name: str, line: ChannelCalibration, known: CalibrationOverview, system: str, today: dt.date) -> Node:
    board = line.board or known.calibration.board
    here = board in {"", known.label} or not known.label
    by = f" {labels.by_person(line.who)}" if line.who else ""
    old = age(line.date, today)
    about = [
        counted(len(line.points), "point", labels.POINTS_NOT_RECORDED),
        _worst(line.residuals, line.unit, system),
        line.how,
        labels.zeroed_since(known.calibration.zeros[name]) if name in known.calibration.zeros else "",
        labels.for_board(board, here=here) if board else labels.FOR_ANY_BOARD,
    ]
    when = f"{line.date} ({old})" if old and line.date else line.date or labels.DATE_NOT_KNOWN
    return _state(name, labels.calibrated_on(when, by), "; ".join(filter(None, about)))


def _worst(residuals: Sequence[float], si: str, system: str) -> str:
    """The largest residual, in the unit of the references."""
    if not residuals:
        return ""
    quantity = QUANTITIES.get(si, "")
    worst = max(abs(one) for one in residuals)
    if not quantity or si == "1/K":  # a residual of 1/T has no unit that a reader knows
        return labels.residuals_up_to(f"{worst:.2g} {si}")
    unit = unit_of(quantity, system)
    return labels.residuals_up_to(f"{worst * unit.factor:.2g} {unit.symbol}")


def procedures(known: CalibrationOverview, state: CalibrationState | None, refused: str = "") -> list[Node | None]:
    """The calibrations that this rig's sensors allow, or why none can be made."""
    if refused:
        return [node("p", refused)]
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
            one.date or labels.DATE_NOT_KNOWN,
            labels.NAMES.get(one.channel, one.channel),
            labels.what_of(one.what, one.of),
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
        return [node("p", labels.NO_CALIBRATION)]
    return [table(labels.calibrations_in(known.path), labels.HISTORY_HEADS, rows, name="calibrations")]


def calibrated_state(known: CalibrationOverview) -> str:
    """How many channels are calibrated, for a heading."""
    count = len(known.calibration.channels)
    return labels.of_channels(count, len(known.fitted)) if known.fitted else ""


def _warning(what: str, remedy: str) -> Node:
    return node("p", node("b", f"{what[:1].upper()}{what[1:]}."), f" {remedy}.", class_="wrong")


def age(date: str, today: dt.date) -> str:
    """The age as text; empty for an unreadable date."""
    try:
        days = (today - dt.date.fromisoformat(date)).days
    except ValueError:
        return ""
    if days < 0:
        return labels.FUTURE
    if days < 1:
        return labels.TODAY
    if days < 60:
        return labels.days(days)
    words = labels.months(days / 30.44) if days < 2 * 365 else labels.years(days / 365.25)
    return labels.calibrate_again(words) if days > OLD else words


def _running(state: CalibrationState) -> Node:
    return node(
        "p",
        labels.under_way(state.prompt.title, state.prompt.problem),
        button(labels.SHOW_LARGE, "", also=f"{LARGE}:yes", look=""),
        class_="sweep-line",
    )


def _choices(known: CalibrationOverview) -> Node:
    possible = [name for name, channel in CHANNELS.items() if channel in known.fitted]
    zeros = [channel for channel in WITH_ZERO if channel in known.fitted]
    return node(
        "div",
        node("h3", labels.AGAINST_REFERENCE),
        node(
            "div",
            node("label", labels.YOUR_NAME, for_="calibrate-who"),
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
        node("h3", labels.ZERO) if zeros else None,
        node("p", labels.ZERO_ABOUT, class_="small") if zeros else None,
        node(
            "div",
            *(button(labels.zero_of(labels.NAMES[one]), f"calibrate:zero:{one}", look="") for one in zeros),
            class_="procedures",
        )
        if zeros
        else None,
        data_form=True,
        class_="calibrate",
    )


def _choice(name: str) -> Node:
    words = node("span", node("b", PROCEDURES[name].title), node("span", labels.NEEDS[name], class_="small"))
    made = button("", f"calibrate:begin:{name}", look="", also=f"{LARGE}:yes")
    assert isinstance(made, list)
    return [*made[:2], words]
