"""What measured generators say about the wet packing, the holes and the outlet hose of another one.

No source gives the pressure drop of foam in wool or along the wall of a hose, so that these factors have wide stated
uncertainties (``pressure_terms.uncertainties_of``), and one drill makes all holes of a workshop. Its builds with the
same agent and the same kind of packing have most of these errors in common: ``numerics.hierarchical`` makes the prior
of the next build from the measured ones. Builds of other builders count less: what is common to a workshop is only in
part common to all.
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
from frothline.rounding import counted

PACKED = ("wetting", "wetting slope", "pores")  # parameters that each wet packing has
LEARNED = (*PACKED, "wall", "holes")  # "wall" has a build whose outlet goes on in a hose


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
    ``foreign`` : number of those builds that ``builders`` other builders made
    """

    keys: tuple[str, ...]
    mean: Floats
    covariance: Floats
    builds: int
    foreign: int = 0
    builders: int = 0

    @property
    def factors(self) -> dict[str, float]:
        return dict(zip(self.keys, self.mean.tolist(), strict=True))

    @property
    def origin(self) -> str:
        """The builds behind it in words: own ones, and those of other builders."""
        own, parts = self.builds - self.foreign, []
        if own:
            parts.append(counted(own, "own build") if self.foreign else counted(own, "measured build"))
        if self.foreign:
            parts.append(f"{counted(self.foreign, 'build')} of {counted(self.builders, 'other builder')}")
        return " and ".join(parts)

    def errors(self, keys: Sequence[str]) -> list[tuple[str, Mapping[str, float]]]:
        """The covariance of some of its factors as independent errors, each a name and the shifts it makes."""
        places = [self.keys.index(key) for key in keys]
        values, vectors = np.linalg.eigh(self.covariance[np.ix_(places, places)])
        return [
            (f"generator, learned: {number + 1}", dict(zip(keys, (sqrt(max(v, 0.0)) * column).tolist(), strict=True)))
            for number, (v, column) in enumerate(zip(values, vectors.T, strict=True))
        ]


class Experience(Protocol):
    """Measured builds, as ``generator.experience.MeasuredBuilds`` or ``trials.own_generators`` has them."""

    def factors_for(self, build: Build, uncertainties: Mapping[str, float]) -> LearnedFactors | None: ...

    def notes_for(self, build: Build) -> tuple[str, ...]: ...

    def without(self, build: Build) -> Experience: ...


@dataclass(frozen=True)
class LearnedGroup:
    """What measured builds with one agent and kind of packing say about the next one, in stated standard uncertainties.

    ``mean`` (n,) and ``covariance`` (n, n) of LEARNED; ``builds``, ``foreign`` and ``builders`` as in LearnedFactors
    """

    mean: Floats
    covariance: Floats
    builds: int
    foreign: int
    builders: int

    @classmethod
    def of(cls, evidence: Iterable[tuple[str, UnitLikelihood]]) -> LearnedGroup | None:
        """From the evidence of builds, each with its builder, "" for the workshop itself; None without any.

        Evidence is about LEARNED, in stated standard uncertainties; nothing about a part that a build does not have.
        """
        by_builder: dict[str, list[UnitLikelihood]] = {}
        for builder, one in evidence:
            by_builder.setdefault(builder, []).append(one)
        if not by_builder:
            return None
        own = by_builder.pop("", [])
        others = list(by_builder.values())
        mean, covariance = next_unit(own, len(LEARNED), others)
        foreign = sum(map(len, others))
        return cls(mean, covariance, len(own) + foreign, foreign, len(others))

    def factors_of(self, uncertainties: Mapping[str, float]) -> LearnedFactors | None:
        """The prior of a build's factors; None for a build without a wet packing.

        ``uncertainties`` : parameter -> stated standard uncertainty of the build's factors
        """
        if any(key not in uncertainties for key in PACKED):
            return None
        keys = tuple(key for key in LEARNED if key in uncertainties)
        places = [LEARNED.index(key) for key in keys]
        stated = np.array([uncertainties[key] for key in keys])
        covariance = self.covariance[np.ix_(places, places)] * np.outer(stated, stated)
        return LearnedFactors(keys, stated * self.mean[places], covariance, self.builds, self.foreign, self.builders)
