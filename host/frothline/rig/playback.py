"""The clock of a playback: pause, speed, and how far it has come. Thread-safe."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from frothline.errors import InputError

FASTEST = 60.0  # times real time


@dataclass(frozen=True)
class PlaybackState:
    """State of a playback.

    file : name of the recording
    played : board time played so far, s
    share : how far it has come, 0 to 1, by bytes of the recording
    speed : times real time; 0 for as fast as it is read
    paused : whether it is paused
    ended : whether it has come to its end
    """

    file: str
    played: float
    share: float
    speed: float
    paused: bool
    ended: bool


class Playback:
    """The clock of one playback. ``clock`` returns s that only grow; ``size`` is the recording's, in bytes."""

    def __init__(self, path: Path, size: int, speed: float, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._file, self.size = path.name, size
        self._clock = clock
        self._lock = threading.Lock()
        self._speed = speed
        self._paused = self._ended = False
        self._due, self._since = 0.0, clock()  # s of board time that were due at ``since``
        self._played, self._read = 0.0, 0

    @property
    def unpaced(self) -> bool:
        """Whether frames are handed out as fast as they are read."""
        with self._lock:
            return self._speed == 0.0 and not self._paused

    def due(self) -> float:
        """Board time that may be played by now, s."""
        with self._lock:
            return self._now()

    def _now(self) -> float:
        return self._due if self._paused else self._due + (self._clock() - self._since) * self._speed

    def begin_at(self, played: float, read: int) -> None:
        """Begin within the recording, after ``played`` s of board time and ``read`` bytes."""
        with self._lock:
            self._due, self._since = played, self._clock()
            self._played, self._read = played, read

    def note(self, played: float, read: int, *, ended: bool) -> None:
        """Take how far the port has come: s of board time, and bytes of the recording."""
        with self._lock:
            self._played, self._read, self._ended = played, read, ended

    def state(self) -> PlaybackState:
        with self._lock:
            share = 1.0 if self._ended else min(self._read / self.size, 1.0) if self.size else 0.0
            return PlaybackState(self._file, self._played, share, self._speed, self._paused, self._ended)

    def pause(self, paused: bool) -> None:
        """Pause, or go on."""
        with self._lock:
            self._due, self._since = (self._played if self._speed == 0.0 else self._now()), self._clock()
            self._paused = paused

    def set_speed(self, speed: float) -> None:
        """Play at ``speed`` times real time. Raises InputError outside 0 (excluded) to 60."""
        if not 0.0 < speed <= FASTEST:
            raise InputError(f"speed {speed:g} of the replay is not possible", remedy=f"Give 0.1 to {FASTEST:g}")
        with self._lock:
            self._due, self._since = (self._played if self._speed == 0.0 else self._now()), self._clock()
            self._speed = speed
