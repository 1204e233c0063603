"""A long recording read a part at a time: first what its time axis needs, then its messages in batches.

``outlined`` reads all parts and keeps every message but most of the line messages. What is kept gives the same pieces
(``time_axis``), descriptions and conversion as the whole recording: line messages at each end of a part, on both sides
of a step in their ticks, next to a host frame or a description, those with the tick of a host frame, the first ones
with a turning rotor, and every ``EVERY``-th. ``batches`` reads all parts again, with a bounded number of line messages
in memory.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from frothline.readings.time_axis import Piece
from frothline.recording.files import PART, Files, bytes_between, nothing_in
from frothline.wire import ENUMS, MESSAGES, WIRE, Decoded, Tables, decode_all, decode_tables
from frothline.wire.decoder import LONGEST, REPEATED
from frothline.wire.ticks import apart

EVERY = 256  # line messages of which one is kept at least: 26 s at the lowest rate
_LATE = 1 << 16  # line messages by which a host frame may follow its tick: see ``time_axis.LATE``
_STEP = WIRE.tick_hz  # ticks between two line messages that are a step
_PLAIN = ("line", "slow", "ambient", "scale", "health")  # frames whose neighbours do not matter
_ALL = np.iinfo(np.int64).max
_NONE = np.empty(0, dtype=np.int64)

Progress = Callable[[float], None]  # receives the share of the bytes that were read


@dataclass(frozen=True)
class Outline:
    """All messages of a recording but most of its line messages; ``decoded`` does not count damage or losses."""

    files: Files
    decoded: Decoded
    line_messages: int  # in the recording

    def head(self) -> bytes:
        """The frames of the board's first description, with their zeros. Raises RecordingUnwritable."""
        tables = self.decoded.tables
        first = tables.offsets.get("description", _NONE)[:2]
        if not first.size:
            return b""
        end = int(first[1]) if first.size > 1 else _ALL
        found = sorted(
            offset
            for name in REPEATED
            for offset in tables.offsets.get(name, _NONE).tolist()
            if first[0] <= offset < end
        )
        return b"".join(self._frame(offset) for offset in found)

    def _frame(self, offset: int) -> bytes:
        data = bytes_between(self.files.paths, self.files.starts, offset, min(offset + LONGEST, self.files.length))
        return data.split(b"\0", 1)[0] + b"\0"


class _Thinned:
    """Collects tables, and of their line messages those that are kept."""

    def __init__(self) -> None:
        self.line_messages = 0
        self._waiting: deque[tuple[Tables, NDArray[np.int64]]] = deque()  # with the ticks of their host frames
        self._behind = 0  # line messages that wait
        self._kept: list[Tables] = []

    def take(self, tables: Tables) -> None:
        told = [
            rows["tick"].astype(np.int64)
            for name, rows in tables.items()
            if MESSAGES[name].origin == "host" and "tick" in (rows.dtype.names or ())
        ]
        self._waiting.append((tables, np.concatenate([_NONE, *told])))
        self._behind += len(tables["line"])
        self.line_messages += len(tables["line"])
        while self._behind - len(self._waiting[0][0]["line"]) >= _LATE:
            self._thin()

    def tables(self) -> Tables:
        while self._waiting:
            self._thin()
        return joined(self._kept)

    def _thin(self) -> None:
        told = np.concatenate([ticks for _, ticks in self._waiting])
        tables, _ = self._waiting.popleft()
        self._behind -= len(tables["line"])
        rows = dict(tables)
        if "line" in tables:
            keep = _kept(tables, told)
            rows["line"], tables.offsets["line"] = tables["line"][keep], tables.offsets["line"][keep]
        self._kept.append(Tables(rows, tables.offsets))


def _kept(tables: Tables, told: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which line messages of a part are kept; ``told`` are ticks of host frames."""
    line, offsets = tables["line"], tables.offsets["line"]
    tick = line["tick"].astype(np.int64)
    keep = np.isin(tick, told)
    keep[::EVERY] = keep[-1] = True
    step = apart(tick[1:], tick[:-1])
    odd = np.flatnonzero((step < 0) | (step > _STEP))
    keep[odd] = keep[odd + 1] = True
    keep[np.flatnonzero(line["flags"] & ENUMS["line_flag"]["rotor_seen"])[:1]] = True
    beside = [tables.offsets[name] for name in tables if name not in _PLAIN]
    place = np.searchsorted(offsets, np.concatenate([_NONE, *beside]))
    keep[np.clip(place, 0, tick.size - 1)] = keep[np.clip(place - 1, 0, tick.size - 1)] = True
    return keep


def joined(several: list[Tables]) -> Tables:
    """Tables in the order of their frames as one."""
    out = Tables()
    for name in dict.fromkeys(name for one in several for name in one):
        out[name] = np.concatenate([one[name] for one in several if name in one])
        out.offsets[name] = np.concatenate([one.offsets[name] for one in several if name in one])
    return out


def outlined(files: Files, size: int = PART, progress: Progress | None = None) -> Outline:
    """Read all parts of a recording once.

    size : bytes of a part
    Raises NotARecording without any message, RecordingUnwritable.
    """
    thinned = _Thinned()
    for _, tables in _decoded(files, size, progress):
        thinned.take(tables)
    tables = thinned.tables()
    if not tables:
        raise nothing_in(files)
    empty = decode_all(b"")
    decoded = Decoded(files.length, tables, tables.offsets, empty.damage, empty.unknown, empty.losses, 0)
    return Outline(files, decoded, thinned.line_messages)


def batches(
    files: Files, parts: list[Piece], rows: int, size: int = PART, progress: Progress | None = None
) -> Iterator[tuple[Piece, Tables]]:
    """The messages of each piece in order, at most ``rows`` line messages a batch. Raises RecordingUnwritable."""
    held, ahead = Tables(), deque(parts)
    for end, tables in _decoded(files, size, progress):
        held = joined([held, tables])
        while ahead:
            line, piece = held.offsets.get("line", _NONE), ahead[0]
            if int(np.searchsorted(line, piece.end)) > rows:
                cut = int(line[rows])
            elif end >= piece.end:
                cut = piece.end
                ahead.popleft()
            else:
                break
            yield piece, held.between(0, cut)
            held = held.between(cut, _ALL)


def _decoded(files: Files, size: int, progress: Progress | None) -> Iterator[tuple[int, Tables]]:
    """The end of each part and its messages, with offsets in the joined bytes; at last an end behind all."""
    for begin, data in files.parts(size):
        tables = decode_tables(data)
        for name in tables:
            tables.offsets[name] = tables.offsets[name] + begin
        yield begin + len(data), tables
        if progress is not None:
            progress((begin + len(data)) / files.length)
    yield _ALL, Tables()
