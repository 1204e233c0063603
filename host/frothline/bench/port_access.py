"""Access to the port: in a separate process (``port_process``) or in this process (``PortHere``).

Every command uses the separate process, so that a busy page, fit or file access loses no frame of a recording.
``PortHere`` does the same work in this process, for tests that inspect it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Protocol

from frothline.recording.writer import RecordingWriter, WriterStatus
from frothline.rig import Reader, Rig, open_rig


class Writer(Protocol):
    """Interface of a recording that is being written; see ``RecordingWriter``."""

    @property
    def name(self) -> str: ...

    @property
    def path(self) -> Path: ...

    def status(self) -> WriterStatus: ...

    def note(self, kind: str, text: str = "", tick: int = 0) -> None: ...

    def anchor(self, tick: int, reason: str = "periodic", *, unix_ns: int, monotonic_ns: int) -> None: ...

    def port(self, event: str, detail: str = "") -> None: ...

    def alarm(self, severity: str, code: str, text: str, tick: int = 0) -> None: ...

    def close(self, reason: str = "stopped") -> None: ...


class PortAccess(Protocol):
    """Interface to the port. ``record`` begins a recording of the open rig, ``resume`` continues an interrupted one,
    ``detach`` stops its bytes, ``close`` ends all.
    """

    def open(self, url: str | None) -> Rig: ...

    def record(self, folder: Path, name: str, source: str) -> Writer: ...

    def resume(self, path: Path) -> Writer: ...

    def detach(self) -> None: ...

    def close(self) -> None: ...


class PortHere:
    """Reads the port and writes the recording in threads of this process."""

    def __init__(self) -> None:
        self._reader: Reader | None = None

    def open(self, url: str | None) -> Rig:
        """Raises as ``open_rig``."""
        rig = open_rig(url)
        assert isinstance(rig.reader, Reader)
        self._reader = rig.reader
        return rig

    def record(self, folder: Path, name: str, source: str) -> RecordingWriter:
        """Raises as ``RecordingWriter.create``."""
        return self._attached(RecordingWriter.create(folder, name, source=source))

    def resume(self, path: Path) -> RecordingWriter:
        """Continue an interrupted recording; ``path`` is its last segment. Raises as ``RecordingWriter.resume``."""
        return self._attached(RecordingWriter.resume(path))

    def _attached(self, writer: RecordingWriter) -> RecordingWriter:
        if self._reader is not None:
            self._reader.attach(writer.write, writer.port)
        return writer

    def detach(self) -> None:
        """Stop the recording's bytes."""
        if self._reader is not None:
            self._reader.detach()

    def close(self) -> None:
        """Do nothing: the rig closes its port."""


def in_own_process() -> Any:
    """A ``PortProcess``, imported late because it needs the multiprocessing library."""
    from frothline.bench.port_process import PortProcess  # noqa: PLC0415

    return PortProcess()
