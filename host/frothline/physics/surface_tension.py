"""Surface tension of water, and of a liquid from the weight of its drops."""

from __future__ import annotations

from math import pi

import numpy as np

from frothline.errors import OutsideValidity
from frothline.units import STANDARD_GRAVITY

# Harkins and Brown 1919: share f of the ideal drop that falls, by r/V^(1/3), written from memory
_RATIO = tuple(0.30 + 0.05 * k for k in range(19))
_FACTOR = (
    *(0.7256, 0.7011, 0.6828, 0.6669, 0.6515, 0.6362, 0.6250, 0.6171, 0.6093, 0.6032),
    *(0.6000, 0.5992, 0.5998, 0.6034, 0.6098, 0.6179, 0.6280, 0.6407, 0.6535),
)
U_FACTOR = 0.005  # relative standard uncertainty of f: drops that are not formed slowly, interpolation; judgement


def water_surface_tension(temperature: float) -> float:
    """Surface tension of water: σ = 0.2358 N/m τ^1.256 (1 - 0.625 τ), τ = 1 - T/647.096 K.

    Parameters
    ----------
    temperature : K

    Returns
    -------
    N/m

    Validity: 273.15 to 373.15 K, else OutsideValidity.
    Source: [iapws-r1-76]
    """
    if not 273.0 <= temperature <= 373.3:
        raise OutsideValidity(f"water at {temperature:.1f} K", remedy="Give a temperature between 0 and 100 °C")
    tau = 1.0 - temperature / 647.096
    return float(0.2358 * tau**1.256 * (1.0 - 0.625 * tau))


def drop_factor(radius: float, volume: float) -> float:
    """Share of the ideal drop that falls: f(r/V^(1/3)), interpolated.

    Parameters
    ----------
    radius : m, of the tip where the liquid wets it
    volume : m³, of one drop

    Returns
    -------
    1

    Validity: r/V^(1/3) from 0.30 to 1.20, else OutsideValidity.
    Uncertainty: 0.5 %, judgement.
    Source: [harkins-brown]
    """
    ratio = radius / volume ** (1.0 / 3.0) if volume > 0.0 else float("nan")
    if not _RATIO[0] - 1e-9 <= ratio <= _RATIO[-1] + 1e-9:
        wider = "wider" if ratio < _RATIO[0] else "narrower"
        raise OutsideValidity(
            f"a tip of {2e3 * radius:.3g} mm for drops of {volume * 1e9:.3g} mm³: r/V^(1/3) is {ratio:.2f}, and the "
            "table has 0.30 to 1.20",
            remedy=f"Use a {wider} tip, and check the number of drops and their mass",
        )
    return float(np.interp(ratio, _RATIO, _FACTOR))


def drop_weight_tension(mass: float, radius: float, density: float) -> float:
    """Surface tension from the mass of a drop that falls slowly from a tip: γ = m g/(2 π r f).

    Parameters
    ----------
    mass : kg, of one drop
    radius : m, of the tip where the liquid wets it: outside for water on a clean tip
    density : kg/m³, of the liquid

    Returns
    -------
    N/m

    Validity: as for the factor.
    Bias: too high with drops that are formed fast; a surfactant needs a second or more to reach a fresh surface.
    Source: [harkins-brown]
    """
    return mass * STANDARD_GRAVITY / (2.0 * pi * radius * drop_factor(radius, mass / density))
