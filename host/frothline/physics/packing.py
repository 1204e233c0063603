"""Pressure drop of a packing: beads, wire wool, fibre, screens; dry, and with initial estimates for wet.

No published table of pressure drop against gas flow was found for a wire-wool or bead-packed foam generator. These are
the general laws of porous beds; a dry and a wet sweep of the builder's own packing determine the coefficients.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from frothline.errors import OutsideValidity
from frothline.physics.air import Real

SPHERE_VOIDAGE = 0.40  # loosely poured equal spheres; common practice
FIBRE_VOIDAGE = (0.7, 0.994)  # range of porosity in which the permeability of fibre is known
FIBRE_INERTIAL = 0.10  # for porosity above 0.9; 0.05 to 0.1 for metal foams [bhattacharya], uncertain by a factor of 2


def ergun(diameter: float, voidage: float, speed: Real, density: Real, viscosity: Real, length: float = 1.0) -> Real:
    """Pressure drop of a bed of grains.

    Δp/L = 150 μ (1 - ε)² v/(ε³ d²) + 1.75 ρ (1 - ε) v²/(ε³ d)

    Parameters
    ----------
    diameter : m, of the grains (spheres of the same surface per volume)
    voidage : 1, ε
    speed : m/s, superficial: flow over the empty cross-section
    density : kg/m³
    viscosity : Pa s
    length : m, of the bed

    Returns
    -------
    Pa, with the sign of the speed

    Validity: 0.3 <= ε <= 0.7, else OutsideValidity; ρ v d/(μ (1 - ε)) up to some thousands.
    Bias: not for wire wool and other beds with ε > 0.9, where it reads 3 to 5 times too low: see
        `fibre_permeability_davies`.
    Uncertainty: relative standard 15 %; mainly from the voidage (1 % of ε is 4 % of Δp).
    Source: [ergun], [tamayol] (on its misuse for fibres)
    """
    if not 0.3 <= voidage <= 0.7:
        raise OutsideValidity(
            f"voidage {voidage:.3f} in a bed of grains",
            remedy="Poured grains leave 0.35 to 0.45; for wool and mesh use the fibre form",
        )
    a, b = ergun_coefficients(diameter, voidage)
    return length * (a * viscosity * speed + b * density * speed * np.abs(speed))


def ergun_coefficients(diameter: float, voidage: float) -> tuple[float, float]:
    """Viscous and inertial coefficients of a bed of grains, for Δp/L = α μ v + β ρ v².

    α = 150 (1 - ε)²/(ε³ d²), β = 1.75 (1 - ε)/(ε³ d)

    Parameters
    ----------
    diameter : m
    voidage : 1

    Returns
    -------
    α in 1/m², β in 1/m

    Validity: see `ergun`.
    Source: [ergun]
    """
    e3 = voidage**3
    return 150.0 * (1.0 - voidage) ** 2 / (e3 * diameter**2), 1.75 * (1.0 - voidage) / (e3 * diameter)


def fibre_permeability_davies(wire_diameter: float, voidage: float) -> float:
    """Permeability of wire wool and fibre: K = d²/[64 (1 - ε)^1.5 (1 + 56 (1 - ε)³)].

    Parameters
    ----------
    wire_diameter : m, d
    voidage : 1, ε

    Returns
    -------
    m²

    Validity: 0.7 <= ε <= 0.994, else OutsideValidity; randomly laid, mostly across the flow.
    Uncertainty: relative standard 30 %; flat ribbon wool up to a factor of 2.
    Source: [davies]
    """
    least, most = FIBRE_VOIDAGE
    if not least <= voidage <= most:
        raise OutsideValidity(
            f"voidage {voidage:.4f} of a fibre packing",
            remedy=f"Between {least:g} and {most:g} is covered; check mass, material of the wire and packed length",
        )
    solid = 1.0 - voidage
    return float(wire_diameter**2 / (64.0 * solid**1.5 * (1.0 + 56.0 * solid**3)))


def voidage_from_mass(mass: float, material_density: float, bore: float, length: float) -> float:
    """Voidage of a packing from its mass: ε = 1 - m/(ρ π/4 D² L).

    Parameters
    ----------
    mass : kg
    material_density : kg/m³, of the wire or grain itself
    bore : m, of the body
    length : m, of the packing

    Returns
    -------
    1

    Validity: the mass must fit into the volume, else OutsideValidity.
    Source: [volume-additivity]
    """
    share = mass / (material_density * np.pi / 4 * bore**2 * length)
    if not 0.0 < share < 1.0:
        raise OutsideValidity(
            f"{mass * 1e3:.0f} g of this material would fill {share * 100:.0f} % of the packed room",
            remedy="Check mass, length and bore of the packing",
        )
    return float(1.0 - share)


def screen_loss_idelchik(open_fraction: float) -> float:
    """Loss coefficient of a woven wire screen, on the approach speed: K = 1.3 (1 - φ) + (1/φ - 1)².

    Parameters
    ----------
    open_fraction : 1, φ, open area over total

    Returns
    -------
    1

    Validity: 0.05 <= φ < 1, else OutsideValidity; wire Reynolds number above 400, below which it grows.
    Uncertainty: relative standard 10 %.
    Source: [idelchik] diagram 8-6
    """
    if not 0.05 <= open_fraction < 1.0:
        raise OutsideValidity(f"a screen with {open_fraction * 100:.0f} % open area", remedy="5 to 99 % is covered")
    return 1.3 * (1.0 - open_fraction) + (1.0 / open_fraction - 1.0) ** 2


def screen_open_fraction(wire_diameter: float, opening: float) -> float:
    """Open fraction of a square mesh: φ = (w/(w + d))².

    Parameters
    ----------
    wire_diameter : m, d
    opening : m, w, between two wires

    Returns
    -------
    1

    Validity: both above zero.
    Source: [volume-additivity]
    """
    return (opening / (opening + wire_diameter)) ** 2


def pore_diameter_fibre(wire_diameter: float, voidage: float) -> float:
    """Hydraulic pore diameter of wire wool: four times the open volume over the wire's surface, D = d ε/(1 - ε).

    Parameters
    ----------
    wire_diameter : m
    voidage : 1

    Returns
    -------
    m

    Validity: 0 < ε < 1.
    Bias: a scale, not a measured pore.
    Source: [volume-additivity]
    """
    return wire_diameter * voidage / (1.0 - voidage)


def pore_diameter_grains(diameter: float, voidage: float) -> float:
    """Hydraulic pore diameter of a bed of spheres: D = 2 d ε/(3 (1 - ε)).

    Parameters
    ----------
    diameter : m, of the grains
    voidage : 1

    Returns
    -------
    m

    Validity: 0 < ε < 1.
    Bias: a scale, not a measured pore.
    Source: [volume-additivity]
    """
    return 2.0 * diameter * voidage / (3.0 * (1.0 - voidage))


def capillary_entry(surface_tension: float, pore: float) -> float:
    """Pressure that drives gas through a wetted pore or hole: Δp = 4 σ/d.

    Parameters
    ----------
    surface_tension : N/m, σ
    pore : m, d

    Returns
    -------
    Pa

    Validity: pore well below the capillary length of 2 mm; wetted by the solution.
    Uncertainty: a scale within a factor of 2 for packings, where the throat of a pore determines it.
    Source: [young-laplace]
    """
    return 4.0 * surface_tension / pore


def foam_yield(yield_stress: float, length: float, pore: float) -> float:
    """Pressure below which foam in a packing does not move: Δp = 4 τ L/d, the balance of forces in a round pore.

    Parameters
    ----------
    yield_stress : Pa, τ, of the foam
    length : m, L, of the packing
    pore : m, d

    Returns
    -------
    Pa

    Validity: all above zero.
    Bias: pores are not round and not straight: a scale.
    Source: [statics]
    """
    return 4.0 * yield_stress * length / pore


@dataclass(frozen=True)
class WetMultiplier:
    """Wet over dry pressure drop of a packing; ``log_uncertainty``: standard uncertainty of its natural logarithm."""

    value: Real
    log_uncertainty: float


def wet_multiplier_larkins(gas_drop: Real, liquid_drop: Real) -> WetMultiplier:
    """Initial estimate of wet over dry pressure drop of a packing, with solution flowing through it with the air.

    log10(Δ/(δ_l + δ_g)) = 0.416/(0.666 + (log10 X)²), X = √(δ_l/δ_g); returned as Δ/δ_g

    Parameters
    ----------
    gas_drop : Pa, δ_g, of the air alone
    liquid_drop : Pa, δ_l, of the solution alone

    Returns
    -------
    WetMultiplier

    Validity: 0.05 <= X <= 30 in the source; below, the value at X = 0.05. Without foaming.
    Bias: none of its liquids foamed: lamellae can multiply it again. A wet sweep replaces it; never below 1.
    Uncertainty: a factor of 2, taken as one standard uncertainty of the logarithm.
    Source: [larkins]
    """
    if not isinstance(gas_drop, np.ndarray) and (gas_drop <= 0.0 or liquid_drop < 0.0):
        raise OutsideValidity("a wet packing needs an air flow", remedy="Give the pressure drop of the air alone")
    root = (liquid_drop / gas_drop) ** 0.5
    X = np.clip(root, 0.05, 30.0) if isinstance(root, np.ndarray) else min(max(root, 0.05), 30.0)
    both = 10.0 ** (0.416 / (0.666 + np.log10(X) ** 2)) * (1.0 + X * X)  # above 1 for every X
    return WetMultiplier(both if isinstance(both, np.ndarray) else float(both), float(np.log(2.0)))
