"""How a session gets at its port: in a process of its own (``port_process``), or in this one (``PortHere``).

The process of its own is what every command uses: a page, a fit or a file that keeps this process busy then costs no
frame of a recording. ``PortHere`` does the same work in this process, for tests that reach into it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Protocol

from frothline.recording.writer import RecordingWriter, WriterStatus
from frothline.rig import Reader, Rig, open_rig


class Writer(Protocol):
    """What a session needs of the recording that is written; see ``RecordingWriter``."""

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
    """``record`` begins a recording of the rig that is open, ``detach`` gives it no more bytes, ``close`` ends all."""

    def open(self, url: str | None) -> Rig: ...

    def record(self, folder: Path, name: str, source: str) -> Writer: ...

    def detach(self) -> None: ...

    def close(self) -> None: ...


class PortHere:
    """The port is read, and the recording written, by threads of this process."""

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
        writer = RecordingWriter.create(folder, name, source=source)
        if self._reader is not None:
            self._reader.attach(writer.write, writer.port)
        return writer

    def detach(self) -> None:
        """The recording gets no more bytes."""
        if self._reader is not None:
            self._reader.detach()

    def close(self) -> None:
        """The rig closes its port by itself."""


def in_own_process() -> Any:
    """A ``PortProcess``; loaded late because it needs the libraries of processes."""
    from frothline.bench.port_process import PortProcess  # noqa: PLC0415

    return PortProcess()
