"""Measured builds of a workshop, and what they say about the wet packing of another build."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FitError, OutsideValidity
from frothline.generator.build import Build
from frothline.generator.build_comparison import has_same_air_path
from frothline.generator.learned_factors import LearnedFactors, learn, learns_from
from frothline.generator.model_fit import evidence_of
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.numerics.hierarchical import UnitLikelihood


@dataclass(frozen=True)
class MeasuredBuild:
    """A build with steady points measured through it: of sweeps, or one of a run. ``conditions`` are wet."""

    build: Build
    conditions: OperatingConditions
    wet: tuple[SteadyPoint, ...]
    dry: tuple[SteadyPoint, ...] = ()

    @cached_property
    def evidence(self) -> UnitLikelihood | None:
        """What the points say about the wet packing; None where no scaling of the sheet fits them."""
        try:
            return evidence_of(PressureModel(self.build, self.conditions), self.dry, self.wet)
        except (FitError, OutsideValidity):
            return None


@dataclass(frozen=True)
class OwnGenerators:
    """The measured builds of a workshop. Their evidence is calculated on first use: some 0.1 s a build."""

    measured: tuple[MeasuredBuild, ...] = ()

    def factors_for(self, build: Build, uncertainties: Mapping[str, float]) -> LearnedFactors | None:
        """The prior of the wet packing's factors of a build; None without a measured build of its group.

        ``uncertainties`` : stated standard uncertainties of the build's factors, by parameter
        """
        alike = [one for one in self.measured if one.wet and learns_from(one.build, build)]
        return learn([found for one in alike if (found := one.evidence) is not None], uncertainties)

    def without(self, build: Build) -> OwnGenerators:
        """The measured builds with another air path than this one."""
        return OwnGenerators(tuple(one for one in self.measured if not has_same_air_path(one.build, build)))
