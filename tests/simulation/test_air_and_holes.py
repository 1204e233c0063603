"""The model's air and holes against general libraries and printed tables."""

from math import pi, sqrt

import pytest
from fluid_properties import fluid_property, humid_air
from fluids import P_critical_flow, differential_pressure_meter_solver, dP_orifice

from frothline.simulation import plate
from frothline.simulation.gas import gas_constant, hole_flow, saturation_pressure


@pytest.mark.parametrize(
    ("celsius", "kilopascal"),
    # CRC Handbook of Chemistry and Physics, vapour pressure of water
    [(5, 0.8726), (10, 1.2281), (15, 1.7056), (20, 2.3388), (25, 3.1690)],
)
def test_saturation_pressure_is_that_of_the_handbook(celsius, kilopascal):
    # 0.4 %: the Magnus form against the handbook; it moves the density of room air by 4e-5
    assert saturation_pressure(273.15 + celsius) == pytest.approx(1e3 * kilopascal, rel=4e-3)


@pytest.mark.parametrize(
    ("t", "p", "h"), [(293.15, 101325, 0.5), (298.15, 95000, 0.6), (291.15, 99000, 0.35), (308.15, 101325, 0.8)]
)
def test_moist_air_weighs_what_coolprop_says(t, p, h):
    density = p / (gas_constant(p, t, h) * t)
    # 8e-4: ideal gas, and Magnus without the enhancement factor (0.4 % of the vapour's 2 %)
    assert density == pytest.approx(1 / humid_air("Vha", "T", t, "P", p, "R", h), rel=8e-4)


def nozzle(area, gauge, temperature, ambient=101325.0):
    """Mass flow of the real gas through an ideal nozzle, from enthalpies at constant entropy."""
    p0 = ambient + gauge
    h0, s0 = (fluid_property(x, "T", temperature, "P", p0, "Air") for x in "HS")
    h, density = (fluid_property(x, "S", s0, "P", ambient, "Air") for x in "HD")
    return area * density * sqrt(2 * (h0 - h))


@pytest.mark.parametrize("gauge", [300.0, 1000.0, 5000.0, 20000.0, 60000.0])
def test_a_hole_passes_what_the_enthalpies_of_real_air_allow(gauge):
    area = pi / 4 * 0.003**2
    mine = hole_flow(area, gauge, 101325.0, 293.15, 287.05)
    # 0.2 %: air is not quite ideal and its heat capacity ratio not quite 1.4
    assert mine == pytest.approx(nozzle(area, gauge, 293.15), rel=2e-3)


def test_a_hole_chokes_where_fluids_says():
    area, temperature = 1e-5, 293.15
    critical = 101325.0 / P_critical_flow(1.0, 1.4) - 101325.0
    # beyond it the flow goes with the absolute pressure alone
    a = hole_flow(area, critical * 1.5, 101325.0, temperature, 287.05)
    b = hole_flow(area, critical * 3.0, 101325.0, temperature, 287.05)
    assert b / a == pytest.approx((101325 + critical * 3.0) / (101325 + critical * 1.5), rel=1e-9)
    below = hole_flow(area, critical * 0.8, 101325.0, temperature, 287.05)
    assert below / a < (101325 + critical * 0.8) / (101325 + critical * 1.5)


@pytest.mark.parametrize("mass_flow", [0.004, 0.01, 0.03, 0.07])
def test_the_plate_in_the_spool_reads_what_fluids_makes_of_the_standard(mass_flow):
    across = plate.difference(mass_flow, 105000.0, 1.18)
    found = differential_pressure_meter_solver(
        D=plate.PIPE,
        D2=plate.HOLE,
        P1=105000.0,
        P2=105000.0 - across,
        rho=1.18,
        mu=plate.VISCOSITY,
        k=1.4,
        meter_type="ISO 5167 orifice",
        taps="corner",
    )
    # the same published correlation twice; two rounds for the expansibility leave 1e-6
    assert found == pytest.approx(mass_flow, rel=1e-5)


def test_the_plate_loses_what_fluids_says():
    across, density = plate.difference(0.05, 105000.0, 1.18), 1.18
    C = plate.discharge_coefficient(4 * 0.05 / (pi * plate.VISCOSITY * plate.PIPE))
    lost = dP_orifice(D=plate.PIPE, Do=plate.HOLE, P1=105000.0, P2=105000.0 - across, C=C)
    speed = 0.05 / density / (pi / 4 * plate.PIPE**2)
    # 2 %: the model takes the coefficient of Re 1e5 (0.6 % here), and leaves the expansion out (0.5 %)
    assert plate.LOSS * 0.5 * density * speed**2 == pytest.approx(lost, rel=0.02)


def test_a_choked_hole_passes_the_mass_flow_of_the_textbooks():
    # 0.0404 sqrt(K) s/m times A p0 / sqrt(T0) for air: e.g. Perry's Chemical Engineers' Handbook, critical flow
    flow = hole_flow(1e-5, 600e3 - 101325.0, 101325.0, 293.15, 287.05)
    assert flow == pytest.approx(0.0404 * 1e-5 * 600e3 / sqrt(293.15), rel=1e-3)
