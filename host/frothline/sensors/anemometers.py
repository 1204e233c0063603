"""Anemometers in the spool: the rotor, which measures volume flow, and the thermal probe, which measures mass flow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from frothline.numerics.arrays import Floats, Statuses
from frothline.numerics.uncertainty import Contribution, rectangular, share
from frothline.physics.pipe import profile_factor
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.datasheets import THERMAL, ThermalAnemometer
from frothline.sensors.flow import installation
from frothline.sensors.kings_law import KingLaw
from frothline.sensors.line_state import LineState, added, of_reading, scaled
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status, mark
from frothline.sensors.spool import Spool
from frothline.units import ZERO_CELSIUS

PROFILE = 0.015  # relative, of the profile factor: the published forms differ by 2 to 4 % from end to end
PROFILE_ORIGIN = "spread of the published profiles"
QUARTER_POINT = 0.01  # relative: at three quarters of the radius the speed is the mean for any profile


def mean_over_centre(speed: Floats, line: LineState, bore: float) -> Floats:
    """Profile factor (n,) for a centre speed in m/s; three iterations converge the Reynolds number."""
    with np.errstate(invalid="ignore"):
        per_speed = line.density * bore / line.viscosity
        factor = np.full(np.shape(speed), 0.82)
        for _ in range(3):
            factor = np.asarray(profile_factor(np.maximum(per_speed * np.abs(speed) * factor, 1.0)))
    return factor


@dataclass(frozen=True)
class RotorElement:
    """Pulse anemometer: volume flow at line state from rotor frequency, Q = f/K + v0 A, or by its calibration.

    A calibration maps Hz to m3/s at line state (or, in unit m/s, to the mean speed over the bore), straight or curved.
    With a K factor in pulses per metre the speed is that at the vane; the mean is the profile factor times it, over the
    bore less the blockage.
    """

    spool: Spool
    calibration: ChannelCalibration | None = None
    kind: str = "rotor"
    signal: str = "rotor_frequency"

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,)"""
        volume = self.volume_flow(signal, line)
        value = volume.value * line.density
        return Reading(
            value,
            volume.status,
            lambda: added(scaled(volume.contributions, line.density), scaled(line.density_shares, value)),
        )

    def volume_flow(self, signal: Reading, line: LineState) -> Reading:
        """m3/s at line state (n,)"""
        rotor, pipe = self.spool.rotor, self.spool.pipe
        status: Statuses = signal.status.copy()
        if self.calibration is None and not rotor.calibrated:
            mark(status, np.ones(status.shape, np.bool_), Status.UNCALIBRATED)
        stopped = (status & Status.STOPPED) != 0
        value, slope, own, outside = self._law(signal.value, line)
        mark(status, outside & ~stopped, Status.OUT_OF_RANGE)
        by_law = value
        value = np.where(stopped, 0.0, value)
        with np.errstate(invalid="ignore"):
            mark(status, value > rotor.largest_speed * pipe.area, Status.OUT_OF_RANGE)

        def shares() -> tuple[Contribution, ...]:
            moving = (*own(), *of_reading("rotor_frequency", signal, slope()), installation(self.spool, by_law))
            # Below its start-up speed a vane is at rest: the flow is between zero and that speed.
            still = np.where(stopped, rectangular(rotor.start_speed * pipe.area), 0.0)
            standing = share("below start-up speed", "systematic", still, "rectangular", "spool")
            return (*(_where(item, ~stopped) for item in moving), standing)

        return Reading(value, status, shares)

    def _law(
        self, f: Floats, line: LineState
    ) -> tuple[Floats, Callable[[], Floats], Callable[[], tuple[Contribution, ...]], np.ndarray]:
        """Volume flow; its slope per Hz and its contributions, when they are asked for; where it is outside the
        calibration.
        """
        rotor, pipe, origin = self.spool.rotor, self.spool.pipe, "spool file"
        whole = not rotor.calibrated  # for a rotor without a measured K, the uncertainty applies to the whole flow
        nowhere = np.zeros(np.shape(f), bool)
        relative_area = 2 * pipe.u_bore / pipe.bore
        if self.calibration is not None:
            fitted = self.calibration.evaluate(f)
            speed = self.calibration.unit == "m/s"
            factor = pipe.area if speed else 1.0
            calibration, of_line = self.calibration, fitted.value * factor

            def calibrated() -> tuple[Contribution, ...]:
                own = scaled(calibration.shares(fitted), factor)
                return (*own, share("bore", "systematic", of_line * relative_area, origin=origin)) if speed else own

            return of_line, lambda: calibration.slope(f) * factor, calibrated, fitted.outside
        if rotor.pulses_per_cubic_metre > 0:
            moved = f / rotor.pulses_per_cubic_metre
            still = rotor.start_speed * pipe.area
            return (
                moved + still,
                lambda: np.full(np.shape(f), 1 / rotor.pulses_per_cubic_metre),
                lambda: (
                    share("K factor", "systematic", rotor.u_relative * (moved + still * whole), origin=origin),
                    share("start-up speed", "systematic", rotor.u_start_speed * pipe.area, origin=origin),
                    share("bore", "systematic", still * relative_area, origin=origin),
                ),
                nowhere,
            )
        speed_there = f / rotor.pulses_per_metre + rotor.start_speed
        profile = mean_over_centre(speed_there, line, pipe.bore)
        free = pipe.area * (1 - rotor.blockage)
        value = speed_there * profile * free

        def slope() -> Floats:
            return profile * free / rotor.pulses_per_metre

        return (
            value,
            slope,
            lambda: (
                share("K factor", "systematic", rotor.u_relative * (value if whole else slope() * f), origin=origin),
                share("start-up speed", "systematic", rotor.u_start_speed * profile * free, origin=origin),
                share("profile", "systematic", PROFILE * value, origin=PROFILE_ORIGIN),
                share("blockage", "systematic", -value * rotor.u_blockage / (1 - rotor.blockage), origin=origin),
                share("bore", "systematic", value * relative_area, origin=origin),
            ),
            nowhere,
        )


