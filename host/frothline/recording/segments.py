"""The segment files of one recording: writing, syncing, and the change to a new segment after an error.

This module handles descriptors, sizes and failures. Of frames it only uses that a zero byte ends each; the writer gives
their content. Not thread-safe except for ``sync``.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from frothline.atomic_file import temporary_name
from frothline.errors import NoSpace, RecordingError, RecordingUnwritable
from frothline.recording.disk import Disk, SystemClock

SUFFIX = ".froth"
_SEGMENT = re.compile(r"(?P<stem>.+)\.s(?P<number>[0-9]{3,})\Z")


@dataclass(frozen=True)
class Policy:
    """Limits for writing a recording. Times in seconds, sizes in bytes."""

    sync_every: float = 1.0
    segment_seconds: float = 3600.0
    segment_bytes: int = 64 * 2**20
    free_floor: int = 50_000_000
    free_every: float = 60.0
    hold: float = 0.25  # longest wait of a host frame for the end of a board's frame
    memory: int = 16 * 2**20  # buffered while nothing can be written
    retry_every: float = 1.0


@dataclass(frozen=True)
class Fault:
    """The reason why a segment was given up, and what the next one notes and repeats."""

    why: str
    segment: int
    repeated_from: int  # offset in that segment
    kept: bytes
    lost: int  # bytes after the buffered ones that had no room


def segment_path(folder: Path, name: str, number: int) -> Path:
    """Path of a segment of a recording."""
    return folder / (f"{name}.s{number:03d}{SUFFIX}" if number else f"{name}{SUFFIX}")


def stem_and_number(path: Path) -> tuple[str, int]:
    """Name of the recording and number of the segment, from the file's name."""
    stem = path.name.removesuffix(SUFFIX)
    found = _SEGMENT.match(stem)
    return (found["stem"], int(found["number"])) if found else (stem, 0)


