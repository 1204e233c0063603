"""Properties of water, and gravity, for the U-tube, the scale and the solution."""

from __future__ import annotations

from math import nan

import numpy as np

from frothline.physics.air import Real
from frothline.units import STANDARD_GRAVITY, ZERO_CELSIUS

SOLUTION_SURFACE_TENSION = 0.030  # N/m, typical detergent solution; common practice, no source. Water has 0.0728


def water_density(temperature: Real) -> Real:
    """Density of air-free water at atmospheric pressure.

    ρ = 999.97495 [1 - (t - 3.983035)² (t + 301.797) / (522528.9 (t + 69.34881))], t in °C

    Parameters
    ----------
    temperature : K

    Returns
    -------
    kg/m³

    Validity: 0 to 40 °C; NaN outside.
    Bias: tap water is up to 0.05 % denser.
    Uncertainty: 0.001 kg/m³ for pure water.
    Source: [tanaka] eq. 1
    """
    t = np.asarray(temperature, dtype=float) - ZERO_CELSIUS
    with np.errstate(all="ignore"):
        value = 999.97495 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))
        value = np.where((t >= 0.0) & (t <= 40.0), value, np.nan)
    return value if value.ndim else float(value)


def water_viscosity(temperature: Real) -> Real:
    """Dynamic viscosity of water at atmospheric pressure.

    μ = 1e-6 Σ a_i (T/300)^b_i, a = 280.68, 511.45, 61.131, 0.45903, b = -1.9, -7.7, -19.6, -40

    Parameters
    ----------
    temperature : K

    Returns
    -------
    Pa s

    Validity: -20 to 110 °C; NaN outside.
    Bias: a detergent solution is a few per cent more viscous.
    Uncertainty: relative standard 1 %.
    Source: [iapws-2008] simplified form at 0.1 MPa
    """
    if isinstance(temperature, float):  # an array of length one takes ten times as long
        if not 253.15 <= temperature <= 383.15:
            return nan
        one = temperature / 300.0
        return float(1e-6 * (280.68 * one**-1.9 + 511.45 * one**-7.7 + 61.131 * one**-19.6 + 0.45903 * one**-40.0))
    T = np.asarray(temperature, dtype=float)
    with np.errstate(all="ignore"):
        s = T / 300.0
        value = 1e-6 * (280.68 * s**-1.9 + 511.45 * s**-7.7 + 61.131 * s**-19.6 + 0.45903 * s**-40.0)
        value = np.where((T >= 253.15) & (T <= 383.15), value, np.nan)
    return value if value.ndim else float(value)


def local_gravity(latitude: float, altitude: float = 0.0) -> float:
    """Gravitational acceleration from latitude and altitude.

    g = 9.780327 (1 + 0.0053024 sin²φ - 0.0000058 sin²2φ) - 3.086e-6 h

    Parameters
    ----------
    latitude : rad
    altitude : m, above sea level

    Returns
    -------
    m/s²

    Validity: up to 5 km of altitude.
    Uncertainty: 0.0005 m/s², local geology.
    Source: [grs80]
    """
    s = np.sin(latitude) ** 2
    return float(9.780327 * (1.0 + 0.0053024 * s - 0.0000058 * np.sin(2.0 * latitude) ** 2) - 3.086e-6 * altitude)


def liquid_head(depth: Real, density: Real = 1000.0, gravity: float = STANDARD_GRAVITY) -> Real:
    """Pressure of a depth of liquid: p = ρ g h.

    Parameters
    ----------
    depth : m
    density : kg/m³
    gravity : m/s²

    Returns
    -------
    Pa

    Validity: liquid at rest.
    Source: [white] ch. 2
    """
    return density * gravity * depth
