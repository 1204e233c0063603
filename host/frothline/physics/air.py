"""Moist air: density, viscosity, speed of sound, and the water that ambient air carries into the warm line.

Three states of the same air have different names, everywhere in the package:

free air      at the ambient pressure, temperature and humidity: the intake air of the blower
line          at the pressure and temperature inside the line: the air at the anemometer
standard      at 1.2 kg/m³ by definition (the trade's standard air): comparable between days

Mass flow is conserved; a volume flow is always named with its state.

Every function accepts numbers and arrays. Outside its validity the result is NaN, element by element in arrays: a
broken thermometer must not stop a recording, and must not give a plausible value. NaN as input gives NaN.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from frothline.units import ZERO_CELSIUS

Real = float | NDArray[np.float64]
"""A number, or an array taken element by element; the result is of the caller's kind."""

STANDARD_DENSITY = 1.2  # kg/m³, the trade's standard air (ISO 5801, AMCA 210)
MOLAR_GAS_CONSTANT = 8.314472  # J/(mol K), the value used by CIPM-2007
DRY_AIR_MOLAR_MASS = 28.96546e-3  # kg/mol at 400 ppm of carbon dioxide, CIPM-2007
WATER_MOLAR_MASS = 18.01528e-3  # kg/mol, CIPM-2007
DRY_GAS_CONSTANT = 287.05287  # J/(kg K), ISA
HEAT_CAPACITY_RATIO = 1.4  # of dry air, ISA
REFERENCE_CARBON_DIOXIDE = 400e-6  # mole fraction

# range of the functions: a workshop, from sea level with a blower's pressure to a mountain village
COLDEST, WARMEST = ZERO_CELSIUS - 20.0, ZERO_CELSIUS + 120.0  # K
LOWEST_PRESSURE, HIGHEST_PRESSURE = 50e3, 200e3  # Pa, absolute

# relative standard uncertainty of the density equation: stated by its authors for 15..27 °C and 600..1100 hPa; beyond,
# within 0..60 °C, 70..130 kPa and 0..95 %, it covers the largest deviation from CoolProp, found at the hot wet corner
EQUATION_UNCERTAINTY_STATED = 22e-6
EQUATION_UNCERTAINTY_EXTENDED = 5e-4

_SATURATION = (1.2378847e-5, -1.9121316e-2, 33.93711047, -6.3431645e3)  # K⁻², K⁻¹, 1, K
_ENHANCEMENT = (1.00062, 3.14e-8, 5.6e-7)  # 1, Pa⁻¹, °C⁻²
_A = (1.58123e-6, -2.9331e-8, 1.1043e-10)  # K/Pa and per °C, °C²
_B = (5.707e-6, -2.051e-8)
_C = (1.9898e-4, -2.376e-6)
_D, _E = 1.83e-11, -0.765e-8  # K²/Pa²


def _within(value: Real, temperature: Real, pressure: Real | None = None) -> Real:
    """``value`` where temperature and pressure are in range, NaN elsewhere."""
    good = (np.asarray(temperature) >= COLDEST) & (np.asarray(temperature) <= WARMEST)
    if pressure is not None:
        good = good & (np.asarray(pressure) >= LOWEST_PRESSURE) & (np.asarray(pressure) <= HIGHEST_PRESSURE)
    result = np.where(good, value, np.nan)
    return result if result.ndim else float(result)


def saturation_pressure(temperature: Real) -> Real:
    """Pressure of saturated water vapour over water, Pa.

    p_sv = exp(A T² + B T + C + D/T)

    Parameters
    ----------
    temperature : K

    Returns
    -------
    Pa

    Validity: -20..120 °C here, NaN outside; over supercooled water below 0 °C.
    Bias: within 0.1 % of the CRC handbook from 0 to 60 °C; 1.3 % low at 100 °C.
    Source: [cipm-2007] eq. A1.1
    """
    T = np.asarray(temperature, dtype=float)
    a, b, c, d = _SATURATION
    with np.errstate(all="ignore"):
        value = np.exp(a * T * T + b * T + c + d / T)
    return _within(value, T)


def water_fraction(temperature: Real, pressure: Real, humidity: Real) -> Real:
    """Mole fraction of water in moist air: x_v = h f(p, t) p_sv(T) / p, with f = α + β p + γ t².

    Parameters
    ----------
    temperature : K
    pressure : Pa, absolute
    humidity : 1, relative humidity 0..1

    Returns
    -------
    1, mole fraction; constant while the air is heated or compressed without condensation

    Validity: -20..120 °C, 50..200 kPa, humidity 0..1; NaN outside.
    Source: [cipm-2007] eq. A1.2 and A1.3
    """
    t = np.asarray(temperature, dtype=float) - ZERO_CELSIUS
    p = np.asarray(pressure, dtype=float)
    h = np.asarray(humidity, dtype=float)
    alpha, beta, gamma = _ENHANCEMENT
    with np.errstate(all="ignore"):
        value = h * (alpha + beta * p + gamma * t * t) * saturation_pressure(temperature) / p
        value = np.where((h >= 0.0) & (h <= 1.0) & (value < 1.0), value, np.nan)
    return _within(value, temperature, pressure)


