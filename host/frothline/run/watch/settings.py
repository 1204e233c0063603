"""Design figures and thresholds of the run watch."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class WatchSettings:
    """Settings of the watch; all may be changed. Logarithms are of ratios of flows or pressures, close to relative
    differences.

    false_alarm_every : s, mean time between false alarms of all charts together (40 h, four times the requirement)
    learn, settle : s of steady foaming before the charts work, and for the level that drifts are compared with
    """

    false_alarm_every: float = 40 * 3600.0
    learn: float = 10.0
    settle: float = 30.0
    shortest_priming: float = 5.0  # s
    longest_priming: float = 90.0  # s
    off_for: float = 1.0  # s without air after which a returning air flow restarts the run
    steady_slope: float = 0.004  # 1/s: of the build's view, below which priming is over, with
    steady_spread: float = 0.08  # of its half-second values about their mean, at most: more is oscillation
    air_on: float = 250.0  # Pa, or
    air_flow: float = 6e-4  # m3/s: above one of them air is on
    leak: float = 0.04  # half of a small leak's effect on the source's view: the chart's allowance
    loss: float = 0.03  # the same for the build's view
    thin: float = 0.006  # the same for a slow rise, which counts only as a clear ramp
    thin_slope: float = 0.003  # 1/s, of the build's view: less is not a reservoir that runs dry
    thin_evidence: float = (
        30.0  # of a ramp over a step, see ``ChangeShape.for_ramp``; large because neighbours are correlated
    )
    bang: float = 0.05  # allowance of the quick chart, of the build's view
    drop: float = 0.06  # and of the pressure
    drift: float = 0.025  # of the source's pressure, over the whole run
    clog: float = 0.05  # of the build's view, over the whole run
    flutter: float = 3.0  # times the usual variance
    hold_big: float = 0.3  # s after its onset until a sudden change is diagnosed: the anemometer has to follow
    hold_sharp: float = 0.3  # s, the same for a small one that rose at once
    second_look: float = 1.2  # s, until a leak diagnosed that early is checked again
    hold_ramp: float = 1.0  # s after which a clear ramp is accepted
    hold_small: float = 2.5  # s: by then step and ramp are distinguishable
    follow: float = 60.0  # s, time constant of the moving level
    follow_at_first: float = 3.0  # s, the same while the level is learnt
    dry_at: float = 0.5  # of the build's view over its level: more counts as air alone, without better evidence
    dry_share: float = 0.6  # fraction of the way to the dry flow of the build, if its model gives that
    spent: float = 0.1  # share of the usual consumption below which the draw counts as ended by the scale
    hot: float = 323.15  # K: 50 degrees in plastic pipe needs attention; judgement
    too_hot: float = 333.15  # K: 60 degrees is the end of unplasticised pressure pipe; common data sheets
    cooled: float = 3.0  # K below the limit, to end the alarm
    over: float = 0.4  # an alarm ends when less than this share of its change is left
    over_for: float = 3.0  # s
