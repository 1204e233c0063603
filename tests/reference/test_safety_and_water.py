"""Noise, push-fit joints, stored energy, water and gravity against published figures."""

import pytest
from fluid_properties import fluid_property

from frothline.physics import safety, water


@pytest.mark.parametrize(("level", "hours"), [(80, 32), (85, 16), (88, 10.6), (90, 8), (92, 6.1), (95, 4), (105, 1)])
def test_allowed_time_is_the_table_of_29_cfr_1910_95(level, hours):
    assert safety.allowed_time_osha(level) / 3600 == pytest.approx(hours, abs=0.05)  # printed to a tenth


@pytest.mark.parametrize(
    ("level", "seconds"),
    # NIOSH 98-126, table 1-1: 80 dB 25 h 24 min, 85 dB 8 h, 90 dB 2 h 31 min, 95 dB 47 min 37 s, 105 dB 4 min 43 s
    [(80, 25 * 3600 + 24 * 60), (85, 8 * 3600), (90, 2 * 3600 + 31 * 60), (95, 47 * 60 + 37), (105, 4 * 60 + 43)],
)
def test_allowed_time_is_the_niosh_table(level, seconds):
    assert safety.allowed_time_niosh(level) == pytest.approx(seconds, rel=0.005)  # the table is cut, not rounded


def test_dose_of_a_mixed_day():
    # 1910.95, appendix A form, worked by hand: 30 min at 95 and 60 min at 92 dB
    osha = safety.noise_dose_osha([95, 92], [1800, 3600])
    assert osha == pytest.approx(0.2899, abs=5e-5)
    niosh = safety.noise_dose_niosh([95, 92], [1800, 3600])
    assert niosh == pytest.approx(1.2599, abs=5e-5)
    # 29 CFR 1910.95: eight hours at 85 dB are a dose of 50 %
    assert safety.noise_dose_osha([85], [8 * 3600]) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("diameter", "pressure", "newton"), [(0.110, 20e3, 190.1), (0.0603, 25e3, 71.4), (0.0889, 600e3, 3724)]
)
def test_push_fit_force(diameter, pressure, newton):
    # pressure times area, worked by hand: 95.03 cm² at 20 kPa
    assert safety.push_fit_force(diameter, pressure) == pytest.approx(newton, rel=5e-4)


@pytest.mark.parametrize(("gauge", "joule"), [(10e3, 0.48), (20e3, 1.86), (100e3, 38.2), (600e3, 757.0)])
def test_shop_air_stores_hundreds_of_times_what_a_blower_does(gauge, joule):
    # p1 ln(p1/p0) - (p1 - p0) for one litre, worked by hand
    assert safety.stored_gas_energy(gauge, 1e-3) == pytest.approx(joule, rel=0.005)


@pytest.mark.parametrize("celsius", [0.5, 4.0, 10.0, 20.0, 30.0, 40.0])
def test_water_agrees_with_coolprop(celsius):
    T = celsius + 273.15
    assert water.water_density(T) == pytest.approx(fluid_property("D", "T", T, "P", 101325.0, "Water"), rel=1e-5)
    assert water.water_viscosity(T) == pytest.approx(fluid_property("V", "T", T, "P", 101325.0, "Water"), rel=3e-3)


@pytest.mark.parametrize(
    ("latitude", "g"),
    # GRS 80: 9.780327 m/s² at the equator, 9.832186 at the pole, 9.80620 at 45°
    [(0.0, 9.780327), (1.5707963267948966, 9.832186), (0.7853981633974483, 9.80620)],
)
def test_gravity_is_the_reference_systems(latitude, g):
    assert water.local_gravity(latitude) == pytest.approx(g, abs=2e-5)


def test_a_metre_of_water_is_9807_pascal():
    # the conventional metre of water: 9806.65 Pa (NIST SP 811)
    assert water.liquid_head(1.0) == pytest.approx(9806.65)
