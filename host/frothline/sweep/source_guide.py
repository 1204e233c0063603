"""The guided sweep of an air source: instructions for the person at the throttle.

The order is: shut off, then open in steps, then fully open. If a range of the curve was skipped, the guide goes back to
it.

Step sizes are fractions of the curve's own range, because a blower's figures are unknown before it is measured:
pressure relative to the pressure at shut-off, flow relative to the free delivery of the parabola through shut-off and
the latest point. All limits are chosen so that a sweep takes about ten points; common practice, no source.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from frothline.sweep.guide import (
    DONE,
    GO_BACK,
    HOLD,
    STEADY,
    WAY,
    GuideReading,
    SweepGuide,
    gap_words,
    middle_of,
    next_target,
    too_few,
    widest_gap,
)
from frothline.sweep.guide_state import CapturedPoint

CLOSE, OPEN, OPEN_FULLY = "close", "open", "open_fully"
PHASES = (CLOSE, HOLD, STEADY, OPEN, OPEN_FULLY, GO_BACK, DONE)
WORDS = {
    CLOSE: "close the throttle",
    HOLD: "hold",
    STEADY: "point saved",
    OPEN: "open slightly",
    OPEN_FULLY: "open fully",
    GO_BACK: "close slightly",
    DONE: "done",
}
THEN_HOLD = "then hold"
LAST_POINT = "the last point is free delivery"
OPEN_FIRST = "open until the rotor turns"  # a rotor at rest looks like an unplugged one


@dataclass(frozen=True)
class SourceSweepSettings:
    """Times in s, flows in m3/s, the rest fractions."""

    wanted: int = 10  # points
    closed_flow: float = 1.5e-3  # below this the throttle counts as closed, for any blower
    closed_share: float = 0.04  # or below this share of the largest flow seen
    leak_share: float = 0.25  # of the largest flow seen: more is not a leak of a closed throttle
    zero_share: float = 0.4  # or this much, if the zero error of the flow element is this large
    open_share: float = 0.7  # of the largest flow seen: less is not a fully open throttle
    most_over: float = 0.5  # s for which a flow must last to count as the largest seen
    step: float = 0.06  # along the curve; a smaller move is not a new point
    target_width: float = 0.25  # of the way to the next point: half the width of its target
    nearly_open: float = 0.12  # pressure over that at shut-off below which it is time to open fully
    show_steady: float = 0.8  # display time of "steady" before the next instruction
    linger: float = 3.0  # at the last point, so that a hand still opening can finish
    nudge_after: float = 6.0  # without a move before a clearer instruction
    take_after: float = 15.0  # without a move before the throttle counts as fully open
    nothing_left: float = 0.02  # pressure over that at shut-off below which no opening would change anything
    widest_gap: float = 0.26  # of the flow range or of the pressure range, between neighbouring points
    go_backs: int = 4


class SourceSweepGuide(SweepGuide):
    """Guide of a sweep of an air source. Feed it readings in order of time; it answers each with a SweepState.

    ``button`` confirms fully closed or fully open. A press that the readings contradict is refused with a reason.
    """

    words = WORDS

    def __init__(self, settings: SourceSweepSettings | None = None) -> None:
        self.settings = settings or SourceSweepSettings()
        super().__init__(CLOSE, self.settings.wanted)
        self._peak_flow = 0.0
        self._most_flow = 0.0
        self._recent: deque[tuple[float, float]] = deque()  # time and flow
        self._asked_to_open_fully = False
        self._too_far = False  # closed beyond the gap to fill
        self._unseen = False  # no pulse of the rotor yet

    def _notice(self, now: GuideReading) -> None:
        """Track the largest flow and the largest lasting flow, so that one false reading does not decide what counts as
        closed.
        """
        self._unseen = now.unseen
        if not math.isfinite(now.flow):
            self._recent.clear()
            return
        self._peak_flow = max(self._peak_flow, now.flow)
        self._recent.append((now.time, now.flow))
        while len(self._recent) > 1 and self._recent[1][0] <= now.time - self.settings.most_over:
            self._recent.popleft()
        if now.time - self._recent[0][0] >= self.settings.most_over * (1 - 1e-9):
            self._most_flow = max(self._most_flow, min(flow for _, flow in self._recent))

    def _instruction(self) -> str:
        if self._unseen and not self.done:
            return OPEN_FIRST
        return WORDS[OPEN] if self.phase == GO_BACK and self._too_far else WORDS[self.phase]

    # --- phases -------------------------------------------------------------------------------------------------

    def _in_close(self, now: GuideReading) -> None:
        s = self.settings
        self._why = "the sweep begins with the source shut off; not for longer than it takes"
        flows = self._still_flows(now)
        if self._pressed and flows:
            self._refuse(f"not taken as closed: {flows}")
        elif self._pressed or self._no_flow(now):
            self._go(HOLD, now, "shut off: hold while the reading settles")
        elif self._waited(now) > s.nudge_after:
            self._why = "air still flows; if it cannot be closed further, press the button"

    def _no_flow(self, now: GuideReading) -> bool:
        s = self.settings
        return now.flow <= max(s.closed_flow, s.closed_share * self._most_flow)

    def _still_flows(self, now: GuideReading) -> str:
        """Text if the throttle is not closed; empty if the flow may be a leak or a sensor error."""
        s = self.settings
        zero = min(2.0 * now.u_flow, s.zero_share * self._most_flow)  # a scale error gives no flow at zero flow
        if now.flow <= max(s.closed_flow, s.leak_share * self._most_flow, zero):
            return ""
        share = min(1.0, now.flow / self._most_flow) if self._most_flow > 0 else 1.0
        return (
            f"air still flows, {100 * share:.0f} % of the most so far. Close it further; if it is closed as far as "
            "it goes, open it fully once, close it and press again, or block the outlet, or zero the flow sensor "
            "at rest"
        )

    def _not_open(self, now: GuideReading) -> str:
        """Text if the throttle is not fully open; empty if it may be."""
        if self._no_flow(now):
            return "not taken as open: no air flows. Open the throttle; if it is open, look at the flow sensor"
        if now.flow < self.settings.open_share * self._most_flow and self._refusal() is None:
            share = now.flow / self._most_flow
            return (
                f"not taken as open: {100 * share:.0f} % of the most air so far. Open it further, or press again "
                "to take it"
            )
        return ""

    def _in_hold(self, now: GuideReading) -> None:
        self._progress = now.progress
        if not self.captured and self._still_flows(now):
            self._progress = 0.0
            self._go(CLOSE, now, "it was opened again: close it fully")
        elif self.captured and self._no_flow(now) and now.pressure < 0.5 * self._scale()[0]:
            self._progress = 0.0
            self._why = "neither air nor pressure: is the source on?"
        elif now.state == "steady" and self._is_new(now):
            self._capture(now)
        elif now.state == "steady":
            # steady again at the same point: nothing was moved
            self._go(*self._ask_for_more(now))
        else:
            self._wait_for_rest(now)

    def _in_steady(self, now: GuideReading) -> None:
        s = self.settings
        last = self.captured[-1]
        if self._asked_to_open_fully:
            self._why = "this is the last point"
            if self._distance(now, last) > s.step / 2 and now.flow > last.flow:
                self._go(HOLD, now, "still opening: hold while the reading settles")
            elif self._waited(now) > s.linger:
                self._finish(now)
        elif self._waited(now) > s.show_steady:
            self._go(*self._ask_for_more(now))

    def _in_open(self, now: GuideReading) -> None:
        s = self.settings
        last = self.captured[-1]
        moved = self._distance(now, last)
        refused = self._not_open(now) if self._pressed else ""
        if refused:
            self._refuse(refused)
        elif self._pressed:
            self._asked_to_open_fully = True
            self._go(HOLD if moved > s.step / 2 else STEADY, now, "taken as fully open")
        elif moved >= s.step and now.flow > last.flow and self._there(now, moved):
            self._go(HOLD, now, "hold while the reading settles")
        elif moved >= s.step and now.flow > last.flow:
            self._why = "a little further, then hold"
        elif moved >= s.step:
            self._why = "that closed it: open it a little further than before"
        elif self._waited(now) > s.take_after:  # it may be fully open; a gap that this leaves is filled afterwards
            self._ask_to_open_fully(now)
        elif self._waited(now) > s.nudge_after:
            self._why = "nothing has changed yet; if it is fully open, press the button"
        else:
            self._why = THEN_HOLD

    def _in_open_fully(self, now: GuideReading) -> None:
        s = self.settings
        moved = self._distance(now, self.captured[-1])
        refused = self._not_open(now) if self._pressed else ""
        if refused:
            self._refuse(refused)
        elif moved >= s.step / 2:
            self._go(HOLD, now, "hold while the reading settles")
        elif self._pressed or self._waited(now) > s.take_after or now.pressure <= s.nothing_left * self._scale()[0]:
            self._go(STEADY, now, "taken as fully open")
        elif self._waited(now) > s.nudge_after:
            self._why = "nothing has changed yet; if it is fully open, press the button"

    def _ask_to_open_fully(self, now: GuideReading) -> None:
        self._asked_to_open_fully = True
        self._go(OPEN_FULLY, now, LAST_POINT)

    def _in_go_back(self, now: GuideReading) -> None:
        assert self._gap is not None
        lower, upper = middle_of(self._gap)
        inside = lower <= now.pressure <= upper
        self._too_far = now.pressure > upper
        if self._pressed or inside:
            self._go(HOLD, now, "hold while the reading settles")
        elif self._too_far:
            self._why = "a little too far: open again until the pressure is inside the gap"
        else:
            self._why = "points are missing there: close until the pressure is inside the gap"

    # --- captured points ------------------------------------------------------------------------------------------

    def _ask_for_more(self, now: GuideReading) -> tuple[str, GuideReading, str]:
        s = self.settings
        if self._went_back:
            return self._coverage_or_done(now)
        shut_off = self.captured[0].pressure if self.captured else 0.0
        if len(self.captured) >= s.wanted - 1 or (
            len(self.captured) > 1 and self.captured[-1].pressure <= s.nearly_open * shut_off
        ):
            self._asked_to_open_fully = True
            return OPEN_FULLY, now, LAST_POINT
        return OPEN, now, THEN_HOLD

    def _finish(self, now: GuideReading) -> None:
        self._asked_to_open_fully = False
        self._go(*self._coverage_or_done(now))

    def _coverage_or_done(self, now: GuideReading) -> tuple[str, GuideReading, str]:
        gap = widest_gap(self.captured, self.settings.widest_gap)
        if gap is not None and self._went_back < self.settings.go_backs:
            self._went_back += 1
            self._gap = gap
            return GO_BACK, now, "points are missing there: close until the pressure is inside the gap"
        return DONE, now, f"{len(self.captured)} points saved"

    def _scale(self) -> tuple[float, float]:
        """Pressure at shut-off (Pa) and a guess of the free delivery (m3/s)."""
        if not self.captured:
            return 0.0, self._peak_flow
        shut_off = max(point.pressure for point in self.captured)
        last = self.captured[-1]
        fall = 1.0 - last.pressure / shut_off if shut_off > 0 else 1.0
        guess = last.flow / math.sqrt(fall) if fall > 0.01 else 0.0
        return shut_off, max(guess, self._peak_flow, self.settings.closed_flow)

    def _distance(self, now: GuideReading, point: CapturedPoint) -> float:
        shut_off, free = self._scale()
        along_p = (now.pressure - point.pressure) / shut_off if shut_off > 0 else 0.0
        along_q = (now.flow - point.flow) / free if free > 0 else 0.0
        return math.hypot(along_p, along_q)

    def _redone(self) -> None:
        super()._redone()
        if not self.captured:  # the point at shut-off
            self.phase, self._why = CLOSE, "measuring shut-off again"

    def _target(self) -> tuple[float, float] | None:
        s = self.settings
        if self.phase == GO_BACK and self._gap is not None:
            return middle_of(self._gap)
        if self.phase != OPEN or not self.captured:
            return None
        shut_off, _ = self._scale()
        fallen = 1.0 - self.captured[-1].pressure / shut_off if shut_off > 0 else 0.0
        near, far = next_target(fallen, s.wanted - len(self.captured), s.target_width)
        return shut_off * (1.0 - far), shut_off * (1.0 - near)

    def _there(self, now: GuideReading, moved: float) -> bool:
        """Whether the hand has reached the target, or stopped before it, or has gone as far along the curve.

        The pressure of a regulated source hardly changes while its flow rises.
        """
        target = self._target()
        wanted = WAY / max(self.settings.wanted - 1, 1)
        return target is None or now.pressure <= target[1] or moved >= 2.0 * wanted or now.state == "steady"

    def _is_new(self, now: GuideReading) -> bool:
        near = self.settings.step / 2
        return all(self._distance(now, point) >= near for point in self.captured)

    def missing(self) -> tuple[str, ...]:
        """What is missing for a fit, as text; empty if nothing is."""
        return missing_words(self.captured, self.settings.widest_gap)


def missing_words(points: Sequence[CapturedPoint], limit: float) -> tuple[str, ...]:
    """The range where points are missing, in plain words."""
    if not points:
        return ("no point has been saved",)
    words = list(too_few(points, "a curve needs"))
    most = max(point.flow for point in points)
    least = min(point.flow for point in points)
    if most > 0 and least > 0.1 * most:
        words.append("there is no point near shut-off")
    highest = max(point.pressure for point in points)
    lowest = min(point.pressure for point in points)
    if highest > 0 and lowest > 0.3 * highest:
        words.append("there is no point near free delivery: free delivery is extrapolated")
    return (*words, *gap_words(points, limit))