@dataclass(frozen=True)
class ThermalElement:
    """Thermal anemometer: density times speed at its tip.

    Without a calibration the maker's regression of the module is used; a calibration is King's law with overheat
    compensation.
    """

    spool: Spool
    calibration: ChannelCalibration | None = None
    sensor: ThermalAnemometer = THERMAL
    kind: str = "thermal"
    signal: str = "thermal_voltage"

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,)"""
        pipe, thermal = self.spool.pipe, self.spool.thermal
        status: Statuses = signal.status.copy()
        tip, per_volt, per_kelvin, own, outside, density = self._law(signal.value, line.line_temperature.value)
        mark(status, outside, Status.OUT_OF_RANGE)
        if thermal.position == "centre":
            profile, doubt = mean_over_centre(tip * density / line.density, line, pipe.bore), PROFILE
        else:
            profile, doubt = np.ones(np.shape(tip)), QUARTER_POINT
        factor = density * profile * pipe.area * (1 - thermal.blockage)
        value = tip * factor

        def shares() -> tuple[Contribution, ...]:
            return (
                *scaled(own, factor),
                *of_reading("thermal_voltage", signal, per_volt * factor),
                *of_reading("line_temperature", line.line_temperature, per_kelvin * factor),
                share("profile", "systematic", doubt * value, origin=PROFILE_ORIGIN),
                share(
                    "blockage", "systematic", -value * thermal.u_blockage / (1 - thermal.blockage), origin="spool file"
                ),
                share("bore", "systematic", value * 2 * pipe.u_bore / pipe.bore, origin="spool file"),
                installation(self.spool, value),
            )

        mark(status, np.isnan(value) & (status == 0), Status.MISSING)
        return Reading(value, status, shares)

    def _law(
        self, volts: Floats, temperature: Floats
    ) -> tuple[Floats, Floats, Floats, tuple[Contribution, ...], np.ndarray, float]:
        """Speed at the tip, its slopes per V and per K, its own shares, where the law is left, and its density."""
        sensor, calibration = self.sensor, self.calibration
        if calibration is not None and calibration.king is not None:
            law = calibration.king
            king = KingLaw(*(float(c) for c in calibration.coefficients), **law)
            tip = king.speed(volts, temperature)
            per_volt, per_kelvin, by_law = king.gradient(volts, temperature)
            u = np.sqrt(np.einsum("...i,ij,...j->...", by_law, calibration.covariance, by_law))
            u = np.hypot(u, calibration.systematic + calibration.relative_systematic * tip)
            origin = f"{calibration.how}, {calibration.date}"
            own: tuple[Contribution, ...] = (share("calibration", "systematic", u, origin=origin, dof=calibration.dof),)
            with np.errstate(invalid="ignore"):
                outside = (tip < calibration.low) | (tip > calibration.high)
            return tip, per_volt, per_kelvin, own, outside, king.density
        speed, per_volt, per_kelvin = regression_speed(volts, temperature, sensor)
        module = share("module", "systematic", rectangular(sensor.band) * speed, "rectangular", sensor.source)
        with np.errstate(invalid="ignore"):
            outside = (speed > sensor.high) | (speed < sensor.low)
        return speed, per_volt, per_kelvin, (module,), outside, sensor.density


def regression_speed(volts: Floats, temperature: Floats, sensor: ThermalAnemometer) -> tuple[Floats, Floats, Floats]:
    """Speed (m/s) at the sensor's own density by the maker's regression, and its slopes per V and per K, (n,) each."""
    celsius = np.maximum(temperature - ZERO_CELSIUS, 1.0)
    rise = np.maximum(volts - sensor.zero, 0.0)
    speed = (rise / (sensor.gain * celsius**sensor.warmth)) ** sensor.power
    with np.errstate(divide="ignore", invalid="ignore"):
        per_volt = np.where(rise > 0, sensor.power * speed / rise, 0.0)
    return speed, per_volt, -sensor.power * sensor.warmth * speed / celsius


def _where(item: Contribution, there: np.ndarray) -> Contribution:
    kept = np.where(there, item.standard, 0.0)
    return Contribution(item.source, item.kind, kept, item.distribution, item.origin, item.dof)
