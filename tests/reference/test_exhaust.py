"""How warm a blower's exhaust is: the isentropic compression of gas dynamics, and the losses of the machine in it."""

import numpy as np
import pytest

from frothline.physics.exhaust import EFFICIENCY, U_EFFICIENCY, exhaust_temperature_rise


def test_a_machine_without_losses_warms_the_air_as_isentropic_compression_does():
    """p2/p1 = 1.2 from 293.15 K, kappa 1.4: T2/T1 = 1.2^(2/7) = 1.053473, by hand; isentropic flow tables for air have
    p/p0 = 0.8333 at T/T0 = 0.9493 (interpolated between M = 0.51 and 0.52)."""
    rise = exhaust_temperature_rise(293.15, 0.2 * 101325.0, 101325.0, efficiency=1.0)
    assert rise == pytest.approx(15.6755, abs=2e-4)
    assert 293.15 / (293.15 + rise) == pytest.approx(0.9493, abs=2e-4)


def test_all_the_power_that_is_no_air_power_becomes_heat():
    """Energy balance: of P = m cp dT the share eta is the isentropic work; cp = 1004.7 J/(kg K) = 3.5 x 287.05."""
    work = 3.5 * 287.05 * 293.15 * ((111325.0 / 101325.0) ** (2 / 7) - 1)
    rise = exhaust_temperature_rise(293.15, 10e3, 101325.0, efficiency=0.3)
    assert 3.5 * 287.05 * rise == pytest.approx(work / 0.3, rel=1e-12)


def test_the_usual_efficiency_is_25_to_35_per_cent():
    """Peak air power of vacuum cleaners over their input: 20 to 40 %, from memory. A rectangle of +-5 %."""
    assert EFFICIENCY == 0.30
    assert pytest.approx(0.05 / np.sqrt(3), rel=0.01) == U_EFFICIENCY


def test_a_pressure_below_zero_cools_nothing():
    assert exhaust_temperature_rise(293.15, [-50.0, 0.0], 101325.0).tolist() == [0.0, 0.0]


def test_thin_air_warms_more_at_the_same_pressure():
    assert exhaust_temperature_rise(293.15, 10e3, 84.5e3) > 1.15 * exhaust_temperature_rise(293.15, 10e3, 101325.0)
