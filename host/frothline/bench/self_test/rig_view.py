"""The self-test's access to the rig: newest readings, waits for a change, instructions to the person."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from frothline.bench.snapshot import ENDED, LOST, ChannelState, Snapshot
from frothline.errors import InputError, PortLost
from frothline.sensors.load_cell import counts_per_kilogram

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frothline.bench.session import Session
    from frothline.sensors.datasheets import RatiometricPressure

from frothline.bench.self_test.result import Progress

REST_LOOK = 2.0  # s, averaging time of a reading at rest
LOOK_EVERY = 0.05  # s
LATEST = 120.0  # s by which a simulated rig may be late; after that it is taken as silent


class RigView:
    """Readings and instructions of a self-test. ``rest`` are readings at rest, by series; ``tell`` gets the progress.
    ``level``, ``hands`` and ``patience`` as in ``SelfTest``.
    """

    def __init__(
        self, session: Session, tell: Callable[[Progress], None], *, level: int, hands: bool, patience: float
    ) -> None:
        self.session = session
        self.tell = tell
        self.level = level
        self.hands = hands
        self.patience = patience
        self.rest: dict[str, float] = {}

    def now(self) -> Snapshot:
        now = self.session.snapshot()
        if now.link.state == LOST:
            raise PortLost("the port was lost during the test", where=now.link.port, remedy="Check the USB cable")
        if now.link.state == ENDED:
            raise InputError("a replayed recording cannot be tested", where=now.link.port, remedy="Connect a rig")
        return now

    def channel(self, kind: str) -> ChannelState | None:
        board = self.now().board
        return next((one for one in board.channels if one.kind == kind), None) if board else None

    def pressure_sensor(self, kind: str) -> RatiometricPressure | None:
        """Sensor of the channel ``pressure`` or ``differential`` by the board's settings."""
        return self.session.pressure_sensor(kind)

    def values(self, name: str, seconds: float) -> NDArray[np.float64]:
        """Known samples of the newest ``seconds``."""
        value = self.session.window(name, seconds).value
        return value[np.isfinite(value)]

    def latest(self, name: str) -> tuple[float, float]:
        """Mean over REST_LOOK and standard uncertainty; NaN where unknown."""
        window = self.session.window(name, REST_LOOK)
        good = np.isfinite(window.value)
        if not good.any() or not good[-1]:
            return math.nan, math.nan
        return float(window.value[good].mean()), float(window.u[good].mean())

    def clock(self) -> float:
        """Time of the newest sample, s: board time, so that a fast simulation works too."""
        time_ = self.session.window("line_pressure", 0.5).time
        return float(time_[-1]) if len(time_) else -math.inf

    def since(self, name: str, begin: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        window = self.session.window(name, max(self.clock() - begin, 0.0) + 0.1)
        keep = (window.time >= begin) & np.isfinite(window.value)
        return window.time[keep], window.value[keep]

    def until(self, seen: Callable[[], bool], patience: float) -> bool:
        """Wait for a condition; True if it came before the timeout.

        A busy computer simulates more slowly than asked: the timeout of a simulated rig counts its own seconds.
        """
        began, rig_began = time.monotonic(), self.clock()
        simulation = self.session.simulation
        speed = simulation.asked_speed() if simulation is not None else 0.0
        while True:
            self.now()
            if seen():
                return True
            gone = time.monotonic() - began
            simulated = (self.clock() - rig_began) / speed if speed > 0.0 else math.nan
            if math.isfinite(simulated) and gone < patience + LATEST:
                gone = min(gone, simulated)
            if gone > patience:
                return False
            self.tell(Progress("wait", progress=gone / patience))
            time.sleep(LOOK_EVERY)

    def do(self, words: str, *hand: tuple[str, object]) -> None:
        """Instruct the person; on a simulated rig, do it."""
        self.tell(Progress("do", words))
        simulation = self.session.simulation
        for name, value in hand if simulation is not None else ():
            if name == "throttle" and "phase" in simulation.truth():
                simulation.control(name, 0.0)  # a generator is at the end, and the throttle is a bleed before the spool
            else:
                simulation.control(name, value)

    def stands(self) -> bool:
        known = self.values("rotor_frequency", 0.3)
        return not known.size or float(known[-1]) == 0.0

    def counts_per_kilogram(self) -> float:
        """Counts per kg from the spool file; enough for this test, as an uncalibrated scale gives only counts."""
        return counts_per_kilogram(self.session.spool.scale)