def relative_humidity(temperature: Real, pressure: Real, water: Real) -> Real:
    """Relative humidity of a water fraction at a temperature and pressure; the inverse of `water_fraction`.

    Parameters
    ----------
    temperature : K
    pressure : Pa, absolute
    water : 1, mole fraction of water

    Returns
    -------
    1, relative humidity; above 1 some of the water condenses

    Validity: -20..120 °C, 50..200 kPa; NaN outside.
    Source: [cipm-2007] eq. A1.2
    """
    saturated = water_fraction(temperature, pressure, 1.0)
    return _within(np.asarray(water, dtype=float) / saturated, temperature, pressure)


def compressibility(temperature: Real, pressure: Real, water: Real = 0.0) -> Real:
    """Compressibility factor of moist air, Z = p V / (n R T).

    Z = 1 - (p/T)[a0 + a1 t + a2 t² + (b0 + b1 t) x_v + (c0 + c1 t) x_v²] + (p/T)² (d + e x_v²)

    Parameters
    ----------
    temperature : K
    pressure : Pa, absolute
    water : 1, mole fraction of water

    Returns
    -------
    1

    Validity: -20..120 °C, 50..200 kPa; NaN outside.
    Source: [cipm-2007] eq. A1.4
    """
    T = np.asarray(temperature, dtype=float)
    p = np.asarray(pressure, dtype=float)
    x = np.asarray(water, dtype=float)
    t = T - ZERO_CELSIUS
    with np.errstate(all="ignore"):
        first = _A[0] + _A[1] * t + _A[2] * t * t + (_B[0] + _B[1] * t) * x + (_C[0] + _C[1] * t) * x * x
        value = 1.0 - p / T * first + (p / T) ** 2 * (_D + _E * x * x)
    return _within(value, T, p)


def density_at_water_fraction(
    temperature: Real, pressure: Real, water: Real, carbon_dioxide: float = REFERENCE_CARBON_DIOXIDE
) -> Real:
    """Density of air with a known mole fraction of water, for air on its way from the room into the line.

    ρ = p M_a / (Z R T) · [1 - x_v (1 - M_v/M_a)], M_a = [28.96546 + 12.011 (x_CO2 - 0.0004)] g/mol

    Parameters
    ----------
    temperature : K
    pressure : Pa, absolute
    water : 1, mole fraction of water
    carbon_dioxide : 1, mole fraction of carbon dioxide

    Returns
    -------
    kg/m³

    Validity: -20..120 °C, 50..200 kPa; NaN outside. The authors state 15..27 °C and 60..110 kPa.
    Uncertainty: relative standard 22e-6 in the stated range; 5e-4 is taken beyond.
    Source: [cipm-2007] eq. 1
    """
    T = np.asarray(temperature, dtype=float)
    p = np.asarray(pressure, dtype=float)
    x = np.asarray(water, dtype=float)
    dry = DRY_AIR_MOLAR_MASS + 12.011e-3 * (carbon_dioxide - REFERENCE_CARBON_DIOXIDE)
    with np.errstate(all="ignore"):
        Z = compressibility(T, p, x)
        value = p * dry / (Z * MOLAR_GAS_CONSTANT * T) * (1.0 - x * (1.0 - WATER_MOLAR_MASS / dry))
    return _within(value, T, p)


def density(
    temperature: Real, pressure: Real, humidity: Real = 0.0, carbon_dioxide: float = REFERENCE_CARBON_DIOXIDE
) -> Real:
    """Density of moist air by the CIPM-2007 equation.

    ρ = p M_a / (Z R T) · [1 - x_v (1 - M_v/M_a)]

    Parameters
    ----------
    temperature : K
    pressure : Pa, absolute
    humidity : 1, relative humidity 0..1 at this temperature and pressure
    carbon_dioxide : 1, mole fraction of carbon dioxide

    Returns
    -------
    kg/m³

    Validity: -20..120 °C, 50..200 kPa, humidity 0..1; NaN outside. The authors state 15..27 °C and 60..110 kPa.
    Uncertainty: relative standard 22e-6 in the stated range; 5e-4 is taken beyond.
    Source: [cipm-2007] eq. 1
    """
    return density_at_water_fraction(
        temperature, pressure, water_fraction(temperature, pressure, humidity), carbon_dioxide
    )


