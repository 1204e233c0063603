"""A detected change that is not diagnosed yet, with the evidence so far."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, isfinite, nan

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.run.watch.baseline import NAMES, Baseline
from frothline.run.watch.change_shape import ChangeShape, shape_of
from frothline.run.watch.charts import THIN, Detection
from frothline.run.watch.fault_signatures import Change
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.recent_readings import RecentReadings, coarse, fall_time, flutter, mean

BEFORE_RISE = 8.0  # s of readings before a slow rise
PRESSURE, BUILD = (1 + NAMES.index(name) for name in ("pressure", "build"))  # columns of the readings' rows


@dataclass(frozen=True)
class PendingChange:
    """A detected change. ``big``: diagnose at once; ``weighed``: checked and not big."""

    sight: Detection
    big: bool
    weighed: bool = False

    @property
    def onset(self) -> float:
        return self.sight.onset

    @property
    def slow_rise(self) -> bool:
        return self.sight.chart == THIN


def rise_of(rows: Floats, opened: PendingChange) -> ChangeShape | None:
    """The profile of a slow rise of the build's view, against the level just before it, because the moving level lags.

    rows : (n, 5) from ``BEFORE_RISE`` before its onset
    """
    before = mean(rows[rows[:, 0] < opened.onset - 1.0][:, BUILD])
    return shape_of(*coarse(rows, "build", before), earliest=opened.onset - 2.0)


def change_of(
    rows: Floats,
    opened: PendingChange,
    reference: Baseline,
    *,
    readings: RecentReadings,
    given: FlowEstimates,
    views: FlowEstimates,
    solution: float,
    hotter: float,
) -> Change:
    """The change at present, against the reference.

    rows : (n, 5) from before the change
    given : estimates as given for the line
    views : estimates with additions of the run
    solution : drawn share of the usual consumption
    hotter : K over the usual
    """
    now = readings.now(0.15 if opened.big else 1.0)
    off = {name: reference.off(name, value) for name, value in now.items()}
    if given.source is None:
        off["source"] = nan
    profile = None
    if not opened.big:
        profile = shape_of(*coarse(rows, opened.sight.view, reference.level[opened.sight.view]))
    bare = nan
    if views.bare is not None and isfinite(reference.level["pressure"]):
        bare = views.bare.at(exp(reference.level["pressure"]))
    return Change(
        pressure=off["pressure"],
        flow=off["flow"],
        source=off["source"],
        build=off["build"],
        tol_source=max(0.03, 3.0 * reference.deviation["source"]),
        tol_build=max(0.015, 3.0 * reference.deviation["build"]),
        profile=profile,
        fall_time=fall_time(rows, off["pressure"], reference.level["pressure"]),
        bubbling=_bubbling(readings, opened, reference),
        solution=solution,
        spilt=readings.spilt,
        hotter=hotter,
        bare=bare,
        build_known=given.build is not None,
    )


def _bubbling(readings: RecentReadings, opened: PendingChange, reference: Baseline) -> float:
    """Flutter of the last three seconds, without the change itself, over the usual; 1 if unknown."""
    if not reference.flutter > 0.0:
        return 1.0
    lately = readings.since(max(readings.rows[-1][0] - 3.0, opened.onset + 0.5))
    known = np.isfinite(lately[:, BUILD]).any()
    found = flutter(lately[:, BUILD if known else PRESSURE]) / reference.flutter
    return found if isfinite(found) else 1.0
