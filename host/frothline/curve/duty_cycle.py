"""Running a machine that must rest: a small piston pump with a duty cycle, and a pump that fills a tank."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf, isfinite

from frothline.errors import InputError


@dataclass(frozen=True)
class DutyRun:
    """A run with rests.

    run : s, time that the machine must run
    rests : number of rests
    elapsed : s, from start to end
    share : part of the time in which the machine may run, in the long run
    words : the result as text
    """

    run: float
    rests: int
    elapsed: float
    share: float
    words: str


def duty_run(run: float, on: float, rest: float) -> DutyRun:
    """The time from start to end of a run of ``run`` s, with a rest of ``rest`` s after each ``on`` s.

    The last stretch needs no rest after it. Foam stops in each rest, so that a pour has as many parts as stretches.

    Raises InputError for times that are not above 0 (``rest``: below 0); ``where`` is the name of the argument.
    """
    for name, value in (("run", run), ("on", on)):
        if not 0.0 < value < inf:
            raise InputError(f"{value:g} s is not greater than 0", where=name, remedy="Give a time greater than 0")
    if not 0.0 <= rest < inf:
        raise InputError(f"{rest:g} s is below 0", where="rest", remedy="Give 0 or more")
    stretches = ceil(run / on - 1e-9) if rest else 1
    rests = stretches - 1
    elapsed = run + rests * rest
    share = on / (on + rest)
    if rests:
        words = (
            f"{run / 60:.3g} min of running take {elapsed / 60:.3g} min with {rests} "
            f"rest{'s' if rests > 1 else ''} of {rest / 60:.3g} min: foam is made in {stretches} parts"
        )
    else:
        words = f"{run / 60:.3g} min of running need no rest"
    return DutyRun(run, rests, elapsed, share, words)


@dataclass(frozen=True)
class PumpCycle:
    """A pump between its cut-in and its cut-out at a steady draw.

    on, off : s, in which it runs and rests; ``off`` is inf without a draw, ``on`` inf where it never reaches cut-out
    share : part of the time in which it runs
    """

    on: float
    off: float
    share: float

    @property
    def reaches_cut_out(self) -> bool:
        return isfinite(self.on)


def pump_cycle(gas: float, drawn: float, pump: float) -> PumpCycle:
    """The cycle of a pump.

    gas : m³ of standard air between cut-in and cut-out in the tank, V (p2 - p1)/(R T)/1.2
    drawn, pump : m³/s, standard flows

    off = gas / drawn, on = gas / (pump - drawn), share = drawn / pump (mass balance)
    """
    if pump <= drawn:
        return PumpCycle(inf, 0.0, 1.0)
    off = gas / drawn if drawn > 0 else inf
    return PumpCycle(gas / (pump - drawn), off, drawn / pump)
