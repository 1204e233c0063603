"""Draws of the factors of a measured generator, from the posterior of the points measured through it.

Points determine the sum of a generator's pressure drops. Which part takes how much stays open by a factor of 2 or 3,
and the draws keep the sum: where one part takes three times as much the others take less. A normal distribution of the
logarithms does not: moved by more than a small step, it leaves the measured line.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from frothline.numerics.arrays import Floats
from frothline.numerics.once import once

DRAWS = 1000  # ends of a 95 % interval are then known to some 6 % of a standard uncertainty


@dataclass(frozen=True, eq=False)
class FactorDraws:
    """DRAWS draws, made on first use in some 0.1 s; arrays are (DRAWS + 1,), the first one the best fit.

    ``errors`` : names of the errors of a model that they stand for, those of the sensors among them
    ``made`` : gives ``shifts`` and ``common``
    """

    errors: frozenset[str]
    made: Callable[[], tuple[Mapping[str, Floats], Mapping[str, Floats]]] = field(repr=False)

    @once
    def _both(self) -> tuple[Mapping[str, Floats], Mapping[str, Floats]]:
        return self.made()

    @property
    def shifts(self) -> Mapping[str, Floats]:
        """Parameter -> shift of its logarithm from that of the best fit."""
        return self._both[0]

    @property
    def common(self) -> Mapping[str, Floats]:
        """Error of a sensor, common to several sweeps -> its size in standard uncertainties."""
        return self._both[1]
