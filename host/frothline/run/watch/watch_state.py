"""The shared state of the run watch: readings, levels, charts, alarm log and phase."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf, nan

from frothline.run.state import WAITING
from frothline.run.watch.alarm_kinds import ENDS_WATCHING
from frothline.run.watch.alarm_log import AlarmLog
from frothline.run.watch.baseline import Baseline, moved_to
from frothline.run.watch.charts import ChartSet
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.pending_change import PendingChange
from frothline.run.watch.recent_readings import RecentReadings
from frothline.run.watch.safety_limits import SafetyLimits
from frothline.run.watch.settings import WatchSettings
from frothline.run.watch.solution_draw import SolutionDraw

REST = 1.0  # s, settling time of a line after a change


@dataclass
class WatchState:
    """State of the watch of one run. ``given`` are the flow estimates as given, ``views`` those in use.

    ``moving`` is the level that follows the line slowly, ``fixed`` the level learnt at the beginning; both None before
    the line is steady. ``change`` is a detected change without a diagnosis, ``rests_at`` the time at which the line
    will be at rest after a diagnosed one. ``solution_share``: share of the load that is left, NaN where unknown.
    ``seen``: observation at the raising of an alarm of missing solution, by code. Times in s of session time.
    """

    given: FlowEstimates
    settings: WatchSettings
    charts: ChartSet
    limits: SafetyLimits
    views: FlowEstimates
    alarms: AlarmLog = field(default_factory=AlarmLog)
    readings: RecentReadings = field(default_factory=RecentReadings)
    draw: SolutionDraw = field(default_factory=SolutionDraw)
    time: float = nan
    phase: str = WAITING
    words: str = "no air yet"
    phase_since: float = nan
    moving: Baseline | None = None
    fixed: Baseline | None = None
    change: PendingChange | None = None
    rests_at: float = -inf
    solution_share: float = nan
    seen: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, views: FlowEstimates, settings: WatchSettings) -> WatchState:
        return cls(views, settings, ChartSet(settings), SafetyLimits(settings), views)

    def go(self, phase: str, words: str) -> None:
        """Enter a phase, or change the words of the present one."""
        self.phase, self.words, self.phase_since = phase, words, self.time

    @property
    def drawn_share(self) -> float:
        """Drawn share of the usual solution draw by the scale; NaN if unknown."""
        return self.draw.share(self.readings.drawn)

    @property
    def suspended(self) -> bool:
        """Whether the watch is suspended, after the most severe alarms until the line is back."""
        return any(code in self.alarms.lasting for code in (*ENDS_WATCHING, "thinning"))

    def settle(self, code: str, reference: Baseline) -> None:
        """Compare the next readings with the line after it is steady again."""
        if code not in ENDS_WATCHING:
            self.moving = moved_to(reference, self.readings.now())
            self.rests_at = self.time + REST
