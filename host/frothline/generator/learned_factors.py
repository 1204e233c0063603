"""What measured generators say about the wet packing of another one.

No source gives the pressure drop of foam in wool, so that the factors of a wet packing have wide stated uncertainties
(``pressure_terms.uncertainties_of``). A workshop's builds with the same agent and the same kind of packing have most of
that error in common: ``numerics.hierarchical`` makes the prior of the next build from the measured ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Protocol

import numpy as np

from frothline.generator.build import Build
from frothline.numerics.arrays import Floats
from frothline.numerics.hierarchical import UnitLikelihood, next_unit

LEARNED = ("wetting", "wetting slope", "pores")  # parameters of the wet packing


def same_agent(one: str, other: str) -> bool:
    """Whether two names are of the same foaming agent: capital letters and spaces do not matter."""
    return one.casefold().split() == other.casefold().split()


def learns_from(one: Build, other: Build) -> bool:
    """Whether two builds have the same foaming agent and the same kind of packing."""
    return one.packing.kind == other.packing.kind and same_agent(one.solution.agent, other.solution.agent)


@dataclass(frozen=True)
class LearnedFactors:
    """The prior of the factors ``keys`` of a build, from ``builds`` measured others.

    ``mean`` (n,) and ``covariance`` (n, n) of the natural logarithms (of an exponent: of itself).
    """

    keys: tuple[str, ...]
    mean: Floats
    covariance: Floats
    builds: int

    @property
    def factors(self) -> dict[str, float]:
        return dict(zip(self.keys, self.mean.tolist(), strict=True))

    def errors(self, keys: Sequence[str]) -> list[tuple[str, Mapping[str, float]]]:
        """The covariance of some of its factors as independent errors, each a name and the shifts it makes."""
        places = [self.keys.index(key) for key in keys]
        values, vectors = np.linalg.eigh(self.covariance[np.ix_(places, places)])
        return [
            (f"generator, learned: {number + 1}", dict(zip(keys, (sqrt(max(v, 0.0)) * column).tolist(), strict=True)))
            for number, (v, column) in enumerate(zip(values, vectors.T, strict=True))
        ]


class Experience(Protocol):
    """Measured builds, as ``generator.experience.OwnGenerators`` or ``trials.own_generators`` has them."""

    def factors_for(self, build: Build, uncertainties: Mapping[str, float]) -> LearnedFactors | None: ...

    def without(self, build: Build) -> Experience: ...


def learn(evidence: Iterable[UnitLikelihood], uncertainties: Mapping[str, float]) -> LearnedFactors | None:
    """The prior of a build from others; None if there are none, or if it has no wet packing.

    ``evidence`` : about LEARNED, in stated standard uncertainties
    ``uncertainties`` : parameter -> stated standard uncertainty of the build's factors
    """
    measured = list(evidence)
    if not measured or any(key not in uncertainties for key in LEARNED):
        return None
    stated = np.array([uncertainties[key] for key in LEARNED])
    mean, covariance = next_unit(measured, len(LEARNED))
    return LearnedFactors(LEARNED, stated * mean, covariance * np.outer(stated, stated), len(measured))
