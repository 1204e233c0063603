"""Survival of the foam's air in the mixer: the prior, and its update by weighed cups.

No mixer adds air to the foam, so the share is at most one. Before any cup the distribution is one-sided: in 95 of 100
batches at least ``LOWEST`` of the air survives, and most of it likely does (judgement, no source). Each weighed cup
gives a share; several cups narrow the distribution down to the scatter from batch to batch. That scatter is not known
either: few cups leave it near the usual one, several cups that differ more, or less, show their own (A. Gelman and
others, Bayesian Data Analysis, 3rd ed. 2013, chapter 5).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import scipy
from numpy.typing import NDArray

from frothline.errors import InputError
from frothline.estimate import Z95, Estimate
from frothline.numerics.uncertainty import propagate
from frothline.physics.mix import WATER_DENSITY, foam_survival

LOWEST = 0.75  # share that survives in 19 of 20 batches; judgement, no source
SPREAD = (1.0 - LOWEST) / Z95  # of the half normal distribution below one
BETWEEN_BATCHES = 0.03  # usual standard deviation from batch to batch of one mixer; judgement, no source
U_BETWEEN = np.log(2.5)  # standard uncertainty of its logarithm; judgement, no source
U_CUP = 0.01  # relative standard uncertainty of a cup's density, container and weighing; judgement, no source
FEWEST = 0.4  # a cup with a smaller share is questioned
_GRID = np.linspace(0.2, 1.0, 401)
_SCATTERS = np.geomspace(0.006, 0.15, 9)  # standard deviations between batches that are weighed up

ASSUMED = (
    f"{100 * LOWEST:.0f} to 100 % of the foam's air survives mixing: judgement, until a cup of foamed concrete is "
    "weighed"
)


def learn_survival(cups: Sequence[Estimate] = ()) -> Estimate:
    """Share of the foam's air that survives in the next batch, from the shares of weighed cups.

    The interval is 95 % and at most 1.
    """
    density = _Posterior.of(cups).next_batch
    value = float(_GRID @ density)
    u_value = float(np.sqrt((_GRID - value) ** 2 @ density))
    lower, upper = _narrowest(density)
    said = ASSUMED if not cups else f"by {len(cups)} weighed cup{'s' if len(cups) > 1 else ''}"
    return Estimate(value, u_value, lower, upper, "1", assumptions=(said,))


def _narrowest(density: NDArray[np.float64]) -> tuple[float, float]:
    """The narrowest interval of the grid with 95 %, which includes one if that is likely (JCGM 101:2008, 5.3.4)."""
    below = np.concatenate([[0.0], np.cumsum(density)])
    end = np.searchsorted(below, below[:-1] + 0.95 - 1e-12)  # of an interval from each place on
    width = np.where(end < len(below), end - np.arange(len(density)), len(density) + 1)
    begin = int(np.argmin(width))
    return float(_GRID[begin]), float(_GRID[min(int(end[begin]), len(density)) - 1])


def scatter_between_batches(cups: Sequence[Estimate] = ()) -> float:
    """Standard deviation of the share from batch to batch, from the shares of weighed cups; the usual one without."""
    if not cups:
        return BETWEEN_BATCHES
    return float(np.sqrt(_Posterior.of(cups).scatters @ _SCATTERS**2))


@dataclass(frozen=True)
class _Posterior:
    """``scatters`` : probability of each of _SCATTERS;  ``next_batch`` : of the next batch's share, on the grid."""

    scatters: NDArray[np.float64]
    next_batch: NDArray[np.float64]

    @classmethod
    def of(cls, cups: Sequence[Estimate]) -> _Posterior:
        mean_share = -0.5 * ((1.0 - _GRID) / SPREAD) ** 2
        log_scatter = -0.5 * (np.log(_SCATTERS / BETWEEN_BATCHES) / U_BETWEEN) ** 2
        if not cups:
            return cls(_shares_of(log_scatter), _shares_of(mean_share))
        shares = np.array([cup.value for cup in cups])
        u = np.hypot(np.array([cup.standard_uncertainty for cup in cups])[:, None], _SCATTERS)  # (cups, scatters)
        apart = (shares[:, None] - _GRID)[:, None, :] / u[:, :, None]  # (cups, scatters, grid)
        exact = -0.5 * apart**2 - np.log(u * np.sqrt(2.0 * np.pi))[:, :, None] + np.log(_GRID[1] - _GRID[0])
        # a cup that says all of the air is there may have said more than all of it
        every = np.where((shares >= 1.0)[:, None, None], scipy.special.log_ndtr(-apart), exact)
        logs = mean_share + np.sum(every, axis=0)  # (scatters, grid)
        whole = scipy.special.logsumexp(logs, axis=1)
        given = np.exp(logs - whole[:, None])
        scatters = _shares_of(log_scatter + whole)
        next_batch = np.zeros(len(_GRID))
        for probability, density, scatter in zip(scatters, given, _SCATTERS, strict=True):
            next_batch += probability * (_scattered(float(scatter)) @ density)
        return cls(scatters, next_batch)


