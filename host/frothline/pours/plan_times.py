"""Timetable of a lift: when each mix is loaded, foamed, poured; what limits the pace; refills of the reservoir.

Mixer, generator and people work at the same time. The people are counted as one pool: a mix costs them its weighing,
loading, foaming, folding, emptying and placing, and while the slurry mixes they do something else. The next mix is
loaded when the mixer is empty and the people have done their work on the mix before. The first mix is weighed before
the start. A source with a duty cycle rests before a mix that it could not foam to its end, and within one that needs
more than it may run on end; it starts rested.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from frothline.foam.dosing import REFILL_AT
from frothline.foam.generator_run import GeneratorRun
from frothline.pours.duty import Duty
from frothline.pours.plan_order import PlanOrder

MIXER, GENERATOR, PEOPLE = "mixer", "foam generator", "people"


@dataclass(frozen=True)
class PlanRefills:
    """Refills of the reservoir in a lift. ``before`` : numbers of the mixes before which it is refilled; ``within`` :
    refills during each mix, 0 where one filling is enough for it. Each mix begins full where refills are within it.
    """

    before: tuple[int, ...] = ()
    within: int = 0

    def count(self, mixes: int) -> int:
        """Refills of a lift."""
        return len(self.before) + self.within * mixes


@dataclass(frozen=True)
class MixTimes:
    """Times of one mix, s from the first water of its lift: ``load``, ``foam`` from air on, ``foamed`` air off,
    ``poured`` mixer empty, ``placed``. ``refill`` : the reservoir is refilled before it. ``rest`` : s for which the air
    source has to stand still before it;  ``rests`` : rests within it.
    """

    number: int
    load: float
    foam: float
    foamed: float
    poured: float
    placed: float
    refill: bool
    rest: float = 0.0
    rests: int = 0


@dataclass(frozen=True)
class Timetable:
    """``busy`` : s that a mix costs each of mixer, generator and people; ``bottleneck`` the one with the most."""

    mixes: tuple[MixTimes, ...]
    busy: Mapping[str, float]

    @property
    def bottleneck(self) -> str:
        return max(self.busy, key=lambda name: self.busy[name])

    @property
    def duration(self) -> float:
        """From the first water to the last mix placed, s."""
        return self.mixes[-1].placed


def plan_refills(run: GeneratorRun, reservoir: float | None, mixes: int) -> PlanRefills | None:
    """Refills for a lift that begins with a full reservoir; None without a known reservoir.

    run : for one mix;  reservoir : m³ when full
    """
    if reservoir is None:
        return None
    usable = (1.0 - REFILL_AT) * reservoir
    each = max(math.floor(usable / run.drawn + 1e-9), 1)  # a mix that needs refills within it draws more
    return PlanRefills(tuple(range(each + 1, mixes + 1, each)), run.refills)


def timetable(
    order: PlanOrder,
    foam: float,
    start: float,
    mixes: int,
    refills: PlanRefills | None,
    duty: Duty | None = None,
) -> Timetable:
    """The timetable of one lift.

    foam : s that the generator runs for a mix, from air on, with one start;  start : s without foam after air on
    duty : of the air source, None if it need not rest

    Raises InputError for a source that must rest before its first foam.
    """
    times, held = order.times, refills or PlanRefills()
    running = foam + held.within * (times.refill + start)
    blown = foam + held.within * start  # s for which the air source runs
    rests = 0 if duty is None else duty.rests_within(blown, start)
    resting = 0.0 if duty is None else rests * (duty.rest + start)
    used = before = 0.0
    work = times.weigh + times.load + running + times.fold + times.empty + times.place
    found: list[MixTimes] = []
    load = free = 0.0
    for number in range(1, mixes + 1):
        refill = number in held.before
        ready = free + (times.refill if refill else 0.0)
        begin = max(load + times.load + times.slurry, ready)
        rest = 0.0
        if duty is not None:
            if used and begin - free >= duty.rest - 1e-9:  # it has stood still for long enough
                used = 0.0
            if used and used + blown > duty.on + 1e-9:
                rest, used = duty.rest, 0.0
                begin = max(begin, free + rest)
                before += rest
            used = duty.used_after(blown, start) if rests else used + blown
        done = begin + running + resting
        poured = done + times.fold + times.empty
        found.append(
            MixTimes(number, load, begin, done, poured, poured + times.place / order.helpers, refill, rest, rests)
        )
        free = done
        people = (work + (times.refill if refill else 0.0)) / order.helpers
        load = max(poured, load + people)
    share = times.refill * len(held.before) / mixes
    busy = {
        MIXER: times.load + times.slurry + running + resting + times.fold + times.empty,
        GENERATOR: running + resting + share + before / mixes,
        PEOPLE: (work + share) / order.helpers,
    }
    return Timetable(tuple(found), busy)
