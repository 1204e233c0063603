"""Drift and offset of board time against host time, fitted to the least delayed frames.

A frame never arrives before it was sent, but often later: bridges hold short packets for up to 16 ms, systems are busy.
So arrival against board time is a line with a one-sided cloud above it, and the line sought is the lower edge of the
cloud: of all lines that no arrival is below, the one nearest to them on average. It passes through the edge of the
lower convex hull that spans the mean board time (Moon, Skelly and Towsley, "Estimation and removal of clock skew from
network delay measurements", INFOCOM 1999, where the same line is found by linear programming).

Kept is the least delayed frame of each second of the last ten minutes, so that a clock that warms up is followed and
the work does not grow. What remains is the smallest delay itself, which no one-way measure can see.
"""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from frothline.wire import WIRE
from frothline.wire.ticks import apart

SPAN = 600.0  # s of board time looked back
BUCKET = 1.0  # s
DRIFT_NEEDS = 5.0  # s of data before drift is distinguished from jitter
PLAUSIBLE_DRIFT = 0.02  # ceramic resonators of cheap boards are within 0.5 %; beyond 2 % the ticks are not a clock
EDGE_DRIFT, EDGE_OFFSET = 12.0, 10.0  # see lower_edge


@dataclass(frozen=True)
class ClockFit:
    """host = offset + (1 + drift) * board, both in s; ``u_drift`` and ``u_offset`` are standard uncertainties."""

    offset: float
    drift: float
    u_drift: float
    u_offset: float  # s, at the newest frame, next to the least delay, which cannot be seen
    span: float  # s
    frames: int

    def host(self, board: float) -> float:
        return self.offset + (1.0 + self.drift) * board

    def board(self, host: float) -> float:
        return (host - self.offset) / (1.0 + self.drift)


class DriftEstimator:
    """Estimates the drift. One thread feeds it; any thread reads the fit."""

    def __init__(self, tick_hz: int = WIRE.tick_hz) -> None:
        self._tick_hz = tick_hz
        self._lock = threading.Lock()
        self.restart()

    def restart(self) -> None:
        """The board has started again: forget everything."""
        with self._lock:
            self._last_tick: int | None = None
            self._unwrapped = 0
            self._origin: int | None = None  # ns of the first arrival
            self._frames = 0
            self._least: deque[tuple[float, float]] = deque()  # (board s, arrival s), least delayed of its second
            self._bucket = -1
            self._fit: ClockFit | None = None  # of ``_least`` as it is
            self._shown: tuple[int, ClockFit] | None = None  # the second of a fit, and the fit

    def feed(self, tick: int, arrived_ns: int) -> bool:
        """One frame: its tick (32 bit) and its arrival on the host's monotonic clock. False if the tick went back,
        which means an unnoticed restart of the board; the frame is then ignored.
        """
        with self._lock:
            if self._last_tick is None:
                self._last_tick, self._origin = tick, arrived_ns
            step = apart(tick, self._last_tick)
            if step < 0:
                return False
            self._last_tick = tick
            self._unwrapped += step
            self._frames += 1
            assert self._origin is not None
            board, arrived = self._unwrapped / self._tick_hz, (arrived_ns - self._origin) / 1e9
            bucket = int(board // BUCKET)
            if bucket != self._bucket:
                self._bucket = bucket
                self._least.append((board, arrived))
                while self._least and self._least[0][0] < board - SPAN:
                    self._least.popleft()
                self._fit = None
            elif arrived - board < self._least[-1][1] - self._least[-1][0]:
                self._least[-1] = (board, arrived)
                self._fit = None
            return True

    @property
    def known(self) -> bool:
        return self._frames > 0

    def fit(self) -> ClockFit:
        """The fit so far; ValueError before the first frame."""
        with self._lock:
            if not self._least:
                raise ValueError("no frame received yet")
            if self._fit is None:
                self._fit = lower_edge(np.array(self._least), self._frames)
            return replace(self._fit, frames=self._frames)

    def fit_of_this_second(self) -> ClockFit:
        """The fit at the first question within this second of board time: for figures that are shown many times."""
        if self._shown is None or self._shown[0] != self._bucket:
            self._shown = self._bucket, self.fit()
        return self._shown[1]


def lower_edge(points: NDArray[np.float64], frames: int) -> ClockFit:
    """Fit to (n, 2) rows of (board s, arrival s), in order of board time.

    How well the edge is known follows from how densely frames are above it: with ``n`` seconds whose least delays lie
    ``m`` (median) above the line, edges of made-up clouds scattered by 10 m/n in offset and 12 m/n over the span in
    drift (40 clouds each of 20, 60 and 600 s, 50 and 100 frames a second; the spread falls with n, not with its root,
    as that of extremes does). It presumes that some frames get through with next to no delay beyond the least.
    """
    board, arrived = points[:, 0], points[:, 1]
    span = float(board[-1] - board[0])
    delay = arrived - board
    if span < DRIFT_NEEDS:
        least = float(delay.min())
        return ClockFit(least, 0.0, PLAUSIBLE_DRIFT / np.sqrt(3.0), PLAUSIBLE_DRIFT * max(span, 0.1), span, frames)
    hull: list[int] = []
    for i in range(len(board)):
        while len(hull) > 1 and _is_above(board, delay, hull[-2], hull[-1], i):
            hull.pop()
        hull.append(i)
    middle = float(board.mean())
    right = next(k for k in range(1, len(hull)) if board[hull[k]] >= middle or k == len(hull) - 1)
    a, b = hull[right - 1], hull[right]
    drift = float((delay[b] - delay[a]) / (board[b] - board[a]))
    drift = float(np.clip(drift, -PLAUSIBLE_DRIFT, PLAUSIBLE_DRIFT))
    offset = float((delay - drift * board).min())
    scatter = float(np.median(delay - drift * board - offset))
    edge = scatter / len(board)
    return ClockFit(offset, drift, EDGE_DRIFT * edge / span, EDGE_OFFSET * edge, span, frames)


def _is_above(x: NDArray[np.float64], y: NDArray[np.float64], a: int, b: int, c: int) -> bool:
    """Whether b is on or above the line from a to c."""
    return bool((y[b] - y[a]) * (x[c] - x[a]) >= (y[c] - y[a]) * (x[b] - x[a]))
