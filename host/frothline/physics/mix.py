"""From foam to a batch of cellular concrete: the absolute volume method, including the water in the foam.

A result here is a proportion by weight, not a strength: strength needs own specimens, cured and crushed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from frothline.errors import OutsideValidity

CEMENT_RELATIVE_DENSITY = 3.15  # portland cement; common practice, 3.10 to 3.20
SAND_RELATIVE_DENSITY = 2.62  # natural sand, saturated surface dry; common practice, 2.55 to 2.70
WATER_DENSITY = 1000.0  # kg/m³, the convention of mix arithmetic
BOUND_WATER = 0.2  # of the cement's mass, in the dry density: C869-91, table 1, footnote
STIFF_WATER_CEMENT = 0.35  # below this a slurry draws water from the foam; common practice
LARGEST_FOAM_SHARE = 0.65  # mixes above it were unstable in a published study (Bagheri and Samea 2018)

DilutionConvention = Literal["1+N", "1 in N"]


@dataclass(frozen=True)
class Mix:
    """Masses kg and volumes m³ for ``volume`` m³ of cellular concrete of cast density kg/m³."""

    volume: float
    cast_density: float
    cement: float
    sand: float
    total_water: float
    mixer_water: float
    foam_water: float
    foam_volume: float
    air_fraction: float
    base_density: float
    dry_density: float

    @property
    def base_volume(self) -> float:
        """m³ of slurry before the foam."""
        return (self.cement + self.sand + self.mixer_water) / self.base_density

    @property
    def mixer_water_cement(self) -> float:
        """Water over cement in the mixer, without the foam's water."""
        return self.mixer_water / self.cement

    @property
    def too_stiff(self) -> bool:
        """True if the slurry will draw water from the foam."""
        return self.mixer_water_cement < STIFF_WATER_CEMENT


def proportion(
    cast_density: float,
    water_cement: float,
    foam_density: float,
    sand_cement: float = 0.0,
    volume: float = 1.0,
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY,
    sand_relative_density: float = SAND_RELATIVE_DENSITY,
) -> Mix:
    """Proportions of a batch by absolute volumes; the water/cement ratio includes the foam's water.

    C = D/(1 + w + s), W = w C, S = s C;  air = 1 - C/ρ_c - S/ρ_s - W/ρ_w
    V_f = air/(1 - ρ_f/ρ_w), foam water = V_f ρ_f, mixer water = W - V_f ρ_f;  D_dry = 1.2 C + S

    Parameters
    ----------
    cast_density : kg/m³, D
    water_cement : 1, w, all water over cement by mass
    foam_density : kg/m³, ρ_f
    sand_cement : 1, s, sand over cement by mass
    volume : m³, of the batch
    cement_relative_density : 1
    sand_relative_density : 1

    Returns
    -------
    Mix

    Validity: a cast density below that of the same slurry without air, mixer water above zero, ρ_f < 500 kg/m³, else
        OutsideValidity.
    Bias: the mass of the air is neglected (1 kg/m³ at most); foam lost in the mix is not taken into account.
    Source: [absolute-volume], [astm-c796], [astm-c869]
    """
    if min(cast_density, water_cement, volume) <= 0.0 or sand_cement < 0.0 or not 0.0 < foam_density < 500.0:
        raise OutsideValidity(
            "densities, volume and water/cement must be above zero, and foam below 500 kg/m³",
            remedy="Check the batch's figures and their units",
        )
    cement = cast_density / (1.0 + water_cement + sand_cement)
    sand, water = sand_cement * cement, water_cement * cement
    solids = cement / (cement_relative_density * WATER_DENSITY) + sand / (sand_relative_density * WATER_DENSITY)
    air = 1.0 - solids - water / WATER_DENSITY
    if air <= 0.0:
        raise OutsideValidity(
            f"{cast_density:.0f} kg/m³ is not lighter than the slurry itself, {cast_density / (1.0 - air):.0f} kg/m³",
            remedy="Give a lower density",
        )
    foam = air / (1.0 - foam_density / WATER_DENSITY)
    foam_water = foam * foam_density
    mixer = water - foam_water
    if mixer <= 0.0:
        raise OutsideValidity(
            f"the foam alone adds {foam_water:.0f} kg of water, and the mix needs {water:.0f} kg",
            remedy="Make drier foam, or raise the water/cement ratio",
        )
    base = (cement + sand + mixer) / (solids + mixer / WATER_DENSITY)
    dry = (1.0 + BOUND_WATER) * cement + sand
    return Mix(
        volume=volume,
        cast_density=cast_density,
        cement=volume * cement,
        sand=volume * sand,
        total_water=volume * water,
        mixer_water=volume * mixer,
        foam_water=volume * foam_water,
        foam_volume=volume * foam,
        air_fraction=air,
        base_density=base,
        dry_density=dry,
    )


def cast_density_for_dry(dry_density: float, water_cement: float, sand_cement: float = 0.0) -> float:
    """Cast density for a target oven-dry density: D = D_dry (1 + w + s)/(1.2 + s).

    Parameters
    ----------
    dry_density : kg/m³
    water_cement : 1
    sand_cement : 1

    Returns
    -------
    kg/m³

    Validity: any; 20 % of the cement's mass taken as bound water.
    Source: [astm-c869] table 1, footnote
    """
    return dry_density * (1.0 + water_cement + sand_cement) / (1.0 + BOUND_WATER + sand_cement)


