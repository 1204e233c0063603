"""A polynomial curve whose coefficients are uncertain: values, bands, crossings and largest power with intervals.

Random and common parts of the covariance are kept apart because only the random part was estimated from few degrees of
freedom. Intervals of crossings are found by inverting the pointwise band (E. C. Fieller, "Some problems in interval
estimation", J. R. Stat. Soc. B 16 (1954) 175-185): all flows at which the difference of the curves is not
significantly different from zero. They need not be symmetric, and may be open.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import inf, isfinite, nan, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, stats

from frothline.curve.forms import ALL_POWERS
from frothline.curve.regression import basis
from frothline.estimate import Estimate

Array = NDArray[np.float64]
BAND_DRAWS = 4000  # the 95 % point of the largest deviation is then known to about 1 % of itself
GRID = 400


@dataclass(frozen=True)
class Uncertain:
    """p(q) = sum c_j q^j with covariance ``random`` (estimated, ``freedom`` degrees of freedom) + ``common``.

    ``scale`` is the residual variance in units of the points' stated variances.
    """

    coefficients: Array  # (4,)
    random: Array  # (4, 4)
    common: Array  # (4, 4)
    freedom: float
    scale: float = 1.0

    @cached_property
    def covariance(self) -> Array:
        return self.random + self.common

    def value(self, flow: ArrayLike, derivative: int = 0) -> Array:
        return (basis(ALL_POWERS, flow, derivative) @ self.coefficients).reshape(np.shape(flow))

    def u(self, flow: ArrayLike, derivative: int = 0) -> Array:
        row = basis(ALL_POWERS, flow, derivative)
        return np.sqrt(_quadratic(row, self.covariance)).reshape(np.shape(flow))

    def factor(self, row: Array, level: float, extra: ArrayLike = 0.0) -> Array:
        """Coverage factor for linear combinations ``row`` (n, 4) of the coefficients: t of effective freedom.

        ``extra``: variance of something else that is added and well known.
        """
        random = _quadratic(row, self.random)
        total = random + _quadratic(row, self.common) + np.asarray(extra)
        with np.errstate(divide="ignore", invalid="ignore"):
            freedom = np.where(random > 0, self.freedom * (total / np.maximum(random, 1e-300)) ** 2, 1e9)
        result: Array = stats.t.ppf(0.5 + level / 2, np.minimum(freedom, 1e9))
        return result

    def band(
        self, flow: ArrayLike, level: float, reach: float | None = None, *, extra_variance: float = 0.0
    ) -> tuple[Array, Array]:
        """Lower and upper; simultaneous over 0..``reach`` if that is given."""
        row = basis(ALL_POWERS, flow)
        u = np.sqrt(_quadratic(row, self.covariance) + extra_variance)
        factor = self.factor(row, level, extra_variance) if reach is None else self.simultaneous_factor(reach, level)
        half = (factor * u).reshape(np.shape(flow))
        middle = self.value(flow)
        return middle - half, middle + half

    def simultaneous_factor(self, reach: float, level: float) -> float:
        """How many standard uncertainties hold the whole curve over 0..``reach`` (m3/s).

        By simulation of the largest deviation (D. Ruppert, M. P. Wand, R. J. Carroll, Semiparametric Regression, 2003,
        section 6.5); for a polynomial fitted to few points it is a little below Scheffé's sqrt(m F).
        """
        return _simultaneous(self.random.tobytes(), self.common.tobytes(), self.freedom, reach, level)

    def estimate(self, flow: float, level: float, unit: str, *, extrapolated: bool = False) -> Estimate:
        row = basis(ALL_POWERS, flow)
        value, u = float(self.value(flow)), float(self.u(flow))
        half = float(self.factor(row, level)[0]) * u
        return Estimate(value, u, value - half, value + half, unit, level, extrapolated)

    def crossing(
        self,
        other: Callable[[Array], Array],
        other_variance: Callable[[Array], Array],
        reach: float,
        level: float,
        unit: str,
    ) -> Estimate:
        """The flow up to ``reach`` at which this curve falls below ``other``; looked for further out if need be."""
        top = reach
        for _ in range(4):
            grid = np.linspace(0.0, top, GRID + 1)
            gap = self.value(grid) - other(grid)
            falls = np.nonzero((gap[:-1] > 0) & (gap[1:] <= 0))[0]
            if len(falls):
                break
            top *= 2
        else:
            why = "the curve does not come down to it within sixteen times the measured flow"
            return Estimate(nan, nan, nan, nan, unit, level, True, (why,))
        at = falls[0]

        def difference(q: float) -> float:
            spot = np.array([q])
            return float(self.value(spot)[0] - other(spot)[0])

        root = float(optimize.brentq(difference, grid[at], grid[at + 1], xtol=1e-15, rtol=1e-14))
        step = 1e-6 * root
        slope = (difference(root + step) - difference(root - step)) / (2 * step)
        variance = float(_quadratic(basis(ALL_POWERS, root), self.covariance)[0] + other_variance(np.array([root]))[0])
        u = sqrt(variance) / abs(slope) if slope else inf

        def significant(q: float, sign: float) -> float:
            spot = np.array([q])
            row = basis(ALL_POWERS, spot)
            extra = other_variance(spot)
            spread = sqrt(float(_quadratic(row, self.covariance)[0] + extra[0]))
            return sign * difference(q) - float(self.factor(row, level, extra)[0]) * spread

        lower = _outwards(significant, root, u, 1.0, 0.0)
        upper = _outwards(significant, root, u, -1.0, inf)
        return Estimate(root, u, lower, upper, unit, level)

    def largest_power(self, reach: float, level: float) -> tuple[Estimate, Estimate]:
        """Largest q p(q) for q in 0..``reach`` (W) and the flow where it lies (m3/s).

        The flow's own uncertainty does not enter the largest power to first order: at the top the power is level.
        """
        c = self.coefficients
        condition = np.array([c[0], 2 * c[1], 3 * c[2], 4 * c[3]])  # d(q p)/dq
        roots = np.roots(condition[::-1][np.argmax(condition[::-1] != 0) :])
        real = [float(r.real) for r in roots if abs(r.imag) < 1e-9 * max(abs(r), 1e-12) and 0 < r.real < reach]
        if not real:
            why = ("air power still grows at the end of the curve",)
            missing = Estimate(nan, nan, nan, nan, "W", level, True, why)
            return missing, Estimate(nan, nan, nan, nan, "m³/s", level, True, why)
        q = max(real, key=lambda x: x * float(self.value(x)))
        power = q * float(self.value(q))
        row = basis(ALL_POWERS, q)
        u = q * sqrt(float(_quadratic(row, self.covariance)[0]))
        half = float(self.factor(row, level)[0]) * u
        bend = 2 * c[1] + 6 * c[2] * q + 12 * c[3] * q**2
        gradient = np.array([[1.0, 2 * q, 3 * q**2, 4 * q**3]]) / -bend
        u_q = sqrt(float(_quadratic(gradient, self.covariance)[0]))
        half_q = float(self.factor(gradient, level)[0]) * u_q
        return (
            Estimate(power, u, power - half, power + half, "W", level),
            Estimate(q, u_q, q - half_q, q + half_q, "m³/s", level),
        )


def _quadratic(row: Array, matrix: Array) -> Array:
    result: Array = np.maximum(np.einsum("ij,jk,ik->i", row, matrix, row), 0.0)
    return result


def _outwards(significant: Callable[[float, float], float], root: float, u: float, sign: float, limit: float) -> float:
    """From the crossing outwards to where the difference becomes significant; ``limit`` if it never does."""
    if u == 0:
        return root
    here, step = root, (0.5 * u if isfinite(u) else 0.1 * root) * -sign
    for _ in range(80):
        there = here + step
        if sign > 0 and there <= 0:
            return 0.0 if significant(0.0, sign) <= 0 else float(optimize.brentq(significant, 0.0, here, (sign,)))
        if significant(there, sign) > 0:
            return float(optimize.brentq(significant, *sorted((here, there)), (sign,)))
        if abs(there) > 20 * root:
            break
        here, step = there, step * 1.3
    return limit


@lru_cache(maxsize=256)
def _simultaneous(random: bytes, common: bytes, freedom: float, reach: float, level: float) -> float:
    size = len(ALL_POWERS)
    parts = [np.frombuffer(part).reshape(size, size) for part in (random, common)]
    scale = reach ** np.arange(size)
    roots = [_root(part * np.outer(scale, scale)) for part in parts]
    grid = basis(ALL_POWERS, np.linspace(0.0, 1.0, 61))
    total = np.sqrt(_quadratic(grid, (parts[0] + parts[1]) * np.outer(scale, scale)))
    if not np.any(total > 0):
        return 0.0
    rng = np.random.default_rng(12)  # fixed: the same points always give the same band
    drawn = rng.standard_normal((BAND_DRAWS, 2 * size))
    student = np.sqrt(freedom / rng.chisquare(freedom, BAND_DRAWS))[:, None]
    theta = drawn[:, :size] @ roots[0].T * student + drawn[:, size:] @ roots[1].T
    deviation = np.abs(theta @ grid.T)[:, total > 0] / total[total > 0]
    return float(np.quantile(deviation.max(axis=1), level))


def _root(matrix: Array) -> Array:
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2)
    result: Array = vectors * np.sqrt(np.maximum(values, 0.0))
    return result
