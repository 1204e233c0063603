"""The spool's page as rows of words: channels at rest, what each owes its uncertainty to, health of the link."""

from __future__ import annotations

import math

from frothline.bench.state import ChannelState, Snapshot
from frothline.screen.bench_view import OUTSIDE, SERIES, figure
from frothline.screen.reading import DASH, show

Rows = list[list[str]]


def tables(now: Snapshot, system: str, rate: float, viewers: int) -> dict[str, Rows]:
    """Rows of the tables of the page, by their names."""
    return {"channels": _channels(now, system), "health": _health(now, rate, viewers), "marks": _marks(now)}


def losses(now: Snapshot) -> list[tuple[str, int]]:
    """What was lost, in words a builder knows, each with its count."""
    board = now.losses.health
    return [
        ("frames missing", now.losses.missing),
        ("frames damaged", now.losses.damaged),
        ("frames the board had to drop", board.get("frames_dropped", 0)),
        ("conversions lost", board.get("adc_overruns", 0)),
        ("rotor pulses lost", board.get("capture_overruns", 0)),
        ("board restarts", now.losses.board_resets),
        ("times the cable was out", now.losses.times_lost),
    ]


def _channels(now: Snapshot, system: str) -> Rows:
    fitted = {channel.kind: channel for channel in now.board.channels} if now.board is not None else {}
    rows = []
    for name, kind in SERIES.items():
        latest, channel = now.latest.get(name), fitted.get(kind.channel)
        if latest is None and channel is None:
            continue
        known = figure(now, name)
        shown = show(known.value, known.u, kind.quantity, system, reason=known.reason)
        value = DASH if shown.value == DASH else f"{shown.value} {shown.unit}"
        calibrated = "outside its range" if latest is not None and latest.status & OUTSIDE else ""
        rows.append([kind.title, value, shown.under, _sensor(channel), _state(channel, known.value), calibrated])
    return rows


def _sensor(channel: ChannelState | None) -> str:
    return DASH if channel is None else " ".join(filter(None, (channel.sensor, channel.pin and f"on {channel.pin}")))


def _state(channel: ChannelState | None, value: float) -> str:
    if channel is not None and not channel.present:
        return "does not answer"
    return "alive" if math.isfinite(value) else "no figure"


def _health(now: Snapshot, rate: float, viewers: int) -> Rows:
    board, clock = now.board, now.clock
    drift = DASH if clock is None else f"{clock.drift * 1e6:+.0f} ± {2 * clock.u_drift * 1e6:.0f} millionths"
    return [
        ["board", DASH if board is None else f"{board.label or board.kind}, firmware {board.firmware}"],
        ["last start", DASH if board is None else f"{board.reset_cause}; started {board.boot_count} times so far"],
        ["port", now.link.port or DASH],
        ["frames", f"{now.link.frames} so far, {rate:.0f} a second"],
        ["board clock against this computer", drift],
        *([word, str(count)] for word, count in losses(now)),
        ["screens looking on", str(viewers)],
    ]


def _marks(now: Snapshot) -> Rows:
    return [[f"{now.time - mark.time:.0f} s ago", mark.kind, mark.text] for mark in reversed(now.marks[-8:])]
