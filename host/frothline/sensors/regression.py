"""Lines and parabolas through points, with or without errors in both variables, and which of the two to trust.

Two conventions for the standard errors of a line with errors in both variables are in use and differ by a few per cent:
*expected-point* evaluates the weights at the adjusted points (York et al., American Journal of Physics 72, 2004),
*observed-point* carries the points' uncertainties through the fit at the points as read (Kalantar 1992). This package
reports expected-point. Neither is scaled by the misfit unless ``scaled`` is asked
for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.numerics.arrays import Floats


@dataclass(frozen=True)
class Fit:
    """y = c0 + c1 x + ... : ``coefficients`` (m,), their ``covariance`` (m, m), and how well it fits.

    ``chi_square`` is the weighted sum of squares (plain, where no uncertainty was given), ``dof`` n - m,
    ``residuals`` (n,) y - f(x) as read. ``scaled`` says that the covariance was multiplied by chi_square/dof.
    """

    coefficients: Floats
    covariance: Floats
    chi_square: float
    dof: int
    residuals: Floats
    scaled: bool

    @property
    def order(self) -> int:
        return self.coefficients.size - 1

    def predict(self, x: ArrayLike) -> tuple[Floats, Floats]:
        """Value and standard uncertainty of the line at x, covariance included."""
        powers = np.stack([np.asarray(x, dtype=np.float64) ** k for k in range(self.order + 1)], axis=-1)
        variance = np.einsum("...i,ij,...j->...", powers, self.covariance, powers)
        return np.asarray(powers @ self.coefficients), np.sqrt(np.maximum(variance, 0.0))


def polynomial(x: ArrayLike, y: ArrayLike, order: int, u_y: ArrayLike | None = None) -> Fit:
    """Least squares with errors in y alone.

    Without ``u_y`` the scatter itself gives the covariance (scaled), else the stated uncertainties do. TooFewPoints for
    fewer points than constants, NotIdentifiable for too few different x. Solved by QR on x over its largest
    magnitude: normal equations in raw x would lose half the digits.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    _enough(x, order)
    weight = np.ones_like(y) if u_y is None else 1 / np.broadcast_to(np.asarray(u_y, dtype=np.float64), y.shape)
    scale = float(np.max(np.abs(x))) or 1.0
    design = np.stack([(x / scale) ** k for k in range(order + 1)], axis=-1)
    back = scale ** -np.arange(order + 1, dtype=np.float64)
    q, r = np.linalg.qr(design * weight[:, None])
    solution = np.linalg.solve(r, q.T @ (y * weight))
    # One round of refinement on the residuals wins back the last digits.
    solution = solution + np.linalg.solve(r, q.T @ ((y - design @ solution) * weight))
    inverse = np.linalg.inv(r)
    residuals = y - design @ solution
    chi_square = float(np.sum((residuals * weight) ** 2))
    dof = x.size - order - 1
    covariance = inverse @ inverse.T * np.outer(back, back)
    scaled = u_y is None
    if scaled:
        covariance = covariance * (chi_square / dof if dof > 0 else np.nan)
    return Fit(solution * back, covariance, chi_square, dof, residuals, scaled)


