"""The recording of a session: its name, its file, the metadata file next to it, and the host's frames in it."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.atomic_file import remove_leftovers
from frothline.bench.interrupted import Interrupted, interrupted
from frothline.bench.snapshot import RecordingState
from frothline.errors import FrothlineError, InputError, RecordingError
from frothline.generator.sheet import write_sheet
from frothline.quantities import shorten
from frothline.recording.sidecar import add_note, clean_name, free_name, stamped, write_metadata
from frothline.recording.summary import GENERATOR_SWEEP
from frothline.sweep.generator_guide import STATES
from frothline.trials.sample_sidecar import append_sample

if TYPE_CHECKING:
    from frothline.bench.port_access import PortAccess, Writer
    from frothline.foam.sample import Weighing
    from frothline.generator.build import Build
    from frothline.rig import MessageBatch, Rig


ANCHOR_EVERY = 10.0  # s between frames that tie the board's clock to the wall clock


_log = logging.getLogger(__name__)


class Recorder:
    """Begins, writes and ends recordings. All methods may be called from any thread."""

    def __init__(self, port: PortAccess, now: Callable[[], float]) -> None:
        self._port = port
        self._now = now
        self.last: Path | None = None  # the last closed recording
        self.interrupted: Interrupted | None = None  # what the current or last recording continues or follows
        self._lock = threading.RLock()
        self._writer: Writer | None = None
        self._path = Path()
        self._began = 0.0
        self._arrival: tuple[int, int, int] | None = None  # tick of the latest line message, unix and monotonic ns
        self._anchored = 0.0
        self._anchor_reason = ""  # of the next anchor, if it is due early

    @property
    def running(self) -> bool:
        return self._writer is not None

    def start(self, rig: Rig, folder: Path, name: str, metadata: Mapping[str, Any]) -> Path:
        """Begin a recording, or continue an interrupted one (see ``bench.interrupted``); returns its path.

        Raises InputError when one is running, RecordingUnwritable, NoSpace.
        """
        with self._lock:
            if self._writer is not None and self._writer.status().ended:
                self.stop(rig, "ended automatically")
            if self._writer is not None:
                raise InputError("a recording is already running", where=str(self._path), remedy="Stop it first")
            remove_leftovers(folder, time.time())
            before = None
            if rig.playback is None:
                before = interrupted(folder, clean_name(name), metadata, rig.answer.identity, time.time())
            if before is not None and not before.obstacle:
                before = self._continue(before, metadata)
            if before is None or before.obstacle:
                self._begin(rig, folder, name, metadata, before)
        rig.describe()  # the stream in the file begins, or continues, with the board's description
        return self._path

    def _begin(
        self, rig: Rig, folder: Path, name: str, metadata: Mapping[str, Any], before: Interrupted | None
    ) -> None:
        name = clean_name(name) or stamped("recording")
        name = free_name(folder, name)
        values = {"recording": name, "source": rig.url, **metadata}
        if before is not None:
            values["after"] = before.words
        about = folder / f"{name}.toml"
        with suppress(OSError):  # the writer says what is wrong with the folder
            # Before the recording, so that none is left without it if the program is stopped between the two.
            folder.mkdir(parents=True, exist_ok=True)
            write_metadata(about, values)
        try:
            writer = self._port.record(folder, name, rig.url)
        except BaseException:
            with suppress(OSError):
                about.unlink()
            raise
        self._began_to_write(writer, self._now(), before)

    def _continue(self, before: Interrupted, metadata: Mapping[str, Any]) -> Interrupted:
        """Continue an interrupted recording, or return it with the obstacle."""
        try:
            writer = self._port.resume(before.path)
        except RecordingError as error:
            return replace(before, obstacle=error.what)
        self._began_to_write(writer, self._now() - before.began, before)
        if note := str(metadata.get("note") or ""):
            try:
                add_note(before.path, note)
            except InputError:
                _log.warning("the note could not be saved with the recording", exc_info=True)
        return before

    def _began_to_write(self, writer: Writer, began: float, before: Interrupted | None) -> None:
        self._writer, self._path, self._began = writer, writer.path, began
        self._anchor_reason = "opened"
        self.interrupted = before

    def stop(self, rig: Rig | None, reason: str) -> Path | None:
        """End the recording; returns its path, or None if none was running. Raises RecordingUnwritable if bytes could
        not be saved.
        """
        with self._lock:
            writer = self._writer
            if writer is None:
                return None
            if rig is not None:
                self._port.detach()
            self.anchor("closed")
            self._writer, self.last = None, self._path
        writer.close(reason)
        return self.last

    def put(self, do: Callable[[Writer], object]) -> None:
        """Put a host frame into the recording, if one is running. The writer buffers what it cannot write yet and
        reports it in ``trouble``. A recording closed meanwhile is skipped.
        """
        writer = self._writer
        if writer is not None:
            try:
                do(writer)
            except RecordingError as error:
                _log.warning("a note or time anchor is not in the recording: %s", error)

    def hear(self, batch: MessageBatch) -> None:
        """Store the latest arrival, and write an anchor when one is due."""
        if batch.last_tick is None:
            return
        self._arrival = (batch.last_tick, batch.unix_ns, batch.monotonic_ns)
        if self._writer is not None and (self._anchor_reason or time.monotonic() - self._anchored >= ANCHOR_EVERY):
            self.anchor(self._anchor_reason or "periodic")

    def port_is_back(self) -> None:
        """Write an anchor with the next line message. After a port loss or a reboot only the host's clock covers the
        gap.
        """
        self._anchor_reason = "port_back"

    def anchor(self, reason: str) -> None:
        """Write an anchor that ties the board's clock to the wall clock at the last received frame."""
        if self._arrival is not None:
            tick, unix_ns, monotonic_ns = self._arrival
            self._anchored, self._anchor_reason = time.monotonic(), ""
            self.put(lambda writer: writer.anchor(tick, reason, unix_ns=unix_ns, monotonic_ns=monotonic_ns))

    def keep_sample(self, weighing: Weighing, ago: float = 0.0) -> None:
        """Save a sample in the TOML file of the current recording, else of the last one; its container was full ``ago``
        s ago.

        A write error is logged; the sample is also in the recording's note.
        """
        path = self._path if self.running else self.last
        if path is None:
            return
        at = self._now() - self._began - ago
        try:
            append_sample(path.with_suffix(".toml"), weighing, at if self.running else None)
        except (FrothlineError, OSError):
            _log.warning("the sample could not be saved with the recording", exc_info=True)

    def state(self) -> RecordingState | None:
        """The recording's state for pages."""
        writer = self._writer
        if writer is None:
            return None
        status = writer.status()
        return RecordingState(
            writer.name,
            self._path,
            self._now() - self._began,
            status.size,
            trouble="" if status.trouble is None else str(status.trouble),
            ended=status.ended,
            kept=status.kept,
            dropped=status.dropped,
            write_faults=status.write_faults,
        )


def build_metadata(parts: Mapping[str, Any]) -> dict[str, str]:
    """The build of a run for its recording: its name, and the whole sheet as text at that time.

    ``parts`` as in ``Session.start_run``.
    """
    build = parts.get("build") or getattr(parts.get("generator"), "build", None)
    return {} if build is None else {"build": build.name, "build_sheet": write_sheet(build)}


def sweep_metadata(through: str, build: Build | None = None) -> dict[str, str]:
    """Metadata of a sweep's recording: of the source, or ``through`` a generator, "dry" or "wet", with its build as for
    a run. Raises InputError for any other value.
    """
    if not through:
        return {"kind": "sweep"}
    if through not in STATES:
        raise InputError(
            f"“{shorten(through)}” is not a kind of generator sweep", where="through", remedy="Give dry or wet"
        )
    return {"kind": GENERATOR_SWEEP, "through": through, **build_metadata({"build": build})}
