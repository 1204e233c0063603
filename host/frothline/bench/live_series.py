"""Conversion of the board's messages to ring buffers of SI samples, across board resets and port losses.

The board's time restarts at each boot. It is mapped here to session time: seconds on the computer's monotonic clock
since the session began, with board ticks in between. Session time never jumps back.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from frothline.bench.ring_buffer import RingBuffer
from frothline.bench.snapshot import Latest
from frothline.errors import FrothlineError
from frothline.sensors.calibration import Calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Status, at_times, later
from frothline.sensors.status_words import unknown_words

if TYPE_CHECKING:
    from frothline.sensors.budget import Budget
    from frothline.sensors.calibration import ChannelCalibration
    from frothline.sensors.series import Series

# what a budget depends on besides the figure itself: sensors.Conditions
_CONDITIONS = (
    "line_pressure",
    "line_temperature",
    "ambient_pressure",
    "ambient_temperature",
    "ambient_humidity",
    "supply_voltage",
)
STALE_AFTER = 2.5  # s without a new sample: the slowest series come once a second
SLEPT_FROM = 5.0  # s between board time and computer time from one batch to the next: the computer slept meanwhile
_STALE, _UNCALIBRATED = int(Status.STALE), int(Status.UNCALIBRATED)
_FIGURE_OVER = 1.0  # s, averaging time of a shown figure: steady to read, fast enough to set a throttle


class LiveSeries:
    """Ring buffers of all series. Only the live thread writes; any thread reads."""

    def __init__(self, began: float, calibration: Any = None, spool: Any = None) -> None:
        self.rings: dict[str, RingBuffer] = {}
        self.trouble = ""
        self._began = began
        self.calibration = calibration
        self._spool = spool
        self._converter: Any = None
        self._base: float | None = None
        self._latest_time = 0.0
        self._ahead = 0.0  # s: session time minus the computer's clock, of a simulated rig
        self._simulated = self._played = False
        self._arrived: dict[str, float] = {}
        self._figures: dict[str, tuple[tuple[int, bool], Latest]] = {}  # with what each was made from
        self._before: tuple[float, float, float] | None = None  # board, session and wall time of the batch before, s
        # s that the wall clock gained on ours, of the last batches: what came before the sleep may be read after it
        self._steps: deque[float] = deque(maxlen=25)
        self.slept = 0.0  # s for which the computer slept before the last batch, by the wall clock; else 0

    def now(self) -> float:
        """Session time in s. With a rig it is the computer's clock. A simulation or a playback need not keep real time:
        there it is the time of the newest reading, which goes on by the computer's clock while a simulation is silent.
        """
        if self._played and self._base is not None:
            return self._latest_time
        return time.monotonic() - self._began + self._ahead

    def begin_rig(self, *, simulated: bool, played: bool) -> None:
        """Take the following batches from a board, a simulation or a playback. Session time does not jump back."""
        now = self.now()
        self._simulated, self._played = simulated, played
        self._ahead = max(self._ahead, now - (time.monotonic() - self._began))

    def describe(self, tables: Mapping[str, Any]) -> None:
        """Build the converter from a board's first description; it takes later descriptions from the stream."""
        try:
            description = RigDescription.from_tables(tables)
            if self._converter is not None and self._converter.description.label == description.label:
                return
            # a calibration belongs to a board; another board begins without the earlier readings
            self._converter = Converter(description, calibration=self.calibration, spool=self._spool)
        except Exception as error:  # an unreadable description must not stop link and recording
            self.trouble = str(error)
        else:
            self.trouble = ""

    @property
    def converter(self) -> Converter | None:
        """Converter of the connected board; None before its first description."""
        found: Converter | None = self._converter
        return found

    def use(self, calibration: Any) -> None:
        """Use another calibration from the next batch on."""
        self.calibration = calibration
        if self._converter is not None:
            self._converter.use(calibration or Calibration())

    def place_anew(self) -> None:
        """Set the next samples to their arrival time, because the board's time is no longer continuous."""
        self._base = self._before = None

    def _after_sleep(self, found: dict[str, Series], arrived: float) -> dict[str, Series]:
        """The samples of a batch after a sleep of the computer, while the board went on; all of them without one.

        The board's time and the computer's then differ, and each may have wrapped or stood still. New samples are
        placed at their arrival.
        """
        last = max(float(one.time[-1]) for one in found.values())
        wall, before, self.slept = time.time(), self._before, 0.0
        self._before = last, arrived, wall
        if before is None or self._simulated or self._played:
            return found
        board, here = last - before[0], arrived - before[1]
        self._steps.append(wall - before[2] - here)
        if abs(board - here) <= SLEPT_FROM:
            return found
        slept = max(self._steps) + here
        self.slept = slept if slept > SLEPT_FROM else 0.0
        self._base = None
        self.gap()
        awake = {name: later(one, last - SLEPT_FROM) for name, one in found.items()}
        return {name: one for name, one in awake.items() if len(one.time)}

    def take(self, tables: Mapping[str, Any]) -> dict[str, Series]:
        """Convert and store the next batch of messages; returns the series with session times."""
        if self._converter is None:
            return {}
        try:
            found: dict[str, Series] = self._converter.convert(tables)
        except Exception as error:  # an error loses only this batch
            self.trouble = f"a batch of samples could not be converted: {error}"
            return {}
        arrived = time.monotonic() - self._began
        found = {name: one for name, one in found.items() if len(one.time)}
        found = self._after_sleep(found, arrived) if found else found
        if not found:
            return {}
        if self._base is None:
            first = min(float(one.time[0]) for one in found.values())
            last = max(float(one.time[-1]) for one in found.values())
            self._base = max(arrived + self._ahead - last, self._latest_time + 0.01 - first)
        placed = {id(one.time): one.time + self._base for one in found.values()}  # several series have one time
        moved = {name: at_times(one, placed[id(one.time)]) for name, one in found.items()}
        for name, one in moved.items():
            ring = self.rings.get(name)
            if ring is None:
                ring = self.rings[name] = RingBuffer(name, one.unit)
            ring.write(one.time, one.value, one.u, one.status)
            self._latest_time = max(self._latest_time, float(one.time[-1]))
            self._arrived[name] = arrived
        if self._simulated or self._played:
            self._ahead = self._latest_time - arrived
        return moved

    def gap(self) -> None:
        """Put a gap into each series, so that charts show it."""
        for ring in list(self.rings.values()):
            if ring.written:
                ring.gap(float(ring.newest(1).time[-1]) + 1e-3)

    def budgets(self) -> dict[str, Budget]:
        """The uncertainty budget of each known figure at its newest value; some ms each."""
        converter = self._converter
        if converter is None:
            return {}
        now = {name: one.value for name, one in self.latest().items() if one.known}
        stands = {key: now[key] for key in _CONDITIONS if key in now}
        found = {}
        for name, value in now.items():
            try:
                found[name] = converter.budget(name, value, **stands)
            except FrothlineError:
                continue  # no budget at this value: out of the sensor's range, or no value
        return found

    def calibrations(self) -> dict[str, ChannelCalibration]:
        """Calibrated channels of this board, by kind."""
        return {} if self._converter is None else dict(self._converter.calibration.channels)

    def latest(self) -> dict[str, Latest]:
        """Each series' mean over its last second. The uncertainty is not divided by the root of n, because most of a
        sensor's error is common to all samples of a second.
        """
        if not self.rings:
            return {}
        now = time.monotonic() - self._began
        return {
            name: self._figure(name, ring, stale=now - self._arrived.get(name, -np.inf) > STALE_AFTER)
            for name, ring in list(self.rings.items())
        }

    def _figure(self, name: str, ring: RingBuffer, *, stale: bool) -> Latest:
        """The figure of one series. Until its ring has new samples it stays as it is."""
        seen = (ring.written, stale)
        kept = self._figures.get(name)
        if kept is None or kept[0] != seen:
            kept = self._figures[name] = (seen, _mean_figure(ring, stale=stale))
        return kept[1]


def _mean_figure(ring: RingBuffer, *, stale: bool) -> Latest:
    mean = ring.mean(_FIGURE_OVER)
    status = int(Status.MISSING) if mean.last_status is None else mean.last_status
    known = mean.last_known and not stale
    return Latest(
        value=mean.value if known else np.nan,
        u=mean.u if known else np.nan,
        unit=ring.unit,
        status=status | (_STALE if stale else 0),
        time=mean.last_time,
        n=mean.n,
        over=_FIGURE_OVER,
        calibrated=not status & _UNCALIBRATED,
        reason="" if known else unknown_words(status),
    )
