"""Fit of a straight or quadratic calibration line with errors in reading and reference, and the choice of the order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import fit_polynomial
from frothline.numerics.information import aicc


@dataclass(frozen=True)
class Fit:
    """The polynomial y = c0 + c1 x + ... and its goodness of fit.

    coefficients : (m,)
    covariance : (m, m) from the stated uncertainties, not scaled by chi_square/dof
    chi_square : weighted sum of squares
    dof : n - m
    residuals : (n,) y - f(x), in the unit of y
    """

    coefficients: Floats
    covariance: Floats
    chi_square: float
    dof: int
    residuals: Floats

    @property
    def order(self) -> int:
        return self.coefficients.size - 1


def polynomial_both(x: ArrayLike, y: ArrayLike, u_x: ArrayLike, u_y: ArrayLike, order: int) -> Fit:
    """Maximum-likelihood fit with normal errors in both variables, see :mod:`frothline.numerics.errors_in_both`.

    ``x`` is centred for the fit, because counts are far from zero compared with their range. Raises TooFewPoints and
    NotIdentifiable where the points do not determine the polynomial.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    ux = np.broadcast_to(np.asarray(u_x, dtype=np.float64), x.shape)
    uy = np.broadcast_to(np.asarray(u_y, dtype=np.float64), y.shape)
    _enough(x, order)
    if np.any(ux < 0) or np.any(uy < 0) or np.any((ux == 0) & (uy == 0)):
        raise NotIdentifiable("a point has no uncertainty", remedy="Give one for each point")
    middle = float(x.mean())
    scale = float(np.max(np.abs(x - middle))) or 1.0
    fit = fit_polynomial((x - middle) / scale, y, (ux / scale) ** 2, uy**2, powers=tuple(range(order + 1)))
    if not np.all(np.isfinite(fit.coefficients)):
        raise NotIdentifiable("no line fits these points", remedy="Remove the outlier")
    change = _recentre(order, middle, scale)
    coefficients = change @ fit.coefficients
    residuals = y - np.polynomial.polynomial.polyval(x, coefficients)
    covariance = change @ fit.covariance @ change.T
    return Fit(coefficients, covariance, fit.chi_square, fit.degrees_of_freedom, residuals)


def _recentre(order: int, middle: float, scale: float) -> Floats:
    """Matrix from coefficients in (x - middle)/scale to coefficients in x."""
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
    """The chosen order.

    fit : of the chosen order
    rival : of the other order; None where there are too few points for it
    reason : why this order was chosen
    """

    fit: Fit
    rival: Fit | None
    reason: str


def choose_order(x: Sequence[float] | Floats, y: Sequence[float] | Floats, u_x: ArrayLike, u_y: ArrayLike) -> Chosen:
    """Choice between straight and quadratic by the corrected Akaike criterion, with errors in both variables.

    A quadratic is chosen if its criterion is better by at least 2 and it has no extremum within the range. Raises
    TooFewPoints for fewer than two points.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    straight = polynomial_both(x, y, u_x, u_y, 1)
    n = x.size
    if n < 5 or np.unique(x).size < 4:
        return Chosen(
            straight,
            None,
            f"straight: {n} points are too few to detect a curve (five points at four settings are needed)",
        )
    curved = polynomial_both(x, y, u_x, u_y, 2)

    def criterion(fit: Fit) -> float:
        return aicc(fit.chi_square, n, fit.order + 1, scale_known=True)

    gain = criterion(straight) - criterion(curved)
    lower = straight.chi_square - curved.chi_square
    turn = -curved.coefficients[1] / (2 * curved.coefficients[2]) if curved.coefficients[2] else math.inf
    if gain < 2:
        words = f"straight: one more constant lowers chi-square by {lower:.1f} only, {n} points (AICc gain {gain:.1f})"
        return Chosen(straight, curved, words)
    if x.min() < turn < x.max():
        words = f"straight: the quadratic would turn round at {turn:.4g}, which is not plausible for a sensor"
        return Chosen(straight, curved, words)
    words = f"quadratic: one more constant lowers chi-square by {lower:.1f} over {n} points (AICc gain {gain:.1f})"
    return Chosen(curved, straight, words)
