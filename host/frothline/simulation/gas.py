"""Air of the simulated line: ideal moist air, compressible flow through a hole, humid ambient.

It is independent of ``frothline.physics`` on purpose: the host's results are checked against this model, so the two
must not share a formula.

Ideal-gas moist air with the vapour by mole fraction (CIPM-2007 gives densities within 4e-4 of it near room conditions).
Saturation pressure by the Magnus form of the WMO guide to instruments (No. 8, 2018, annex 4.B): 611.2 exp(17.62 t /
(243.12 + t)) Pa.
"""

from __future__ import annotations

from math import exp, sqrt

GAMMA = 1.4
DRY_AIR = 287.05  # J/(kg K)
HEAT_CAPACITY = 1006.0  # J/(kg K), constant pressure
ZERO_CELSIUS = 273.15
STANDARD_DENSITY = 1.2  # kg/m3, the reference density of blower figures
GRAVITY = 9.80665
_CRITICAL = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))


def saturation_pressure(temperature: float) -> float:
    """Vapour pressure over water, Pa, at ``temperature`` K."""
    t = temperature - ZERO_CELSIUS
    return 611.2 * exp(17.62 * t / (243.12 + t))


def gas_constant(pressure: float, temperature: float, humidity: float) -> float:
    """Gas constant of moist air, J/(kg K), at absolute ``pressure`` Pa, K and relative ``humidity`` 0..1."""
    vapour = humidity * saturation_pressure(temperature) / pressure
    return DRY_AIR / (1.0 - 0.378 * vapour)


def hole_flow(area: float, gauge: float, ambient: float, temperature: float, gas: float) -> float:
    """Compressible mass flow, kg/s, through an effective ``area`` m2 (discharge coefficient included).

    Isentropic to the throat (Saint-Venant and Wantzel), choked below the critical ratio; from ``ambient + gauge`` Pa to
    ``ambient`` Pa. Linear below 1 Pa, so that a solver can step through zero; negative gauge gives backflow.
    """
    if gauge < 1.0:
        return area * sqrt(2.0 * ambient / (gas * temperature)) * gauge
    upstream = ambient + gauge
    ratio = max(ambient / upstream, _CRITICAL)
    # r^(2/g) - r^((g+1)/g) = x^2 (1 - x^(g-1)) with x = r^(1/g)
    x = ratio ** (1.0 / GAMMA)
    head = x * x * (1.0 - ratio / x)
    return area * upstream * sqrt(2.0 * GAMMA / (GAMMA - 1.0) / (gas * temperature) * head)
