"""The interval of a sum of two quantities with a known correlation. It imports no module of the package.

Each quantity is described by its value and its half widths: the distances from the value to the lower and upper ends of
an interval of the same level. Symmetric intervals add as JCGM 100:2008, equation 16, adds standard uncertainties.

An asymmetric interval is taken as a shifted lognormal quantity with its median at the value and its quantiles at both
ends: exactly the interval of ``Estimate.positive``, and a normal one in the limit of symmetry. Where one side is more
than WIDEST times the other, each side is taken as half of a normal quantity. The sum of two of them is propagated as a
distribution (JCGM 101:2008), by quadrature instead of random draws; the correlation is that of the underlying normal
quantities (a Gaussian copula).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, erf, erfc, exp, expm1, hypot, inf, isclose, isfinite, log, log1p, sqrt
from typing import Final

Z95: Final = 1.959963984540054  # half of a 95 % interval over its standard uncertainty, normal
SYMMETRIC = 1e-6  # relative difference of two sides that counts as symmetric
WIDEST = 50.0  # one side over the other, above which the lognormal's tail is not meaningful; judgement
RIGID = 0.9999  # correlations nearer to ±1 count as ±1
FINEST = 0.005  # standard deviations: the smallest step of the quadrature
REACH = 8.0  # standard deviations covered by the quadrature: the probability outside is 1e-15


def coverage_factor(level: float) -> float:
    """Half of a normal quantity's interval of this level over its standard uncertainty (JCGM 100:2008, table G.1)."""
    if level == 0.95:
        return Z95
    return _root(lambda k: erf(k / sqrt(2.0)) - level, 0.0, REACH)


def sum_half_widths(
    first: tuple[float, float], second: tuple[float, float], correlation: float, level: float
) -> tuple[float, float]:
    """Half widths (below, above) of the sum from those of two quantities, all 0 or more or infinite.

    correlation : -1 to 1
    level : of all three intervals
    """
    if (0.0, 0.0) in (first, second):
        return second if first == (0.0, 0.0) else first
    if inf in (first[0], second[0]) or inf in (first[1], second[1]):
        return _open(first, second, correlation, level)
    if all(isclose(*sides, rel_tol=SYMMETRIC) for sides in (first, second)):
        return (_in_quadrature(first[0], second[0], correlation), _in_quadrature(first[1], second[1], correlation))
    k = coverage_factor(level)
    # the quadrature runs over the narrower quantity, because the wider one is smooth on its scale
    a, b = (
        _Quantity.of(*sides, k) for sides in sorted((first, second), key=lambda sides: (max(sides), min(sides), sides))
    )
    tail = (1.0 - level) / 2.0
    low, high = _rigid(a, b, correlation, tail) if abs(correlation) > RIGID else _joint(a, b, correlation, tail)
    return max(-low, 0.0), max(high, 0.0)


def _in_quadrature(a: float, b: float, correlation: float) -> float:
    return sqrt(max(a * a + b * b + 2.0 * correlation * a * b, 0.0))


def _open(
    first: tuple[float, float], second: tuple[float, float], correlation: float, level: float
) -> tuple[float, float]:
    """Half widths with an open side: an end of the sum is known if both its ends are."""
    below, above = (not (isfinite(first[end]) and isfinite(second[end])) for end in (0, 1))
    if below and above:
        return inf, inf
    low, high = sum_half_widths(_closed(*first), _closed(*second), correlation, level)
    return (inf if below else low), (inf if above else high)


def _closed(below: float, above: float) -> tuple[float, float]:
    """Replace an open side by the width of the other; only the closed end of the sum is used."""
    if isfinite(below):
        return below, above if isfinite(above) else below
    return (above, above) if isfinite(above) else (0.0, 0.0)


@dataclass(frozen=True)
class _Quantity:
    """A quantity minus its median, as an increasing function of a standard normal one.

    below, above : half widths, in standard deviations
    skew : of the lognormal form, 1 over a standard deviation; 0 for the form of two halves
    """

    below: float
    above: float
    skew: float

    @classmethod
    def of(cls, below: float, above: float, k: float) -> _Quantity:
        if min(below, above) * WIDEST < max(below, above) or isclose(below, above, rel_tol=SYMMETRIC):
            return cls(below / k, above / k, 0.0)
        skew = log(above / below) / k
        slope = above * skew / expm1(skew * k)
        return cls(slope, slope, skew)

    def at(self, z: float) -> float:
        if self.skew:
            return self.below * expm1(self.skew * z) / self.skew
        return (self.below if z < 0.0 else self.above) * z

    @property
    def slopes(self) -> tuple[float, float]:
        """Change per standard deviation near both ends of the interval."""
        return 2.0 * (self.at(-2.0) - self.at(-2.5)), 2.0 * (self.at(2.5) - self.at(2.0))

    def normal_at(self, difference: float) -> float:
        """The standard normal value at a difference from the median; infinite if it is never reached."""
        if self.skew:
            inside = self.skew * difference / self.below
            return log1p(inside) / self.skew if inside > -1.0 else -inf if self.skew > 0.0 else inf
        side = self.below if difference < 0.0 else self.above
        return difference / side if side else (inf if difference > 0.0 else -inf if difference < 0.0 else 0.0)


def _joint(a: _Quantity, b: _Quantity, correlation: float, tail: float) -> tuple[float, float]:
    """Quantiles of the sum at ``tail`` and 1 - ``tail``."""
    own = sqrt(1.0 - correlation**2)
    # a step changes the sum by a fraction of the width of b on its narrower side, unless that is close to zero
    fine = 0.25 * min(b.slopes) / max(a.slopes)
    grid = _grid(min(max(fine, FINEST), 0.1, own / 2.0))
    moved = [(exp(-z * z / 2.0), a.at(z), z) for z in grid]
    whole = sum(weight for weight, _, _ in moved)

    def probability(value: float) -> float:
        return sum(weight * _normal((b.normal_at(value - x) - correlation * z) / own) for weight, x, z in moved) / whole

    reach = 2.0 * hypot(*(abs(one.at(end)) for one in (a, b) for end in (-4.0, 4.0)))
    return (
        _root(lambda value: probability(value) - tail, -reach, reach),
        _root(lambda value: probability(value) - (1.0 - tail), -reach, reach),
    )


def _rigid(a: _Quantity, b: _Quantity, correlation: float, tail: float) -> tuple[float, float]:
    """Quantiles of the sum where one normal quantity moves both."""
    sign = 1.0 if correlation > 0.0 else -1.0
    values = sorted((a.at(z) + b.at(sign * z), exp(-z * z / 2.0)) for z in _grid(0.002))
    whole = sum(weight for _, weight in values)
    return _quantile(values, tail * whole), _quantile(values, (1.0 - tail) * whole)


def _quantile(values: Sequence[tuple[float, float]], wanted: float) -> float:
    passed = 0.0
    for value, weight in values:
        passed += weight
        if passed >= wanted:
            return value
    return values[-1][0]


def _grid(step: float) -> list[float]:
    count = ceil(REACH / step)
    return [i * step for i in range(-count, count + 1)]


def _normal(z: float) -> float:
    return 0.5 * erfc(-z / sqrt(2.0))


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Zero of an increasing function, by bisection."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        if function(middle) < 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
