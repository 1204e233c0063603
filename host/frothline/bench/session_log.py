"""The log of a session: marks and notes, shown on the pages and written to the current recording."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from frothline.bench.snapshot import SessionMark

if TYPE_CHECKING:
    from frothline.bench.recorder import Recorder
    from frothline.run.watch.alarms import Alarm

KEEP_MARKS = 50


class SessionLog:
    """Marks and notes of a session; ``marks`` are the newest 50, newest last. ``now`` gives session time in s, ``tick``
    the board's newest tick.
    """

    def __init__(self, recorder: Recorder, now: Callable[[], float], tick: Callable[[], int]) -> None:
        self.marks: tuple[SessionMark, ...] = ()
        self._recorder = recorder
        self._now = now
        self._tick = tick

    def add_mark(self, kind: str, text: str) -> None:
        """Show a mark; marks written by the board or the reader need no more."""
        self.marks = (*self.marks[-KEEP_MARKS + 1 :], SessionMark(self._now(), kind, text))

    def note(self, text: str, kind: str = "note") -> None:
        """Show a sentence and write it to the recording; ``kind`` has up to 16 bytes."""
        self.add_mark(kind, text)
        tick = self._tick()
        self._recorder.put(lambda writer: writer.note(kind, text, tick))

    def alarm(self, alarm: Alarm) -> None:
        """Write an alarm to the recording when it is raised, and a note when it ends."""
        if not alarm.active:
            self.note(f"{alarm.title}: over", kind="alarm over")
            return
        text, tick = f"{alarm.title}: {alarm.seen}", self._tick()
        self.add_mark("alarm", text)
        self._recorder.put(lambda writer: writer.alarm(alarm.severity, alarm.code, text, tick))