def _shares_of(logs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Probabilities from their logarithms."""
    found: NDArray[np.float64] = np.exp(logs - logs.max())
    found /= found.sum()
    return found


@cache
def _scattered(scatter: float) -> NDArray[np.float64]:
    """(n, n): density of the next batch's share (row) about the mean share of the mixer (column), on the grid.

    What would be above 1 is 1.
    """
    half = (_GRID[1] - _GRID[0]) / 2
    below = scipy.special.ndtr((_GRID[:, None] + half - _GRID[None, :]) / scatter)  # (share, mean)
    below[-1] = 1.0
    return np.diff(below, axis=0, prepend=0.0)


def survival_of_cup(
    *, slurry_volume: float, slurry_mass: float, foam_volume: Estimate, foam_density: Estimate, cup_density: float
) -> Estimate:
    """Share of the foam's surviving air by a weighed cup.

    slurry_volume, slurry_mass : m³ and kg of cement, sand and mixer water
    foam_volume, foam_density : m³ put in, kg/m³
    cup_density : kg/m³ of the foamed concrete

    Raises InputError if the cup cannot be of this batch: heavier than its slurry, lighter than its foam, with more air
    than was added, or with hardly any.
    """
    slurry_density = slurry_mass / slurry_volume
    if not foam_density.value < cup_density < slurry_density:
        side = "heavier than the slurry before the foam" if cup_density >= slurry_density else "lighter than the foam"
        other = slurry_density if cup_density >= slurry_density else foam_density.value
        raise InputError(
            f"a cup of {cup_density:.4g} kg/m³ is {side} ({other:.0f} kg/m³)",
            where="cup",
            remedy="Weigh the cup again, full to the rim, and check its volume and the unit",
        )

    def share(x: np.ndarray) -> float:
        water = x[0] * x[1]
        return foam_survival(slurry_volume, slurry_mass + water, x[2], x[0], water)

    at = np.array([foam_volume.value, foam_density.value, cup_density])
    u = np.array([foam_volume.standard_uncertainty, foam_density.standard_uncertainty, U_CUP * cup_density])
    found = propagate(share, at, u, steps=1e-5 * at)
    value, u_value = float(found.value), float(found.u)
    if value - Z95 * u_value > 1.0:
        raise InputError(
            f"by this cup {100 * value:.0f} % of the foam's air is in the concrete, more than 100 %",
            where="cup",
            remedy="Weigh cup and slurry again; more foam was added than in the sheet, or the mixer adds air",
        )
    if value + Z95 * u_value < FEWEST:
        raise InputError(
            f"by this cup only {100 * max(value, 0.0):.0f} % of the foam's air is left in the concrete",
            where="cup",
            remedy="Weigh the cup again and check its unit; if it is right, the foam collapses in the mix: do not "
            "pour it",
        )
    half = Z95 * u_value
    lower, upper = value - half, min(value + half, 1.0)
    if value > 1.0:  # all of it, within its uncertainty
        value, lower = 1.0, min(lower, 1.0)
    return Estimate(value, u_value, lower, max(upper, value), "1", assumptions=("by the weighed cup",))


def effective_density(density: float, survival: float) -> float:
    """Density of foam after the loss of a share of its air, kg/m³: the same water in less volume."""
    liquid = density / WATER_DENSITY
    return density / (liquid + survival * (1.0 - liquid))
