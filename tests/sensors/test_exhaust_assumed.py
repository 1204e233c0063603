"""The line's temperature where no thermometer is fitted follows from the pressure; a measured one wins."""

import numpy as np
import pytest
import sensor_boards as boards

from frothline.errors import InputError
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.exhaust import assumed_line_temperature
from frothline.sensors.spool import Spool

WITHOUT = {kind: sensor for kind, sensor in boards.FITTED.items() if kind != "temperature"}
CALIBRATED = Spool.for_board("simulated 1")
SITE = CALIBRATED.site


def mass_flow(pressure, fitted=None, spool=CALIBRATED):
    tables = boards.stream(pressure=pressure, fitted=fitted)
    return Converter(RigDescription.from_tables(tables), spool=spool).convert(tables)["mass_flow"]


@pytest.mark.parametrize(("pressure", "rise"), [(5e3, 13.5), (10e3, 26.6), (20e3, 51.6)])
def test_the_usual_rise_is_that_of_30_per_cent_efficiency(pressure, rise):
    """By hand, T ((p2/p1)^(2/7) - 1)/0.3 from 293.15 K and 101.325 kPa."""
    value, u = assumed_line_temperature(SITE, 293.15, 0.5, pressure, 101325.0)
    assert value - 293.15 == pytest.approx(rise, abs=0.1)
    assert u == pytest.approx(np.sqrt(0.5**2 + (0.029 / 0.3 * rise) ** 2 + 5.0**2), rel=0.01)


def test_without_a_thermometer_the_density_is_that_of_the_warmed_air():
    """The rotor counts volume: 26.6 K over 299 K are 8.9 % of the mass against air that was not warmed."""
    cold = Spool.parse("[site]\nexhaust_warmth = 0.0\n[rotor]\ncalibrated = true\nu_relative = 0.012\n", "test")
    warm, not_warm = mass_flow(10e3, WITHOUT).value[-1], mass_flow(10e3, WITHOUT, cold).value[-1]
    room = 25.08 + 273.15  # °C, worked example of the BMP280 data sheet, which the test board sends
    rise = room * ((110.65e3 / 100.65e3) ** (2 / 7) - 1) / 0.3
    assert not_warm / warm == pytest.approx(1 + rise / room, rel=2e-3)


def test_a_thermometer_that_measures_wins_over_the_assumption():
    by_efficiency = [
        mass_flow(10e3, spool=Spool.parse(f"[site]\nexhaust_efficiency = {one}\n", "test")).value[-1]
        for one in (0.2, 0.4)
    ]
    assert by_efficiency[0] == by_efficiency[1]


def test_a_line_at_rest_is_as_warm_as_the_room():
    value, _ = assumed_line_temperature(SITE, 293.15, 0.5, 0.0, 101325.0)
    assert value == 293.15


def test_a_rise_that_a_builder_measured_once_takes_the_place_of_the_formula():
    own = Spool.parse("[site]\nexhaust_warmth = 22.0\nu_exhaust_warmth = 3.0\n", "test").site
    for pressure in (0.0, 20e3):
        value, u = assumed_line_temperature(own, 293.15, 4.0, pressure, 101325.0)
        assert (value, u) == (pytest.approx(315.15), pytest.approx(5.0))


@pytest.mark.parametrize("efficiency", ["0.0", "-0.3", "30.0"])
def test_an_efficiency_that_no_machine_has_is_refused(efficiency):
    with pytest.raises(InputError, match="exhaust_efficiency"):
        Spool.parse(f"[site]\nexhaust_efficiency = {efficiency}\n", "test")
