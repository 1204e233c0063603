"""The outline of a band over time, as a closed polygon of a chart."""

from __future__ import annotations

import numpy as np

from frothline.numerics.arrays import Floats


def band_outline(time: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Outline of an interval over time: one closed polygon for each stretch without a gap."""
    known = np.isfinite(low) & np.isfinite(high)
    stretches = np.split(np.arange(len(time)), np.flatnonzero(np.diff(known.astype(int))) + 1)
    x: list[Floats] = []
    y: list[Floats] = []
    for one in stretches:
        if len(one) and known[one[0]]:
            x += [time[one], time[one][::-1], np.array([np.nan])]
            y += [low[one], high[one][::-1], np.array([np.nan])]
    return (np.concatenate(x), np.concatenate(y)) if x else (np.empty(0), np.empty(0))
