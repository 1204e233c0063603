"""What a build asks for, element by element, against fluids, CoolProp and figures worked by hand."""

from dataclasses import replace
from math import log, pi, sqrt

import fluids
import numpy as np
import pytest
from builds import BARE, FIRST
from fluid_properties import humid_air

from frothline.errors import OutsideValidity
from frothline.generator import pressure_model
from frothline.generator.build import Packing
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel

P0, T_LINE = 101325.0, 308.15
DRY, WET = (replace(OperatingConditions.usual(wet=wet), line_temperature=T_LINE) for wet in (False, True))


def density(pressure, temperature=T_LINE):
    """kg/m³ of the room's air (20 °C, half humid) at another state, by CoolProp."""
    W = humid_air("W", "T", 293.15, "P", P0, "R", 0.5)
    return 1.0 / humid_air("Vha", "T", temperature, "P", pressure, "W", W)


@pytest.mark.parametrize("flow", [0.004, 0.012, 0.020])
def test_holes_and_outlet_of_a_bare_tube_are_what_fluids_says(flow):
    m = 1.2 * flow
    drops = PressureModel(BARE, DRY).drops(m)
    # outlet, 100 to 50 mm, sharp, into the open: contraction plus the whole of the jet's dynamic pressure
    K = fluids.contraction_sharp(0.100, 0.050) + 1.0
    V = m / density(P0) / (pi / 4 * 0.050**2)
    assert drops["outlet"] == pytest.approx(K * 0.5 * density(P0) * V**2, rel=5e-3)
    # 40 holes of 3 mm through 3 mm: Idelchik's thick edge, ζ = 0.5 + τ + 1 + 0.03, τ = 1.4 x 10^-0.7595 = 0.2436
    C = (0.5 + 0.2436 + 1.0 + 0.03) ** -0.5
    p2 = P0 + drops["outlet"]

    def through(p1):
        Y = fluids.nozzle_expansibility(D=1.0, Do=1e-4, P1=p1, P2=p2, k=1.4)
        return 40 * C * pi / 4 * 0.003**2 * Y * sqrt(2 * (p1 - p2) * density(p1))

    assert through(p2 + drops["holes"]) == pytest.approx(m, rel=2e-3)


def test_smooth_hose_is_fluids_isothermal_gas_flow():
    build = replace(BARE, hose=replace(BARE.hose, length=6.0, bore=0.025), tube=replace(BARE.tube, bore=0.025))
    m = 0.02
    generator = PressureModel(build, DRY)
    drops = generator.drops(m)
    downstream = P0 + drops["outlet"] + drops["holes"]
    mu = 1.88e-5  # Pa s, air at 35 °C
    f = fluids.friction_factor(Re=4 * m / (pi * 0.025 * mu), eD=0.0)
    upstream = downstream + drops["hose"]
    # fluids counts the speeding up of the gas as well, 2 ln(p1/p2) against f L/D: 3 % here
    known = fluids.isothermal_gas(
        rho=density((upstream + downstream) / 2), fd=f, P1=upstream, P2=downstream, L=6.0, D=0.025
    )
    extra = 2 * log(upstream / downstream) / (f * 6.0 / 0.025)
    assert extra < 0.04
    assert known == pytest.approx(m * (1 + extra) ** -0.5, rel=0.01)


def test_corrugated_hose_costs_several_times_a_smooth_one():
    # worked by hand after Hawthorne and von Helms: 32 mm, 4 mm pitch: f = 0.0818; 2 m at 30 m/s of 1.2 kg/m³: 2761 Pa
    build = replace(BARE, hose=replace(BARE.hose, bore=0.032, length=2.0, kind="corrugated", pitch=0.004))
    m = 1.2 * 30 * pi / 4 * 0.032**2
    drops = PressureModel(build, DRY).drops(m)
    # 2761 Pa is at 1.2 kg/m³; here the same mass flow at the density in the hose
    mean = P0 + drops["outlet"] + drops["holes"] + drops["hose"] / 2
    assert drops["hose"] == pytest.approx(2761.0 * 1.2 / density(mean), rel=2e-3)


def test_beads_are_ergun_in_fluids():
    build = replace(BARE, packing=Packing("beads", 0.100, bead=0.003, voidage=0.38))
    m = 0.012
    drops = PressureModel(build, DRY).drops(m)
    mean = P0 + drops["outlet"] + drops["packing"] / 2
    v = m / density(mean) / (pi / 4 * 0.100**2)
    known = fluids.packed_bed.Ergun(dp=0.003, voidage=0.38, vs=v, rho=density(mean), mu=1.88e-5, L=0.100)
    assert drops["packing"] == pytest.approx(known, rel=5e-3)


