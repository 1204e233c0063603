"""The levels of a line without faults: learnt at the beginning of a run, then followed and refined."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, isfinite

from frothline.readings.resample import TICK
from frothline.run.state import FOAMING
from frothline.run.watch.baseline import NAMES, Baseline, BaselineLearner, follow, provisional
from frothline.run.watch.recent_readings import BLOCK
from frothline.run.watch.startup import off_design_point
from frothline.run.watch.watch_state import WatchState


class LevelLearner:
    """Learns ``state.moving`` and ``state.fixed``."""

    def __init__(self, state: WatchState) -> None:
        self._state = state
        self.learner = BaselineLearner()

    @property
    def steepness(self) -> float:
        return self.learner.steepness

    def start(self, block: Mapping[str, float], lately: Sequence[tuple[float, Mapping[str, float]]]) -> None:
        state = self._state
        words = "foaming steadily"
        if state.given.build is None and not state.readings.drawn > 0.01:
            words = "the line is steady; check the bucket for foam"
        p, q = block["pressure"], block["flow"]
        if state.given.build is None and isfinite(p) and isfinite(q):
            state.views = state.given.with_reference(exp(p), exp(q))
            block = self._by_the_present_line(block)
            lately = [(time, self._by_the_present_line(one)) for time, one in lately]
        steep = 1.0
        if state.views.source is not None and isfinite(p):
            steep = abs(state.views.source.slope(exp(p)))
        self.learner = BaselineLearner(steep)
        # until the level is learnt only sudden changes are detected
        state.fixed, state.moving = None, provisional(block, [b for _, b in lately])
        state.charts.reset()
        state.charts.design(state.moving, steep)
        state.go(FOAMING, words)

    def _by_the_present_line(self, block: Mapping[str, float]) -> Mapping[str, float]:
        """The block with its build's view from the line in use: it was read with the line before, or without one."""
        _, by_build = self._state.views.apart(exp(block["pressure"]), exp(block["flow"]))
        return {**block, "build": by_build}

    def learn(self, block: Mapping[str, float], flutters: float) -> None:
        state = self._state
        s = state.settings
        since = state.time - state.phase_since
        if state.change is not None:
            return
        if since <= s.settle and not state.alarms.blamed and not self.learner.closed:
            if state.fixed is not None and not state.charts.quiet:
                return  # a chart is rising: the change must not be learnt
            self.learner.take(block, flutters)
            if since >= s.learn:
                first = state.fixed is None
                state.fixed = state.moving = self.learner.reference()
                state.charts.design(state.fixed, self.learner.steepness)
                state.charts.design_slow(state.fixed)
                if first:
                    self._say_off_design(state.fixed)
            elif state.moving is not None and state.fixed is None and state.charts.quiet:
                state.moving = follow(state.moving, block, BLOCK * TICK / s.follow_at_first)
        elif state.moving is not None and state.fixed is not None:
            if not state.alarms.blamed:
                self._refine(block)
            if state.charts.quiet:
                self.learner.closed = True
                state.moving = follow(state.moving, block, BLOCK * TICK / s.follow)

    def _refine(self, block: Mapping[str, float]) -> None:
        """Refine the natural variation of the line during the run."""
        state = self._state
        assert state.moving is not None
        if self.learner.watch({name: state.moving.off(name, block[name]) for name in NAMES}):
            state.moving = self.learner.refine(state.moving)
            state.charts.design(state.moving, self.learner.steepness)

    def _say_off_design(self, reference: Baseline) -> None:
        state = self._state
        off = off_design_point(state.given, state.views, reference.level, self.learner.steepness)
        if off:
            state.alarms.say("off_at_start", state.time, "; ".join(off))

    def still_off(self, block: Mapping[str, float]) -> None:
        state = self._state
        known = any(isfinite(block[name]) for name in ("build", "source"))
        if known and not off_design_point(state.given, state.views, block, self.learner.steepness):
            state.alarms.held(
                "over off_at_start", state.time, 5.0, lambda: state.alarms.end("off_at_start", state.time)
            )
        else:
            state.alarms.let_go("over off_at_start")
