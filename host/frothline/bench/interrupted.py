"""A recording that a crash or a power cut interrupted, and whether the next recording continues it.

The rule: a plain recording continues in the same files if it was the last one of its folder, its board is the same, it
stopped less than a quarter of an hour ago, and no other name was asked for. A sweep or a run begins a new recording,
because its points and its foam balance are not saved with it. A new recording names the interrupted one and the reason.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.errors import FrothlineError
from frothline.recording.disk import is_locked
from frothline.recording.segments import SUFFIX, stem_and_number
from frothline.recording.summary import metadata_path, read_metadata
from frothline.recording.unfinished import NEXT_FOLLOWS
from frothline.rig import BoardIdentity
from frothline.wire import MESSAGES, decode_all, text
from frothline.wire.segment_head import read_head

if TYPE_CHECKING:
    from frothline.wire import Decoded

CONTINUES_WITHIN = 900.0  # s after the last frame of the host, by the wall clock
CLOCK_JITTER = 1.0  # s by which the clock may be behind the last frame
_PART = 1 << 18  # bytes at each end of a segment that are read


@dataclass(frozen=True)
class Interrupted:
    """An interrupted recording.

    name : its name
    path : its last segment
    ago : s since its last frame of the host, by the wall clock
    began : s since its beginning, by the wall clock
    obstacle : reason why the next recording does not continue it; empty if it does
    """

    name: str
    path: Path
    ago: float
    began: float
    obstacle: str

    @property
    def words(self) -> str:
        """What becomes of it, for the operator and for the next recording."""
        if self.obstacle:
            return f"the recording {self.name} was interrupted and is not continued: {self.obstacle}"
        return f"the recording {self.name} was interrupted {self.ago:.0f} s ago and continues in the same files"


def interrupted(
    folder: Path, name: str, metadata: Mapping[str, Any], board: BoardIdentity, unix: float
) -> Interrupted | None:
    """The newest recording of the folder, if it was not closed; else None.

    name : the name asked for; empty for none
    metadata : of the next recording
    board : the connected board
    unix : wall clock, s

    None also if another program is writing it now. Never raises for what is in the folder.
    """
    try:
        segments = [path for path in folder.glob(f"*{SUFFIX}") if path.is_file()]
        newest = max(segments, key=lambda path: path.stat().st_mtime_ns, default=None)
        if newest is None or is_locked(newest):
            return None
        own, _ = stem_and_number(newest)
        mine = sorted(
            (path for path in segments if stem_and_number(path)[0] == own), key=lambda path: stem_and_number(path)[1]
        )
        begin, end = (decode_all(part) for part in _ends(mine[-1]))
        first = read_head(_ends(mine[0])[0])
    except (OSError, FrothlineError):
        return None
    last = _last_host_frame(end)
    if first.unix_ns is None or last is None or _closed(end):
        return None
    ago, began = unix - last, unix - first.unix_ns / 1e9
    there = read_metadata(metadata_path(mine[-1]))[0]
    return Interrupted(own, mine[-1], ago, began, _obstacle(own, name, ago, there, metadata, begin, board))


def _obstacle(
    own: str,
    name: str,
    ago: float,
    there: Mapping[str, Any],
    metadata: Mapping[str, Any],
    begin: Decoded,
    board: BoardIdentity,
) -> str:
    if kind := there.get("kind"):
        return f"the state of a {kind} is not saved with it"
    if kind := metadata.get("kind"):
        return f"a {kind} has a recording of its own"
    if name and name != own:
        return f"this one has another name, {name}"
    if not len(begin.tables["description"]):
        return "its board is unknown"
    before = BoardIdentity.of(begin.tables)
    if not before.is_same_board(board):
        return f"it is of another board, {before}; {board} is connected"
    if ago < -CLOCK_JITTER:
        return f"the computer's clock is {-ago:.0f} s behind its last frame"
    if ago > CONTINUES_WITHIN:
        return f"it stopped {ago / 60:.0f} min ago, more than {CONTINUES_WITHIN / 60:.0f} min"
    return ""


def _ends(path: Path) -> tuple[bytes, bytes]:
    """The first and the last bytes of a file."""
    with path.open("rb") as file:
        begin = file.read(_PART)
        file.seek(max(0, path.stat().st_size - _PART))
        return begin, file.read(_PART)


def _last_host_frame(found: Decoded) -> float | None:
    """Its wall clock, s. A recorder writes an anchor every 10 s."""
    rows = [found.tables[name][-1] for name in found.offsets if MESSAGES[name].origin == "host"]
    return max((int(row["unix_ns"]) / 1e9 for row in rows), default=None)


def _closed(found: Decoded) -> bool:
    last = max(found.offsets, key=lambda name: int(found.offsets[name][-1]))
    return last == "recording_closed" and text(found.tables[last][-1]["reason"]) != NEXT_FOLLOWS
