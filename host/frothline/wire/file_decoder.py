"""The whole-file decoder: all frames between the zeros of a file at once, grouped by length.

It gives the same messages and the same damage as the stream decoder for the same bytes; a test compares both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.wire.crc import CHECK_BYTES
from frothline.wire.decoder import (
    CHECK,
    LENGTH,
    LONGEST,
    REASONS,
    SHORTEST,
    STUFFING,
    TOO_LONG,
    TOO_SHORT,
    UNKNOWN,
    Damage,
    Tables,
    read_frame,
)
from frothline.wire.frame_groups import Unstuffing, check, good_row, unstuff_columns, windows
from frothline.wire.layout import BY_ID
from frothline.wire.losses import losses


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
    at_least : whether more frames of the board may be missing than were counted: in a long silence after which, and
        before which, it was heard for a few seconds only
    """

    bytes: int
    tables: Tables
    offsets: dict[str, NDArray[np.int64]]
    damage: NDArray[np.void]
    unknown: NDArray[np.void]
    losses: NDArray[np.void]
    tail: int
    doubled: int = 0
    at_least: bool = False

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
_WRONG_STUFFING, _WRONG_CHECK = 1, 2  # marks of frames while a group is decoded
_STEP = 1 << 19  # bytes that are searched for zeros together
_AT_ONCE = 1 << 20  # bytes of frames that are unstuffed together; they stay in the processor's cache


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
        later: list[NDArray[np.intp]] = []  # frames of unusual form, unstuffed together

        def take(rows: NDArray[np.uint8], at: Any) -> None:
            right = check(rows, length)
            if not right.all():
                wrong[at] = np.where(right, 0, _WRONG_CHECK)
            if len(rows):
                found[at] = np.ndarray((len(rows),), payload, rows, offset=1, strides=rows.strides[:1])

        at_once = max(1, _AT_ONCE // length)
        for first in range(0, offsets.size, at_once):
            here = slice(first, first + at_once)
            rows = windows(data, offsets[here], length)
            left = unstuff(rows)
            if left.size:
                later.append(left + first)
                rows[left] = good_row(length, rows.shape[1])
            take(rows, here)
            if later and (sum(map(len, later)) >= at_once or here.stop >= offsets.size):
                at = np.concatenate(later)
                rows = windows(data, offsets[at], length)
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
    missing, doubled, at_least = losses(tables)
    return Decoded(array.size, tables, tables.offsets, damage, unknown, missing, tail, doubled, at_least)


def decode_tables(data: bytes | bytearray | memoryview) -> Tables:
    """The messages of ``decode_all`` alone; what is damaged or missing is not counted."""
    collector = _Collector()
    _collect(np.frombuffer(data, dtype=np.uint8), collector)
    return collector.tables()


def _collect(array: NDArray[np.uint8], collector: _Collector) -> int:
    """Put all frames into the collector; returns the length of the tail."""
    stretches, tail = _stretches(array, collector)
    numbers = [np.bincount(lengths, minlength=LONGEST + 1) for _, _, lengths in stretches]
    left = np.zeros(LONGEST + 1, dtype=np.int64)  # places that are not filled in, by length
    for of_step in numbers:
        left += of_step
    offsets = {length: np.empty(left[length], dtype=np.int64) for length in np.flatnonzero(left).tolist()}
    while stretches:  # emptied, so that the places are not in memory twice
        first, starts, lengths = stretches.pop()
        for length in np.flatnonzero(numbers.pop()).tolist():
            mine = starts[lengths == length]
            np.add(mine, first, out=offsets[length][left[length] - mine.size : left[length]])
            left[length] -= mine.size
    for length in list(offsets):
        collector.group(array, offsets.pop(length), length)
    return tail


_Stretches = list[tuple[int, NDArray[np.int32], NDArray[np.uint8]]]


def _stretches(data: NDArray[np.uint8], collector: _Collector) -> tuple[_Stretches, int]:
    """The stretches between zeros that can be frames, and the length of the tail.

    A list with an item for each step: the offset from which the starts count, the starts, the lengths.
    """
    found: _Stretches = []

    def take(first: int, begins: NDArray[np.int64], sizes: NDArray[np.int64]) -> None:
        if int(sizes.min()) < SHORTEST or int(sizes.max()) > LONGEST:
            short, long = sizes < SHORTEST, sizes > LONGEST
            padding = sizes == 0  # zeros between frames
            collector.bad(begins[short & ~padding] + first, sizes[short & ~padding], TOO_SHORT)
            collector.bad(begins[long] + first, sizes[long], TOO_LONG)
            begins, sizes = begins[~(short | long)], sizes[~(short | long)]
        found.append((first, begins.astype(np.int32), sizes.astype(np.uint8)))

    begin = 0  # of the first stretch that is not closed
    for first in range(0, data.size, _STEP):  # by steps, because the places of zeros take eight times their size
        zeros = np.flatnonzero(data[first : first + _STEP] == 0)
        if zeros.size:
            begins = np.empty_like(zeros)
            begins[0] = begin - first
            np.add(zeros[:-1], 1, out=begins[1:])
            take(first, begins, zeros - begins)
            begin = first + int(zeros[-1]) + 1
    tail = data.size - begin
    if tail and not isinstance(read_frame(data[begin:][: LONGEST + 1].tobytes()), str):
        take(begin, np.zeros(1, dtype=np.int64), np.array([tail]))
        tail = 0
    return found, tail
