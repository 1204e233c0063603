"""Reading of a recording in any state, and a report of damaged and missing data.

There is no separate recovery: every frame between two zeros that passes its check is used, the rest is counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.errors import InputError, NotARecording
from frothline.recording.completeness import Completeness, completeness, torn_by_interruptions
from frothline.recording.files import files_of, nothing_in, unreadable
from frothline.recording.host_frames import BYTES_LOST, GIVEN_UP
from frothline.recording.recorded import Recorded
from frothline.recording.segments import SUFFIX, stem_and_number
from frothline.rounding import counted
from frothline.wire import decode_all, name_of, names_of_bits, text
from frothline.wire.decoder import REASONS
from frothline.wire.segment_head import Head


def segments_of(path: str | Path) -> list[Path]:
    """The files of the recording of ``path``, by name, in order.

    ``path`` is any of its segments, or its name without the suffix. Raises NotARecording if there is none.
    """
    given = path = Path(path)
    if path.suffix != SUFFIX:
        path = path.with_name(path.name + SUFFIX)
    stem, number = stem_and_number(path)
    found = [other for other in path.parent.glob(f"*{SUFFIX}") if stem_and_number(other)[0] == stem]
    if path.exists() and path not in found:
        found.append(path)
    if not found and given != path and given.is_file():
        raise NotARecording(f"this file is not a recording; recordings end in {SUFFIX}", where=str(given))
    if not found:
        raise NotARecording("this recording does not exist", where=str(path))
    if number and path not in found:
        raise NotARecording("this segment does not exist", where=str(path))
    return sorted(found, key=lambda other: stem_and_number(other)[1])


def load(path: str | Path | Sequence[str | Path]) -> Recorded:
    """Read a recording: by the path of one of its segments, or by all paths if they are in several folders.

    A segment that is being written is read up to its present end. A segment of another recording with the same name is
    left out. Raises InputError for no path or several recordings, NotARecording, NewerFormat, and RecordingUnwritable
    if the system refuses to read.
    """
    paths = segments_of(path) if isinstance(path, str | Path) else [Path(one) for one in path]
    if not paths:
        raise InputError("no recording is given", remedy="Give the path of a segment, or of all segments")
    files = files_of(paths, one=not isinstance(path, str | Path))
    contents = []
    for one, size in zip(files.paths, files.sizes, strict=True):
        try:
            with one.open("rb") as file:
                contents.append(file.read(size))
        except OSError as error:
            raise unreadable(error, one) from error
    data = b"\0".join(contents)
    decoded = decode_all(data)
    if not decoded.frames:
        raise nothing_in(files)
    starts = np.cumsum([0, *(len(content) + 1 for content in contents[:-1])])
    return Recorded(files.paths, files.heads, tuple(int(start) for start in starts), data, decoded)


MOST_LISTED = 10_000  # damaged stretches; a file of nothing else has one in two bytes


@dataclass(frozen=True)
class Damaged:
    """A stretch that could not be read: file, offset in it and length in bytes, and why."""

    file: str
    offset: int
    length: int
    reason: str


_MORE = "perhaps some times 65,536 frames more are missing: beside a long silence the board was heard for seconds only"
_VERDICTS = {
    "whole": "whole",
    "complete": "complete: writing failed once, no data was lost",
    "interrupted": "complete as received, with interruptions",
    "damaged": "damaged or incomplete; the rest can be read",
}


@dataclass(frozen=True)
class VerifyReport:
    """Counts of valid, damaged and missing data in a recording."""

    name: str
    files: tuple[str, ...]
    identity: str
    source: str
    software: str
    bytes: int
    frames: int
    messages: dict[str, int]  # frames by name
    damage: tuple[Damaged, ...]  # the first ``MOST_LISTED`` damaged stretches
    stretches: int  # damaged ones in all
    damaged_bytes: int  # in all of them
    unknown: int  # valid frames with unknown ids
    lost: int  # missing frames of the board, by sequence numbers
    tail: int  # bytes at the end that are not a frame
    closed: bool  # closed in order
    resumed: int  # times that writing was resumed after a crash
    port_lost: int
    boots: int
    missing_segments: tuple[int, ...]
    faults: tuple[str, ...]  # the writer's notes on failed writes
    at_least: bool  # whether more of them may be missing: after a sleep before which the board was hardly heard
    doubled: int  # frames of the board that came twice
    torn: int  # stretches of ``damage`` that are frames cut off by a port loss or a crash, by the notes in the file
    host: Completeness
    boards: tuple[str, ...]  # label and firmware of the boards with a description
    resets: tuple[str, ...]  # causes

    @property
    def damaged(self) -> bool:
        """Whether recorded data are damaged, missing or of another recording, or the end is missing."""
        return bool(
            self.stretches > self.torn
            or self.lost
            or self.at_least
            or self.doubled
            or self.tail
            or self.missing_segments
            or self.unknown
            or not self.closed
            or not self.host.complete
            or any(BYTES_LOST in fault for fault in self.faults)
        )

    @property
    def interrupted(self) -> bool:
        """Whether the board, its port or the program was absent for a time, by the recording's own frames."""
        return bool(self.port_lost or self.resumed or self.boots > 1)

    @property
    def verdict(self) -> str:
        """``damaged``, ``interrupted``, ``complete`` (writing failed, and nothing was lost) or ``whole``."""
        if self.damaged:
            return "damaged"
        if self.interrupted:
            return "interrupted"
        return "complete" if self.faults else "whole"

    @property
    def whole(self) -> bool:
        """Whether nothing is damaged, missing or interrupted, and the recording was closed in order."""
        return self.verdict == "whole"

    @property
    def exit_code(self) -> int:
        """For scripts: 0 whole or complete, 1 interrupted or damaged: the data have a gap."""
        return 0 if self.verdict in {"whole", "complete"} else 1

    def losses(self) -> list[str]:
        """What is damaged, missing or interrupted, with its counts; empty exactly for a whole recording."""
        counted = (
            (self.lost, "frames missing at least" if self.at_least else "frames missing"),
            (self.stretches, "damaged stretches"),
            (self.doubled, "frames twice"),
            (self.unknown, "frames of an unknown kind"),
            (self.tail, "bytes at the end that are not a frame"),
            (self.port_lost, "times without a port"),
            (self.boots - 1, "resets of the board"),
            (self.resumed, "times resumed after a crash"),
        )
        words = [f"{count} {what}" for count, what in counted if count > 0]
        words += [_MORE] if self.at_least else []
        if self.missing_segments:
            words.append(f"segments missing: {', '.join(map(str, self.missing_segments))}")
        return [*words, *self.faults, *self.host.sentences, *(() if self.closed else ("it was not closed properly",))]

    def sentences(self) -> list[str]:
        """The report as sentences, worst last."""
        out = [
            f"{counted(self.frames, 'frame')} in {counted(self.bytes, 'byte')}, {counted(len(self.files), 'segment')}"
        ]
        if self.unknown:
            out.append(f"{counted(self.unknown, 'frame')} for a newer version")
        if self.boots > 1:
            out.append(f"the board started {counted(self.boots, 'time')}")
        if self.port_lost:
            out.append(f"the port was lost {counted(self.port_lost, 'time')}, for {self.host.silence:.1f} s in total")
        if self.resumed:
            out.append(f"writing resumed {counted(self.resumed, 'time')} after the program stopped")
        if self.torn:
            out.append(f"{self.torn} stretches of frames were cut off by this")
        out += self.faults
        out += self.host.sentences
        if self.doubled:
            out.append(f"{counted(self.doubled, 'frame')} of the board came twice")
        if self.lost:
            least = "at least " if self.at_least else ""
            out.append(f"{least}{counted(self.lost, 'frame')} of the board never arrived")
        if self.at_least:
            out.append(_MORE)
        if self.stretches > self.torn:
            stretches = counted(self.stretches, "damaged stretch", "damaged stretches")
            out.append(f"{stretches}, {counted(self.damaged_bytes, 'byte')} in total")
        if self.missing_segments:
            out.append(f"missing segments: {', '.join(map(str, self.missing_segments))}")
        if self.tail:
            out.append(f"the last {self.tail} bytes are a frame cut off")
        if not self.closed:
            out.append("it was not closed properly, or is being written now")
        out.append(_VERDICTS[self.verdict])
        return out

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``."""
        return {
            **{name: getattr(self, name) for name in self.__dataclass_fields__ if name not in {"damage", "host"}},
            **vars(self.host),
            "damage": [vars(damage) for damage in self.damage],
            "verdict": self.verdict,
            "whole": self.whole,
        }


def verify(path: str | Path | Sequence[str | Path]) -> VerifyReport:
    """Read a whole recording and report its state. Raises as ``load``."""
    recorded = load(path)
    decoded, tables = recorded.decoded, recorded.decoded.tables
    starts = np.array(recorded.starts)
    damage = []
    for row in decoded.damage[:MOST_LISTED]:
        k = int(np.searchsorted(starts, row["offset"], side="right")) - 1
        offset = int(row["offset"]) - int(starts[k])
        damage.append(Damaged(str(recorded.paths[k]), offset, int(row["length"]), REASONS[row["reason"]]))
    ends = decoded.damage["offset"] + decoded.damage["length"]
    left_out = [one for one in segments_of(path) if one not in recorded.paths] if isinstance(path, str | Path) else []
    last = max(decoded.offsets, key=lambda name: int(decoded.offsets[name][-1]))
    numbers = [head.segment for head in recorded.heads if head.segment is not None]
    boots = tables["description"]["boot_count"].astype(np.int64)
    fresh = tables["description"][np.concatenate([[True], np.diff(boots) != 0])] if boots.size else []
    events = Counter(name_of("port_event", int(event)) for event in tables["port"]["event"])
    head = next((head for head in recorded.heads if head.identity is not None), Head())
    return VerifyReport(
        name=recorded.name,
        files=tuple(str(path) for path in recorded.paths),
        identity=recorded.identity,
        source=head.source or "",
        software=head.software or "",
        bytes=sum(path.stat().st_size for path in recorded.paths),
        frames=decoded.frames,
        messages={name: len(table) for name, table in tables.items()},
        damage=tuple(damage),
        stretches=len(decoded.damage),
        damaged_bytes=int(decoded.damage["length"].sum()),
        unknown=len(decoded.unknown),
        lost=decoded.lost,
        tail=decoded.tail,
        closed=last == "recording_closed" and not decoded.tail,
        resumed=len(tables["recording_resumed"]),
        port_lost=events["lost"],
        boots=len(fresh),
        missing_segments=tuple(sorted(set(range(max(numbers, default=0) + 1)) - set(numbers))) if numbers else (),
        faults=_failed_writes(tables["note"]),
        at_least=decoded.at_least,
        doubled=decoded.doubled,
        torn=int(np.count_nonzero(torn_by_interruptions(recorded, decoded.damage["offset"], ends))),
        host=completeness(recorded, left_out),
        boards=tuple(
            dict.fromkeys(
                f"{text(row['label'])} {row['firmware_major']}.{row['firmware_minor']}.{row['firmware_patch']}".strip()
                for row in fresh
            )
        ),
        resets=tuple("+".join(names_of_bits("reset_cause", int(row["reset_cause"]))) or "unknown" for row in fresh),
    )


def _failed_writes(notes: NDArray[np.void]) -> tuple[str, ...]:
    """The writer's notes on failed writes. Earlier versions noted faults of a simulated line by the same kind."""
    said: dict[tuple[int, int], str] = {}  # a long note has several frames with the same time
    for row in notes:
        if text(row["kind"]) == "fault":
            moment = (int(row["unix_ns"]), int(row["monotonic_ns"]))
            said[moment] = said.get(moment, "") + text(row["text"])
    return tuple(words for words in said.values() if words.startswith(GIVEN_UP))
