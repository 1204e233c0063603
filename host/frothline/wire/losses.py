"""Missing and repeated frames of a whole file: the rule of ``SequenceWatch`` on arrays.

The frames of the board are taken in the order of the file, a bounded number at a time, so that the arrays stay in the
processor's cache and memory does not grow with the file.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.wire.decoder import COUNT_RESETS, REPEATED, TICKED, Tables
from frothline.wire.frame_count import LONG, PAUSE, TURN, FrameCount, begins_a_boot
from frothline.wire.layout import MESSAGES, WIRE

LOSS = np.dtype([("offset", "<i8"), ("missing", "<i8")])
_AT_ONCE = 1 << 16  # frames that are counted together
_NONE = np.empty(0, dtype=np.int64)
Places = NDArray[np.int64]


def losses(tables: Tables) -> tuple[NDArray[np.void], int, bool]:
    """Losses of a file, structured (offset of the first frame after the loss, missing frames), the number of frames
    received twice, and whether more may be missing; see ``FrameCount``.
    """
    frames = _BoardFrames(tables)
    if not frames.size:
        return np.empty(0, dtype=LOSS), 0, False
    cuts = np.sort(np.concatenate([_NONE, *(tables.offsets[name] for name in COUNT_RESETS if name in tables.offsets)]))
    repeated = _segment_heads(tables, frames, cuts)
    boots, rates = _changes(tables, frames, repeated)
    starts = {_behind(repeated, k) for k in frames.places(np.concatenate([cuts, boots])).tolist()}
    new_rates = np.array(sorted({_behind(repeated, k) for k in frames.places(rates).tolist()}), dtype=np.int64)
    borders = {0, frames.size, *starts, *(k for stretch in repeated for k in stretch)}
    borders.update(range(0, frames.size, _AT_ONCE))
    anchors, follows = _telling_anchors(tables, frames, cuts)
    found: list[tuple[int, int]] = []
    doubled, at_least, count = 0, False, _Count(0)
    for begin, end in pairwise(sorted(k for k in borders if k <= frames.size)):
        if begin in starts:
            at_least = at_least or count.at_least
            count = _Count(begin)
        if _behind(repeated, begin) != begin:
            continue
        mine = slice(*np.searchsorted(new_rates, [begin, end]))
        told = slice(*np.searchsorted(follows, [begin, end], side="right"))
        hints = _Hints(set((new_rates[mine] - begin).tolist()), anchors[told], follows[told] - begin)
        for k, missing, twice in count.uneven(begin, *frames.between(begin, end), hints):
            doubled += twice
            if missing:
                found.append((frames.offset(k), missing))
    gaps = np.array(sorted(found), dtype=LOSS) if found else np.empty(0, dtype=LOSS)
    return gaps, doubled, at_least or count.at_least


@dataclass(frozen=True, slots=True)
class _Hints:
    """What the description and the computer's clock say about some frames."""

    new_rates: set[int]  # indices of frames from which another rate holds
    anchors: NDArray[np.void]
    follows: Places  # index of the frame after each anchor, at least 1


def _telling_anchors(tables: Tables, frames: _BoardFrames, cuts: Places) -> tuple[NDArray[np.void], Places]:
    """The anchors that can change a count, and the number of the board's frame that follows each of them.

    Without a pause between two of them, by the wall clock or by the board's, none can. An anchor between the restart of
    a count and its first frame says nothing.
    """
    anchors = tables["anchor"]
    wall = np.abs(np.diff(anchors["unix_ns"])).max(initial=0)
    board = np.abs(np.diff(anchors["tick"]).view(np.int32).astype(np.int64)).max(initial=0) * 1e9 / WIRE.tick_hz
    if max(wall, board) < PAUSE:
        return anchors[:0], _NONE
    offsets = tables.offsets["anchor"]
    follows = frames.places(offsets)
    last = np.array([frames.offset(k - 1) if k else -1 for k in follows.tolist()], dtype=np.int64)
    telling = np.searchsorted(cuts, offsets) == np.searchsorted(cuts, last)
    return anchors[telling], follows[telling]


