"""The catalogue entry of one recording, without full decoding.

Only the host's frames and the descriptions are read (found by a zero and their id), and the last frames for the end
time. Damage is counted by ``verify``, not here.
"""

from __future__ import annotations

import errno
import logging
import stat
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np

from frothline.errors import FrothlineError, InputError
from frothline.recording.host_frames import FORMAT
from frothline.recording.segments import stem_and_number
from frothline.toml_text import read_text, read_toml
from frothline.wire import MESSAGES, WIRE, Received, StreamDecoder, decode_all, text
from frothline.wire.decoder import read_frame
from frothline.wire.segment_head import read_head
from frothline.wire.ticks import ahead, boot_of, nearest

_log = logging.getLogger(__name__)


SWEEP, GENERATOR_SWEEP, RUN = KINDS = ("sweep", "generator sweep", "run")  # kinds written by this program


STATES = ("closed", "open", "newer", "unreadable")


PHOTOS = {".jpg", ".jpeg", ".png", ".webp", ".heic"}


_TAIL = 8192


_HOST_LATE = 60.0  # s by which the host's latest frame of a running recording may be older than the board's, at most


_CLOCKS_AGREE = 1.0  # s between wall clock and monotonic clock over a recording that are no step and no suspension


_DESCRIPTION = MESSAGES["description"].id


_HOST = range(0x80, 0xA0)


_TOLD = np.isin(np.arange(256), [*_HOST, _DESCRIPTION])  # ids of the messages that a summary reads


_STEP = 1 << 20  # bytes that are searched together


@dataclass(frozen=True)
class Entry:
    """One recording of a folder. Unknown texts are empty, unknown numbers None.

    ``state``: "closed", "open" (being written, or cut off), "newer" (format of a later version), or "unreadable".
    ``metadata`` is the content of the TOML next to it; ``problem`` the error in either file.
    """

    path: str
    name: str
    state: str
    bytes: int
    segments: int = 1
    identity: str = ""
    started: float | None = None  # s since 1970
    seconds: float | None = None
    source: str = ""
    software: str = ""
    label: str = ""
    firmware: str = ""
    marks: int = 0
    notes: tuple[str, ...] = ()
    alarms: int = 0
    metadata: dict[str, Any] = field(default_factory=dict)
    photos: tuple[str, ...] = ()
    problem: str = ""

    @property
    def title(self) -> str:
        return str(self.metadata.get("title") or self.name)

    @property
    def kind(self) -> str:
        """The kind by the metadata: sweep, run, trial …"""
        return str(self.metadata.get("kind", ""))

    @property
    def build(self) -> str:
        return str(self.metadata.get("build", ""))

    @property
    def tags(self) -> tuple[str, ...]:
        tags = self.metadata.get("tags", ())
        return tuple(map(str, tags)) if isinstance(tags, list | tuple) else (str(tags),)

    @property
    def samples(self) -> tuple[dict[str, Any], ...]:
        """The ``[[sample]]`` tables of the metadata."""
        found = self.metadata.get("sample", self.metadata.get("samples", ()))
        return tuple(one for one in found if isinstance(one, dict)) if isinstance(found, list | tuple) else ()

    @property
    def began(self) -> datetime | None:
        return None if self.started is None else datetime.fromtimestamp(self.started, UTC)

    def words(self) -> str:
        """All searched text, in lower case."""
        parts = [self.name, self.source, self.label, self.firmware, self.state, self.problem, *self.notes]
        parts += [str(value) for value in _leaves(self.metadata)]
        return " ".join(parts).casefold()