def test_wool_is_davies_by_hand_plus_its_inertia():
    # 80 g of stainless (7900) in 150 mm of 103.6 mm bore: ε = 1 - 0.08/(7900 x 8.4296e-3 x 0.15) = 0.99199
    # K = (80e-6)²/(64 x 0.00801^1.5 x 1.00003) = 1.395e-7 m²
    m = 0.006
    drops = PressureModel(FIRST, DRY).drops(m)
    v = m / density(P0 + drops["outlet"] + drops["packing"] / 2) / (pi / 4 * 0.1036**2)
    viscous = 0.15 * 1.88e-5 * v / 1.395e-7
    inertial = 0.15 * 0.10 * 1.15 * v**2 / sqrt(1.395e-7)  # 1.15 kg/m³
    assert drops["packing"] == pytest.approx(viscous + inertial, rel=0.015)


def test_screens_are_their_loss_times_their_number():
    build = replace(BARE, packing=Packing("screens", layers=10, wire=2e-4, opening=3e-4))
    m = 0.02
    drops = PressureModel(build, DRY).drops(m)
    open_share = (3 / 5) ** 2
    K = 10 * fluids.filters.round_edge_screen(open_share, 400.0)
    v = m / density(P0 + drops["outlet"]) / (pi / 4 * 0.1**2)
    assert drops["packing"] == pytest.approx(K * 0.5 * 1.15 * v**2, rel=0.20)  # two sources, 15 % apart


def test_with_all_holes_under_liquid_no_air_passes_before_the_liquid_is_lifted():
    wet = PressureModel(FIRST.with_entry("tube.under_liquid", 72), WET)
    drops = wet.drops(1e-9)
    # 40 mm of solution: 998.2 x 9.80665 x 0.040 = 391.6 Pa; opening holes of 2 mm at 0.030 N/m: 4 x 0.030/0.002 = 60 Pa
    assert drops["head"] == pytest.approx(391.6, abs=0.1)
    assert drops["entry"] == pytest.approx(60.0, abs=0.01)
    assert drops["holes"] == pytest.approx(0.0, abs=0.01)


def test_with_half_the_holes_under_liquid_the_air_takes_the_others_first():
    half = PressureModel(FIRST, WET)
    little = half.drops(0.002)
    assert little["holes"] < 452.0  # not enough to open those under liquid
    assert little["head"] == little["entry"] == 0.0
    # it is then the same as a tube with only the open holes
    alone = PressureModel(FIRST.with_entry("tube.rows", 3).with_entry("tube.under_liquid", 0), WET)
    assert little["holes"] == pytest.approx(alone.drops(0.002)["holes"], rel=1e-9)
    much = half.drops(0.020)
    assert 0.0 < much["head"] < 391.6


@pytest.mark.parametrize("build", [BARE, FIRST, FIRST.with_entry("tube.under_liquid", 72)], ids=["bare", "half", "all"])
@pytest.mark.parametrize("conditions", [DRY, WET, replace(WET, solution_flow=5 / 6e4)], ids=["dry", "wet", "pumped"])
def test_pressure_rises_with_the_flow(build, conditions):
    generator = PressureModel(build, conditions)
    pressures = [generator.pressure(q) for q in np.linspace(1e-5, 0.02, 60)]
    assert np.all(np.diff(pressures) > 0)
    assert all(drop >= -1e-6 for drop in generator.drops(0.012).values())


def test_wet_asks_for_more_than_dry():
    for q in (0.002, 0.008, 0.015):
        assert PressureModel(FIRST, WET).pressure(q) > PressureModel(FIRST, DRY).pressure(q)


def test_shares_add_up_and_carry_intervals():
    generator = PressureModel(FIRST, WET)
    shares = generator.shares(0.006)
    assert sum(s.pressure.value for s in shares) == pytest.approx(generator.pressure(0.006))
    assert sum(s.share for s in shares) == pytest.approx(1.0)
    assert [s.key for s in shares] == ["fittings", "hose", "holes", "head", "entry", "packing", "pores", "outlet"]
    for s in shares:
        assert 0.0 <= s.pressure.lower <= s.pressure.value <= s.pressure.upper


