"""Assumptions on the foam of a build before its first weighed sample."""

from __future__ import annotations

from dataclasses import dataclass

from frothline.estimate import Estimate
from frothline.foam.prior import DRAWN, INTO_PACKING, FoamPrior
from frothline.generator.build import Build


def caught_prior(build: Build | None = None) -> FoamPrior:
    """The prior of the captured share by the feed of the solution; a wide prior if the feed is unknown."""
    if build is None or build.tube.under_liquid or build.reservoir.filling not in ("pump", "sprayed"):
        return DRAWN
    return INTO_PACKING


@dataclass(frozen=True)
class FoamKnowledge:
    """Knowledge of a build's foam: captured share of the air and expansion ratio, each with its standard uncertainty
    (log-normal, share at most 1); ``assumptions`` lists what is only assumed. ``surface_tension`` N/m of its solution,
    with its uncertainty, None if it was not measured.
    """

    capture: float
    u_capture: float
    expansion: float
    u_expansion: float
    assumptions: tuple[str, ...] = ()
    surface_tension: Estimate | None = None

    @classmethod
    def usual(cls, build: Build | None = None, prior: FoamPrior | None = None) -> FoamKnowledge:
        """The prior before any sample of a build, the same as at the begin of a run.

        ``prior`` : what other builds say; without it, the wide one of the build's feed
        """
        p = prior or caught_prior(build)
        return cls(p.value, p.value * p.u_log, 1.0 + p.ratio, p.ratio * p.u_ratio, (p.words, p.ratio_words))

    @property
    def prior(self) -> bool:
        """Whether no sample of this build was weighed."""
        return bool(self.assumptions)
