"""One time axis for a whole recording: board ticks while the board runs, the host's clock across breaks.

A recording consists of *pieces*: a new one begins where the board booted or the port came back. Within a piece the
unwrapped board ticks give the time (``wire/ticks.py``); between two pieces the host's clock gives the length of the
break. Board oscillators differ from the wall clock by up to half a percent, so host times are taken from the anchors
nearest to the break and never fitted through a whole recording here.

A host frame with a tick (anchor, note, alarm) is written by another thread than the board's bytes and may come late,
even after a boot. It belongs to the piece that contains the line message with that tick.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.recording.recorded import WithMessages
from frothline.wire import ENUMS, WIRE
from frothline.wire.decoder import TICKED
from frothline.wire.ticks import WRAP, BootTicks, Ticks, ahead, apart, boot_starts, nearest

SAMPLED = ("line", "slow", "ambient", "scale")  # messages that become samples
LATE = 10.0  # s by which a host frame may lag behind the board's bytes: the most that wait for the live thread
_AGREE = 5.0  # s by which the length of a break may differ between host and board
_NONE = np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class Piece:
    """From byte ``begin`` to byte ``end``; ``start`` (s, on the recording's axis) is the time of its ``first_tick``.

    ``guessed``: the break before it is taken as 0, because no clock gives its length. ``offsets`` and ``ticks`` (n,)
    are those of all its frames with a tick, in the order of the file, ticks unwrapped.
    """

    begin: int
    end: int
    first_sample: int  # offsets
    last_sample: int
    first_tick: int
    last_tick: int  # unwrapped
    start: float
    tick_hz: int
    guessed: bool = False
    offsets: NDArray[np.int64] = field(default_factory=lambda: _NONE, repr=False, compare=False)
    ticks: Ticks = field(default_factory=lambda: _NONE, repr=False, compare=False)

    @property
    def seconds(self) -> float:
        return (self.last_tick - self.first_tick) / self.tick_hz

    def newest(self, offsets: NDArray[np.int64]) -> Ticks:
        """Unwrapped tick of the last frame before each offset; of the first frame if there is none before."""
        return self.ticks[np.maximum(np.searchsorted(self.offsets, offsets) - 1, 0)]

    def time(self, ticks: Ticks) -> NDArray[np.float64]:
        """Time of unwrapped ticks on the recording's axis, s."""
        return np.asarray(self.start + (ticks - self.first_tick) / self.tick_hz, dtype=np.float64)


@dataclass(frozen=True)
class Moments:
    """Times of host frames in the order of the file; anchors have their tick and piece."""

    offset: NDArray[np.int64]
    seconds: NDArray[np.float64]  # host time
    tick: Ticks  # unwrapped, of anchors
    piece: NDArray[np.int64]  # index of the piece of an anchor; -1 if it fits none, -2 for times without a tick


def _cuts(recorded: WithMessages) -> list[int]:
    """Offsets at which a new piece begins."""
    tables = recorded.decoded.tables
    port = tables["port"]
    back = tables.offsets["port"][port["event"] == ENUMS["port_event"]["back"]] if port.size else _NONE
    return sorted({0, *back.tolist(), *boot_starts(tables)})


def pieces(recorded: WithMessages) -> list[Piece]:
    """The pieces with samples, in order; empty if there is none."""
    tables = recorded.decoded.tables
    if not any(name in tables for name in SAMPLED):
        return []
    found: list[Piece] = []
    cuts = [*_cuts(recorded), recorded.decoded.bytes + 1]
    begin = 0  # a stretch without samples belongs to the next piece
    for end in cuts[1:]:
        inside = tables.between(begin, end)
        samples = [inside.offsets[name] for name in SAMPLED if name in inside]
        if not samples:
            continue
        unwrapped = BootTicks().feed_tables(inside)
        sampled = [unwrapped[name] for name in SAMPLED if name in inside]
        offsets = np.concatenate([inside.offsets[name] for name in unwrapped])
        order = np.argsort(offsets)
        found.append(
            Piece(
                begin,
                end,
                min(int(where[0]) for where in samples),
                max(int(where[-1]) for where in samples),
                min(int(ticks.min()) for ticks in sampled),
                max(int(ticks.max()) for ticks in sampled),
                0.0,
                _tick_hz(recorded, end),
                offsets=offsets[order],
                ticks=np.concatenate(list(unwrapped.values()))[order],
            )
        )
        begin = end
    moments = _moments(recorded, found)
    placed = found[:1]
    for k, piece in enumerate(found[1:], start=1):
        placed.append(_placed(piece, placed[-1], k, recorded, moments))
    return placed


def _tick_hz(recorded: WithMessages, end: int) -> int:
    rows = recorded.decoded.tables["description"]
    if not rows.size:
        return WIRE.tick_hz
    before = int(np.searchsorted(recorded.decoded.offsets["description"], end))
    return int(rows["tick_hz"][max(0, before - 1)]) or WIRE.tick_hz


def owners(
    recorded: WithMessages, parts: list[Piece], ticks: NDArray[Any], offsets: NDArray[np.int64]
) -> tuple[NDArray[np.int64], Ticks]:
    """The piece of each host frame by its tick, and its tick unwrapped there; (n,) each.

    It is the frame's own piece if a board frame with the same tick comes before it there; else the piece before, if it
    contains a line message with that tick. Without one (lost, or before the recording began), it is the own piece if
    the tick is at most ``LATE`` older than the newest frame before it; else -1.
    """
    index = np.full(len(ticks), -1, dtype=np.int64)
    unwrapped = np.zeros(len(ticks), dtype=np.int64)
    if not parts:
        return index, unwrapped
    raw = np.asarray(ticks).astype(np.int64)
    begins = np.array([piece.begin for piece in parts])
    own = np.searchsorted(begins[1:], offsets, side="right")
    lines = _Places(recorded, ("line",), raw)
    frames = _Places(recorded, (*TICKED, "description"), raw)
    for k, (tick, offset, mine) in enumerate(zip(raw, offsets, own, strict=True)):
        newest = int(parts[mine].newest(offsets[k : k + 1])[0])
        before = lines.last(tick, offset)
        if frames.last(tick, offset) >= begins[mine]:
            index[k] = mine
        elif mine and before >= begins[mine - 1]:
            index[k], newest = mine - 1, int(parts[mine - 1].newest(np.array([before + 1]))[0])
        elif -LATE * parts[mine].tick_hz <= apart(tick, newest) <= 0:
            index[k] = mine
        unwrapped[k] = nearest(tick, newest)
    return index, unwrapped


class _Places:
    """Offsets in the file of the frames of some tables with one of these ticks."""

    def __init__(self, recorded: WithMessages, names: tuple[str, ...], ticks: NDArray[np.int64]) -> None:
        tables = recorded.decoded.tables
        there = [name for name in names if name in tables]
        self._tick, self._offset = _NONE, _NONE
        if there:
            tick = np.concatenate([tables[name]["tick"].astype(np.int64) for name in there])
            offset = np.concatenate([tables.offsets[name] for name in there])
            wanted = np.isin(tick, ticks)
            order = np.lexsort((offset[wanted], tick[wanted]))
            self._tick, self._offset = tick[wanted][order], offset[wanted][order]

    def last(self, tick: int, before: int) -> int:
        """Offset of the last frame with that tick that begins before an offset; -1 if there is none."""
        low, high = np.searchsorted(self._tick, [tick, tick + 1])
        same = self._offset[low:high]
        k = int(np.searchsorted(same, before))
        return int(same[k - 1]) if k else -1


def _moments(recorded: WithMessages, parts: list[Piece]) -> Moments:
    """The monotonic clock where it is continuous, the wall clock across a restart of the program."""
    decoded = recorded.decoded
    rows = []
    for name, table in decoded.tables.items():
        if "monotonic_ns" not in (table.dtype.names or ()):
            continue
        offsets = decoded.offsets[name]
        index, ticks = np.full(len(table), -2), np.zeros(len(table), dtype=np.int64)
        if name == "anchor":
            index, ticks = owners(recorded, parts, table["tick"], offsets)
        rows.append(np.column_stack([offsets, table["unix_ns"], table["monotonic_ns"], ticks, index]))
    if not rows:
        return Moments(_NONE, np.empty(0), _NONE, _NONE)
    found = np.concatenate(rows).astype(np.int64)
    found = found[np.argsort(found[:, 0])]
    # Anchors may be written late, so a small step back is not a restart.
    restarted = bool(len(decoded.tables["recording_resumed"])) or bool((np.diff(found[:, 2]) < -60e9).any())
    host = found[:, 1] if restarted else found[:, 2]
    return Moments(found[:, 0], (host - host[0]) / 1e9, found[:, 3], found[:, 4])


def _host_time(piece: Piece, number: int, moments: Moments, *, at_end: bool) -> float | None:
    """Host time (s) of one end of a piece: by its nearest anchor, or by a host frame just beyond it."""
    anchored = np.flatnonzero(moments.piece == number)
    if anchored.size:
        k = anchored[-1] if at_end else anchored[0]
        tick = piece.last_tick if at_end else piece.first_tick
        return float(moments.seconds[k]) + (tick - int(moments.tick[k])) / piece.tick_hz
    inside = (moments.offset >= piece.begin) & (moments.offset < piece.end) & (moments.piece == -2)
    beyond = moments.offset > piece.last_sample if at_end else moments.offset < piece.first_sample
    plain = np.flatnonzero(inside & beyond)
    if plain.size:
        return float(moments.seconds[plain[0] if at_end else plain[-1]])
    return None


def _placed(piece: Piece, before: Piece, number: int, recorded: WithMessages, moments: Moments) -> Piece:
    end = before.start + before.seconds
    host_end = _host_time(before, number - 1, moments, at_end=True)
    host_start = _host_time(piece, number, moments, at_end=False)
    silence = None if host_end is None or host_start is None else max(0.0, host_start - host_end)
    same_boot = _boot(recorded, before.end) == _boot(recorded, piece.end)
    if same_boot and piece.tick_hz == before.tick_hz:
        # The board kept running: its ticks measure the break, the host gives the number of wraps.
        modulo = ahead(piece.first_tick, before.last_tick)
        turns = 0 if silence is None else max(0, round((silence * piece.tick_hz - modulo) / WRAP))
        by_board = (modulo + turns * WRAP) / piece.tick_hz
        if silence is None or abs(by_board - silence) < _AGREE + 0.01 * silence:
            silence = by_board
    return replace(piece, start=end + (silence or 0.0), guessed=silence is None)


def _boot(recorded: WithMessages, end: int) -> int | None:
    before = int(np.searchsorted(recorded.decoded.offsets.get("description", np.empty(0)), end))
    return int(recorded.decoded.tables["description"]["boot_count"][before - 1]) if before else None


def place(ticks: NDArray[Any], offsets: NDArray[np.int64], parts: list[Piece]) -> NDArray[np.float64]:
    """Time (s) on the recording's axis of board frames with those ticks and offsets; NaN outside of all pieces."""
    out = np.full(len(ticks), np.nan)
    for piece in parts:
        here = (offsets >= piece.begin) & (offsets < piece.end)
        raw = np.asarray(ticks)[here].astype(np.int64)
        out[here] = piece.time(nearest(raw, piece.newest(offsets[here] + 1)))
    return out


def place_told(
    recorded: WithMessages, ticks: NDArray[Any], offsets: NDArray[np.int64], parts: list[Piece]
) -> NDArray[np.float64]:
    """Time (s) on the recording's axis of host frames with those ticks and offsets; see ``owners``.

    A frame with a tick that fits no piece has the time of the last board frame before it; NaN without any piece.
    """
    index, unwrapped = owners(recorded, parts, ticks, offsets)
    out = np.full(len(ticks), np.nan)
    own = np.searchsorted([piece.begin for piece in parts[1:]], offsets, side="right")
    for k, piece in enumerate(parts):
        mine = index == k
        out[mine] = piece.time(unwrapped[mine])
        lost = (index < 0) & (own == k)
        out[lost] = piece.time(piece.newest(offsets[lost]))
    return out


def wall_clock_start(recorded: WithMessages, parts: list[Piece]) -> float | None:
    """Seconds since 1970 at time 0 of the axis; None without an anchor in the first piece."""
    table, offsets = recorded.decoded.tables["anchor"], recorded.decoded.offsets.get("anchor")
    if offsets is None or not parts:
        return None
    index, ticks = owners(recorded, parts, table["tick"], offsets)
    mine = np.flatnonzero(index == 0)
    if not mine.size:
        return None
    return float(table["unix_ns"][mine[0]]) / 1e9 + (parts[0].first_tick - int(ticks[mine[0]])) / parts[0].tick_hz
