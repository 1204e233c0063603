"""A converted channel: values with the parts of their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from frothline.numerics.arrays import Floats, Statuses, spread
from frothline.numerics.uncertainty import Contribution, Kind, root_sum_square


@dataclass(frozen=True)
class Reading:
    """Converted values of a channel: ``value`` (n,), ``status`` (n,), and the contributions to their uncertainty."""

    value: Floats
    status: Statuses
    contributions: tuple[Contribution, ...]

    @cached_property
    def u_random(self) -> Floats:
        return self._combined("random")

    @cached_property
    def u_systematic(self) -> Floats:
        return self._combined("systematic")

    @cached_property
    def u(self) -> Floats:
        return np.hypot(self.u_random, self.u_systematic)

    def _combined(self, kind: Kind) -> Floats:
        return spread(root_sum_square(self.contributions, kind), self.value.shape)
