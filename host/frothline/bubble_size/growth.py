"""Growth of the bubbles over minutes, from several photos of one foam.

Gas goes from small bubbles to large ones, and films break: the mean diameter grows. The rate is the slope of the Sauter
mean diameter over the time of the photos. Over a long time the diameter of dry foam grows with the square root of time
(the usual law of coarsening, from memory), so that a rate holds for the minutes in which it was measured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from frothline.bubble_size.photo_bubbles import PhotoBubbles
from frothline.errors import InputError
from frothline.estimate import Estimate

SHORTEST = 10.0  # s between the first and the last photo


def times_of(photos: Sequence[PhotoBubbles], given: Sequence[float] | None = None) -> tuple[float, ...] | None:
    """Times of the photos in s after the first; None if a camera's time is missing and none are given.

    Raises InputError for times that contradict themselves.
    """
    if given is not None:
        if len(given) != len(photos) or not all(math.isfinite(one) for one in given):
            raise InputError(
                f"{len(given)} times are given for {len(photos)} photos",
                where="times",
                remedy="Give one for each photo",
            )
        times = [float(one) for one in given]
    else:
        taken = [one.taken for one in photos]
        if not all(taken):
            return None
        times = [one.timestamp() for one in taken if one is not None]
    first = min(times)
    return tuple(one - first for one in times)


def growth_of(photos: Sequence[PhotoBubbles], times: Sequence[float] | None) -> tuple[Estimate | None, str]:
    """Growth of the Sauter mean diameter, m/s, or None with the reason."""
    if len(photos) < 2:
        return None, "one photo; growth needs two or more of the same foam"
    if times is None:
        return None, "the photos have no time of the camera; give the times"
    if max(times) - min(times) < SHORTEST:
        return None, f"the photos are less than {SHORTEST:.0f} s apart"
    if len({one.card for one in photos}) > 1:
        return None, "the photos show different cards"
    import numpy as np  # noqa: PLC0415  as below

    from frothline.numerics.scatter import widening  # noqa: PLC0415  one photo needs no fit

    t = np.array(times)
    d = np.array([one.diameter.value for one in photos])
    relative = np.array([one.diameter.standard_uncertainty / one.diameter.value for one in photos])
    scale = np.array([one.u_scale for one in photos])
    u = d * np.sqrt(np.maximum(relative**2 - scale**2, 1e-6))
    weight = 1 / u**2
    middle = float(np.average(t, weights=weight))
    spread = float((weight * (t - middle) ** 2).sum())
    slope = float((weight * (t - middle) * d).sum() / spread)
    rest = d - np.average(d, weights=weight) - slope * (t - middle)
    wider = widening(float((weight * rest**2).sum()), len(t) - 2)
    shared = max(one.u_scale for one in photos)
    return Estimate.normal(slope, math.hypot(wider / math.sqrt(spread), shared * slope), "m/s"), ""
