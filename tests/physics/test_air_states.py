"""How moist air behaves at the edges: states, arrays, NaN, and the limits of validity."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frothline.physics import air

temperatures = st.floats(273.15, 333.15)
pressures = st.floats(70e3, 130e3)
humidities = st.floats(0.0, 0.95)


@given(temperatures, pressures, humidities)
def test_moist_air_is_lighter_than_dry(T, p, h):
    assert air.density(T, p, h) <= air.density(T, p) * (1 + 1e-12)


@given(temperatures, pressures, humidities)
def test_humidity_goes_to_water_fraction_and_back(T, p, h):
    assert air.relative_humidity(T, p, air.water_fraction(T, p, h)) == pytest.approx(h, abs=1e-12)


@given(temperatures, pressures, humidities, st.floats(0.0, 40.0), st.floats(0.0, 30e3))
def test_the_blower_warms_air_and_carries_its_water(T, p, h, rise, gauge):
    ambient = air.AirState.free_air(T, p, h)
    line = ambient.in_line(T + rise, gauge)
    assert line.water == ambient.water
    assert line.pressure == pytest.approx(p + gauge)


def test_cooling_compressed_air_condenses():
    ambient = air.AirState.free_air(303.15, 101325.0, 0.9)
    assert ambient.in_line(293.15, 20e3).humidity > 1.0


def test_outside_its_validity_a_figure_is_nan_and_the_others_stay():
    T = np.array([293.15, 100.0, np.nan, 293.15])
    p = np.array([101325.0, 101325.0, 101325.0, 1e7])
    known = np.isfinite(air.density(T, p, 0.5))
    assert known.tolist() == [True, False, False, False]
    assert np.isnan(air.density(293.15, 101325.0, 1.2))
    assert np.isnan(air.viscosity(1000.0))
    assert np.isnan(air.sound_speed(1000.0))
    assert np.isnan(air.saturation_pressure(np.nan))


def test_numbers_give_numbers_and_arrays_arrays():
    for function in (air.saturation_pressure, air.viscosity, air.sound_speed):
        assert isinstance(function(293.15), float)
        assert function(np.full(3, 293.15)).shape == (3,)
    assert isinstance(air.density(293.15, 101325.0, 0.5), float)
    assert air.density(np.full(3, 293.15), 101325.0, 0.5).shape == (3,)


def test_one_mass_flow_has_three_volume_flows():
    ambient = air.AirState.free_air(303.15, 95e3, 0.6)
    line = ambient.in_line(333.15, 15e3)
    m = air.mass_flow(0.02, line.density)
    assert air.free_air_flow(m, ambient.density) * ambient.density == pytest.approx(m)
    assert air.standard_flow(m) * 1.2 == pytest.approx(m)
    # light mountain air: free air takes more room than standard air
    assert air.free_air_flow(m, ambient.density) > air.standard_flow(m)


def test_uncertainty_grows_outside_the_range_the_authors_state():
    inside = air.density_uncertainty(293.15, 101325.0, 0.5, 0.0, 0.0, 0.0)
    outside = air.density_uncertainty(313.15, 101325.0, 0.5, 0.0, 0.0, 0.0)
    assert inside / air.density(293.15, 101325.0, 0.5) == pytest.approx(22e-6, rel=1e-6)
    assert outside / air.density(313.15, 101325.0, 0.5) == pytest.approx(5e-4, rel=1e-6)
