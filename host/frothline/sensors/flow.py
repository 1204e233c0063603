"""Flow from what the spool holds, several ways behind one interface.

Each element turns its signal and the state of the air into a mass flow with shares of uncertainty; mass is what is
conserved along the line, and every volume flow is made from it, with the state in its name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from frothline.physics import air
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.datasheets import THERMAL, ThermalAnemometer
from frothline.sensors.line_state import LineState, added, of_reading, scaled
from frothline.sensors.series import Floats, Status, Statuses, mark
from frothline.sensors.spool import Spool
from frothline.sensors.straight_length import installation_uncertainty
from frothline.sensors.uncertainty import Contribution, Reading, rectangular, share
from frothline.units import ZERO_CELSIUS

PROFILE_UNCERTAINTY = 0.01  # relative: the published forms of the profile differ by 2 to 3 % from end to end


class FlowElement(Protocol):
    """One way to a mass flow. ``signal`` names the series it reads."""

    @property
    def kind(self) -> str: ...

    @property
    def signal(self) -> str: ...

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,) with its shares in kg/s."""
        ...


def friction_factor(reynolds: ArrayLike) -> Floats:
    """Darcy friction factor of a smooth pipe: 64/Re below 2300, else Prandtl: 1/sqrt f = 2 log10(Re sqrt f) - 0.8."""
    re = np.maximum(np.asarray(reynolds, dtype=np.float64), 1.0)
    inverse = np.full_like(re, 6.0)
    for _ in range(12):
        inverse = 2 * np.log10(np.maximum(re, 2300.0) / inverse) - 0.8
    return np.where(re < 2300.0, 64 / re, inverse**-2)


def profile_factor(reynolds: ArrayLike) -> Floats:
    """Mean over centre speed of fully grown pipe flow, (n,) from Reynolds number.

    Power law u ~ y^(1/n) with n = 1/sqrt f: V/Vmax = 2 n2/((n+1)(2n+1)) (White, Fluid Mechanics, from memory); one half
    in laminar flow, and in between joined in proportion to Re.
    """
    re = np.asarray(reynolds, dtype=np.float64)
    n = 1 / np.sqrt(friction_factor(np.maximum(re, 4000.0)))
    turbulent = 2 * n**2 / ((n + 1) * (2 * n + 1))
    between = np.clip((re - 2300.0) / (4000.0 - 2300.0), 0.0, 1.0)
    return np.asarray(0.5 + between * (turbulent - 0.5), dtype=np.float64)


def _mean_from_centre(speed: Floats, line: LineState, bore: float) -> Floats:
    """Profile factor (n,) for a speed at the centre; three rounds bring the Reynolds number to its end."""
    with np.errstate(invalid="ignore"):
        per_speed = line.density * bore / line.viscosity
        factor = np.full(np.shape(speed), 0.82)
        for _ in range(3):
            factor = profile_factor(per_speed * np.abs(speed) * factor)
    return factor