class _BoardFrames:
    """The frames of the board in the order of the file: a long table, and the rows of the others between its rows."""

    def __init__(self, tables: Tables) -> None:
        board = [name for name in tables if MESSAGES[name].origin != "host" and len(tables[name])]
        self.size = sum(len(tables[name]) for name in board)
        if not board:
            return
        longest = max(board, key=lambda name: len(tables[name]))
        shorter = [name for name in board if name != longest]
        self._long, self._long_offsets = tables[longest], tables.offsets[longest]
        self._long_ticked = longest in TICKED
        offsets = np.concatenate([_NONE, *(tables.offsets[name] for name in shorter)])
        order = np.argsort(offsets, kind="stable")
        self._offsets = offsets[order]
        self._at = np.searchsorted(self._long_offsets, self._offsets) + np.arange(offsets.size)

        def column(name: str, of: list[str], dtype: Any) -> NDArray[Any]:
            pieces = [tables[one][name] if one in of else np.zeros(len(tables[one]), dtype=dtype) for one in shorter]
            return np.concatenate([np.empty(0, dtype=dtype), *pieces])[order]

        self._sequence = column("sequence", shorter, np.uint16)
        self._tick = column("tick", [name for name in shorter if name in TICKED], np.uint32)
        self._ticked = np.concatenate(
            [np.empty(0, dtype=np.bool_), *(np.full(len(tables[name]), name in TICKED) for name in shorter)]
        )[order]

    def places(self, offsets: Places) -> Places:
        """Numbers of the frames before these offsets."""
        return np.searchsorted(self._long_offsets, offsets) + np.searchsorted(self._offsets, offsets)

    def offset(self, k: int) -> int:
        """Offset of frame ``k``."""
        before = int(np.searchsorted(self._at, k))
        if before < self._at.size and self._at[before] == k:
            return int(self._offsets[before])
        return int(self._long_offsets[k - before])

    def between(self, begin: int, end: int) -> tuple[NDArray[np.uint16], NDArray[np.bool_], NDArray[np.uint32]]:
        """Sequence numbers, whether each frame has a tick, and ticks (0 without) of the frames ``begin`` to ``end``."""
        low, high = np.searchsorted(self._at, [begin, end])
        rows = self._long[begin - low : end - high]
        inner, n = self._at[low:high] - begin, end - begin
        ticked = np.full(n, self._long_ticked)
        sequence, tick = np.empty(n, dtype=np.uint16), np.zeros(n, dtype=np.uint32)
        others: Any = slice(None)
        if inner.size:
            others = np.ones(n, dtype=np.bool_)
            others[inner] = False
        sequence[others], sequence[inner] = rows["sequence"], self._sequence[low:high]
        if self._long_ticked:
            tick[others] = rows["tick"]
        tick[inner], ticked[inner] = self._tick[low:high], self._ticked[low:high]
        return sequence, ticked, tick


def _segment_heads(tables: Tables, frames: _BoardFrames, cuts: Places) -> list[tuple[int, int]]:
    """Begins and ends of the frames that heads of segments repeat, ascending; they are not counted."""
    found: list[tuple[int, int]] = []
    for head in tables.offsets.get("recording_opened", _NONE).tolist():
        later = cuts[np.searchsorted(cuts, head, side="right") :][:1].tolist()
        for name, where in tables.offsets.items():
            if MESSAGES[name].origin != "host" and name not in REPEATED:
                later += where[np.searchsorted(where, head) :][:1].tolist()
        begin = int(frames.places(np.array([head]))[0])
        end = int(frames.places(np.array([min(later)]))[0]) if later else frames.size
        if begin < end:
            found.append((begin, end))
    return found


def _behind(repeated: list[tuple[int, int]], k: int) -> int:
    """The first counted frame from frame ``k`` on."""
    stretch = bisect_right(repeated, k, key=lambda one: one[0]) - 1
    return max(k, repeated[stretch][1]) if stretch >= 0 else k


