"""The link to the rig: opens the port, retries until a rig answers, and counts lost data."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from frothline.bench.snapshot import ABSENT, CLOSED, ENDED, LIVE, LOST, OPENING, QUIET, LinkState, Losses
from frothline.errors import FrothlineError, PortError
from frothline.simulation.options import is_faster

if TYPE_CHECKING:
    from frothline.bench.port_access import PortAccess
    from frothline.rig import LinkEvent, Rig

QUIET_AFTER = 1.0  # s without a frame
TRY_AGAIN_AFTER = 2.0  # s between two searches for a rig


class LinkMonitor:
    """Opens and watches the link. ``rig`` is the open rig or None. ``url`` None searches for it. ``now`` returns the
    session time in s.

    The opener has its own thread. The rig's live thread calls ``heard``, ``health`` and ``event``; any thread calls
    ``state`` and ``losses``.
    """

    def __init__(self, port: PortAccess, url: str | None, now: Callable[[], float]) -> None:
        self.url = url
        self.rig: Rig | None = None
        self._port = port
        self._now = now
        self._state = (OPENING, "looking for the rig", 0.0)
        self._error: dict[str, str] | None = None
        self._other_board = ""  # message about another board that answers in place of this session's
        self._last_batch = (-np.inf, -np.inf)  # on the computer's clock, and session time
        self._times_lost = 0
        self._resets = 0
        self._health: dict[str, int] = {}
        self._lock = threading.RLock()
        self._stop = threading.Event()
        self._opener: threading.Thread | None = None

    # --- life -------------------------------------------------------------------------------------------------------

    def open(self, begin: Callable[[Rig], object]) -> None:
        """Open the rig, then ``begin`` with it. Raises PortError."""
        rig = self._port.open(self.url)
        with self._lock:
            if self._stop.is_set():
                rig.close()
                raise PortError("the session was closed while the rig was being opened", where=rig.url)
            self.rig = rig
        self._error, self._other_board = None, ""
        self._set(LIVE, "Connected")
        begin(rig)

    def keep_opening(self, begin: Callable[[Rig], object]) -> None:
        """Open the rig in its own thread; retry until a rig answers."""

        def work() -> None:
            while not self._stop.is_set():
                try:
                    self.open(begin)
                except FrothlineError as error:
                    self._error = error.as_dict()
                    self._set(ABSENT, error.what)
                except Exception as error:  # the page shows any error rather than waiting
                    self._error = {"code": "port", "what": str(error), "where": self.url or "", "remedy": ""}
                    self._set(ABSENT, str(error))
                else:
                    return
                self._stop.wait(TRY_AGAIN_AFTER)

        self._opener = threading.Thread(target=work, name="frothline-opener", daemon=True)
        self._opener.start()

    def stop_opening(self) -> None:
        self._stop.set()

    def drop(self) -> None:
        """Close the rig, if one is open."""
        with self._lock:
            rig, self.rig = self.rig, None
        if rig is not None:
            rig.close()

    def change(self, url: str) -> None:
        """Close this rig and search for another one."""
        self.drop()
        self.url, self._health = url, {}
        self._set(OPENING, "looking for the rig")

    def close(self) -> None:
        """Close port and rig, and wait for the opener."""
        self.drop()
        self._port.close()  # also ends a running search for the rig
        if self._opener is not None and self._opener is not threading.current_thread():
            self._opener.join(5.0)
        self._set(CLOSED, "closed")

    # --- called by the rig's live thread ----------------------------------------------------------------------------

    def heard(self) -> None:
        """Note the arrival of a batch of messages."""
        self._last_batch = (time.monotonic(), self._now())

    def handled(self) -> None:
        """Say to a simulated rig that is faster than real time how much of what it sent has been handled."""
        rig = self.rig
        if rig is None or rig.simulation is None or not is_faster(rig.url):
            return
        with contextlib.suppress(FrothlineError):  # the rig's process has ended: the link reports that
            rig.simulation.handled(rig.counts.bytes + rig.counts.skipped)

    def health(self, tables: Mapping[str, Any]) -> None:
        """Keep the newest health message of a batch."""
        if "health" in tables:
            newest = tables["health"][-1]
            keys = [key for key in newest.dtype.names if key not in {"id", "sequence", "tick"}]
            self._health = {key: int(newest[key]) for key in keys}

    def event(self, event: LinkEvent) -> None:
        """Count the event and keep its text."""
        if event.kind == "lost":
            self._times_lost += 1
            self._set(LOST, event.words)
        elif event.kind == "back":
            self._other_board = ""
            self._set(LIVE, "Connected")
        elif event.kind == "other_board":
            self._other_board = event.words
            if self._state[0] == LOST:
                self._set(LOST, event.words)
        elif event.kind == "board_reset":
            self._resets += 1

    # --- state ----------------------------------------------------------------------------------------------------

    @property
    def words(self) -> str:
        return self._state[1]

    def state(self) -> LinkState:
        state, words, since = self._state
        rig = self.rig
        arrived, heard = self._last_batch
        if state == LIVE and time.monotonic() - arrived > QUIET_AFTER:
            since = max(since, heard)
            if rig is not None and rig.ended:
                state, words = ENDED, "end of the recording"
            else:
                state, words = QUIET, "the port is open, but no data arrives"
        return LinkState(
            state,
            words,
            rig.url if rig is not None else self.url or "",
            since,
            rig.counts.frames if rig is not None else 0,
            self._error,
            self._other_board,
        )

    def losses(self) -> Losses:
        rig = self.rig
        if rig is None:
            return Losses()
        counts = rig.counts
        return Losses(
            frames=counts.frames,
            damaged=sum(counts.damage.values()),
            damage=dict(counts.damage),
            missing=counts.missing,
            at_least=counts.at_least,
            unknown=counts.unknown,
            skipped_live=counts.skipped,
            times_lost=self._times_lost,
            board_resets=self._resets,
            health=dict(self._health),
        )

    def _set(self, state: str, words: str) -> None:
        if self._state[:2] != (state, words):
            self._state = (state, words, self._now())