def density_uncertainty(
    temperature: Real,
    pressure: Real,
    humidity: Real,
    u_temperature: Real,
    u_pressure: Real,
    u_humidity: Real,
) -> Real:
    """Standard uncertainty of `density` from its three readings and the equation itself.

    u² = (∂ρ/∂T u_T)² + (∂ρ/∂p u_p)² + (∂ρ/∂h u_h)² + (ρ u_eq)², derivatives by central differences

    Parameters
    ----------
    temperature : K
    pressure : Pa, absolute
    humidity : 1, relative humidity 0..1
    u_temperature : K
    u_pressure : Pa
    u_humidity : 1

    Returns
    -------
    kg/m³

    Validity: as `density`; the three readings are taken as uncorrelated.
    Source: [jcgm-100] eq. 10, [cipm-2007]
    """
    T = np.asarray(temperature, dtype=float)
    p = np.asarray(pressure, dtype=float)
    h = np.clip(np.asarray(humidity, dtype=float), 5e-4, 1.0 - 5e-4)  # both sides of the difference are valid
    rho = density(T, p, h)
    by_T = (density(T + 0.05, p, h) - density(T - 0.05, p, h)) / 0.1
    by_p = (density(T, p + 10.0, h) - density(T, p - 10.0, h)) / 20.0
    by_h = (density(T, p, h + 5e-4) - density(T, p, h - 5e-4)) / 1e-3
    stated = (T >= ZERO_CELSIUS + 15.0) & (T <= ZERO_CELSIUS + 27.0) & (p >= 60e3) & (p <= 110e3)
    equation = rho * np.where(stated, EQUATION_UNCERTAINTY_STATED, EQUATION_UNCERTAINTY_EXTENDED)
    square = (by_T * u_temperature) ** 2 + (by_p * u_pressure) ** 2 + (by_h * u_humidity) ** 2 + equation**2
    return _within(np.sqrt(square), T, p)


def viscosity(temperature: Real, water: Real = 0.0) -> Real:
    """Dynamic viscosity of air, dry by the standard atmosphere's Sutherland form, moist by Wilke's mixing rule.

    dry: μ = 1.458e-6 T^1.5 / (T + 110.4)
    vapour: μ = 1e-4 √θ / (1.67752 + 2.20462/θ + 0.6366564/θ² - 0.241605/θ³), θ = T/647.096
    mix: μ = Σ x_i μ_i / Σ_j x_j φ_ij,  φ_ij = [1 + (μ_i/μ_j)^½ (M_j/M_i)^¼]² / [8 (1 + M_i/M_j)]^½

    Parameters
    ----------
    temperature : K
    water : 1, mole fraction of water

    Returns
    -------
    Pa s

    Validity: -20..120 °C at ordinary pressures; NaN outside.
    Bias: 0.3 to 0.6 % below CoolProp dry, up to 2.6 % below at 60 °C and 95 %.
    Uncertainty: relative standard 1.5 %.
    Source: [us-standard-atmosphere] eq. 51, [iapws-2008] eq. 11 (vapour), [wilke]
    """
    T = np.asarray(temperature, dtype=float)
    x = np.asarray(water, dtype=float)
    with np.errstate(all="ignore"):
        air = 1.458e-6 * T**1.5 / (T + 110.4)
        theta = T / 647.096
        vapour = 1e-4 * np.sqrt(theta) / (1.67752 + 2.20462 / theta + 0.6366564 / theta**2 - 0.241605 / theta**3)
        M = DRY_AIR_MOLAR_MASS / WATER_MOLAR_MASS
        air_in_vapour = (1.0 + np.sqrt(air / vapour) * (1.0 / M) ** 0.25) ** 2 / np.sqrt(8.0 * (1.0 + M))
        vapour_in_air = (1.0 + np.sqrt(vapour / air) * M**0.25) ** 2 / np.sqrt(8.0 * (1.0 + 1.0 / M))
        value = (1.0 - x) * air / (1.0 - x + x * air_in_vapour) + x * vapour / (x + (1.0 - x) * vapour_in_air)
    return _within(value, T)


