"""The whole-file decoder: all frames between the zeros of a file at once, grouped by length.

It gives the same messages and the same damage as the stream decoder for the same bytes; a test compares both.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.wire.crc import CHECK_BYTES, crc32_columns
from frothline.wire.decoder import (
    CHECK,
    COUNT_RESETS,
    LENGTH,
    LONGEST,
    REASONS,
    REPEATED,
    SHORTEST,
    STUFFING,
    TICKED,
    TOO_LONG,
    TOO_SHORT,
    UNKNOWN,
    Damage,
    Tables,
    read_frame,
)
from frothline.wire.frame_count import LONG, TURN, FrameCount
from frothline.wire.layout import BY_ID, MESSAGES

_KNOWN_IDS = np.isin(np.arange(256), list(BY_ID))
_SIZES = np.array([BY_ID[number].size if number in BY_ID else 0 for number in range(256)])


@dataclass(frozen=True)
class Decoded:
    """Contents of a recording or of a part of one.

    tables : one structured array per message
    offsets : start of each of its frames, (n,) int64
    damage : structured (offset, length, reason code into REASONS), without unknown messages
    unknown : structured (offset, length, id)
    losses : structured (offset of the first frame after the loss, missing frames)
    tail : bytes at the end that are not a complete frame
    doubled : frames of the board that were received twice
    """

    bytes: int
    tables: Tables
    offsets: dict[str, NDArray[np.int64]]
    damage: NDArray[np.void]
    unknown: NDArray[np.void]
    losses: NDArray[np.void]
    tail: int
    doubled: int = 0

    @property
    def frames(self) -> int:
        """Number of messages read."""
        return sum(len(table) for table in self.tables.values())

    @property
    def lost(self) -> int:
        """Frames of the board that were not received, by their sequence numbers and ticks."""
        return int(self.losses["missing"].sum())

    def events(self) -> list[Damage]:
        """The damage as the stream decoder returns it, without the tail."""
        found = [Damage(int(row["offset"]), int(row["length"]), REASONS[row["reason"]]) for row in self.damage]
        found += [Damage(int(row["offset"]), int(row["length"]), UNKNOWN) for row in self.unknown]
        return sorted(found, key=lambda damage: damage.offset)


_DAMAGE = np.dtype([("offset", "<i8"), ("length", "<i8"), ("reason", "u1")])
_UNKNOWN = np.dtype([("offset", "<i8"), ("length", "<i8"), ("id", "u1")])
_LOSS = np.dtype([("offset", "<i8"), ("missing", "<i8")])
_HALF = 1 << 31  # half the range of the ticks
_AT_ONCE = 32768  # frames; keeps the working set in the processor's cache


def _unstuff(rows: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Replace the code bytes of n frames of equal length by zeros; returns which frames are well-formed.

    ``rows`` (n, length) is changed in place: its columns from 1 on then contain the text.
    """
    n, length = rows.shape
    flat = rows.reshape(-1)
    well_formed = np.zeros(n, dtype=np.bool_)
    walking = np.arange(n, dtype=np.intp)
    at = walking * length
    ends = at + length
    at = at + flat[at]
    while walking.size:
        well_formed[walking[at == ends]] = True
        inside = at < ends
        walking, at, ends = walking[inside], at[inside], ends[inside]
        step = flat[at]
        flat[at] = 0
        at = at + step
    return well_formed