@dataclass(frozen=True)
class RotorElement:
    """Pulse anemometer: volume at line state from rotor frequency, Q = f/K + v0 A, or by its calibration.

    A calibration maps Hz to m3/s at line state (or, in unit m/s, to the mean speed over the bore). With a K factor in
    pulses per metre the speed is that at the vane: mean speed = profile factor x it, through the bore less the
    blockage.
    """

    spool: Spool
    calibration: ChannelCalibration | None = None
    kind: str = "rotor"
    signal: str = "rotor_frequency"

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,)"""
        volume = self.volume_flow(signal, line)
        value = volume.value * line.density
        shares = added(scaled(volume.contributions, line.density), scaled(line.density_shares, value))
        return Reading(value, volume.status, shares)

    def volume_flow(self, signal: Reading, line: LineState) -> Reading:
        """m3/s at line state (n,)"""
        rotor, pipe = self.spool.rotor, self.spool.pipe
        status: Statuses = signal.status.copy()
        stopped = (status & Status.STOPPED) != 0
        f = signal.value
        if self.calibration is not None:
            fitted = self.calibration.evaluate(f)
            factor = pipe.area if self.calibration.unit == "m/s" else 1.0
            value = fitted.value * factor
            slope = self.calibration.slope(f) * factor
            mark(status, fitted.outside & ~stopped, Status.OUT_OF_RANGE)
            shares = scaled(self.calibration.shares(fitted), factor)
            if self.calibration.unit == "m/s":
                shares = (*shares, share("bore", "systematic", value * 2 * pipe.u_bore / pipe.bore))
        elif rotor.pulses_per_cubic_metre > 0:
            moved = f / rotor.pulses_per_cubic_metre
            slope = np.full(np.shape(f), 1 / rotor.pulses_per_cubic_metre)
            value = moved + rotor.start_speed * pipe.area
            shares = (
                share("K factor", "systematic", rotor.u_relative * moved, origin="spool file"),
                share("start-up speed", "systematic", rotor.u_start_speed * pipe.area, origin="spool file"),
                share("bore", "systematic", rotor.start_speed * pipe.area * 2 * pipe.u_bore / pipe.bore),
            )
        else:
            speed = f / rotor.pulses_per_metre + rotor.start_speed
            profile = _mean_from_centre(speed, line, pipe.bore)
            free = pipe.area * (1 - rotor.blockage)
            value = speed * profile * free
            slope = profile * free / rotor.pulses_per_metre
            shares = (
                share("K factor", "systematic", rotor.u_relative * slope * f, origin="spool file"),
                share("start-up speed", "systematic", rotor.u_start_speed * profile * free, origin="spool file"),
                share("profile", "systematic", PROFILE_UNCERTAINTY * value, origin="spread of published forms"),
                share("blockage", "systematic", value * rotor.u_blockage / (1 - rotor.blockage), origin="spool file"),
                share("bore", "systematic", value * 2 * pipe.u_bore / pipe.bore, origin="spool file"),
            )
        shares = (*shares, *of_reading("rotor_frequency", signal, slope), installation(self.spool, value))
        # Below its start-up speed a vane stands: the flow lies somewhere between nothing and that speed.
        still = rotor.start_speed * pipe.area
        value = np.where(stopped, 0.0, value)
        shares = (
            *(_where(s, ~stopped) for s in shares),
            share("below start-up speed", "systematic", np.where(stopped, rectangular(still), 0.0), "rectangular"),
        )
        with np.errstate(invalid="ignore"):
            mark(status, value > rotor.largest_speed * pipe.area, Status.OUT_OF_RANGE)
        return Reading(value, status, shares)


@dataclass(frozen=True)
class ThermalElement:
    """Thermal anemometer: such a probe feels density times speed at its tip.

    Uncalibrated, the maker's regression of the module is used. A calibration of form ``king`` holds King's law with
    compensation of the overheat (``king.py``).
    """

    spool: Spool
    calibration: ChannelCalibration | None = None
    sensor: ThermalAnemometer = THERMAL
    kind: str = "thermal"
    signal: str = "thermal_voltage"

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,)"""
        pipe, thermal, sensor = self.spool.pipe, self.spool.thermal, self.sensor
        status: Statuses = signal.status.copy()
        volts = signal.value
        temperature = line.line_temperature.value
        speed, per_volt, per_kelvin = regression_speed(volts, temperature, sensor)
        if self.calibration is not None:
            # The workshop's line corrects the speed that the maker's law gives.
            fitted = self.calibration.evaluate(speed)
            slope = self.calibration.slope(speed)
            mark(status, fitted.outside, Status.OUT_OF_RANGE)
            tip, per_volt, per_kelvin = fitted.value, per_volt * slope, per_kelvin * slope
            own: tuple[Contribution, ...] = self.calibration.shares(fitted)
        else:
            tip = speed
            own = (share("module", "systematic", rectangular(sensor.band) * speed, "rectangular", sensor.source),)
            with np.errstate(invalid="ignore"):
                mark(status, (speed > sensor.high) | (speed < sensor.low), Status.OUT_OF_RANGE)
        if thermal.position == "centre":
            profile = _mean_from_centre(tip * sensor.density / line.density, line, pipe.bore)
        else:
            profile = np.ones(np.shape(tip))  # at three quarters of the radius the speed is the mean within 1 %
        free = pipe.area * (1 - thermal.blockage)
        factor = sensor.density * profile * free
        value = tip * factor
        shares = (
            *scaled(own, factor),
            *of_reading("thermal_voltage", signal, per_volt * factor),
            *of_reading("line_temperature", line.line_temperature, per_kelvin * factor),
            share("profile", "systematic", PROFILE_UNCERTAINTY * value, origin="spread of published forms"),
            share("blockage", "systematic", value * thermal.u_blockage / (1 - thermal.blockage), origin="spool file"),
            share("bore", "systematic", value * 2 * pipe.u_bore / pipe.bore, origin="spool file"),
            installation(self.spool, value),
        )
        mark(status, np.isnan(value), Status.MISSING)
        return Reading(value, status, shares)


