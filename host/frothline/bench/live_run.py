"""The run of a session: the live thread feeds it; any thread reads it and adds samples."""

from __future__ import annotations

import logging
import threading
import traceback
from collections.abc import Mapping
from dataclasses import replace
from math import nan
from typing import TYPE_CHECKING

from frothline.errors import InputError

if TYPE_CHECKING:
    from frothline.foam.sample import FoamSample, Weighing
    from frothline.run.run import Run
    from frothline.run.state import RunState
    from frothline.run.watch.alarms import Alarm
    from frothline.sensors.series import Series

_log = logging.getLogger(__name__)


class LiveRun:
    """Holds one run at a time; ``state`` is the state of the latest run, also after its stop."""

    def __init__(self) -> None:
        self.state: RunState | None = None
        self._run: Run | None = None
        self._last: Run | None = None  # the active run, or the last one
        self._told: set[int] = set()  # numbers of the run's alarms already returned
        self._failures: set[str] = set()  # errors of feeding this run, each logged once
        self._lock = threading.Lock()

    @property
    def on(self) -> bool:
        """Whether a run is active."""
        return self._run is not None

    def start(self, run: Run) -> None:
        with self._lock:
            self._run, self._last, self.state = run, run, run.state
            self._told, self._failures = set(), set()

    def stop(self) -> RunState | None:
        """Stop the run; returns its last state, None if none was running."""
        with self._lock:
            run, self._run = self._run, None
            if run is None:
                return None
            run.stop()
            self.state = run.state
            return self.state

    def add_sample(self, weighing: Weighing, time: float = nan) -> FoamSample:
        """Add a foam sample. Raises InputError without a run or if the readings contradict each other."""
        with self._lock:
            if self._run is None:
                raise InputError("no run is going on", where="run", remedy="Start a run first")
            sample = self._run.add_sample(weighing, time)
            self.state = self._run.state
            return sample

    def correct_sample(self, number: int, weighing: Weighing, time: float = nan, *, counts: bool = True) -> FoamSample:
        """Correct a sample of the active run or of the last one; arguments and errors as in ``Run.correct_sample``."""
        with self._lock:
            if self._last is None:
                raise InputError("there was no run yet", where="run", remedy="Start a run first")
            sample = self._last.correct_sample(number, weighing, time, counts=counts)
            self.state = self._last.state
            return sample

    def feed(self, found: Mapping[str, Series]) -> list[Alarm]:
        """Take the next batch, times on the session's clock; returns new and ended alarms, each once."""
        with self._lock:
            if self._run is None or not found:
                return []
            try:
                changed = self._run.feed(found)
                self.state = self._run.state
            except Exception as error:  # an error in the run must not stop link, pages and recording
                failure = f"{type(error).__name__} in {traceback.extract_tb(error.__traceback__)[-1]}"
                if failure not in self._failures:
                    self._failures.add(failure)
                    _log.exception("a batch of the run could not be processed; logged once")
                if self.state is not None:
                    self.state = replace(self.state, trouble=f"readings could not be processed: {error}")
                return []
            news = [alarm for alarm in changed if not alarm.active or alarm.number not in self._told]
            self._told.update(alarm.number for alarm in news)
            return news

    def gap(self) -> None:
        """Note a gap in the readings or a restart of the board's time."""
        with self._lock:
            if self._run is not None:
                self._run.gap()