class _Collector:
    def __init__(self) -> None:
        self.records: dict[int, list[tuple[NDArray[np.int64], NDArray[np.void]]]] = {}
        self.damage: list[NDArray[np.void]] = []
        self.unknown: list[NDArray[np.void]] = []

    def bad(self, offsets: NDArray[np.int64], lengths: Any, reason: str) -> None:
        rows = np.empty(offsets.size, dtype=_DAMAGE)
        rows["offset"], rows["length"], rows["reason"] = offsets, lengths, REASONS.index(reason)
        self.damage.append(rows)

    def group(self, data: NDArray[np.uint8], offsets: NDArray[np.int64], length: int) -> None:
        """Frames of one stuffed length."""
        rows = np.lib.stride_tricks.sliding_window_view(data, length)[offsets]
        good = _unstuff(rows)
        if not good.all():
            self.bad(offsets[~good], length, STUFFING)
            rows, offsets = rows[good], offsets[good]
        columns = np.ascontiguousarray(rows[:, 1:].T)
        sent = columns[-CHECK_BYTES].astype(np.uint32)
        for k in range(1, CHECK_BYTES):
            sent |= columns[k - CHECK_BYTES].astype(np.uint32) << np.uint32(8 * k)
        good = crc32_columns(columns[:-CHECK_BYTES]) == sent
        if not good.all():
            self.bad(offsets[~good], length, CHECK)
            rows, offsets = rows[good], offsets[good]
        self.sort(rows[:, 1:-CHECK_BYTES], offsets, length)

    def sort(self, payloads: NDArray[np.uint8], offsets: NDArray[np.int64], length: int) -> None:
        ids = payloads[:, 0]
        strange = ~_KNOWN_IDS[ids]
        if strange.any():
            rows = np.empty(np.count_nonzero(strange), dtype=_UNKNOWN)
            rows["offset"], rows["length"], rows["id"] = offsets[strange], length, ids[strange]
            self.unknown.append(rows)
        short = ~strange & (payloads.shape[1] < _SIZES[ids])
        if short.any():
            self.bad(offsets[short], length, LENGTH)
        good = ~strange & ~short
        for number in np.unique(ids[good]):
            mine = good & (ids == number)
            message = BY_ID[int(number)]
            table = np.ascontiguousarray(payloads[mine, : message.size]).view(message.dtype)[:, 0]
            self.records.setdefault(int(number), []).append((offsets[mine], table))


def _joined(pieces: list[NDArray[np.void]], dtype: np.dtype[np.void]) -> NDArray[np.void]:
    rows = np.concatenate(pieces) if pieces else np.empty(0, dtype=dtype)
    return rows[np.argsort(rows["offset"], kind="stable")]


def decode_all(data: bytes | bytearray | memoryview) -> Decoded:
    """Decode ``data``. A last frame without its closing zero is read; anything else there is in ``Decoded.tail``."""
    array = np.frombuffer(data, dtype=np.uint8)
    # Only stretches of other bytes are kept: of a file of zeros alone the places of all zeros would take 30 times its
    # size.
    zero = array == 0
    after_zero = np.concatenate([[True], zero[:-1]]) if array.size else zero
    starts = np.flatnonzero(~zero & after_zero)
    lengths = np.concatenate([np.flatnonzero(zero & ~after_zero), [array.size]])[: starts.size] - starts
    tail = int(lengths[-1]) if array.size and not zero[-1] else 0
    del zero, after_zero
    if tail and isinstance(read_frame(array[starts[-1] :][: LONGEST + 1].tobytes()), str):
        starts, lengths = starts[:-1], lengths[:-1]
    else:
        tail = 0
    collector = _Collector()
    short, long = (lengths > 0) & (lengths < SHORTEST), lengths > LONGEST
    collector.bad(starts[short], lengths[short], TOO_SHORT)
    collector.bad(starts[long], lengths[long], TOO_LONG)
    plausible = ~short & ~long & (lengths > 0)
    starts, lengths = starts[plausible], lengths[plausible]
    for length in np.unique(lengths):
        same = starts[lengths == length]
        for first in range(0, same.size, _AT_ONCE):
            collector.group(array, same[first : first + _AT_ONCE], int(length))
    tables = Tables()
    offsets = tables.offsets
    for number in sorted(collector.records):
        where = np.concatenate([piece[0] for piece in collector.records[number]])
        table = np.concatenate([piece[1] for piece in collector.records[number]])
        order = np.argsort(where, kind="stable")
        tables[BY_ID[number].name], offsets[BY_ID[number].name] = table[order], where[order]
    damage, unknown = _joined(collector.damage, _DAMAGE), _joined(collector.unknown, _UNKNOWN)
    losses, doubled = _losses(tables)
    return Decoded(array.size, tables, offsets, damage, unknown, losses, tail, doubled)


