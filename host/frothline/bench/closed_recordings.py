"""The overview of a recording, stored when the recording is closed, so that its first look on a page is quick.

It is made in a background thread while nothing is recorded. A recording that begins meanwhile stops it: then the first
look makes it, as for a recording that was never open here. Short recordings are left to their first look.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from frothline.bench.background import in_thread
from frothline.bench.snapshot import Snapshot
from frothline.errors import FrothlineError

LEAST = 20_000_000  # bytes, below which a first look takes less than a second


class _Stopped(Exception):
    """Something is being recorded."""


class ClosedRecordings:
    """Notices which recording was closed last; ``calibration`` gives the one that the pages read it with."""

    def __init__(
        self,
        calibration: Callable[[], Any],
        start: Callable[[Callable[[], None]], None] = in_thread,
        least: int = LEAST,
    ) -> None:
        self._calibration, self._start, self._least = calibration, start, least
        self._known: Path | None = None
        self._recording = threading.Event()

    def notice(self, now: Snapshot) -> None:
        """Look at the newest snapshot; returns at once."""
        if now.recording is not None:
            self._recording.set()
            return
        self._recording.clear()
        path, self._known = self._known, now.last_recording
        if self._known is not None and path != self._known:
            closed = self._known
            self._start(lambda: self._store(closed))

    def _store(self, path: Path) -> None:
        from frothline.readings.overview import overview  # noqa: PLC0415  a second to load
        from frothline.recording.reader import segments_of  # noqa: PLC0415

        try:
            if sum(one.stat().st_size for one in segments_of(path)) >= self._least:
                overview(path, self._calibration(), points=1, progress=self._go_on)
        except (_Stopped, FrothlineError, OSError):
            return  # the first look makes it, or says why it cannot

    def _go_on(self, share: float) -> None:
        if self._recording.is_set():
            raise _Stopped(f"at {share:.0%}")