def test_foam_in_the_outlets_hose_rubs_once_as_a_plug():
    """By hand: 36 mm, 5 m of hose; 5 m/s of foam rub with 15 Pa on the wall, 4 x 5/0.036 x 15 = 8333 Pa."""
    short = replace(BARE, outlet=replace(BARE.outlet, bore=0.036, hose=0.0))
    long = replace(short, outlet=replace(short.outlet, hose=5.0))
    # 5 m/s in 10.18 cm² are 5.09 L/s: air of 18 °C at 101.325 kPa and 0.03 L/s of solution pumped along
    wet = replace(WET, solution_flow=0.03e-3)
    m = density(P0, 291.15) * (5.0 * pi / 4 * 0.036**2 - 0.03e-3)
    more = PressureModel(long, wet).drops(m)["outlet"] - PressureModel(short, wet).drops(m)["outlet"]
    assert more == pytest.approx(8333.0, rel=2e-3)
    # dry it is the friction of air, by fluids: smooth, 5 m
    Re = 4 * m / (pi * 0.036 * 1.88e-5)
    rho = density(P0)
    heads = fluids.friction_factor(Re=Re, eD=0.0) * 5.0 / 0.036
    dry = PressureModel(long, DRY).drops(m)["outlet"] - PressureModel(short, DRY).drops(m)["outlet"]
    assert dry == pytest.approx(heads * (m / (pi / 4 * 0.036**2)) ** 2 / (2 * rho), rel=0.01)


def test_jets_run_at_the_flow_over_the_holes():
    # 40 holes of 3 mm: 282.7 mm²; 6 g/s behind which the air has about 1.14 kg/m³: 18.6 m/s
    generator = PressureModel(BARE, DRY)
    v = generator.hole_velocity(0.005)
    outside = P0 + generator.drops(0.006)["outlet"]
    assert v == pytest.approx(0.006 / (density(outside) * 40 * pi / 4 * 0.003**2), rel=2e-3)


def test_the_line_follows_the_model_as_closely_as_it_says():
    for build, conditions in ((BARE, DRY), (FIRST, DRY), (FIRST.with_entry("tube.under_liquid", 72), WET)):
        generator = PressureModel(build, conditions)
        line = generator.line(0.015)
        said = float(line.notes[0].rstrip(" %").split()[-1]) / 100
        assert said < 0.03
        for q in np.linspace(0.001, 0.015, 29):
            here = generator.pressure(q)
            assert float(line.pressure(q)[0]) == pytest.approx(
                here, abs=1.5 * said * max(here, 0.05 * generator.pressure(0.015)) + 1.0
            )


def test_the_lines_uncertainty_is_that_of_random_generators():
    # JCGM 101: the coefficients drawn at random from what is said of them, the pressure looked at
    generator = PressureModel(FIRST, DRY)
    rng = np.random.default_rng(7)
    drawn = []
    for _ in range(300):
        step = {key: u * rng.standard_normal() for key, u in generator.uncertainties.items()}
        drawn.append(generator.moved(step).pressure(0.010))
    u = float(generator.line(0.015).pressure(0.010)[1])
    assert np.std(np.log(drawn)) * np.median(drawn) == pytest.approx(u, rel=0.12)  # 300 draws know it to 4 %


def test_a_flow_that_no_blower_pushes_is_refused():
    with pytest.raises(OutsideValidity, match="kPa"):
        PressureModel(FIRST, WET).drops(1.0)
    with pytest.raises(OutsideValidity, match="below zero"):
        PressureModel(FIRST, WET).drops(-0.001)


def test_a_line_asked_for_beyond_any_blower_ends_where_one_could_still_drive():
    tight = FIRST.with_entry("outlet.bore", 0.012)
    with pytest.raises(OutsideValidity, match="a blower cannot deliver this"):
        PressureModel(tight, WET).pressure(0.03)
    line = PressureModel(tight, WET).line(0.03)
    assert float(line.pressure(0.002)[0]) == pytest.approx(PressureModel(tight, WET).pressure(0.002), rel=0.25)


@pytest.mark.parametrize("wet", [False, True])
def test_a_shift_of_any_factor_gives_the_drops_of_a_model_made_with_it(wet):
    """Models moved from one another share what they have calculated; a shared drop must not hide a shift."""
    conditions = OperatingConditions.usual(wet=wet)
    model = PressureModel(FIRST, conditions)
    model.drops(0.01)
    for key in (*model.parameters, "holes"):
        fresh = PressureModel(FIRST, conditions, {key: 0.3}).drops(0.01)
        assert model.moved({key: 0.3}).drops(0.01) == fresh
        assert fresh != model.drops(0.01)


def test_a_model_remembers_no_more_drops_than_it_says(monkeypatch):
    monkeypatch.setattr(pressure_model, "KEPT", 50)
    model = PressureModel(FIRST, OperatingConditions.usual(wet=True))
    for flow in range(1, 101):
        model.drops(flow * 1e-4)
    assert len(model._known) <= 50
