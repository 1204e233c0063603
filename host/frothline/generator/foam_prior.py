"""Assumptions on the foam of a build before its first weighed sample."""

from __future__ import annotations

from dataclasses import dataclass

from frothline.foam.prior import DRAWN, INTO_PACKING, NO_SAMPLE_RATIO, U_RATIO, USUAL_EXPANSION, CaughtPrior
from frothline.generator.build import Build


def caught_prior(build: Build | None = None) -> CaughtPrior:
    """The prior of the captured share by the feed of the solution; a wide prior if the feed is unknown."""
    if build is None or build.tube.under_liquid or build.reservoir.filling not in ("pump", "sprayed"):
        return DRAWN
    return INTO_PACKING


@dataclass(frozen=True)
class FoamKnowledge:
    """Knowledge of a build's foam: captured share of the air and expansion ratio, each with its standard uncertainty
    (log-normal, share at most 1); ``assumptions`` lists what is only assumed.
    """

    capture: float
    u_capture: float
    expansion: float
    u_expansion: float
    assumptions: tuple[str, ...] = ()

    @classmethod
    def usual(cls, build: Build | None = None) -> FoamKnowledge:
        """The wide prior before any sample of a build, the same as at the begin of a run."""
        caught = caught_prior(build)
        u_expansion = (USUAL_EXPANSION - 1.0) * U_RATIO
        said = (caught.words, NO_SAMPLE_RATIO)
        return cls(caught.value, caught.value * caught.u_log, USUAL_EXPANSION, u_expansion, said)

    @property
    def prior(self) -> bool:
        """Whether no sample of this build was weighed."""
        return bool(self.assumptions)