def sound_speed(temperature: Real, water: Real = 0.0) -> Real:
    """Speed of sound in moist air as a perfect gas.

    a = √(γ R T / M), γ = c_p/(c_p - R), molar c_p = R [3.5 (1 - x_v) + 4.04 x_v], M of the mixture

    Parameters
    ----------
    temperature : K
    water : 1, mole fraction of water

    Returns
    -------
    m/s

    Validity: -20..120 °C at ordinary pressures; NaN outside.
    Bias: 0.03 to 0.05 % below [cramer] from 0 to 30 °C.
    Source: [us-standard-atmosphere] eq. 50, [white] (heat capacity of vapour)
    """
    T = np.asarray(temperature, dtype=float)
    x = np.asarray(water, dtype=float)
    heat_capacity = 3.5 * (1.0 - x) + 4.04 * x  # in units of the gas constant
    molar_mass = DRY_AIR_MOLAR_MASS * (1.0 - x) + WATER_MOLAR_MASS * x
    with np.errstate(all="ignore"):
        value = np.sqrt(heat_capacity / (heat_capacity - 1.0) * MOLAR_GAS_CONSTANT * T / molar_mass)
    return _within(value, T)


@dataclass(frozen=True)
class AirState:
    """One state of air: temperature K, pressure Pa absolute, water as mole fraction."""

    temperature: float
    pressure: float
    water: float = 0.0

    @classmethod
    def free_air(cls, temperature: float, pressure: float, humidity: float = 0.0) -> AirState:
        """Ambient air from its temperature K, pressure Pa and relative humidity 0..1."""
        return cls(temperature, pressure, float(water_fraction(temperature, pressure, humidity)))

    def in_line(self, temperature: float, gauge_pressure: float) -> AirState:
        """The same air in the line, with its water, at the line's temperature K and gauge pressure Pa."""
        return AirState(temperature, self.pressure + gauge_pressure, self.water)

    @property
    def density(self) -> float:
        """kg/m³"""
        return _density_there(self.temperature, self.pressure, self.water)

    @property
    def viscosity(self) -> float:
        """Pa s"""
        return _viscosity_there(self.temperature, self.water)

    @property
    def sound_speed(self) -> float:
        """m/s"""
        return float(sound_speed(self.temperature, self.water))

    @property
    def humidity(self) -> float:
        """Relative humidity; water condenses above 1."""
        return float(relative_humidity(self.temperature, self.pressure, self.water))

    @property
    def gas_constant(self) -> float:
        """J/(kg K) of the mixture"""
        return MOLAR_GAS_CONSTANT / (DRY_AIR_MOLAR_MASS * (1.0 - self.water) + WATER_MOLAR_MASS * self.water)


# Cached, because a model of a line needs the same few states thousands of times.
@lru_cache(maxsize=256)
def _density_there(temperature: float, pressure: float, water: float) -> float:
    return float(density_at_water_fraction(temperature, pressure, water))


@lru_cache(maxsize=256)
def _viscosity_there(temperature: float, water: float) -> float:
    return float(viscosity(temperature, water))


def line_density(
    line_temperature: Real,
    line_pressure: Real,
    ambient_temperature: Real,
    ambient_pressure: Real,
    ambient_humidity: Real,
) -> Real:
    """Density in the line of air drawn from the room.

    x_v is that of the ambient state: heating in the blower lowers the relative humidity but removes no water.

    Parameters
    ----------
    line_temperature : K
    line_pressure : Pa, gauge, against the ambient pressure
    ambient_temperature : K
    ambient_pressure : Pa, absolute
    ambient_humidity : 1, relative humidity 0..1

    Returns
    -------
    kg/m³

    Validity: as `density` for both states; NaN outside. Wrong by up to 1 % once water condenses in a cold line.
    Source: [cipm-2007]
    """
    water = water_fraction(ambient_temperature, ambient_pressure, ambient_humidity)
    return density_at_water_fraction(line_temperature, np.asarray(ambient_pressure) + line_pressure, water)


def mass_flow(volume_flow: Real, density_there: Real) -> Real:
    """Mass flow from a volume flow and the density of the same state: ṁ = ρ Q.

    Parameters
    ----------
    volume_flow : m³/s
    density_there : kg/m³

    Returns
    -------
    kg/s

    Validity: any.
    Source: [volume-additivity]
    """
    return volume_flow * density_there


def standard_flow(flow_of_mass: Real) -> Real:
    """Volume flow at the standard density of 1.2 kg/m³: Q_std = ṁ / 1.2.

    Parameters
    ----------
    flow_of_mass : kg/s

    Returns
    -------
    m³/s, at 1.2 kg/m³

    Validity: any.
    Source: [volume-additivity]
    """
    return flow_of_mass / STANDARD_DENSITY


def free_air_flow(flow_of_mass: Real, ambient_density: Real) -> Real:
    """Volume flow at the ambient state, the intake flow of the blower: Q_fa = ṁ / ρ_ambient.

    Parameters
    ----------
    flow_of_mass : kg/s
    ambient_density : kg/m³

    Returns
    -------
    m³/s, free air

    Validity: any.
    Source: [volume-additivity]
    """
    return flow_of_mass / ambient_density
