"""Smooth shapes with a free exponent: p = c0 - b q^a, and the same with a linear term.

Near no flow a polynomial bends too little for an exponent below two and too much for one above, so its shut-off
pressure is off by more than its interval. These shapes compete with the polynomials for the average. They are not
reported as the source's form: the curve is stored as a quartic, and each shape is replaced by the nearest quartic with
the same shut-off pressure.

The fit minimises the distance in both variables as ``fit_polynomial`` does: variable projection over a grid of
exponents for the start (G. H. Golub and V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432), then Gauss-Newton.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from frothline.curve.steady_points import PointArrays
from frothline.curve.uncertain_curve import ALL_POWERS
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import PolynomialFit

SHAPES: dict[str, bool] = {"power": False, "line and power": True}  # whether there is a linear term
LOWEST, HIGHEST = 1.1, 4.0  # range of exponents tried
STARTS = np.linspace(LOWEST, HIGHEST, 30)
LEAST_WITH_LINE = 1.25  # closer to one, the power cannot be distinguished from the linear term
FARTHEST = 2.5  # times the highest flow: limit up to which the polynomial follows the shape towards free delivery
ITERATIONS = 60


@dataclass(frozen=True)
class ExponentFit(PolynomialFit):
    """A shape with a free exponent as the nearest quartic.

    parameters : (m,) c0, (c1,) b, a in units of the largest pressure and flow
    into : (5, m) derivatives of the quartic's coefficients by the parameters
    own_design : (n, m) whitened derivatives of the points by the parameters
    slope : (n,) dp/dq at the adjusted flows
    misfit : (5, 5) covariance for the distance between the shape and its quartic
    """

    parameters: Floats
    into: Floats
    own_design: Floats
    slope: Floats
    misfit: Floats

    @property
    def degrees_of_freedom(self) -> int:
        return len(self.residual) - len(self.parameters)

    def shift(self, dx: ArrayLike, dy: ArrayLike) -> Floats:
        moved = np.sqrt(self.weight) * (np.asarray(dy) - self.slope * np.asarray(dx))
        change: Floats = self.into @ np.linalg.lstsq(self.own_design, moved, rcond=None)[0]
        return change


def fit_exponent(points: PointArrays, weight: Floats, *, linear: bool, tolerance: float = 1e-10) -> ExponentFit | None:
    """The shape fitted to the points, or None where they do not determine it.

    ``weight`` : (n,) 1 / variance of the pressure across a curve that roughly fits, for the start
    """
    sx, sy = float(np.max(np.abs(points.q))), float(np.max(np.abs(points.p)))
    a, b = points.q / sx, points.p / sy
    va, vb, cab = points.var_q / sx**2, points.var_p / sy**2, points.cov / (sx * sy)
    theta = _start(a, b, weight * sy**2, linear)
    if theta is None or len(a) <= len(theta):
        return None
    xi = a.copy()
    for _ in range(ITERATIONS):
        value, slope, jacobian = _shape(theta, xi)
        variance = vb + slope**2 * va - 2 * slope * cab
        w = _weights(variance, sy)
        off = b - slope * (a - xi) - value
        root = np.sqrt(w)
        step = np.linalg.lstsq(jacobian * root[:, None], off * root, rcond=1e-12)[0]
        new = theta + step
        new[-1] = np.clip(new[-1], max(LOWEST, theta[-1] - 0.3), min(HIGHEST, theta[-1] + 0.3))
        left = off - jacobian @ (new - theta)
        moved = a + w * (slope * va - cab) * left
        change = float(np.max(np.abs(moved - xi)) + np.max(np.abs(new - theta)))
        xi, theta = moved, new
        if change < tolerance:
            break
    value, slope, jacobian = _shape(theta, xi)
    variance = vb + slope**2 * va - 2 * slope * cab
    w = _weights(variance, sy)
    root = np.sqrt(w)
    residual = root * (b - slope * (a - xi) - value)
    design = jacobian * root[:, None]
    fixed = not LOWEST < theta[-1] < HIGHEST
    used = design[:, :-1] if fixed else design
    norms = np.sqrt(np.sum(used**2, axis=0))
    q, r = np.linalg.qr(used)
    if np.any(np.abs(np.diag(r)) < 1e-7 * norms):
        return None
    inverse_r = np.linalg.inv(r)
    m = used.shape[1]
    covariance = np.zeros((len(theta), len(theta)))
    covariance[:m, :m] = inverse_r @ inverse_r.T
    into_scaled, coefficients, misfit = _as_polynomial(theta)
    scale = sy / sx ** np.arange(len(ALL_POWERS))
    into = into_scaled * scale[:, None]
    return ExponentFit(
        powers=ALL_POWERS,
        coefficients=coefficients * scale,
        covariance=into @ covariance @ into.T,
        x_adjusted=xi * sx,
        residual=residual,
        chi_square=float(residual @ residual),
        hat=np.einsum("ij,ij->i", q, q),
        design=design,
        weight=w / sy**2,
        parameters=theta,
        into=into,
        own_design=design,
        slope=slope * sy / sx,
        misfit=misfit * np.outer(scale, scale),
    )


def _weights(variance: Floats, largest: float) -> Floats:
    if not np.any(variance > 0):
        return np.full_like(variance, largest**2)  # no uncertainty stated: all points have equal weight
    weight: Floats = 1 / np.maximum(variance, 1e-12 * float(np.max(variance)))
    return weight


def _start(x: Floats, y: Floats, weight: Floats, linear: bool) -> Floats | None:
    """The best of the tried exponents, each with the other parameters by least squares."""
    tried = STARTS[STARTS >= LEAST_WITH_LINE] if linear else STARTS
    power = -(np.maximum(x, 0.0)[None, :] ** tried[:, None])
    ones = np.ones_like(power)
    columns = [ones, np.broadcast_to(x, power.shape), power] if linear else [ones, power]
    root = np.sqrt(weight)
    matrix = np.stack(columns, axis=2) * root[:, None]
    found = np.linalg.pinv(matrix, rcond=1e-10) @ (y * root)
    left = np.sum((y * root - np.einsum("kij,kj->ki", matrix, found)) ** 2, axis=1)
    if not np.all(np.isfinite(left)):
        return None
    best = int(np.argmin(left))
    return np.append(found[best], tried[best])


def _shape(theta: Floats, x: Floats) -> tuple[Floats, Floats, Floats]:
    """Value, slope and derivatives by the parameters (n, m), in scaled units."""
    at = np.maximum(x, 1e-12)
    *rest, b, a = theta
    power = at**a
    value = rest[0] - b * power
    slope = -b * a * at ** (a - 1)
    columns = [np.ones_like(at)]
    if len(rest) == 2:
        value, slope = value + rest[1] * x, slope + rest[1]
        columns.append(x)
    return value, slope, np.stack([*columns, -power, -b * power * np.log(at)], axis=1)


def _as_polynomial(theta: Floats) -> tuple[Floats, Floats, Floats]:
    """The nearest polynomial, scaled: derivatives (k, m) by the parameters, coefficients (k,), misfit (k, k)."""
    *rest, b, a = theta
    onto, grid, even = _projection(_end(theta))
    power = np.concatenate([[0.0], onto @ grid**a])
    by_a = np.concatenate([[0.0], onto @ (grid**a * np.log(grid))])
    unit = np.eye(len(ALL_POWERS))
    columns = [unit[0], *([unit[1]] if len(rest) == 2 else []), -power, -b * by_a]
    into = np.stack(columns, axis=1)
    off = b * (grid**a - np.vander(grid, len(ALL_POWERS), increasing=True) @ power)
    return into, into[:, :-1] @ theta[:-1], 2 * float(np.mean(off**2)) * even


def _end(theta: Floats) -> float:
    """Flow up to which the polynomial follows the shape, in highest flows: to free delivery, in steps of a tenth."""
    x = np.arange(11, 10 * FARTHEST + 1) / 10
    return float(x[min(int(np.sum(_shape(theta, x)[0] > 0)), len(x) - 1)])


@lru_cache(maxsize=32)
def _projection(end: float) -> tuple[Floats, Floats, Floats]:
    """Matrix from values on a grid to c1, c2, ...; the grid; and a covariance with about unit variance
    over the grid.
    """
    grid = np.linspace(0.0, end, 131)[1:]
    matrix = np.vander(grid, len(ALL_POWERS), increasing=True)[:, 1:]
    even = np.zeros((len(ALL_POWERS),) * 2)
    even[1:, 1:] = len(grid) / matrix.shape[1] * np.linalg.inv(matrix.T @ matrix)
    onto = np.asarray(np.linalg.pinv(matrix), dtype=np.float64)
    return onto, grid, even
