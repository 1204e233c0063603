"""Comparison of treatments in blocks, by least squares: y = μ + block + treatment + scatter.

Blocks may be incomplete and may have repeats. For complete blocks without repeats it is the analysis of variance of the
randomised complete block design (NIST/SEMATECH e-Handbook of Statistical Methods, 5.3.3.2).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frothline.errors import InputError, TooFewPoints
from frothline.numerics.arrays import Floats
from frothline.numerics.distributions import f_exceedance
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
    their degrees of freedom in that order; ``ratio`` is F of the treatments with its ``p_value``.
    """

    treatments: tuple[str, ...]
    blocks: tuple[str, ...]
    means: tuple[tuple[float, float], ...]
    differences: tuple[PairDifference, ...]
    sums: tuple[float, float, float]
    freedom: tuple[int, int, int]
    ratio: float
    p_value: float

    @property
    def scatter(self) -> float:
        """Standard deviation between alike treatments of one block."""
        return math.sqrt(self.sums[2] / self.freedom[2])


def compare_in_blocks(values: Sequence[float], treatments: Sequence[str], blocks: Sequence[str]) -> BlockedComparison:
    """Compare treatments within blocks.

    Raises InputError for lists of different lengths and values that are not numbers; TooFewPoints with fewer than two
    treatments or blocks, without degrees of freedom for the scatter, or where no block links some treatments to others.
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
    variance = rest / free
    covariance = np.linalg.inv(whole.T @ whole) * variance
    contrast = np.zeros((len(names), whole.shape[1]))
    contrast[:, : len(groups)] = 1.0 / len(groups)
    for k in range(1, len(names)):
        contrast[k, len(groups) + k - 1] = 1.0
    means = contrast @ coefficients
    spread = np.sqrt(np.einsum("ij,jk,ik->i", contrast, covariance, contrast))
    between = len(names) - 1
    sums = (total - rest_of_blocks, rest_of_blocks - rest, rest)
    ratio = sums[1] / between / variance if variance > 0.0 else math.inf
    return BlockedComparison(
        treatments=names,
        blocks=groups,
        means=tuple((float(mean), float(u)) for mean, u in zip(means, spread, strict=True)),
        differences=_differences(names, contrast, coefficients, covariance, free),
        sums=sums,
        freedom=(len(groups) - 1, between, free),
        ratio=ratio,
        p_value=f_exceedance(ratio, between, free) if math.isfinite(ratio) else 0.0,
    )


def _fit(rows: Floats, y: Floats) -> tuple[Floats, float]:
    """Coefficients, and the sum of the squares of the residuals."""
    found: Floats = np.asarray(np.linalg.lstsq(rows, y, rcond=None)[0], dtype=np.float64)
    return found, float(((y - rows @ found) ** 2).sum())


def _differences(
    names: Sequence[str], contrast: Floats, coefficients: Floats, covariance: Floats, free: int
) -> tuple[PairDifference, ...]:
    pairs = [(i, k) for i in range(len(names)) for k in range(i + 1, len(names))]
    factor = float(student_factor(free, 1.0 - 0.05 / len(pairs)))
    found = []
    for i, k in pairs:
        step = contrast[k] - contrast[i]
        value, u = float(step @ coefficients), math.sqrt(max(float(step @ covariance @ step), 0.0))
        found.append(PairDifference(names[i], names[k], value, u, value - factor * u, value + factor * u))
    return tuple(found)
