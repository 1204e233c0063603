"""What the pages make of the bench's snapshot: reasons for unknown figures, faults at their place, a trail, a curve.

No formula of air stands here; everything is taken from the bench, looked at, and given words.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, Protocol

import numpy as np

from frothline.bench import state as bench
from frothline.bench.build import Build
from frothline.bench.calibrating import Calibrating
from frothline.bench.run_state import RunState
from frothline.bench.sample import FoamSample, Weighing
from frothline.bench.state import Snapshot, Window
from frothline.formatting import Shown, show
from frothline.screen.decimate import Floats
from frothline.screen.figures import Curve
from frothline.sensors import Budget, ChannelCalibration, Finding, Status
from frothline.sensors.status_words import unknown_words

Place = Literal["source", "inlet", "tap", "spool", "rotor", "hose", "generator", "outlet", "bucket"]

OUTSIDE = Status.OUT_OF_RANGE
TRAIL_SECONDS = 5.0
TRAIL_STEP = 0.25  # s that one point of the trail is the mean of
CURVE_POINTS = 121


class Bench(Protocol):
    """What the pages ask of whatever stands behind them. A FrothlineError says what went wrong and what to do."""

    def snapshot(self) -> Snapshot: ...

    def window(self, name: str, seconds: float) -> Window: ...

    def start_recording(self, name: str = "") -> Path: ...

    def stop_recording(self) -> Path | None: ...

    def mark(self, text: str = "") -> None: ...

    def start_sweep(
        self, *, metadata: Mapping[str, Any] | None = None, through: str = "", build: Build | None = None
    ) -> None: ...

    def sweep_button(self) -> None: ...

    def stop_sweep(self) -> None: ...

    def budgets(self) -> Mapping[str, Budget]: ...

    def calibrations(self) -> Mapping[str, ChannelCalibration]: ...

    def findings(self) -> tuple[Finding, ...]: ...

    def calibrating(self) -> Calibrating: ...

    def note(self, text: str, kind: str = "note") -> None: ...

    def start_run(self, *, metadata: Mapping[str, Any], **parts: Any) -> None: ...

    def stop_run(self) -> RunState | None: ...

    def add_sample(self, weighing: Weighing, time: float) -> FoamSample: ...

    def change_rig(self, url: str) -> None: ...


@dataclass(frozen=True)
class Figure:
    """A live figure in SI with its standard uncertainty; NaN with a reason where it is not known."""

    value: float
    u: float
    reason: str = ""
    calibrated: bool = True

    def shown(self, quantity: str, system: str) -> Shown:
        """As words, with what a reader must know beside it."""
        return show(self.value, self.u, quantity, system, reason=self.reason, calibrated=self.calibrated)


@dataclass(frozen=True)
class Fault:
    """Something wrong, at its place on the line."""

    place: Place
    word: str
    alarm: bool = False


@dataclass(frozen=True)
class Kind:
    """How a builder calls a series, which unit table it uses, and which kind of channel it comes from.

    ``derived``: worked out from several channels, ``channel`` being the one that matters most.
    """

    title: str
    quantity: str
    channel: str
    place: Place
    derived: bool = False


# In the order in which they stand on the spool's page.
SERIES: dict[str, Kind] = {
    "line_pressure": Kind("pressure at the tap", "pressure", "pressure", "tap"),
    "differential_pressure": Kind("pressure across the orifice", "pressure", "differential", "spool"),
    "rotor_frequency": Kind("rotor", "frequency", "rotor", "rotor"),
    "thermal_voltage": Kind("hot-film anemometer", "voltage", "thermal", "rotor"),
    "air_speed": Kind("air speed in the spool", "speed", "rotor", "rotor", derived=True),
    "standard_flow": Kind("flow, as air at 1.2 kg/m³", "flow", "rotor", "rotor", derived=True),
    "free_air_flow": Kind("flow, as free air", "flow", "rotor", "rotor", derived=True),
    "mass_flow": Kind("mass flow", "mass_flow", "rotor", "rotor", derived=True),
    "air_power": Kind("air power", "power", "rotor", "rotor", derived=True),
    "line_temperature": Kind("temperature in the spool", "temperature", "temperature", "spool"),
    "ambient_pressure": Kind("ambient pressure", "ambient_pressure", "ambient", "spool"),
    "ambient_temperature": Kind("ambient temperature", "temperature", "ambient", "spool"),
    "ambient_humidity": Kind("ambient humidity", "humidity", "ambient", "spool"),
    "scale_mass": Kind("scale", "mass", "scale", "bucket"),
    "supply_voltage": Kind("supply of the board", "voltage", "supply", "spool"),
}

# Without these there is no point of a curve: their absence is marked on the line.
NEEDED = {"pressure": "no sensor", "temperature": "no thermometer"}


def figure(now: Snapshot, name: str) -> Figure:
    """One live figure, or why it is not known."""
    latest = now.latest.get(name)
    if now.link.state != bench.LIVE:
        return Figure(math.nan, math.nan, no_frames(now))
    if latest is None:
        return Figure(math.nan, math.nan, now.converter_trouble or "not measured on this rig")
    if latest.known:
        return Figure(latest.value, latest.u, calibrated=latest.calibrated)
    return Figure(math.nan, math.nan, reason(latest.status, name))


def no_frames(now: Snapshot) -> str:
    """Why no figure can be shown, in few words."""
    return {
        bench.OPENING: "waiting for the rig",
        bench.ABSENT: "no rig found",
        bench.QUIET: "the rig is silent",
        bench.LOST: "the cable is out",
        bench.ENDED: "the recording is at its end",
        bench.CLOSED: "closed",
    }.get(now.link.state, now.link.words)


def reason(status: int, name: str) -> str:
    """The status bits of a sample as words."""
    if words := unknown_words(status):
        return words
    return "waiting for air" if name in {"standard_flow", "air_power"} else "not known yet"


def faults(now: Snapshot) -> tuple[Fault, ...]:
    """What goes wrong, where it goes wrong; nothing while no frames arrive, for then nothing is known."""
    if now.link.state != bench.LIVE:
        return ()
    found: list[Fault] = []
    if now.converter_trouble:
        found.append(Fault("spool", "not understood", alarm=True))
    present = {channel.kind: channel.present for channel in now.board.channels} if now.board is not None else {}
    for kind, word in NEEDED.items():
        if present.get(kind) is False:
            found.append(Fault("tap" if kind == "pressure" else "spool", word))
    for name in ("line_pressure", "differential_pressure", "line_temperature"):
        latest = now.latest.get(name)
        if latest is not None and latest.status & Status.SATURATED:
            found.append(Fault(SERIES[name].place, "beyond its range", alarm=True))
        elif latest is not None and latest.status & Status.MISSING and present.get(SERIES[name].channel, False):
            found.append(Fault(SERIES[name].place, "sensor silent"))
    if present.get("rotor") is False and not present.get("thermal", False):
        found.append(Fault("rotor", "no anemometer"))
    return tuple(found)


def trail(pressure: Window, flow: Window, now: float) -> tuple[Floats, Floats]:
    """The last seconds of the operating point: ``(flow, pressure)``, one mean for every quarter of a second.

    The quarters are counted from the beginning of the session, so that the trail does not wriggle as it slides.
    """
    last = math.floor(now / TRAIL_STEP)
    edges: Floats = np.arange(last - round(TRAIL_SECONDS / TRAIL_STEP), last + 2, dtype=np.float64) * TRAIL_STEP
    q, p = _means(flow, edges), _means(pressure, edges)
    known = np.isfinite(q) & np.isfinite(p)
    return q[known], p[known]


def _means(window: Window, edges: Floats) -> Floats:
    good = np.isfinite(window.value) & (window.time < edges[-1])  # the last of NumPy's bins is closed
    count, _ = np.histogram(window.time[good], edges)
    total, _ = np.histogram(window.time[good], edges, weights=window.value[good])
    return np.asarray(np.divide(total, count, out=np.full(len(count), np.nan), where=count > 0), dtype=np.float64)


def curve(now: Snapshot) -> Curve | None:
    """The fitted curve on a grid from no flow to free delivery, with its band; None without a fit."""
    return curve_of(now.fit)


def curve_of(fit: Any) -> Curve | None:
    """The same of any fit."""
    if fit is None:
        return None
    lowest, highest = fit.range
    end = fit.free_delivery.value if fit.free_delivery.known else highest
    q = np.linspace(0.0, max(end, highest), CURVE_POINTS)
    p = np.asarray(fit.pressure(q)[0], dtype=float)
    lower, upper = fit.band(q)
    return Curve(q, p, np.asarray(lower, dtype=float), np.asarray(upper, dtype=float), lowest, highest)
