"""The phase of a run: waiting, priming, foaming, thinning or dry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite, nan

from frothline.readings.resample import TICK, Tick
from frothline.run.state import AIR_ALONE, DRY, PRIMING, THINNING, UNKNOWN, WAITING
from frothline.run.watch.alarm_kinds import ENDS_WATCHING, KINDS, OWN_LIMIT
from frothline.run.watch.baseline import Baseline
from frothline.run.watch.levels import LevelLearner
from frothline.run.watch.pending_change import PendingChange
from frothline.run.watch.recent_readings import known_mean
from frothline.run.watch.startup import at_rest, looks_dry, steadiest_estimate
from frothline.run.watch.watch_state import WatchState

COLLAPSE = -0.5  # ln of pressure within a second, for changes before a level is learnt


class PhaseTracker:
    """Sets ``state.phase``. ``air_since`` is the start time of the air, ``quick`` a slow mean of the logarithm of the
    pressure while the line primes. ``second`` is a change diagnosed at once, for a second evaluation.
    """

    def __init__(self, state: WatchState, levels: LevelLearner) -> None:
        self._state = state
        self._levels = levels
        self._was_off = False  # time of the air, since the start or restart of the run
        self.air_since = nan
        self.quick = nan
        self.second: tuple[PendingChange, Baseline] | None = None

    def advance(self, ticks: Sequence[Tick], block: Mapping[str, float]) -> None:
        state = self._state
        s = state.settings
        pressure, flow = known_mean(tick.pressure for tick in ticks), known_mean(tick.flow for tick in ticks)
        on = pressure > s.air_on or flow > s.air_flow
        if state.phase == WAITING:
            if on:
                self.begin("priming")
        elif not on and state.moving is None and not state.alarms.blamed:
            state.go(
                WAITING, "no air" if isfinite(pressure) or isfinite(flow) else "neither pressure nor flow is known"
            )
            self.air_since = self.quick = nan
        elif on and self._was_off:
            self.begin("priming: the air is back")
        elif state.phase == UNKNOWN or (state.phase == PRIMING and state.moving is None):
            self._is_primed()
        elif state.phase == AIR_ALONE and not looks_dry(state.views, block):
            state.go(PRIMING, "priming: solution has arrived")
        if not on and (isfinite(pressure) or isfinite(flow)):
            state.alarms.held("off", state.time, s.off_for, self._air_is_off)
        else:
            state.alarms.let_go("off")

    def _air_is_off(self) -> None:
        self._was_off = True

    def begin(self, words: str) -> None:
        """Begin with the (renewed) air flow: the line is learnt again when it is steady."""
        state = self._state
        self._was_off = False
        for code in state.alarms.lasting.keys() - OWN_LIMIT:
            state.alarms.end(code, state.time)
        self.air_since = state.time
        self.quick = nan
        self.prime(words)

    def prime(self, words: str) -> None:
        state = self._state
        state.moving = state.fixed = state.change = self.second = None
        state.charts.reset()
        state.go(PRIMING, words)

    def collapses(self, log_pressure: float) -> bool:
        """Whether the pressure falls well below its slow mean while the line primes; call it once per tick."""
        state = self._state
        if not isfinite(self.quick):
            self.quick = log_pressure
        else:
            self.quick += (log_pressure - self.quick) * TICK
        settled = state.change is None and state.time - self.air_since > 1.0
        return settled and log_pressure - self.quick < COLLAPSE

    def _is_primed(self) -> None:
        """End priming when the line is steady; its level is learnt from then on."""
        state = self._state
        s = state.settings
        since = state.time - self.air_since
        if since < s.shortest_priming or state.change is not None or state.suspended:
            return
        lately = [(t, b) for t, b in state.readings.blocks if state.time - t < 4.0]
        view = steadiest_estimate(lately, build=state.given.build is not None)
        if view and at_rest(lately, view, s):
            block = lately[-1][1]
            if looks_dry(state.views, block):
                state.go(AIR_ALONE, "air only: no solution yet")
            else:
                self._levels.start(block, lately)
            return
        if since > s.longest_priming and state.phase == PRIMING:
            state.go(UNKNOWN, "the line does not become steady" if view else "foaming cannot be confirmed")

    def after_alarm(self, code: str) -> None:
        state = self._state
        if code == "thinning":
            state.go(THINNING, "the solution runs out")
        elif code == "dry":
            state.go(DRY, "no solution: air only")
        elif code in ENDS_WATCHING:
            state.go(state.phase, KINDS[code].title)
