"""The run watch: reads ticks, knows in which phase the run is, sees changes, says what they likely are.

    watch = RunMonitor(Views.of(blower, line))
    changed = watch.feed(ticks)          # alarms that are new, whose words changed, or that ended
    watch.phase, watch.active, watch.log, watch.cannot_see

Three speeds: every 50 ms for what goes off with a bang, every half second for leaks and shortage of solution, against
the level of the first half minute for what drifts. All thresholds follow from one design figure, the mean time between
false alarms (``WatchSettings.false_alarm_every``), see ``cusum``. The movement of a line that is in order is learnt
from the run itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from math import exp, inf, isfinite, log, nan

import numpy as np
from numpy.typing import NDArray

from frothline.readings.resample import TICK, Tick
from frothline.run.state import AIR_ALONE, DRY, FOAMING, PRIMING, THINNING, UNKNOWN, WAITING
from frothline.run.watch.alarm_log import SIDES, SILENT, STOPPERS, ActiveAlarm, AlarmLog
from frothline.run.watch.alarms import KINDS, Alarm, words_of
from frothline.run.watch.baseline import NAMES, Baseline, BaselineLearner, follow, moved_to, provisional
from frothline.run.watch.blind_spots import cannot_see
from frothline.run.watch.charts import THIN, ChartSet, Detection, views_of
from frothline.run.watch.fault_signatures import Change, Diagnosis, diagnose
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.pending_change import BEFORE_RISE, PendingChange, change_of, rise_of
from frothline.run.watch.recent_readings import BLOCK, RecentReadings, known_mean, mean, rise, still_moving
from frothline.run.watch.remaining import Remaining, remaining
from frothline.run.watch.safety_limits import SafetyLimits
from frothline.run.watch.settings import WatchSettings
from frothline.run.watch.solution_draw import AS_BEFORE, TELLS, SolutionDraw
from frothline.run.watch.startup import OFF, at_rest, looks_dry, off_design_point, share_of, steadiest_estimate

Array = NDArray[np.float64]
SMALLEST = 0.02  # relative: a change that fits nothing known and is smaller than this is not worth a word
COLLAPSE = -0.5  # ln of pressure within a second, for what happens before anything was learnt
REST = 1.0  # s
SHARP = 0.07  # ln of the build's view within half a second: no ramp does that
BANG = 0.25  # ln: less than that is judged at leisure
AIR_AGAIN = -1.0  # ln of the pressure from before: a source that was said to have stopped runs
GUARDED = SILENT | {"hot", "too_hot", "pressure_high"}  # alarms that have limits of their own
SOLUTION_WITHIN = 300.0  # s after the air: later than that nobody brings the solution for the first time; judgement
AGAINST_START = frozenset({"weak", "strong", "clog", "flutter"})  # charts that look at the level of the beginning


class RunMonitor:
    """See the head of the file. ``solution_share``, of the load, is set from outside where it is known."""

    def __init__(self, views: FlowEstimates, settings: WatchSettings | None = None) -> None:
        self.settings = settings or WatchSettings()
        self._given = views
        self.views = views
        self.phase = WAITING
        self._words = "no air yet"
        self.book = AlarmLog()
        self.solution_share = nan
        self.time = nan
        self._readings = RecentReadings()
        self._bank = ChartSet(self.settings)
        self._guards = SafetyLimits(self.settings)
        self._last_known: dict[str, float] = {}
        self._pending: list[Tick] = []
        self._air_since = nan
        self._phase_since = nan
        self._moving: Baseline | None = None
        self._fixed: Baseline | None = None
        self._learner = BaselineLearner()
        self._open: PendingChange | None = None
        self._second: tuple[PendingChange, Baseline] | None = None  # what was judged at once and is looked at again
        self._consumption = SolutionDraw()
        self._rests_at = -inf  # after a change was judged: when the line will have come to rest
        self._quick = nan  # slow mean of ln pressure while priming
        self._there: tuple[bool, ...] | None = None  # what was read in the last block
        self._seen: dict[str, str] = {}  # what was seen when an alarm of missing solution was raised
        self._was_off = False  # the air, since the run began or began anew

    # --- what others ask --------------------------------------------------------------------------------------------

    @property
    def active(self) -> tuple[Alarm, ...]:
        """Alarms that last, the gravest first."""
        return self.book.active

    @property
    def phase_words(self) -> str:
        """How the run goes, as a sentence; which sensors are silent goes before what was last seen with them."""
        if "pressure_off" in self.book.lasting:
            both = " and anemometer" if "anemometer_off" in self.book.lasting else ""
            return f"not monitoring: pressure sensor{both} silent"
        if "anemometer_off" in self.book.lasting:
            return "monitoring the pressure only: anemometer silent"
        return self._words

    @property
    def remaining(self) -> Remaining:
        """What the alarms that last leave of the foam."""
        return remaining(self.active) if self.book.lasting else Remaining()

    @property
    def log(self) -> tuple[Alarm, ...]:
        """All alarms of the run, oldest first."""
        return tuple(self.book.log)

    @property
    def cannot_see(self) -> tuple[str, ...]:
        """What the watch is blind to with what it has now, as sentences."""
        lately = {name for name, at in self._last_known.items() if self.time - at < 2.0}
        useless = "mass" in lately and self._consumption.known and not self._consumption.tells
        return cannot_see(
            lately,
            source=self._given.source is not None,
            build=self._given.build is not None,
            scale_useless=useless,
            learning=self._fixed is None,
        )

    # --- feeding ----------------------------------------------------------------------------------------------------

    def feed(self, ticks: Sequence[Tick]) -> list[Alarm]:
        """Take ticks, oldest first; gives the alarms that are new, changed or over, by their number."""
        self.book.changed.clear()
        for tick in ticks:
            self._tick(tick)
        return [self.book.changed[number] for number in sorted(self.book.changed)]

    def gap(self) -> None:
        """Readings were interrupted: what is being added up begins anew, levels stay."""
        self._pending.clear()
        self._readings.forget_masses()
        self._open = None
        self._bank.reset()

    def _tick(self, tick: Tick) -> None:
        if tick.time - self.time > 1.0:
            self.gap()
        self.time = tick.time
        for name in ("pressure", "flow", "mass", "temperature"):
            if isfinite(getattr(tick, name)):
                self._last_known[name] = tick.time
        self._guards.pressure(tick, self.book)
        self._guards.anemometer(tick, self.book)
        self._guards.silent(tick, self.book)
        row = self._readings.take(tick, self.views)
        self._fast(row)
        self._pending.append(tick)
        if len(self._pending) >= BLOCK:
            self._block()
        if self._open is not None:
            self._try_to_judge(self._open)
        if self._second is not None and self.time >= self._second[0].onset + self.settings.second_look:
            self._look_again(*self._second)

    # --- changes with a bang ----------------------------------------------------------------------------------------

    def _fast(self, row: tuple[float, ...]) -> None:
        time, y = row[0], row[1]
        if self.phase == WAITING or self._suspended or time < self._rests_at:
            return
        if self._moving is not None:
            for sight in self._bank.tick(time, self._moving, dict(zip(NAMES, row[1:], strict=True))):
                self._see(sight, big=True)
        elif isfinite(y):  # priming: only a collapse of the pressure means anything
            self._quick = y if not isfinite(self._quick) else self._quick + (y - self._quick) * TICK
            if y - self._quick < COLLAPSE and self._open is None and time - self._air_since > 1.0:
                before = self._readings.since(time - 2.0)
                before = before[before[:, 0] < time - 0.3]
                level = {name: mean(before[:, k]) for k, name in enumerate(NAMES, start=1)}
                self._moving = provisional(level | {"pressure": self._quick})
                self._see(Detection("drop", "pressure", time - TICK), big=True)

    def _see(self, sight: Detection, *, big: bool) -> None:
        """Open a change, unless one is open; a bang makes a small one big, and a slow rise gives way to any other."""
        if self._open is None or (self._open.slow_rise and sight.chart != THIN):
            self._open = PendingChange(sight, big)
        elif big and not self._open.big and (not self._open.weighed or self._large(sight.view)):
            self._open = PendingChange(sight, big=True)

    def _large(self, view: str) -> bool:
        assert self._moving is not None
        return abs(self._moving.off(view, self._readings.now(0.15)[view])) > BANG

    @property
    def _suspended(self) -> bool:
        """After the gravest alarms there is nothing more to see until the line is back."""
        return any(code in self.book.lasting for code in (*STOPPERS, "thinning"))

    # --- blocks of half a second ------------------------------------------------------------------------------------

    def _block(self) -> None:
        ticks, self._pending = self._pending, []
        block, flutters = self._readings.close_block(len(ticks))
        self._sensors(ticks, block)
        steady = self.phase == FOAMING and not self.book.blamed
        self._guards.heat(ticks, self.book, steady=steady)
        self._phases(ticks, block)
        self._endings(block)
        if self.phase in (FOAMING, UNKNOWN) and not self._suspended:
            self._learn(block, flutters)
            if self._moving is not None and self.time < self._rests_at + BLOCK * TICK:
                self._moving = moved_to(self._moving, block)
                self._bank.reset()
            elif self._moving is not None and self._fixed is not None:
                there = views_of(block, source=self._given.source is not None)
                for sight in self._bank.block(self.time, self._moving, self._fixed, block, flutters, there):
                    self._see(sight, big=False)
        self._solution(block)
        self._say_as_it_is()

    def _sensors(self, ticks: Sequence[Tick], block: Mapping[str, float]) -> None:
        """A sensor that comes or goes may step what is reckoned with it: the level is then taken anew, not judged."""
        there = (isfinite(block["pressure"]), isfinite(block["flow"]), any(tick.flow_silent for tick in ticks))
        if self._there is not None and there != self._there:
            self._open = None
            self._bank.reset()
            self._rests_at = self.time + REST
        self._there = there

    def _go(self, phase: str, words: str) -> None:
        self.phase, self._words, self._phase_since = phase, words, self.time

    def _phases(self, ticks: Sequence[Tick], block: Mapping[str, float]) -> None:
        s = self.settings
        pressure, flow = known_mean(tick.pressure for tick in ticks), known_mean(tick.flow for tick in ticks)
        on = pressure > s.air_on or flow > s.air_flow
        if self.phase == WAITING:
            if on:
                self._begin("air flows; packing and foam hose fill")
        elif not on and self._moving is None and not self.book.blamed:
            self._go(
                WAITING, "no air" if isfinite(pressure) or isfinite(flow) else "neither pressure nor flow is known"
            )
            self._air_since = self._quick = nan
        elif on and self._was_off:
            self._begin("the air is back; packing and foam hose fill")
        elif self.phase == UNKNOWN or (self.phase == PRIMING and self._moving is None):
            self._is_primed()
        elif self.phase == AIR_ALONE and not looks_dry(self.views, block):
            self._go(PRIMING, "solution has come; packing and foam hose fill")
        if not on and (isfinite(pressure) or isfinite(flow)):
            self.book.held("off", self.time, s.off_for, self._air_is_off)
        else:
            self.book.let_go("off")

    def _air_is_off(self) -> None:
        self._was_off = True

    def _begin(self, words: str) -> None:
        """Air flows (again): whatever was known of the line is learnt anew once it has come to rest."""
        self._was_off = False
        for code in self.book.lasting.keys() - GUARDED:
            self.book.end(code, self.time)
        self._air_since = self.time
        self._quick = nan
        self._prime(words)

    def _prime(self, words: str) -> None:
        self._moving = self._fixed = self._open = self._second = None
        self._bank.reset()
        self._go(PRIMING, words)

    def _is_primed(self) -> None:
        """Over when the line has come to rest; its level is learnt from then on."""
        s = self.settings
        since = self.time - self._air_since
        if since < s.shortest_priming or self._open is not None or self._suspended:
            return
        lately = [(t, b) for t, b in self._readings.blocks if self.time - t < 4.0]
        view = steadiest_estimate(lately, build=self._given.build is not None)
        if view and at_rest(lately, view, s):
            block = lately[-1][1]
            if looks_dry(self.views, block):
                self._go(AIR_ALONE, "air alone passes: no solution yet")
            else:
                self._primed(block, lately)
            return
        if since > s.longest_priming and self.phase == PRIMING:
            self._go(UNKNOWN, "the line does not come to rest" if view else "whether it foams cannot be told")

    def _primed(self, block: Mapping[str, float], lately: Sequence[tuple[float, Mapping[str, float]]]) -> None:
        words = "foaming steadily"
        if self._given.build is None and not self._readings.drawn > 0.01:
            words = "the line is steady; only the bucket shows whether it foams"
        p, q = block["pressure"], block["flow"]
        if self._given.build is None and isfinite(p) and isfinite(q):
            self.views = self._given.with_reference(exp(p), exp(q))
        steep = 1.0
        if self.views.source is not None and isfinite(p):
            steep = abs(self.views.source.slope(exp(p)))
        self._learner = BaselineLearner(steep)
        # until the level is learnt only what goes off with a bang is seen
        self._fixed, self._moving = None, provisional(block, [b for _, b in lately])
        self._bank.reset()
        self._bank.design(self._moving, steep)
        self._go(FOAMING, words)

    def _learn(self, block: Mapping[str, float], flutters: float) -> None:
        s = self.settings
        since = self.time - self._phase_since
        if self._open is not None:
            return
        if since <= s.settle and not self.book.blamed and not self._learner.closed:
            if self._fixed is not None and not self._bank.quiet:
                return  # something is on its way: it must not be learnt as usual
            self._learner.take(block, flutters)
            if since >= s.learn:
                first = self._fixed is None
                self._fixed = self._moving = self._learner.reference()
                self._bank.design(self._fixed, self._learner.steepness)
                self._bank.design_slow(self._fixed)
                if first:
                    self._at_start(self._fixed)
            elif self._moving is not None and self._fixed is None and self._bank.quiet:
                self._moving = follow(self._moving, block, BLOCK * TICK / s.follow_at_first)
        elif self._moving is not None and self._fixed is not None:
            if not self.book.blamed:
                self._refine(block)
            if self._bank.quiet:
                self._learner.closed = True
                self._moving = follow(self._moving, block, BLOCK * TICK / s.follow)

    def _refine(self, block: Mapping[str, float]) -> None:
        """How much the line moves by itself becomes better known as the run goes on."""
        assert self._moving is not None
        if self._learner.watch({name: self._moving.off(name, block[name]) for name in NAMES}):
            self._moving = self._learner.refine(self._moving)
            self._bank.design(self._moving, self._learner.steepness)

    def _at_start(self, reference: Baseline) -> None:
        off = off_design_point(self._given, self.views, reference.level, self._learner.steepness)
        if off:
            self.book.say("off_at_start", self.time, "; ".join(off))

    def _still_off(self, block: Mapping[str, float]) -> None:
        known = any(isfinite(block[name]) for name in ("build", "source"))
        if known and not off_design_point(self._given, self.views, block, self._learner.steepness):
            self.book.held("over off_at_start", self.time, 5.0, lambda: self.book.end("off_at_start", self.time))
        else:
            self.book.let_go("over off_at_start")

    # --- judging ----------------------------------------------------------------------------------------------------

    def _try_to_judge(self, opened: PendingChange) -> None:
        s = self.settings
        if opened.slow_rise:
            self._try_slow_rise(opened)
            return
        sight = opened.sight
        reference = self._fixed if sight.chart in AGAINST_START else self._moving
        assert reference is not None
        wait = s.hold_big if opened.big else s.hold_small
        drier = sight.chart == "build up" and self._drawn_share < 0.85
        early = self.time < opened.onset + wait - 1e-9 and not drier
        if early and (opened.big or self.time < opened.onset + s.hold_ramp):
            return
        rows = self._readings.since(opened.onset - (2.0 if opened.big else 30.0))
        change = self._change(rows, opened, reference)
        if early and not (change.profile is not None and change.profile.clear_ramp):
            return
        if not isfinite(change.pressure) and not isfinite(change.flow):
            self._open = None  # a sensor has gone, which is said elsewhere; of the line nothing is known
            return
        if opened.big:
            sizes = (change.pressure, change.build, change.source)
            largest = max((abs(x) for x in sizes if isfinite(x)), default=0.0)
            if largest < BANG and not rise(rows, opened.onset, self.time) > SHARP:
                self._open = replace(opened, big=False, weighed=True)  # no bang after all: wait and see
                return
            if largest < BANG and self.time < opened.onset + s.hold_sharp - 1e-9:
                return  # nothing but a leak or a lost packing rises that fast; the anemometer is still on its way
            if self.time < opened.onset + 3.0 and still_moving(rows, self.time):
                return  # a machine that runs down: wait where it comes to rest
        self._open = None
        if self._going_back(sight.view, 0.15 if opened.big else BLOCK * TICK):
            return
        onset = opened.onset
        if change.profile is not None and not opened.big:
            onset = change.profile.onset
        verdict = diagnose(change)
        self._judged(verdict, onset, reference)
        if opened.big and verdict.code == "leak_after":
            self._second = opened, reference

    def _look_again(self, opened: PendingChange, reference: Baseline) -> None:
        """A leak that was told before the anemometer had followed: by now it may be seen to be a lost packing."""
        self._second = None
        if "leak_after" not in self.book.lasting or self._open is not None:
            return
        verdict = diagnose(self._change(self._readings.since(opened.onset - 2.0), opened, reference))
        if verdict.code == "packing_blown":
            self._judged(verdict, opened.onset, reference)

    def _try_slow_rise(self, opened: PendingChange) -> None:
        """The solution runs out: a rise of the build's view that goes on, too small yet for the other charts."""
        s, reference = self.settings, self._moving
        assert reference is not None
        if self.time < opened.onset + s.hold_ramp:
            return
        rows = self._readings.since(opened.onset - BEFORE_RISE)
        profile = rise_of(rows, opened)
        if profile is not None and profile.for_ramp > s.thin_evidence and profile.slope > s.thin_slope:
            change = self._change(rows, opened, reference)
            verdict = diagnose(replace(change, profile=replace(profile, kind="ramp")))
            if verdict.code in ("thinning", "dry") and not change.solution > AS_BEFORE:
                self._open = None
                if not self._going_back("build", BLOCK * TICK):
                    self._judged(verdict, profile.onset, reference)
                return
        if self.time > opened.onset + s.hold_small:
            self._open = None
            self._bank.thin.reset()

    def _change(self, rows: Array, opened: PendingChange, reference: Baseline) -> Change:
        return change_of(
            rows,
            opened,
            reference,
            readings=self._readings,
            given=self._given,
            views=self.views,
            solution=self._drawn_share,
            hotter=self._guards.hotter,
        )

    def _going_back(self, view: str, over: float) -> bool:
        """Whether the change is that of an alarm which is just ending."""
        value = self._readings.now(over)[view]
        if self._moving is None or not isfinite(value):
            return False
        return any(
            entry.view == view
            and entry.before is not None
            and abs(entry.before.off(view, value)) < 0.6 * abs(self._moving.off(view, value))
            for entry in self.book.lasting.values()
        )

    def _judged(self, verdict: Diagnosis, onset: float, reference: Baseline) -> None:
        """Say it, unless it has been said: an alarm of the same side of the line is made graver, or told anew."""
        book, code = self.book, verdict.code
        self._bank.reset()
        if code in ("clogging", "liquid_back") and self._solution_has_come(reference):
            self._prime("solution has come; packing and foam hose fill")
            return
        usual = 4.0 * reference.deviation[verdict.view] if verdict.view else 0.0
        if code == "changed" and (book.blamed or abs(_log_size(verdict.size)) < max(SMALLEST, usual)):
            return
        side = next((group for group in SIDES if code in group), (code,))
        lasting = [one for one in side if one in book.lasting]
        if lasting:
            entry = book.lasting[lasting[0]]
            before = entry.before or reference
            grown = before.off(verdict.view, self._readings.now()[verdict.view]) if verdict.view else nan
            told = _log_size(entry.alarm.size.value if entry.alarm.size is not None else nan)
            if code == "leak_after" == lasting[0] and self._runs_away(grown, told, entry.alarm):
                code = "thinning"
            weaker_still = lasting[0] == "source_weak" and code == "leak_before"  # a weak source is no leak
            if side.index(code) >= side.index(lasting[0]) or weaker_still:  # not graver than what is known
                if isfinite(grown) and isfinite(told) and abs(grown) > 1.5 * abs(told):
                    book.tell_anew(lasting[0], verdict.seen, exp(grown) - 1.0)
                self._settle(code, reference)
                return
            for one in lasting:
                book.end(one, self.time)
            reference, onset = before, entry.alarm.onset
        kind = words_of(code, self.solution_share, self._drawn_share)
        book.say(
            code,
            self.time,
            verdict.seen,
            onset=onset,
            size=verdict.size,
            before=reference,
            view=verdict.view,
            as_kind=kind,
        )
        self._seen[code] = verdict.seen
        self._phase_after(code)
        self._settle(code, reference)

    def _solution_has_come(self, reference: Baseline) -> bool:
        """By the scale, which did not fall before and does now; or by the measured line: the build passed too much air
        for a wet one until now, and does not pass too little.
        """
        usual = self._consumption
        if usual.known and not usual.tells and self._readings.drawn > TELLS:
            return True
        if self.time - self._air_since > SOLUTION_WITHIN:
            return False
        before, now = reference.level, self._readings.now()
        passed = off_design_point(replace(self._given, source=None), self.views, before, self._learner.steepness)
        return bool(passed) and before["build"] > 0.0 and now["build"] > -OFF

    def _runs_away(self, grown: float, told: float, alarm: Alarm) -> bool:
        """A leak stays as it is; what goes on growing for seconds is the solution running out."""
        return self.time - alarm.time < 30.0 and grown > 1.3 * abs(told) + 0.03

    def _settle(self, code: str, reference: Baseline) -> None:
        """What comes next is held against the line as it is once it has come to rest."""
        if code not in STOPPERS:
            self._moving = moved_to(reference, self._readings.now())
            self._rests_at = self.time + REST

    def _phase_after(self, code: str) -> None:
        if code == "thinning":
            self._go(THINNING, "the solution runs out")
        elif code == "dry":
            self._go(DRY, "no solution: air alone passes")
        elif code in STOPPERS:
            self._go(self.phase, KINDS[code].title)

    def _endings(self, block: Mapping[str, float]) -> None:
        """Alarms whose change has gone back; the level from before then holds again."""
        for code, entry in list(self.book.lasting.items()):
            before, size = entry.before, entry.alarm.size
            if code == "off_at_start":
                self._still_off(block)
                continue
            if before is None or not entry.view or not isfinite(block[entry.view]):
                continue
            if code == "source_off" and before.off("pressure", block["pressure"]) > AIR_AGAIN:
                self.book.held("air again", self.time, self.settings.over_for, self._air_again)
                continue
            self.book.let_go("air again")
            change = abs(_log_size(size.value)) if size is not None else 0.3
            left = max(0.02, 4.0 * before.deviation[entry.view], self.settings.over * change)
            back = abs(before.off(entry.view, block[entry.view])) < min(left, 0.5)
            if back and not (code in ("thinning", "dry") and self._drawn_share < 0.8):
                self.book.held(f"over {code}", self.time, self.settings.over_for, partial(self._over, code, entry))
            else:
                self.book.let_go(f"over {code}")

    def _air_again(self) -> None:
        self._begin("the air is back; packing and foam hose fill")

    def _over(self, code: str, entry: ActiveAlarm) -> None:
        self.book.end(code, self.time)
        if self.book.blamed:
            return
        learnt = entry.before is not None and entry.before.learnt
        if code in STOPPERS or not learnt:
            self._prime("the line is back; packing and foam hose fill")  # it wets anew
            return
        self._moving = entry.before
        self._bank.reset()
        if self.phase in (THINNING, DRY):
            self._go(FOAMING, "foaming again")
        else:
            self._go(self.phase, "foaming steadily" if self.phase == FOAMING else self._words)

    # --- solution ---------------------------------------------------------------------------------------------------

    @property
    def _drawn_share(self) -> float:
        """Share of the usual consumption that is still drawn, by the scale; NaN where it does not tell."""
        return self._consumption.share(self._readings.drawn)

    def _solution(self, block: Mapping[str, float]) -> None:
        drawn, book, level = self._readings.drawn, self.book, self._moving
        if self.phase == FOAMING and not book.blamed and self._open is None:
            self._consumption.learn(drawn)
        if level is None:
            return
        if self.phase == FOAMING and self._consumption.tells and isfinite(drawn):
            if self._consumption.falls_short(drawn) and not level.off("flow", block["flow"]) < -0.2:
                book.held("scale", self.time, 0.5, self._thinning)  # less air would draw less solution
            else:
                book.let_go("scale")
        elif "thinning" in book.lasting:
            before = book.lasting["thinning"].before
            grown = before.off("build", block["build"]) if before is not None else nan
            if self._is_dry(grown):
                book.held("dry", self.time, 1.0, lambda: self._dry(grown))
            else:
                book.let_go("dry")
        nearly = self.solution_share < 0.05 and level.off("build", block["build"]) > 0.05
        if nearly and self.phase in (FOAMING, UNKNOWN):  # no need to wait how it goes on
            book.end("leak_after", self.time)
            self._thinning()

    def _is_dry(self, grown: float) -> bool:
        """By the scale where it tells; else by how far the build's view has gone towards that of a dry build."""
        s, share = self.settings, self._drawn_share
        if isfinite(share):
            return share < s.spent and (grown > 0.1 or not isfinite(grown))
        if self.views.dried is None or self._moving is None:
            return grown > s.dry_at
        whole = self.views.dried.at(exp(self._moving.level["pressure"]))
        return grown > min(s.dry_at, s.dry_share * whole)

    def _thinning(self) -> None:
        self._seen["thinning"] = ""
        kind = words_of("thinning", self.solution_share, self._drawn_share)
        self.book.say(
            "thinning",
            self.time,
            self._shortage("thinning"),
            onset=self.time - 1.0,
            before=self._moving,
            view="build",
            as_kind=kind,
        )
        self._phase_after("thinning")
        self._bank.reset()
        self._open = None

    def _shortage(self, code: str) -> str:
        """What is seen of missing solution, as it is now: the scale goes on while the alarm lasts."""
        drawn = self._drawn_share
        now = f"solution drawn {_coarse(drawn)} of before" if isfinite(drawn) else "more air passes"
        left = f"; {_coarse(self.solution_share)} of the load is left" if isfinite(self.solution_share) else ""
        return (self._seen.get(code) or now) + left

    def _say_as_it_is(self) -> None:
        """Alarms of missing solution say what the scale shows now, not what it showed when they were raised."""
        for code in ("thinning", "dry"):
            if code in self.book.lasting and isfinite(self.solution_share):
                kind = words_of(code, self.solution_share, self._drawn_share)
                self.book.say_as(code, self._shortage(code), kind)
                if kind is not KINDS[code]:
                    self._words = kind.title

    def _dry(self, grown: float) -> None:
        entry = self.book.lasting["thinning"]
        self.book.end("thinning", self.time)
        seen = f"{share_of(grown)} air than while it foamed at this pressure"
        self.book.say(
            "dry",
            self.time,
            seen,
            onset=entry.alarm.onset,
            size=exp(grown) - 1.0,
            before=entry.before,
            view="build",
            as_kind=words_of("dry", self.solution_share, self._drawn_share),
        )
        self._seen["dry"] = seen
        self._phase_after("dry")


def _coarse(share: float) -> str:
    """In steps of 5 %, below 10 % of 1 %: words that change with every reading cannot be read."""
    return f"{share * 100:.0f} %" if share < 0.1 else f"{round(share * 20) * 5} %"


def _log_size(size: float) -> float:
    return log(1.0 + size) if size > -1.0 else nan
