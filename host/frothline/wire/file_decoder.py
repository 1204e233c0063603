"""The whole-file decoder: all frames between the zeros of a file at once, grouped by length.

It gives the same messages and the same damage as the stream decoder for the same bytes; a test compares both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.wire.crc import CHECK_BYTES
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
from frothline.wire.frame_count import LONG, TURN, FrameCount, begins_a_boot
from frothline.wire.frame_groups import Unstuffing, check, good_row, unstuff_columns, windows
from frothline.wire.layout import BY_ID, MESSAGES

_PAUSE = 600_000_000_000  # ns between anchors; they come every 10 s, and the board's clock wraps after 2,147 s


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
_WRONG_STUFFING, _WRONG_CHECK = 1, 2  # marks of frames while a group is decoded
_STEP = 1 << 18  # bytes that are searched for zeros together
_AT_ONCE = 8192  # frames that are unstuffed together; they stay in the processor's cache


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
        """Frames of one stuffed length, in order."""
        payload = np.dtype(f"V{length - 1 - CHECK_BYTES}")
        found = np.empty(offsets.size, dtype=payload)
        wrong = np.zeros(offsets.size, dtype=np.uint8)
        unstuff = Unstuffing(length)
        later: list[tuple[NDArray[np.intp], NDArray[np.uint8]]] = []  # frames of unusual form, unstuffed together

        def take(rows: NDArray[np.uint8], at: Any) -> None:
            wrong[at] = np.where(check(rows, length), 0, _WRONG_CHECK)
            if len(rows):
                found[at] = np.ndarray((len(rows),), payload, rows, offset=1, strides=rows.strides[:1])

        for first in range(0, offsets.size, _AT_ONCE):
            here = slice(first, first + _AT_ONCE)
            rows = windows(data, offsets[here], length)
            left = unstuff(rows)
            later.append((left + first, rows[left]))
            rows[left] = good_row(length, rows.shape[1])
            take(rows, here)
            if sum(len(one) for one, _ in later) >= _AT_ONCE or here.stop >= offsets.size:
                at, rows = np.concatenate([one for one, _ in later]), np.concatenate([one for _, one in later])
                good = unstuff_columns(rows, length)
                wrong[at[~good]] = _WRONG_STUFFING
                take(rows[good], at[good])
                later = []
        if wrong.any():
            self.bad(offsets[wrong == _WRONG_STUFFING], length, STUFFING)
            self.bad(offsets[wrong == _WRONG_CHECK], length, CHECK)
            offsets, found = offsets[wrong == 0], found[wrong == 0]
        self.sort(found.view(np.uint8).reshape(found.size, payload.itemsize), offsets, length)

    def sort(self, payloads: NDArray[np.uint8], offsets: NDArray[np.int64], length: int) -> None:
        """Put checked payloads of one length into the tables of their messages."""
        ids = np.ascontiguousarray(payloads[:, 0])
        numbers = ids[:1].tolist() if (ids == ids[:1]).all() else np.unique(ids).tolist()
        for number in numbers:
            message = BY_ID.get(number)
            mine = slice(None) if len(numbers) == 1 else ids == number
            if message is None:
                rows = np.empty(offsets[mine].size, dtype=_UNKNOWN)
                rows["offset"], rows["length"], rows["id"] = offsets[mine], length, number
                self.unknown.append(rows)
            elif payloads.shape[1] < message.size:
                self.bad(offsets[mine], length, LENGTH)
            else:
                table = np.ascontiguousarray(payloads[mine, : message.size]).view(message.dtype)[:, 0]
                self.records.setdefault(number, []).append((offsets[mine], table))

    def tables(self) -> Tables:
        """The messages in the order of the file."""
        tables = Tables()
        for number in sorted(self.records):
            pieces, name = self.records[number], BY_ID[number].name
            if len(pieces) == 1:
                tables.offsets[name], tables[name] = pieces[0]
                continue
            where = np.concatenate([piece[0] for piece in pieces])
            order = np.argsort(where, kind="stable")
            tables[name], tables.offsets[name] = np.concatenate([piece[1] for piece in pieces])[order], where[order]
        return tables


def _joined(pieces: list[NDArray[np.void]], dtype: np.dtype[np.void]) -> NDArray[np.void]:
    """The pieces in the order of the file; ``pieces`` is emptied, so that a file of damage is not in memory twice."""
    rows = np.empty(sum(piece.size for piece in pieces), dtype=dtype)
    end = rows.size
    while pieces:
        piece = pieces.pop()
        rows[end - piece.size : end] = piece
        end -= piece.size
    offsets = rows["offset"]
    return rows if (offsets[1:] >= offsets[:-1]).all() else rows[np.argsort(offsets, kind="stable")]


def decode_all(data: bytes | bytearray | memoryview) -> Decoded:
    """Decode ``data``. A last frame without its closing zero is read; anything else there is in ``Decoded.tail``."""
    array = np.frombuffer(data, dtype=np.uint8)
    collector = _Collector()
    tail = _collect(array, collector)
    tables = collector.tables()
    damage, unknown = _joined(collector.damage, _DAMAGE), _joined(collector.unknown, _UNKNOWN)
    losses, doubled = _losses(tables)
    return Decoded(array.size, tables, tables.offsets, damage, unknown, losses, tail, doubled)


def decode_tables(data: bytes | bytearray | memoryview) -> Tables:
    """The messages of ``decode_all`` alone; what is damaged or missing is not counted."""
    collector = _Collector()
    _collect(np.frombuffer(data, dtype=np.uint8), collector)
    return collector.tables()


def _collect(array: NDArray[np.uint8], collector: _Collector) -> int:
    """Put all frames into the collector; returns the length of the tail."""
    starts, lengths, tail = _stretches(array, collector)
    for length in np.flatnonzero(np.bincount(lengths)).tolist():
        collector.group(array, starts[lengths == length], length)
    return tail


def _stretches(data: NDArray[np.uint8], collector: _Collector) -> tuple[NDArray[np.int64], NDArray[np.uint8], int]:
    """Starts and lengths of the stretches between zeros that can be frames, and the length of the tail."""
    starts, lengths = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=np.uint8)]

    def take(begins: NDArray[np.int64], sizes: NDArray[np.int64]) -> None:
        short, long = sizes < SHORTEST, sizes > LONGEST
        if (unlike := short | long).any():
            short &= sizes > 0  # zeros between frames are padding
            collector.bad(begins[short], sizes[short], TOO_SHORT)
            collector.bad(begins[long], sizes[long], TOO_LONG)
            begins, sizes = begins[~unlike], sizes[~unlike]
        starts.append(begins)
        lengths.append(sizes.astype(np.uint8))

    begin = 0
    for first in range(0, data.size, _STEP):  # by steps, because the places of zeros take eight times their size
        zeros = np.flatnonzero(data[first : first + _STEP] == 0)
        if zeros.size:
            zeros += first
            begins = np.concatenate([[begin], zeros[:-1] + 1])
            take(begins, zeros - begins)
            begin = int(zeros[-1]) + 1
    tail = data.size - begin
    if tail and not isinstance(read_frame(data[begin:][: LONGEST + 1].tobytes()), str):
        take(np.array([begin]), np.array([tail]))
        tail = 0
    return np.concatenate(starts), np.concatenate(lengths), tail


def _losses(tables: Tables) -> tuple[NDArray[np.void], int]:
    """The rule of SequenceWatch on whole arrays: losses, and the number of frames received twice."""
    board = [name for name in tables if MESSAGES[name].origin != "host"]
    if not board:
        return np.empty(0, dtype=_LOSS), 0
    none = np.empty(0, dtype=np.int64)
    longest = max(board, key=lambda name: len(tables[name]))
    shorter = [name for name in board if name != longest]
    behind = np.concatenate([none, *(tables.offsets[name] for name in shorter)])
    order = np.argsort(behind, kind="stable")
    places = np.searchsorted(tables.offsets[longest], behind[order])

    def merged(column: Callable[[str], NDArray[Any]]) -> NDArray[Any]:
        """A column of all messages of the board in the order of their frames."""
        if not shorter:
            return np.ascontiguousarray(column(longest))
        return np.insert(column(longest), places, np.concatenate([column(name) for name in shorter])[order])

    where = merged(lambda name: tables.offsets[name])
    sequence = merged(lambda name: tables[name]["sequence"])
    ticked = merged(lambda name: np.full(len(tables[name]), name in TICKED))
    tick = merged(lambda name: tables[name]["tick"] if name in TICKED else np.zeros(len(tables[name]), dtype=np.uint32))
    repeatable = merged(lambda name: np.full(len(tables[name]), name in REPEATED))
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
    if "description" in tables.offsets:
        first = int(np.searchsorted(where, tables.offsets["description"][0]))
        row = tables["description"][0]
        if (
            first
            and counted[first - 1]
            and begins_a_boot(int(row["sequence"]), int(row["tick"]), int(sequence[first - 1]))
        ):
            changed["boot_count"] = np.concatenate([[where[first]], changed["boot_count"]])
    if not counted.all():
        where, sequence, ticked, tick = where[counted], sequence[counted], ticked[counted], tick[counted]
    starts = np.unique(np.searchsorted(where, np.concatenate([[-1], restarts, changed["boot_count"]])))
    rates = np.searchsorted(where, changed["rate"])
    anchors, before_frame = _telling_anchors(tables, where, restarts)
    found: list[tuple[int, int]] = []
    doubled = 0
    for begin, end in pairwise([*starts[starts < where.size].tolist(), where.size]):
        mine = rates[(rates >= begin) & (rates < end)] - begin
        part = slice(begin, end)
        told = (before_frame > begin) & (before_frame <= end)
        hints = _Hints(set(mine.tolist()), anchors[told], before_frame[told] - begin)
        for k, missing, twice in _uneven(sequence[part], ticked[part], tick[part], hints):
            doubled += twice
            if missing:
                found.append((int(where[begin + k]), missing))
    return np.array(sorted(found), dtype=_LOSS) if found else np.empty(0, dtype=_LOSS), doubled


def _telling_anchors(
    tables: Tables, where: NDArray[np.int64], restarts: NDArray[np.int64]
) -> tuple[NDArray[np.void], NDArray[np.int64]]:
    """The anchors that can change a count, and the index of the board's frame that follows each of them.

    Without a pause between two anchors none can. An anchor between the restart of a count and its first frame says
    nothing.
    """
    anchors = tables["anchor"]
    if not anchors.size or np.abs(np.diff(anchors["unix_ns"])).max(initial=0) < _PAUSE:
        return anchors[:0], np.empty(0, dtype=np.int64)
    offsets = tables.offsets["anchor"]
    follows = np.searchsorted(where, offsets)
    last = np.where(follows > 0, where[np.maximum(follows - 1, 0)], -1)
    telling = np.searchsorted(restarts, offsets) == np.searchsorted(restarts, last)
    return anchors[telling], follows[telling]


@dataclass(frozen=True, slots=True)
class _Hints:
    """What the description and the computer's clock say about the frames of one count."""

    new_rates: set[int]  # indices of frames from which another rate holds
    anchors: NDArray[np.void]
    follows: NDArray[np.int64]  # index of the frame after each anchor


