"""What foam usually is before any of a build was weighed: the one guess that the run and the what-if share.

Both figures are positive and known to a factor only, hence normal in their logarithms (``U_CAUGHT`` and ``U_RATIO`` are
standard uncertainties of those). Foams in use lie between 35 and 125 kg/m3, generators catch between three tenths and
all of their air; common practice, no source.
"""

from __future__ import annotations

from math import log, sqrt

from frothline.estimate import Z95

CAUGHT_RANGE = (0.3, 1.0)  # share of the air that ends in bubbles, 95 %: no more than all of it
USUAL_CAUGHT = sqrt(CAUGHT_RANGE[0] * CAUGHT_RANGE[1])
U_CAUGHT = log(CAUGHT_RANGE[1] / CAUGHT_RANGE[0]) / (2.0 * Z95)

USUAL_EXPANSION = 15.0  # volumes of foam from one of solution; usual preformed foams lie in 8 to 30
U_RATIO = log(2.0) / Z95  # of the expansion less one, the air to one volume of solution: a factor of two either way

NO_SAMPLE_CAUGHT = (
    f"no sample of this build was timed yet: {USUAL_CAUGHT:.0%} of the air caught is taken as usual, it may be "
    f"{CAUGHT_RANGE[0]:.0%} to all of it"
)
NO_SAMPLE_RATIO = (
    f"no sample of this build was weighed yet: {USUAL_EXPANSION:.0f} volumes of foam from one of solution are taken as "
    "usual, good to a factor of two"
)
