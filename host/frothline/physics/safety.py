"""Quantities for the cautions: force on a joint, energy stored in the pipe, noise dose.

Local codes and licensed practice take precedence. A water rating printed on a plastic pipe is not a rating for air.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from frothline.errors import OutsideValidity
from frothline.physics.air import DRY_GAS_CONSTANT, HEAT_CAPACITY_RATIO

SOFT_PRESSURE_LIMIT = 25e3  # Pa, gauge: alert; judgement, no standard
HARD_PRESSURE_LIMIT = 35e3  # Pa, gauge: stop; judgement, no standard
PVC_LIMIT, PVC_LEFT = 60.0, 0.22  # °C of service, and the share of the pressure rating at 23 °C there: [pvc-derating]
BREAKER = (4e-3, 6e-3)  # A: a class A ground-fault breaker trips between them: [nfpa-70]


def push_fit_force(diameter: float, gauge_pressure: float) -> float:
    """Force that pushes a closed or bent push-fit joint apart: F = p π/4 D².

    Parameters
    ----------
    diameter : m, where the joint seals: the outside of the spigot
    gauge_pressure : Pa

    Returns
    -------
    N

    Validity: any.
    Source: [statics]
    """
    return float(gauge_pressure * np.pi / 4 * diameter**2)


def stored_gas_energy(gauge_pressure: float, volume: float, ambient_pressure: float = 101325.0) -> float:
    """Upper limit of the energy released by compressed air when a pipe bursts.

    W = V [p1 ln(p1/p0) - (p1 - p0)]: isothermal expansion less the work on the atmosphere

    Parameters
    ----------
    gauge_pressure : Pa
    volume : m³
    ambient_pressure : Pa, absolute

    Returns
    -------
    J

    Validity: gauge pressure above -ambient, else OutsideValidity.
    Bias: above the adiabatic figure by up to a third at 600 kPa, which is conservative.
    Source: [thermodynamics], [osha-pvc] (why it matters for plastic pipe)
    """
    p1 = ambient_pressure + gauge_pressure
    if p1 <= 0.0:
        raise OutsideValidity(f"an absolute pressure of {p1:.0f} Pa", remedy="Give the gauge pressure in Pa")
    return float(volume * (p1 * np.log(p1 / ambient_pressure) - gauge_pressure))


def jet_speed(gauge_pressure: float, ambient_pressure: float = 101325.0, temperature: float = 293.15) -> float:
    """Greatest speed of the air that leaves an opening under pressure: v = √(2 c_p T (1 - (p_a/p)^((γ-1)/γ))).

    Parameters
    ----------
    gauge_pressure : Pa
    ambient_pressure : Pa, p_a, outside; p is the sum of both
    temperature : K, T, of the air inside

    Returns
    -------
    m/s

    Validity: any pressure from 0; below 0 OutsideValidity. It stays below √(2 c_p T), 767 m/s at 20 °C.
    Bias: friction makes the jet slower, and an opening of its own shape reaches about 310 m/s and no more within it.
    Source: [shapiro] ch. 4, steady isentropic expansion from rest
    """
    if gauge_pressure < 0.0:
        raise OutsideValidity(f"a gauge pressure of {gauge_pressure:.0f} Pa", remedy="Give 0 or more")
    part = (HEAT_CAPACITY_RATIO - 1.0) / HEAT_CAPACITY_RATIO
    left = (ambient_pressure / (ambient_pressure + gauge_pressure)) ** part
    return float(np.sqrt(2.0 * DRY_GAS_CONSTANT / part * temperature * (1.0 - left)))


def allowed_time_niosh(level: float) -> float:
    """Time at a sound level for a full day's dose, recommended limit: T = 8 h / 2^((L - 85)/3).

    Parameters
    ----------
    level : dB, A-weighted

    Returns
    -------
    s

    Validity: 80 to 130 dB; below 80 the result is longer than a day.
    Source: [niosh-1998] ch. 1
    """
    return float(8 * 3600.0 / 2.0 ** ((level - 85.0) / 3.0))


def allowed_time_osha(level: float) -> float:
    """Time at a sound level for a full day's dose, the legal limit at work in the USA: T = 8 h / 2^((L - 90)/5).

    Parameters
    ----------
    level : dB, A-weighted

    Returns
    -------
    s

    Validity: 80 to 130 dB.
    Source: [osha-1910.95] table G-16a
    """
    return float(8 * 3600.0 / 2.0 ** ((level - 90.0) / 5.0))


def noise_dose_niosh(levels: Sequence[float], times: Sequence[float]) -> float:
    """Share of a full day's noise, recommended limit: D = Σ t_i/T_i.

    Parameters
    ----------
    levels : dB, A-weighted
    times : s, spent at each

    Returns
    -------
    1; the limit is 1

    Validity: as many times as levels, else ValueError.
    Source: [niosh-1998] ch. 1
    """
    return sum(time / allowed_time_niosh(level) for level, time in zip(levels, times, strict=True))


def noise_dose_osha(levels: Sequence[float], times: Sequence[float]) -> float:
    """Share of a full day's noise, the legal limit at work in the USA: D = Σ t_i/T_i.

    Parameters
    ----------
    levels : dB, A-weighted
    times : s, spent at each

    Returns
    -------
    1; the limit is 1

    Validity: as many times as levels, else ValueError.
    Source: [osha-1910.95] appendix A
    """
    return sum(time / allowed_time_osha(level) for level, time in zip(levels, times, strict=True))
