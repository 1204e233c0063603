"""What takes a while to find out, as it was a few seconds ago: no message to a page ever waits for it."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from typing import Generic, TypeVar

Found = TypeVar("Found")

_log = logging.getLogger(__name__)


class Slow(Generic[Found]):
    """``look`` gives what ``find`` found last (before it: ``first``); it is found anew once it is ``age`` s old.

    An error of ``find`` is logged, and what was known stays.
    """

    def __init__(
        self, find: Callable[[], Found], first: Found, age: float, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._find, self._found, self._age, self._clock = find, first, age, clock
        self._lock = threading.Lock()
        self._at = -1e9
        self._expired = False
        self.working = False

    def look(self) -> Found:
        """At once."""
        with self._lock:
            due = not self.working and self._clock() - self._at > self._age
            self.working = self.working or due
        if due:
            threading.Thread(target=self._work, name="frothline-slow", daemon=True).start()
        return self._found

    def expire(self) -> None:
        """Have it found anew at the next look."""
        self._at, self._expired = -1e9, True

    def _work(self) -> None:
        self._expired = False
        try:
            self._found = self._find()
        except Exception:  # a page that shows nothing new is better than one that shows nothing
            _log.exception("what a page shows could not be brought up to date")
        finally:
            self._at = -1e9 if self._expired else self._clock()  # what was expired meanwhile is found once more
            self.working = False
