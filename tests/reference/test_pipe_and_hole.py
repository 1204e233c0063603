"""Friction, fittings, holes and plates against handbooks and the library fluids."""

import fluids
import numpy as np
import pytest

from frothline.physics import hole, manifold, pipe


@pytest.mark.parametrize(
    ("reynolds", "published"),
    [(4e3, 0.0399), (1e4, 0.0309), (1e5, 0.0180), (1e6, 0.0116), (1e7, 0.0081), (1e8, 0.0059)],
)
def test_smooth_pipe_friction_is_prandtls(reynolds, published):
    # Prandtl's smooth-wall law as tabulated in textbooks (White, Fluid Mechanics, ch. 6), printed to four places
    assert pipe.friction_factor(reynolds) == pytest.approx(published, abs=6e-5)


@pytest.mark.parametrize("roughness", [0.0, 1e-4, 1e-3, 0.03])
@pytest.mark.parametrize("reynolds", [500.0, 4.1e3, 2e4, 5e4, 1e5, 1e6])
def test_friction_agrees_with_fluids(reynolds, roughness):
    assert pipe.friction_factor(reynolds, roughness) == pytest.approx(
        fluids.friction_factor(Re=reynolds, eD=roughness), rel=1e-4
    )


def test_corrugated_hose_is_hawthorne_and_von_helms():
    # worked by hand from K = [1 - (D/(D + 0.438 s))²]²: D 32 mm, s 4 mm: (32/33.752)² = 0.898878, K = 0.0102257
    assert pipe.corrugated_hose_friction(0.032, 0.004) == pytest.approx(0.0102257 * 8, rel=1e-4)
    # and 50 mm, 6 mm: (50/52.628)² = 0.902623, K = 0.0094823
    assert pipe.corrugated_hose_friction(0.050, 0.006) == pytest.approx(0.0094823 * 50 / 6, rel=1e-4)


def test_changes_of_bore_agree_with_fluids():
    assert pipe.sudden_expansion(0.025, 0.05) == pytest.approx(fluids.diffuser_sharp(0.025, 0.05))
    for small in (0.2, 0.4, 0.8):
        assert pipe.sudden_contraction(1.0, small) == pytest.approx(fluids.contraction_sharp(1.0, small), rel=1e-12)
        f = pipe.friction_factor(5e4)
        for length in (0.2, 0.5, 2.0):
            assert pipe.conical_contraction(1.0, small, length, f) == pytest.approx(
                fluids.contraction_conical(1.0, small, l=length, fd=f), rel=1e-9
            )


def test_the_bends_of_the_table_lie_with_the_handbooks():
    # ASHRAE smooth elbow, r/D 1.5, 90°: 0.30 at 75 mm, 0.21 at 100 mm; fluids (Rennels) for 35 mm and r/D 2: 0.225
    bend = pipe.FITTINGS["bend"]
    assert abs(bend.loss - 0.30) < bend.uncertainty
    assert abs(bend.loss - fluids.bend_rounded(Di=0.035, rc=0.070, angle=90, Re=5e4)) < bend.uncertainty
    mitre = pipe.FITTINGS["mitre"]
    assert abs(mitre.loss - fluids.bend_miter(angle=90, Di=0.035, Re=5e4)) < mitre.uncertainty


@pytest.mark.parametrize(
    ("reynolds", "exponent_form"),
    [(1e4, 0.78183), (5e4, 0.81483), (1e5, 0.82632), (1e6, 0.85639)],
)
def test_profile_factor_lies_between_its_log_law_and_the_power_law(reynolds, exponent_form):
    # power law V/Vmax = 2n²/((n+1)(2n+1)) with n = 1/√f, f from fluids: 2 to 4 % below White's log form
    f = fluids.friction_factor(Re=reynolds, eD=0.0)
    n = f**-0.5
    assert 2 * n * n / ((n + 1) * (2 * n + 1)) == pytest.approx(exponent_form, abs=2e-4)
    assert 1.015 < pipe.profile_factor(reynolds) / exponent_form < 1.040


def test_profile_factor_in_laminar_flow_is_one_half():
    # Hagen-Poiseuille: the mean of a parabola is half of its top
    assert pipe.profile_factor(1000.0) == 0.5


