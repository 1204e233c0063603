"""Fan laws: an air source's curve at another air density or voltage, and the limits of the laws.

At constant speed a fan moves the same volume, and its pressure is proportional to the density of the intake air; the
volume goes as the speed and the pressure as its square (ISO 5801 and AMCA 210 give these laws; speed and density parts
were read in engineering texts that quote them). A vacuum's series motor has no governor and runs faster in thinner air.
The vacuum-cleaner test (ASTM F558, from memory) therefore corrects pressure by 1 + 0.667 (1 - density ratio) instead of
by 1 / density ratio; both are offered, and the difference between them is given as an uncertainty.

All flows here are standard flows (mass flow over 1.2 kg/m3), so that a density ratio enters the flow once more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite, nan

from frothline.curve.source_entries import ALTITUDES, Motor, known_motor
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import OutsideValidity
from frothline.estimate import Estimate
from frothline.physics import air

SERIES_SUCTION = 0.667  # ASTM F558, from memory: corrected pressure = pressure (1 + 0.667 (1 - density ratio))
DENSITY_LIMITS = (0.7, 1.15)  # ratio to 1.2 kg/m3, validity of the laws: about 3500 m altitude up to a cold day
SPEED_LIMITS = (0.8, 1.25)  # beyond, flow patterns and losses no longer scale
SPEED_EXPONENT_SERIES = 0.7  # speed of a loaded series motor with voltage, common practice, no source
SPEED_EXPONENT_U = 0.2  # standard uncertainty of that exponent
EXTENT = "fan laws hold for the same fan with the same passages, below about a tenth of the speed of sound"


def standard_temperature(altitude: float) -> float:
    """Temperature (K) at an altitude (m) in the 1976 standard atmosphere: 288.15 K, 6.5 K less each km."""
    return 288.15 - 0.0065 * altitude


@dataclass(frozen=True)
class Conditions:
    """Conditions that affect a source's output besides its opening.

    density : of the intake air, kg/m3
    voltage : supply, V (only ratios matter)
    motor : speed control
    u_density : standard uncertainty of the density, kg/m3; 0 for a definition
    """

    density: float = air.STANDARD_DENSITY
    voltage: float = 1.0
    motor: Motor = "series"
    u_density: float = 0.0

    def __post_init__(self) -> None:
        known_motor(self.motor)

    @classmethod
    def at_altitude(
        cls, altitude: float, temperature: float | None = None, voltage: float = 1.0, motor: Motor = "series"
    ) -> Conditions:
        """From altitude (m, -500 to 3700) in the 1976 standard atmosphere; ``temperature`` (K) defaults to the standard
        one.
        """
        low, high = ALTITUDES
        if not low <= altitude <= high:
            raise OutsideValidity(
                f"{altitude:g} m is outside {low:g} to {high:g} m",
                where="altitude",
                remedy=f"Give {low:g} to {high:g} m, or the density of the air",
            )
        standard = standard_temperature(altitude)
        pressure = 101325.0 * (standard / 288.15) ** 5.25588  # US Standard Atmosphere 1976
        there = standard if temperature is None else temperature
        return cls(pressure / (air.DRY_GAS_CONSTANT * there), voltage, motor)


@dataclass(frozen=True)
class InStandardAir:
    """Figures of the same source with intake air of 1.2 kg/m3, comparable from day to day.

    found_in : mean density of the air of the measurement, kg/m3; NaN if not measured
    why_not : reason for missing figures; empty otherwise
    """

    shut_off: Estimate
    free_delivery: Estimate
    air_power: Estimate
    air_power_flow: Estimate
    found_in: float
    words: tuple[str, ...] = ()
    why_not: str = ""

    @classmethod
    def unknown(cls, found_in: float, why_not: str) -> InStandardAir:
        """No figures, with the reason."""
        pressure, flow, power = (Estimate(nan, nan, nan, nan, unit) for unit in ("Pa", "m³/s", "W"))
        return cls(pressure, flow, power, flow, found_in, why_not=why_not)


@dataclass(frozen=True)
class FanLaw:
    """Ratios new over old of the intake volume ``flow``, ``pressure``, and shaft ``power``."""

    flow: float
    pressure: float
    power: float


def fan_law(speed: float = 1.0, density: float = 1.0, size: float = 1.0) -> FanLaw:
    """The fan laws for ratios (new over old) of speed, density of the intake air, and size.

    flow = speed size^3, pressure = speed^2 size^2 density, power = speed^3 size^5 density (ISO 5801, AMCA 210). Raises
    OutsideValidity for ratios that are not positive.
    """
    if not (speed > 0 and density > 0 and size > 0):
        raise OutsideValidity("ratios of speed, density and size must be positive", where="fan_law")
    return FanLaw(speed * size**3, speed**2 * size**2 * density, speed**3 * size**5 * density)


@dataclass(frozen=True)
class Correction:
    """Correction factors, with the relative standard uncertainty of the law itself, and text."""

    pressure: float
    flow: float
    u_pressure: float
    u_flow: float
    words: tuple[str, ...]


def correction(measured: Conditions, wanted: Conditions) -> Correction:
    """Factors that convert a steady point from the ``measured`` to the ``wanted`` conditions.

    Raises OutsideValidity beyond the limits of the laws.
    """
    ratio = wanted.density / measured.density
    for condition, name in ((measured, "measured"), (wanted, "wanted")):
        relative = condition.density / air.STANDARD_DENSITY
        if not DENSITY_LIMITS[0] <= relative <= DENSITY_LIMITS[1]:
            raise OutsideValidity(
                f"{name} air of {condition.density:.3f} kg/m³ is outside the range of the fan laws",
                where="fan laws",
                remedy=f"They are used from {DENSITY_LIMITS[0] * 1.2:.2f} to {DENSITY_LIMITS[1] * 1.2:.2f} kg/m³",
            )
    if measured.motor != wanted.motor:
        raise OutsideValidity("the motor cannot change between two conditions", where="fan laws")
    volts = wanted.voltage / measured.voltage
    exponent, u_exponent = (SPEED_EXPONENT_SERIES, SPEED_EXPONENT_U) if wanted.motor == "series" else (0.0, 0.0)
    speed = volts**exponent
    if not SPEED_LIMITS[0] <= speed <= SPEED_LIMITS[1]:
        raise OutsideValidity(
            f"a speed ratio of {speed:.2f} is outside {SPEED_LIMITS[0]} to {SPEED_LIMITS[1]}",
            where="fan laws",
            remedy="Measure the source at the voltage it will run on",
        )
    words = [EXTENT]
    if wanted.motor == "series":
        # relative to standard air both ways, as the test defines it
        factor = _series(wanted.density) / _series(measured.density)
        faster = (factor / ratio) ** 0.5  # the speed that corresponds to the pressure, hence the flow
        law, governed = fan_law(faster, ratio), fan_law(1.0, ratio)
        pressure, flow = law.pressure, law.flow * ratio  # the standard flow is a mass flow: density once more
        u_pressure, u_flow = abs(pressure - governed.pressure) / 2, abs(flow - governed.flow * ratio) / 2
        words.append(
            "the series motor's change of speed with density is the vacuum-cleaner test's (from memory); half of it is "
            "taken as uncertainty"
        )
    else:
        law = fan_law(1.0, ratio)
        pressure, flow, u_pressure, u_flow = law.pressure, law.flow * ratio, 0.0, 0.0
    from_speed = abs(volts**u_exponent - 1) if u_exponent else 0.0
    # upper limit: proportional to density, as for a governed source
    from_density = hypot(wanted.u_density / wanted.density, measured.u_density / measured.density)
    if volts != 1:
        words.append(f"voltage ratio {volts:.3f} changes the speed by {speed:.3f} (common practice, no source)")
    return Correction(
        pressure=pressure * speed**2,
        flow=flow * speed,
        u_pressure=hypot(u_pressure / pressure, 2 * from_speed, from_density),
        u_flow=hypot(u_flow / flow, from_speed, from_density),
        words=tuple(words),
    )


def _series(density: float) -> float:
    """Pressure of a series-motor source in air of ``density``, relative to standard air."""
    return 1 / (1 + SERIES_SUCTION * (1 - density / air.STANDARD_DENSITY))


def corrected(points: Sequence[SteadyPoint], measured: Conditions, wanted: Conditions) -> tuple[SteadyPoint, ...]:
    """The points at the ``wanted`` conditions; the law's own uncertainty becomes a common error."""
    law = correction(measured, wanted)
    moved = []
    for point in points:
        u_p, u_q, covariance = point.random
        common = [
            CommonError(part.name, part.on_pressure * law.pressure, part.on_flow * law.flow) for part in point.common
        ]
        p, q = point.pressure * law.pressure, point.flow * law.flow
        if law.u_pressure or law.u_flow:
            common.append(CommonError("fan law", law.u_pressure * p, law.u_flow * q))
        made = SteadyPoint.from_parts(
            p, q, (u_p * law.pressure, u_q * law.flow, covariance * law.pressure * law.flow), common
        )
        moved.append(
            replace(
                made,
                start=point.start,
                end=point.end,
                mass_flow=q * air.STANDARD_DENSITY,
                line_temperature=point.line_temperature,
                n=point.n,
                n_effective=point.n_effective,
                source=point.source,
                notes=(*point.notes, *law.words),
            )
        )
    return tuple(moved)


def corrected_each(
    points: Sequence[SteadyPoint], wanted: Conditions, voltage: float | None = None
) -> tuple[SteadyPoint, ...]:
    """Each point, converted from the air of its own measurement to the ``wanted`` conditions.

    ``voltage``: supply voltage of the measurement, V; the wanted one by default.
    Raises OutsideValidity beyond the limits of the laws, and where the intake air was not measured.
    """
    moved: list[SteadyPoint] = []
    for point in points:
        if not isfinite(point.ambient_density):
            raise OutsideValidity(
                "the density of the intake air was not measured",
                where="fan laws",
                remedy="Fit the ambient module to the rig, or give the density"
                if isfinite(point.start)
                else "Add the columns room pressure and room temperature to the table of points",
            )
        u = point.u_ambient_density if isfinite(point.u_ambient_density) else 0.0
        measured = Conditions(point.ambient_density, voltage or wanted.voltage, wanted.motor, u)
        moved += corrected([point], measured, wanted)
    return tuple(moved)
