"""Normal hierarchical estimation: what several units say about the next unit of the same kind.

A unit's quantities z (k,) are in stated standard uncertainties, so that before any unit was measured z ~ N(0, 1). Units
of one group (a workshop) have most of that in common, and groups have a part of it in common:

    z = everywhere + group + own,    own ~ N(0, s),    group ~ N(0, (1 - s) g),    everywhere ~ N(0, (1 - s) (1 - g)),

independent, for each quantity with a share s of the variance that is each unit's own, and one share g of the rest that
is each group's own. The shares are unknown: each has a beta distribution before the units are known, and the result is
the mixture over shares, weighted by their marginal likelihood. It is calculated by importance sampling at fixed points:
a quantity's share is drawn from its distribution given the expected shares of the others. With few units the shares
stay near their prior, so that the mixture is wide. Normal hierarchical models: A. Gelman and others, Bayesian Data
Analysis, 3rd ed. 2013, sections 5.4 and 15.1. The priors of the shares are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from frothline.numerics.arrays import Floats

OWN_SHARE = 0.25  # mean of each unit's own share of the variance; judgement
GROUP_SHARE = 0.5  # mean of the groups' share of what is left; judgement
OWN_CERTAIN, GROUP_CERTAIN = 6.0, 3.0  # what the exponents of the beta distribution of each share add up to; judgement
NODES = 31  # values of a share, equally probable before the units are known
DRAWS = 96  # combinations of shares
ROUNDS = 2  # in which the expected shares are calculated again
SEED = 7  # fixed: the same units always say the same


@dataclass(frozen=True)
class UnitLikelihood:
    """What the measurement of one unit says about its z: exp(pull·z - z·precision·z / 2).

    ``precision`` (k, k), ``pull`` (k,)
    """

    precision: Floats
    pull: Floats


def next_unit(
    measured: Sequence[UnitLikelihood], size: int, others: Sequence[Sequence[UnitLikelihood]] = ()
) -> tuple[Floats, Floats]:
    """Mean (size,) and covariance (size, size) of the z of a unit that was not measured, from measured ones.

    ``measured`` : units of its own group;  ``others`` : those of other groups, one sequence a group
    """
    groups = [_Units.of(units, size) for units in (measured, *others)]
    nodes = _shares(OWN_SHARE, OWN_CERTAIN)
    between = _shares(GROUP_SHARE, GROUP_CERTAIN) if any(len(units) for units in others) else np.array([GROUP_SHARE])
    options = [*([nodes] * size), between]
    weights = _separate_weights(groups, options)
    mean, covariance, logs = [], [], []
    for places in _places(weights):
        chosen = np.array([option[place] for option, place in zip(options, places, strict=True)])
        one, spread, likelihood = _given_shares(groups, chosen)
        mean.append(one)
        covariance.append(spread)
        logs.append(likelihood - sum(np.log(w[place]) for w, place in zip(weights, places, strict=True)))
    weight = np.exp(np.array(logs) - np.max(logs))
    weight /= np.sum(weight)
    middle: Floats = weight @ np.array(mean)
    apart = np.array(mean) - middle
    whole: Floats = np.einsum("d,dij->ij", weight, np.array(covariance)) + np.einsum(
        "d,di,dj->ij", weight, apart, apart
    )
    return middle, whole


@dataclass(frozen=True)
class _Units:
    """Likelihoods of the units of one group: (n, k, k) and (n, k)."""

    precision: Floats
    pull: Floats

    @classmethod
    def of(cls, units: Sequence[UnitLikelihood], size: int) -> _Units:
        return cls(
            np.array([one.precision for one in units]).reshape(len(units), size, size),
            np.array([one.pull for one in units]).reshape(len(units), size),
        )


def _shares(mean: float, certain: float) -> Floats:
    """Values of a share that are equally probable before the units are known."""
    middle = (np.arange(NODES) + 0.5) / NODES
    found: Floats = scipy.special.betaincinv(mean * certain, (1.0 - mean) * certain, middle)
    return found


def _separate_weights(groups: Sequence[_Units], options: Sequence[Floats]) -> list[Floats]:
    """Probabilities of the values of each share, given the expected values of the others."""
    weights = [np.full(len(option), 1.0 / len(option)) for option in options]
    expected = np.array([float(np.mean(option)) for option in options])
    for _ in range(ROUNDS):
        for k, option in enumerate(options):
            if len(option) == 1:
                continue
            logs = []
            for value in option:
                expected[k] = value
                logs.append(_given_shares(groups, expected)[2])
            found = np.exp(np.array(logs) - np.max(logs))
            weights[k] = np.maximum(found / np.sum(found), 1e-3 / len(option))
            weights[k] /= np.sum(weights[k])
            expected[k] = weights[k] @ option
    return weights


def _places(weights: Sequence[Floats]) -> list[list[int]]:
    """DRAWS combinations of values: each share has its values as often as they are probable (Latin hypercube)."""
    rng = np.random.default_rng(SEED)
    even = (np.arange(DRAWS) + 0.5) / DRAWS
    columns = [np.searchsorted(np.cumsum(w)[:-1], rng.permutation(even), side="right") for w in weights]
    return [list(map(int, row)) for row in np.array(columns).T]


def _without(precision: Floats, pull: Floats, variance: Floats) -> tuple[Floats, Floats, Floats]:
    """What a likelihood of x + y says about x where y ~ N(0, variance), and the logarithm of its weight.

    ``precision`` (..., k, k), ``pull`` (..., k), ``variance`` (k,)
    """
    shrunk = np.linalg.inv(np.eye(len(variance)) + precision * variance)
    left = np.einsum("...ij,...j->...i", shrunk, pull)
    likelihood = np.linalg.slogdet(shrunk)[1] / 2 + np.einsum("...i,i,...i->...", pull, variance, left) / 2
    return shrunk @ precision, left, likelihood


def _given_shares(groups: Sequence[_Units], shares: Floats) -> tuple[Floats, Floats, float]:
    """Mean and covariance of the next unit's z, and the logarithm of the marginal likelihood, for given shares.

    ``groups`` : the next unit's own first;  ``shares`` (k + 1,) : own share of each quantity, and the groups' share
    """
    own, between = shares[:-1], float(shares[-1])
    of_group, everywhere = (1.0 - own) * between, (1.0 - own) * (1.0 - between)
    total = 0.0
    said: list[tuple[Floats, Floats]] = []
    for units in groups:
        precision, pull, likelihood = _without(units.precision, units.pull, own)
        total += float(np.sum(likelihood))
        said.append((np.sum(precision, axis=0), np.sum(pull, axis=0)))
    known, pulled = np.diag(1.0 / everywhere), np.zeros(len(own))
    for of_other in said[1:]:
        precision, pull, likelihood = _without(*of_other, of_group)
        total += float(likelihood)
        known, pulled = known + precision, pulled + pull
    spread = np.linalg.inv(known)
    total += float(np.linalg.slogdet(spread)[1] - np.sum(np.log(everywhere)) + pulled @ spread @ pulled) / 2
    # the group's mean before its own units, and then with them
    prior, mean = spread + np.diag(of_group), spread @ pulled
    precision, pull = said[0]
    shrunk = np.linalg.inv(np.eye(len(own)) + prior @ precision)
    ahead = pull - precision @ mean
    found = mean + shrunk @ prior @ ahead
    total += float(np.linalg.slogdet(shrunk)[1] + ahead @ shrunk @ prior @ ahead) / 2
    total += float(pull @ mean - mean @ precision @ mean / 2)
    covariance = shrunk @ prior
    return found, (covariance + covariance.T) / 2 + np.diag(own), total
