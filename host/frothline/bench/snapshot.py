"""State of a session as immutable copies, safe for all threads. Contains no formula and no page text.

All values SI. An unknown figure is NaN or None, never the last value.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from frothline.sweep.guide_state import GuideState, SteadyProgress

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from frothline.curve.blower import BlowerFit
    from frothline.curve.steady_points import SteadyPoint
    from frothline.run.state import RunState
    from frothline.sensors.linear_line import LinearLine

# Link states, in their usual order.
OPENING = "opening"  # searching for the rig, or waiting for its first message


ABSENT = "absent"  # no rig answered; retried automatically


LIVE = "live"  # frames arrive


QUIET = "quiet"  # the port is open but no data came for 1 s


LOST = "lost"  # the port disappeared; the program searches for it


ENDED = "ended"  # the playback of a recording has ended


CLOSED = "closed"


LINK_STATES = (OPENING, ABSENT, LIVE, QUIET, LOST, ENDED, CLOSED)


@dataclass(frozen=True)
class LinkState:
    """``state`` is one of LINK_STATES, ``words`` a sentence to show, ``error`` the parts of a FrothlineError."""

    state: str
    words: str
    port: str
    since: float  # s of session time at which this state began
    frames: int  # good frames so far
    error: dict[str, str] | None = None
    other_board: str = ""  # message about another board that answers in place of this session's


@dataclass(frozen=True)
class ChannelState:
    kind: str
    sensor: str
    name: str
    pin: str
    rate: float  # Hz
    present: bool
    line: LinearLine | None = None  # of a linear sensor


@dataclass(frozen=True)
class BoardState:
    """The board, from its own description."""

    label: str
    kind: str  # "atmega328p", "modelled"
    firmware: str  # "0.1.0"
    protocol: int
    boot_count: int
    reset_cause: str  # words
    rate: int  # Hz, line messages
    streaming: bool
    channels: tuple[ChannelState, ...]
    simulated: bool


@dataclass(frozen=True)
class Losses:
    """Lost data since the session began. ``health`` is the latest health message, by field."""

    frames: int = 0
    damaged: int = 0
    damage: dict[str, int] = field(default_factory=dict)  # by reason
    missing: int = 0  # missing frames, by sequence numbers
    at_least: bool = False  # whether more of them may be missing
    unknown: int = 0  # valid frames with an unknown id
    skipped_live: int = 0  # bytes skipped by the pages because they were too slow; a recording has them
    times_lost: int = 0  # port lost
    board_resets: int = 0
    health: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Latest:
    """A figure of one series: mean over the last ``over`` seconds, and its standard uncertainty."""

    value: float
    u: float
    unit: str
    status: int  # bits of sensors.Series.status, of the newest sample
    time: float  # s of session time of the newest sample
    n: int
    over: float
    calibrated: bool = True  # False if its sensor was never calibrated
    reason: str = ""  # reason why it is unknown, in a few words

    @property
    def known(self) -> bool:
        return math.isfinite(self.value)


@dataclass(frozen=True)
class RecordingState:
    name: str
    path: Path
    running: float  # s since its start
    bytes: int
    trouble: str = ""  # reason why nothing can be written now, as text
    ended: bool = False  # it takes no more bytes and does not resume
    kept: int = 0  # bytes not yet confirmed on the disk
    dropped: int = 0  # bytes that could not be saved
    write_faults: int = 0  # times that a write failed and a new segment was begun


@dataclass(frozen=True)
class SessionMark:
    time: float  # s of session time
    kind: str  # "mark", "note", "step", "button"
    text: str


@dataclass(frozen=True)
class ClockState:
    """Board clock against the computer's: ``drift`` is the fraction by which the board runs slow (+) or fast (-)."""

    drift: float
    u_drift: float
    span: float  # s of data behind it
    frames: int


@dataclass(frozen=True)
class Snapshot:
    time: float  # s of session time, now
    folder: Path
    link: LinkState
    board: BoardState | None
    losses: Losses
    latest: dict[str, Latest]
    recording: RecordingState | None
    last_recording: Path | None  # the last closed recording
    marks: tuple[SessionMark, ...]  # newest last, at most 50
    clock: ClockState | None
    steady: SteadyProgress
    points: tuple[SteadyPoint, ...]
    fit: BlowerFit | None
    fit_refused: str  # reason why there is no fit, as text; empty if there is one
    fit_running: bool
    sweep: GuideState | None
    simulated: bool
    converter_trouble: str = ""  # reason why there are no SI values, as text
    run: RunState | None = None  # the current or last run
    through: Mapping[str, tuple[SteadyPoint, ...]] = field(default_factory=dict)  # the generator's, by "dry" and "wet"


@dataclass(frozen=True)
class SeriesWindow:
    """A copy of the newest samples of one series. ``first`` is the absolute number of the first sample in it."""

    name: str
    unit: str
    first: int
    time: NDArray[np.float64]  # s of session time; a gap is a sample of value NaN
    value: NDArray[np.float64]
    u: NDArray[np.float64]
    status: NDArray[np.uint8]
