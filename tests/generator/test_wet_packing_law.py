"""The law of a wet packing before anything was measured: foam yields, and is sheared thin."""

from dataclasses import replace
from math import exp, log

import pytest
from builds import BARE, FIRST

from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.estimate import Z95
from frothline.generator.build import Packing
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.physics.packing import foam_yield

WET = OperatingConditions.usual()
PAD = Packing("pad", 0.28, wire=70e-6, voidage=0.965)
WOOL = PressureModel(replace(FIRST, packing=PAD), WET)
BEADS = PressureModel(replace(FIRST, packing=Packing("beads", 0.28, bead=4e-3)), WET)


def test_the_yield_of_foam_in_a_pore_is_a_balance_of_forces():
    """Shear on the wall times its area, pi d L tau, against pressure times the bore, pi/4 d^2 p: p = 4 tau L/d."""
    assert foam_yield(1.0, 0.3, 2e-3) == pytest.approx(600.0)


def test_the_yield_part_of_wool_may_be_nothing_or_kilopascals_and_grows_with_the_packing():
    middle, spread = WOOL.drops(0.006)["pores"], Z95 * WOOL.uncertainties["pores"]
    assert middle * exp(-spread) < 30.0
    assert 1e3 < middle * exp(spread) < 10e3
    twice = PressureModel(replace(FIRST, packing=replace(PAD, length=0.56)), WET)
    assert twice.drops(0.006)["pores"] == pytest.approx(2 * middle, rel=1e-9)


def test_a_bed_of_beads_keeps_the_entry_of_its_pores():
    long = PressureModel(replace(FIRST, packing=Packing("beads", 0.56, bead=4e-3)), WET)
    assert long.drops(0.006)["pores"] == pytest.approx(BEADS.drops(0.006)["pores"], rel=1e-9)


def test_the_multiplier_of_wool_falls_with_the_root_of_the_speed_give_or_take_as_much():
    assert WOOL.usual_slope("wetting") == -0.5
    assert WOOL.uncertainties["wetting slope"] == 0.5
    assert BEADS.usual_slope("wetting") == 0.0
    assert BEADS.uncertainties["wetting slope"] == 0.3
    flat = WOOL.moved({"wetting slope": 0.5})
    slow, fast = 0.003, 0.009

    def growth(model):
        return log(model.drops(fast)["packing"] / model.drops(slow)["packing"]) / log(fast / slow)

    assert growth(flat) - growth(WOOL) == pytest.approx(0.5, abs=0.03)  # the air expands a little on its way


def test_a_sweep_is_followed_below_its_slowest_point_where_the_packing_yields():
    """1.5 kPa that do not depend on the flow, and 3 kPa at 6 g/s that go with its power of 0.55."""
    bare = PressureModel(replace(BARE, outlet=FIRST.outlet), WET)
    model = PressureModel(replace(BARE, outlet=FIRST.outlet, packing=PAD), WET)

    def point(q):
        p = bare.pressure(q) + 1500.0 + 3000.0 * (1.2 * q / 0.006) ** 0.55
        return SteadyPoint.from_parts(p, q, (0.002 * p, 0.002 * q, 0.0), (CommonError("zero", on_pressure=5.0),))

    scaled = fit_to_sweeps(model, (), [point(q) for q in (0.001, 0.002, 0.003, 0.004, 0.006, 0.008, 0.01)])
    assert scaled.wet.pressure(0.005) == pytest.approx(point(0.005).pressure, rel=0.02)
    # half as slow as the slowest point, where the yield part is most of the packing's
    assert scaled.wet.pressure(0.0005) == pytest.approx(point(0.0005).pressure, rel=0.05)
