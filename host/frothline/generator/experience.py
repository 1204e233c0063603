"""Measured builds, and what they say about the factors of another build: those of a workshop, and of other builders."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError
from frothline.generator.build import Build
from frothline.generator.build_comparison import has_same_air_path
from frothline.generator.learned_factors import LearnedFactors, LearnedGroup, learns_from
from frothline.generator.model_fit import evidence_of
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.numerics.hierarchical import UnitLikelihood

OWN = ""  # builder of the workshop's own builds


@dataclass(frozen=True)
class MeasuredBuild:
    """A build with steady points measured through it: of sweeps, or one of a run. ``conditions`` are wet.

    ``builder`` : who built it, OWN for the workshop itself; builds of one builder have more in common
    """

    build: Build
    conditions: OperatingConditions
    wet: tuple[SteadyPoint, ...]
    dry: tuple[SteadyPoint, ...] = ()
    builder: str = OWN

    @cached_property
    def evidence(self) -> UnitLikelihood | None:
        """What the points say about the learned factors; None where no scaling of the sheet fits them."""
        try:
            return evidence_of(PressureModel(self.build, self.conditions), self.dry, self.wet)
        except (FrothlineError, ValueError):  # a file may hold any figures
            return None


@dataclass(frozen=True)
class MeasuredBuilds:
    """The measured builds that a workshop knows. Their evidence is calculated on first use: some 0.1 s a build.

    ``notes`` : files of builds that teach nothing, each with its reason
    """

    measured: tuple[MeasuredBuild, ...] = ()
    notes: tuple[str, ...] = ()
    # what builds with the agent and packing of a build say, by their places in ``measured``
    _groups: dict[tuple[int, ...], LearnedGroup | None] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def factors_for(self, build: Build, uncertainties: Mapping[str, float]) -> LearnedFactors | None:
        """The prior of the factors of a build; None without a measured build of its group.

        ``uncertainties`` : stated standard uncertainties of the build's factors, by parameter
        """
        places = tuple(k for k, one in enumerate(self.measured) if one.wet and learns_from(one.build, build))
        if places not in self._groups:
            alike = [self.measured[k] for k in places]
            said = [(one.builder, found) for one in alike if (found := one.evidence) is not None]
            self._groups[places] = LearnedGroup.of(said)
        group = self._groups[places]
        return None if group is None else group.factors_of(uncertainties)

    def notes_for(self, build: Build) -> tuple[str, ...]:
        """What was not used for a build, each with its reason."""
        alike = [one for one in self.measured if one.wet and learns_from(one.build, build)]
        unfit = [one.build.name for one in alike if one.builder != OWN and one.evidence is None]
        return (*self.notes, *(f"{name} is not used: no scaling of its sheet fits its points" for name in unfit))

    def without(self, build: Build) -> MeasuredBuilds:
        """The measured builds with another air path than this one."""
        kept = tuple(one for one in self.measured if not has_same_air_path(one.build, build))
        return MeasuredBuilds(kept, self.notes)
