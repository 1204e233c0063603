"""The run watch: takes ticks, tracks the phase of the run, detects changes and diagnoses them.

    watch = RunMonitor(Views.of(blower, line))
    changed = watch.feed(ticks)          # alarms that are new, whose words changed, or that ended
    watch.phase, watch.active, watch.log, watch.cannot_see

It works at three speeds: every 50 ms for sudden faults, every half second for leaks and shortage of solution, and
against the level of the first half minute for drifts. All thresholds follow from one design figure, the mean time
between false alarms (``WatchSettings.false_alarm_every``), see ``cusum``. The natural variation of the line is learnt
from the run itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite

from frothline.readings.resample import TICK, Tick
from frothline.run.state import FOAMING, UNKNOWN, WAITING
from frothline.run.watch.alarm_kinds import Remaining
from frothline.run.watch.alarms import Alarm, remaining
from frothline.run.watch.baseline import NAMES, moved_to, provisional
from frothline.run.watch.blind_spots import cannot_see
from frothline.run.watch.charts import Detection, views_of
from frothline.run.watch.diagnosis import ChangeDiagnosis
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.levels import LevelLearner
from frothline.run.watch.phases import PhaseTracker
from frothline.run.watch.recent_readings import BLOCK, mean
from frothline.run.watch.settings import WatchSettings
from frothline.run.watch.solution_watch import SolutionWatch
from frothline.run.watch.watch_state import REST, WatchState


class RunMonitor:
    """The watch of one run; see the module docstring."""

    def __init__(self, views: FlowEstimates, settings: WatchSettings | None = None) -> None:
        self.state = WatchState.of(views, settings or WatchSettings())
        self._levels = LevelLearner(self.state)
        self._phases = PhaseTracker(self.state, self._levels)
        self._diagnosis = ChangeDiagnosis(self.state, self._phases, self._levels)
        self._solution = SolutionWatch(self.state, self._phases)
        self._last_known: dict[str, float] = {}
        self._pending: list[Tick] = []
        self._there: tuple[bool, ...] | None = None  # readings of the last block

    @property
    def phase(self) -> str:
        return self.state.phase

    def set_solution_share(self, share: float) -> None:
        """Set the share of the load that is left; NaN if unknown."""
        self.state.solution_share = share

    @property
    def active(self) -> tuple[Alarm, ...]:
        """Active alarms, the most severe first."""
        return self.state.alarms.active

    @property
    def phase_words(self) -> str:
        """The state of the run as a sentence; silent sensors come before the last state observed with them."""
        state = self.state
        if "pressure_off" in state.alarms.lasting:
            both = " and anemometer" if "anemometer_off" in state.alarms.lasting else ""
            return f"not monitoring: pressure sensor{both} silent"
        if "anemometer_off" in state.alarms.lasting:
            return "monitoring the pressure only: anemometer silent"
        return state.words

    @property
    def remaining(self) -> Remaining:
        """Air and foam left under the active alarms."""
        return remaining(self.active) if self.state.alarms.lasting else Remaining()

    @property
    def log(self) -> tuple[Alarm, ...]:
        """All alarms of the run, oldest first."""
        return tuple(self.state.alarms.log)

    @property
    def cannot_see(self) -> tuple[str, ...]:
        """Faults that cannot be detected with the present sensors, as sentences."""
        state = self.state
        lately = {name for name, at in self._last_known.items() if state.time - at < 2.0}
        useless = "mass" in lately and state.draw.known and not state.draw.tells
        return cannot_see(
            lately,
            source=state.given.source is not None,
            build=state.given.build is not None,
            scale_useless=useless,
            learning=state.fixed is None,
        )

    def feed(self, ticks: Sequence[Tick]) -> list[Alarm]:
        """Take ticks, oldest first; returns new, changed and ended alarms, by number."""
        state = self.state
        state.alarms.changed.clear()
        for tick in ticks:
            self._tick(tick)
        return [state.alarms.changed[number] for number in sorted(state.alarms.changed)]

    def gap(self) -> None:
        """Handle an interruption of the readings: sums restart, levels stay."""
        state = self.state
        self._pending.clear()
        state.readings.forget_masses()
        state.change = None
        state.charts.reset()

    def _tick(self, tick: Tick) -> None:
        state = self.state
        if tick.time - state.time > 1.0:
            self.gap()
        state.time = tick.time
        for name in ("pressure", "flow", "mass", "temperature"):
            if isfinite(getattr(tick, name)):
                self._last_known[name] = tick.time
        state.limits.pressure(tick, state.alarms)
        state.limits.anemometer(tick, state.alarms)
        state.limits.silent(tick, state.alarms)
        row = state.readings.take(tick, state.views)
        self._fast(row)
        self._pending.append(tick)
        if len(self._pending) >= BLOCK:
            self._block()
        self._diagnosis.advance()

    def _fast(self, row: tuple[float, ...]) -> None:
        """Detect changes within a second."""
        state = self.state
        time, y = row[0], row[1]
        if state.phase == WAITING or state.suspended or time < state.rests_at:
            return
        if state.moving is not None:
            for found in state.charts.tick(time, state.moving, dict(zip(NAMES, row[1:], strict=True))):
                self._diagnosis.see(found, big=True)
        elif isfinite(y) and self._phases.collapses(y):  # while the line primes only a collapse is meaningful
            before = state.readings.since(time - 2.0)
            before = before[before[:, 0] < time - 0.3]
            level = {name: mean(before[:, k]) for k, name in enumerate(NAMES, start=1)}
            state.moving = provisional(level | {"pressure": self._phases.quick})
            self._diagnosis.see(Detection("drop", "pressure", time - TICK), big=True)

    def _block(self) -> None:
        state = self.state
        ticks, self._pending = self._pending, []
        block, flutters = state.readings.close_block(len(ticks))
        self._sensors(ticks, block)
        steady = state.phase == FOAMING and not state.alarms.blamed
        state.limits.heat(ticks, state.alarms, steady=steady)
        self._phases.advance(ticks, block)
        self._diagnosis.endings(block)
        if state.phase in (FOAMING, UNKNOWN) and not state.suspended:
            self._levels.learn(block, flutters)
            if state.moving is not None and state.time < state.rests_at + BLOCK * TICK:
                state.moving = moved_to(state.moving, block)
                state.charts.reset()
            elif state.moving is not None and state.fixed is not None:
                there = views_of(block, source=state.given.source is not None)
                for found in state.charts.block(state.time, state.moving, state.fixed, block, flutters, there):
                    self._diagnosis.see(found, big=False)
        self._solution.look(block)
        self._solution.update_words()

    def _sensors(self, ticks: Sequence[Tick], block: Mapping[str, float]) -> None:
        """Learn the level again when a sensor appears or disappears, because values calculated with it may step."""
        state = self.state
        there = (isfinite(block["pressure"]), isfinite(block["flow"]), any(tick.flow_silent for tick in ticks))
        if self._there is not None and there != self._there:
            state.change = None
            state.charts.reset()
            state.rests_at = state.time + REST
        self._there = there