class Segments:
    """Stores bytes: on the medium, in the system's cache, or in memory while writing fails."""

    def __init__(
        self,
        folder: Path,
        name: str,
        head: Callable[[int, Fault | None], bytes],
        *,
        policy: Policy,
        disk: Disk,
        clock: SystemClock,
    ) -> None:
        """``head`` returns the first bytes of a segment, by its number and the fault before it."""
        self.name = name
        self.number = 0
        self.path = segment_path(folder, name, 0)
        self.size = 0
        self.size_before = 0  # of the segments before this one
        self.trouble: RecordingError | None = None  # reason why nothing can be written now
        self.last_fault: RecordingError | None = None
        self.write_faults = 0  # number of failed writes and failed begins of segments
        self.dropped = 0
        self.kept = bytearray()  # not known to be on the medium, from the beginning of a frame on
        self._kept_from = 0  # offset of the first of them
        self._dropped_here = 0
        self._descriptor: int | None = None
        self._head = head
        self._policy, self._disk, self._clock = policy, disk, clock
        self._began_at = clock.monotonic_ns()
        self._tried_at = 0

    @property
    def writable(self) -> bool:
        return self._descriptor is not None

    @property
    def full(self) -> bool:
        """Whether the segment is old or large enough for the next one."""
        age = self._clock.monotonic_ns() - self._began_at
        return self.size >= self._policy.segment_bytes or age >= self._policy.segment_seconds * 1e9

    def begin(self, folder: Path, number: int, fault: Fault | None = None) -> None:
        """Make a segment. Raises OSError if it cannot be written; then nothing has changed.

        The file gets its name when its head is on the medium, so that a killed program leaves no empty segment.
        """
        while True:
            path = segment_path(folder, self.name, number)
            try:
                descriptor, head = self._begun(path, number, fault)
                break
            except FileExistsError:
                if not number:
                    raise
                number += 1
        self._take(descriptor, path, number, len(head))
        self.kept += head[head.rfind(b"\0") + 1 :]
        self._kept_from -= len(self.kept)

    def _begun(self, path: Path, number: int, fault: Fault | None) -> tuple[int, bytes]:
        """Write a segment's head to a temporary file, and give it its name; returns its descriptor and its head."""
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
        made = temporary = temporary_name(path)
        descriptor = self._disk.create(temporary)
        try:
            self._disk.lock(descriptor)
            head = self._head(number, fault)
            self._write_all(descriptor, head)
            self._disk.sync(descriptor)
            descriptor = self._disk.publish(descriptor, temporary, path)
            made = path
            self._disk.sync_folder(path.parent)
        except OSError:
            with suppress(OSError):
                self._disk.close(descriptor)
            with suppress(OSError):
                self._disk.remove(made)
            raise
        return descriptor, head

    def reopen(self, path: Path, number: int) -> None:
        """Continue at the end of a segment. Raises OSError, BlockingIOError if another program writes it."""
        descriptor = self._disk.reopen(path)
        try:
            self._disk.lock(descriptor)
        except OSError:
            self._disk.close(descriptor)
            raise
        self._take(descriptor, path, number, path.stat().st_size)

    def _take(self, descriptor: int, path: Path, number: int, size: int) -> None:
        self.size_before += self.size
        self._descriptor, self.path, self.number, self.size = descriptor, path, number, size
        self.kept.clear()
        self._kept_from = size
        self._dropped_here = 0
        self._began_at = self._clock.monotonic_ns()

    def put(self, data: bytes) -> None:
        """Append bytes. A failure begins the next segment or, if that fails too, leaves the bytes in ``kept``."""
        if self._descriptor is None and (self._dropped_here or len(self.kept) + len(data) > self._policy.memory):
            self.dropped += len(data)
            self._dropped_here += len(data)
        else:
            self.kept += data
        if self._descriptor is None:
            self.go_on()
            return
        try:
            self._write_all(self._descriptor, data)
        except OSError as error:
            self._fail(error)
            return
        self.size += len(data)

    def _write_all(self, descriptor: int, data: bytes) -> None:
        rest = memoryview(data)
        while rest:
            taken = self._disk.write(descriptor, rest)
            if taken <= 0:
                raise OSError(errno.EIO, "nothing was written")
            rest = rest[taken:]

    def start_sync(self) -> Callable[[], Callable[[], None]] | None:
        """First of three steps of a sync: returns the step to run without the lock, which returns the step to run with
        it. None if idle.

        Writing thus does not wait for a slow disk.
        """
        if self._descriptor is None or not self.kept:
            return None
        number, written = self.number, self.size
        try:
            own = self._disk.duplicate(self._descriptor)  # the segment may be closed meanwhile
        except OSError as error:
            self._fail(error)
            return None

        def force() -> Callable[[], None]:
            failed: OSError | None = None
            try:
                self._disk.sync(own)
            except OSError as error:
                failed = error
            self._disk.close(own)
            return lambda: self._synced(number, written, failed)

        return force

    def sync(self) -> None:
        """All three steps at once."""
        if (force := self.start_sync()) is not None:
            force()()

    def _synced(self, number: int, written: int, failed: OSError | None) -> None:
        if number != self.number or self._descriptor is None:
            return
        if failed is not None:
            self._fail(failed)
            return
        safe = self.kept.rfind(b"\0", 0, max(0, written - self._kept_from)) + 1
        del self.kept[:safe]
        self._kept_from += safe

    def end(self, last: Callable[[int], bytes]) -> bool:
        """Close the segment; ``last`` gives its last bytes by its size. False if bytes are left in ``kept``."""
        if self._descriptor is None:
            self._tried_at = 0
            self.go_on()
        if self._descriptor is not None:
            self.put(last(self.size))
            self.sync()
        if self._descriptor is not None:
            self._disk.close(self._descriptor)
            self._descriptor = None
        return not self.kept

    def next(self, last: Callable[[int], bytes]) -> None:
        """Close this segment and begin the next one in the same folder."""
        if not self.end(last):
            return
        try:
            self.begin(self.path.parent, self.number + 1)
        except OSError as error:
            self._failed(self.explained(error, self.path))

    def room(self) -> int | None:
        """Free bytes at the segment's disk, None if unknown."""
        try:
            return self._disk.free(self.path.parent)
        except OSError:
            return None

    def _fail(self, error: OSError) -> None:
        """Give this segment up. It is not tried again, because the system may have dropped the data it failed to
        write.
        """
        descriptor, self._descriptor = self._descriptor, None
        if descriptor is not None:
            with suppress(OSError):
                self._disk.close(descriptor)
        self._failed(self.explained(error, self.path))
        self._tried_at = 0
        self.go_on()

    def _failed(self, why: RecordingError) -> None:
        self.trouble = self.last_fault = why
        self.write_faults += 1

    def check_place(self) -> None:
        """Begin the next segment if the file was deleted or moved, because the system still accepts bytes for it
        without an error.
        """
        if self._descriptor is not None and not self._disk.is_at(self._descriptor, self.path):
            self._fail(OSError(errno.ENOENT, "the file was deleted or moved while it was written"))

    def go_on(self) -> None:
        """After a failure, try at limited rate to begin a segment with all data not known to be safe."""
        now = self._clock.monotonic_ns()
        if self._tried_at and now - self._tried_at < self._policy.retry_every * 1e9:
            return
        self._tried_at = now
        why = self.trouble.what if self.trouble else "unknown"
        fault = Fault(why, self.number, self._kept_from, bytes(self.kept), self._dropped_here)
        folder = self.path.parent
        try:
            self._disk.make_folder(folder)
            self.begin(folder, self.number + 1, fault)
        except OSError as error:
            self.trouble = self.explained(error, folder)
        else:
            self.trouble = None  # ``begin`` has forced the segment with all buffered data to the medium

    @staticmethod
    def explained(error: OSError, where: Path) -> RecordingError:
        """The system's error as an error of this package."""
        if error.errno == errno.ENOSPC:
            return NoSpace("the disk is full", where=str(where), remedy="Free some space or record to another disk.")
        if isinstance(error, FileExistsError):
            what, remedy = "a recording with this name exists", "Choose another name."
        elif isinstance(error, BlockingIOError):
            what, remedy = "another program is writing this recording", "Close the recording there first."
        else:
            what, remedy = error.strerror or str(error), "Choose a folder on a writable disk."
        return RecordingUnwritable(what, where=str(where), remedy=remedy)
