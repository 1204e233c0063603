"""Prior of foam properties before any sample of a build, common to run and what-if.

Both figures are positive and known to a factor only, hence normal in their logarithms. Foams in use are between 35 and
125 kg/m3. The captured share of the air depends on the feed of the solution: a generator that draws it along, or with
holes under liquid, captures between 0.3 and all of its air; with pumped or sprayed solution most of the air becomes
foam. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt

from frothline.estimate import Z95
from frothline.rounding import counted

USUAL_EXPANSION = 15.0  # volumes of foam from one of solution; usual preformed foams are in 8 to 30
U_RATIO = log(2.0) / Z95  # of the expansion less one, the air to one volume of solution: a factor of two either way


@dataclass(frozen=True)
class FoamPrior:
    """Foam of a build before any sample of it: the share of the air that ends in bubbles, ``low`` to ``high`` its 95 %
    interval, and the volumes of captured air to one of solution, ``ratio``, with the standard uncertainty of its
    logarithm. ``builds`` : number of other builds with the same agent whose samples it comes from
    """

    low: float
    high: float
    ratio: float = USUAL_EXPANSION - 1.0
    u_ratio: float = U_RATIO
    builds: int = 0

    @property
    def value(self) -> float:
        return sqrt(self.low * self.high)

    @property
    def u_log(self) -> float:
        """Standard uncertainty of the logarithm."""
        return log(self.high / self.low) / (2.0 * Z95)

    @property
    def words(self) -> str:
        return (
            f"no timed sample of this build: {100 * self.value:.0f} % air retained in foam is {self._origin}, range "
            f"{100 * self.low:.0f} to {100 * self.high:.0f} %"
        )

    @property
    def ratio_words(self) -> str:
        factor = exp(Z95 * self.u_ratio)
        within = "a factor of two" if not self.builds else f"a factor of {factor:.2g}"
        return (
            f"no weighed sample of this build: an expansion ratio of {1.0 + self.ratio:.0f} is {self._origin}, within "
            f"{within}"
        )

    @property
    def _origin(self) -> str:
        if not self.builds:
            return "an assumption"
        return f"learned from {counted(self.builds, 'other build')} with this agent"


DRAWN = FoamPrior(0.3, 1.0)


INTO_PACKING = FoamPrior(0.7, 1.0)


USUAL_CAUGHT, U_CAUGHT = DRAWN.value, DRAWN.u_log
