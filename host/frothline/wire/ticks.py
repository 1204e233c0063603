"""Unwrapped board ticks: the only module that converts 32-bit ticks to a monotonic count.

The board's counter has 32 bits, wraps after 2,147 s at 2 MHz and starts at zero at each boot. Two ticks can therefore
be ordered only by the order of their frames, and only where neighbours are less than half the range (1,074 s) apart. A
streaming board sends a frame every few seconds at least, so the order of all frames resolves any length; the order of
one table alone does not, because a table may begin late.

Unwrapped ticks are counted from the boot: modulo 2**32 they equal the ticks on the wire.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.wire.decoder import TICKED, Tables
from frothline.wire.segment_head import text

WRAP = 1 << 32
HALF = WRAP // 2

Ticks = NDArray[np.int64]
Boot = tuple[str, int]  # label of the board and its boot count


def ahead(tick: Any, reference: Any) -> Any:
    """Ticks from ``reference`` forward to ``tick``, 0 to 2**32 - 1; integers or arrays of int64."""
    return (tick - reference) % WRAP


def apart(tick: Any, reference: Any) -> Any:
    """Ticks from ``reference`` to ``tick`` the shorter way round, from -2**31 on; integers or arrays of int64."""
    return (tick - reference + HALF) % WRAP - HALF


def nearest(tick: Any, reference: Any) -> Any:
    """The unwrapped value of ``tick`` nearest to the unwrapped ``reference``."""
    return reference + apart(tick, reference)


def not_after(tick: Any, reference: Any) -> Any:
    """The largest unwrapped value of ``tick`` not above the unwrapped ``reference``."""
    return reference - ahead(reference, tick)


class BootTicks:
    """The ticks of one boot in the order of their frames."""

    def __init__(self) -> None:
        self.last: int | None = None  # unwrapped, of the latest frame

    def feed(self, ticks: NDArray[Any]) -> Ticks:
        """(n,) unwrapped; the very first tick keeps its value."""
        raw = np.asarray(ticks, dtype=np.int64)
        if not raw.size:
            return raw
        first = int(raw[0]) if self.last is None else nearest(int(raw[0]), self.last)
        unwrapped = first + np.concatenate([[0], np.cumsum(apart(raw[1:], raw[:-1]))])
        self.last = int(unwrapped[-1])
        return np.asarray(unwrapped, dtype=np.int64)

    def feed_tables(self, tables: Tables) -> dict[str, Ticks]:
        """Unwrapped ticks of each table of a batch of one boot; tables without any row are left out.

        The order of frames is used if the tables have it. Otherwise each table must begin less than 1,074 s from the
        latest tick so far (for a first batch: from the first tick of its longest table).
        """
        names = [name for name in TICKED if len(tables.get(name, ()))]
        if not names:
            return {}
        if tables.ordered:
            merged = np.argsort(np.concatenate([tables.offsets[name] for name in names]), kind="stable")
            ticks = np.concatenate([tables[name]["tick"] for name in names])
            placed = np.empty(ticks.size, dtype=np.int64)
            placed[merged] = self.feed(ticks[merged])
            ends = np.cumsum([len(tables[name]) for name in names])
            return dict(zip(names, np.split(placed, ends[:-1]), strict=True))
        if self.last is None:
            self.last = int(tables[max(names, key=lambda name: len(tables[name]))]["tick"][0])
        out: dict[str, Ticks] = {}
        for name in names:
            alone = BootTicks()
            alone.last = self.last
            out[name] = alone.feed(tables[name]["tick"])
        self.last = max(int(column[-1]) for column in out.values())
        return out


def boot_of(description: np.void) -> Boot:
    """Board and boot of a description message."""
    return text(description["label"]), int(description["boot_count"])


def boot_starts(tables: Tables, boot: Boot | None = None, line_tick: int | None = None) -> list[int]:
    """Offsets, in order, at which a board started to count at zero, by the order of the frames.

    A start is a description of another boot than the previous one, or, where that was lost, a line message whose tick
    goes back the shorter way round: a stream with ten messages a second does not pause for half the range. ``boot`` and
    ``line_tick`` are the last ones before these tables.
    """
    described: list[int] = []
    for row, offset in zip(tables["description"], tables.offsets.get("description", ()), strict=True):
        now = boot_of(row)
        if boot is not None and now != boot:
            described.append(int(offset))
        boot = now
    ticks = tables["line"]["tick"].astype(np.int64)
    if not ticks.size:
        return described
    offsets = tables.offsets["line"]
    before = np.concatenate([[ticks[0] if line_tick is None else line_tick], ticks[:-1]])
    since = np.concatenate([[-1], offsets[:-1]])
    back = np.flatnonzero(apart(ticks, before) < 0)
    if not back.size:
        return described
    announced = np.searchsorted(described, offsets[back]) > np.searchsorted(described, since[back])
    return sorted([*described, *offsets[back][~announced].tolist()])
