"""The writer of recordings: the board's bytes unchanged, with frames of the host between them.

**Format 1.** A recording is one or more *segments*, files of one stem::

    name.froth  name.s001.froth  name.s002.froth …      name.toml   what people write about it

Each segment is a string of frames as on the wire (bit by bit in ``firmware/README.md``, layouts in
``wire/messages.toml``): a stuffed payload with its check, closed by one zero byte; further zeros between frames mean
nothing. Ids from 0x80 are the host's: written by this module, never sent to a board, with a sequence of their own.

1. Each segment begins with ``recording_opened``: format, hash of the layouts, number of the segment, and the
   identity that all segments of one recording share. From segment 1 on, the last description of the board with
   all that follows it is repeated, so that a segment can be read without those before it.
2. Then the board's bytes, verbatim, damage included. Host frames are only at the end of a board's frame. When a frame
breaks off (port lost, end of recording, writer killed) one zero byte follows it. 3. ``anchor`` ties the board's clock
to the wall clock; ``port`` is lost, back or board_reset; ``note`` has texts of people (kinds mark, note, step, sample),
in several frames with the same times if long. Two kinds are
   the writer's own: ``fault`` (a write failed; what may be missing) and, only directly behind a segment's head,
   ``repeats``: its text is a decimal offset; the segment before is valid up to there, and its rest is repeated here.
4. ``recording_resumed`` follows where writing was resumed after a crash, ``recording_closed`` ends a segment in order.
   A segment without it was cut off, or is being written now: then it is valid up to its last zero byte.

***Guarantees.** Bytes are passed to the system unbuffered before they are decoded, so that the end of the process loses
nothing. Once a second, at marks and at the end they are forced to the medium, so that a power cut loses about 1 s. A
write or sync that fails is not tried again on the same file (the system may have dropped the bytes and forgotten): data
not known to be safe stay in memory and are written to a new segment. The same happens when the file was deleted or
moved, which is checked once a second. Nothing is ever truncated.
"""

from __future__ import annotations

import secrets
import threading
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from frothline.errors import NoSpace, RecordingError, RecordingUnwritable
from frothline.recording.disk import Disk, SystemClock
from frothline.recording.host_frames import BoardFrames, HostFrames
from frothline.recording.segments import Fault, Policy, Segments, segment_path, stem_and_number
from frothline.recording.unfinished import NEXT_FOLLOWS, Resumed, unfinished


@dataclass(frozen=True)
class WriterStatus:
    """The status of a recording that is being written.

    path : the current segment
    size : bytes in all its segments
    kept : bytes that are not yet known to be on the medium
    dropped : bytes that could not be saved
    trouble : reason why nothing can be written now; None while bytes reach the disk
    write_faults : times that a segment had to be given up
    last_fault : the last reason for that, resolved or not
    ended : the recording is closed and takes no more bytes
    """

    path: Path
    size: int
    kept: int
    dropped: int
    trouble: RecordingError | None
    write_faults: int
    last_fault: RecordingError | None
    ended: bool


