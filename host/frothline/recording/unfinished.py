"""A recording that was cut off by a crash: its last segment, and whether writing may continue there."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from frothline.errors import NewerFormat, NotARecording, RecordingUnwritable
from frothline.recording.host_frames import FORMAT
from frothline.recording.segments import Segments, segment_path, stem_and_number
from frothline.wire import decode_all, text

NEXT_FOLLOWS = "the next segment follows"  # reason of the end of a segment that is not the last one


@dataclass(frozen=True)
class Resumed:
    """The last segment of a recording to continue: path, number, content, identity of the recording and its port.

    next_sequence : number of the host's next frame if the segment was closed for the next one; None if it was cut off
    """

    path: Path
    number: int
    data: bytes
    identity: bytes
    source: str
    next_sequence: int | None


def unfinished(path: Path) -> Resumed:
    """Read the last segment of a recording to continue it.

    Raises NotARecording, NewerFormat, and RecordingUnwritable if it was closed in order or cannot be read.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise Segments.explained(error, path) from error
    found = decode_all(data)
    if not len(found.tables["recording_opened"]):
        raise NotARecording("its first bytes are not those of a recording", where=str(path))
    head = found.tables["recording_opened"][0]
    if head["format"] > FORMAT:
        raise NewerFormat(
            f"it has format {head['format']}, this version reads {FORMAT}",
            where=str(path),
            remedy="Continue it with the version that wrote it, or start a new recording.",
        )
    next_sequence = None
    ends = {name: int(offsets[-1]) for name, offsets in found.offsets.items()}
    if max(ends, key=ends.__getitem__) == "recording_closed":
        end = found.tables["recording_closed"][-1]
        following = segment_path(path.parent, stem_and_number(path)[0], int(head["segment"]) + 1)
        if text(end["reason"]) != NEXT_FOLLOWS or following.exists():
            raise RecordingUnwritable(
                "this recording was closed properly", where=str(path), remedy="Start a new recording."
            )
        next_sequence = int(end["sequence"]) + 1  # killed between the end of this segment and the next one
    source = text(head["source"])
    return Resumed(path, int(head["segment"]), data, head["identity"].tobytes(), source, next_sequence)
