"""Run of the generator for an amount of foam: starts, time with air on, solution drawn.

The generator stops while its reservoir is refilled. No foam comes in the first seconds after each start, t0, and
solution is drawn in them as in foaming. So n starts for a volume V at an output Q take n t0 + V/Q, and draw the
solution of V and n times that of t0 Q.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import MeasuredFoam
from frothline.foam.dosing import REFILL_AT, run_time
from frothline.physics.foam import SOLUTION_DENSITY

MOST_FILLINGS = 1000  # of the reservoir in one run; more is a slip of the unit; judgement, no source


@dataclass(frozen=True)
class GeneratorRun:
    """``starts`` : times that the air comes on;  ``refills`` : of the reservoir in the run, 0 without a known reservoir

    seconds : with air on, all starts included, s; None with an unknown output
    drawn : solution, m³;  start_loss : part of it that each start draws before its first foam, m³
    """

    starts: int
    refills: int
    seconds: Estimate | None
    drawn: float
    start_loss: float


def start_loss(foam: MeasuredFoam) -> float:
    """Solution drawn at each start before the first foam, m³; 0 with an unknown output."""
    if foam.output is None or not foam.output.known:
        return 0.0
    return foam.start_up.value * foam.output.value * foam.density.value / SOLUTION_DENSITY


def generator_run(volume: float, foam: MeasuredFoam, rests: int = 0) -> GeneratorRun:
    """The run for a volume of foam (m³) that begins with a full reservoir.

    rests : times that the air source has to rest in the run, each with a new start

    Raises InputError for a reservoir that is too small for a start, or for the run.
    """
    loss = start_loss(foam)
    solution = volume * foam.density.value / SOLUTION_DENSITY
    refills = 0
    if foam.reservoir is not None:
        usable = (1.0 - REFILL_AT) * foam.reservoir
        needed = solution + rests * loss  # without the start of each filling
        if needed > MOST_FILLINGS * (usable - loss):
            held = f"a reservoir of {foam.reservoir * 1e3:.3g} L is too small for {solution * 1e3:.3g} L of solution"
            lost = f", and {loss * 1e3:.3g} L are drawn at each start before the first foam" if loss else ""
            raise InputError(
                held + lost,
                where="batch: reservoir",
                remedy="Check its unit, or give a larger reservoir",
            )
        refills = max(ceil(needed / (usable - loss) - 1e-9) - 1, 0)
    starts = 1 + refills + rests
    seconds = run_time(volume, foam.output, foam.start_up, starts)
    return GeneratorRun(starts, refills, seconds, solution + starts * loss, loss)
