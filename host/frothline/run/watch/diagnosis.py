"""Diagnosis of detected changes: waits for enough evidence, raises the alarm, and ends it when the change has
reversed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from math import exp, isfinite, log, nan

from frothline.numerics.arrays import Floats
from frothline.readings.resample import TICK
from frothline.run.state import DRY, FOAMING, PRIMING, THINNING
from frothline.run.watch.alarm_kinds import ENDS_WATCHING, SIDES
from frothline.run.watch.alarm_log import ActiveAlarm
from frothline.run.watch.alarm_words import words_of
from frothline.run.watch.alarms import Alarm
from frothline.run.watch.baseline import Baseline
from frothline.run.watch.charts import THIN, Detection
from frothline.run.watch.fault_signatures import JOINT_OFF, Change, Diagnosis, diagnose
from frothline.run.watch.levels import LevelLearner
from frothline.run.watch.pending_change import BEFORE_RISE, PendingChange, change_of, rise_of
from frothline.run.watch.phases import PhaseTracker
from frothline.run.watch.recent_readings import BLOCK, rise, still_moving
from frothline.run.watch.solution_draw import AS_BEFORE, TELLS
from frothline.run.watch.startup import OFF, off_design_point
from frothline.run.watch.watch_state import WatchState

SMALLEST = 0.02  # relative: a smaller change without a matching fault is not reported
SHARP = 0.07  # ln of the build's view within half a second: no ramp is that steep
BANG = 0.25  # ln: a smaller change is diagnosed after a longer wait
AIR_AGAIN = -1.0  # ln of the pressure before: a stopped source runs again
SOLUTION_WITHIN = 300.0  # s after the air: the first solution arrives earlier; judgement
AGAINST_START = frozenset({"weak", "strong", "clog", "flutter"})  # charts that compare with the initial level


class ChangeDiagnosis:
    """Converts ``state.change`` to alarms."""

    def __init__(self, state: WatchState, phases: PhaseTracker, levels: LevelLearner) -> None:
        self._state = state
        self._phases = phases
        self._levels = levels

    def advance(self) -> None:
        """Evaluate the pending change, and again a change that was diagnosed at once."""
        state = self._state
        if state.change is not None:
            self._diagnose_pending(state.change)
        second = self._phases.second
        if second is not None and state.time >= second[0].onset + state.settings.second_look:
            self._look_again(*second)

    def see(self, sight: Detection, *, big: bool) -> None:
        """Open a pending change, unless one is open. A sudden change makes a small one big, and any other replaces a
        slow rise.
        """
        state = self._state
        if state.change is None or (state.change.slow_rise and sight.chart != THIN):
            state.change = PendingChange(sight, big)
        elif big and not state.change.big and (not state.change.weighed or self._large(sight.view)):
            state.change = PendingChange(sight, big=True)

    def _large(self, view: str) -> bool:
        state = self._state
        assert state.moving is not None
        return abs(state.moving.off(view, state.readings.now(0.15)[view])) > BANG

    def _diagnose_pending(self, opened: PendingChange) -> None:
        state = self._state
        s = state.settings
        if opened.slow_rise:
            self._try_slow_rise(opened)
            return
        sight = opened.sight
        reference = state.fixed if sight.chart in AGAINST_START else state.moving
        assert reference is not None
        wait = s.hold_big if opened.big else s.hold_small
        drier = sight.chart == "build up" and state.drawn_share < 0.85
        early = state.time < opened.onset + wait - 1e-9 and not drier
        if early and (opened.big or state.time < opened.onset + s.hold_ramp):
            return
        rows = state.readings.since(opened.onset - (2.0 if opened.big else 30.0))
        change = self._change(rows, opened, reference)
        if early and not (change.profile is not None and change.profile.clear_ramp):
            return
        if not isfinite(change.pressure) and not isfinite(change.flow):
            state.change = None  # a sensor is silent, which is reported elsewhere; the line's state is unknown
            return
        if opened.big:
            sizes = (change.pressure, change.build, change.source)
            largest = max((abs(x) for x in sizes if isfinite(x)), default=0.0)
            if largest < BANG and not rise(rows, opened.onset, state.time) > SHARP:
                state.change = replace(opened, big=False, weighed=True)  # not sudden: wait for more readings
                return
            if largest < BANG and state.time < opened.onset + s.hold_sharp - 1e-9:
                return  # only a leak or a lost packing rises that fast; the anemometer lags
            if state.time < opened.onset + 3.0 and still_moving(rows, state.time):
                return  # a source that runs down: wait until it is steady
        state.change = None
        if self._going_back(sight.view, 0.15 if opened.big else BLOCK * TICK):
            return
        onset = opened.onset
        if change.profile is not None and not opened.big:
            onset = change.profile.onset
        verdict = diagnose(change)
        if state.phase == PRIMING and verdict.code not in ENDS_WATCHING:
            # No level is learnt yet: the air was turned up or down, or it came back before the diagnosis.
            self._phases.begin("priming: the air has changed")
            return
        self._say(verdict, onset, reference)
        if opened.big and verdict.code == "leak_after":
            self._phases.second = opened, reference

    def _look_again(self, opened: PendingChange, reference: Baseline) -> None:
        """Check a leak raised before the anemometer had followed: it may prove to be a lost packing."""
        state = self._state
        self._phases.second = None
        if "leak_after" not in state.alarms.lasting or state.change is not None:
            return
        verdict = diagnose(self._change(state.readings.since(opened.onset - 2.0), opened, reference))
        if verdict.code == "packing_blown":
            self._say(verdict, opened.onset, reference)

    def _try_slow_rise(self, opened: PendingChange) -> None:
        """Check for thinning solution: a continuing rise of the build's view, still too small for the other charts."""
        state = self._state
        s, reference = state.settings, state.moving
        assert reference is not None
        if state.time < opened.onset + s.hold_ramp:
            return
        rows = state.readings.since(opened.onset - BEFORE_RISE)
        profile = rise_of(rows, opened)
        if profile is not None and profile.for_ramp > s.thin_evidence and profile.slope > s.thin_slope:
            change = self._change(rows, opened, reference)
            verdict = diagnose(replace(change, profile=replace(profile, kind="ramp")))
            if verdict.code in ("thinning", "dry") and not change.solution > AS_BEFORE:
                state.change = None
                if not self._going_back("build", BLOCK * TICK):
                    self._say(verdict, profile.onset, reference)
                return
        if state.time > opened.onset + s.hold_small:
            state.change = None
            state.charts.thin.reset()

    def _change(self, rows: Floats, opened: PendingChange, reference: Baseline) -> Change:
        state = self._state
        return change_of(
            rows,
            opened,
            reference,
            readings=state.readings,
            given=state.given,
            views=state.views,
            solution=state.drawn_share,
            hotter=state.limits.hotter,
        )

    def _going_back(self, view: str, over: float) -> bool:
        """Whether the change is the reversal of an alarm that is just ending."""
        state = self._state
        value = state.readings.now(over)[view]
        if state.moving is None or not isfinite(value):
            return False
        return any(
            entry.view == view
            and entry.before is not None
            and abs(entry.before.off(view, value)) < 0.6 * abs(state.moving.off(view, value))
            for entry in state.alarms.lasting.values()
        )

    def _say(self, verdict: Diagnosis, onset: float, reference: Baseline) -> None:
        """Raise the alarm, unless it is active: an alarm of the same side of the line is made more severe or
        updated.
        """
        state = self._state
        book, code = state.alarms, verdict.code
        state.charts.reset()
        if code in ("clogging", "liquid_back") and self._solution_has_come(reference):
            self._phases.prime("priming: solution has arrived")
            return
        usual = 4.0 * reference.deviation[verdict.view] if verdict.view else 0.0
        if code == "changed" and (book.blamed or abs(_log_size(verdict.size)) < max(SMALLEST, usual)):
            return
        side = next((group for group in SIDES.values() if code in group), (code,))
        lasting = [one for one in side if one in book.lasting]
        if lasting:
            entry = book.lasting[lasting[0]]
            before = entry.before or reference
            grown = before.off(verdict.view, state.readings.now()[verdict.view]) if verdict.view else nan
            told = _log_size(entry.alarm.size.value if entry.alarm.size is not None else nan)
            if code == "leak_after" == lasting[0] and self._runs_away(grown, told, entry.alarm):
                code = "thinning"
            weaker_still = lasting[0] == "source_weak" and code == "leak_before"  # a weak source is not a leak
            if side.index(code) >= side.index(lasting[0]) or weaker_still:  # not more severe than the active alarm
                if isfinite(grown) and isfinite(told) and abs(grown) > 1.5 * abs(told):
                    book.tell_anew(lasting[0], verdict.seen, exp(grown) - 1.0)
                state.settle(code, reference)
                return
            for one in lasting:
                book.end(one, state.time)
            reference, onset = before, entry.alarm.onset
        kind = words_of(code, state.solution_share, state.drawn_share)
        book.say(
            code,
            state.time,
            verdict.seen,
            onset=onset,
            size=verdict.size,
            before=reference,
            view=verdict.view,
            as_kind=kind,
        )
        state.seen[code] = verdict.seen
        self._phases.after_alarm(code)
        state.settle(code, reference)

    def _solution_has_come(self, reference: Baseline) -> bool:
        """Whether solution has arrived: by the scale, which falls now and did not before, or by the measured line: the
        build passed too much air for a wet one until now, and does not pass too little.
        """
        state = self._state
        usual = state.draw
        if usual.known and not usual.tells and state.readings.drawn > TELLS:
            return True
        if state.time - self._phases.air_since > SOLUTION_WITHIN:
            return False
        before, now = reference.level, state.readings.now()
        passed = off_design_point(replace(state.given, source=None), state.views, before, self._levels.steepness)
        return bool(passed) and before["build"] > 0.0 and now["build"] > -OFF

    def _runs_away(self, grown: float, told: float, alarm: Alarm) -> bool:
        """Whether the change keeps growing: a leak is constant, thinning solution grows for seconds."""
        return self._state.time - alarm.time < 30.0 and grown > 1.3 * abs(told) + 0.03

    def endings(self, block: Mapping[str, float]) -> None:
        """End alarms whose change has reversed; the level from before then applies again."""
        state = self._state
        for code, entry in list(state.alarms.lasting.items()):
            before, size = entry.before, entry.alarm.size
            if code == "off_at_start":
                self._levels.still_off(block)
                continue
            if before is None or not entry.view or not isfinite(block[entry.view]):
                continue
            if code == "source_off" and before.off("pressure", block["pressure"]) > AIR_AGAIN:
                state.alarms.held("air again", state.time, state.settings.over_for, self._air_again)
                continue
            state.alarms.let_go("air again")
            change = abs(_log_size(size.value)) if size is not None else 0.3
            left = max(0.02, 4.0 * before.deviation[entry.view], state.settings.over * change)
            back = abs(before.off(entry.view, block[entry.view])) < min(left, 0.5)
            # While most of the pressure is gone, a flow that coasts to rest only passes the level.
            gone = before.off("pressure", block["pressure"]) < JOINT_OFF
            if back and not gone and not (code in ("thinning", "dry") and state.drawn_share < 0.8):
                state.alarms.held(f"over {code}", state.time, state.settings.over_for, partial(self._end, code, entry))
            else:
                state.alarms.let_go(f"over {code}")

    def _air_again(self) -> None:
        self._phases.begin("priming: the air is back")

    def _end(self, code: str, entry: ActiveAlarm) -> None:
        state = self._state
        state.alarms.end(code, state.time)
        if state.alarms.blamed:
            return
        learnt = entry.before is not None and entry.before.learnt
        if code in ENDS_WATCHING or not learnt:
            self._phases.prime("priming: the line is back")  # it wets again
            return
        state.moving = entry.before
        state.charts.reset()
        if state.phase in (THINNING, DRY):
            state.go(FOAMING, "foaming again")
        else:
            state.go(state.phase, "foaming steadily" if state.phase == FOAMING else state.words)


def _log_size(size: float) -> float:
    return log(1.0 + size) if size > -1.0 else nan