def _leaves(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return [leaf for item in value.values() for leaf in _leaves(item)]
    if isinstance(value, list | tuple):
        return [leaf for item in value for leaf in _leaves(item)]
    return [value]


def read_metadata(path: Path) -> tuple[dict[str, Any], str]:
    """Read the TOML next to a recording, and its error (empty if none); {} without a file."""
    try:
        document = read_toml(read_text(path))
    except FileNotFoundError:
        if path.is_symlink():
            return {}, f"{path.name}: the link leads to no file"
        return {}, ""
    except (OSError, ValueError) as error:
        return {}, f"{path.name}: {in_words(error)}"
    return _plain(document), ""


def _plain(value: Any) -> Any:
    """TOML values as JSON types, for the cache of summaries."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, datetime | date) or not isinstance(value, str | int | float | bool):
        return str(value)
    return value


def _told(data: bytes) -> list[Any]:
    """The host's messages and the descriptions in some bytes, in order, without decoding the rest."""
    array = np.frombuffer(data, dtype=np.uint8)
    if array.size < 3:
        return []
    starts = [0] if _TOLD[array[1]] else []
    for first in range(0, array.size - 2, _STEP):  # by steps, because a mask of a whole file takes as much as the file
        zeros = np.flatnonzero(array[first : min(first + _STEP, array.size - 2)] == 0) + first
        starts += (zeros[_TOLD[array[zeros + 2]]] + 1).tolist()
    found = []
    for start in starts:
        end = data.find(b"\0", start)
        frame = read_frame(data[start : end if end >= 0 else len(data)])
        if not isinstance(frame, str):
            found.append(frame)
    return found


def _seconds(contents: list[bytes], told: list[Any], *, closed: bool) -> float | None:
    """Length of a recording, or its length so far; no step of the wall clock changes it.

    It is the time from the first to the last line message by the board's clock. That clock wraps; the host's latest
    frame, an anchor at most 10 s old, gives the number of wraps. If the board booted or its clock contradicts, it is
    the time from the host's first to its latest frame. A closed recording lasts to its last frame, the host's or the
    board's.
    """
    host = [(message.name, int(record["unix_ns"])) for message, record in told if message.origin == "host"]
    later = any(name != "recording_opened" for name, _ in host)
    by_host = _host_seconds(told) if later else None
    if closed and by_host is not None and abs((host[-1][1] - host[0][1]) / 1e9 - by_host) < _CLOCKS_AGREE:
        return by_host  # neither a step of the wall clock nor a suspended computer: the board is not read
    ends = [decode_all(contents[0][:_TAIL]), decode_all(contents[-1][-_TAIL:])]
    lines = [end.tables["line"]["tick"] for end in ends]
    boots = {boot_of(record) for message, record in told if message.name == "description"}
    if not all(len(ticks) for ticks in lines) or len(boots) > 1:
        return by_host
    ticks = ahead(int(lines[1][-1]), int(lines[0][0]))
    if by_host is None:
        return float(ticks / WIRE.tick_hz)
    by_board = nearest(ticks, round(by_host * WIRE.tick_hz)) / WIRE.tick_hz
    if abs(by_board - by_host) >= _HOST_LATE:
        return by_host
    return float(max(by_board, by_host) if closed else by_board)


def _host_seconds(told: list[Any]) -> float:
    """Time from the first to the last host frame by the monotonic clock, s. A frame after the program or the computer
    was started again is placed by the wall clock, because the monotonic clock starts at zero with the computer.
    """
    total, before = 0.0, None
    for message, record in told:
        if message.origin != "host":
            continue
        now = int(record["unix_ns"]), int(record["monotonic_ns"])
        if before is not None:
            by_wall, since = now[0] - before[0], now[1] - before[1]
            restarted = message.name == "recording_resumed" or since < -_HOST_LATE * 1e9
            total += max(0, by_wall) if restarted else since
        before = now
    return total / 1e9


def summarise(paths: list[Path]) -> Entry:
    """Make the entry of a recording with these segments. Never raises for the content or errors of the files."""
    first = paths[0]
    size = 0
    try:
        contents = [_bytes_of(path) for path in paths]
        size = sum(map(len, contents))
        return _summary(paths, contents)
    except Exception as error:  # a damaged file must not hide the others of its folder
        if not isinstance(error, (OSError, FrothlineError, ValueError)):
            _log.exception("%s could not be summarised", first)
        metadata, _ = read_metadata(metadata_path(first))
        name = stem(first)
        return Entry(str(first), name, "unreadable", size, len(paths), metadata=metadata, problem=in_words(error))


def _bytes_of(path: Path) -> bytes:
    """Read a file. Raises OSError, and InputError for a pipe or a device, which could block the reader."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise InputError("this is not a file", where=path.name, remedy="Move it out of the folder")
    except FileNotFoundError:
        if path.is_symlink():
            raise InputError("the link leads to no file", where=path.name, remedy="Delete the link") from None
        raise
    return path.read_bytes()


def in_words(error: Exception, most: int = 200) -> str:
    """An error as one line for a list, without the system's error number."""
    if isinstance(error, OSError) and error.errno == errno.ELOOP:
        return "the link leads back to itself"
    words = " ".join(str((isinstance(error, OSError) and error.strerror) or error or type(error).__name__).split())
    return words if len(words) <= most else f"{words[:most]}…"


def stem(path: Path) -> str:
    """Name of a segment's recording."""
    return stem_and_number(path)[0]


def metadata_path(path: Path) -> Path:
    """Path of the TOML file next to a recording."""
    return path.with_name(f"{stem(path)}.toml")


def _summary(paths: list[Path], contents: list[bytes]) -> Entry:
    metadata, problem = read_metadata(metadata_path(paths[0]))
    name, size = stem(paths[0]), sum(map(len, contents))
    entry = Entry(str(paths[0]), name, "unreadable", size, len(paths), metadata=metadata, problem=problem)
    heads = [read_head(content) for content in contents]
    newest = max((head.format or 0 for head in heads), default=0)
    head = next((head for head in heads if head.identity is not None), None)
    if newest > FORMAT:
        return _with(entry, state="newer", problem=problem or f"format {newest}")
    told = [frame for content in contents for frame in _told(content)]
    if head is None and not told:
        alive = any(isinstance(event, Received) for event in StreamDecoder().feed(contents[0][:_TAIL]))
        if not alive:
            return _with(entry, problem=problem or ("it is empty" if not size else "it contains no valid data"))
    if head is None:
        entry = _with(entry, problem=problem or "its head is missing or damaged; the readings behind it are shown")
    by_name: dict[str, list[Any]] = {}
    for message, record in told:
        by_name.setdefault(message.name, []).append(record)
    host = [(message, record) for message, record in told if message.origin == "host"]
    times = [int(record["unix_ns"]) for _, record in host]
    started = (head.unix_ns if head is not None and head.unix_ns is not None else min(times, default=0)) / 1e9
    closed = bool(host) and host[-1][0].name == "recording_closed"
    seconds = _seconds(contents, told, closed=closed)
    boards = by_name.get("description", [])
    board = boards[-1] if boards else None
    notes = [text(row["text"]) for row in by_name.get("note", []) if text(row["kind"]) not in {"repeats", "mark"}]
    return _with(
        entry,
        state="closed" if closed else "open",
        identity=head.identity.hex() if head is not None and head.identity is not None else "",
        started=started or None,
        seconds=seconds,
        source=(head.source or "") if head is not None else "",
        software=(head.software or "") if head is not None else "",
        label=text(board["label"]) if board is not None else "",
        firmware=".".join(str(board[f"firmware_{part}"]) for part in ("major", "minor", "patch"))
        if board is not None
        else "",
        marks=sum(text(row["kind"]) == "mark" for row in by_name.get("note", [])),
        notes=tuple(note for note in notes if note),
        alarms=len(by_name.get("alarm", [])),
    )


def _with(entry: Entry, **changes: Any) -> Entry:
    return Entry(**{**vars(entry), **changes})
