"""Columns of a recording for the search for steady points."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from frothline.physics.air import density, density_uncertainty
from frothline.sensors.series import Status

if TYPE_CHECKING:
    from frothline.sensors.series import Series


def steady_columns(found: Mapping[str, Series]) -> dict[str, NDArray[np.float64]] | None:
    """Arguments of ``curve.OnlineSteady.feed`` and ``find_steady``, (n,) each, from series; None without pressure and
    flow.

    ``common pressure <error>`` and ``common flow <error>`` are the effects of each error common to a session. A
    pressure that reads high also raises the density and with it the flow.
    """
    pressure, flow = found.get("line_pressure"), found.get("standard_flow")
    if pressure is None or flow is None or not len(pressure.time) or len(pressure.time) != len(flow.time):
        return None
    nothing = np.zeros(len(pressure.time))
    columns = {
        "time": pressure.time,
        "pressure": pressure.value,
        "flow": flow.value,
        "stopped": ((flow.status & Status.STOPPED) > 0).astype(np.float64),
        "uncalibrated": ((flow.status & Status.UNCALIBRATED) > 0).astype(np.float64),
        "unseen": ((flow.status & Status.UNSEEN) > 0).astype(np.float64),
        "mass_flow": _beside(found, "mass_flow", pressure.time),
        "line_temperature": _beside(found, "line_temperature", pressure.time),
    }
    for error in dict.fromkeys((*pressure.shared, *flow.shared)):
        columns[f"common pressure {error}"] = pressure.shared.get(error, nothing)
        columns[f"common flow {error}"] = flow.shared.get(error, nothing)
    room = [found.get(name) for name in ("ambient_temperature", "ambient_pressure", "ambient_humidity")]
    columns |= dict.fromkeys(("ambient_density", "u_ambient_density"), np.full(len(pressure.time), np.nan))
    if all(one is not None and len(one.time) for one in room):
        values, doubts = zip(*((one.value, one.u) for one in room if one is not None), strict=True)
        time = room[0].time if room[0] is not None else nothing
        columns["ambient_density"] = _held(time, np.asarray(density(*values)), pressure.time)
        columns["u_ambient_density"] = _held(time, np.asarray(density_uncertainty(*values, *doubts)), pressure.time)
    return columns


def _beside(found: Mapping[str, Series], name: str, time: NDArray[np.float64]) -> NDArray[np.float64]:
    """Another series at these times; a slower series by its last known value."""
    one = found.get(name)
    if one is None or not len(one.time):
        return np.full(len(time), np.nan)
    if len(one.time) == len(time):
        return one.value
    return _held(one.time, one.value, time)


def _held(at: NDArray[np.float64], value: NDArray[np.float64], time: NDArray[np.float64]) -> NDArray[np.float64]:
    """The last known value at each time."""
    place = np.searchsorted(at, time, side="right") - 1
    return np.where(place >= 0, value[np.maximum(place, 0)], np.nan)
