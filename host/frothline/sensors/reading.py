"""A converted channel: values with the parts of their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from frothline.numerics.arrays import Floats, Statuses
from frothline.numerics.uncertainty import Contribution, root_sum_square


@dataclass(frozen=True)
class Reading:
    """Converted values of a channel: ``value`` (n,), ``status`` (n,), and the contributions to their uncertainty."""

    value: Floats
    status: Statuses
    contributions: tuple[Contribution, ...]

    @property
    def u_random(self) -> Floats:
        return np.broadcast_to(root_sum_square(self.contributions, "random"), self.value.shape)

    @property
    def u_systematic(self) -> Floats:
        return np.broadcast_to(root_sum_square(self.contributions, "systematic"), self.value.shape)

    @property
    def u(self) -> Floats:
        return np.hypot(self.u_random, self.u_systematic)
