"""Moist air against published figures and against CoolProp."""

import numpy as np
import pytest
from fluid_properties import fluid_property, humid_air

from frothline.physics import air

MMHG = 133.322387  # Pa


@pytest.mark.parametrize(
    ("celsius", "mmhg", "humidity", "published", "tolerance"),
    [
        # "Mass Metrology", appendix, p. 205, as quoted in the test suite of the R package masscor
        (10.0, 730.0, 0.40, 1.19569, 1e-5),  # printed to five places
        (40.0, 760.0, 0.40, 1.11497, 1e-4),  # printed by the older 1981/91 formula, 6.5e-5 apart
    ],
)
def test_density_of_moist_air_agrees_with_the_mass_metrology_tables(celsius, mmhg, humidity, published, tolerance):
    assert air.density(celsius + 273.15, mmhg * MMHG, humidity) == pytest.approx(published, abs=tolerance)


@pytest.mark.parametrize(("humidity", "published"), [(0.0, 1.2044776705), (0.7, 1.1971436092)])
def test_density_agrees_with_the_virial_form(humidity, published):
    # Psychro.jl manual, ASHRAE virial equation, 293.15 K and 101325 Pa; the two equations differ by 6.5e-5
    assert air.density(293.15, 101325.0, humidity) == pytest.approx(published, rel=1e-4)


@pytest.mark.parametrize(
    ("celsius", "kilopascal"),
    [(0, 0.6113), (5, 0.8726), (10, 1.2281), (15, 1.7056), (20, 2.3388), (25, 3.1690)],
)
def test_saturation_pressure_agrees_with_the_crc_handbook(celsius, kilopascal):
    # CRC Handbook of Chemistry and Physics, vapour pressure of water; CIPM's enhancement is not in p_sv
    assert air.saturation_pressure(celsius + 273.15) == pytest.approx(kilopascal * 1e3, rel=3e-4)


def test_density_stays_with_coolprop_over_the_whole_range_of_use():
    """Largest deviation over 0..60 °C, 70..130 kPa, 0..95 %: 4.5e-4, at 60 °C, 70 kPa, 95 %; 5.3e-5 up to 40 °C."""
    largest = largest_to_40 = 0.0
    for celsius in np.linspace(0.0, 60.0, 7):
        for pressure in np.linspace(70e3, 130e3, 4):
            for humidity in (0.0, 0.25, 0.5, 0.75, 0.95):
                T = celsius + 273.15
                # Vha is per kg of moist air; Vda, per kg of dry air, is a common mistake
                reference = 1.0 / humid_air("Vha", "T", T, "P", pressure, "R", humidity)
                deviation = abs(air.density(T, pressure, humidity) / reference - 1.0)
                largest = max(largest, deviation)
                if celsius <= 40.0:
                    largest_to_40 = max(largest_to_40, deviation)
    assert largest < 4.6e-4
    assert largest < air.EQUATION_UNCERTAINTY_EXTENDED
    assert largest_to_40 < 6e-5


def test_water_fraction_and_line_density_agree_with_coolprop():
    # ambient air at 25 °C, 60 %, blown to 60 °C and 15 kPa: the humidity ratio is what stays
    ambient = air.AirState.free_air(298.15, 101325.0, 0.6)
    W = humid_air("W", "T", 298.15, "P", 101325.0, "R", 0.6)
    reference = 1.0 / humid_air("Vha", "T", 333.15, "P", 116325.0, "W", W)
    assert ambient.in_line(333.15, 15e3).density == pytest.approx(reference, rel=1e-4)
    assert air.line_density(333.15, 15e3, 298.15, 101325.0, 0.6) == pytest.approx(reference, rel=1e-4)
    # relative humidity falls with warming; CoolProp's saturation differs by 0.1 % and more when hot
    assert ambient.in_line(333.15, 15e3).humidity == pytest.approx(
        humid_air("R", "T", 333.15, "P", 116325.0, "W", W), rel=4e-3
    )


def test_viscosity_of_dry_air_agrees_with_coolprop():
    for T in (273.15, 288.15, 293.15, 300.0, 323.15, 353.15):
        assert air.viscosity(T) == pytest.approx(fluid_property("V", "T", T, "P", 101325.0, "Air"), rel=0.007)