def _changes(tables: Tables, frames: _BoardFrames, repeated: list[tuple[int, int]]) -> tuple[Places, Places]:
    """Offsets of the descriptions with another boot count, and of those with another rate, than the one before."""
    if "description" not in tables.offsets:
        return _NONE, _NONE
    rows, offsets = tables["description"], tables.offsets["description"]
    boots, rates = (offsets[1:][np.diff(rows[name].astype(np.int64)) != 0] for name in ("boot_count", "rate"))
    first = int(frames.places(offsets[:1])[0])
    if first and _behind(repeated, first - 1) == first - 1:
        before = int(frames.between(first - 1, first)[0][0])
        if begins_a_boot(int(rows["sequence"][0]), int(rows["tick"][0]), before):
            boots = np.concatenate([offsets[:1], boots])
    return boots, rates


class _Count:
    """The frames of one count, which may come in several parts."""

    def __init__(self, begin: int) -> None:
        self._count = FrameCount()
        self._step = begin  # the last frame whose number is not the next one
        self._sequence: int | None = None  # of the last frame
        self._tick: int | None = None  # the last tick

    @property
    def at_least(self) -> bool:
        return self._count.at_least

    def uneven(
        self,
        begin: int,
        sequence: NDArray[np.uint16],
        ticked: NDArray[np.bool_],
        tick: NDArray[np.uint32],
        hints: _Hints,
    ) -> Iterator[tuple[int, int, int]]:
        """(number of a frame, frames missing, frames doubled) where one of them is not 0.

        begin : number of the first frame of this part
        ticked : where a frame has a tick
        """
        with_tick = np.flatnonzero(ticked)
        ticks = tick[with_tick] if with_tick.size < tick.size else tick
        apart = np.zeros(ticks.size, dtype=np.int32)  # modulo 2**32, the shorter way round
        apart[1:] = np.diff(ticks).view(np.int32)
        if ticks.size and self._tick is not None:
            apart[0] = np.subtract(ticks[:1], np.uint32(self._tick)).view(np.int32)[0]
        odd = [np.flatnonzero(np.diff(sequence) != 1) + 1]  # modulo 2**16
        if self._sequence is not None and (int(sequence[0]) - self._sequence) % TURN != 1:
            odd.append(np.zeros(1, dtype=np.int64))
        silent = with_tick[(apart > LONG) | (apart < -LONG)]
        known = np.array(sorted(hints.new_rates), dtype=np.int64)
        stops = np.unique(np.concatenate([*odd, silent, known, hints.follows, [sequence.size]]).astype(np.int64))
        count, k, anchor = self._count, 0, 0
        while True:
            while anchor < hints.follows.size and hints.follows[anchor] == k:
                row = hints.anchors[anchor]
                missing, twice = count.anchor(int(row["tick"]), int(row["unix_ns"]), int(row["monotonic_ns"]))
                if missing or twice:
                    yield self._step, missing, twice
                anchor += 1
            if k == sequence.size:
                break
            ahead = int(stops[np.searchsorted(stops, k)])
            if ahead > k and count.settled:
                low, high = np.searchsorted(with_tick, [k, ahead])
                last = int(with_tick[high - 1]) if high > low else None
                count.skip(
                    ahead - k,
                    int(sequence[ahead - 1]),
                    None if last is None else last - k + 1,
                    0 if last is None else int(tick[last]),
                    int(apart[low:high].sum(dtype=np.int64)),
                )
                k = ahead
                continue
            if k in hints.new_rates:
                count.new_rate()
            missing, twice = count.feed(int(sequence[k]), int(tick[k]) if ticked[k] else None)
            if missing or twice:
                yield begin + k, missing, twice
            before = int(sequence[k - 1]) if k else self._sequence
            if before is not None and (int(sequence[k]) - before) % TURN != 1:
                self._step = begin + k
            k += 1
        self._sequence = int(sequence[-1])
        self._tick = int(ticks[-1]) if ticks.size else self._tick
