"""Guided calibrations of pressure sensor and scale: set points, typed references and their uncertainties.

Limits of manual reading are common practice without a source unless stated otherwise; each is a field of its procedure.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from frothline.physics.water import local_gravity, water_density
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_check import nominal_lines, refuse_supply, refuse_zero, zero_limit
from frothline.sensors.calibration_fit import Fit
from frothline.sensors.description import RigDescription
from frothline.sensors.procedures.base import Figures, Point, Procedure, Question, Stage, line_through
from frothline.sensors.procedures.flow import FlowByBag, FlowByPlates, ThermalByPlates
from frothline.sensors.series import Series, Signal
from frothline.sensors.spool import Spool
from frothline.units import STANDARD_GRAVITY, ZERO_CELSIUS

ROOT3 = math.sqrt(3.0)
AIR = 1.2  # kg/m3, of the air above the water: 0.1 % of the water's density, so one value is enough
STEEL = 8000.0  # kg/m3, convention of weights (OIML R 111)


@dataclass
class PressureByWater(Procedure):
    """Pressure with a clear hose of water bent to a U: p = (rho_water - rho_air) g h."""

    latitude: float = float("nan")  # rad; standard gravity +-0.3 % without it
    altitude: float = 0.0  # m
    reading_limit: float = 1e-3  # m, of one leg
    title = "Pressure against a water manometer"
    channel = "pressure"
    unit = "Pa"
    how = "water manometer"
    fewest = 3

    def questions(self) -> tuple[Question, ...]:
        warmth = self.answers.get("water_temperature", 293.15)
        return (
            Question("height", "height difference of the two levels", "length", -0.05, 6.0),
            Question("water_temperature", "temperature of the water", "temperature", 274.15, 313.15, warmth),
        )

    def say(self) -> str:
        if not self.points:
            return "Open both ends to the room so the levels are equal, and enter 0."
        return "Apply pressure, clamp the hose, and enter the height difference."

    @property
    def gravity(self) -> tuple[float, float]:
        """m/s2 and its standard uncertainty."""
        if math.isnan(self.latitude):
            return STANDARD_GRAVITY, 0.003 * STANDARD_GRAVITY / ROOT3
        return local_gravity(self.latitude, self.altitude), 0.001

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del state, seconds
        weight = (float(water_density(answers["water_temperature"])) - AIR) * self.gravity[0]
        return weight * answers["height"], weight * math.sqrt(2) * self.reading_limit / ROOT3

    def shared(self) -> tuple[float, float]:
        gravity, u_gravity = self.gravity
        warmth = self.answers.get("water_temperature", 293.15)
        around = np.clip([warmth - 1.0, warmth + 1.0], ZERO_CELSIUS + 0.1, ZERO_CELSIUS + 39.9)
        low, high = float(water_density(float(around[0]))), float(water_density(float(around[1])))
        # The thermometer may be 2 K off, tap water 0.05 % denser than pure.
        u_density = math.hypot(abs(high - low) / low / ROOT3, 5e-4 / ROOT3)
        return 0.0, math.hypot(u_gravity / gravity, u_density)


@dataclass
class ScaleByMasses(Procedure):
    """Scale with known masses; the first point is the empty pan."""

    u_mass_relative: float = 0.001  # standard, of each mass: a kitchen scale
    shared_relative: float = 0.0005
    title = "Scale against known masses"
    channel = "scale"
    unit = "kg"
    how = "known masses"
    fewest = 3

    def questions(self) -> tuple[Question, ...]:
        return (Question("mass", "mass on the pan", "mass", 0.0, 300.0, None if self.points else 0.0),)

    def say(self) -> str:
        return "Put the next mass on the pan." if self.points else "Empty the pan."

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del state, seconds
        return answers["mass"], max(self.u_mass_relative * answers["mass"], 5e-4)

    def shared(self) -> tuple[float, float]:
        return 0.0, self.shared_relative


@dataclass
class ScaleByWater(ScaleByMasses):
    """Scale with measured volumes of water, weighed in air: V rho (1 - rho_air/rho)/(1 - rho_air/rho_steel)."""

    u_volume_relative: float = 0.003  # standard, of each filling: a graduated jug
    shared_relative: float = 0.003
    title = "Scale against volumes of water"
    how = "volumes of water"

    def questions(self) -> tuple[Question, ...]:
        warmth = self.answers.get("water_temperature", 293.15)
        return (
            Question("volume", "total water on the pan", "volume", 0.0, 0.3, None if self.points else 0.0),
            Question("water_temperature", "temperature of the water", "temperature", 274.15, 313.15, warmth),
        )

    def say(self) -> str:
        return (
            "Pour the next measure into the bucket on the pan." if self.points else "Put the empty bucket on the pan."
        )

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del state, seconds
        density = float(water_density(answers["water_temperature"]))
        mass = answers["volume"] * density * (1 - AIR / density) / (1 - AIR / STEEL)
        return mass, max(self.u_volume_relative * mass, 5e-4)


@dataclass
class ThermistorByIce(Procedure):
    """Thermistor with melting ice and one warm point; two points, one straight line in 1/T."""

    u_ice: float = 0.05  # K: crushed ice of tap water, well stirred
    u_thermometer: float = 0.3  # K
    title = "Line temperature against ice and one warm point"
    channel = "temperature"
    unit = "1/K"
    how = "melting ice and one warm point"
    hold_seconds = 10.0
    fewest = 2

    def questions(self) -> tuple[Question, ...]:
        if not self.points:
            return ()
        return (Question("temperature", "reading of the thermometer", "temperature", 288.15, 363.15),)

    def say(self) -> str:
        if not self.points:
            return "Stir the thermistor in crushed ice with a little water until the reading is steady."
        return "Put thermistor and thermometer into warm water together, and stir."

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del state, seconds
        if not self.points:
            return 1 / ZERO_CELSIUS, self.u_ice / ZERO_CELSIUS**2
        warm = answers["temperature"]
        return 1 / warm, self.u_thermometer / warm**2

    def fitted(self) -> tuple[Fit, Fit | None, str]:
        return line_through(self.points, 1), None, "straight in 1/T: what R25, B and the divider do to first order"

    def calibration(self, fit: Fit, rival: Fit | None, reason: str, date: str) -> ChannelCalibration:
        made = super().calibration(fit, rival, reason, date)
        # Valid from 10 K below the ice to 30 K above the warm point: the law in between is the maker's.
        points = sorted(1 / p.x for p in self.points)
        return replace(made, low=1 / (points[-1] + 30.0), high=1 / (points[0] - 10.0))


@dataclass
class SupplyByMeter(Procedure):
    """Supply with a multimeter: one factor, the bandgap of this board's chip."""

    u_meter_relative: float = 0.005  # standard: +-(0.8 % + digits) of common meters
    title = "Supply voltage against a multimeter"
    channel = "supply"
    unit = "V"
    how = "multimeter at the board's supply"
    fewest = 1

    def questions(self) -> tuple[Question, ...]:
        return (Question("volts", "reading of the multimeter", "voltage", 4.0, 5.6),)

    def say(self) -> str:
        return "Connect the multimeter to 5 V and ground of the board and enter its reading."

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del state, seconds
        return answers["volts"], 1e-3

    def fitted(self) -> tuple[Fit, Fit | None, str]:
        x, y = np.array([p.x for p in self.points]), np.array([p.y for p in self.points])
        w = np.array([1 / (p.u_y**2 + (p.y / p.x * p.u_x) ** 2) for p in self.points])
        factor = float(np.sum(w * x * y) / np.sum(w * x * x))
        covariance = np.zeros((2, 2))
        covariance[1, 1] = 1 / np.sum(w * x * x)
        left = y - factor * x
        fit = Fit(np.array([0.0, factor]), covariance, float(np.sum(w * left**2)), x.size - 1, left)
        return fit, None, "proportional: the bandgap is one constant of the chip"

    def refuse(self, point: Point) -> str:
        return refuse_supply(point.x, point.y)

    def line(self) -> tuple[Fit, Fit | None, str, str]:
        return *self.fitted(), ""  # each point was checked; a single factor has no slope

    def calibration(self, fit: Fit, rival: Fit | None, reason: str, date: str) -> ChannelCalibration:
        made = super().calibration(fit, rival, reason, date)
        return replace(made, low=made.low * 0.85, high=made.high * 1.15)

    def shared(self) -> tuple[float, float]:
        return 0.0, self.u_meter_relative


