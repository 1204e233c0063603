"""A square-edged orifice plate in the spool: its differential pressure at a mass flow, and its permanent loss.

ISO 5167-2:2003 with corner taps, independent of ``frothline.physics``: discharge coefficient of Reader-Harris and
Gallagher (5.3.2.1), expansibility (5.3.2.2), permanent loss (5.4).
"""

from __future__ import annotations

from math import pi, sqrt

from frothline.simulation.gas import GAMMA

PIPE = 0.063  # m
HOLE = 0.0441  # m
BETA = HOLE / PIPE
VISCOSITY = 1.86e-5  # Pa s, air at about 35 degrees
_SMALL_PIPE = 0.011 * (0.75 - BETA) * (2.8 - PIPE / 0.0254)  # below 71.12 mm


def discharge_coefficient(reynolds: float) -> float:
    """Discharge coefficient of Reader-Harris and Gallagher for corner taps, at the pipe's Reynolds number."""
    million = 1e6 / max(reynolds, 500.0)
    a = (0.019 * BETA * million) ** 0.8
    return float(
        0.5961
        + 0.0261 * BETA**2
        - 0.216 * BETA**8
        + 0.000521 * (BETA * million) ** 0.7
        + (0.0188 + 0.0063 * a) * BETA**3.5 * million**0.3
        + _SMALL_PIPE
    )


def difference(mass_flow: float, pressure: float, density: float) -> float:
    """Differential pressure, Pa, at ``mass_flow`` kg/s, upstream absolute ``pressure`` Pa and ``density``."""
    flow = abs(mass_flow)
    if flow < 1e-6:
        return 0.0
    coefficient = discharge_coefficient(4.0 * flow / (pi * VISCOSITY * PIPE))
    without = flow * sqrt(1.0 - BETA**4) / (coefficient * pi / 4.0 * HOLE**2)
    across = without * without / (2.0 * density)
    for _ in range(2):  # expansibility changes it by at most one percent
        ratio = max((pressure - across) / pressure, 0.75)
        epsilon = 1.0 - (0.351 + 0.256 * BETA**4 + 0.93 * BETA**8) * (1.0 - ratio ** (1.0 / GAMMA))
        across = (without / epsilon) ** 2 / (2.0 * density)
    return across if mass_flow > 0.0 else -across


def _velocity_heads() -> float:
    c = discharge_coefficient(1e5)
    root = sqrt(1.0 - BETA**4 * (1.0 - c * c))
    lost = (root - c * BETA**2) / (root + c * BETA**2)
    return lost * (1.0 - BETA**4) / (c * c * BETA**4)


LOSS = _velocity_heads()  # permanent loss in velocity heads of the bore
