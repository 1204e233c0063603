"""Check of a recording's completeness by the host's frames: heads, numbers, ends, and frames of other recordings.

The writer numbers its frames from 0, over all segments, and restarts at 0 where it resumed after a crash. A segment
after a failed write repeats what was not known to be safe, so numbers may step back there. Each failed attempt to begin
a segment has used numbers, so that some may be missing directly before a head.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from frothline.wire import MESSAGES, name_of
from frothline.wire.frame_count import signed

if TYPE_CHECKING:
    from pathlib import Path

    from frothline.recording.recorded import Recorded

_NONE = np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class Completeness:
    """Result of the check by the host's frames. All fields are empty or 0 for a complete recording."""

    headless: tuple[str, ...] = ()  # files that do not begin with the head of a recording
    unclosed: tuple[str, ...] = ()  # files before the last one that were neither closed in order nor given up
    host_lost: int = 0  # frames of the host that are missing by their numbers
    host_doubled: int = 0
    sizes: tuple[str, ...] = ()  # where the length noted at the end differs from the file's
    foreign: tuple[str, ...] = ()  # frames of another recording: in which file, from which byte, or a whole file
    silence: float = 0.0  # s between port loss and return, in total

    @property
    def sentences(self) -> list[str]:
        out = [f"the head is missing: {name}" for name in self.headless]
        out += [f"not closed properly, but another segment follows: {name}" for name in self.unclosed]
        if self.host_lost:
            out.append(f"{self.host_lost} frames of the host (notes, anchors, ends) are missing")
        if self.host_doubled:
            out.append(f"{self.host_doubled} frames of the host came twice")
        return [*out, *self.sizes, *self.foreign]

    @property
    def complete(self) -> bool:
        """Whether the recording is complete, apart from the end of the last segment, which the report checks."""
        return not (self.headless or self.unclosed or self.host_lost or self.host_doubled or self.sizes or self.foreign)


def completeness(recorded: Recorded, named: list[Path]) -> Completeness:
    """Check a recording; ``named`` are the files with its name, read or not."""
    tables = recorded.decoded.tables
    starts = np.array(recorded.starts)
    ends = [*(start - 1 for start in recorded.starts[1:]), len(recorded.data)]
    opened = tables.offsets.get("recording_opened", _NONE)
    headless = tuple(
        path.name for path, head in zip(recorded.paths, recorded.heads, strict=True) if head.format is None
    )
    foreign = [f"another recording of the same name is ignored: {path.name}" for path in named]
    beyond = opened[~np.isin(opened, starts)]
    for offset in beyond:
        k = int(np.searchsorted(starts, offset, side="right")) - 1
        place = int(offset) - int(starts[k])
        again = recorded.heads[k].identity == tables["recording_opened"][opened == offset]["identity"][0].tobytes()
        what = "the same recording begins again" if again else "another recording begins"
        foreign.append(f"{what} at byte {place} of {recorded.paths[k].name}")
    sizes, unclosed = [], []
    for k, (path, start, end) in enumerate(zip(recorded.paths, recorded.starts, ends, strict=True)):
        given_up = k + 1 < len(recorded.heads) and recorded.heads[k + 1].repeats_from is not None
        inside = tables.between(start, end)
        closed = inside.offsets.get("recording_closed", _NONE)
        if not closed.size:
            if not given_up and k + 1 < len(recorded.paths):
                unclosed.append(path.name)
            continue
        begin = max([start, *(int(offset) for offset in beyond if offset < closed[-1])])  # of the copy that is closed
        noted, found = int(inside["recording_closed"]["bytes"][-1]), int(closed[-1]) - begin
        if noted != found:
            sizes.append(f"{path.name} was closed at byte {noted}, its end is at byte {found}")
        last = max(int(where[-1]) for where in inside.offsets.values())
        if last != closed[-1] and not beyond.size:
            sizes.append(f"{path.name} continues after its end at byte {found}")
    lost, doubled = _host_numbers(recorded)
    return Completeness(headless, tuple(unclosed), lost, doubled, tuple(sizes), tuple(foreign), _silence(recorded))


def _host_numbers(recorded: Recorded) -> tuple[int, int]:
    """Missing and duplicate frames of the host."""
    tables = recorded.decoded.tables
    names = [name for name in tables if MESSAGES[name].origin == "host"]
    if not names:
        return 0, 0
    where = np.concatenate([tables.offsets[name] for name in names])
    number = np.concatenate([tables[name]["sequence"].astype(np.int64) for name in names])
    kind = np.concatenate([np.full(len(tables[name]), names.index(name)) for name in names])
    order = np.argsort(where)
    where, number, kind = where[order], number[order], kind[order]
    heads = kind == (names.index("recording_opened") if "recording_opened" in names else -1)
    begins = kind == (names.index("recording_resumed") if "recording_resumed" in names else -1)
    begins |= heads & ~np.isin(where, recorded.starts)  # another recording
    begins[0] = True
    lost = doubled = 0
    bounds = [*np.flatnonzero(begins).tolist(), where.size]
    for first, last in pairwise(bounds):
        numbers, is_head = number[first:last], heads[first:last]
        steps = np.array([signed(int(step)) for step in np.diff(numbers)], dtype=np.int64)
        places = numbers[0] + np.concatenate([[0], np.cumsum(steps)])
        there, firsts = np.unique(places, return_index=True)
        doubled += places.size - there.size
        holes = np.diff(there, prepend=-1) - 1
        lost += int(holes[~is_head[firsts] | (there == there[0])].clip(min=0).sum())
    return lost, doubled


def _silence(recorded: Recorded) -> float:
    """Time between port losses and returns, in total, s."""
    lost_at: int | None = None
    total = 0
    for row in recorded.decoded.tables["port"]:
        event = name_of("port_event", int(row["event"]))
        if event == "lost" and lost_at is None:
            lost_at = int(row["monotonic_ns"])
        elif event == "back" and lost_at is not None:
            total += max(0, int(row["monotonic_ns"]) - lost_at)
            lost_at = None
    return total / 1e9


def torn_by_interruptions(recorded: Recorded, begins: NDArray[np.int64], ends: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which stretches of damage, by their begin and end, are frames cut off by an interruption.

    The next frame is a port loss or a resumption after a crash, or the frame before is a return of the port, which may
    come in the middle of a frame.
    """
    tables = recorded.decoded.tables
    noted = [tables.offsets.get("recording_resumed", _NONE)]
    behind = []
    if len(tables["port"]):
        noted.append(tables.offsets["port"])
        behind = [recorded.data.find(b"\0", int(offset)) + 1 for offset in tables.offsets["port"]]
    return np.isin(ends + 1, np.concatenate(noted)) | np.isin(begins, behind)
