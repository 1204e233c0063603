"""The files of a recording, and their bytes a part at a time.

The bytes of the segments are joined by one zero each, as in ``Recorded.data``; all offsets are places in these joined
bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from frothline.errors import InputError, NewerFormat, NotARecording, RecordingUnwritable
from frothline.recording.host_frames import FORMAT
from frothline.wire.decoder import LONGEST
from frothline.wire.segment_head import LONGEST_HEAD, Head, read_head, valid_parts

PART = 1 << 22  # bytes that are read together


@dataclass(frozen=True)
class Files:
    """The segments of one recording, their heads, their begins in the joined bytes, and the valid bytes of each."""

    paths: tuple[Path, ...]
    heads: tuple[Head, ...]
    starts: tuple[int, ...]
    sizes: tuple[int, ...]

    @property
    def length(self) -> int:
        """Length of the joined bytes."""
        return self.starts[-1] + self.sizes[-1]

    def parts(self, size: int = PART) -> Iterator[tuple[int, bytes]]:
        """Begin and bytes of each part of about ``size`` bytes; no part begins or ends within a frame.

        The begin of a stretch that is longer than any frame is left out. Raises RecordingUnwritable.
        """
        for path, start, valid in zip(self.paths, self.starts, self.sizes, strict=True):
            begin, left, rest = start, valid, b""
            try:
                with path.open("rb") as file:
                    while left and (block := file.read(min(size, left))):
                        left -= len(block)
                        rest += block
                        cut = rest.rfind(b"\0") + 1
                        if cut:
                            yield begin, rest[:cut]
                        else:
                            cut = max(0, len(rest) - LONGEST - 1)
                        begin, rest = begin + cut, rest[cut:]
            except OSError as error:
                raise unreadable(error, path) from error
            if rest:
                yield begin, rest


def files_of(paths: Sequence[Path], *, one: bool = False) -> Files:
    """The files that belong to the recording of the first readable head, in the given order.

    ``one`` : the files were named by a user, and files of two recordings are refused

    Raises InputError, NewerFormat, and RecordingUnwritable if the system refuses to read.
    """
    heads, sizes = [], []
    for path in paths:
        try:
            with path.open("rb") as file:
                heads.append(read_head(file.read(LONGEST_HEAD)))
            sizes.append(path.stat().st_size)
        except OSError as error:
            raise unreadable(error, path) from error
    for path, head in zip(paths, heads, strict=True):
        if head.format is not None and head.format > FORMAT:
            raise NewerFormat(
                f"it has format {head.format}, this version reads {FORMAT}",
                where=str(path),
                remedy="Read it with a newer version of Frothline; the file was not changed.",
            )
    if one:
        _must_be_one(paths, heads)
    mine, starts, valid, end = [], [], [], 0
    for k, limit in valid_parts(heads):
        mine.append(k)
        starts.append(end)
        valid.append(sizes[k] if limit is None else min(limit, sizes[k]))
        end += valid[-1] + 1
    return Files(tuple(paths[k] for k in mine), tuple(heads[k] for k in mine), tuple(starts), tuple(valid))


def bytes_between(paths: Sequence[Path], starts: Sequence[int], begin: int, end: int) -> bytes:
    """The joined bytes of segments with these begins, from ``begin`` to ``end``. Raises RecordingUnwritable."""
    found = []
    for k, (path, start) in enumerate(zip(paths, starts, strict=True)):
        stop = end if k + 1 == len(starts) else min(end, starts[k + 1] - 1)  # one zero separates two segments
        if start < end and begin < stop:
            try:
                with path.open("rb") as file:
                    file.seek(max(0, begin - start))
                    found.append(file.read(stop - max(begin, start)))
            except OSError as error:
                raise unreadable(error, path) from error
    return b"\0".join(found)


def unreadable(error: OSError, path: Path) -> RecordingUnwritable:
    """The error of a file that the system refuses to read."""
    return RecordingUnwritable(f"it cannot be read: {error.strerror or error}", where=str(error.filename or path))


def nothing_in(files: Files) -> NotARecording:
    """The error of files without any message."""
    what = "it contains no valid data; check that it is a Frothline recording" if files.length else "it is empty"
    return NotARecording(what, where=str(files.paths[0]))


def _must_be_one(paths: Sequence[Path], heads: Sequence[Head]) -> None:
    """Raise InputError if the named files are not of one recording, so that none is left out silently."""
    known = {head.identity: path for path, head in zip(paths, heads, strict=True) if head.identity is not None}
    if len(known) > 1:
        raise InputError(
            f"these are {len(known)} recordings, not segments of the same recording",
            where=", ".join(path.name for path in known.values()),
            remedy="Read them one at a time, or with read_tables, which gives one frame with a column “recording”",
        )