def test_viscosity_of_moist_air_stays_with_coolprop():
    """Largest deviation over 0..60 °C, 70..130 kPa, 0..95 %: 2.6 %, at 60 °C, 70 kPa, 95 %; 1.8 % up to 40 °C."""
    largest = largest_to_40 = 0.0
    for celsius in (0.0, 20.0, 40.0, 60.0):
        for pressure in (70e3, 101325.0, 130e3):
            for humidity in (0.0, 0.5, 0.95):
                T = celsius + 273.15
                here = air.viscosity(T, air.water_fraction(T, pressure, humidity))
                deviation = abs(here / humid_air("M", "T", T, "P", pressure, "R", humidity) - 1.0)
                largest = max(largest, deviation)
                if celsius <= 40.0:
                    largest_to_40 = max(largest_to_40, deviation)
    assert largest < 0.026
    assert largest_to_40 < 0.018


def test_viscosity_is_the_standard_atmospheres():
    # U.S. Standard Atmosphere 1976, table: 0 m 1.7894e-5, 1000 m 1.7579e-5, 2000 m 1.7260e-5 Pa s
    for T, published in ((288.15, 1.7894e-5), (281.651, 1.7579e-5), (275.154, 1.7260e-5)):
        assert air.viscosity(T) == pytest.approx(published, rel=3e-5)  # printed to five figures


def test_sound_speed_of_dry_air_is_the_standard_atmospheres_and_near_the_real_gas():
    # U.S. Standard Atmosphere 1976: 340.294 m/s at 288.15 K, 336.434 at 281.651 K; its gas constant differs by 1e-5
    assert air.sound_speed(288.15) == pytest.approx(340.294, rel=3e-5)
    assert air.sound_speed(281.651) == pytest.approx(336.434, rel=3e-5)
    for T in (273.15, 293.15, 323.15):  # the perfect gas is 0.04 % slower than CoolProp's
        assert air.sound_speed(T) == pytest.approx(fluid_property("A", "T", T, "P", 101325.0, "Air"), rel=5e-4)


@pytest.mark.parametrize("celsius", [0.0, 10.0, 20.0, 30.0])
@pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
def test_sound_speed_of_moist_air_agrees_with_cramer(celsius, humidity):
    # Cramer, J. Acoust. Soc. Am. 93 (1993) 2510, eq. 15 with table III, as several public codes carry it;
    # stated accuracy 300 ppm, ours is a perfect gas
    t, p, xc = celsius, 101325.0, 400e-6
    xw = air.water_fraction(t + 273.15, p, humidity)
    published = (
        331.5024 + 0.603055 * t - 0.000528 * t**2
        + (51.471935 + 0.1495874 * t - 0.000782 * t**2) * xw
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t**2) * p
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t**2) * xc
        - 2.835149 * xw**2 - 2.15e-13 * p**2 + 29.179762 * xc**2 + 0.000486 * xw * p * xc
    )  # fmt: skip
    assert air.sound_speed(t + 273.15, xw) == pytest.approx(published, rel=5e-4)


def test_sensitivities_of_density_are_those_of_coolprop():
    # 20 °C, 101325 Pa, 50 %: one reading at a time, by differences in CoolProp
    def rho(T=293.15, p=101325.0, h=0.5):
        return 1.0 / humid_air("Vha", "T", T, "P", p, "R", h)

    by_T = (rho(T=293.65) - rho(T=292.65)) / 1.0
    by_p = (rho(p=101425.0) - rho(p=101225.0)) / 200.0
    by_h = (rho(h=0.52) - rho(h=0.48)) / 0.04
    base = rho() * air.EQUATION_UNCERTAINTY_STATED
    for arguments, expected in (((0.5, 0, 0), by_T * 0.5), ((0, 200.0, 0), by_p * 200.0), ((0, 0, 0.03), by_h * 0.03)):
        u = air.density_uncertainty(293.15, 101325.0, 0.5, *arguments)
        assert u == pytest.approx(np.hypot(expected, base), rel=2e-3)
