"""The run watch: reads ticks, knows in which phase the run is, sees changes, says what they likely are.

    watch = RunWatch(Views.of(blower, line))
    changed = watch.feed(ticks)          # alarms that are new, whose words changed, or that ended
    watch.phase, watch.active, watch.log, watch.cannot_see

Three speeds: every 50 ms for what goes off with a bang, every half second for leaks and shortage of solution, against
the level of the first half minute for what drifts. All thresholds follow from one design figure, the mean time between
false alarms (``Settings.false_alarm_every``), see ``charts``; movement of a line that is in order is learnt from the
run itself.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, isfinite, log, nan
from statistics import fmean

import numpy as np

from frothline.bench.run_state import DRY, FOAMING, PRIMING, THINNING, UNKNOWN, WAITING
from frothline.estimate import Estimate
from frothline.physics.safety import HARD_PRESSURE_LIMIT, SOFT_PRESSURE_LIMIT

from .alarm import ALARM, KINDS, SEVERITIES, WARNING, Alarm
from .charts import Cusum, run_length_for
from .judge import Change, Verdict, judge
from .profile import profile_of
from .reference import NAMES, Learner, Reference, follow, moved_to
from .ticks import TICK, Tick
from .views import Views

BLOCK = 10  # ticks: half a second
SMALLEST = 0.02  # relative: a change that fits nothing known and is smaller than this is not worth a word

# Alarms of the same side of the line, the gravest first: only one of each lasts at a time.
SIDES = (
    ("source_off", "joint_off_before", "leak_before", "source_weak"),
    ("packing_blown", "joint_off_after", "dry", "thinning", "leak_after"),
    ("liquid_back", "clogging"),
)
# After these there is nothing more to be seen until the line is back.
STOPPERS = ("packing_blown", "joint_off_after", "joint_off_before", "dry", "source_off")


@dataclass(frozen=True)
class Settings:
    """What the watch is designed for; every figure may be changed.

    false_alarm_every : s, mean time between false alarms of all charts together (40 h, four times what is asked)
    learn, settle : s of steady foaming before the charts work, and for the level that drifts are held against
    """

    false_alarm_every: float = 40 * 3600.0
    learn: float = 10.0
    settle: float = 30.0
    shortest_priming: float = 5.0  # s
    longest_priming: float = 90.0  # s
    steady_slope: float = 0.004  # 1/s: of the build's view, below which priming is over
    air_on: float = 250.0  # Pa, or
    air_flow: float = 6e-4  # m3/s: above one of them air is on
    leak: float = 0.04  # half of what a small leak moves a view by: the charts' allowance
    loss: float = 0.03  # the same for the build's view
    bang: float = 0.12  # allowance of the quick chart, of the build's view
    drop: float = 0.06  # and of the pressure
    drift: float = 0.025  # of the source's pressure, over the whole run
    clog: float = 0.05  # of the build's view, over the whole run
    flutter: float = 3.0  # times the usual variance
    hold_big: float = 0.3  # s after its onset that a bang is judged: the anemometer has to follow
    hold_small: float = 2.5  # s: by then a step has parted from a ramp
    follow: float = 60.0  # s, time constant of the moving level
    dry_at: float = 0.5  # ln of the build's view over its level: more than that is air alone
    hot: float = 323.15  # K: 50 degrees in plastic pipe asks for attention; judgement
    too_hot: float = 333.15  # K: 60 degrees is the end of unplasticised pressure pipe
    cooled: float = 3.0  # K below, to end the alarm
    over: float = 0.4  # an alarm ends when less than this share of its change is left
    over_for: float = 3.0  # s


@dataclass
class _Open:
    """A change that was seen and is not yet judged."""

    chart: str
    view: str
    onset: float
    seen_at: float
    big: bool


class RunWatch:
    """See the head of the file."""

    def __init__(self, views: Views, settings: Settings | None = None) -> None:
        self.settings = settings or Settings()
        self._given = views
        self.views = views
        self.phase = WAITING
        self.phase_words = "no air yet"
        self.log: list[Alarm] = []
        self.solution_share = nan  # set from outside: solution left over the load, where a scale or a reckoning knows
        self._active: dict[str, tuple[Alarm, Reference | None, str]] = {}
        self._changed: dict[int, Alarm] = {}
        self._history: deque[tuple[float, float, float, float, float]] = deque(maxlen=round(60 / TICK))
        self._blocks: deque[tuple[float, dict[str, float]]] = deque(maxlen=240)
        self._pending: list[Tick] = []
        self._air_since = nan
        self._phase_since = nan
        self._reference: Reference | None = None  # moves along
        self._fixed: Reference | None = None  # of the first half minute
        self._learner = Learner()
        self._open: _Open | None = None
        self._since: dict[str, float] = {}
        self._mass: deque[tuple[float, float]] = deque(maxlen=round(2.5 / TICK))
        self._drawn_usual = nan
        self._drawn_seen: list[float] = []
        self._cool = nan  # usual temperature
        self._seen: dict[str, bool] = {"pressure": False, "flow": False, "mass": False, "temperature": False}
        self._last_known: dict[str, float] = {}
        self._quick = nan  # slow mean of ln pressure, for what happens before anything was learnt
        self.time = nan
        self._make_charts()

    # --- what others ask --------------------------------------------------------------------------------------------

    @property
    def active(self) -> tuple[Alarm, ...]:
        """Alarms that last, the gravest first."""
        alarms = [alarm for alarm, _, _ in self._active.values()]
        return tuple(sorted(alarms, key=lambda alarm: (-SEVERITIES.index(alarm.severity), alarm.time)))

    @property
    def cannot_see(self) -> tuple[str, ...]:
        """What the watch is blind to with what it has now, as sentences."""
        words = []
        lately = {name: self.time - at < 2.0 for name, at in self._last_known.items()}
        pressure, flow = lately.get("pressure", False), lately.get("flow", False)
        if not pressure and not flow:
            return ("neither pressure nor flow is known: nothing can be seen",)
        if not pressure:
            words.append("no pressure: only a change of the flow is seen, not where it comes from")
        if not flow:
            words.append("no anemometer: leaks cannot be placed, and small ones are not seen")
        if self._given.source is None:
            words.append(
                "no source curve: leaks before the anemometer and a weakening source look alike, and small ones "
                "are not seen; sweep the source once"
            )
        if self._given.build is None:
            words.append(
                "no build: what the generator asks for is taken from this run itself, so a wrong start is not seen"
            )
        if not lately.get("mass", False):
            words.append("no scale: solution that runs out is told by pressure and flow alone, and later")
        elif isfinite(self._drawn_usual) and not self._scale_tells:
            words.append("the scale does not fall: the reservoir is refilled, or the scale does not carry it")
        if not lately.get("temperature", False):
            words.append("no line thermometer: hot air is not seen")
        return tuple(words)

    @property
    def drawn(self) -> float:
        """Solution drawn now, kg/s, from the scale's last seconds; NaN without one."""
        if len(self._mass) < 20:
            return nan
        t, m = np.array(self._mass).T
        t = t - t.mean()
        power = float(t @ t)
        return -float(t @ m) / power if power > 0 else nan

    @property
    def _less_drawn(self) -> bool:
        return self._scale_tells and self.drawn < 0.85 * self._drawn_usual

    @property
    def _scale_tells(self) -> bool:
        return isfinite(self._drawn_usual) and self._drawn_usual > 0.01

    # --- feeding ----------------------------------------------------------------------------------------------------

    def feed(self, ticks: Sequence[Tick]) -> list[Alarm]:
        """Take ticks, oldest first; gives the alarms that are new, changed or over, by their number."""
        self._changed.clear()
        for tick in ticks:
            self._tick(tick)
        return [self._changed[number] for number in sorted(self._changed)]

    def gap(self) -> None:
        """Readings were interrupted: what is being added up begins anew, levels stay."""
        self._pending.clear()
        self._mass.clear()
        self._open = None
        for chart in self._charts.values():
            chart.reset()

    def _tick(self, tick: Tick) -> None:
        if tick.time - self.time > 1.0:
            self.gap()
        self.time = tick.time
        for name, value in (
            ("pressure", tick.pressure),
            ("flow", tick.flow),
            ("mass", tick.mass),
            ("temperature", tick.temperature),
        ):
            if isfinite(value):
                self._last_known[name] = tick.time
        if isfinite(tick.mass):
            self._mass.append((tick.time, tick.mass))
        self._safety(tick)
        y = log(max(tick.pressure, 1.0)) if isfinite(tick.pressure) else nan
        x = log(max(tick.flow, 1e-6)) if isfinite(tick.flow) else nan
        source, build = self.views.apart(tick.pressure, tick.flow)
        self._history.append((tick.time, y, x, source, build))
        self._fast(tick.time, y, build)
        self._pending.append(tick)
        if len(self._pending) >= BLOCK:
            self._block()
        if self._open is not None:
            self._try_to_judge()

    # --- charts -----------------------------------------------------------------------------------------------------

    def _make_charts(self) -> None:
        s = self.settings
        self._charts = {
            chart.name: chart
            for chart in (
                Cusum("bang", +1, s.bang, 0.2),
                Cusum("drop", -1, s.drop, 0.12),
                Cusum("source down", -1, s.leak, 0.1),
                Cusum("source up", +1, s.leak, 0.1),
                Cusum("build up", +1, s.loss, 0.06),
                Cusum("build down", -1, s.loss, 0.06),
                Cusum("pressure down", -1, s.loss, 0.06),
                Cusum("pressure up", +1, s.loss, 0.06),
                Cusum("flow down", -1, s.loss, 0.06),
                Cusum("flow up", +1, s.loss, 0.06),
                Cusum("weak", -1, s.drift, 0.15),
                Cusum("strong", +1, s.drift, 0.15),
                Cusum("clog", -1, s.clog, 0.3),
                Cusum("flutter", +1, s.flutter, 10.0),
            )
        }

    def _design(self) -> None:
        """Limits from the design figure and from what was learnt of this run."""
        reference = self._reference
        assert reference is not None
        every = self.settings.false_alarm_every
        by_block = run_length_for(every, BLOCK * TICK, len(self._charts))
        by_tick = run_length_for(every, TICK, len(self._charts))
        for name, view, least in (
            ("source down", "source", 0.08),
            ("source up", "source", 0.08),
            ("build up", "build", 0.04),
            ("build down", "build", 0.04),
            ("pressure down", "pressure", 0.04),
            ("pressure up", "pressure", 0.04),
            ("flow down", "flow", 0.04),
            ("flow up", "flow", 0.04),
            ("clog", "build", 0.3),
        ):
            self._charts[name].design(reference.deviation[view], reference.long_run[view], by_block, least)
        steep = max(self._learner.steepness, 0.3)
        for name in ("weak", "strong"):
            self._charts[name].design(
                reference.deviation["source"] / steep, reference.long_run["source"] / steep, by_block, 0.15
            )
        # single ticks are noisier than blocks of ten: by √10 if they were independent, which is the most
        self._charts["bang"].design(3.2 * reference.deviation["build"], reference.long_run["build"], by_tick, 0.15)
        self._charts["drop"].design(
            3.2 * reference.deviation["pressure"], reference.long_run["pressure"], by_tick, 0.08
        )

    def _reset_charts(self) -> None:
        for chart in self._charts.values():
            chart.reset()

    def _fast(self, time: float, y: float, build: float) -> None:
        """What goes off with a bang."""
        if self.phase == WAITING or self._suspended:
            return
        reference = self._reference
        if reference is None:  # priming: only a collapse of the pressure means anything
            if isfinite(y):
                self._quick = y if not isfinite(self._quick) else self._quick + (y - self._quick) * TICK / 1.0
                if y - self._quick < -0.5 and self._open is None and time - self._air_since > 1.0:
                    self._reference = Reference(
                        {"pressure": self._quick, **self._before(time)}, dict.fromkeys(NAMES, 0.02), {}
                    )
                    self._open = _Open("drop", "pressure", time - TICK, time, big=True)
            return
        if self._charts["bang"].feed(time, reference.off("build", build)):
            self._see("bang", "build", time, big=True)
        if self._charts["drop"].feed(time, reference.off("pressure", y)):
            self._see("drop", "pressure", time, big=True)

    def _before(self, time: float) -> dict[str, float]:
        rows = [row for row in self._history if time - 2.0 < row[0] < time - 0.3]
        return {
            name: fmean(values) if (values := [row[k] for row in rows if isfinite(row[k])]) else nan
            for k, name in ((2, "flow"), (3, "source"), (4, "build"))
        }

    def _see(self, chart: str, view: str, time: float, *, big: bool = False) -> None:
        """Open a change, unless one is open; a bang makes a small one big."""
        since = self._charts[chart].since
        since = since if isfinite(since) else time
        if self._open is None:
            self._open = _Open(chart, view, since, time, big)
        elif big and not self._open.big:
            self._open = replace(self._open, big=True, onset=min(since, self._open.onset))

    @property
    def _suspended(self) -> bool:
        """After the gravest alarms there is nothing more to see until the line is back."""
        return any(code in self._active for code in (*STOPPERS, "thinning"))

    # --- blocks of half a second ------------------------------------------------------------------------------------

    def _block(self) -> None:
        ticks, self._pending = self._pending, []
        rows = list(self._history)[-len(ticks) :]
        block = {
            name: fmean(values) if len(values := [row[k] for row in rows if isfinite(row[k])]) >= 3 else nan
            for k, name in enumerate(NAMES, start=1)
        }
        time = ticks[-1].time
        self._blocks.append((time, block))
        flutter = _flutter([row[4] if isfinite(row[4]) else row[1] for row in rows])
        self._heat(ticks)
        self._phases(time, ticks)
        self._endings(time, block)
        if self.phase in (FOAMING, UNKNOWN) and not self._suspended:
            self._learn(time, block, flutter)
            if self._reference is not None and self._fixed is not None:
                self._medium(time, block, flutter)
        self._solution(time, block)

    def _phases(self, time: float, ticks: Sequence[Tick]) -> None:
        s = self.settings
        p = fmean(v) if (v := [tick.pressure for tick in ticks if isfinite(tick.pressure)]) else nan
        q = fmean(v) if (v := [tick.flow for tick in ticks if isfinite(tick.flow)]) else nan
        on = p > s.air_on or q > s.air_flow
        if self.phase == WAITING:
            if on:
                self._air_since = time
                self._go(PRIMING, time, "air flows; packing and foam hose fill")
        elif not on and "source_off" not in self._active and self._reference is None:
            self._go(WAITING, time, "no air")
            self._air_since = nan
        elif self.phase == PRIMING:
            self._is_primed(time)

    def _is_primed(self, time: float) -> None:
        s = self.settings
        if time - self._air_since < s.shortest_priming or self._open is not None or self._suspended:
            return
        lately = [(t, b) for t, b in self._blocks if time - t < 4.0]
        view = "build" if self._given.build is not None else "pressure"
        values = np.array([b[view] for _, b in lately])
        if len(lately) < 7 or not np.isfinite(values).all():
            if time - self._air_since > s.longest_priming:
                self._go(UNKNOWN, time, "the air flows; whether it foams cannot be told")
            return
        slope = float(np.polyfit([t - time for t, _ in lately], values, 1)[0])
        if abs(slope) < s.steady_slope:
            words = "foaming steadily"
            if self._given.build is None and not self._scale_falls:
                words = "the line is steady; only the bucket shows whether it foams"
            self._learner = Learner(self._steepness(lately[-1][1]))
            if self._given.build is None:
                p, q = lately[-1][1]["pressure"], lately[-1][1]["flow"]
                if isfinite(p) and isfinite(q):
                    self.views = self._given.with_reference(exp(p), exp(q))
            self._go(FOAMING, time, words)
        elif time - self._air_since > s.longest_priming:
            self._go(UNKNOWN, time, "the line does not come to rest")

    @property
    def _scale_falls(self) -> bool:
        return self.drawn > 0.01

    def _steepness(self, block: Mapping[str, float]) -> float:
        if self.views.source is None or not isfinite(block["pressure"]):
            return 1.0
        return abs(self.views.source.slope(exp(block["pressure"])))

    def _go(self, phase: str, time: float, words: str) -> None:
        self.phase, self.phase_words, self._phase_since = phase, words, time

    def _learn(self, time: float, block: Mapping[str, float], flutter: float) -> None:
        s = self.settings
        since = time - self._phase_since
        if since <= s.settle and self._open is None and not self._blamed:
            self._learner.take(block, flutter)
            if since >= s.learn:
                fresh = self._learner.reference()
                first = self._reference is None
                self._fixed = fresh
                self._reference = fresh if first or self._reference is None else replace(fresh)
                self._design()
                if first:
                    self._at_start(time, fresh)
        elif self._reference is not None and self._open is None:
            quiet = all(chart.value < 0.3 * chart.limit for chart in self._charts.values())
            if quiet:
                self._reference = follow(self._reference, block, BLOCK * TICK / s.follow)

    @property
    def _blamed(self) -> bool:
        return bool(self._active.keys() - {"off_at_start", "source_strong", "hot", "too_hot", "pressure_high"})

    def _at_start(self, time: float, reference: Reference) -> None:
        """Whether the line works where curve and build say it should."""
        off = []
        if self._given.build is not None and self.views.line is not None:
            level = reference.level["build"]
            allowed = 0.1 + 2.0 * self._spread(exp(reference.level["pressure"]))
            if abs(level) > allowed:
                off.append(f"it passes {_share(level)} air than the build should at this pressure")
        if self._given.source is not None:
            level = reference.level["source"]
            if abs(level) > 0.1 + 0.06 * self._learner.steepness:
                off.append(f"the source gives {_share(level)} air than its curve at this pressure")
        if off:
            self._raise("off_at_start", time, time, "; ".join(off), nan, None, "build")

    def _spread(self, pressure: float) -> float:
        found = self.views.by_build(pressure)
        return found.standard_uncertainty / found.value if found is not None else 0.0

    def _medium(self, time: float, block: Mapping[str, float], flutter: float) -> None:
        reference, fixed = self._reference, self._fixed
        assert reference is not None
        assert fixed is not None
        fed: list[tuple[str, str, float]] = []
        if self._given.source is not None and isfinite(block["source"]):
            off = reference.off("source", block["source"])
            fed += [("source down", "source", off), ("source up", "source", off)]
            drift = fixed.off("source", block["source"]) / max(self._learner.steepness, 0.3)
            fed += [("weak", "source", drift), ("strong", "source", drift)]
        elif isfinite(block["pressure"]):
            off = reference.off("pressure", block["pressure"])
            fed += [("pressure down", "pressure", off), ("pressure up", "pressure", off)]
        if isfinite(block["build"]):
            off = reference.off("build", block["build"])
            fed += [("build up", "build", off), ("build down", "build", off)]
            fed += [("clog", "build", fixed.off("build", block["build"]))]
        elif isfinite(block["flow"]) and not isfinite(block["pressure"]):
            off = reference.off("flow", block["flow"])
            fed += [("flow down", "flow", off), ("flow up", "flow", off)]
        for name, view, off in fed:
            if self._charts[name].feed(time, off):
                self._see(name, view, time)
        if isfinite(flutter) and reference.flutter > 0:
            wild = self._charts["flutter"].feed(time, (flutter / reference.flutter) ** 2)
            lower = isfinite(block["build"]) and fixed.off("build", block["build"]) < -0.01
            if wild and lower:
                self._see("flutter", "build", time)

    # --- judging ----------------------------------------------------------------------------------------------------

    def _try_to_judge(self) -> None:
        opened, reference = self._open, self._reference
        assert opened is not None
        if opened.chart in {"weak", "strong", "clog", "flutter"}:
            reference = self._fixed
        assert reference is not None
        wait = self.settings.hold_big if opened.big else self.settings.hold_small
        if self.time < opened.onset + wait - 1e-9 and not (opened.chart == "build up" and self._less_drawn):
            return
        rows = np.array([row for row in self._history if row[0] > opened.onset - (2.0 if opened.big else 30.0)])
        change = self._change(rows, opened, reference)
        if opened.big and max(abs(change.pressure), abs(_zero(change.build)), abs(_zero(change.source))) < 0.25:
            self._open = replace(opened, big=False)  # no bang after all: wait and see
            return
        if opened.big and self.time < opened.onset + 3.0 and self._still_moving(rows):
            return  # a machine that runs down: wait where it comes to rest
        self._open = None
        if self._going_back(opened.view):
            return
        verdict = judge(change)
        profile = change.profile
        onset = opened.onset if profile is None or opened.big else profile.onset
        self._judged(verdict, onset, reference)

    def _still_moving(self, rows: np.ndarray) -> bool:
        lately = rows[rows[:, 0] > self.time - 0.22][:, 1]
        lately = lately[np.isfinite(lately)]
        return len(lately) >= 3 and abs(float(lately[-1] - lately[0])) > 0.015

    def _going_back(self, view: str) -> bool:
        """Whether the change is that of an alarm which is just ending."""
        now = self._now()
        for _, before, seen_by in self._active.values():
            if before is None or self._reference is None or seen_by != view or not isfinite(now[view]):
                continue
            if abs(before.off(view, now[view])) < 0.6 * abs(self._reference.off(view, now[view])):
                return True
        return False

    def _change(self, rows: np.ndarray, opened: _Open, reference: Reference) -> Change:
        recent = rows[rows[:, 0] > self.time - (0.12 if opened.big else 1.0)]
        now = {name: _mean(recent[:, k]) for k, name in enumerate(NAMES, start=1)}
        off = {name: reference.off(name, value) for name, value in now.items()}
        if self._given.source is None:
            off["source"] = nan
        profile = None
        if not opened.big:
            column = NAMES.index(opened.view) + 1
            coarse = rows[: len(rows) // 5 * 5].reshape(-1, 5, rows.shape[1])
            with np.errstate(invalid="ignore"):
                profile = profile_of(coarse[:, -1, 0], coarse[:, :, column].mean(axis=1) - reference.level[opened.view])
        flutter = nan
        if reference.flutter > 0:
            lately = rows[rows[:, 0] > self.time - 2.0]
            column = 4 if np.isfinite(lately[:, 4]).any() else 1
            flutter = _flutter(list(lately[:, column])) / reference.flutter
        solution = nan
        if self._scale_tells:
            solution = max(self.drawn, 0.0) / self._drawn_usual
        return Change(
            pressure=_zero(off["pressure"]),
            flow=off["flow"],
            source=off["source"],
            build=off["build"],
            tol_source=max(0.03, 3.0 * reference.deviation["source"]),
            tol_build=max(0.015, 3.0 * reference.deviation["build"]),
            profile=profile,
            fall_time=_fall_time(rows, off["pressure"], reference.level["pressure"]),
            bubbling=flutter if isfinite(flutter) else 1.0,
            solution=solution,
            hotter=self._hotter,
            build_known=self._given.build is not None,
        )

    def _judged(self, verdict: Verdict, onset: float, reference: Reference) -> None:
        """Say it, unless it has been said: an alarm of the same side of the line is made graver, or told anew."""
        code = verdict.code
        if code == "hot":
            code = "source_weak"  # the thermometer says the rest
        self._reset_charts()
        small = abs(log(1.0 + verdict.size)) < SMALLEST if isfinite(verdict.size) and verdict.size > -1.0 else False
        if code == "changed" and (small or self._blamed):
            return
        side = next((group for group in SIDES if code in group), (code,))
        lasting = [one for one in side if one in self._active]
        if lasting:
            before = self._active[lasting[0]][1] or reference
            grown = before.off(verdict.view, self._now()[verdict.view]) if verdict.view else nan
            alarm = self._active[lasting[0]][0]
            told = alarm.size.value if alarm.size is not None else nan
            if code == "leak_after" and "leak_after" in lasting and self._runs_away(grown, told, alarm):
                code = "thinning"
            graver = side.index(code) < side.index(lasting[0])
            if lasting[0] == "source_weak" and code == "leak_before":
                graver = False  # a weak source that weakens on is no leak
            if not graver:
                if isfinite(grown) and isfinite(told) and abs(grown) > 1.5 * abs(log(1.0 + told)):
                    self._tell_anew(lasting[0], verdict.seen, exp(grown) - 1.0)
                self._settle(code, reference)
                return
            for one in lasting:
                self._end(one, self.time)
            reference, onset = before, alarm.onset
        self._raise(code, self.time, onset, verdict.seen, verdict.size, reference, verdict.view)
        self._phase_after(code)
        self._settle(code, reference)

    def _runs_away(self, grown: float, told: float, alarm: Alarm) -> bool:
        """A leak stays as it is; what goes on growing for seconds is the solution running out."""
        soon = self.time - alarm.time < 30.0
        return soon and isfinite(grown) and grown > 1.3 * abs(log(1.0 + told)) + 0.03

    def _settle(self, code: str, reference: Reference) -> None:
        """What comes next is held against the line as it is now."""
        if self._blocks and code not in STOPPERS:
            self._reference = moved_to(reference, self._now())

    def _tell_anew(self, code: str, seen: str, size: float) -> None:
        alarm, before, view = self._active[code]
        fresh = replace(alarm, seen=seen, size=Estimate.normal(size, max(0.01, 0.1 * abs(size)), "1"))
        self.log[alarm.number - 1] = fresh
        self._active[code] = (fresh, before, view)
        self._changed[alarm.number] = fresh

    def _now(self) -> dict[str, float]:
        rows = np.array(list(self._history)[-BLOCK:])
        return {name: _mean(rows[:, k]) for k, name in enumerate(NAMES, start=1)}

    def _phase_after(self, code: str) -> None:
        if code == "thinning":
            self._go(THINNING, self.time, "the solution runs out")
        elif code == "dry":
            self._go(DRY, self.time, "no solution: air alone passes")

    # --- solution ---------------------------------------------------------------------------------------------------

    def _solution(self, time: float, block: Mapping[str, float]) -> None:
        drawn = self.drawn
        if self.phase == FOAMING and not self._blamed and isfinite(drawn) and self._open is None:
            self._drawn_seen = [*self._drawn_seen[-39:], drawn]
            if len(self._drawn_seen) >= 10:
                self._drawn_usual = float(np.median(self._drawn_seen))
        level = None if self._reference is None else self._reference
        if level is None:
            return
        if self.phase == FOAMING and self._scale_tells and isfinite(drawn):
            falling = 0.0 - 0.3 * self._drawn_usual < drawn < 0.75 * self._drawn_usual
            known_air = not isfinite(block["flow"]) or level.off("flow", block["flow"]) > -0.2
            if falling and known_air and "thinning" not in self._active:
                self._held("scale", time, 0.5, self._thinning)
            else:
                self._since.pop("scale", None)
        elif self.phase == THINNING and "thinning" in self._active:
            before = self._active["thinning"][1]
            grown = before.off("build", block["build"]) if before is not None else nan
            spent = self._scale_tells and isfinite(drawn) and drawn < 0.05 * self._drawn_usual
            if grown > self.settings.dry_at or (spent and grown > 0.1):
                self._held("dry", time, 1.0, lambda: self._dry(grown, before))
        self._out_of_solution(time, block)

    def _out_of_solution(self, time: float, block: Mapping[str, float]) -> None:
        """The scale says that next to nothing is left, and the line passes more air: no need to wait."""
        if not self.solution_share < 0.05 or self.phase not in (FOAMING, UNKNOWN):
            return
        reference = self._reference
        if reference is None or reference.off("build", block["build"]) < 0.05 or "dry" in self._active:
            return
        self._open = None
        for code in ("leak_after", "packing_blown"):
            self._end(code, time)
        self._thinning()

    def _held(self, name: str, time: float, seconds: float, do: object) -> None:
        """Do something once a condition has lasted."""
        began = self._since.setdefault(name, time)
        if time - began >= seconds:
            self._since.pop(name)
            assert callable(do)
            do()

    def _thinning(self) -> None:
        left = f"; {self.solution_share:.0%} of the load is left" if isfinite(self.solution_share) else ""
        share = max(self.drawn, 0.0) / self._drawn_usual if self._scale_tells else nan
        seen = f"solution drawn {share:.0%} of before{left}" if isfinite(share) else f"more air passes{left}"
        self._raise("thinning", self.time, self.time - 1.0, seen, nan, self._reference, "build")
        self._phase_after("thinning")
        self._reset_charts()
        self._open = None

    def _dry(self, grown: float, before: Reference | None) -> None:
        alarm = self._active["thinning"][0]
        self._end("thinning", self.time)
        seen = f"{_share(grown)} air than while it foamed at this pressure"
        self._raise("dry", self.time, alarm.onset, seen, exp(grown) - 1.0, before, "build")
        self._phase_after("dry")

    # --- heat and pressure ------------------------------------------------------------------------------------------

    def _heat(self, ticks: Sequence[Tick]) -> None:
        values = [tick.temperature for tick in ticks if isfinite(tick.temperature)]
        if not values:
            return
        kelvin, time, s = fmean(values), ticks[-1].time, self.settings
        self._hotter = kelvin - self._cool if isfinite(self._cool) else 0.0
        if self.phase == FOAMING and not self._blamed:
            self._cool = kelvin if not isfinite(self._cool) else self._cool + (kelvin - self._cool) * 0.5 / 120.0
        for code, limit in (("hot", s.hot), ("too_hot", s.too_hot)):
            if kelvin > limit and code not in self._active:
                seen = f"the air in the line is at {kelvin - 273.15:.0f} °C"
                self._held(code, time, 2.0, lambda c=code, w=seen: self._raise(c, time, time, w, nan, None, ""))
            elif kelvin < limit - s.cooled:
                self._since.pop(code, None)
                self._end(code, time)

    _hotter = 0.0

    def _safety(self, tick: Tick) -> None:
        p = tick.pressure
        high = p > SOFT_PRESSURE_LIMIT or (tick.saturated and not isfinite(p))
        if high and "pressure_high" not in self._active:
            hard = p > HARD_PRESSURE_LIMIT
            words = "the pressure sensor is at its end" if not isfinite(p) else f"{p / 1e3:.0f} kPa on the line"
            self._held(
                "pressure_high",
                tick.time,
                0.0 if hard else 0.5,
                lambda: self._raise("pressure_high", tick.time, tick.time, words, nan, None, ""),
            )
        elif not high:
            self._since.pop("pressure_high", None)
            if p < 0.9 * SOFT_PRESSURE_LIMIT:
                self._end("pressure_high", tick.time)

    # --- alarms -----------------------------------------------------------------------------------------------------

    def _raise(
        self, code: str, time: float, onset: float, seen: str, size: float, before: Reference | None, view: str
    ) -> None:
        """A new alarm, or fresh words for one that lasts already."""
        if code in self._active:
            return  # it has been said
        kind = KINDS[code]
        severity = kind.severity
        if code == "leak_after" and size > 0.2:
            severity = ALARM
        told = None
        if isfinite(size):
            told = Estimate.normal(size, max(0.01, 0.1 * abs(size)), "1")
        alarm = Alarm(
            number=len(self.log) + 1,
            code=code,
            severity=severity,
            place=kind.place,
            title=kind.title,
            seen=seen,
            means=kind.means,
            do=kind.do,
            time=time,
            onset=onset,
            size=told,
        )
        self.log.append(alarm)
        self._active[code] = (alarm, before, view)
        self._changed[alarm.number] = alarm

    def _end(self, code: str, time: float) -> None:
        if code not in self._active:
            return
        alarm, _, _ = self._active.pop(code)
        over = replace(alarm, ended=time)
        self.log[alarm.number - 1] = over
        self._changed[alarm.number] = over
        self._since.pop(f"over {code}", None)

    def _endings(self, time: float, block: Mapping[str, float]) -> None:
        """Alarms whose change has gone back; the level from before then holds again."""
        for code, (_alarm, before, view) in list(self._active.items()):
            if before is None or code in ("hot", "too_hot", "pressure_high", "off_at_start") or not view:
                continue
            value = block.get(view, nan)
            if not isfinite(value):
                continue
            off = abs(before.off(view, value))
            alone = max(0.02, 4.0 * before.deviation[view])
            size = _alarm.size
            change = abs(log(1.0 + size.value)) if size is not None and size.value > -0.999 else 0.3
            if off < max(alone, self.settings.over * change) and off < 0.5:
                self._held(f"over {code}", time, self.settings.over_for, lambda c=code, b=before: self._over(c, b))
            else:
                self._since.pop(f"over {code}", None)

    def _over(self, code: str, before: Reference) -> None:
        self._end(code, self.time)
        if not self._blamed:
            self._reference = before if before.long_run else None
            self._reset_charts()
            if self.phase in (THINNING, DRY) or self._reference is None:
                self._go(PRIMING if self._reference is None else FOAMING, self.time, "foaming again")

    @property
    def worst(self) -> str:
        """Severity of the gravest alarm that lasts, or nothing."""
        found = self.active
        return found[0].severity if found else ""


def _zero(value: float) -> float:
    return value if isfinite(value) else 0.0


def _mean(values: np.ndarray) -> float:
    good = values[np.isfinite(values)]
    return float(good.mean()) if len(good) else nan


def _flutter(values: Sequence[float]) -> float:
    """Movement within a block, by differences over 0.15 s: bubbles come several times a second, a slope is slower."""
    x = np.asarray(values)
    x = x[np.isfinite(x)]
    return float(np.sqrt(np.mean((x[3:] - x[:-3]) ** 2) / 2.0)) if len(x) >= 6 else nan


def _fall_time(rows: np.ndarray, fall: float, level: float) -> float:
    """Time from a fifth to four fifths of a change of the pressure, s."""
    if not isfinite(fall) or abs(fall) < 0.05:
        return nan
    share = (rows[:, 1] - level) / fall
    late = np.flatnonzero(share > 0.8)
    early = np.flatnonzero(share < 0.2)
    if not len(late) or not len(early):
        return nan
    first = late[0]
    before = early[early < first]
    return float(rows[first, 0] - rows[before[-1], 0]) if len(before) else nan


def _share(level: float) -> str:
    return f"{abs(exp(level) - 1.0):.0%} {'more' if level > 0 else 'less'}"


__all__ = ["WARNING", "RunWatch", "Settings"]
