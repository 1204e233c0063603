"""Types of the arrays that all packages share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


Statuses = NDArray[np.uint8]


def spread(values: Floats, shape: tuple[int, ...]) -> Floats:
    """The array itself if it has that shape, else a read-only view that repeats it. Raises ValueError where it cannot
    be repeated.
    """
    return values if values.shape == shape else np.broadcast_to(values, shape)