class RecordingWriter:
    """Writes one recording. All methods may be called from any thread. Made by ``create`` or ``resume``.

    ``write`` does not raise when the disk fails: it buffers the bytes and continues in a new segment as soon as one can
    be written. ``status`` has the details.
    """

    def __init__(
        self,
        folder: Path,
        name: str,
        *,
        source: str,
        identity: bytes,
        policy: Policy | None = None,
        disk: Disk | None = None,
        clock: SystemClock | None = None,
        background: bool = True,
        resumed: Resumed | None = None,
    ) -> None:
        """Raises OSError if the first bytes cannot be written."""
        self.name, self.identity = name, identity
        self.closed = False
        self._policy, self._clock = policy or Policy(), clock or SystemClock()
        self._frames = HostFrames(identity, source, self._clock)
        self._segments = Segments(folder, name, self._head, policy=self._policy, disk=disk or Disk(), clock=self._clock)
        self._late = 0  # bytes that came after the end
        self._board = BoardFrames()
        self._queue: list[bytes] = []  # host frames that wait for a board's frame to end
        self._queued_at = 0
        self._sync_wanted = False
        self._synced_at = self._looked_at = self._place_checked_at = self._clock.monotonic_ns()
        self._lock = threading.RLock()
        self._wake = threading.Event()
        if resumed is None:
            free = self._segments.room()
            if free is not None and free < self._policy.free_floor:
                raise self._no_space(free)
            self._segments.begin(folder, 0)
        else:
            self._go_on(resumed)
        self._thread = threading.Thread(target=self._run, name="recording", daemon=True) if background else None
        if self._thread is not None:
            self._thread.start()

    def _go_on(self, resumed: Resumed) -> None:
        self._board.see(resumed.data + b"\0")
        if resumed.next_sequence is None:
            self._segments.reopen(resumed.path, resumed.number)
            # The zero ends a torn frame; without it the next valid frame would be read as its rest.
            self._segments.put(b"\0" + self._frames.resumed())
        else:  # killed between the end of a segment and the next one
            self._frames.count_from(resumed.next_sequence)
            self._segments.begin(resumed.path.parent, resumed.number + 1)
            self._frames.count_from(0)
            self._segments.put(self._frames.resumed())
        self._segments.sync()

    @classmethod
    def create(
        cls,
        folder: str | Path,
        name: str,
        *,
        source: str = "",
        policy: Policy | None = None,
        disk: Disk | None = None,
        clock: SystemClock | None = None,
        background: bool = True,
    ) -> RecordingWriter:
        """Create a recording. ``source`` is the port.

        With ``background`` a separate thread forces bytes to the medium; without it, ``write`` does so when due. Raises
        RecordingUnwritable (also if the name is taken) and NoSpace.
        """
        folder = Path(folder)
        path = segment_path(folder, name, 0)
        if not name or name.startswith(".") or set(name) & set('/\\:*?"<>|\0') or stem_and_number(path)[1]:
            raise RecordingUnwritable(
                f"{name!r} is not a valid recording name", remedy="Use letters, digits, spaces, '-' and '_'."
            )
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except FileExistsError as error:
            raise RecordingUnwritable(
                "a file has the name of the folder", where=str(folder), remedy="Choose another folder."
            ) from error
        except OSError as error:
            raise Segments.explained(error, folder) from error
        try:
            return cls(
                folder,
                name,
                source=source,
                identity=secrets.token_bytes(16),
                policy=policy,
                disk=disk,
                clock=clock,
                background=background,
            )
        except OSError as error:
            raise Segments.explained(error, path) from error

    @classmethod
    def resume(
        cls,
        path: str | Path,
        *,
        policy: Policy | None = None,
        disk: Disk | None = None,
        clock: SystemClock | None = None,
        background: bool = True,
    ) -> RecordingWriter:
        """Resume a recording that was cut off by a crash; ``path`` is its last segment.

        Raises NotARecording, NewerFormat, and RecordingUnwritable if it was closed in order or another program
        writes it.
        """
        resumed = unfinished(Path(path))
        try:
            return cls(
                resumed.path.parent,
                stem_and_number(resumed.path)[0],
                source=resumed.source,
                identity=resumed.identity,
                policy=policy,
                disk=disk,
                clock=clock,
                background=background,
                resumed=resumed,
            )
        except OSError as error:
            raise Segments.explained(error, resumed.path) from error

    @property
    def path(self) -> Path:
        """The current segment."""
        return self._segments.path

    @property
    def size(self) -> int:
        """Bytes in that segment."""
        return self._segments.size

    @property
    def kept(self) -> int:
        """Bytes that are not yet known to be on the medium."""
        return len(self._segments.kept)

    @property
    def trouble(self) -> RecordingError | None:
        """Reason why nothing can be written now; None again when the next segment is on the medium."""
        return self._segments.trouble

    @property
    def dropped(self) -> int:
        """Bytes that could not be saved."""
        return self._segments.dropped + self._late

    def status(self) -> WriterStatus:
        """The status at one time; never waits for the disk."""
        one = self._segments
        return WriterStatus(
            one.path,
            one.size_before + one.size,
            len(one.kept),
            self.dropped,
            one.trouble,
            one.write_faults,
            one.last_fault,
            self.closed,
        )

    # --- what is written ---------------------------------------------------------------------------------------

    def write(self, chunk: bytes | bytearray | memoryview) -> None:
        """Write received bytes of the board, in any chunks."""
        data = bytes(chunk)
        if not data:
            return
        with self._lock:
            if self.closed:
                self._late += len(data)
                return
            self._board.see(data)
            end = data.find(b"\0") + 1
            if self._queue and end:
                self._segments.put(data[:end] + self._take_queue())
                data = data[end:]
            end = data.rfind(b"\0") + 1
            if end and self._segments.full:
                self._segments.put(data[:end])
                data = data[end:]
                self._segments.next(lambda size: self._last(NEXT_FOLLOWS, size))
            if data:
                self._segments.put(data)
        self._sync_if_due()

    def anchor(
        self, tick: int, reason: str = "periodic", *, unix_ns: int | None = None, monotonic_ns: int | None = None
    ) -> None:
        """Write an anchor: the board's ``tick`` of a frame that arrived at those times (ns, default now)."""
        with self._lock:
            self._host(self._frames.anchor(tick, reason, unix_ns, monotonic_ns))

    def note(self, kind: str, text: str = "", tick: int = 0) -> None:
        """Write a mark or sentence of the operator at the board's ``tick``; forced to the medium."""
        with self._lock:
            self._host(self._frames.note(kind, text, tick))
        self._want_sync()

    def port(self, event: str, detail: str = "") -> None:
        """Write ``lost``, ``back`` or ``board_reset``; an incomplete board frame is given up."""
        with self._lock:
            self._host(self._frames.port(event, detail), torn=True)
        self._want_sync()

    def alarm(self, severity: str, code: str, text: str, tick: int = 0) -> None:
        """Write an alarm of the run watch: ``notice``, ``warning`` or ``alarm``; forced to the medium."""
        with self._lock:
            self._host(self._frames.alarm(severity, code, text, tick))
        self._want_sync()

    def close(self, reason: str = "stopped") -> None:
        """End the recording in order. Raises RecordingUnwritable if bytes are left that could not be written."""
        with self._lock:
            if self.closed:
                return
            safe = self._segments.end(lambda size: self._last(reason, size))
            self.closed = True
        self._wake.set()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join(timeout=5.0)
        if not safe:
            raise RecordingUnwritable(
                f"the last {self.kept} bytes could not be written: {self.trouble.what if self.trouble else 'unknown'}",
                where=str(self.path),
                remedy="What was written before is safe.",
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, _: TracebackType | None) -> None:
        self.close("stopped" if kind is None else f"ended by {kind.__name__}")

    # --- what is due ---------------------------------------------------------------------------------------------

    def sync(self) -> None:
        """Force all written bytes to the medium now."""
        with self._lock:
            self._synced_at = self._clock.monotonic_ns()
            self._sync_wanted = False
            force = self._segments.start_sync()
        if force is not None:
            done = force()
            with self._lock:
                done()

    def idle(self) -> None:
        """Do due work without new bytes: held host frames, sync, free space, a new try after a failure."""
        with self._lock:
            if self.closed:
                return
            now = self._clock.monotonic_ns()
            if self._queue and now - self._queued_at > self._policy.hold * 1e9:
                self._give_up_frame(self._take_queue())  # the board stopped in the middle of a frame
            if not self._segments.writable:
                self._segments.go_on()
            elif now - self._place_checked_at >= self._policy.sync_every * 1e9:
                self._place_checked_at = now
                self._segments.check_place()
            if now - self._looked_at > self._policy.free_every * 1e9:
                self._looked_at = now
                self._look_for_room()
        self._sync_if_due()

    def _look_for_room(self) -> None:
        free = self._segments.room()
        if free is None or free >= self._policy.free_floor or not self._segments.writable:
            return
        self._segments.trouble = self._no_space(free)
        self._segments.end(lambda size: self._last("the disk is nearly full", size))
        self.closed = True

    def _run(self) -> None:
        while not self.closed:
            self._wake.wait(min(self._policy.hold, self._policy.sync_every) / 2)
            self._wake.clear()
            self.idle()
            if self._sync_is_due():
                self.sync()

    def _sync_is_due(self) -> bool:
        return self._sync_wanted or self._clock.monotonic_ns() - self._synced_at >= self._policy.sync_every * 1e9

    def _sync_if_due(self) -> None:
        if self._thread is None and self._sync_is_due():
            self.sync()

    def _want_sync(self) -> None:
        with self._lock:
            if self._queue:  # to be written, and forced, when the board's frame has ended
                self._sync_wanted = True
                return
        self.sync()

    # --- host frames ---------------------------------------------------------------------------------------------

    def _host(self, frame: bytes, *, torn: bool = False) -> None:
        if self.closed:
            raise RecordingUnwritable("the recording is closed", where=str(self.path))
        if not self._board.partial:
            self._segments.put(frame)
        elif torn:
            self._give_up_frame(self._take_queue() + frame)
        else:
            if not self._queue:
                self._queued_at = self._clock.monotonic_ns()
            self._queue.append(frame)

    def _give_up_frame(self, behind: bytes) -> None:
        self._segments.put(b"\0" + behind)
        self._board.partial.clear()

    def _take_queue(self) -> bytes:
        frames = b"".join(self._queue)
        self._queue.clear()
        return frames

    def _head(self, number: int, fault: Fault | None) -> bytes:
        """First bytes of a segment."""
        head = self._frames.opened(number, fault) + (self._board.description() if number else b"")
        return head if fault is None else head + fault.kept + (b"\0" if fault.lost else b"")

    def _last(self, reason: str, size: int) -> bytes:
        """Last bytes of a segment, after the held host frames."""
        # A frame that goes on in the next segment has not been written yet; one that is cut off has.
        torn = b"\0" if bytes(self._segments.kept[-1:]) not in {b"", b"\0"} else b""
        held = torn + self._take_queue()
        return held + self._frames.closed(size + len(held), reason)

    def _no_space(self, free: int) -> NoSpace:
        return NoSpace(
            f"only {free / 1e6:.0f} MB are free, the minimum is {self._policy.free_floor / 1e6:.0f} MB",
            where=str(self.path.parent),
            remedy="Free some space or record to another disk.",
        )
