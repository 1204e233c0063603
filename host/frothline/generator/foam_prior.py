"""What is assumed of the foam of a build before a sample of it was weighed."""

from __future__ import annotations

from dataclasses import dataclass

from frothline.foam.prior import DRAWN, INTO_PACKING, NO_SAMPLE_RATIO, U_RATIO, USUAL_EXPANSION, CaughtPrior
from frothline.generator.build import Build


def caught_prior(build: Build | None = None) -> CaughtPrior:
    """By how the solution comes into a build; the wide one where that is not known."""
    if build is None or build.tube.under_liquid or build.reservoir.filling not in ("pump", "sprayed"):
        return DRAWN
    return INTO_PACKING


@dataclass(frozen=True)
class FoamKnowledge:
    """What is known of the foam a build makes: captured share of the air and expansion ratio, each with its standard
    uncertainty, log-normal, no share above one; ``assumptions`` say what is only assumed.
    """

    capture: float
    u_capture: float
    expansion: float
    u_expansion: float
    assumptions: tuple[str, ...] = ()

    @classmethod
    def usual(cls, build: Build | None = None) -> FoamKnowledge:
        """Before any sample of a build: wide, said to be so, and the same that a run begins with."""
        caught = caught_prior(build)
        u_expansion = (USUAL_EXPANSION - 1.0) * U_RATIO
        said = (caught.words, NO_SAMPLE_RATIO)
        return cls(caught.value, caught.value * caught.u_log, USUAL_EXPANSION, u_expansion, said)

    @property
    def prior(self) -> bool:
        """Whether no sample of this build was weighed."""
        return bool(self.assumptions)
