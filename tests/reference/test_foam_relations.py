"""Foam: density, expansion, gas fraction, pressure, output and drainage against published and hand-worked figures."""

import numpy as np
import pytest

from frothline.errors import InputError, OutsideValidity
from frothline.physics import foam


@pytest.mark.parametrize(
    ("density", "phi", "E"),
    # worked by hand for solution 998.2 and air 1.204 kg/m³: φ = (ρ - 1.204)/996.996
    [(32, 0.03089, 32.374), (50, 0.04894, 20.432), (80, 0.07903, 12.653), (100, 0.09909, 10.091)],
)
def test_density_expansion_and_liquid_fraction(density, phi, E):
    assert foam.liquid_fraction(density) == pytest.approx(phi, abs=5e-6)
    assert foam.expansion_ratio(density) == pytest.approx(E, abs=1e-3)
    assert foam.foam_density(foam.expansion_ratio(float(density))) == pytest.approx(density, rel=1e-12)
    assert foam.air_to_solution(density, 998.2, 1.204) == pytest.approx(E - 1, abs=1e-3)


@pytest.mark.parametrize(
    ("psf", "published"),
    # foam-drilling text, eq. 10.3: Γ = X/(X + Q_l/7.48), X = 4.07 T Q/P; 520 °R, 10 scfm, 1 gal/min
    [(2116.8, 0.98680), (4233.6, 0.97395)],
)
def test_gas_fraction_under_pressure_is_the_drilling_texts(psf, published):
    PSF, SCFM, GPM = 47.880259, 4.719474432e-4, 6.30901964e-5
    ambient = foam.foam_output(GPM, 10 * SCFM)  # standard conditions of the text: 520 °R, 2116.8 lb/ft²
    E = foam.expansion_at_pressure(ambient.expansion, 2116.8 * PSF, psf * PSF)
    assert pytest.approx(published, abs=2e-5) == 1 - 1 / E  # 7.48 gal/ft³ and 4.07 are rounded in the text


@pytest.mark.parametrize(
    ("gauge", "E"),
    # 90 % gas inside, let out to the atmosphere: worked by hand, E0 = 1 + 9 (p + 101.325)/101.325
    [(2e3, 10.178), (10e3, 10.888), (20e3, 11.776), (100e3, 18.882), (500e3, 54.411)],
)
def test_foam_swells_when_it_leaves_the_line(gauge, E):
    assert foam.expansion_at_pressure(10.0, 101325.0 + gauge, 101325.0) == pytest.approx(E, abs=6e-4)


@pytest.mark.parametrize(
    ("air", "solution", "eta", "out", "E", "density"),
    # L/min, worked by hand: Q_f = Q_l + η Q_a, mass of the gas counted
    [
        (100, 5, 1.0, 105, 21.00, 48.68),
        (100, 5, 0.8, 85, 17.00, 59.85),
        (60, 4, 0.75, 49, 12.25, 82.59),
        (200, 10, 0.5, 110, 11.00, 91.84),
    ],
)
def test_output_of_a_generator(air, solution, eta, out, E, density):
    L = 1 / 6e4
    result = foam.foam_output(solution * L, air * L, eta)
    assert result.foam_flow / L == pytest.approx(out, rel=1e-12)
    assert result.expansion == pytest.approx(E, rel=1e-12)
    assert result.density == pytest.approx(density, abs=0.006)


def test_wet_fire_foam_is_far_too_wet():
    # compressed-air fire foam, 0.5 ft³/min of air per US gal/min: 3.74 to 1 by volume, E = 4.74
    result = foam.foam_output(6.30901964e-5, 0.5 * 4.719474432e-4)
    assert result.expansion == pytest.approx(4.74, abs=0.005)


