"""A converted channel: values with the parts of their uncertainty."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from frothline.numerics.arrays import Floats, Statuses, spread
from frothline.numerics.once import once
from frothline.numerics.uncertainty import Contribution, Kind, root_sum_square


@dataclass(frozen=True)
class Reading:
    """Converted values of a channel: ``value`` (n,), ``status`` (n,), and the contributions to their uncertainty.

    ``shares`` : the contributions, or a function that calculates them. It is called when they are first asked for, so
    that values alone cost no uncertainty.
    """

    value: Floats
    status: Statuses
    shares: tuple[Contribution, ...] | Callable[[], tuple[Contribution, ...]]

    @once
    def contributions(self) -> tuple[Contribution, ...]:
        if not callable(self.shares):
            return self.shares
        with np.errstate(all="ignore"):  # an unknown value has a NaN; numpy's warnings add nothing
            return self.shares()

    @once
    def u_random(self) -> Floats:
        return self._combined("random")

    @once
    def u_systematic(self) -> Floats:
        return self._combined("systematic")

    @once
    def u(self) -> Floats:
        return np.hypot(self.u_random, self.u_systematic)

    def _combined(self, kind: Kind) -> Floats:
        return spread(root_sum_square(self.contributions, kind), self.value.shape)
