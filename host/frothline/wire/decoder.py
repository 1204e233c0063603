"""The stream decoder: messages and damage from received bytes.

A frame is accepted if it can be unstuffed, its check is right, its id is known and it is not shorter than the layout. A
longer one is accepted: a newer sender has appended fields. Damaged input never raises: damage is counted and reported
with its offset. ``frothline.wire.file_decoder`` reads whole files by the same definition.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.wire import cobs
from frothline.wire.crc import CHECK_BYTES, crc32
from frothline.wire.frame_count import FrameCount, begins_a_boot
from frothline.wire.layout import AFTER_DESCRIPTION, BY_ID, HEADER, MESSAGES, WIRE, Message

LONGEST = WIRE.largest_payload + CHECK_BYTES + 1  # stuffed, without the closing zero
SHORTEST = HEADER.itemsize + CHECK_BYTES + 1

# Reasons, in the order of the checks.
TOO_SHORT = "too-short"
TOO_LONG = "too-long"
STUFFING = "cobs"
CHECK = "check"
UNKNOWN = "unknown-id"
LENGTH = "length"
REASONS = (TOO_SHORT, TOO_LONG, STUFFING, CHECK, UNKNOWN, LENGTH)

COUNT_RESETS = ("port", "recording_opened", "recording_resumed")  # host frames that start a new count
REPEATED = ("description", *AFTER_DESCRIPTION)  # repeated in the head of a segment


class Tables(dict[str, NDArray[np.void]]):
    """Structured arrays by message name; a known message without rows reads as an empty array.

    ``offsets``: by name, offset of each row's frame in the stream, (n,) int64. They give the order of frames of
    different tables, which ticks and sequence numbers alone do not. Empty if the tables were not made by a decoder.
    """

    def __init__(
        self, tables: Mapping[str, NDArray[Any]] | None = None, offsets: Mapping[str, NDArray[np.int64]] | None = None
    ) -> None:
        super().__init__(tables or {})
        self.offsets: dict[str, NDArray[np.int64]] = dict(offsets or {})

    def __missing__(self, name: str) -> NDArray[np.void]:
        return np.empty(0, dtype=MESSAGES[name].dtype)

    @property
    def ordered(self) -> bool:
        """True if the order of all frames is known."""
        return all(name in self.offsets for name in self)

    def between(self, begin: int, end: int) -> Tables:
        """The rows whose frames start in ``begin`` (inclusive) to ``end`` (exclusive); tables without any are
        left out.
        """
        rows, offsets = {}, {}
        for name, where in self.offsets.items():
            first, last = np.searchsorted(where, [begin, end])
            if first < last:
                rows[name], offsets[name] = self[name][first:last], where[first:last]
        return Tables(rows, offsets)


@dataclass(frozen=True, slots=True)
class Received:
    """One message: its layout, its values, and the offset of its frame in the stream."""

    message: Message
    record: np.void
    offset: int
    raw: bytes  # the frame with its closing zero

    @property
    def name(self) -> str:
        return self.message.name

    @property
    def sequence(self) -> int:
        return int(self.record["sequence"])


@dataclass(frozen=True, slots=True)
class Damage:
    """A stretch between two delimiters without a message; ``reason`` is one of REASONS."""

    offset: int
    length: int  # bytes, without the closing zero
    reason: str


@dataclass
class Counts:
    """Counts of a stream so far. ``unknown``: complete frames with an id that is not in the layouts."""

    bytes: int = 0
    frames: int = 0
    damaged: int = 0
    damaged_bytes: int = 0
    unknown: int = 0
    lost: int = 0  # by the sequence numbers and ticks of the board
    doubled: int = 0  # frames received twice
    reasons: dict[str, int] = field(default_factory=dict)


# Messages whose ticks never decrease within a boot. Descriptions are not included: a segment's head repeats an older
# one.
TICKED = ("line", "slow", "ambient", "scale", "mark", "health")


class SequenceWatch:
    """Numbers of missing and repeated frames of the board, see ``frame_count``.

    Restarts where a new count begins: a description with another boot count, a port that was lost or came back, a new
    segment, whose head repeats an older description. Host frames have their own count and are ignored.
    """

    def __init__(self) -> None:
        self._count = FrameCount()
        self._boot: int | None = None
        self._line_rate: int | None = None
        self._in_head = False

    @property
    def at_least(self) -> bool:
        """Whether more frames may be missing than were counted; see ``FrameCount``."""
        return self._count.at_least

    def restart(self) -> None:
        self._count.restart()

    def anchor(self, tick: int, unix_ns: int, monotonic_ns: int) -> tuple[int, int]:
        """Frames lost and repeated besides those of ``look``, from the arrival of one frame; see ``FrameCount``."""
        return self._count.anchor(tick, unix_ns, monotonic_ns)

    def look(self, message: Message, record: np.void) -> tuple[int, int]:
        """(frames lost between the previous frame and this one, frames found to be repeated)."""
        if message.origin == "host":
            if message.name in COUNT_RESETS:
                self.restart()
                self._in_head = message.name == "recording_opened"
            if message.name == "anchor":
                return self.anchor(*(int(record[name]) for name in ("tick", "unix_ns", "monotonic_ns")))
            return 0, 0
        if message.name == "description":
            boot, rate = int(record["boot_count"]), int(record["rate"])
            before = self._count.sequence
            if self._boot is None and before is not None:  # an earlier description was damaged, or never came
                again = begins_a_boot(int(record["sequence"]), int(record["tick"]), before)
            else:
                again = self._boot is not None and boot != self._boot
            if again:
                self.restart()
            if self._line_rate is not None and rate != self._line_rate:
                self._count.new_rate()
            self._boot, self._line_rate = boot, rate
        self._in_head = self._in_head and message.name in REPEATED
        if self._in_head:
            return 0, 0
        return self._count.feed(int(record["sequence"]), int(record["tick"]) if message.name in TICKED else None)


def read_frame(stuffed: bytes) -> tuple[Message, np.void] | str:
    """Message and values of the bytes between two delimiters, or the reason for a failure."""
    if len(stuffed) < SHORTEST:
        return TOO_SHORT
    if len(stuffed) > LONGEST:
        return TOO_LONG
    try:
        text = cobs.decode(stuffed)
    except cobs.Malformed:
        return STUFFING
    payload = text[:-CHECK_BYTES]
    if crc32(payload) != int.from_bytes(text[-CHECK_BYTES:], "little"):
        return CHECK
    message = BY_ID.get(payload[0])
    if message is None:
        return UNKNOWN
    if len(payload) < message.size:
        return LENGTH
    return message, np.frombuffer(payload, dtype=message.dtype, count=1)[0]


class StreamDecoder:
    """Decoder from bytes to messages; after damaged bytes it resynchronises at the next zero byte."""

    def __init__(self) -> None:
        self.counts = Counts()
        self._pending = bytearray()
        self._discarded = 0  # bytes of an overlong stretch that were discarded
        self._offset = 0  # of the first pending byte
        self._watch = SequenceWatch()

    @property
    def at_least(self) -> bool:
        """Whether more frames of the board may be missing than ``counts.lost``: in a long silence after which, and
        before which, it was heard for a few seconds only.
        """
        return self._watch.at_least

    @property
    def pending(self) -> int:
        """Number of bytes since the last zero."""
        return self._discarded + len(self._pending)

    def feed(self, chunk: bytes | bytearray | memoryview) -> list[Received | Damage]:
        """Messages and damage completed by these bytes, in the order of the stream."""
        self.counts.bytes += len(chunk)
        first, *rest = bytes(chunk).split(b"\0")
        self._keep(first)
        out: list[Received | Damage] = []
        for piece in rest:
            if (event := self._close()) is not None:
                out.append(event)
            self._keep(piece)
        return out

    def anchor(self, tick: int, unix_ns: int, monotonic_ns: int) -> None:
        """The arrival of the last frame with a tick: after a sleep of the computer it tells how much is missing.

        A recording holds such anchors as frames of its own, which are read in the same way.
        """
        lost, doubled = self._watch.anchor(tick, unix_ns, monotonic_ns)
        self.counts.lost += lost
        self.counts.doubled += doubled

    def finish(self) -> list[Received | Damage]:
        """At the end of a stream: a last frame without its closing zero is read; any other rest is damage."""
        event = self._close()
        self._offset -= 1  # there was no zero
        return [] if event is None else [event]

    def _keep(self, piece: bytes) -> None:
        room = LONGEST + 1 - len(self._pending)
        self._pending += piece[:room]
        self._discarded += max(0, len(piece) - room)

    def _close(self) -> Received | Damage | None:
        stuffed, offset, length = bytes(self._pending), self._offset, self.pending
        self._pending.clear()
        self._discarded = 0
        self._offset += length + 1
        if not length:  # zeros between frames are padding
            return None
        found = read_frame(stuffed)
        counts = self.counts
        if isinstance(found, str):
            counts.reasons[found] = counts.reasons.get(found, 0) + 1
            if found == UNKNOWN:
                counts.unknown += 1
            else:
                counts.damaged += 1
                counts.damaged_bytes += length
            return Damage(offset, length, found)
        counts.frames += 1
        lost, doubled = self._watch.look(*found)
        counts.lost += lost
        counts.doubled += doubled
        return Received(*found, offset, stuffed + b"\0")


def gather(received: Iterable[Received | Damage]) -> Tables:
    """The messages of a chunk as arrays, in the form of ``decode_all``; damage is ignored."""
    pieces: dict[str, list[bytes]] = {}
    offsets: dict[str, list[int]] = {}
    for event in received:
        if isinstance(event, Received):
            pieces.setdefault(event.message.name, []).append(event.record.tobytes())
            offsets.setdefault(event.message.name, []).append(event.offset)
    return Tables(
        {name: np.frombuffer(b"".join(raw), dtype=MESSAGES[name].dtype) for name, raw in pieces.items()},
        {name: np.array(where, dtype=np.int64) for name, where in offsets.items()},
    )
