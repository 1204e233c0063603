"""Exhaust air temperature of a blower or vacuum."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frothline.physics.air import HEAT_CAPACITY_RATIO

HIGHEST = 35e3  # Pa: beyond it no blower is cooled by its own air, and the rise is not known
EFFICIENCY, U_EFFICIENCY = 0.30, 0.029  # of small motors cooled by the working air: 25 to 35 %, uniform


def exhaust_temperature_rise(
    inlet_temperature: ArrayLike,
    pressure_rise: ArrayLike,
    inlet_pressure: ArrayLike,
    efficiency: float = EFFICIENCY,
) -> NDArray[np.float64]:
    """Temperature rise of the air in the machine; all losses of motor and wheel heat the air.

    ΔT = T1 ((p2/p1)^((γ-1)/γ) - 1)/η

    Parameters
    ----------
    inlet_temperature : K, T1
    pressure_rise : Pa, p2 - p1; a negative one is taken as 0
    inlet_pressure : Pa, p1, absolute
    efficiency : 1, η, of motor and wheel together

    Returns
    -------
    K

    Validity: a machine whose motor is cooled by the air it delivers, up to 35 kPa, efficiency above zero.
    Bias: none at free delivery, where a real motor still warms the air by some kelvins; too low near shut-off.
    Uncertainty: 25 to 35 % efficiency, common practice, no source; hose and pipe cool the air on its way.
    Source: [shapiro] ch. 4, isentropic compression; the efficiency is common practice
    """
    p1 = np.asarray(inlet_pressure, dtype=np.float64)
    ratio = (p1 + np.maximum(pressure_rise, 0.0)) / p1
    exponent = (HEAT_CAPACITY_RATIO - 1.0) / HEAT_CAPACITY_RATIO
    return np.asarray(inlet_temperature, dtype=np.float64) * (ratio**exponent - 1.0) / efficiency
