"""The run of a session: fed by the live thread, looked at and told of samples by anyone."""

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
    """Holds one run at a time; ``state`` is that of the latest, also after it was stopped."""

    def __init__(self) -> None:
        self.state: RunState | None = None
        self._run: Run | None = None
        self._told: set[int] = set()  # numbers of the run's alarms that were given out
        self._failures: set[str] = set()  # how feeding this run failed, each told once: it may fail at every batch
        self._lock = threading.Lock()

    @property
    def on(self) -> bool:
        """Whether a run goes on."""
        return self._run is not None

    def start(self, run: Run) -> None:
        with self._lock:
            self._run, self.state = run, run.state
            self._told, self._failures = set(), set()

    def stop(self) -> RunState | None:
        """The last state; None when none was running."""
        with self._lock:
            run, self._run = self._run, None
            if run is None:
                return None
            run.stop()
            self.state = run.state
            return self.state

    def add_sample(self, weighing: Weighing, time: float = nan) -> FoamSample:
        """Raises InputError without a run, or where the readings contradict each other."""
        with self._lock:
            if self._run is None:
                raise InputError("there is no run to take a sample of", where="run", remedy="Start a run first")
            sample = self._run.add_sample(weighing, time)
            self.state = self._run.state
            return sample

    def feed(self, found: Mapping[str, Series]) -> list[Alarm]:
        """The next batch, times on the session's clock; gives alarms that are new or over, each once."""
        with self._lock:
            if self._run is None or not found:
                return []
            try:
                changed = self._run.feed(found)
                self.state = self._run.state
            except Exception as error:  # a run that cannot be followed must not stop link, pages and recording
                failure = f"{type(error).__name__} in {traceback.extract_tb(error.__traceback__)[-1]}"
                if failure not in self._failures:
                    self._failures.add(failure)
                    _log.exception("a batch of the run could not be followed; told once")
                if self.state is not None:
                    self.state = replace(self.state, trouble=f"readings could not be followed: {error}")
                return []
            news = [alarm for alarm in changed if not alarm.active or alarm.number not in self._told]
            self._told.update(alarm.number for alarm in news)
            return news

    def gap(self) -> None:
        """The line was broken, or the board's time began again."""
        with self._lock:
            if self._run is not None:
                self._run.gap()
