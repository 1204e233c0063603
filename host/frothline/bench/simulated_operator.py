"""The hand at a simulated bleed: does what the guided sweep through a generator needs, as a person would.

It reaches into the simulated rig like a person into a real one: it turns the bleed, looks whether foam comes, and
presses the rig's button. What the rig measures, it does not know.
"""

from __future__ import annotations

import math
from typing import Any

from frothline.errors import InputError
from frothline.sweep.generator_guide import FOAM, FULL, FULL_AGAIN, LITTLE, MORE, WORDS
from frothline.sweep.guide import GO_BACK
from frothline.sweep.guide_state import GuideState

READS = 10.0  # s in which a person reads the first words and lets the line get warm
LOOKS = 2.5  # s that a person looks before pressing the button
PAUSE = 1.6  # s from one turn of the bleed to the next: the reading must have followed
TURNS = {LITTLE: 0.08, MORE: 0.06, GO_BACK: 0.015}  # of the bleed's opening, 0 to 1


class SimulatedOperator:
    """``follow`` after every reading; ``let_go`` when the sweep is over. Times are those of the readings, s.

    Raises InputError where no generator is at the end of the simulated line.
    """

    def __init__(self, simulation: Any) -> None:
        self._simulation = simulation
        truth = simulation.truth()
        if "phase" not in truth:
            raise InputError(
                "there is no generator on the simulated line",
                where="sweep",
                remedy="Take the scenario generator-dry or generator-wet",
            )
        self._opening = float(truth["throttle"])
        simulation.control("throttle", self._opening)  # from here on no script turns it
        self._again = -math.inf  # time before which the hand rests

    def follow(self, sweep: GuideState | None, time: float) -> None:
        """Do what is asked for at ``time``."""
        if not math.isfinite(time):
            return
        if self._again == -math.inf:
            self._again = time + READS
        if sweep is None or sweep.done or time < self._again:
            return
        if sweep.phase in {FULL, FOAM, FULL_AGAIN}:
            self._give_all(sweep.phase, time)
        elif sweep.phase in TURNS:
            more = sweep.instruction == WORDS[MORE]
            turn = TURNS[GO_BACK if more and sweep.phase == LITTLE else sweep.phase]
            self._turn_to(self._opening + (-turn if more else turn), time)

    def let_go(self) -> None:
        """All the air through the generator again."""
        self._simulation.control("throttle", 0.0)

    def _give_all(self, phase: str, time: float) -> None:
        if self._opening > 0.0:
            self._turn_to(0.0, time)
            self._again = time + LOOKS
        elif phase != FOAM or self._simulation.truth()["phase"] == "foaming":
            self._simulation.control("button")
            self._again = time + 2 * LOOKS

    def _turn_to(self, opening: float, time: float) -> None:
        self._opening = min(max(opening, 0.0), 1.0)
        self._simulation.control("throttle", self._opening)
        self._again = time + PAUSE
