"""Polynomial fits to points that are uncertain in both variables, with correlated errors.

The estimate minimises the sum of squared distances of the points from the curve, each measured in the metric of the
point's own covariance (functional relationship, generalised least squares). For a straight line this is the problem of
D. York, N. M. Evensen, M. L. Martinez and J. De Basabe Delgado, "Unified equations for the slope, intercept, and
standard errors of the best straight line", Am. J. Phys. 72 (2004) 367-375; the covariance follows their convention
(derivatives at the adjusted points, not scaled by the residual variance).

For given true abscissae the model is linear in its coefficients. Eliminating the abscissae leaves weighted normal
equations with the variance across the curve,

    w_i = 1 / (var_p + f'^2 var_q - 2 f' cov_pq),

which are iterated with the abscissae to the minimum. Where the curve bends much within a point's error that iteration
is slow or does not converge; then all abscissae and coefficients are found together by nonlinear least squares.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import prod

import numpy as np
import scipy
from numpy.typing import ArrayLike

from frothline.errors import NotIdentifiable
from frothline.numerics.arrays import Floats
from frothline.numerics.distributions import chi_square_quantile

STEPS = 25  # of the iteration; an ordinary fit needs 5 to 20
TRIALS = 100  # of the least squares; a shape that misses the points by far may not have settled by then
MANY = 60  # points above which their matrix is sparse: the time of a full one goes with the third power of their number
CORRELATED = 1 - 1e-10  # correlation of a point's two errors above which they are taken as this


@dataclass(frozen=True)
class PolynomialFit:
    """y = sum of coefficients[j] * x**powers[j].

    coefficients : (m,)
    covariance : (m, m), from the points' stated variances, not scaled
    x_adjusted : (n,) estimated true abscissae
    residual : (n,) distance across the curve in standard deviations
    chi_square : sum of the squared residuals; with no variances stated, in units of y squared
    hat : (n,) leverage of each point
    """

    powers: tuple[int, ...]
    coefficients: Floats
    covariance: Floats
    x_adjusted: Floats
    residual: Floats
    chi_square: float
    hat: Floats
    design: Floats  # (n, m) whitened
    weight: Floats  # (n,) 1 / variance across the curve

    @property
    def degrees_of_freedom(self) -> int:
        return len(self.residual) - len(self.powers)

    def shift(self, dx: ArrayLike, dy: ArrayLike) -> Floats:
        """First-order change of the coefficients, (m,), if all points moved by ``dx``, ``dy`` (n,)."""
        slope = polynomial(self.powers, self.coefficients, self.x_adjusted, 1)
        moved = np.sqrt(self.weight) * (np.asarray(dy) - slope * np.asarray(dx))
        change: Floats = np.linalg.lstsq(self.design, moved, rcond=None)[0]
        return change


def polynomial(powers: tuple[int, ...], coefficients: Floats, x: ArrayLike, derivative: int = 0) -> Floats:
    """The polynomial, or its first or second derivative, at ``x``."""
    return basis(powers, x, derivative) @ coefficients


def basis(powers: tuple[int, ...], x: ArrayLike, derivative: int = 0) -> Floats:
    """(n, m) powers of ``x``, or their derivatives."""
    at = np.atleast_1d(np.asarray(x, dtype=np.float64))
    exponents, factors = _differentiated(powers, derivative)
    every = np.ones((max(exponents) + 1, len(at)))
    for power in range(1, len(every)):
        np.multiply(every[power - 1], at, out=every[power])
    rows = every if exponents == tuple(range(len(every))) else every[list(exponents)]
    return (rows if factors is None else rows * factors).T


@cache
def _differentiated(powers: tuple[int, ...], times: int) -> tuple[tuple[int, ...], Floats | None]:
    """Exponents and factors, (m, 1), of the derivative of each power; a constant has factor 0. None if all are 1."""
    factors = [prod(power - k for k in range(times)) for power in powers]
    exponents = tuple(max(power - times, 0) for power in powers)
    return exponents, None if set(factors) == {1} else np.array(factors, dtype=np.float64)[:, None]


def fit_polynomial(
    x: ArrayLike,
    y: ArrayLike,
    var_x: ArrayLike,
    var_y: ArrayLike,
    cov: ArrayLike = 0.0,
    powers: tuple[int, ...] = (0, 1, 2),
    *,
    tolerance: float = 1e-13,
) -> PolynomialFit:
    """Fit by distance in both variables. ``x``, ``y``, their variances and covariance are (n,) or numbers.

    Raises NotIdentifiable when the points do not determine the coefficients.
    """
    x = np.asarray(x, dtype=np.float64)
    y = np.asarray(y, dtype=np.float64)
    vx, vy, cxy = (np.broadcast_to(np.asarray(item, dtype=np.float64), x.shape) for item in (var_x, var_y, cov))
    sx, sy = float(np.max(np.abs(x))) or 1.0, float(np.max(np.abs(y))) or 1.0
    # scaled to about one, because the powers of a flow in m3/s span many decades
    a, b, va, vb, cab = x / sx, y / sy, vx / sx**2, vy / sy**2, cxy / (sx * sy)
    xi = a.copy()
    theta = np.asarray(np.linalg.lstsq(basis(powers, xi), b, rcond=None)[0], dtype=np.float64)
    exact = not np.any(va > 0)
    unstated = sy**2  # the weight, in scaled units, of a point of unit variance
    for _ in range(1 if exact else STEPS):
        slope = polynomial(powers, theta, xi, 1)
        weight = _weights(slope, va, vb, cab, unstated)
        target = b - slope * (a - xi)
        matrix = basis(powers, xi)
        new = _solve_only(matrix, target, weight)
        # the adjusted abscissa moves along x by the error in x that the residual across the curve implies
        residual = target - matrix @ new
        moved = a + weight * (slope * va - cab) * residual
        largest = float(np.abs(new).max()) or 1.0  # all zero if all y are
        change = float(np.abs(moved - xi).max() + np.abs(new - theta).max() / largest)
        xi, theta = moved, new
        if change < tolerance:
            break
    else:
        if not exact:
            xi, theta = _by_least_squares(powers, (a, b), (va, vb, cab), theta, tolerance)
    slope = polynomial(powers, theta, xi, 1)
    weight = _weights(slope, va, vb, cab, unstated)
    theta, design, r = _solve(basis(powers, xi), b - slope * (a - xi), weight)
    inverse_r = np.linalg.inv(r)
    inverse = inverse_r @ inverse_r.T
    residual = np.sqrt(weight) * (b - slope * (a - xi) - polynomial(powers, theta, xi))
    hat = np.einsum("ij,jk,ik->i", design, inverse, design)
    scale = np.array([sy / sx**power for power in powers])
    return PolynomialFit(
        powers=powers,
        coefficients=theta * scale,
        covariance=inverse * np.outer(scale, scale),
        x_adjusted=xi * sx,
        residual=residual,
        chi_square=float(residual @ residual),
        hat=hat,
        design=design / scale,
        weight=weight / sy**2,
    )


def _by_least_squares(
    powers: tuple[int, ...],
    point: tuple[Floats, Floats],
    variances: tuple[Floats, Floats, Floats],
    theta: Floats,
    tolerance: float,
) -> tuple[Floats, Floats]:
    """True abscissae (n,) and coefficients (m,) at the least sum of squared distances, from the points themselves on.

    The distances of a point along x and across it are whitened by its covariance; a point without error in x keeps its
    abscissa.
    """
    (a, b), (va, vb, cab) = point, variances
    free = va > 0
    along = np.sqrt(np.where(free, va, 1.0))
    limit = CORRELATED * along * np.sqrt(vb)
    leans = np.where(free, np.clip(cab, -limit, limit), 0.0) / along
    across = np.sqrt(np.maximum(vb - leans**2, 1e-12 * float((vb + va).max())))
    count = int(free.sum())

    def parts(z: Floats) -> tuple[Floats, Floats]:
        xi = a.copy()
        xi[free] = z[:count]
        return xi, z[count:]

    def distances(z: Floats) -> Floats:
        xi, now = parts(z)
        shift = (a - xi) / along
        return np.concatenate([shift[free], (b - polynomial(powers, now, xi) - leans * shift) / across])

    places = np.arange(count)
    rows = np.concatenate([places, count + np.flatnonzero(free)])

    def slopes(z: Floats) -> scipy.sparse.csr_array:
        xi, now = parts(z)
        own = (leans / along - polynomial(powers, now, xi, 1)) / across
        entries = np.concatenate([-1 / along[free], own[free]])
        of_abscissae = scipy.sparse.csr_array((entries, (rows, np.tile(places, 2))), shape=(count + len(a), count))
        of_curve = np.vstack([np.zeros((count, len(powers))), -basis(powers, xi) / across[:, None]])
        return scipy.sparse.hstack([of_abscissae, scipy.sparse.csr_array(of_curve)], format="csr")

    begin = np.concatenate([a[free], theta])
    accuracy = max(tolerance, 1e-14)
    limits = {"xtol": accuracy, "ftol": accuracy, "gtol": accuracy, "max_nfev": TRIALS, "x_scale": "jac"}
    if count > MANY:
        found = scipy.optimize.least_squares(distances, begin, slopes, tr_solver="lsmr", **limits)
    else:
        found = scipy.optimize.least_squares(distances, begin, lambda z: slopes(z).toarray(), method="lm", **limits)
    return parts(found.x)


def scale_of(chi_square: float, freedom: int) -> float:
    """Residual variance, in units of the stated variances.

    The stated variances are used only where the points agree significantly better than stated (chi-square below its 1 %
    point): then they, not the scatter, determine the uncertainty.
    """
    if freedom <= 0:
        return 1.0
    if chi_square < chi_square_quantile(0.01, freedom):
        return 1.0
    return chi_square / freedom


def _weights(slope: Floats, va: Floats, vb: Floats, cab: Floats, unstated: float) -> Floats:
    variance = vb + slope**2 * va - 2 * slope * cab
    largest = float(variance.max())
    if not largest > 0:
        return np.full_like(variance, unstated)  # no uncertainty stated: all points have equal weight
    weight: Floats = 1 / np.maximum(variance, 1e-12 * largest)
    return weight


def _solve(matrix: Floats, target: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Weighted least squares by QR: coefficients, whitened design, its triangular factor."""
    root = np.sqrt(weight)[:, None]
    design = matrix * root
    q, r = np.linalg.qr(design)
    _check_rank(design, np.diag(r))
    return np.linalg.solve(r, q.T @ (target * root[:, 0])), design, r


def _solve_only(matrix: Floats, target: Floats, weight: Floats) -> Floats:
    """The coefficients of ``_solve``, by one call of LAPACK."""
    root = np.sqrt(weight)
    design = matrix * root[:, None]
    factors, found, _ = scipy.linalg.lapack.dgels(design, target * root)
    _check_rank(design, factors.diagonal())
    coefficients: Floats = found[: matrix.shape[1]]
    return coefficients


def _check_rank(design: Floats, diagonal: Floats) -> None:
    """Raise NotIdentifiable where a diagonal element of the triangular factor vanishes beside its column."""
    norms = np.sqrt((design**2).sum(axis=0))
    if len(design) < design.shape[1] or (np.abs(diagonal) < 1e-9 * norms).any():
        raise NotIdentifiable(
            "the points cannot tell the coefficients of the curve apart",
            remedy="spread the points over more different flows",
        )