def _losses(tables: Tables) -> tuple[NDArray[np.void], int]:
    """The rule of SequenceWatch on whole arrays: losses, and the number of frames received twice."""
    board = [name for name in tables if MESSAGES[name].origin != "host"]
    if not board:
        return np.empty(0, dtype=_LOSS), 0
    none = np.empty(0, dtype=np.int64)
    where = np.concatenate([tables.offsets[name] for name in board])
    sequence = np.concatenate([tables[name]["sequence"] for name in board]).astype(np.int64)
    tick = np.concatenate(
        [tables[name]["tick"].astype(np.int64) if name in TICKED else np.full(len(tables[name]), -1) for name in board]
    )
    repeatable = np.concatenate([np.full(len(tables[name]), name in REPEATED) for name in board])
    order = np.argsort(where)
    where, sequence, tick, repeatable = where[order], sequence[order], tick[order], repeatable[order]
    counted = np.ones(where.size, dtype=np.bool_)
    cuts = [tables.offsets[name] for name in COUNT_RESETS if name in tables.offsets]
    restarts = np.sort(np.concatenate(cuts)) if cuts else none
    for head in tables.offsets.get("recording_opened", none):
        first = int(np.searchsorted(where, head))
        later = restarts[np.searchsorted(restarts, head, side="right") :]
        end = int(np.searchsorted(where, later[0])) if later.size else where.size
        others = np.flatnonzero(~repeatable[first:end])
        counted[first : first + int(others[0]) if others.size else end] = False
    described = tables.offsets.get("description", none)[1:]
    changed = {
        name: described[np.diff(tables["description"][name].astype(np.int64)) != 0] if described.size else none
        for name in ("boot_count", "rate")
    }
    where, sequence, tick = where[counted], sequence[counted], tick[counted]
    starts = np.unique(np.searchsorted(where, np.concatenate([[-1], restarts, changed["boot_count"]])))
    rates = np.searchsorted(where, changed["rate"])
    found: list[tuple[int, int]] = []
    doubled = 0
    for begin, end in pairwise([*starts[starts < where.size].tolist(), where.size]):
        mine = rates[(rates >= begin) & (rates < end)] - begin
        for k, missing, twice in _uneven(sequence[begin:end], tick[begin:end], set(mine.tolist())):
            doubled += twice
            if missing:
                found.append((int(where[begin + k]), missing))
    return np.array(found, dtype=_LOSS) if found else np.empty(0, dtype=_LOSS), doubled


def _uneven(
    sequence: NDArray[np.int64], tick: NDArray[np.int64], new_rates: set[int]
) -> Iterator[tuple[int, int, int]]:
    """(index, frames missing, frames doubled) where one of them is not 0, in one count; ``tick`` -1 without one."""
    with_tick = np.flatnonzero(tick >= 0)
    apart = (np.diff(tick[with_tick]) + _HALF) % (2 * _HALF) - _HALF
    since_first = np.concatenate([[0], np.cumsum(apart)])
    odd = np.flatnonzero(np.diff(sequence) % TURN != 1) + 1
    odd = np.concatenate([odd, with_tick[1:][np.abs(apart) > LONG], sorted(new_rates)]).astype(np.int64)
    odd = np.unique(np.concatenate([odd, [sequence.size]]))
    count, k = FrameCount(), 0
    while k < sequence.size:
        ahead = int(odd[np.searchsorted(odd, k)])
        if ahead > k and count.settled:
            low, high = np.searchsorted(with_tick, [k, ahead])
            last = int(with_tick[high - 1]) if high > low else None
            moved = int(since_first[high - 1] - since_first[low - 1]) if high > low else 0
            count.skip(
                ahead - k,
                int(sequence[ahead - 1]),
                None if last is None else last - k + 1,
                0 if last is None else int(tick[last]),
                moved,
            )
            k = ahead
            continue
        if k in new_rates:
            count.new_rate()
        missing, twice = count.feed(int(sequence[k]), int(tick[k]) if tick[k] >= 0 else None)
        if missing or twice:
            yield k, missing, twice
        k += 1