@dataclass
class AutoZero(Procedure):
    """Reading of the channel with the source off (pressure, differential) or the pan empty (scale)."""

    which: str = "pressure"
    limit: float = math.inf  # Pa, see calibration_check.zero_limit
    title = "Zero with the source at rest"
    how = "source at rest"
    fewest = 1

    def __post_init__(self) -> None:
        self.channel = self.which

    def say(self) -> str:
        return "Empty the pan." if self.which == "scale" else "Stop the source and open the line to the room."

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del answers, state, seconds
        return 0.0, 0.0

    def feed(self, signals: Mapping[str, Signal], series: Mapping[str, Series]) -> None:
        speed = series.get("air_speed")
        if self.stage is Stage.HOLD and speed is not None and self.which != "scale":
            known = speed.value[np.isfinite(speed.value)]
            if known.size and float(known[-1]) > 0.0:
                self.problem = (
                    "Air is still moving through the spool: stop the source; the zero is then taken automatically."
                )
                self._clear()
                return
        super().feed(signals, series)

    def refuse(self, point: Point) -> str:
        return "" if self.which == "scale" else refuse_zero(point.x, self.limit, "Pa", self.expected)

    def apply(self, calibration: Calibration, date: str = "") -> Calibration:
        """A copy of ``calibration`` with the zero."""
        del date
        self._must_be(Stage.CHOOSE)
        self.stage = Stage.DONE
        return calibration.with_zero(self.which, self.points[-1].x)


PROCEDURES: Mapping[str, type[Procedure]] = {
    "pressure": PressureByWater,
    "flow-bag": FlowByBag,
    "flow-plates": FlowByPlates,
    "thermal-plates": ThermalByPlates,
    "scale-masses": ScaleByMasses,
    "scale-water": ScaleByWater,
    "temperature": ThermistorByIce,
    "supply": SupplyByMeter,
    "zero": AutoZero,
}


def guided(
    name: str, description: RigDescription, spool: Spool, *, who: str = "", channel: str = "pressure"
) -> Procedure:
    """The procedure of that name (a key of PROCEDURES) for this board; ``channel`` is that of a zero."""
    kind = PROCEDURES[name]
    more: dict[str, Any] = {}
    if issubclass(kind, AutoZero):
        more = {"which": channel, "limit": zero_limit(description, channel)}
    elif issubclass(kind, FlowByPlates):
        more = {"spool": spool}
    made = kind(who=who, board=description.label, **more)
    made.expected = nominal_lines(description, spool).get(made.channel)
    return made
