"""Fresh concrete in its form: pressure and force on a side, and the temperature that the cement's heat can bring."""

from __future__ import annotations

from frothline.errors import OutsideValidity
from frothline.physics.water import liquid_head

CEMENT_HEAT = 349e3  # J/kg in the first 7 days: mean of ordinary portland cement (type I), [pca-heat]
CEMENT_CAPACITY, WATER_CAPACITY = 750.0, 4180.0  # J/(kg K), [bentz-2007]
SAND_CAPACITY = 800.0  # J/(kg K); quartz sand, common practice, no source


def side_pressure(depth: float, density: float) -> float:
    """Pressure of fresh concrete on a form at a depth, as of a liquid: p = ρ g h.

    Parameters
    ----------
    depth : m, below the surface of concrete that has not set
    density : kg/m³, as cast

    Returns
    -------
    Pa

    Validity: any depth of 0 or more, else OutsideValidity.
    Bias: too high once the concrete stiffens, which is on the safe side.
    Source: [aci-347] for concrete that flows; [white] ch. 2
    """
    if depth < 0.0:
        raise OutsideValidity(f"a depth of {depth:g} m", remedy="Give 0 or more")
    return float(liquid_head(depth, density))


def side_force(depth: float, density: float, width: float = 1.0) -> float:
    """Force of fresh concrete on a side of a form: F = ½ ρ g h² b.

    Parameters
    ----------
    depth : m, of concrete that has not set
    density : kg/m³, as cast
    width : m, of the side

    Returns
    -------
    N; it acts at a third of the depth above the bottom

    Validity: as for the pressure.
    Source: [aci-347], [statics]
    """
    return side_pressure(depth, density) * depth * width / 2.0


def adiabatic_rise(cement: float, water: float, sand: float = 0.0, heat: float = CEMENT_HEAT) -> float:
    """Temperature rise of concrete that loses no heat: ΔT = m_c q/(m_c c_c + m_w c_w + m_s c_s).

    Parameters
    ----------
    cement : kg
    water : kg, all of it
    sand : kg
    heat : J/kg, of cement

    Returns
    -------
    K, the most that the core of a thick pour can reach

    Validity: cement above 0, else OutsideValidity.
    Bias: above a real core, which loses heat to form and air; the air bubbles weigh nothing and hold no heat, but they
        insulate, so that foamed concrete comes near it.
    Source: [pca-heat], [bentz-2007]
    """
    if cement <= 0.0:
        raise OutsideValidity(f"{cement:g} kg of cement", remedy="Give the cement of the mix in kg")
    capacity = cement * CEMENT_CAPACITY + water * WATER_CAPACITY + sand * SAND_CAPACITY
    return cement * heat / capacity
