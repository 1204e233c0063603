"""A polynomial curve whose coefficients are uncertain: values, bands, crossings and largest power with intervals.

The uncertainty has separate parts: covariances estimated from few degrees of freedom (``random``), and the effects of
errors that all points of a sweep share (``effects``, by name), so that two curves measured with the same sensors are
compared correctly. Coverage factors are Student's with the effective degrees of freedom of JCGM 100:2008, G.4.

Intervals of crossings are found by inverting the pointwise band (E. C. Fieller, "Some problems in interval estimation",
J. R. Stat. Soc. B 16 (1954) 175-185): all flows at which the difference of the curves is not significantly different
from zero. They need not be symmetric, and may be open.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import inf, isfinite, nan, sqrt

import numpy as np
import scipy
from numpy.typing import ArrayLike

from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import basis
from frothline.numerics.uncertainty import KNOWN, student_factor

ALL_POWERS = (0, 1, 2, 3, 4)
BAND_DRAWS = 4000  # the 95 % point of the largest deviation is then accurate to about 1 % of itself
GRID = 400  # flows at which crossings are searched


@dataclass(frozen=True)
class Uncertain:
    """p(q) = c0 + c1 q + … + c4 q^4, Pa and m3/s, with its uncertainty.

    coefficients : (5,) c0..c4
    random : pairs of a covariance (5, 5) and its degrees of freedom, independent of each other
    effects : name of a common error -> change of the coefficients, (5,), by one standard uncertainty of it
    scale : residual variance in units of the points' stated variances
    """

    coefficients: Floats
    random: tuple[tuple[Floats, float], ...] = ()
    effects: tuple[tuple[str, Floats], ...] = ()
    scale: float = 1.0

    @cached_property
    def common(self) -> Floats:
        """(5, 5) covariance due to the common errors."""
        return sum((np.outer(effect, effect) for _, effect in self.effects), np.zeros((len(ALL_POWERS),) * 2))

    @cached_property
    def covariance(self) -> Floats:
        """(5, 5) total covariance."""
        return sum((part for part, _ in self.random), self.common)

    def value(self, flow: ArrayLike, derivative: int = 0) -> Floats:
        return (basis(ALL_POWERS, flow, derivative) @ self.coefficients).reshape(np.shape(flow))

    @cached_property
    def _plain(self) -> tuple[float, ...]:
        """The coefficients from the highest power on."""
        return tuple(float(one) for one in self.coefficients[::-1])

    def value_at(self, flow: float) -> float:
        """The value at one flow, as ``value`` gives it, but for rounding."""
        total = 0.0
        for coefficient in self._plain:
            total = total * flow + coefficient
        return total

    def u(self, flow: ArrayLike, derivative: int = 0) -> Floats:
        row = basis(ALL_POWERS, flow, derivative)
        return np.sqrt(_quadratic(row, self.covariance)).reshape(np.shape(flow))

    def minus(self, other: Uncertain) -> Uncertain:
        """The difference of two curves; errors with the same name are the same error and may cancel."""
        names = dict.fromkeys(name for name, _ in self.effects + other.effects)
        mine, theirs = dict(self.effects), dict(other.effects)
        zero = np.zeros(len(ALL_POWERS))
        return Uncertain(
            self.coefficients - other.coefficients,
            self.random + other.random,
            tuple((name, mine.get(name, zero) - theirs.get(name, zero)) for name in names),
        )

    def factor(self, row: Floats, level: float, extra: float = 0.0) -> Floats:
        """(n,) coverage factors for linear combinations ``row`` (n, 5) of the coefficients.

        ``extra`` : an additional variance with many degrees of freedom.
        """
        parts = [(_quadratic(row, part), freedom) for part, freedom in self.random]
        total = _quadratic(row, self.covariance) + extra
        below = sum((variance**2 / freedom for variance, freedom in parts), np.zeros(len(row)))
        with np.errstate(divide="ignore", invalid="ignore"):
            freedom = np.where(below > 0, total**2 / np.maximum(below, 1e-300), KNOWN)
        return student_factor(freedom, level)

    def linear(self, row: ArrayLike, value: float, level: float, unit: str) -> Estimate:
        """Estimate of a quantity whose derivatives with respect to the coefficients are ``row`` (5,)."""
        rows = np.asarray(row, dtype=np.float64)[None, :]
        u = sqrt(float(_quadratic(rows, self.covariance)[0]))
        half = float(self.factor(rows, level)[0]) * u
        return Estimate(value, u, value - half, value + half, unit, level)

    def at(self, flow: float, level: float, unit: str = "Pa") -> Estimate:
        return self.linear(basis(ALL_POWERS, flow)[0], float(self.value(flow)), level, unit)

    def band(
        self, flow: ArrayLike, level: float, reach: float | None = None, *, extra_variance: float = 0.0
    ) -> tuple[Floats, Floats]:
        """Lower and upper limit; simultaneous over 0..``reach`` if that is given."""
        row = basis(ALL_POWERS, flow)
        u = np.sqrt(_quadratic(row, self.covariance) + extra_variance)
        factor = self.factor(row, level, extra_variance) if reach is None else self.simultaneous_factor(reach, level)
        half = (factor * u).reshape(np.shape(flow))
        middle = self.value(flow)
        return middle - half, middle + half

    def simultaneous_factor(self, reach: float, level: float) -> float:
        """Factor on the standard uncertainty for a band that contains the whole curve over 0..``reach`` (m3/s).

        By simulation of the largest deviation (D. Ruppert, M. P. Wand, R. J. Carroll, Semiparametric Regression, 2003,
        section 6.5); for a polynomial fitted to few points it is a little below Scheffé's sqrt(m F).
        """
        random = tuple((part.tobytes(), freedom) for part, freedom in self.random)
        return _simultaneous(random, self.common.tobytes(), reach, level)

    def zero(self, reach: float, level: float, unit: str = "m³/s") -> Estimate:
        """The first flow at which the curve falls through zero; searched beyond ``reach`` if necessary."""
        found, top = self.falls(reach), reach
        for _ in range(4):
            if found:
                break
            top *= 2
            found = self.falls(top)
        if not found:
            why = "not reached within sixteen times the measured flow"
            return Estimate(nan, nan, nan, nan, unit, level, True, (why,))
        root = found[0]
        slope = float(self.value(root, 1))
        u = float(self.u(root)) / abs(slope) if slope else inf

        def significant(q: float, sign: float) -> float:
            row = basis(ALL_POWERS, q)
            spread = float(self.factor(row, level)[0]) * sqrt(float(_quadratic(row, self.covariance)[0]))
            return sign * float(self.value(q)) - spread

        lower = _outwards(significant, root, u, 1.0, 0.0)
        upper = _outwards(significant, root, u, -1.0, inf)
        return Estimate(root, u, lower, upper, unit, level)

    def falls(self, reach: float) -> list[float]:
        """All flows in 0..``reach`` where the curve changes from positive to not positive."""
        return [q for q in self.roots(reach) if float(self.value(q, 1)) <= 0]

    def roots(self, reach: float) -> list[float]:
        """All flows in 0..``reach`` where the curve is zero, in order."""
        grid = np.linspace(0.0, reach, GRID + 1)
        gap = self.value(grid)
        change = np.nonzero((gap[:-1] > 0) != (gap[1:] > 0))[0]
        return [
            float(scipy.optimize.brentq(lambda q: float(self.value(q)), grid[k], grid[k + 1], xtol=1e-15, rtol=1e-14))
            for k in change
        ]

    def largest_power(self, reach: float, level: float) -> tuple[Estimate, Estimate]:
        """Largest q p(q) for q in 0..``reach`` (W) and its flow (m3/s).

        The uncertainty of that flow does not enter the largest power to first order, because the power is level there.
        """
        c = self.coefficients
        rise = np.arange(1, len(c) + 1)  # d(q p)/dq = sum of rise[j] c[j] q^j
        condition = np.trim_zeros((rise * c)[::-1], "f")
        real = [float(r.real) for r in np.roots(condition) if abs(r.imag) < 1e-9 * abs(r) and 0 < r.real < reach]
        if not real:
            why = ("air power still grows at the end of the curve",)
            missing = Estimate(nan, nan, nan, nan, "W", level, True, why)
            return missing, Estimate(nan, nan, nan, nan, "m³/s", level, True, why)
        q = max(real, key=lambda x: x * float(self.value(x)))
        bend = float(np.polyval(np.polyder((rise * c)[::-1]), q))
        return (
            self.linear(q * basis(ALL_POWERS, q)[0], q * float(self.value(q)), level, "W"),
            self.linear(rise * basis(ALL_POWERS, q)[0] / -bend, q, level, "m³/s"),
        )


def together(*pairs: tuple[Uncertain, Floats]) -> tuple[Floats, Floats]:
    """Covariance (m, m) of m results that depend on several curves, and the effective degrees of freedom (m,) of each.

    ``pairs`` : a curve and the derivatives (m, 5) of the results with respect to its coefficients. Errors with the same
        name in several curves are the same error (JCGM 100:2008, F.1.2.3).
    """
    size = len(pairs[0][1])
    covariance, below = np.zeros((size, size)), np.zeros(size)
    moved: dict[str, Floats] = {}
    for curve, rows in pairs:
        for part, freedom in curve.random:
            own = rows @ part @ rows.T
            covariance += own
            below += np.diag(own) ** 2 / freedom
        for name, effect in curve.effects:
            moved[name] = moved.get(name, np.zeros(size)) + rows @ effect
    for step in moved.values():
        covariance += np.outer(step, step)
    with np.errstate(over="ignore"):
        effective = np.where(below > 0, np.diag(covariance) ** 2 / np.maximum(below, 1e-300), KNOWN)
    return covariance, np.minimum(effective, KNOWN)


def constant(pressure: float) -> Uncertain:
    """An exact constant line, Pa."""
    return Uncertain(pressure * np.eye(len(ALL_POWERS))[0])


def _quadratic(row: Floats, matrix: Floats) -> Floats:
    result: Floats = np.maximum(np.einsum("ij,jk,ik->i", row, matrix, row), 0.0)
    return result


def _outwards(significant: Callable[[float, float], float], root: float, u: float, sign: float, limit: float) -> float:
    """From the crossing outwards to where the difference becomes significant; ``limit`` if it never does."""
    if u == 0:
        return root
    exact = {"xtol": 1e-7 * min(u, root), "rtol": 1e-7}  # an interval's end needs no more
    here, step = root, (0.5 * u if isfinite(u) else 0.1 * root) * -sign
    for _ in range(80):
        there = here + step
        if sign > 0 and there <= 0:
            open_end = significant(0.0, sign) <= 0
            return 0.0 if open_end else float(scipy.optimize.brentq(significant, 0.0, here, (sign,), **exact))
        if significant(there, sign) > 0:
            return float(scipy.optimize.brentq(significant, *sorted((here, there)), (sign,), **exact))
        if abs(there) > 20 * root:
            break
        here, step = there, step * 1.3
    return limit


@lru_cache(maxsize=256)
def _simultaneous(random: tuple[tuple[bytes, float], ...], common: bytes, reach: float, level: float) -> float:
    size = len(ALL_POWERS)
    scale = np.outer(*(reach ** np.arange(size),) * 2)
    parts = [(np.frombuffer(part).reshape(size, size) * scale, freedom) for part, freedom in random]
    parts.append((np.frombuffer(common).reshape(size, size) * scale, KNOWN))
    grid = basis(ALL_POWERS, np.linspace(0.0, 1.0, 61))
    total = np.sqrt(sum((_quadratic(grid, part) for part, _ in parts), np.zeros(len(grid))))
    if not np.any(total > 0):
        return 0.0
    rng = np.random.default_rng(12)  # fixed: the same points always give the same band
    deviation = np.zeros((BAND_DRAWS, len(grid)))
    for part, freedom in parts:
        student = np.sqrt(freedom / rng.chisquare(freedom, BAND_DRAWS))[:, None] if freedom < KNOWN else 1.0
        deviation += (rng.standard_normal((BAND_DRAWS, size)) @ _root(part).T * student) @ grid.T
    return float(np.quantile(np.max(np.abs(deviation[:, total > 0]) / total[total > 0], axis=1), level))


def _root(matrix: Floats) -> Floats:
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2)
    result: Floats = vectors * np.sqrt(np.maximum(values, 0.0))
    return result