def test_fire_service_worked_example_of_expansion_and_drainage():
    # NFPA 11 annex style, figures recalled, arithmetic checked: 1400 mL, 180 g net; 10 mL every half minute: 2.25 min
    assert (
        pytest.approx(foam.expansion_ratio(180.0 / 1.4, solution_density=1000.0, gas_density=0.0), rel=1e-12)
        == 1400.0 / 180.0
    )
    times = np.arange(0.0, 3.01, 0.5) * 60
    drained = np.array([0, 10, 20, 30, 40, 50, 60]) * 1e-6
    result = foam.drainage_time(times, drained, 180e-6)
    assert result.reached
    assert result.time == pytest.approx(2.25 * 60)


def test_drainage_reached_exactly_at_a_reading_is_that_reading():
    result = foam.drainage_time([30, 60, 90], [10e-6, 25e-6, 30e-6], 100e-6)
    assert result.time == 60.0


def test_drainage_that_was_not_reached_is_said_so_and_not_extrapolated():
    result = foam.drainage_time([30, 60, 90], [1e-6, 2e-6, 3e-6], 100e-6)
    assert not result.reached
    assert np.isnan(result.time)
    assert str(result) == "not reached (3 % at the last reading)"


def test_first_reading_already_past_is_interpolated_from_the_start_of_the_clock():
    assert foam.drainage_time([60.0], [50e-6], 100e-6).time == pytest.approx(30.0)


def test_a_reading_that_falls_is_named():
    result = foam.drainage_time([30, 60, 90, 120], [10e-6, 8e-6, 20e-6, 40e-6], 100e-6)
    assert result.falling == (1,)
    assert result.time == pytest.approx(97.5)


def test_drainage_readings_out_of_order_are_refused():
    with pytest.raises(InputError, match="rise"):
        foam.drainage_time([60, 30], [1e-6, 2e-6], 100e-6)
    with pytest.raises(InputError, match="do not match"):
        foam.drainage_time([60, 90], [1e-6], 100e-6)


def test_uncertainty_of_the_drainage_time_is_that_of_the_volume_over_its_rate():
    # 10 mL in 30 s near the crossing, ±1 mL of reading and ±2 mL of a quarter of the solution: 3 s/mL √(1² + 0.5²)
    result = foam.drainage_time([90, 120], [40e-6, 50e-6], 180e-6, u_drained=1e-6, u_solution_volume=2e-6)
    assert result.standard_uncertainty == pytest.approx(3.0 * np.hypot(1.0, 0.5), rel=1e-9)


def test_free_drainage_scales_as_the_drainage_models_say():
    # Koehler, Hilgenfeldt and Stone: time rises with depth and viscosity, falls with the square of the bubble
    base = foam.free_drainage_time(0.2, 5e-4, 0.08, 1e-3)
    assert foam.free_drainage_time(0.4, 5e-4, 0.08, 1e-3) == pytest.approx(2 * base)
    assert foam.free_drainage_time(0.2, 1e-3, 0.08, 1e-3) == pytest.approx(base / 4)
    assert foam.free_drainage_time(0.2, 5e-4, 0.08, 1.307e-3) == pytest.approx(1.307 * base)
    assert foam.free_drainage_time(0.2, 5e-4, 0.02, 1e-3) == pytest.approx(2 * base)  # node law: φ^-½
    channel = foam.free_drainage_time(0.2, 5e-4, 0.08, 1e-3, law="channel")
    assert foam.free_drainage_time(0.2, 5e-4, 0.04, 1e-3, law="channel") == pytest.approx(2 * channel)
    # half-millimetre bubbles drain a quarter in some minutes, as detergent foams do
    assert 120 < base < 600


def test_kelvin_cell_edge_is_the_textbook_ratio():
    # truncated octahedron: volume 8√2 L³ = π/6 D³, so D = 2.785 L
    assert pytest.approx(2.785, abs=5e-4) == foam._EDGES_PER_DIAMETER


def test_no_solution_is_no_foam_and_not_dry_foam():
    result = foam.foam_output(0.0, 1e-3)
    assert np.isnan(result.foam_flow)
    assert np.isnan(result.density)


@pytest.mark.parametrize("density", [0.9, 1100.0])
def test_foam_lighter_than_air_or_heavier_than_its_solution_is_refused(density):
    with pytest.raises(OutsideValidity, match="container"):
        foam.expansion_ratio(density)