def air_free_density(
    cement: float,
    water: float,
    sand: float = 0.0,
    cement_relative_density: float = CEMENT_RELATIVE_DENSITY,
    sand_relative_density: float = SAND_RELATIVE_DENSITY,
) -> float:
    """Density of the same mix without air: D_th = Σ m/Σ (m/ρ).

    Parameters
    ----------
    cement : kg
    water : kg, all of it
    sand : kg
    cement_relative_density : 1
    sand_relative_density : 1

    Returns
    -------
    kg/m³

    Validity: any.
    Source: [astm-c796]
    """
    volumes = cement / cement_relative_density + sand / sand_relative_density + water
    return WATER_DENSITY * (cement + water + sand) / volumes


def air_content(measured_density: float, air_free: float) -> float:
    """Air by volume from a weighed container of fresh concrete: A = 1 - D/D_th.

    Parameters
    ----------
    measured_density : kg/m³
    air_free : kg/m³, D_th

    Returns
    -------
    1; the loss in a pump is the difference of two, compared with 0.045

    Validity: 0 < D <= D_th, else OutsideValidity.
    Source: [astm-c796]
    """
    if not 0.0 < measured_density <= air_free:
        raise OutsideValidity(
            f"{measured_density:.0f} kg/m³ against {air_free:.0f} kg/m³ without air",
            remedy="Check the weighing and the proportions",
        )
    return 1.0 - measured_density / air_free


def blend_density(base_density: float, base_volume: float, foam_density: float, foam_volume: float) -> float:
    """Density of slurry and foam mixed: D = (V_b ρ_b + V_f ρ_f)/(V_b + V_f).

    Parameters
    ----------
    base_density : kg/m³
    base_volume : m³
    foam_density : kg/m³
    foam_volume : m³

    Returns
    -------
    kg/m³

    Validity: any; no foam lost.
    Source: [volume-additivity]
    """
    return (base_volume * base_density + foam_volume * foam_density) / (base_volume + foam_volume)


def foam_for_density(base_density: float, base_volume: float, target: float, foam_density: float) -> float:
    """Foam needed to bring a slurry, or a batch that is too heavy, to a target density.

    V_f = V_b (ρ_b - D)/(D - ρ_f)

    Parameters
    ----------
    base_density : kg/m³, as weighed
    base_volume : m³
    target : kg/m³, D
    foam_density : kg/m³

    Returns
    -------
    m³; negative where the batch is too light and needs slurry instead: see `slurry_for_density`

    Validity: ρ_f < D, else OutsideValidity; no foam lost.
    Source: [volume-additivity]
    """
    if target <= foam_density:
        raise OutsideValidity(
            f"{target:.0f} kg/m³ cannot be reached with foam of {foam_density:.0f}", remedy="Make lighter foam"
        )
    return base_volume * (base_density - target) / (target - foam_density)


def slurry_for_density(density: float, volume: float, target: float, slurry_density: float) -> float:
    """Slurry needed to bring a batch that is too light to a target density: V = V0 (D - D0)/(ρ_s - D).

    Parameters
    ----------
    density : kg/m³, D0, as weighed
    volume : m³, V0
    target : kg/m³, D
    slurry_density : kg/m³, ρ_s

    Returns
    -------
    m³

    Validity: D0 <= D < ρ_s, else OutsideValidity.
    Source: [volume-additivity]
    """
    if not density <= target < slurry_density:
        raise OutsideValidity(
            f"from {density:.0f} to {target:.0f} kg/m³ with slurry of {slurry_density:.0f}",
            remedy="Slurry makes a batch heavier; to make it lighter, add foam",
        )
    return volume * (target - density) / (slurry_density - target)


def foam_survival(
    solids_and_water_volume: float, total_mass: float, cast_density: float, foam_volume: float, foam_water: float
) -> float:
    """Share of the foam's air that remains in the cast concrete.

    (m/D - V_paste - V_fw)/(V_f - V_fw), V_fw = foam water/ρ_w

    Parameters
    ----------
    solids_and_water_volume : m³, of cement, sand and mixer water
    total_mass : kg, with the foam
    cast_density : kg/m³, as weighed
    foam_volume : m³, put in
    foam_water : kg, in that foam

    Returns
    -------
    1; above 1 the mixer has entrained air, or a weighing is wrong

    Validity: foam put in, else OutsideValidity.
    Source: [volume-additivity]
    """
    liquid = foam_water / WATER_DENSITY
    if foam_volume <= liquid:
        raise OutsideValidity("no foam was added", remedy="Give the foam's volume and its water")
    return (total_mass / cast_density - solids_and_water_volume - liquid) / (foam_volume - liquid)


def true_water_cement(cement: float, mixer_water: float, foam_volume: float, foam_density: float) -> float:
    """Water over cement including the foam's water: (W_mix + V_f ρ_f)/C.

    Parameters
    ----------
    cement : kg
    mixer_water : kg
    foam_volume : m³
    foam_density : kg/m³

    Returns
    -------
    1

    Validity: cement above zero.
    Source: [volume-additivity]
    """
    return (mixer_water + foam_volume * foam_density) / cement


def agent_fraction(parts: float, convention: DilutionConvention) -> float:
    """Agent by volume in a diluted solution: 1/(N + 1) for "1+N" (one part agent, N parts water), 1/N for "1 in N".

    Parameters
    ----------
    parts : 1, N
    convention : word, "1+N" or "1 in N"; the two differ by 6 % at N = 16

    Returns
    -------
    1, by volume

    Validity: N >= 1, else OutsideValidity.
    Source: [volume-additivity]
    """
    if parts < 1.0:
        raise OutsideValidity(f"a dilution of 1 to {parts:g}", remedy="Give the parts of water for one part of agent")
    return 1.0 / (parts + 1.0) if convention == "1+N" else 1.0 / parts
