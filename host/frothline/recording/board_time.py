"""One time axis for a whole recording: board ticks while a board runs on, the host's clock where it does not.

A recording falls into *pieces*: a new one begins where the board booted anew and where the port came back. Within a
piece the board's ticks count, unwrapped; between two pieces the host's clock says how long the silence was. Board
oscillators differ from the wall clock by up to half a percent, so host times are taken from the anchors nearest to
the break and never fitted through a whole recording here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.recording.recover import Recorded
from frothline.wire import ENUMS, WIRE

WRAP = 1 << 32
SAMPLED = ("line", "slow", "ambient", "scale")  # those that become samples
_AGREE = 5.0  # s by which the host's and the board's idea of a silence may differ


@dataclass(frozen=True)
class Piece:
    """From byte ``begin`` to byte ``end``; ``start`` (s, on the recording's axis) is the time of its ``first_tick``.

    ``guessed``: the silence before it had to be taken as nothing, since no clock tells it.
    """

    begin: int
    end: int
    first_sample: int  # offsets
    last_sample: int
    first_tick: int
    last_tick: int  # unwrapped from the first
    start: float
    tick_hz: int
    guessed: bool = False

    @property
    def seconds(self) -> float:
        return (self.last_tick - self.first_tick) / self.tick_hz


@dataclass(frozen=True)
class Anchors:
    """Pairs of host time and board tick, and the host's other moments, in the order of the file."""

    offset: NDArray[np.int64]
    seconds: NDArray[np.float64]  # host time
    tick: NDArray[np.int64]  # -1 where the moment has none


def _cuts(recorded: Recorded) -> list[int]:
    """Offsets at which a new piece begins."""
    decoded = recorded.decoded
    cuts = {0}
    port = decoded.tables["port"]
    back = port["event"] == ENUMS["port_event"]["back"]
    if port.size:
        cuts.update(decoded.offsets["port"][back].tolist())
    boots = decoded.tables["description"]["boot_count"].astype(np.int64)
    if boots.size:
        cuts.update(decoded.offsets["description"][1:][np.diff(boots) != 0].tolist())
    for name in SAMPLED:
        ticks = decoded.tables[name]["tick"].astype(np.int64)
        # Half the range backwards is no wrap of a stream that sends several times a second.
        back_step = np.flatnonzero(np.diff(ticks) % WRAP >= WRAP // 2)
        if back_step.size and name == "line":
            cuts.update(decoded.offsets[name][back_step + 1].tolist())
    return sorted(cuts)


def _host_moments(recorded: Recorded) -> Anchors:
    """Running clock where it can be trusted, wall clock where the program was started anew in between."""
    decoded = recorded.decoded
    rows = []
    for name, table in decoded.tables.items():
        if "monotonic_ns" in (table.dtype.names or ()):
            ticks = table["tick"].astype(np.int64) if name == "anchor" else np.full(len(table), -1)
            rows.append(np.column_stack([decoded.offsets[name], table["unix_ns"], table["monotonic_ns"], ticks]))
    if not rows:
        empty = np.empty(0, dtype=np.int64)
        return Anchors(empty, np.empty(0), empty)
    found = np.concatenate(rows).astype(np.int64)
    found = found[np.argsort(found[:, 0])]
    # Anchors may be written later than their moment, so a step back by little is no new start.
    restarted = bool(len(decoded.tables["recording_resumed"])) or bool((np.diff(found[:, 2]) < -60e9).any())
    host = found[:, 1] if restarted else found[:, 2]
    return Anchors(found[:, 0], (host - host[0]) / 1e9, found[:, 3])


def _signed(ticks: int) -> int:
    """A difference of ticks, the shorter way round."""
    return (ticks + WRAP // 2) % WRAP - WRAP // 2


def pieces(recorded: Recorded) -> list[Piece]:
    """The pieces that hold any sample, in order; empty if there is none."""
    decoded = recorded.decoded
    names = [name for name in SAMPLED if name in decoded.tables]
    if not names:
        return []
    offsets = np.concatenate([decoded.offsets[name] for name in names])
    ticks = np.concatenate([decoded.tables[name]["tick"] for name in names]).astype(np.int64)
    order = np.argsort(offsets)
    offsets, ticks = offsets[order], ticks[order]
    moments = _host_moments(recorded)
    cuts = [*_cuts(recorded), len(recorded.data) + 1]
    out: list[Piece] = []
    begin = 0  # a stretch without samples belongs to the piece behind it
    for end in cuts[1:]:
        first, last = np.searchsorted(offsets, [begin, end])
        if first == last:
            continue
        mine = ticks[first:last]
        # Messages of different kinds may overtake each other by a window; steps are taken the shorter way round.
        steps = (np.diff(mine) + WRAP // 2) % WRAP - WRAP // 2
        unwrapped = mine[0] + np.concatenate([[0], np.cumsum(steps)])
        hz = _tick_hz(recorded, end)
        where = int(offsets[first]), int(offsets[last - 1])
        piece = Piece(begin, end, *where, int(unwrapped.min()), int(unwrapped.max()), 0.0, hz)
        out.append(_placed(piece, out[-1], recorded, moments) if out else piece)
        begin = end
    return out


def _tick_hz(recorded: Recorded, end: int) -> int:
    rows = recorded.decoded.tables["description"]
    if not rows.size:
        return WIRE.tick_hz
    before = int(np.searchsorted(recorded.decoded.offsets["description"], end))
    return int(rows["tick_hz"][max(0, before - 1)]) or WIRE.tick_hz


def _host_time(piece: Piece, tick: int, moments: Anchors, *, at_end: bool) -> float | None:
    """Host time (s) of a tick at one end of a piece: by the nearest anchor in it, or a moment told just beyond it."""
    inside = (moments.offset >= piece.begin) & (moments.offset < piece.end)
    anchored = np.flatnonzero(inside & (moments.tick >= 0))
    if anchored.size:
        k = anchored[-1] if at_end else anchored[0]
        return float(moments.seconds[k]) + _signed(tick - int(moments.tick[k])) / piece.tick_hz
    beyond = moments.offset > piece.last_sample if at_end else moments.offset < piece.first_sample
    plain = np.flatnonzero(inside & beyond)
    if plain.size:
        return float(moments.seconds[plain[0] if at_end else plain[-1]])
    return None


def _placed(piece: Piece, before: Piece, recorded: Recorded, moments: Anchors) -> Piece:
    end = before.start + before.seconds
    host_end = _host_time(before, before.last_tick, moments, at_end=True)
    host_start = _host_time(piece, piece.first_tick, moments, at_end=False)
    silence = None if host_end is None or host_start is None else max(0.0, host_start - host_end)
    same_boot = _boot(recorded, before.end) == _boot(recorded, piece.end)
    if same_boot and piece.tick_hz == before.tick_hz:
        # The board ran on: its ticks measure the silence, the host says how often they wrapped.
        modulo = (piece.first_tick - before.last_tick) % WRAP
        turns = 0 if silence is None else max(0, round((silence * piece.tick_hz - modulo) / WRAP))
        by_board = (modulo + turns * WRAP) / piece.tick_hz
        if silence is None or abs(by_board - silence) < _AGREE + 0.01 * silence:
            silence = by_board
    return replace(piece, start=end + (silence or 0.0), guessed=silence is None)


def _boot(recorded: Recorded, end: int) -> int | None:
    before = int(np.searchsorted(recorded.decoded.offsets.get("description", np.empty(0)), end))
    return int(recorded.decoded.tables["description"]["boot_count"][before - 1]) if before else None


def place(ticks: NDArray[Any], offsets: NDArray[np.int64], parts: list[Piece]) -> NDArray[np.float64]:
    """Time (s) on the recording's axis of ticks that stand at those offsets; NaN outside of all pieces."""
    out = np.full(len(ticks), np.nan)
    for piece in parts:
        here = (offsets >= piece.begin) & (offsets < piece.end)
        raw = np.asarray(ticks)[here].astype(np.int64)
        middle = (piece.first_tick + piece.last_tick) // 2
        # Long pieces wrap: follow the order of the file from the first tick on.
        if piece.last_tick - piece.first_tick < WRAP // 2:
            unwrapped = middle + (raw - middle + WRAP // 2) % WRAP - WRAP // 2
        else:
            steps = np.diff(raw, prepend=piece.first_tick % WRAP)
            unwrapped = piece.first_tick + np.cumsum((steps + WRAP // 2) % WRAP - WRAP // 2)
        out[here] = piece.start + (unwrapped - piece.first_tick) / piece.tick_hz
    return out


def wall_clock_start(recorded: Recorded, parts: list[Piece]) -> float | None:
    """Seconds since 1970 at time 0 of the axis; None without an anchor in the first piece."""
    table, offsets = recorded.decoded.tables["anchor"], recorded.decoded.offsets.get("anchor")
    if offsets is None or not parts:
        return None
    inside = np.flatnonzero((offsets >= parts[0].begin) & (offsets < parts[0].end))
    if not inside.size:
        return None
    row = table[inside[0]]
    return float(row["unix_ns"]) / 1e9 + _signed(parts[0].first_tick - int(row["tick"])) / parts[0].tick_hz