def _uneven(
    sequence: NDArray[np.uint16], ticked: NDArray[np.bool_], tick: NDArray[np.uint32], hints: _Hints
) -> Iterator[tuple[int, int, int]]:
    """(index, frames missing, frames doubled) where one of them is not 0, in one count; ``ticked`` where a frame has a
    tick.
    """
    new_rates = hints.new_rates
    with_tick = np.flatnonzero(ticked)
    apart = np.diff(tick[with_tick]).view(np.int32)  # modulo 2**32, the shorter way round
    odd = np.flatnonzero(np.diff(sequence) != 1) + 1  # modulo 2**16
    silent = with_tick[1:][(apart > LONG) | (apart < -LONG)]
    odd = np.unique(np.concatenate([odd, silent, sorted(new_rates), hints.follows, [sequence.size]]).astype(np.int64))
    count, k, anchor, step = FrameCount(), 0, 0, 0
    while True:
        while anchor < hints.follows.size and hints.follows[anchor] == k:
            row = hints.anchors[anchor]
            missing, twice = count.anchor(int(row["tick"]), int(row["unix_ns"]), int(row["monotonic_ns"]))
            if missing or twice:
                yield step, missing, twice
            anchor += 1
        if k == sequence.size:
            return
        ahead = int(odd[np.searchsorted(odd, k)])
        if ahead > k and count.settled:
            low, high = np.searchsorted(with_tick, [k, ahead])
            last = int(with_tick[high - 1]) if high > low else None
            count.skip(
                ahead - k,
                int(sequence[ahead - 1]),
                None if last is None else last - k + 1,
                0 if last is None else int(tick[last]),
                int(apart[low - 1 : high - 1].sum(dtype=np.int64)),
            )
            k = ahead
            continue
        if k in new_rates:
            count.new_rate()
        missing, twice = count.feed(int(sequence[k]), int(tick[k]) if ticked[k] else None)
        if missing or twice:
            yield k, missing, twice
        if k and int(sequence[k]) != (int(sequence[k - 1]) + 1) % TURN:
            step = k
        k += 1