def test_perforated_pipe_shares_its_flow():
    # worked once by an independent march: 10 holes of 3 mm, 20 mm bore, pitch 30 mm, 5 L/s
    result = manifold.perforated_pipe(5e-3, 0.020, 0.030, 10, 0.003, 1.2, 1.81e-5)
    assert result.dead_end_pressure == pytest.approx(7847.577, abs=0.002)
    assert result.inlet_pressure == pytest.approx(7714.452, abs=0.002)
    assert np.asarray(result.hole_flows[:3]) * 6e4 == pytest.approx([29.8717, 29.9118, 29.9479], abs=1e-4)
    assert result.evenness == pytest.approx(1.006717, abs=1e-6)
    assert sum(result.hole_flows) == pytest.approx(5e-3, rel=1e-12)


@pytest.mark.parametrize("gauge", [5e3, 10e3, 20e3, 50e3, 100e3, 600e3])
def test_flow_through_a_hole_is_isentropic_and_chokes(gauge):
    # fluids' expansibility of a nozzle at a vanishing bore ratio carries the same physics by another road
    p0, p2, T, R = 101325.0 + gauge, 101325.0, 293.15, 287.05
    if p2 / p0 > fluids.P_critical_flow(1.0, 1.4):
        Y = fluids.nozzle_expansibility(D=1.0, Do=1e-4, P1=p0, P2=p2, k=1.4)
        known = 0.61 * np.pi / 4 * 0.003**2 * Y * np.sqrt(2 * (p0 - p2) * p0 / (R * T))
    else:
        # textbook constant for air: ṁ = 0.0404149 A p0/√T (γ 1.4, R 287.05)
        known = 0.61 * np.pi / 4 * 0.003**2 * 0.0404148996 * p0 / np.sqrt(T)
    assert hole.HoleJet(0.003, T, 0.61, R).mass_flow(p0, p2) == pytest.approx(known, rel=2e-7)
    # and the inverse, written in closed form, leads back
    assert hole.pressure_before_hole(known, 0.003, p2, T, 0.61, R) == pytest.approx(p0, rel=2e-7)


def test_discharge_of_thin_and_thick_holes_is_the_handbooks():
    # engineering handbooks: sharp orifice 0.62 (Encyclopaedia Britannica, 11th ed., hydraulics: 0.603 to 0.620);
    # short tube 0.80; Idelchik's thin plate in a wall: ζ = 1.707² = 2.914, 0.586
    assert hole.discharge_of_drilled_hole(5e-3, 0.0) == pytest.approx(0.586, abs=0.01)
    assert 0.595 < hole.discharge_of_drilled_hole(6e-3, 1.5e-3) < 0.62
    assert hole.discharge_of_drilled_hole(2e-3, 5e-3) == pytest.approx(0.80, abs=0.01)


def test_sharp_plate_flow_agrees_with_the_orifice_standard_where_both_hold():
    # a plate on the end of the pipe against corner taps in fluids, no recovery downstream: β 0.5, Re about 1e5
    D, d, dp, rho = 0.1, 0.05, 1000.0, 1.2
    free = hole.sharp_plate_flow(D, d, dp, 101325.0, rho).mass_flow
    plate = fluids.differential_pressure_meter_solver(
        D=D,
        D2=d,
        P1=101325.0 + dp,
        P2=101325.0,
        rho=rho,
        mu=1.81e-5,
        k=1.4,
        meter_type="ISO 5167 orifice",
        taps="corner",
    )
    assert free == pytest.approx(plate, rel=0.02)  # the plate's stated standard uncertainty


@pytest.mark.parametrize(("mass_flow", "bore", "viscosity"), [(0.012, 0.05, 1.81e-5), (-0.03, 0.032, 1.95e-5)])
def test_the_reynolds_number_of_a_pipe_is_that_of_the_reference_library(mass_flow, bore, viscosity):
    """fluids.Reynolds with velocity and density; both directions of flow have one number."""
    speed = abs(mass_flow) / (1.2 * np.pi / 4 * bore**2)
    assert pipe.reynolds(mass_flow, bore, viscosity) == pytest.approx(
        fluids.Reynolds(V=speed, D=bore, rho=1.2, mu=viscosity), rel=1e-12
    )