def polynomial_both(
    x: ArrayLike,
    y: ArrayLike,
    u_x: ArrayLike,
    u_y: ArrayLike,
    order: int,
    *,
    correlation: ArrayLike = 0.0,
    scaled: bool = False,
) -> Fit:
    """Maximum likelihood with normal errors in both variables, correlated point by point if need be.

    Each point is moved to (X, f(X)) so that the weighted distance to (x, y) is least; the constraint is linearised at
    the moved points until nothing moves (Britt and Luecke, Technometrics 15, 1973). For order 1 this is York's line,
    and the covariance is that of the expected-point convention. NotIdentifiable where it does not settle.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    ux = np.broadcast_to(np.asarray(u_x, dtype=np.float64), x.shape)
    uy = np.broadcast_to(np.asarray(u_y, dtype=np.float64), y.shape)
    _enough(x, order)
    if np.any(ux < 0) or np.any(uy < 0) or np.any((ux == 0) & (uy == 0)):
        raise NotIdentifiable("a point without any uncertainty would outweigh all others", remedy="State one for each")
    both = np.broadcast_to(np.asarray(correlation, dtype=np.float64), x.shape) * ux * uy
    middle = float(x.mean())
    scale = float(np.max(np.abs(x - middle))) or 1.0
    t, ut, tie = (x - middle) / scale, ux / scale, both / scale
    powers = np.arange(order + 1)
    moved = t.copy()
    c = np.linalg.lstsq(t[:, None] ** powers, y, rcond=None)[0]
    for _ in range(500):
        slope = np.polynomial.polynomial.polyval(moved, np.polynomial.polynomial.polyder(c)) if order else 0 * t
        variance = np.maximum(uy**2 - 2 * slope * tie + slope**2 * ut**2, np.finfo(float).tiny)
        root = 1 / np.sqrt(variance)
        design = moved[:, None] ** powers
        target = y - slope * (t - moved)
        q, r = np.linalg.qr(design * root[:, None])
        after = np.linalg.solve(r, q.T @ (target * root))
        left = target - design @ after
        shift = t + (slope * ut**2 - tie) / variance * left
        settled = np.max(np.abs(after - c)) <= 1e-15 * np.max(np.abs(after)) and np.max(np.abs(shift - moved)) <= 1e-15
        c, moved = after, shift
        if settled:
            break
    else:
        if np.max(np.abs(left)) > 1e3 * np.max(np.sqrt(variance)) or not np.all(np.isfinite(c)):
            raise NotIdentifiable(
                "the line through these points does not settle", remedy="Look for a point that is off"
            )
    inverse = np.linalg.inv(r)
    chi_square = float(np.sum(left**2 / variance))
    dof = x.size - order - 1
    covariance = inverse @ inverse.T
    if scaled:
        covariance = covariance * (chi_square / dof if dof > 0 else np.nan)
    change = _recentre(order, middle, scale)
    coefficients = change @ c
    fitted = np.polynomial.polynomial.polyval(x, coefficients)
    return Fit(coefficients, change @ covariance @ change.T, chi_square, dof, y - fitted, scaled)


def _recentre(order: int, middle: float, scale: float) -> Floats:
    """Matrix from coefficients in (x - middle)/scale to those in x."""
    change = np.zeros((order + 1, order + 1))
    for k in range(order + 1):
        for j in range(k + 1):
            change[j, k] = math.comb(k, j) * (-middle) ** (k - j) / scale**k
    return change


def _enough(x: Floats, order: int) -> None:
    if x.size < order + 1:
        raise TooFewPoints(
            f"{x.size} points for {order + 1} constants", remedy=f"Take at least {order + 2}, spread over the range"
        )
    if np.unique(x).size < order + 1:
        raise NotIdentifiable(
            f"only {np.unique(x).size} different settings for {order + 1} constants",
            remedy="Take points at more settings",
        )


@dataclass(frozen=True)
class Chosen:
    """The order that was chosen, why, and the fit that was not (None where there were too few points for it)."""

    fit: Fit
    rival: Fit | None
    reason: str


def choose_order(x: Sequence[float] | Floats, y: Sequence[float] | Floats, u_x: ArrayLike, u_y: ArrayLike) -> Chosen:
    """Straight or quadratic, with errors in both variables, by the corrected Akaike criterion.

    AICc = chi2 + 2k + 2k(k+1)/(n-k-1) for known uncertainties (Burnham and Anderson, 2002, from memory). A quadratic
    must be better by at least 2, and must not turn round within the range. TooFewPoints for fewer than two points.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    straight = polynomial_both(x, y, u_x, u_y, 1)
    n = x.size
    if n < 5 or np.unique(x).size < 4:
        return Chosen(straight, None, f"straight: {n} points are too few to tell a curve (five at four settings do)")
    curved = polynomial_both(x, y, u_x, u_y, 2)

    def criterion(fit: Fit) -> float:
        k = fit.order + 1
        return fit.chi_square + 2 * k + 2 * k * (k + 1) / (n - k - 1) if n - k - 1 > 0 else math.inf

    gain = criterion(straight) - criterion(curved)
    lower = straight.chi_square - curved.chi_square
    turn = -curved.coefficients[1] / (2 * curved.coefficients[2]) if curved.coefficients[2] else math.inf
    if gain < 2:
        words = f"straight: one constant more lowers chi-square by {lower:.1f} only, {n} points (AICc gain {gain:.1f})"
        return Chosen(straight, curved, words)
    if x.min() < turn < x.max():
        words = f"straight: the quadratic would turn round at {turn:.4g}, which no sensor does"
        return Chosen(straight, curved, words)
    words = f"quadratic: one constant more lowers chi-square by {lower:.1f} over {n} points (AICc gain {gain:.1f})"
    return Chosen(curved, straight, words)
