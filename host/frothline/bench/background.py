"""Values computed in background threads; readers get the last result without waiting."""

from __future__ import annotations

import logging
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from frothline.errors import FrothlineError

AGE = 5.0  # s between two checks of a folder
LINGERS = 1.0  # s that a thread waits for the next question: its connection to the port's process is used again


MOST_ANSWERS = 120


@dataclass(frozen=True)
class BackgroundAnswer:
    """Result of a background computation: ``value`` when it is ready, ``trouble`` the reason when it failed."""

    value: Any = None
    trouble: str = ""
    working: bool = True


class BackgroundAnswers:
    """Computes each question once, in sequence, in one thread, and caches the latest ``most`` answers."""

    def __init__(self, most: int = MOST_ANSWERS) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._known: OrderedDict[Hashable, BackgroundAnswer] = OrderedDict()
        self._asked: OrderedDict[Hashable, Callable[[], Any]] = OrderedDict()
        self._thread: threading.Thread | None = None

    def look(self, question: Hashable, find: Callable[[], Any]) -> BackgroundAnswer:
        """The answer, or an answer with ``working`` set while it is computed."""
        with self._lock:
            known = self._known.get(question)
            if known is not None:
                self._known.move_to_end(question)
                return known
            self._asked.setdefault(question, find)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="frothline-answers", daemon=True)
                self._thread.start()
        return BackgroundAnswer()

    def _work(self) -> None:
        while True:
            with self._lock:
                if not self._asked:
                    self._thread = None
                    return
                question, find = self._asked.popitem()  # the newest question first: a page shows it now
            try:
                answer = BackgroundAnswer(find(), working=False)
            except FrothlineError as error:
                answer = BackgroundAnswer(trouble=str(error), working=False)
            except Exception as error:  # any error is reported, so that no page waits for an answer that never comes
                _log.exception("a page's question could not be answered")
                answer = BackgroundAnswer(trouble=f"the calculation failed: {error}", working=False)
            with self._lock:
                self._known[question] = answer
                while len(self._known) > self._most:
                    self._known.popitem(last=False)


Found = TypeVar("Found")


_log = logging.getLogger(__name__)


class Background(Generic[Found]):
    """``look`` returns the last result of ``find`` (``first`` before that); ``find`` runs again when it is ``age`` s
    old.

    An error of ``find`` is logged and the last result stays.
    """

    def __init__(
        self, find: Callable[[], Found], first: Found, age: float, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._find, self._found, self._age, self._clock = find, first, age, clock
        self._asked = threading.Condition()
        self._waits = False  # whether a thread waits for the next question
        self._at = -1e9
        self._expired = False
        self.working = False

    def look(self) -> Found:
        """Return the last result at once."""
        with self._asked:
            if not self.working and self._clock() - self._at > self._age:
                self.working = True
                if self._waits:
                    self._asked.notify()
                else:
                    threading.Thread(target=self._work, name="frothline-slow", daemon=True).start()
        return self._found

    def expire(self) -> None:
        """Run ``find`` again at the next ``look``."""
        self._at, self._expired = -1e9, True

    def _work(self) -> None:
        while True:
            self._expired = False
            try:
                self._found = self._find()
            except Exception:  # the page goes on showing the last result
                _log.exception("what a page shows could not be brought up to date")
            with self._asked:
                self._at = -1e9 if self._expired else self._clock()  # expired during the computation: compute again
                self.working = False
                self._waits = True
                asked = self._asked.wait_for(lambda: self.working, LINGERS)
                self._waits = False
            if not asked:
                return


def at_once(work: Callable[[], None]) -> None:
    """Do it in this thread."""
    work()


def in_thread(work: Callable[[], None]) -> None:
    """Do it in a thread of its own; an error is logged."""

    def run() -> None:
        try:
            work()
        except Exception:  # a page that shows nothing new is better than one that shows nothing
            _log.exception("work in the background failed")

    threading.Thread(target=run, name="frothline-work", daemon=True).start()
