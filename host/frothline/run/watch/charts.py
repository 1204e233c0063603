"""The CUSUM charts of the watch: view, interval and limit of each, from the design figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite, sqrt

from frothline.readings.resample import TICK
from frothline.run.watch.baseline import Baseline
from frothline.run.watch.cusum import Cusum, run_length_for
from frothline.run.watch.recent_readings import BLOCK
from frothline.run.watch.settings import WatchSettings

# Minimum limit of a chart: half a second of a relevant change. The noise of a line is less normal than the design
# assumes.
LEAST = {"bang": 0.08, "drop": 0.08, "source": 0.08, "weak": 0.15, "strong": 0.15, "clog": 0.3, "thin": 0.01}
USUAL_LEAST = 0.04
THIN = "thin"  # the chart of a slow rise of the build's view: its detection counts only as a clear ramp
FLUTTER_LIMIT = 10.0  # times the usual variance, added up; judged on simulated lines
# A single tick is noisier than the mean of a block of ten: by √10 if ticks were independent, which is the most; a sum
# of ticks runs by √10 times the long-run deviation of blocks in any case
TICK_OVER_BLOCK = sqrt(BLOCK)


@dataclass(frozen=True)
class Detection:
    """A chart above its limit: its name, its view, and the onset of the change."""

    chart: str
    view: str
    onset: float


class ChartSet:
    """Charts of three speeds: ``fast`` each tick, ``medium`` each block against the moving level, ``slow`` each block
    against the initial level.
    """

    def __init__(self, settings: WatchSettings) -> None:
        self.settings = s = settings
        self.fast = {
            "bang": (Cusum("bang", +1, s.bang, 0.2), "build"),
            "drop": (Cusum("drop", -1, s.drop, 0.12), "pressure"),
        }
        allowance = {"source": s.leak, "build": s.loss, "pressure": s.loss, "flow": s.loss}
        self.medium = {
            f"{view} {word}": (Cusum(f"{view} {word}", sign, allowed, 0.1), view)
            for view, allowed in allowance.items()
            for word, sign in (("up", +1), ("down", -1))
        }
        self.slow = {
            "weak": (Cusum("weak", -1, s.drift, 0.15), "source"),
            "strong": (Cusum("strong", +1, s.drift, 0.15), "source"),
            "clog": (Cusum("clog", -1, s.clog, 0.3), "build"),
        }
        self.thin = Cusum(THIN, +1, s.thin, 0.05)
        self.flutter = Cusum("flutter", +1, s.flutter, FLUTTER_LIMIT)
        self.steepness = 1.0

    @property
    def _all(self) -> list[Cusum]:
        return [chart for row in (self.fast, self.medium, self.slow) for chart, _ in row.values()] + [
            self.thin,
            self.flutter,
        ]

    def design(self, reference: Baseline, steepness: float) -> None:
        """Set the limits for the design time between false alarms, from the learnt baseline.

        steepness : -d ln q/d ln p of the source, the factor from a variation of its pressure to its view
        """
        self.steepness = max(steepness, 0.3)
        every, number = self.settings.false_alarm_every, len(self._all)
        by_block, by_tick = run_length_for(every, BLOCK * TICK, number), run_length_for(every, TICK, number)
        for name, (chart, view) in self.medium.items():
            least = LEAST.get(view, USUAL_LEAST) if name not in LEAST else LEAST[name]
            chart.design(reference.deviation[view], reference.long_run[view], by_block, least)
        # a line with large variation also drifts in ramps: its usual drift is allowed for
        self.thin.allowance = max(self.settings.thin, reference.long_run["build"])
        # it only triggers a closer analysis: an hour between its own alarms is enough
        look = run_length_for(min(every, 3600.0), BLOCK * TICK, number)
        self.thin.design(reference.deviation["build"], reference.long_run["build"], look, LEAST[THIN])
        for name, (chart, view) in self.fast.items():
            one, run = reference.deviation[view], reference.long_run[view]
            chart.design(TICK_OVER_BLOCK * one, TICK_OVER_BLOCK * run, by_tick, LEAST[name])

    def design_slow(self, reference: Baseline) -> None:
        """Set the limits of the charts against the initial level, after ``design``. Only once: later the searched drift
        itself would count as variation.
        """
        by_block = run_length_for(self.settings.false_alarm_every, BLOCK * TICK, len(self._all))
        for name, (chart, view) in self.slow.items():
            scale = 1.0 / self.steepness if view == "source" else 1.0
            chart.design(scale * reference.deviation[view], scale * reference.long_run[view], by_block, LEAST[name])

    def reset(self) -> None:
        for chart in self._all:
            chart.reset()

    @property
    def quiet(self) -> bool:
        """Whether no chart is rising, so that the level may follow."""
        return all(chart.value < 0.3 * chart.limit for chart in self._all if chart is not self.thin)

    # --- feeding ----------------------------------------------------------------------------------------------------

    def tick(self, time: float, reference: Baseline, values: Mapping[str, float]) -> list[Detection]:
        """Feed the fast charts with the views of one tick."""
        return [
            _sight(chart, view, time)
            for chart, view in self.fast.values()
            if chart.feed(time, reference.off(view, values[view]))
        ]

    def block(
        self,
        time: float,
        moving: Baseline,
        fixed: Baseline,
        block: Mapping[str, float],
        flutter: float,
        views: tuple[str, ...],
    ) -> list[Detection]:
        """Feed the others with the means of a block; ``views`` are the meaningful ones on this line."""
        seen = [
            _sight(chart, view, time)
            for chart, view in self.medium.values()
            if view in views and chart.feed(time, moving.off(view, block[view]))
        ]
        if "build" in views and self.thin.feed(time, moving.off("build", block["build"])):
            seen.append(_sight(self.thin, "build", time))
        for chart, view in self.slow.values():
            scale = 1.0 / self.steepness if view == "source" else 1.0
            if view in views and chart.feed(time, scale * fixed.off(view, block[view])):
                seen.append(_sight(chart, view, time))
        if isfinite(flutter) and moving.flutter > 0.0:
            wild = self.flutter.feed(time, (flutter / moving.flutter) ** 2)
            if wild and fixed.off("build", block["build"]) < -0.01:  # bubbling alone is not specific
                seen.append(_sight(self.flutter, "build", time))
        return seen


def views_of(block: Mapping[str, float], *, source: bool) -> tuple[str, ...]:
    """The views for the charts: the best available ones."""
    there = []
    if isfinite(block["pressure"]):
        there.append("source" if source and isfinite(block["source"]) else "pressure")
        if isfinite(block["build"]):
            there.append("build")
    elif isfinite(block["flow"]):
        there.append("flow")
    return tuple(there)


def _sight(chart: Cusum, view: str, time: float) -> Detection:
    return Detection(chart.name, view, chart.since if isfinite(chart.since) else time)
