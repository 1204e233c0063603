"""King's law of a thermal anemometer with overheat compensation, and its fit to calibration points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.numerics.arrays import Floats
from frothline.sensors.calibration_fit import Fit
from frothline.units import ZERO_CELSIUS

WIRE = 200.0 + ZERO_CELSIUS  # K, of common probes: common practice, no source
REFERENCE = 20.0 + ZERO_CELSIUS  # K
EXPONENT, U_EXPONENT = 0.45, 0.05  # range of published exponents; a few points do not determine it


@dataclass(frozen=True)
class KingLaw:
    """E2 = A + B v^n at the air temperature ``reference`` (K), for a probe at ``wire`` (K).

    ``v`` (m/s) is the speed of air at ``density`` (kg/m3) with the same mass flow past the probe. E2 is proportional to
    the overheat, so a reading in air of another temperature is first converted to the reference,
    E2 (wire - reference)/(wire - air).

    Source: King (1914); the compensation is the common first-order one (Bruun, Hot-Wire Anemometry, 1995, from memory).
    """

    a: float
    b: float
    n: float
    wire: float
    reference: float
    density: float = 1.2

    def square(self, volts: Floats, temperature: Floats) -> Floats:
        """V2 (n,), converted to the reference temperature."""
        return np.asarray(volts**2 * (self.wire - self.reference) / (self.wire - temperature), dtype=np.float64)

    def speed(self, volts: Floats, temperature: Floats) -> Floats:
        """m/s (n,); 0 where the reading is below that of still air."""
        rise = np.maximum(self.square(volts, temperature) - self.a, 0.0)
        return np.asarray((rise / self.b) ** (1 / self.n), dtype=np.float64)

    def gradient(self, volts: Floats, temperature: Floats) -> tuple[Floats, Floats, Floats]:
        """Derivatives of the speed by V, by K and by (A, B, n) as (..., 3); 0 where the speed is 0."""
        square, speed = self.square(volts, temperature), self.speed(volts, temperature)
        with np.errstate(divide="ignore", invalid="ignore"):
            rise = np.where(speed > 0, square - self.a, np.inf)
            per_square = speed / (self.n * rise)
            logarithm = np.where(speed > 0, np.log(np.where(speed > 0, speed, 1.0)), 0.0)
        by_law = np.stack([-per_square, -speed / (self.n * self.b), -speed * logarithm / self.n], axis=-1)
        return per_square * 2 * square / volts, per_square * square / (self.wire - temperature), by_law


def fit_king(
    volts: ArrayLike,
    u_volts: ArrayLike,
    temperature: ArrayLike,
    speed: ArrayLike,
    u_speed: ArrayLike,
    *,
    wire: float = WIRE,
    reference: float = REFERENCE,
) -> Fit:
    """Fit of A, B and n to points (n,) with errors in voltage and speed; ``speed`` is of air at the law's density.

    A prior of 0.45 with standard deviation 0.05 on the exponent stabilises fits of few points; many points override it.
    Raises TooFewPoints below three points, NotIdentifiable where the voltage does not rise with speed.
    """
    e, ue, t, v, uv = (
        np.asarray(a, dtype=np.float64) for a in np.broadcast_arrays(volts, u_volts, temperature, speed, u_speed)
    )
    if v.size < 3:
        raise TooFewPoints(
            f"{v.size} points for King's law", remedy="Take three or more points, one of them in still air"
        )
    rise = (wire - reference) / (wire - t)
    square = e**2 * rise
    a0, b0 = np.linalg.lstsq(np.stack([np.ones_like(v), np.maximum(v, 0) ** EXPONENT], axis=-1), square, rcond=None)[0]
    if b0 <= 0:
        raise NotIdentifiable("the voltage does not rise with speed", remedy="Check that the probe is connected")

    def misfit(law: Floats) -> Floats:
        a, b, n = law
        speeds = np.maximum(v, 1e-6)
        width = np.hypot(2 * e * ue * rise, b * n * speeds ** (n - 1) * np.where(v > 0, uv, 0.0))
        return np.append((square - a - b * speeds**n) / np.maximum(width, 1e-12), (n - EXPONENT) / U_EXPONENT)

    found = scipy.optimize.least_squares(
        misfit, [a0, b0, EXPONENT], x_scale=[abs(a0) or 1.0, b0, 0.1], xtol=1e-14, ftol=1e-14
    )
    a, b, n = found.x
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    return Fit(np.array([a, b, n]), covariance, 2 * float(found.cost), v.size + 1 - 3, square - a - b * v**n)
