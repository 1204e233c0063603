"""Seams of piecewise formulas hold in value and slope; what lies outside is refused or flagged as documented."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from frothline.errors import OutsideValidity
from frothline.physics import hole, manifold, orifice, packing, pipe, safety, water


@pytest.mark.parametrize("seam", [pipe.LAMINAR, pipe.TURBULENT])
@pytest.mark.parametrize("roughness", [0.0, 0.01])
def test_friction_is_smooth_where_laminar_and_turbulent_join(seam, roughness):
    below, at, above = (pipe.friction_factor(seam * (1 + d), roughness) for d in (-1e-4, 0.0, 1e-4))
    assert below == pytest.approx(above, rel=1e-3)
    assert (at - below) / 1e-4 == pytest.approx((above - at) / 1e-4, rel=0.02, abs=1e-4)


@pytest.mark.parametrize("roughness", [0.0, 1e-3, 0.05])
def test_friction_of_one_reynolds_number_and_of_many_are_the_same(roughness):
    """The published tables are held to numbers one by one, readings come as arrays: two ways through one formula."""
    many = np.concatenate([np.geomspace(1.0, 1e8, 200), [pipe.LAMINAR, 3000.0, pipe.TURBULENT]])
    single = [pipe.friction_factor(float(one), roughness) for one in many]
    assert pipe.friction_factor(many, roughness) == pytest.approx(single, rel=1e-12)


def test_flow_through_a_hole_is_smooth_where_it_chokes():
    p2 = 101325.0
    p0 = p2 / (2.0 / 2.4) ** 3.5  # critical pressure ratio of air, 0.528
    jet = hole.HoleJet(3e-3, 293.15)
    flows = [jet.mass_flow(p0 * (1 + d), p2) for d in (-2e-4, -1e-4, 0.0, 1e-4, 2e-4)]
    slopes = np.diff(flows)
    assert slopes[1] == pytest.approx(slopes[2], rel=2e-3)
    # past it, the flow rises in proportion to the upstream pressure alone
    assert jet.mass_flow(4 * p2, p2) == pytest.approx(jet.mass_flow(4 * p2, 0.5 * p2))


@pytest.mark.parametrize("holes", [1, 7, 30])
@pytest.mark.parametrize("covered", [1, 7, 30])
def test_two_groups_of_holes_share_their_air_at_one_pressure(holes, covered):
    """Both groups together pass the flow at that pressure, to 1e-12 of it; from a flow that only just reaches the second
    group to choked holes.
    """
    jet, p = hole.HoleJet(3e-3, 293.15), 101325.0
    for lift in (1.0, 400.0, 5e3):
        least = holes * jet.mass_flow(p + lift, p)
        for more in (1 + 1e-12, 1.0001, 1.5, 10.0, 1e3):
            inside = jet.common_pressure(more * least, holes, p, covered, p + lift)
            assert inside >= p + lift
            below, above = (
                holes * jet.mass_flow(inside + error, p) + covered * max(jet.mass_flow(inside + error, p + lift), 0.0)
                for error in (-1e-12 * inside, 1e-12 * inside)
            )
            assert below <= more * least <= above


def test_the_common_pressure_of_two_groups_is_that_of_a_general_root_finder():
    jet, p, lifted = hole.HoleJet(2.5e-3, 300.0), 100e3, 100.7e3
    for flow in np.geomspace(1.05 * 12 * jet.mass_flow(lifted, p), 0.3, 9):
        excess = lambda one, flow=flow: 12 * jet.mass_flow(one, p) + 20 * jet.mass_flow(one, lifted) - flow  # noqa: E731
        wanted = optimize.brentq(excess, lifted, 3e6, xtol=1e-7, rtol=1e-13)
        assert jet.common_pressure(flow, 12, p, 20, lifted) == pytest.approx(wanted, rel=1e-11)


def test_air_flows_back_through_a_hole_when_the_pressure_turns():
    jet = hole.HoleJet(3e-3, 293.15)
    assert jet.mass_flow(101e3, 102e3) == -jet.mass_flow(102e3, 101e3) < 0.0
    assert jet.mass_flow(101e3, 101e3) == 0.0


@given(st.floats(0.0, 5.0))
def test_discharge_of_a_hole_lies_between_a_sharp_edge_and_a_tube(length):
    assert 0.58 < hole.discharge_of_drilled_hole(1e-3, length * 1e-3) < 0.81


def test_a_countersink_on_the_air_side_passes_more():
    plain = hole.discharge_of_drilled_hole(3e-3, 3e-3)
    assert hole.discharge_of_drilled_hole(3e-3, 3e-3, "inside") > plain
    # on the far side it makes a hole in a thick wall a thin one
    assert hole.discharge_of_drilled_hole(3e-3, 3e-3, "outside") < plain


def test_expansibility_of_both_meters_tends_to_one():
    for epsilon in (orifice.expansibility_iso_5167_2_2003, orifice.expansibility_iso_5167_4_2003):
        assert epsilon(0.5, 1.0) == pytest.approx(1.0, abs=1e-6)
        assert np.isnan(epsilon(0.5, 0.7))
        ratios = np.linspace(0.75, 1.0, 50)
        assert np.all(np.diff(epsilon(0.5, ratios)) > 0)


def test_a_meter_flags_what_the_standard_does_not_cover():
    flow = orifice.orifice_flow_iso_5167_2_2003(
        0.0627, 0.030, 105e3, np.array([-5.0, 0.0, 1.0, 500.0, 60e3]), 1.25, 1.82e-5
    )
    assert flow.inside.tolist() == [False, False, False, True, False]
    assert flow.mass_flow[0] == flow.mass_flow[1] == 0.0
    assert np.isnan(flow.mass_flow[4])  # the expansibility is not known there
    assert np.all(flow.relative_uncertainty[~flow.inside] > flow.relative_uncertainty[3])


@pytest.mark.parametrize(
    "ask",
    [
        lambda: orifice.discharge_coefficient_iso_5167_2_2003(0.1, 0.09, 1e5),
        lambda: orifice.discharge_coefficient_iso_5167_2_2003(0.04, 0.02, 1e5),
        lambda: orifice.venturi_flow_iso_5167_4_2003(0.1, 0.02, 1e5, 1e3, 1.2, 1.8e-5),
        lambda: orifice.straight_length_iso_5167_2_2003(0.8, "reducer"),
        lambda: orifice.straight_length_iso_5167_2_2003(0.5, "trumpet"),
        lambda: hole.sharp_plate_flow(0.05, 0.045, 1e3, 1e5, 1.2),
        lambda: hole.discharge_of_drilled_hole(1e-3, 6e-3),
        lambda: pipe.friction_factor(1e5, 0.2),
        lambda: pipe.corrugated_hose_friction(0.02, 0.02),
        lambda: pipe.sudden_expansion(0.05, 0.02),
        lambda: pipe.conical_contraction(0.05, 0.02, 0.0),
        lambda: manifold.perforated_pipe(0.0, 0.02, 0.03, 10, 0.003, 1.2, 1.8e-5),
        lambda: packing.ergun(1e-3, 0.9, 0.1, 1.2, 1.8e-5),
        lambda: packing.fibre_permeability_davies(1e-4, 0.5),
        lambda: packing.voidage_from_mass(10.0, 7850.0, 0.05, 0.1),
        lambda: packing.screen_loss_idelchik(1.0),
        lambda: packing.wet_multiplier_larkins(0.0, 1.0),
        lambda: safety.stored_gas_energy(-2e5, 1e-3),
    ],
)
def test_what_lies_outside_is_refused_with_a_remedy(ask):
    with pytest.raises(OutsideValidity) as refusal:
        ask()
    assert refusal.value.remedy


def test_holes_too_large_for_their_pipe_are_refused():
    with pytest.raises(OutsideValidity, match="too large for the pipe"):
        manifold.perforated_pipe(5e-3, 0.010, 0.030, 10, 0.006, 1.2, 1.81e-5)


def test_no_flow_no_speed_no_friction_factor():
    assert np.isnan(pipe.friction_factor(0.0))
    assert np.isnan(pipe.profile_factor(0.0))


def test_water_beyond_the_table_is_nan():
    assert np.isnan(water.water_density(330.0))
    assert np.isnan(water.water_viscosity(400.0))
    assert np.isnan(water.water_viscosity(np.array([400.0]))).all()
    assert water.water_viscosity(np.array([291.15]))[0] == pytest.approx(water.water_viscosity(291.15), rel=1e-12)


def test_the_wet_multiplier_is_never_below_one():
    assert packing.wet_multiplier_larkins(1000.0, 0.0).value >= 1.0
