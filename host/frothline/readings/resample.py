"""Resampling of readings to means over 50 ms, independent of the batches in which they arrive."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import nan
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Floats
from frothline.sensors.series import Status

if TYPE_CHECKING:
    from frothline.sensors.series import Series

TICK = 0.05  # s
FLOW_SIGNALS = ("rotor_frequency", "thermal_voltage", "differential_pressure")
FORGET = 3.0  # s after which a slow reading is no longer used


@dataclass(frozen=True)
class Tick:
    """One interval of 50 ms. NaN if unknown; a rotor at rest is a flow of 0.

    time : s, its end
    pressure : Pa gauge
    flow : m3/s at 1.2 kg/m3
    free_air : m3/s at the ambient state
    temperature : K of the air in the line
    ambient : Pa
    mass : kg on the scale
    saturated : whether the pressure sensor was saturated
    pressure_silent : whether the pressure sensor gave readings before and stopped
    flow_silent : whether a sensor needed for the flow gave readings before and stopped; the flow is held, or NaN
    flow_signal : whether the flow element gives a reading; without the pressure the flow may still be unknown
    flow_unseen : whether the rotor has given no pulse yet, so that its function is unknown
    pressure_frozen, flow_frozen : whether a reading stood still for too long to be one, see ``run.frozen_sensors``
    """

    time: float
    pressure: float
    flow: float
    free_air: float
    temperature: float = nan
    ambient: float = nan
    mass: float = nan
    saturated: bool = False
    flow_silent: bool = False
    pressure_silent: bool = False
    flow_signal: bool = False
    flow_unseen: bool = False
    pressure_frozen: bool = False
    flow_frozen: bool = False


@dataclass
class Resampler:
    """Converts series (dict by name, as from a converter) to ticks. ``u`` holds the newest systematic uncertainty of
    each series.
    """

    u: dict[str, float] = field(default_factory=dict)
    _rest: dict[str, Floats] = field(default_factory=dict)
    _slow: dict[str, tuple[Floats, Floats]] = field(default_factory=dict)

    def feed(self, found: Mapping[str, Series]) -> list[Tick]:
        """Take a batch; returns the ticks completed by it, oldest first. Missing series are NaN."""
        for name in ("line_temperature", "ambient_pressure", "scale_mass"):
            if name in found and len(found[name].time):
                self._remember(name, found[name])
        lead = found.get("line_pressure") or found.get("free_air_flow")
        if lead is None or not len(lead.time):
            return []
        columns = {"time": lead.time}
        for name in ("line_pressure", "standard_flow", "free_air_flow"):
            columns[name] = self._fast(found.get(name), lead.time)
        pressure = found.get("line_pressure")
        saturated, gone = np.zeros(len(lead.time)), np.zeros(len(lead.time))
        if pressure is not None and len(pressure.time) == len(lead.time):
            saturated = ((pressure.status & Status.SATURATED) > 0).astype(np.float64)
            gone = ((pressure.status & Status.SILENT) > 0).astype(np.float64)
        columns["saturated"], columns["gone"] = saturated, gone
        flow = found.get("standard_flow")
        columns["silent"], columns["unseen"] = np.zeros(len(lead.time)), np.zeros(len(lead.time))
        if flow is not None and len(flow.time) == len(lead.time):
            columns["silent"] = ((flow.status & Status.SILENT) > 0).astype(np.float64)
            columns["unseen"] = ((flow.status & Status.UNSEEN) > 0).astype(np.float64)
        columns["signal"] = np.zeros(len(lead.time))
        for name in FLOW_SIGNALS:
            if name in found and len(found[name].time) == len(lead.time):
                columns["signal"] = np.maximum(columns["signal"], np.isfinite(found[name].value))
        if self._rest:
            columns = {name: np.concatenate([self._rest[name], value]) for name, value in columns.items()}
        beat = np.floor(columns["time"] / TICK + 1e-6)
        last = int(np.searchsorted(beat, beat[-1]))  # the newest interval may continue in the next batch
        self._rest = {name: value[last:] for name, value in columns.items()}
        if last == 0:
            return []
        return self._ticks({name: value[:last] for name, value in columns.items()}, beat[:last])

    def _ticks(self, columns: Mapping[str, Floats], beat: Floats) -> list[Tick]:
        edges = np.flatnonzero(np.diff(beat)) + 1
        starts = np.concatenate([[0], edges])
        times = (beat[starts] + 1.0) * TICK
        p, q, air = (_means(columns[name], starts) for name in ("line_pressure", "standard_flow", "free_air_flow"))
        named = ("saturated", "silent", "gone", "signal", "unseen")
        flags = [np.maximum.reduceat(columns[name], starts) > 0 for name in named]
        slow = {name: self._held(name, times) for name in ("line_temperature", "ambient_pressure", "scale_mass")}
        table = np.column_stack([times, p, q, air, *slow.values()]).tolist()
        return [
            Tick(
                time,
                pressure,
                flow,
                free_air,
                temperature,
                ambient,
                mass,
                bool(out),
                bool(mute),
                bool(gone),
                bool(signal),
                bool(unseen),
            )
            for (time, pressure, flow, free_air, temperature, ambient, mass), out, mute, gone, signal, unseen in zip(
                table, *flags, strict=True
            )
        ]

    def _fast(self, series: Series | None, time: Floats) -> Floats:
        if series is None or len(series.time) != len(time):
            return np.full(len(time), nan)
        self._note_u(series)
        stopped = ((series.status & Status.STOPPED) > 0) & ~np.isfinite(series.value)
        return np.where(stopped, 0.0, series.value)

    def _note_u(self, series: Series) -> None:
        shared = series.u_systematic if len(series.u_systematic) == len(series.u) else series.u
        known = np.flatnonzero(np.isfinite(shared) & np.isfinite(series.value))
        if len(known):
            self.u[series.name] = float(shared[known[-1]])

    def _remember(self, name: str, series: Series) -> None:
        self._note_u(series)
        time, value = self._slow.get(name, (np.empty(0), np.empty(0)))
        self._slow[name] = np.concatenate([time, series.time])[-64:], np.concatenate([value, series.value])[-64:]

    def _held(self, name: str, times: Floats) -> Floats:
        time, value = self._slow.get(name, (np.empty(0), np.empty(0)))
        if not len(time):
            return np.full(len(times), nan)
        place = np.searchsorted(time, times, side="right") - 1
        place = np.maximum(place, 0)
        return np.where(np.abs(times - time[place]) < FORGET, value[place], nan)


def _means(values: Floats, starts: NDArray[np.intp]) -> Floats:
    """Mean of the known values in each interval, (n,) of (m,) values; NaN without any."""
    good = np.isfinite(values)
    count = np.add.reduceat(good.astype(np.float64), starts)
    total = np.add.reduceat(np.where(good, values, 0.0), starts)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(count > 0, total / count, nan)
