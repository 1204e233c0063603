"""Check of a sample against its run: solution drawn, air, and earlier samples.

A wrong fill time changes the captured share of the air, and with it every figure of the run. The sample is therefore
compared with the estimate without it: first its density, then its fill time. Both comparisons are of logarithms, with
the uncertainties of both sides and an allowance for foam that changes during a run.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, hypot, sqrt

from frothline.estimate import Z95
from frothline.foam.prior import DRAWN, FoamPrior
from frothline.foam.properties import Observation, estimate_properties, observations_of
from frothline.foam.sample import FoamSample, Weighing

ANSWER = "Correct the reading or confirm it; until then it is not used"
SIGMAS = 3.0  # standard uncertainties of difference that count as a contradiction
CHANGE = 0.15  # relative: change of foam during a run without a fault; judgement


def question_of(
    weighing: Weighing,
    sample: FoamSample,
    observations: Sequence[Observation],
    indicated_air: float | None = None,
    u_anemometer: float = 0.0,
    prior: FoamPrior = DRAWN,
) -> str:
    """The question for the person who took the sample; empty if it agrees with the rest.

    Parameters
    ----------
    weighing, sample
        The readings, and their evaluation.
    observations
        All other observations of the foam: earlier samples, scale, pump.
    indicated_air
        m3/s of free air during filling, by this run's anemometer; None if unknown.
    u_anemometer
        Relative standard uncertainty between shown and true air.
    prior
        Prior of this build's captured share.
    """
    seen = observations_of(sample, indicated_air)
    ratio = seen[0]
    apart, u_rest = _compare(ratio, observations, u_anemometer, prior)
    if _contradicts(ratio, apart, u_rest):
        return _ask_density(sample, apart, u_rest)
    if len(seen) > 1 and weighing.fill_time is not None:
        apart, u_rest = _compare(seen[1], [*observations, ratio], u_anemometer, prior)
        impossible = sample.capture is not None and sample.capture.lower > 1.0
        if impossible or _contradicts(seen[1], apart, u_rest):
            return _ask_time(weighing, apart, u_rest, impossible=impossible)
    return ""


def contradicts(
    seen: Observation, others: Sequence[Observation], u_anemometer: float = 0.0, prior: FoamPrior = DRAWN
) -> bool:
    """Whether an observation contradicts the estimate from the others; arguments as in ``question_of``."""
    return _contradicts(seen, *_compare(seen, others, u_anemometer, prior))


def _contradicts(seen: Observation, apart: float, u_rest: float) -> bool:
    return abs(apart) > SIGMAS * hypot(u_rest, _whole(seen))


def _compare(
    seen: Observation, others: Sequence[Observation], u_anemometer: float, prior: FoamPrior
) -> tuple[float, float]:
    """Observed minus expected value, as a logarithm, and the standard uncertainty of the expected value."""
    known = estimate_properties(others, u_anemometer, prior)
    expected = float(seen.row[0] * known.mean[0] + seen.row[1] * known.mean[1])
    return seen.value - expected, known.along(seen.row)


def _whole(seen: Observation) -> float:
    """Standard uncertainty of the observation: own and common errors, and the change of foam during a run."""
    return sqrt(seen.u**2 + sum(shift**2 for shift in seen.shared.values()) + CHANGE**2)


def _ask_density(sample: FoamSample, apart: float, u_rest: float) -> str:
    # the density is proportional to 1/(1 + r), approximately 1/r
    density = sample.density.value
    middle = density * exp(apart)
    low, high = middle * exp(-Z95 * hypot(u_rest, CHANGE)), middle * exp(Z95 * hypot(u_rest, CHANGE))
    return (
        f"The foam weighs {density:.0f} kg/m³; the other samples of the run give {middle:.0f} ({low:.0f} to "
        f"{high:.0f}). Check container, weighing and level strike-off."
    )


def _ask_time(weighing: Weighing, apart: float, u_rest: float, *, impossible: bool) -> str:
    assert weighing.fill_time is not None
    # the captured share is proportional to one over the fill time
    usual = weighing.fill_time * exp(apart)
    half = Z95 * hypot(u_rest, CHANGE)
    volume, took = weighing.container_volume * 1e3, weighing.fill_time
    cause = "Check for a late press." if usual < took else "Check for an early press, or a bucket put under late."
    why = " More air in the foam than the measured air flow." if impossible else ""
    return (
        f"{volume:.3g} L in {took:.1f} s: the other samples of the run give {usual:.1f} s ({usual * exp(-half):.1f} "
        f"to {usual * exp(half):.1f} s).{why} {cause}"
    )
