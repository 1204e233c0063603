"""Uncertainty budgets of channels at a chosen value, by the same converters as for a stream."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import numpy as np
import scipy

from frothline.errors import SensorMissing, SensorOutOfRange
from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import share
from frothline.sensors import ambient, analog, load_cell
from frothline.sensors.budget import Budget
from frothline.sensors.calibration import Calibration
from frothline.sensors.datasheets import AMBIENT, HX711, NTC, THERMAL
from frothline.sensors.description import RigDescription
from frothline.sensors.exhaust import assumed_line_temperature
from frothline.sensors.flow import FlowElement, air_power, flows
from frothline.sensors.line_state import LineState
from frothline.sensors.reading import Reading
from frothline.sensors.rotor import rotor_shares
from frothline.sensors.series import UNITS
from frothline.sensors.spool import Spool
from frothline.wire import ENUMS

_Sensor = TypeVar("_Sensor")
FLOWS = ("mass_flow", "line_flow", "free_air_flow", "standard_flow", "air_speed", "air_power")


@dataclass(frozen=True)
class BudgetConditions:
    """State of the rig and of the line for a budget, SI. ``conversions``: ADC conversions behind one sample."""

    line_pressure: float = 10e3
    line_temperature: float = 308.15
    ambient_pressure: float = 101325.0
    ambient_temperature: float = 293.15
    ambient_humidity: float = 0.5
    supply_voltage: float = 5.0
    conversions: int = 32


@dataclass(frozen=True)
class Budgeting:
    """Uncertainty budgets of one rig, from its description, calibration, spool and flow element."""

    description: RigDescription
    calibration: Calibration
    spool: Spool
    element: FlowElement | None

    def budget(self, name: str, value: float, conditions: BudgetConditions) -> Budget:
        """Budget of the series ``name`` at ``value`` (SI).

        SensorMissing for a series that does not exist or has no sensor; SensorOutOfRange for a value outside its range.
        """
        if name not in UNITS:
            raise SensorMissing(f"unknown series {name!r}", remedy=f"Known: {', '.join(UNITS)}")
        reading = self._flow(name, value, conditions) if name in FLOWS else self._direct(name, value, conditions)
        return Budget.of(name, UNITS[name], reading)

    def _pin(self, x: float, conditions: BudgetConditions) -> analog.Ratio:
        n = np.array([float(conditions.conversions)])
        return analog.ratio(x * n * self.description.adc.levels, n, self.description.adc)

    def _direct(self, name: str, value: float, conditions: BudgetConditions) -> Reading:
        get = self.calibration.get
        if name in {"line_pressure", "differential_pressure"}:
            kind = {"line_pressure": "pressure", "differential_pressure": "differential"}[name]
            sensor = self._fitted(self.description.pressure_sensor(kind), kind)
            zero = self.calibration.zeros.get(kind)
            return _solve(lambda x: analog.pressure(self._pin(x, conditions), sensor, get(kind), zero), value, name)
        if name == "line_temperature":
            ntc = self._fitted(NTC.get(self.description.sensor("temperature")), "temperature")
            return _solve(
                lambda x: analog.line_temperature(self._pin(x, conditions), ntc, get("temperature")), value, name
            )
        if name == "supply_voltage":
            return _solve(
                lambda x: analog.supply(self._pin(x, conditions), calibration=get("supply")), value, name, 0.15, 0.5
            )
        if name == "thermal_voltage":
            supply = self._direct("supply_voltage", conditions.supply_voltage, conditions)
            return _solve(lambda x: analog.volts(self._pin(x, conditions), supply.value, lambda: supply.u), value, name)
        if name == "rotor_frequency":
            return self._rotor(value)
        if name == "scale_mass":
            present = np.array([ENUMS["device_flag"]["present"]], np.uint8)
            zero = self.calibration.zeros.get("scale")
            return _solve(
                lambda x: load_cell.mass(np.array([x]), present, self.spool.scale, get("scale"), zero),
                value,
                name,
                -HX711.top + 1.0,
                HX711.top - 1.0,
            )
        if name == "scale_counts":
            raise SensorMissing("counts of the scale have no budget", where=name, remedy="Calibrate the scale")
        module = self._fitted(AMBIENT.get(self.description.sensor("ambient")), "ambient")
        return Reading(np.array([value]), np.zeros(1, np.uint8), ambient.shares(name, module))

    def _fitted(self, sensor: _Sensor | None, kind: str) -> _Sensor:
        if sensor is None:
            raise SensorMissing(f"no {kind} sensor is fitted or enabled", where=f"board {self.description.label!r}")
        return sensor

    def _rotor(self, value: float) -> Reading:
        f = np.array([value])
        ticks = max(1, self.spool.rotor.pulses_per_revolution) / np.maximum(f, 1e-6) * self.description.tick_hz
        nothing = np.zeros(1)
        return Reading(f, np.zeros(1, np.uint8), rotor_shares(f, nothing, np.sqrt(2 / 12) / ticks, nothing))

    def _state(self, conditions: BudgetConditions, pressure: Reading) -> LineState:
        site = self.spool.site
        _, u_line = assumed_line_temperature(
            site,
            conditions.ambient_temperature,
            site.u_ambient_temperature,
            conditions.line_pressure,
            conditions.ambient_pressure,
        )
        guesses = {
            "ambient_pressure": site.u_ambient_pressure,
            "ambient_temperature": site.u_ambient_temperature,
            "ambient_humidity": site.u_ambient_humidity,
            "line_temperature": float(u_line),
        }
        read: dict[str, Reading] = {}
        for name, assumed in guesses.items():
            value = float(getattr(conditions, name))
            kind = "temperature" if name == "line_temperature" else "ambient"
            if self.description.sensor(kind):
                read[name] = self._direct(name, value, conditions)
            if name not in read or not np.isfinite(read[name].u[0]):
                taken = share("assumed", "systematic", assumed, origin="spool file")
                read[name] = Reading(np.array([value]), np.zeros(1, np.uint8), (taken,))
        return LineState(
            pressure,
            read["line_temperature"],
            read["ambient_pressure"],
            read["ambient_temperature"],
            read["ambient_humidity"],
        )

    def _flow(self, name: str, value: float, conditions: BudgetConditions) -> Reading:
        element = self.element
        if element is None:
            raise SensorMissing("no flow sensor is fitted", where=f"board {self.description.label!r}")
        pressure = self._direct("line_pressure", conditions.line_pressure, conditions)

        # The state of the air depends on the signal only where the signal is the line pressure.
        settled = None if element.signal == "line_pressure" else self._state(conditions, pressure)

        def reading_at(x: float) -> Reading:
            signal = self._direct(element.signal, x, conditions)
            state = settled or self._state(conditions, signal)
            mass = element.mass_flow(signal, state)
            every = flows(mass, state, self.spool)
            return {
                "mass_flow": every.mass,
                "line_flow": every.line,
                "free_air_flow": every.free_air,
                "standard_flow": every.standard,
                "air_speed": every.speed,
                "air_power": air_power(state.line_pressure, every.standard),
            }[name]

        low, high = {
            "rotor_frequency": (1e-3, 5e3),
            "thermal_voltage": (THERMAL.zero + 1e-6, 4.95),
            "differential_pressure": (1e-3, 25e3),
            "line_pressure": (1e-3, 45e3),
        }[element.signal]
        for kind, ends in (("differential", "differential_pressure"), ("pressure", "line_pressure")):
            if element.signal == ends:  # limited to the range of the fitted sensor
                high = min(high, self._fitted(self.description.pressure_sensor(kind), kind).high)
        return _solve(reading_at, value, name, low, high)


def _solve(at: Callable[[float], Reading], value: float, name: str, low: float = 0.002, high: float = 0.99) -> Reading:
    """The reading with this value; the signal is searched between ``low`` and ``high``."""

    def miss(x: float) -> float:
        found: Floats = at(x).value
        return float(found[0]) - value

    # Near the ends of its pin a sensor may read missing, so only finite readings bracket the root.
    signals = np.linspace(low, high, 41)
    known = [(x, miss(x)) for x in signals]
    known = [(x, y) for x, y in known if np.isfinite(y)]
    for (x0, y0), (x1, y1) in pairwise(known):
        if y0 == 0:
            return at(x0)
        if y0 * y1 <= 0:
            return at(float(scipy.optimize.brentq(miss, x0, x1, xtol=1e-12 * max(abs(x0), abs(x1)), rtol=1e-13)))
    raise SensorOutOfRange(
        f"{name} cannot be {value:g} with the sensor that is fitted", remedy="Give a value within its range"
    )
