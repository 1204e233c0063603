"""Prior of foam properties before any sample of a build, common to run and what-if.

Both figures are positive and known to a factor only, hence normal in their logarithms. Foams in use are between 35 and
125 kg/m3. The captured share of the air depends on the feed of the solution: a generator that draws it along, or with
holes under liquid, captures between 0.3 and all of its air; with pumped or sprayed solution most of the air becomes
foam. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, sqrt

from frothline.estimate import Z95


@dataclass(frozen=True)
class CaughtPrior:
    """Share of the air that ends in bubbles before any sample: ``low`` to ``high`` is the 95 % interval."""

    low: float
    high: float

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
            f"no timed sample of this build: {100 * self.value:.0f} % air retained in foam is an assumption, range "
            f"{100 * self.low:.0f} to {100 * self.high:.0f} %"
        )


DRAWN = CaughtPrior(0.3, 1.0)


INTO_PACKING = CaughtPrior(0.7, 1.0)


USUAL_CAUGHT, U_CAUGHT = DRAWN.value, DRAWN.u_log


USUAL_EXPANSION = 15.0  # volumes of foam from one of solution; usual preformed foams are in 8 to 30


U_RATIO = log(2.0) / Z95  # of the expansion less one, the air to one volume of solution: a factor of two either way


NO_SAMPLE_RATIO = (
    f"no weighed sample of this build: an expansion ratio of {USUAL_EXPANSION:.0f} is an assumption, within a "
    "factor of two"
)
