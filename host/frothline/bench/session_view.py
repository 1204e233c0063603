"""Display of a session in a notebook: newest readings, steady points, the curve so far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from frothline.bench.snapshot import Latest, Snapshot
from frothline.estimate import Estimate
from frothline.presentable import Observations, Picture, PictureAxis, PictureLine, PicturePoints, nothing_to_draw
from frothline.presentable import PresentedFigure as Row
from frothline.rounding import counted
from frothline.units import METRIC, Unit, find_unit

_STEPS = 61
_QUANTITIES = {"Pa": "pressure", "m³/s": "flow", "K": "temperature", "kg": "mass", "kg/s": "mass_flow", "V": "voltage"}


def session_title(now: Snapshot) -> str:
    """Link, recording and steady points, in one line."""
    board = "" if now.board is None else f" {now.board.label}".rstrip()
    made = " simulated," if now.simulated else ""
    recording = "not recording" if now.recording is None else f"recording {now.recording.name}"
    return f"rig{board}:{made} {now.link.words}, {recording}, {counted(len(now.points), 'point')}"


def session_figures(now: Snapshot) -> Sequence[Row]:
    """Newest reading of each series, with its interval or the reason why it is unknown."""
    return tuple(Row(_spoken(name), _estimate(one), _unit(one), one.reason) for name, one in now.latest.items())


def session_observations(now: Snapshot) -> Observations:
    """One row: the newest readings with their standard uncertainties, SI."""
    row: dict[str, float] = {"time": now.time}
    units = {"time": "s"}
    for name, one in now.latest.items():
        row |= {name: one.value, f"u_{name}": one.u}
        units |= {name: one.unit, f"u_{name}": one.unit}
    unknown = {name: one.reason or "not known" for name, one in now.latest.items() if not one.known}
    return Observations((row,), units, unknown, {"simulated": now.simulated, "link": now.link.words})


def session_picture(now: Snapshot) -> Picture:
    """Pressure against flow: steady points, the curve so far and the newest reading. Raises InputError without any."""
    items: list[PictureLine | PicturePoints] = []
    if now.fit is not None:
        flow = np.linspace(0.0, now.fit.range[1], _STEPS)
        lower, upper = now.fit.band(flow)
        items.append(PictureLine("curve", list(flow), list(now.fit.pressure(flow)[0]), list(lower), list(upper)))
    if now.points:
        items.append(PicturePoints("points", [one.flow for one in now.points], [one.pressure for one in now.points]))
    pressure, flow_now = now.latest.get("line_pressure"), now.latest.get("standard_flow")
    if pressure is not None and flow_now is not None and pressure.known and flow_now.known:
        items.append(PicturePoints("now", [flow_now.value], [pressure.value]))
    if not items:
        raise nothing_to_draw("the session")
    return Picture(
        session_title(now),
        PictureAxis("flow (standard air, 1.2 kg/m³)", METRIC["flow"]),
        PictureAxis("pressure", METRIC["pressure"]),
        tuple(items),
    )


def _estimate(one: Latest) -> Estimate | None:
    if not one.known:
        return None
    found = Estimate.normal(one.value, one.u, one.unit)
    return found if one.calibrated else found.marked_uncalibrated()


def _unit(one: Latest) -> Unit:
    named = find_unit(one.unit)
    quantity = None if named is None else _QUANTITIES.get(named.si)
    return Unit("" if one.unit == "1" else one.unit, 1.0) if quantity is None else METRIC[quantity]


def _spoken(name: str) -> str:
    return name.replace("_", " ")
