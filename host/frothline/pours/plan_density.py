"""Density of the finished concrete by simulation over foam output, start, foam density and survival (JCGM 101:2008).

Errors of output, start and foam density are the same for every mix of a pour. The survival of the air has a part that
is the same and a part that changes from mix to mix. Masses of cement, sand and water are taken as exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from frothline.estimate import Estimate
from frothline.foam.batch_order import MeasuredFoam
from frothline.foam.concrete_batch import ConcreteBatch
from frothline.foam.dosing import U_BUCKET
from frothline.numerics.arrays import Floats
from frothline.physics.mix import WATER_DENSITY

DRAWS, CELLS = 10_000, 60_000  # draws, and the most draws times mixes
LEAST_DRAWS, MOST_SIMULATED = 2_000, 60  # the mean of more mixes hardly changes further
U_SCALE = 0.02  # kg, of a drop of the reservoir's scale; judgement, no source
U_FIRST_FOAM = 0.5  # s, by which the first foam is seen too early or too late; judgement, no source
HALF_NORMAL = float(np.sqrt(2.0 / np.pi))  # mean of a half-normal distribution over its parameter
METHODS = ("time", "bucket", "scale")


@dataclass(frozen=True)
class FinishedDensity:
    """``mix`` : density of any one mix, kg/m³; ``pour`` : mean of all mixes."""

    mix: Estimate
    pour: Estimate


def finished_density(
    batch: ConcreteBatch, foam: MeasuredFoam, method: str, mixes: int = 1, *, seed: int = 0, starts: int = 0
) -> FinishedDensity | None:
    """Simulate the density of a pour of equal mixes. None by time without a known foam output.

    batch : one mix;  method : how the foam is measured, one of METHODS;  seed : of the random numbers
    starts : of the generator for a mix; those of the batch if not given
    """
    if method == "time" and (foam.output is None or not foam.output.known):
        return None
    mixes = min(mixes, MOST_SIMULATED)
    draws = int(min(max(CELLS // mixes, LEAST_DRAWS), DRAWS))
    rng = np.random.default_rng(seed)
    foam_density = _normal(rng, foam.density, draws)
    volume = _volumes(rng, batch, foam, method, foam_density, starts or batch.starts)
    survival = _survival(rng, foam.survival, foam.scatter, draws, mixes)
    water = volume * foam_density  # (draws,) kg in the foam of each mix
    mix = batch.mix
    solid = mix.cement + mix.sand + mix.mixer_water
    mass = solid + water
    air = volume - water / WATER_DENSITY
    space = (mix.base_volume + water / WATER_DENSITY)[:, None] + survival * air[:, None]  # (draws, mixes)
    one = mass / space[:, 0]
    whole = mixes * mass / space.sum(axis=1)
    said = (*foam.survival.assumptions, "weighing of cement, sand and water taken as exact")
    return FinishedDensity(_estimate(one, said), _estimate(whole, said))


def _estimate(draws: Floats, said: tuple[str, ...]) -> Estimate:
    low, high = (float(one) for one in np.quantile(draws, (0.025, 0.975)))
    value = min(max(float(draws.mean()), low), high)
    return Estimate(value, float(draws.std()), low, high, "kg/m3", assumptions=said)


def _normal(rng: np.random.Generator, one: Estimate, draws: int) -> Floats:
    """Draws of a quantity above 0."""
    found: Floats = rng.normal(one.value, one.standard_uncertainty, draws)
    return np.maximum(found, 0.05 * one.value)


def _volumes(
    rng: np.random.Generator,
    batch: ConcreteBatch,
    foam: MeasuredFoam,
    method: str,
    foam_density: Floats,
    starts: int,
) -> Floats:
    """Volume of foam that really goes into a mix, m³ (draws,)."""
    draws, wanted = len(foam_density), batch.foam_volume
    if method == "bucket":
        found: Floats = rng.normal(wanted, U_BUCKET * wanted, draws)
        return np.maximum(found, 0.05 * wanted)
    if method == "scale":
        rate = 0.0 if foam.output is None else foam.output.value * foam.density.value
        u = float(np.sqrt(starts) * np.hypot(U_SCALE, U_FIRST_FOAM * rate))  # the drop is read after each start
        drop = rng.normal(wanted * foam.density.value, u, draws)
        return np.maximum(drop, 0.05 * wanted * foam.density.value) / foam_density
    assert foam.output is not None
    output = _normal(rng, foam.output, draws)
    half = np.sqrt(3.0) * foam.start_up.standard_uncertainty
    start = foam.start_up.value + rng.uniform(-half, half, draws)
    seconds = starts * foam.start_up.value + wanted / foam.output.value
    return np.maximum(output * np.maximum(seconds - starts * np.maximum(start, 0.0), 0.0), 0.05 * wanted)


def _survival(rng: np.random.Generator, share: Estimate, scatter: float, draws: int, mixes: int) -> Floats:
    """Share of the air that survives, (draws, mixes), never above 1, with a standard deviation ``scatter`` from mix to
    mix. The variances of both parts add up to the stated one, as far as a share near 1 can vary.
    """
    u = share.standard_uncertainty
    mean = min(share.value, 1.0 - HALF_NORMAL * u)  # a share near 1 can only be lower
    between = min(scatter, 0.7 * u)
    common = _beta(rng, np.full(draws, mean), float(np.sqrt(max(u**2 - between**2, 0.0))))
    return np.stack([_beta(rng, common, between) for _ in range(mixes)], axis=1)


def _beta(rng: np.random.Generator, mean: Floats, u: float) -> Floats:
    """Draws of a share with these means and a standard deviation, as a beta distribution."""
    if u <= 0.0:
        return np.clip(mean, 0.0, 1.0)
    mean = np.clip(mean, 1e-6, 1.0 - 1e-6)
    most = mean * (1.0 - mean)
    size = most / np.minimum(u**2, 0.5 * most) - 1.0
    found: Floats = rng.beta(mean * size, (1.0 - mean) * size)
    return found
