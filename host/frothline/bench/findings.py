"""What looks wrong while the rig runs: the rules of ``sensors.plausibility`` on the newest samples, and on the sweep.

A finding is advice: it drops nothing and stops nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from frothline.sensors import Finding, Series, look_at_samples, look_at_sweep

if TYPE_CHECKING:
    from .ring import Ring
    from .state import Window

LOOKED_AT = 60.0  # s of the newest samples
LONGEST = 900.0  # s of a sweep, at most
LEAST = 5.0  # s below which nothing is said
WHOLE_SWEEP = {"sweep-one-end", "sweep-short"}  # said once the sweep has ended: before that it is merely not done


def series_of(rings: Mapping[str, Ring], begin: float, end: float) -> dict[str, Series]:
    """Samples of the rings between two times of the session, as series; those of one message stay side by side."""
    found = {name: ring.window(end - begin + 1.0) for name, ring in list(rings.items())}
    pressure = found.get("line_pressure")
    if pressure is None:
        return {}
    made = {}
    for name, window in found.items():
        cut = _beside(window, pressure) if _together(window, pressure) else window
        inside = (cut.time >= begin) & (cut.time <= end)
        made[name] = Series(
            name, cut.unit, cut.time[inside], cut.value[inside], cut.u[inside], cut.status[inside].astype(np.uint8)
        )
    return made


def _together(window: Window, pressure: Window) -> bool:
    """Whether two series come in the same messages: then their samples have the same numbers and times."""
    first = max(window.first, pressure.first)
    mine, its = window.time[first - window.first :], pressure.time[first - pressure.first :]
    both = min(len(mine), len(its))
    return both > 0 and bool(mine[0] == its[0]) and bool(mine[both - 1] == its[both - 1])


def _beside(window: Window, pressure: Window) -> Window:
    """The samples whose numbers both have; the two were copied a moment apart."""
    end = min(window.first + len(window.time), pressure.first + len(pressure.time))
    first = max(window.first, pressure.first)
    cut = slice(first - window.first, end - window.first)
    return replace(
        window, first=first, time=window.time[cut], value=window.value[cut], u=window.u[cut], status=window.status[cut]
    )


def look(rings: Mapping[str, Ring], now: float, sweep: tuple[float, float | None] | None) -> tuple[Finding, ...]:
    """Findings of the newest minute, and of the sweep (its beginning, and its end unless it still runs)."""
    recent = series_of(rings, now - LOOKED_AT, now)
    pressure = recent.get("line_pressure")
    if pressure is None or len(pressure) < 2 or pressure.time[-1] - pressure.time[0] < LEAST:
        return ()
    found = look_at_samples(recent)
    if sweep is not None:
        begin, end = sweep
        whole = look_at_sweep(series_of(rings, max(begin, now - LONGEST), now if end is None else end))
        found += [one for one in whole if end is not None or one.code not in WHOLE_SWEEP]
    return tuple({(one.code, one.channel): one for one in found}.values())
