"""Comparison of treatments in blocks, by least squares: y = μ + block + treatment + scatter.

Blocks may be incomplete and may have repeats. For complete blocks without repeats it is the analysis of variance of the
randomised complete block design (NIST/SEMATECH e-Handbook of Statistical Methods, 5.3.3.2).

A known uncertainty of each reading sets the least scatter: few equal readings of a coarse scale have none by chance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frothline.errors import InputError, TooFewPoints
from frothline.numerics.arrays import Floats
from frothline.numerics.rounding_noise import noise_of, p_of_reduction
from frothline.numerics.uncertainty import student_factor


@dataclass(frozen=True)
class PairDifference:
    """Mean of ``second`` minus that of ``first``, with the ends of its interval; all intervals of a comparison together
    have the level of 95 % (Bonferroni).
    """

    first: str
    second: str
    value: float
    standard_uncertainty: float
    lower: float
    upper: float

    @property
    def clear(self) -> bool:
        return self.lower > 0.0 or self.upper < 0.0


@dataclass(frozen=True)
class BlockedComparison:
    """``means`` : adjusted mean of each treatment over all blocks, with its standard uncertainty from the scatter.

    Sums of squares: of ``blocks`` alone, of ``treatments`` with the blocks in the model, ``residual``; ``freedom`` are
    their degrees of freedom in that order; ``ratio`` is F of the treatments with its ``p_value``. ``reading`` is the
    known uncertainty of one value; where the scatter is less, means, differences, F and p are those of ``reading``.
    """

    treatments: tuple[str, ...]
    blocks: tuple[str, ...]
    means: tuple[tuple[float, float], ...]
    differences: tuple[PairDifference, ...]
    sums: tuple[float, float, float]
    freedom: tuple[int, int, int]
    ratio: float
    p_value: float
    reading: float = 0.0

    @property
    def scatter(self) -> float:
        """Standard deviation between alike treatments of one block."""
        return math.sqrt(self.sums[2] / self.freedom[2])


def compare_in_blocks(
    values: Sequence[float], treatments: Sequence[str], blocks: Sequence[str], *, reading: float = 0.0
) -> BlockedComparison:
    """Compare treatments within blocks.

    ``reading`` : standard uncertainty of one value that is independent between them (resolution), in their unit; 0 if
        it is not known

    Raises InputError for lists of different lengths, values that are not numbers, and alike values without a known
    reading; TooFewPoints with fewer than two treatments or blocks, without degrees of freedom for the scatter, or where
    no block links some treatments to others.
    """
    if not len(values) == len(treatments) == len(blocks) or not all(map(math.isfinite, values)):
        raise InputError("values, treatments and blocks do not belong together", where="blocks", remedy="Give one each")
    names, groups = tuple(dict.fromkeys(treatments)), tuple(dict.fromkeys(blocks))
    if len(names) < 2 or len(groups) < 2:
        raise TooFewPoints(
            f"{len(names)} of what is compared in {len(groups)} blocks; the minimum is two of each",
            where="blocks",
            remedy="Repeat each on another day",
        )
    y = np.asarray(values, dtype=np.float64)
    of_block = np.array([[float(one == name) for name in groups] for one in blocks])
    of_treatment = np.array([[float(one == name) for name in names[1:]] for one in treatments])
    whole = np.hstack([of_block, of_treatment])
    free = len(y) - whole.shape[1]
    if np.linalg.matrix_rank(whole) < whole.shape[1]:
        raise TooFewPoints(
            "no block links some of what is compared to the rest",
            where="blocks",
            remedy="Run two of them on one day, so that a day has both",
        )
    if free < 1:
        raise TooFewPoints(
            f"{len(y)} values for {whole.shape[1]} unknowns: no scatter is left", where="blocks", remedy="Add a block"
        )
    coefficients, rest = _fit(whole, y)
    _, rest_of_blocks = _fit(of_block, y)
    total = float(((y - y.mean()) ** 2).sum())
    noise = noise_of(y)
    scatter = math.sqrt(rest / free)
    scatter = 0.0 if scatter <= noise else scatter
    if not max(scatter, reading) > 0.0:
        raise InputError(
            "alike runs have equal values, and the uncertainty of a reading is not known: no uncertainty can be given",
            where="blocks",
            remedy="Check for a run entered twice, or give more digits",
        )
    inverse = np.linalg.inv(whole.T @ whole)
    contrast = np.zeros((len(names), whole.shape[1]))
    contrast[:, : len(groups)] = 1.0 / len(groups)
    for k in range(1, len(names)):
        contrast[k, len(groups) + k - 1] = 1.0
    means = contrast @ coefficients
    spread = max(scatter, reading) * np.sqrt(np.einsum("ij,jk,ik->i", contrast, inverse, contrast))
    between = len(names) - 1
    sums = (total - rest_of_blocks, rest_of_blocks - rest, rest)
    blocked, treated, left = (0.0 if one <= noise**2 * len(y) else one for one in sums)
    return BlockedComparison(
        treatments=names,
        blocks=groups,
        means=tuple((float(mean), float(u)) for mean, u in zip(means, spread, strict=True)),
        differences=_differences(names, contrast, y, inverse @ whole.T, (scatter, reading), free),
        sums=(blocked, treated, left),
        freedom=(len(groups) - 1, between, free),
        ratio=treated / between / max(scatter, reading) ** 2,
        p_value=p_of_reduction(rest_of_blocks, rest, between, free, noise=noise, least=reading),
        reading=reading,
    )


def _fit(rows: Floats, y: Floats) -> tuple[Floats, float]:
    """Coefficients, and the sum of the squares of the residuals."""
    found: Floats = np.asarray(np.linalg.lstsq(rows, y, rcond=None)[0], dtype=np.float64)
    return found, float(((y - rows @ found) ** 2).sum())


def _differences(
    names: Sequence[str], contrast: Floats, y: Floats, solved: Floats, deviations: tuple[float, float], free: int
) -> tuple[PairDifference, ...]:
    """``solved`` (k, n) gives the coefficients from ``y``; ``deviations`` are those of the runs and of a reading."""
    pairs = [(i, k) for i in range(len(names)) for k in range(i + 1, len(names))]
    level = 1.0 - 0.05 / len(pairs)
    factors = float(student_factor(free, level)), float(student_factor(math.inf, level))
    found = []
    for i, k in pairs:
        weights = (contrast[k] - contrast[i]) @ solved
        value, size = float(weights @ y), float(np.sqrt(weights @ weights))
        if abs(value) <= noise_of(y) * float(np.abs(weights).sum()):
            value = 0.0
        half = size * max(factor * one for factor, one in zip(factors, deviations, strict=True))
        found.append(PairDifference(names[i], names[k], value, size * max(deviations), value - half, value + half))
    return tuple(found)
