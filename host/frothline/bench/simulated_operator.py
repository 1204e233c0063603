"""Simulated operators that follow the guide of a sweep on a simulated rig, at the throttle of a source or at the bleed.

They act as a person does at a real rig: read instruction, target and pressure on the guide, turn the throttle, look
whether foam comes, and press the rig's button. They are called after every reading. Times are those of readings, s.
"""

from __future__ import annotations

import math
from typing import Any, Protocol

from frothline.errors import InputError
from frothline.sweep.generator_guide import FOAM, FULL, FULL_AGAIN, LITTLE, MORE, WORDS
from frothline.sweep.guide import GO_BACK
from frothline.sweep.guide_state import GuideState
from frothline.sweep.source_guide import CLOSE, OPEN, OPEN_FIRST, OPEN_FULLY

READS = 10.0  # s, time to read the first instruction and to warm the line
LOOKS = 2.5  # s of looking before the button is pressed
PAUSE = 1.6  # s between two turns of the bleed, so that the reading can follow
TURNS = {LITTLE: 0.08, MORE: 0.06, GO_BACK: 0.015}  # of the bleed's opening, 0 to 1
FIRST_OPENING = 0.1  # of the throttle, when it was closed
OPENING_RATIO = 1.10, 1.35  # smallest and largest ratio of two openings that follow each other
RETURN_RATIO = 1.02, 1.25  # smallest and largest ratio of two openings while returning to a gap
HALF_OPEN = 0.4  # of the throttle, after a sweep
GIVES_UP = 12.0  # s after which a throttle that cannot close is declared closed


class SweepOperator(Protocol):
    """Interface of both operators."""

    def follow(self, sweep: GuideState | None, time: float) -> None:
        """Follow the current instruction at ``time``."""

    def let_go(self) -> None:
        """Leave the rig at the end of the sweep."""


class _Hand:
    """What both operators share: the opening they set, and the time until which they wait."""

    reads = 0.0  # s

    def __init__(self, simulation: Any) -> None:
        self._simulation = simulation
        self._opening = float(simulation.truth()["throttle"])
        simulation.control("throttle", self._opening)  # no script turns it any more
        self._again = -math.inf

    def _waits(self, sweep: GuideState | None, time: float) -> bool:
        if not math.isfinite(time):
            return True
        if self._again == -math.inf:
            self._again = time + self.reads
        return sweep is None or sweep.done or time < self._again

    def _turn_to(self, opening: float, time: float) -> None:
        self._opening = min(max(opening, 0.0), 1.0)
        self._simulation.control("throttle", self._opening)
        self._again = time + PAUSE


class SimulatedSourceOperator(_Hand):
    """Sets the throttle of a simulated line without a generator."""

    reads = 1.0

    def __init__(self, simulation: Any) -> None:
        super().__init__(simulation)
        self._asked = -math.inf  # since when the throttle is closed and the guide still wants it closed

    def follow(self, sweep: GuideState | None, time: float) -> None:
        if self._waits(sweep, time):
            return
        assert sweep is not None
        if sweep.instruction == OPEN_FIRST:
            self._turn_to(max(self._opening, 0.3), time)
        elif sweep.phase == CLOSE:
            self._close(time)
        elif sweep.phase == OPEN:
            self._turn_to(self._further(sweep), time)
        elif sweep.phase == OPEN_FULLY:
            if self._opening < 1.0:
                self._turn_to(1.0, time)
        elif sweep.phase == GO_BACK and sweep.target is not None and math.isfinite(sweep.pressure):
            self._turn_to(self._opening / self._ratio(sweep, *RETURN_RATIO), time)

    def let_go(self) -> None:
        """Leave the throttle half open, where pressure and flow can both be read."""
        self._simulation.control("throttle", HALF_OPEN)

    def _close(self, time: float) -> None:
        if self._opening > 0.0:
            self._turn_to(0.0, time)
            self._asked = time
        elif time > self._asked + GIVES_UP:
            self._simulation.control("button")
            self._asked = time

    def _further(self, sweep: GuideState) -> float:
        """The next opening: small steps near the target, large ones far from it. The flow grows with the area."""
        if self._opening < FIRST_OPENING:
            return FIRST_OPENING
        if sweep.target is None or not math.isfinite(sweep.pressure):
            return self._opening * OPENING_RATIO[0]
        return self._opening / min(self._ratio(sweep, *OPENING_RATIO), 1.0 / OPENING_RATIO[0])

    @staticmethod
    def _ratio(sweep: GuideState, lowest: float, highest: float) -> float:
        """Ratio by which to close the throttle, so that the pressure comes near the target; below 1 it is opened."""
        assert sweep.target is not None
        aim = 0.5 * sum(sweep.target)
        ratio: float = (aim / max(sweep.pressure, 0.05 * aim)) ** 0.25
        return min(max(ratio, lowest), highest) if ratio > 1.0 else max(min(ratio, 1.0 / lowest), 1.0 / highest)


class SimulatedBleedOperator(_Hand):
    """Sets the bleed of a simulated line with a generator.

    Raises InputError if the simulated line has no generator.
    """

    reads = READS

    def __init__(self, simulation: Any) -> None:
        if "phase" not in simulation.truth():
            raise InputError(
                "the simulated line has no generator",
                where="sweep",
                remedy="Use the scenario generator-dry or generator-wet",
            )
        super().__init__(simulation)

    def follow(self, sweep: GuideState | None, time: float) -> None:
        if self._waits(sweep, time):
            return
        assert sweep is not None
        if sweep.phase in {FULL, FOAM, FULL_AGAIN}:
            self._give_all(sweep.phase, time)
        elif sweep.phase in TURNS:
            more = sweep.instruction == WORDS[MORE]
            turn = TURNS[GO_BACK if more and sweep.phase == LITTLE else sweep.phase]
            self._turn_to(self._opening + (-turn if more else turn), time)

    def let_go(self) -> None:
        """Close the bleed, so that all air goes through the generator."""
        self._simulation.control("throttle", 0.0)

    def _give_all(self, phase: str, time: float) -> None:
        if self._opening > 0.0:
            self._turn_to(0.0, time)
            self._again = time + LOOKS
        elif phase != FOAM or self._simulation.truth()["phase"] == "foaming":
            self._simulation.control("button")
            self._again = time + 2 * LOOKS


def operator_for(simulation: Any, through: str) -> SweepOperator:
    """The operator of a sweep: of the source, or through a generator if ``through`` is "dry" or "wet"."""
    return SimulatedBleedOperator(simulation) if through else SimulatedSourceOperator(simulation)
