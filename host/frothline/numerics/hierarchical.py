"""Normal hierarchical estimation: what several units say about the next unit of the same kind.

A unit's quantities z (k,) are in stated standard uncertainties, so that before any unit was measured z ~ N(0, 1). Units
of one kind have most of that in common:

    z = common + own,    common ~ N(0, 1 - s),    own ~ N(0, s),    independent

The share s of the variance that is each unit's own is OWN_SHARE until ESTIMATED_FROM units are measured. From then on s
is unknown too: the result is the mixture over a grid of s, each weighted by its marginal likelihood and by a beta
distribution with the mean OWN_SHARE. Normal hierarchical models: A. Gelman and others, Bayesian Data Analysis, 3rd ed.
2013, section 5.4. The shares are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from frothline.numerics.arrays import Floats

OWN_SHARE = 0.25  # judgement
ESTIMATED_FROM = 4  # units
CERTAIN = 6.0  # the exponents of the beta distribution of the share add up to this; judgement
SHARES = tuple(np.linspace(0.02, 0.98, 25).tolist())


@dataclass(frozen=True)
class UnitLikelihood:
    """What the measurement of one unit says about its z: exp(pull·z - z·precision·z / 2).

    ``precision`` (k, k), ``pull`` (k,)
    """

    precision: Floats
    pull: Floats


def next_unit(measured: Sequence[UnitLikelihood], size: int) -> tuple[Floats, Floats]:
    """Mean (size,) and covariance (size, size) of the z of a unit that was not measured, from measured ones."""
    shares = np.array([OWN_SHARE] if len(measured) < ESTIMATED_FROM else SHARES)
    given = [_given_share(measured, size, float(share)) for share in shares]
    weights = _weights(shares, np.array([likelihood for _, _, likelihood in given]))
    mean = weights @ np.array([one for one, _, _ in given])
    covariance = np.zeros((size, size))
    for weight, (one, spread, _) in zip(weights, given, strict=True):
        covariance += weight * (spread + np.outer(one - mean, one - mean))
    return mean, covariance


def _given_share(measured: Sequence[UnitLikelihood], size: int, own: float) -> tuple[Floats, Floats, float]:
    """Mean and covariance of the next unit's z, and the logarithm of the marginal likelihood, for a share ``own``."""
    one = np.eye(size)
    precision, pull, likelihood = one / (1.0 - own), np.zeros(size), -size * log(1.0 - own) / 2
    for unit in measured:
        shrunk = np.linalg.inv(one + own * unit.precision)
        precision = precision + shrunk @ unit.precision
        pull = pull + shrunk @ unit.pull
        likelihood += np.linalg.slogdet(shrunk)[1] / 2 + own * float(unit.pull @ shrunk @ unit.pull) / 2
    spread = np.linalg.inv(precision)
    mean = spread @ pull
    likelihood += np.linalg.slogdet(spread)[1] / 2 + float(pull @ mean) / 2
    return mean, spread + own * one, float(likelihood)


def _weights(shares: Floats, likelihoods: Floats) -> Floats:
    """Weights of the shares: marginal likelihood times the beta distribution of the share; their sum is 1."""
    a, b = OWN_SHARE * CERTAIN, (1.0 - OWN_SHARE) * CERTAIN
    logs = likelihoods + (a - 1.0) * np.log(shares) + (b - 1.0) * np.log1p(-shares)
    weights = np.exp(logs - np.max(logs))
    found: Floats = weights / np.sum(weights)
    return found
