"""Preformed foam: relations between density, expansion, gas fraction, pressure and time.

Terms: the *expansion ratio* is foam volume over the volume of the solution in it; the *gas fraction* (quality) is gas
volume over foam volume; the *liquid fraction* is the rest. Air flows are at the ambient state unless named otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from frothline.errors import InputError, OutsideValidity
from frothline.physics.air import Real
from frothline.units import STANDARD_GRAVITY

SOLUTION_DENSITY = 998.2  # kg/m³, water at 20 °C; a few per cent of agent change it by less than 0.2 %
GAS_DENSITY = 1.204  # kg/m³, dry air at 20 °C and 101.325 kPa

Law = Literal["node", "channel"]

# permeability constants of the foam-drainage models and edge length of a Kelvin cell, relative to the bubble's diameter
_CHANNEL_PERMEABILITY = 6.3e-3
_NODE_PERMEABILITY = 2.3e-3
_EDGES_PER_DIAMETER = (6.0 * 8.0 * np.sqrt(2.0) / np.pi) ** (1.0 / 3.0)  # D = 2.785 L


def liquid_fraction(
    foam_density: Real, solution_density: float = SOLUTION_DENSITY, gas_density: float = GAS_DENSITY
) -> Real:
    """Liquid volume over foam volume: φ = (ρ_f - ρ_g)/(ρ_l - ρ_g).

    Parameters
    ----------
    foam_density : kg/m³
    solution_density : kg/m³
    gas_density : kg/m³, at the foam's pressure

    Returns
    -------
    1; the gas fraction is 1 - φ

    Validity: ρ_g < ρ_f <= ρ_l, else OutsideValidity.
    Source: [volume-additivity], [imo-foam]
    """
    value = (np.asarray(foam_density, dtype=float) - gas_density) / (solution_density - gas_density)
    if np.any(value <= 0.0) or np.any(value > 1.0):
        raise OutsideValidity(
            f"a foam density of {np.max(foam_density):g} kg/m³ between air at {gas_density:g} and solution at "
            f"{solution_density:g}",
            remedy="Check the net mass and the volume of the container",
        )
    return value if value.ndim else float(value)


def expansion_ratio(
    foam_density: Real, solution_density: float = SOLUTION_DENSITY, gas_density: float = GAS_DENSITY
) -> Real:
    """Foam volume over solution volume: E = (ρ_l - ρ_g)/(ρ_f - ρ_g).

    Parameters
    ----------
    foam_density : kg/m³
    solution_density : kg/m³
    gas_density : kg/m³, at the foam's pressure

    Returns
    -------
    1

    Validity: ρ_g < ρ_f <= ρ_l, else OutsideValidity.
    Bias: the everyday form ρ_l/ρ_f is 2.3 % lower at 50 kg/m³ and 1.1 % at 100.
    Source: [volume-additivity], [imo-foam]
    """
    return 1.0 / liquid_fraction(foam_density, solution_density, gas_density)


def foam_density(expansion: Real, solution_density: float = SOLUTION_DENSITY, gas_density: float = GAS_DENSITY) -> Real:
    """Density of a foam from its expansion ratio: ρ_f = ρ_g + (ρ_l - ρ_g)/E.

    Parameters
    ----------
    expansion : 1, E
    solution_density : kg/m³
    gas_density : kg/m³, at the foam's pressure

    Returns
    -------
    kg/m³

    Validity: E >= 1, else OutsideValidity.
    Source: [volume-additivity]
    """
    E = np.asarray(expansion, dtype=float)
    if np.any(E < 1.0):
        raise OutsideValidity(f"an expansion ratio of {np.min(E):g}", remedy="Give a ratio of 1 or more")
    value = gas_density + (solution_density - gas_density) / E
    return value if value.ndim else float(value)


def expansion_at_pressure(expansion: Real, from_pressure: Real, to_pressure: Real) -> Real:
    """Expansion ratio of the same foam at another pressure, isothermal: E2 = 1 + (E1 - 1) p1/p2.

    Parameters
    ----------
    expansion : 1, E1, at the first pressure
    from_pressure : Pa, absolute, p1
    to_pressure : Pa, absolute, p2

    Returns
    -------
    1

    Validity: pressures above zero; below some 100 kPa of gauge pressure, where dissolved air does not count.
    Uncertainty: relative 1 % for the vapour in the bubbles and their capillary pressure of some hundred pascal.
    Source: [volume-additivity], [foam-drilling] eq. 10.3
    """
    return 1.0 + (np.asarray(expansion) - 1.0) * from_pressure / to_pressure


@dataclass(frozen=True)
class FoamOutput:
    """Foam output: flow m³/s at ambient pressure, expansion ratio, gas fraction, density kg/m³."""

    foam_flow: Real
    expansion: Real
    gas_fraction: Real
    density: Real


def foam_output(
    solution_flow: Real,
    free_air_flow: Real,
    capture: Real = 1.0,
    solution_density: float = SOLUTION_DENSITY,
    gas_density: float = GAS_DENSITY,
) -> FoamOutput:
    """Foam from a solution flow and the captured part of an air flow.

    Q_f = Q_l + η Q_a;  E = 1 + η Q_a/Q_l;  ρ_f = (ρ_l Q_l + ρ_g η Q_a)/Q_f

    Parameters
    ----------
    solution_flow : m³/s
    free_air_flow : m³/s, at the ambient state
    capture : 1, η, share of the air that ends in bubbles
    solution_density : kg/m³
    gas_density : kg/m³, ambient

    Returns
    -------
    FoamOutput; all NaN without a solution flow, because there is no foam

    Validity: flows not negative, 0 <= η <= 1, else OutsideValidity.
    Uncertainty: that of η, which only a weighed sample of this build determines.
    Source: [volume-additivity]
    """
    Ql, Qa, eta = (np.asarray(x, dtype=float) for x in (solution_flow, free_air_flow, capture))
    if np.any(Ql < 0) or np.any(Qa < 0) or np.any(eta < 0) or np.any(eta > 1):
        raise OutsideValidity(
            "a flow below zero, or a captured share outside 0 to 1", remedy="Check the flows' signs and the share"
        )
    with np.errstate(all="ignore"):
        bubbles = eta * Qa
        Qf = np.where(Ql > 0.0, Ql + bubbles, np.nan)
        parts = (Qf, Qf / Ql, bubbles / Qf, (solution_density * Ql + gas_density * bubbles) / Qf)
    if Qf.ndim:
        return FoamOutput(*parts)
    return FoamOutput(*(float(part) for part in parts))


def air_to_solution(foam_density_there: float, solution_density: float, gas_density: float) -> float:
    """Captured air over solution by volume, for a target foam density: Q_g/Q_l = (ρ_l - ρ_f)/(ρ_f - ρ_g) = E - 1.

    Parameters
    ----------
    foam_density_there : kg/m³
    solution_density : kg/m³
    gas_density : kg/m³, at the same pressure

    Returns
    -------
    1

    Validity: ρ_g < ρ_f <= ρ_l, else OutsideValidity.
    Source: [volume-additivity]
    """
    return float(expansion_ratio(foam_density_there, solution_density, gas_density)) - 1.0


@dataclass(frozen=True)
class Drainage:
    """Time in which a share of the solution drained.

    reached : False if the last reading is still below the share
    time, standard_uncertainty : s
    falling : indices of readings lower than an earlier one, which is impossible
    last_share : share drained at the last reading
    between : times, s, of the two readings around the result
    """

    reached: bool
    time: float
    standard_uncertainty: float
    falling: tuple[int, ...]
    last_share: float
    between: tuple[float, float] = (np.nan, np.nan)

    def __str__(self) -> str:
        if not self.reached:
            return f"not reached ({self.last_share * 100:.0f} % at the last reading)"
        return f"{self.time:.0f} s"


def drainage_time(
    times: Sequence[float],
    drained: Sequence[float],
    solution_volume: float,
    share: float = 0.25,
    u_drained: float = 0.0,
    u_solution_volume: float = 0.0,
) -> Drainage:
    """Time in which a share of the foam's solution drained, interpolated between readings; never extrapolated.

    t = t1 + (t2 - t1)(V - v1)/(v2 - v1), V = share x solution volume, at the first crossing; the clock starts at 0, 0
    u(t) = √[u(V)² + u(v)²] (t2 - t1)/(v2 - v1), for the readings only: the curve between them need not be straight

    Parameters
    ----------
    times : s, since the container was full, rising
    drained : m³, read at each
    solution_volume : m³, net mass of the foam over the density of the solution
    share : 1, usually 0.25
    u_drained : m³, standard uncertainty of one reading
    u_solution_volume : m³

    Returns
    -------
    Drainage; ``reached`` False and NaN times where the last reading is still below

    Validity: times rising and above zero or starting at zero, as many volumes, else InputError.
    Bias: depends on the depth of the container (deeper is slower) and not on its width: record the depth.
    Source: [arff-foam-test], [imo-foam]
    """
    t, v = np.asarray(times, dtype=float), np.asarray(drained, dtype=float)
    if t.shape != v.shape or t.ndim != 1 or not t.size:
        what = f"{v.size} drained volumes do not match {t.size} times"
        raise InputError(what, where="drainage", remedy="Give one volume for each time")
    if np.any(~np.isfinite(t)) or t[0] < 0.0:
        raise InputError("a time of the drainage readings is not a number of 0 or more", where="drainage: times")
    if np.any(~np.isfinite(v)) or np.any(v < 0.0):
        raise InputError("a drained volume is not a number of 0 or more", where="drainage: drained")
    if np.any(np.diff(t) == 0.0):
        raise InputError("the same reading is given twice", where="drainage: times", remedy="Enter each reading once")
    if np.any(np.diff(t) < 0.0):
        raise InputError("the times of the drainage readings must rise", where="drainage: times")
    if not 0.0 < solution_volume < np.inf:
        what = f"a solution volume of {solution_volume:g} m³ cannot drain"
        raise InputError(what, where="drainage", remedy="Weigh the full and the empty container")
    if not 0.0 < share < 1.0:
        raise InputError(f"a share of {share:g} cannot drain", where="drainage: share", remedy="Give it from 0 to 1")
    if not (0.0 <= u_drained < np.inf and 0.0 <= u_solution_volume < np.inf):
        raise InputError("an uncertainty of the drainage is not a number of 0 or more", where="drainage")
    falling = tuple(int(i) for i in np.nonzero(v < np.maximum.accumulate(v))[0])
    if t[0] > 0.0:
        t, v = np.insert(t, 0, 0.0), np.insert(v, 0, 0.0)
    target = share * solution_volume
    past = np.nonzero(v >= target)[0]
    last = float(v[-1] / solution_volume)
    if not past.size:
        return Drainage(reached=False, time=np.nan, standard_uncertainty=np.nan, falling=falling, last_share=last)
    k = int(past[0])
    if k == 0:
        raise InputError("the share had drained before the clock started", remedy="Start the clock when it is full")
    slope = (t[k] - t[k - 1]) / (v[k] - v[k - 1])
    time = float(t[k - 1] + slope * (target - v[k - 1]))
    u = float(slope * np.hypot(share * u_solution_volume, u_drained))
    between = (time, time) if v[k] == target else (float(t[k - 1]), float(t[k]))
    return Drainage(reached=True, time=time, standard_uncertainty=u, falling=falling, last_share=last, between=between)


def free_drainage_time(
    height: float,
    bubble_diameter: float,
    liquid_fraction_there: float,
    viscosity: float,
    share: float = 0.25,
    law: Law = "node",
    solution_density: float = SOLUTION_DENSITY,
) -> float:
    """Time in which a share drains from a column of uniform foam, as an order of magnitude.

    t = share H/(A φ^(m-1)); node law m = 3/2, A = 2.3e-3 L² ρ g/μ; channel law m = 2, A = 6.3e-3 L² ρ g/μ; D = 2.785 L

    Parameters
    ----------
    height : m, depth of the foam
    bubble_diameter : m, D
    liquid_fraction_there : 1, φ
    viscosity : Pa s, of the solution
    share : 1
    law : word, node (mobile interfaces, detergents) or channel (rigid ones, proteins)
    solution_density : kg/m³

    Returns
    -------
    s

    Validity: share up to 2/3 (node) or 1/2 (channel), φ up to 0.36, else OutsideValidity; no coarsening, no hold-up.
    Uncertainty: a factor of 2; the bubble's diameter enters squared.
    Source: [koehler-drainage]
    """
    m, permeability, most = (1.5, _NODE_PERMEABILITY, 2 / 3) if law == "node" else (2.0, _CHANNEL_PERMEABILITY, 1 / 2)
    if not 0.0 < share <= most + 1e-12 or not 0.0 < liquid_fraction_there <= 0.36:
        raise OutsideValidity(
            f"a share of {share:g} at a liquid fraction of {liquid_fraction_there:g}",
            remedy="Above 36 % of liquid it is a bubbly liquid, not a foam",
        )
    edge = bubble_diameter / _EDGES_PER_DIAMETER
    A = permeability * edge**2 * solution_density * STANDARD_GRAVITY / viscosity
    return float(share * height / (A * liquid_fraction_there ** (m - 1.0)))
