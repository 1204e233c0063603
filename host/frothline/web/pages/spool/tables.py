"""Tables of the spool page: channels at rest, uncertainty budgets, health of the link."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from frothline.bench.loss_words import counted_losses
from frothline.bench.snapshot import ChannelState, Snapshot
from frothline.formatting import DASH, show_in, unit_of
from frothline.label_case import label_case
from frothline.sensors.budget import Budget
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.linear_line import words_of
from frothline.units import Unit
from frothline.web.live_figures import OUTSIDE, SERIES, figure
from frothline.web.pages.spool import labels
from frothline.web.texts import counted

Rows = list[list[str]]

REPEATED = {"air_speed", "free_air_flow", "mass_flow"}  # their budgets repeat that of the flow
LEAST_SHARE = 0.005  # of the variance; smaller contributions do not change a shown figure


@dataclass(frozen=True)
class Budgets:
    """Budgets by series, calibrations by kind of channel."""

    budgets: Mapping[str, Budget] = field(default_factory=dict)
    calibrations: Mapping[str, ChannelCalibration] = field(default_factory=dict)


def tables(now: Snapshot, system: str, doubts: Budgets, rate: float, viewers: int) -> dict[str, Rows]:
    """Rows of the tables of the page, by their names. ``rate`` is in frames/s."""
    return {
        "channels": _labelled(_channels(now, system, doubts)),
        "budget": _labelled(_budgets(system, doubts)),
        "health": _labelled(_health(now, rate, viewers)),
        "marks": _marks(now),
    }


def _labelled(rows: Rows) -> Rows:
    """The rows with their first cell as a label."""
    return [[label_case(first), *rest] for first, *rest in rows]


def states(now: Snapshot) -> dict[str, str]:
    """Words at the headings of the closed parts: a loss is said there too."""
    lost = sum(count for _, count in counted_losses(now.losses))
    return {
        "part-health": labels.lost(lost),
        "part-marks": counted(len(now.marks), labels.EVENT, labels.NO_EVENT),
    }


def _channels(now: Snapshot, system: str, doubts: Budgets) -> Rows:
    fitted = {channel.kind: channel for channel in now.board.channels} if now.board is not None else {}
    rows = []
    for name, kind in SERIES.items():
        channel = fitted.get(kind.channel)
        if channel is None or (kind.derived and name not in now.latest):
            continue
        known = figure(now, name)
        shown = known.shown(kind.quantity, system)
        value = DASH if shown.value == DASH else f"{shown.value} {shown.unit}"
        latest = now.latest.get(name)
        outside = labels.OUTSIDE_RANGE if latest is not None and latest.status & OUTSIDE else ""
        sensor = labels.DERIVED if kind.derived else _sensor(channel, system)
        state = "" if kind.derived else _state(channel, known.value)
        line = "" if kind.derived else _calibration(doubts.calibrations.get(kind.channel)) + outside
        rows.append([kind.title, value, shown.under, state, sensor, line])
    return rows


def _sensor(channel: ChannelState, system: str) -> str:
    name = labels.SENSORS.get(channel.sensor, channel.sensor)
    if channel.sensor == "linear_pressure":
        name += f" ({words_of(channel.line, unit_of('pressure', system))})"
    return f"{name}, {channel.pin}" if channel.pin and channel.pin != "AVCC" else name


def _state(channel: ChannelState, value: float) -> str:
    if not channel.present:
        return labels.NO_SIGNAL
    return labels.SOUND if math.isfinite(value) else labels.NO_VALUE


def _calibration(line: ChannelCalibration | None) -> str:
    if line is None:
        return labels.DATA_SHEET
    return " ".join(filter(None, (labels.CALIBRATED_WORD, line.date, labels.by_person(line.who) if line.who else "")))


def _budgets(system: str, doubts: Budgets) -> Rows:
    rows = []
    for name, kind in SERIES.items():
        budget = doubts.budgets.get(name)
        if budget is None or name in REPEATED:
            continue
        unit = unit_of(kind.quantity, system)
        symbol = {"°C": "K"}.get(unit.symbol, unit.symbol)  # a difference of 1 °C is 1 K
        title = kind.title
        for item in budget.rows():
            if item["share"] < LEAST_SHARE:
                continue
            share = f"{100 * item['share']:.0f} %"
            plain = item["source"].replace("_", " ")
            rows.append(
                [title, plain, f"{item['standard_uncertainty'] * unit.factor:.2g} {symbol}", share, item["origin"]]
            )
            title = ""
    return rows


def _health(now: Snapshot, rate: float, viewers: int) -> Rows:
    board, clock = now.board, now.clock
    drift = DASH if clock is None else _drift(clock.drift, clock.u_drift)
    return [
        [labels.BOARD, DASH if board is None else labels.firmware(board.label or board.kind, board.firmware)],
        [labels.LAST_START, DASH if board is None else labels.start(board.reset_cause, board.boot_count)],
        [labels.PORT, now.link.port or DASH],
        [labels.FRAMES, labels.frames(now.link.frames, rate)],
        [labels.CLOCK_DRIFT, drift],
        *([word, str(count)] for word, count in counted_losses(now.losses)),
        [labels.VIEWERS, str(viewers)],
    ]


def _drift(drift: float, u: float) -> str:
    shown = show_in(abs(drift), u, Unit("millionths", 1e6))
    return shown.under if shown.value == DASH else labels.drift(shown.value, shown.under, fast=drift < 0.0)


def _marks(now: Snapshot) -> Rows:
    return [[labels.ago(now.time - mark.time), mark.kind, mark.text] for mark in reversed(now.marks[-10:])]