def regression_speed(volts: Floats, temperature: Floats, sensor: ThermalAnemometer) -> tuple[Floats, Floats, Floats]:
    """Speed m/s at the sensor's own density, and its slopes per V and per K, (n,) each."""
    celsius = np.maximum(temperature - ZERO_CELSIUS, 1.0)
    rise = np.maximum(volts - sensor.zero, 0.0)
    speed = (rise / (sensor.gain * celsius**sensor.warmth)) ** sensor.power
    with np.errstate(divide="ignore", invalid="ignore"):
        per_volt = np.where(rise > 0, sensor.power * speed / rise, 0.0)
    return speed, per_volt, -sensor.power * sensor.warmth * speed / celsius


def installation(spool: Spool, value: Floats) -> Contribution:
    """What too short a straight length adds; see ``straight_length``."""
    return share(
        "installation",
        "systematic",
        installation_uncertainty(spool) * value,
        "rectangular",
        "ISO 5167-2:2003 table 3, straight length as built",
    )


def _where(item: Contribution, mask: np.ndarray) -> Contribution:
    return Contribution(
        item.source, item.kind, np.where(mask, item.standard, 0.0), item.distribution, item.origin, item.dof
    )


@dataclass(frozen=True)
class Flows:
    """One flow in all the ways it is said: kg/s, m3/s at line, free-air and standard state, m/s mean over the bore."""

    mass: Reading
    line: Reading
    free_air: Reading
    standard: Reading
    speed: Reading


def flows(mass: Reading, line: LineState, spool: Spool) -> Flows:
    """Every volume flow from the mass flow; what mass flow and density share in doubt cancels where it does."""
    status = mass.status
    pipe = spool.pipe
    line_value = mass.value / line.density
    in_line = scaled(added(mass.contributions, scaled(line.density_shares, -mass.value)), 1 / line.density)
    free = scaled(added(mass.contributions, scaled(line.ambient_density_shares, -mass.value)), 1 / line.ambient_density)
    bore = share("bore", "systematic", -line_value * 2 * pipe.u_bore / pipe.bore)
    return Flows(
        mass,
        Reading(line_value, status, in_line),
        Reading(mass.value / line.ambient_density, status, free),
        Reading(mass.value / air.STANDARD_DENSITY, status, scaled(mass.contributions, 1 / air.STANDARD_DENSITY)),
        Reading(line_value / pipe.area, status, scaled(added(in_line, (bore,)), 1 / pipe.area)),
    )


def air_power(pressure: Reading, standard: Reading) -> Reading:
    """W: gauge pressure times standard flow, the air power of the vacuum-cleaner air-performance tests."""
    shares = added(
        scaled(standard.contributions, pressure.value), of_reading("line_pressure", pressure, standard.value)
    )
    return Reading(pressure.value * standard.value, pressure.status | standard.status, shares)


__all__ = ["FlowElement", "Flows", "RotorElement", "ThermalElement", "air_power", "flows", "profile_factor"]
