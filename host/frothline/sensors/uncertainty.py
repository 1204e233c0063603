"""Where the doubt in a figure comes from, kept apart by source, so that it can be read, combined and correlated.

A ``Contribution`` is one input's share of an output's standard uncertainty: sensitivity times standard uncertainty,
with its sign, in the unit of the output (JCGM 100:2008, 5.1.3). Shares with the same ``source`` in two outputs come
from the same error; their products add up to the covariance of the outputs (JCGM 100:2008, F.1.2.3).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from frothline.sensors.series import Floats, Statuses

Kind = Literal["systematic", "random"]
ROOT3 = float(np.sqrt(3.0))


@dataclass(frozen=True)
class Contribution:
    """One share of a standard uncertainty.

    ``standard`` is signed and in the unit of the output, scalar or (n,). ``dof`` are its degrees of freedom, infinite
    where the figure is taken as exact (data-sheet limits). ``origin`` says where the figure comes from.
    """

    source: str
    kind: Kind
    standard: Floats
    distribution: str = "normal"
    origin: str = ""
    dof: float = float("inf")


def share(
    source: str,
    kind: Kind,
    standard: ArrayLike,
    distribution: str = "normal",
    origin: str = "",
    dof: float = float("inf"),
) -> Contribution:
    """A contribution from any array-like."""
    return Contribution(source, kind, np.asarray(standard, dtype=np.float64), distribution, origin, dof)


def rectangular(limit: ArrayLike) -> Floats:
    """Standard uncertainty of an error known only to lie within +-limit (JCGM 100:2008, 4.3.7)."""
    return np.asarray(np.abs(limit), dtype=np.float64) / ROOT3


def root_sum_square(contributions: Iterable[Contribution], kind: Kind | None = None) -> Floats:
    """The shares of one kind, or of both, combined (JCGM 100:2008, eq. 10); sources are independent of each other."""
    total: Floats = np.zeros(())
    for contribution in contributions:
        if kind is None or contribution.kind == kind:
            total = total + contribution.standard**2
    return np.sqrt(total)


@dataclass(frozen=True)
class Reading:
    """What a channel makes of its counts: ``value`` (n,), ``status`` (n,), and the shares of its uncertainty."""

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
