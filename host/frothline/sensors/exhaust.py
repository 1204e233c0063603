"""Estimated line temperature without a thermometer: room temperature plus the heating by the source."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from frothline.numerics.arrays import Floats
from frothline.physics.exhaust import exhaust_temperature_rise
from frothline.sensors.spool import Site


def assumed_line_temperature(
    site: Site,
    ambient_temperature: ArrayLike,
    u_ambient_temperature: ArrayLike,
    line_pressure: ArrayLike,
    ambient_pressure: ArrayLike,
) -> tuple[Floats, Floats]:
    """Line temperature (K) and its standard uncertainty, (n,) each.

    From the ambient temperature (K) and pressure (Pa) and the line gauge pressure (Pa, (n,)). An unknown line pressure
    is taken as 0, because the flow is unknown then too.
    """
    room = np.asarray(ambient_temperature, dtype=np.float64)
    if math.isfinite(site.exhaust_warmth):
        rise, u_rise = np.asarray(site.exhaust_warmth), np.zeros(())
    else:
        rise = exhaust_temperature_rise(
            room, np.nan_to_num(line_pressure), ambient_pressure, efficiency=site.exhaust_efficiency
        )
        u_rise = rise * site.u_exhaust_efficiency / site.exhaust_efficiency
    u = np.sqrt(np.asarray(u_ambient_temperature) ** 2 + u_rise**2 + site.u_exhaust_warmth**2)
    value, u = np.broadcast_arrays(room + rise, u)
    return np.asarray(value, dtype=np.float64), np.asarray(u, dtype=np.float64)
