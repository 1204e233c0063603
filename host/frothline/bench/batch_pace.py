"""The pause between two batches of messages that are converted: longer while nobody looks at the readings.

The conversion of a batch costs almost the same for one message as for a hundred. The recording is not affected: the
bytes are written by another thread as they come.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from frothline.rig.link import BATCH
from frothline.wire import WIRE
from frothline.wire.ticks import ahead

RESTING = 0.25  # s between two batches while nobody looks
HURRIED = 0.04  # s between two batches of a simulation or a playback that runs faster: it waits until they are handled
SEEN = 2.0  # s after the latest look for which somebody looks
_REAL_TIME = 1.5  # a simulation or a playback that runs faster than this gets no longer pause


class BatchPace:
    """``looked`` is called by any thread that reads the state; ``pause`` by the live thread after each batch."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._looked = clock()
        self._before: tuple[int, float] | None = None  # tick and time of the batch before

    def looked(self) -> None:
        self._looked = self._clock()

    def pause(self, tick: int | None) -> float:
        """Seconds to the next batch. ``tick`` : newest board tick of this batch, None without any."""
        now = self._clock()
        before, self._before = self._before, None if tick is None else (tick, now)
        if before is None or tick is None:
            return BATCH
        if ahead(tick, before[0]) / WIRE.tick_hz > _REAL_TIME * (now - before[1]):
            return HURRIED
        return BATCH if now - self._looked <= SEEN else RESTING
