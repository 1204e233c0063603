"""Guided calibrations of the anemometers: with a bag of known volume, and with the set of drilled plates."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from frothline.physics import air
from frothline.physics.hole import sharp_plate_flow
from frothline.physics.pipe import profile_factor
from frothline.sensors.anemometers import PROFILE
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.calibration_fit import Fit
from frothline.sensors.kings_law import REFERENCE, WIRE, fit_king
from frothline.sensors.procedures.base import Figures, Procedure, Question
from frothline.sensors.spool import MOST_PULSES, Spool

ROOT3 = math.sqrt(3.0)


def pulses_question(answers: Figures) -> Question:
    """Question for the rotor's pulses per revolution, which is never assumed."""
    words = "rotor pulses per turn (number of magnets)"
    return Question("pulses", words, "count", 1.0, float(MOST_PULSES), answers.get("pulses"))


@dataclass
class FlowByBag(Procedure):
    """Flow from the time to fill a bag of known volume; the bag is at room pressure.

    Line volume = bag volume x density in the bag / density in the line.
    """

    bag_volume_relative: float = 0.02  # relative standard uncertainty of the bag's volume, common to all points
    reaction: float = 0.2  # s, limit of starting and of stopping
    bag_temperature_limit: float = 3.0  # K, between line and bag
    title = "Flow against a bag of known volume"
    channel = "rotor"
    unit = "m3/s"
    how = "bag of known volume"
    fewest = 3
    timed = True
    follows = ("line_pressure", "line_temperature", "ambient_pressure", "ambient_temperature", "ambient_humidity")

    def questions(self) -> tuple[Question, ...]:
        bag = Question("volume", "volume of the full bag", "volume", 0.005, 5.0, self.answers.get("volume"))
        return (bag, pulses_question(self.answers))

    def say(self) -> str:
        return "Set an opening and let it settle. Empty the bag; press when you put it over the end."

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        water = air.water_fraction(state["ambient_temperature"], state["ambient_pressure"], state["ambient_humidity"])
        warm = state["line_temperature"]
        in_bag = air.density_at_water_fraction(warm, state["ambient_pressure"], water)
        in_line = air.density_at_water_fraction(warm, state["ambient_pressure"] + state["line_pressure"], water)
        flow = answers["volume"] / seconds * float(in_bag) / float(in_line)
        u_time = math.sqrt(2) * self.reaction / ROOT3 / seconds
        u_warm = self.bag_temperature_limit / ROOT3 / warm
        return flow, flow * math.hypot(u_time, u_warm)

    def shared(self) -> tuple[float, float]:
        return 0.0, self.bag_volume_relative


@dataclass
class FlowByPlates(Procedure):
    """Flow through the set of drilled plates at the end of the line: one point a plate."""

    spool: Spool | None = None
    u_hole: float = 5e-5  # m
    discharge_relative: float = 0.02  # standard, common to all plates, which are drilled by one person
    plate_to_plate: float = 0.01  # standard, difference between plates
    title = "Flow against drilled plates"
    from_pressure: list[float] = field(default_factory=list, init=False)  # relative, by point
    channel = "rotor"
    unit = "m3/s"
    how = "set of drilled plates"
    fewest = 3
    follows = FlowByBag.follows

    def questions(self) -> tuple[Question, ...]:
        return (Question("hole", "diameter of the plate's hole", "length", 0.005, 0.06), pulses_question(self.answers))

    def say(self) -> str:
        return "Put the next plate on the end of the line and enter its hole diameter."

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del seconds
        # Flow goes with the root of the pressure, whose error is the same at every plate.
        del self.from_pressure[len(self.points) :]
        self.from_pressure.append(0.5 * state["u_line_pressure"] / max(state["line_pressure"], 1.0))
        spool = self.spool or Spool.default()
        density = float(
            air.line_density(
                state["line_temperature"],
                state["line_pressure"],
                state["ambient_temperature"],
                state["ambient_pressure"],
                state["ambient_humidity"],
            )
        )
        hole = answers["hole"]
        made = sharp_plate_flow(spool.pipe.bore, hole, state["line_pressure"], state["ambient_pressure"], density)
        flow = float(made.mass_flow) / density
        return flow, flow * math.hypot(2 * self.u_hole / hole, self.plate_to_plate)

    def drop(self, index: int = -1) -> None:
        super().drop(index)
        del self.from_pressure[index]

    def shared(self) -> tuple[float, float]:
        return 0.0, math.hypot(self.discharge_relative, max(self.from_pressure, default=0.0))


@dataclass
class ThermalByPlates(FlowByPlates):
    """Thermal anemometer with the plates: King's law from voltage, air temperature and speed at the tip."""

    title = "Thermal anemometer against drilled plates"
    channel = "thermal"
    unit = "m/s"
    temperatures: list[float] = field(default_factory=list, init=False)

    def say(self) -> str:
        return (
            "Put the next plate on the end of the line and enter its hole diameter; a blind plate first."
            if not self.points
            else super().say()
        )

    def questions(self) -> tuple[Question, ...]:
        return (Question("hole", "diameter of the plate's hole (0 for a blind plate)", "length", 0.0, 0.06),)

    def reference(self, answers: Figures, state: Figures, seconds: float) -> tuple[float, float]:
        del self.temperatures[len(self.points) :]
        self.temperatures.append(state["line_temperature"])
        if answers["hole"] == 0.0:
            self.from_pressure.append(0.0)
            return 0.0, 0.0
        spool = self.spool or Spool.default()
        flow, u = super().reference(answers, state, seconds)
        water = air.water_fraction(state["ambient_temperature"], state["ambient_pressure"], state["ambient_humidity"])
        pressure = state["ambient_pressure"] + state["line_pressure"]
        density = float(air.density_at_water_fraction(state["line_temperature"], pressure, water))
        reynolds = (
            4 * flow * density / (np.pi * spool.pipe.bore * float(air.viscosity(state["line_temperature"], water)))
        )
        profile = float(profile_factor(reynolds)) if spool.thermal.position == "centre" else 1.0
        factor = density / air.STANDARD_DENSITY / (profile * spool.pipe.area * (1 - spool.thermal.blockage))
        return flow * factor, u * factor

    def shared(self) -> tuple[float, float]:
        return 0.0, math.hypot(super().shared()[1], PROFILE)

    def drop(self, index: int = -1) -> None:
        super().drop(index)
        del self.temperatures[index]

    def fitted(self) -> tuple[Fit, Fit | None, str]:
        e, ue, v, uv = (np.array([getattr(p, key) for p in self.points]) for key in ("x", "u_x", "y", "u_y"))
        fit = fit_king(e, ue, np.array(self.temperatures), v, uv)
        return fit, None, f"King's law with exponent {fit.coefficients[2]:.3f}, overheat compensated"

    def calibration(self, fit: Fit, rival: Fit | None, reason: str, date: str) -> ChannelCalibration:
        made = super().calibration(fit, rival, reason, date)
        speeds = [p.y for p in self.points]
        law = {"wire": WIRE, "reference": REFERENCE, "density": air.STANDARD_DENSITY}
        return replace(made, king=law, low=min(speeds), high=max(speeds))
