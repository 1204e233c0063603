"""A straight line with errors in both variables, in the two conventions of its standard errors.

*Expected-point* evaluates the weights at the adjusted points (York et al., American Journal of Physics 72, 2004);
*observed-point* carries the points' uncertainties through the fit at the points as read (Kalantar 1992). They differ by a
few per cent. A reference for tests: the package itself reports expected-point.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class YorkLine:
    """Intercept and slope with both conventions of their covariance, (2, 2) each, unscaled."""

    intercept: float
    slope: float
    chi_square: float
    dof: int
    expected_point: Floats
    observed_point: Floats

    def scaled(self, covariance: Floats) -> Floats:
        """A covariance multiplied by chi_square/dof: the points' own scatter sets the size."""
        return covariance * (self.chi_square / self.dof)


def york_line(x: ArrayLike, y: ArrayLike, u_x: ArrayLike, u_y: ArrayLike, correlation: ArrayLike = 0.0) -> YorkLine:
    """Best straight line with errors in both variables by the unified equations (York et al. 2004, eqs. 13)."""
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    wx = 1 / np.broadcast_to(np.asarray(u_x, dtype=np.float64), x.shape) ** 2
    wy = 1 / np.broadcast_to(np.asarray(u_y, dtype=np.float64), y.shape) ** 2
    r = np.broadcast_to(np.asarray(correlation, dtype=np.float64), x.shape)
    alpha = np.sqrt(wx * wy)
    b = float(np.polynomial.polynomial.polyfit(x, y, 1)[1])
    for _ in range(200):
        w = wx * wy / (wx + b**2 * wy - 2 * b * r * alpha)
        mean_x, mean_y = np.sum(w * x) / np.sum(w), np.sum(w * y) / np.sum(w)
        u, v = x - mean_x, y - mean_y
        beta = w * (u / wy + b * v / wx - (b * u + v) * r / alpha)
        after = float(np.sum(w * beta * v) / np.sum(w * beta * u))
        settled = abs(after - b) <= 1e-15 * abs(after)
        b = after
        if settled:
            break
    a = float(mean_y - b * mean_x)

    chi_square = float(np.sum(w * (y - b * x - a) ** 2))
    adjusted = mean_x + beta
    centre = np.sum(w * adjusted) / np.sum(w)
    variance = 1 / np.sum(w * (adjusted - centre) ** 2)
    expected = np.array([[1 / np.sum(w) + centre**2 * variance, -centre * variance], [-centre * variance, variance]])
    observed = _propagated_points(x, y, 1 / np.sqrt(wx), 1 / np.sqrt(wy), r, a, b)
    return YorkLine(a, b, chi_square, x.size - 2, expected, observed)


def _propagated_points(x: Floats, y: Floats, ux: Floats, uy: Floats, r: Floats, a: float, b: float) -> Floats:
    """Covariance of intercept and slope as the points' own uncertainties carried through the fit at the points as read.

    The gradient of sum w (y - a - b x)^2/2 vanishes at the line; how its root moves with each x and y follows from the
    implicit function theorem.
    """
    tie = r * ux * uy
    w = 1 / (uy**2 + b**2 * ux**2 - 2 * b * tie)
    inner = 2 * b * ux**2 - 2 * tie
    w1 = -(w**2) * inner
    w2 = 2 * w**3 * inner**2 - 2 * w**2 * ux**2
    left = y - a - b * x
    mixed = np.sum(w * x - w1 * left)
    bent = np.sum(w * x**2 - 2 * w1 * left * x + w2 * left**2 / 2)
    inverse = np.linalg.inv(np.array([[np.sum(w), mixed], [mixed, bent]]))
    by_y = inverse @ np.stack([w, w * x - w1 * left])
    by_x = inverse @ np.stack([-b * w, -b * w * x + w * left + b * w1 * left])
    crossed = (by_x * tie) @ by_y.T
    return np.asarray((by_y * uy**2) @ by_y.T + (by_x * ux**2) @ by_x.T + crossed + crossed.T)
