"""A simulated operator that sets the bleed during a guided sweep through a generator.

It acts on the simulated rig as a person does on a real one: it turns the bleed, looks whether foam comes, and presses
the rig's button. It has no access to the rig's readings.
"""

from __future__ import annotations

import math
from typing import Any

from frothline.errors import InputError
from frothline.sweep.generator_guide import FOAM, FULL, FULL_AGAIN, LITTLE, MORE, WORDS
from frothline.sweep.guide import GO_BACK
from frothline.sweep.guide_state import GuideState

READS = 10.0  # s, time to read the first instruction and to warm the line
LOOKS = 2.5  # s of looking before the button is pressed
PAUSE = 1.6  # s between two turns of the bleed, so that the reading can follow
TURNS = {LITTLE: 0.08, MORE: 0.06, GO_BACK: 0.015}  # of the bleed's opening, 0 to 1


class SimulatedOperator:
    """Sets a simulated bleed. Call ``follow`` after every reading and ``let_go`` at the end of the sweep. Times are
    those of the readings, s.

    Raises InputError if the simulated line has no generator.
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
        simulation.control("throttle", self._opening)  # from here on no script turns the bleed
        self._again = -math.inf  # time until which the operator waits

    def follow(self, sweep: GuideState | None, time: float) -> None:
        """Follow the current instruction at ``time``."""
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
        """Close the bleed, so that all air goes through the generator."""
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
