"""Live figures of the pages from the session's snapshot: values, reasons for unknown ones, and faults at their place.

This module has no formulas; it takes values from the snapshot and gives them words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from frothline.bench import snapshot as bench
from frothline.bench.snapshot import Snapshot
from frothline.formatting import Shown, show
from frothline.sensors.series import Status
from frothline.sensors.status_words import unknown_words

Place = Literal["source", "inlet", "tap", "spool", "rotor", "hose", "generator", "outlet", "bucket"]


OUTSIDE = Status.OUT_OF_RANGE


@dataclass(frozen=True)
class LiveFigure:
    """A live figure in SI with its standard uncertainty; NaN with a reason if unknown."""

    value: float
    u: float
    reason: str = ""
    calibrated: bool = True

    def shown(self, quantity: str, system: str) -> Shown:
        """The figure as text, with its caution."""
        return show(self.value, self.u, quantity, system, reason=self.reason, calibrated=self.calibrated)


@dataclass(frozen=True)
class LineFault:
    """A fault at its place on the line."""

    place: Place
    word: str
    alarm: bool = False


@dataclass(frozen=True)
class SeriesKind:
    """Title of a series, its unit table, and the kind of its channel.

    ``derived``: calculated from several channels; ``channel`` is the most important one.
    """

    title: str
    quantity: str
    channel: str
    place: Place
    derived: bool = False


# In the order of the spool page.
SERIES: dict[str, SeriesKind] = {
    "line_pressure": SeriesKind("pressure at the tap", "pressure", "pressure", "tap"),
    "differential_pressure": SeriesKind("pressure across the orifice", "pressure", "differential", "spool"),
    "rotor_frequency": SeriesKind("rotor", "frequency", "rotor", "rotor"),
    "thermal_voltage": SeriesKind("hot-film anemometer", "voltage", "thermal", "rotor"),
    "air_speed": SeriesKind("air speed in the spool", "speed", "rotor", "rotor", derived=True),
    "standard_flow": SeriesKind("flow (standard air, 1.2 kg/m³)", "flow", "rotor", "rotor", derived=True),
    "free_air_flow": SeriesKind("flow, as free air", "flow", "rotor", "rotor", derived=True),
    "mass_flow": SeriesKind("mass flow", "mass_flow", "rotor", "rotor", derived=True),
    "air_power": SeriesKind("air power", "power", "rotor", "rotor", derived=True),
    "line_temperature": SeriesKind("temperature in the spool", "temperature", "temperature", "spool"),
    "ambient_pressure": SeriesKind("ambient pressure", "ambient_pressure", "ambient", "spool"),
    "ambient_temperature": SeriesKind("ambient temperature", "temperature", "ambient", "spool"),
    "ambient_humidity": SeriesKind("ambient humidity", "humidity", "ambient", "spool"),
    "scale_mass": SeriesKind("scale", "mass", "scale", "bucket"),
    "supply_voltage": SeriesKind("supply of the board", "voltage", "supply", "spool"),
}


# Without these there is no curve point; the line shows their absence.
NEEDED = {"pressure": "no sensor", "temperature": "no thermometer"}


def figure(now: Snapshot, name: str) -> LiveFigure:
    """One live figure, or the reason why it is unknown."""
    latest = now.latest.get(name)
    if now.link.state != bench.LIVE:
        return LiveFigure(math.nan, math.nan, no_frames(now))
    if latest is None:
        return LiveFigure(math.nan, math.nan, now.converter_trouble or "not measured on this rig")
    if latest.known:
        return LiveFigure(latest.value, latest.u, calibrated=latest.calibrated)
    return LiveFigure(math.nan, math.nan, reason(latest.status, name))


def no_frames(now: Snapshot) -> str:
    """Reason why no figure can be shown, in few words."""
    return {
        bench.OPENING: "waiting for the rig",
        bench.ABSENT: "no rig found",
        bench.QUIET: "no data from the rig",
        bench.LOST: "USB cable unplugged",
        bench.ENDED: "end of the recording",
        bench.CLOSED: "closed",
    }.get(now.link.state, now.link.words)


def reason(status: int, name: str) -> str:
    """The status bits of a sample as text."""
    if words := unknown_words(status):
        return words
    return "waiting for air" if name in {"standard_flow", "air_power"} else "not known yet"


def faults(now: Snapshot) -> tuple[LineFault, ...]:
    """Faults with their place; empty while no frames arrive."""
    if now.link.state != bench.LIVE:
        return ()
    found: list[LineFault] = []
    if now.converter_trouble:
        found.append(LineFault("spool", "not readable", alarm=True))
    present = {channel.kind: channel.present for channel in now.board.channels} if now.board is not None else {}
    for kind, word in NEEDED.items():
        if present.get(kind) is False:
            found.append(LineFault("tap" if kind == "pressure" else "spool", word))
    for name in ("line_pressure", "differential_pressure", "line_temperature"):
        latest = now.latest.get(name)
        if latest is not None and latest.status & Status.SATURATED:
            found.append(LineFault(SERIES[name].place, "beyond its range", alarm=True))
        elif latest is not None and latest.status & Status.MISSING and present.get(SERIES[name].channel, False):
            found.append(LineFault(SERIES[name].place, "no signal"))
    if present.get("rotor") is False and not present.get("thermal", False):
        found.append(LineFault("rotor", "no anemometer"))
    return tuple(found)
