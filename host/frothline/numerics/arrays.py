"""Types of the arrays that all packages share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


Statuses = NDArray[np.uint8]
