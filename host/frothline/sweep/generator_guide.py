"""The guided sweep through a generator, dry or wet: instructions for the person at the bleed.

The bleed is an open branch with a valve between the air source and the spool, so that the spool measures the air
through the generator. Opening it gives the generator less air, closing it gives more; a builder without one turns the
source itself down and up. The instructions therefore name the air, and the action is in the line below.

It begins at full air, which primes a wet generator and shows the whole range of flow. Then the bleed is opened wide and
closed in steps up to full air again, so that a wet generator always has enough air to hold back its solution. The first
and the last point are at the same air; if they differ, the generator changed meanwhile. There is no point at rest: zero
flow needs no pressure except for the solution over the holes, which a point with flow measures too.

All limits are chosen so that a sweep takes eight to ten points; common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from frothline.generator.cautions import SWEEPING, pressure_caution
from frothline.sweep.guide import (
    DONE,
    GO_BACK,
    HOLD,
    STEADY,
    GuideReading,
    SweepGuide,
    gap_words,
    middle_of,
    next_target,
    too_few,
    widest_gap,
)
from frothline.sweep.guide_state import CapturedPoint

DRY, WET = STATES = ("dry", "wet")
FULL, FOAM, LITTLE, MORE, FULL_AGAIN = "full", "foam", "little", "more", "full_again"
PHASES = (FULL, FOAM, HOLD, STEADY, LITTLE, MORE, FULL_AGAIN, GO_BACK, DONE)
WORDS = {
    FULL: "full air",
    FOAM: "wait for foam",
    HOLD: "hold",
    STEADY: "point saved",
    LITTLE: "reduce air to 1/3",
    MORE: "slightly more air",
    FULL_AGAIN: "full air",
    GO_BACK: "slightly less air",
    DONE: "done",
}
TO_MORE = "close the bleed slightly, or turn the source up; then hold"
TO_LESS = "open the bleed slightly, or turn the source down; then hold"
TO_FULL = "close the bleed, source at full"


@dataclass(frozen=True)
class GeneratorSweepSettings:
    """Times in s, flows in m3/s, the rest fractions."""

    wanted: int = 9  # points
    most_points: int = 12  # after which the sweep goes to the end at once and returns to gaps
    least_flow: float = 2e-3  # below this a rotor may stop, and a wet generator may lose its air
    least_share: float = 0.1  # or below this share of the flow at full air
    little: float = 0.36  # of the flow at full air: the smallest requested flow
    step: float = 0.1  # along the line; a smaller move is not a new point
    far: float = 0.16  # along the line; a larger move is a new point also before its target
    target_width: float = 0.3  # of the way to the next point: half the width of its target
    nearly_full: float = 0.92  # of the flow at full air, above which the bleed is closed at once
    full_again: float = 0.97  # of the flow at full air, which counts as full air again
    at_full: float = 10.0  # steady for this time at the beginning counts as full air; a thermistor lags by some seconds
    show_steady: float = 0.8  # display time of "steady" before the next instruction
    linger: float = 3.0  # at the last point, so that a hand still at the bleed can finish
    nudge_after: float = 6.0  # without a move before a clearer instruction
    take_after: float = 15.0  # without a move before the bleed counts as fully turned
    widest_gap: float = 0.26  # of the flow range or of the pressure range, between neighbouring points
    go_backs: int = 4
    changed: float = 0.08  # of the pressure at full air, between first and last point
    too_narrow: float = 0.5  # of the flow at full air: a sweep that never came below it gets a note


class GeneratorSweepGuide(SweepGuide):
    """Guide of a sweep through a generator. Feed it readings in order of time; it answers each with a SweepState.

    ``button`` confirms full air, even foam, or a fully turned bleed.
    """

    words = WORDS

    def __init__(self, *, wet: bool, settings: GeneratorSweepSettings | None = None) -> None:
        self.settings = settings or GeneratorSweepSettings()
        self.wet = wet
        self.of = WET if wet else DRY
        self._first = FOAM if wet else FULL
        super().__init__(self._first, self.settings.wanted)
        self._at_last = False  # full air was requested again
        self._stuck = False  # the bleed changes nothing
        self._side = 0  # of the gap or of the measurable range: +1 more air is needed, -1 less
        self._pressure = math.nan
        self._still = -math.inf  # time since when the reading has been steady

    def _notice(self, now: GuideReading) -> None:
        self._pressure = now.pressure
        if now.state != "steady":
            self._still = now.time

    def _instruction(self) -> str:
        if self._side and self.phase in {GO_BACK, LITTLE}:
            return WORDS[MORE] if self._side > 0 else WORDS[GO_BACK]
        return WORDS[self.phase]

    def wants(self, flow: float) -> bool:
        return self.phase != self._first and flow >= self._least()

    def _caution(self) -> str:
        high = pressure_caution(self._pressure)
        if high is not None:
            return high.words
        if self.phase == FOAM:
            return SWEEPING["bucket"].words
        if self.phase == FULL:
            return SWEEPING["empty"].words
        if self.phase == FULL_AGAIN:
            return SWEEPING["full-air"].words
        if self.wet and self.phase in {LITTLE, GO_BACK}:
            return SWEEPING["too-little-air"].words
        return SWEEPING["order"].words if self.wet and self.phase == DONE else ""

    # --- phases -------------------------------------------------------------------------------------------------

    def _in_full(self, now: GuideReading) -> None:
        s = self.settings
        if now.flow < s.least_flow:
            self._why = f"almost no air flows yet: {TO_FULL}"
        elif self._pressed or self._stood(now) > s.at_full:
            self._begin(now, "full air: hold while the reading settles")
        else:
            self._why = f"{TO_FULL}; press the button when all its air goes through the generator"

    def _in_foam(self, now: GuideReading) -> None:
        s = self.settings
        if now.flow < s.least_flow:
            self._why = f"almost no air flows yet: {TO_FULL}, then let the solution in"
        elif self._pressed:
            self._begin(now, "it foams: hold while the reading settles")
        else:
            self._why = f"{TO_FULL}, solution on; press the button once foam comes evenly"

    def _begin(self, now: GuideReading, why: str) -> None:
        """From here on steady stretches are part of the sweep; before, a wet generator may be steady but not primed."""
        self.anew = True
        self._go(HOLD, now, why)

    def _in_hold(self, now: GuideReading) -> None:
        self._progress = now.progress
        if now.flow < self._least():
            self._go(LITTLE if self.captured else self._first, now, "")
            getattr(self, f"_in_{self.phase}")(now)
        elif now.state != "steady":
            self._wait_for_rest(now)
        elif self._at_last or self._is_new(now):
            self._capture(now)
        else:  # steady again at the same point: nothing was moved
            self._go(*self._ask_for_more(now))

    def _in_steady(self, now: GuideReading) -> None:
        s = self.settings
        if not self._at_last:
            if self._waited(now) > s.show_steady:
                self._go(*self._ask_for_more(now))
            return
        self._why = "this is the last point"
        last = self.captured[-1]
        if self._distance(now, last) > s.step / 2 and now.flow > last.flow:
            self._go(HOLD, now, "still more air: hold while the reading settles")
        elif self._waited(now) > s.linger:
            self._go(DONE, now, f"{len(self.captured)} points saved")

    def _in_little(self, now: GuideReading) -> None:
        s = self.settings
        moved = self._distance(now, self.captured[-1]) >= s.step
        self._side = 0
        if now.flow < self._least():
            self._side = 1
            self._why = "too little air to be measured" + (", and the foam stops: " if self.wet else ": ") + TO_MORE
        elif now.flow <= s.little * self._most() or (self._pressed and moved):
            self._go(HOLD, now, "hold while the reading settles")
        elif moved and self._stood(now) > s.take_after:
            self._go(HOLD, now, "taken as the least air: hold while the reading settles")
        elif self._pressed:
            self._stuck = True
            self._go(DONE, now, "the bleed changes nothing")
        elif self._stood(now) > s.nudge_after:
            so_far = "" if moved else "nothing has changed yet; "
            self._why = f"{so_far}if it is fully open, press the button"
        else:
            self._why = "open the bleed wide, or turn the source down, until about a third of the air is left"

    def _in_more(self, now: GuideReading) -> None:
        s, last = self.settings, self.captured[-1]
        moved = self._distance(now, last)
        if self._pressed:
            self._at_last = True
            self._go(HOLD, now, "taken as full air: hold while the reading settles")
        elif moved >= s.step and now.flow > last.flow and self._there(now, moved):
            self._go(HOLD, now, "hold while the reading settles")
        elif moved >= s.step and now.flow > last.flow:
            self._why = "a little further, then hold"
        elif moved >= s.step:
            self._why = f"that gave it less air: {TO_MORE}"
        elif self._waited(now) > s.nudge_after:
            self._why = "nothing has changed yet; if the bleed is closed already, press the button"
        else:
            self._why = TO_MORE

    def _in_full_again(self, now: GuideReading) -> None:
        s = self.settings
        reached = now.flow >= s.full_again * self._most() and self._waited(now) > s.show_steady
        if reached or self._pressed or self._waited(now) > s.take_after:
            self._at_last = True
            self._go(HOLD, now, "full air: hold while the reading settles")
        elif self._waited(now) > s.nudge_after:
            self._why = f"{TO_FULL}; if it is, press the button"
        else:
            self._why = f"{TO_FULL}: the last point"

    def _in_go_back(self, now: GuideReading) -> None:
        self._look_where(now)
        if self._pressed or not self._side:
            self._side = 0
            self._go(HOLD, now, "hold while the reading settles")
        else:
            self._why = f"points are missing there: {TO_MORE if self._side > 0 else TO_LESS}"

    def _look_where(self, now: GuideReading) -> None:
        """Set the direction of the gap from here."""
        assert self._gap is not None
        lower, upper = middle_of(self._gap)
        self._side = -1 if now.pressure > upper else 1 if now.pressure < lower else 0

    def _stood(self, now: GuideReading) -> float:
        """Time for which the reading has been steady in this phase."""
        return min(now.time - self._still, self._waited(now))

    # --- captured points ------------------------------------------------------------------------------------------

    def _ask_for_more(self, now: GuideReading) -> tuple[str, GuideReading, str]:
        s = self.settings
        last = self.captured[-1]
        self._side = 0
        if len(self.captured) == 1:
            return LITTLE, now, "open the bleed wide, or turn the source down, until about a third of the air is left"
        # the hand may have jumped to full air, which is a point already
        enough = len(self.captured) >= s.most_points or max(last.flow, now.flow) >= s.nearly_full * self._most()
        if not enough and not self._went_back:
            return MORE, now, TO_MORE
        gap = widest_gap(self.captured, s.widest_gap)
        if gap is not None and self._went_back < s.go_backs:
            self._went_back += 1
            self._gap = gap
            self._look_where(now)
            return GO_BACK, now, "points are missing there"
        return FULL_AGAIN, now, f"{TO_FULL}: the last point"

    def _most(self) -> float:
        return max((point.flow for point in self.captured), default=0.0)

    def _least(self) -> float:
        s = self.settings
        return max(s.least_flow, s.least_share * self._most()) if self.captured else s.least_flow

    def _distance(self, now: GuideReading, point: CapturedPoint) -> float:
        """Distance along the line, in shares of pressure and flow at full air."""
        p, q = max(point.pressure for point in self.captured), self._most()
        along_p = (now.pressure - point.pressure) / p if p > 0 else 0.0
        return math.hypot(along_p, (now.flow - point.flow) / q if q > 0 else 0.0)

    def _redone(self) -> None:
        super()._redone()
        self._side = 0
        if not self.captured:
            self.phase = self._first

    def _target(self) -> tuple[float, float] | None:
        s = self.settings
        if self.phase == GO_BACK and self._gap is not None:
            return middle_of(self._gap)
        if self.phase != MORE:
            return None
        full, last = max(point.pressure for point in self.captured), self.captured[-1].pressure
        if not 0.0 <= last < full:
            return None
        near, far = next_target(last / full, s.wanted - len(self.captured), s.target_width)
        return near * full, far * full

    def _there(self, now: GuideReading, moved: float) -> bool:
        """Whether the hand has reached the target, or stopped before it, or has gone far."""
        target = self._target()
        return target is None or now.pressure >= target[0] or moved >= self.settings.far or now.state == "steady"

    def _is_new(self, now: GuideReading) -> bool:
        return all(self._distance(now, point) >= self.settings.step / 2 for point in self.captured)

    def missing(self) -> tuple[str, ...]:
        """What is missing for a line, as text; empty if nothing is."""
        s, words = self.settings, list(too_few(self.captured, "a line needs"))
        if self._stuck:
            words.append("the bleed changes nothing: it belongs between the air source and the spool")
        if not self.captured:
            return tuple(words)
        most, least = self._most(), min(point.flow for point in self.captured)
        if len(self.captured) > 1 and least > s.too_narrow * most:
            words.append(f"the least air was still {100 * least / most:.0f} % of the most: open the bleed wider")
        words += gap_words(self.captured, s.widest_gap)
        first, last = self.captured[0], self.captured[-1]
        if self._at_last and last.flow > 0 and first.flow > 0:
            # scaled to the same flow by the square law, which is accurate over this small range
            now = last.pressure / first.pressure * (first.flow / last.flow) ** 2 - 1.0
            if abs(now) > s.changed:
                words.append(
                    f"at full air it needs {100 * abs(now):.0f} % {'more' if now > 0 else 'less'} pressure for the "
                    "same air than at the beginning: the generator or its solution changed meanwhile"
                )
        return tuple(words)
