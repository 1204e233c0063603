"""What measured generators of a workshop say about the next one: wet packing, holes, outlet hose, before it is measured.

Truths are the model itself with factors that the estimation does not know. Another physical model, and builders whose
packings are as different as they like, are in tests/performance/test_learned_builds.py.
"""

import functools
from dataclasses import replace
from math import log, sqrt

import numpy as np
import pytest
from builds import BARE, FIRST

from frothline.curve.steady_points import SteadyPoint
from frothline.generator.build import Packing
from frothline.generator.evaluation import EvaluationInput, evaluate
from frothline.generator.experience import MeasuredBuild, MeasuredBuilds
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel, from_sheet
from frothline.generator.room_air import RoomAir
from frothline.generator.what_if import changed_build

WET = OperatingConditions.usual()
PAD = Packing("pad", 0.28, wire=70e-6, voidage=0.965)
FLOWS = (0.003, 0.005, 0.007, 0.009)
BUILD = replace(FIRST, packing=PAD)
LESS = (("wetting", -log(3.0)),)  # a third of what beds of grains would need: common practice for wool, no source
OTHER = tuple(BUILD.with_entry("packing.length", length) for length in (0.18, 0.35, 0.22, 0.4, 0.3))


def points(build, shift, flows=FLOWS, u=0.004, conditions=WET):
    truth = PressureModel(build, conditions).moved(dict(shift))
    return tuple(
        SteadyPoint.from_parts(truth.pressure(q), q, (max(5.0, u * truth.pressure(q)), u * q, 0.0)) for q in flows
    )


@functools.cache  # a build is evaluated once
def measured(build, shift=LESS, **how):
    return MeasuredBuild(build, WET, points(build, shift, **how))


def u_of(model, flow=0.006):
    """Relative standard uncertainty of the model's pressure at a flow."""
    base = model.pressure(flow)
    return sqrt(sum(log(model.moved(step).pressure(flow) / base) ** 2 for _, step in model.effects))


def test_without_a_measured_build_the_prediction_is_that_of_the_sheet():
    alone = PressureModel(BUILD, WET)
    for nothing in (None, MeasuredBuilds()):
        model = from_sheet(BUILD, WET, nothing)
        assert model.factors == {}
        assert model.effects == alone.effects
        assert model.learned is None


def test_each_measured_build_brings_the_next_closer_and_makes_it_less_uncertain():
    truth = PressureModel(BUILD, WET).moved(dict(LESS)).pressure(0.006)
    errors, us = [], []
    for count in range(4):
        model = from_sheet(BUILD, WET, MeasuredBuilds(tuple(map(measured, OTHER[:count]))))
        errors.append(model.pressure(0.006) / truth - 1.0)
        us.append(u_of(model))
    assert errors[0] > 0.25
    assert errors[0] > 2 * errors[1]
    assert errors[1] > errors[2] > errors[3] > 0.0
    assert us[0] > 1.3 * us[1]
    assert us[1] > us[2] > us[3]
    assert all(error < 1.96 * u for error, u in zip(errors, us, strict=True))


def test_one_point_of_a_run_teaches_less_than_a_sweep_and_more_than_nothing():
    one_point, sweep = (
        from_sheet(BUILD, WET, MeasuredBuilds((measured(OTHER[0], flows=flows),))) for flows in (FLOWS[1:2], FLOWS)
    )
    truth = PressureModel(BUILD, WET).moved(dict(LESS))
    alone, by_point, by_sweep = (model.pressure(0.005) for model in (PressureModel(BUILD, WET), one_point, sweep))
    assert alone > by_point > by_sweep > truth.pressure(0.005)
    assert u_of(PressureModel(BUILD, WET)) > u_of(one_point) > 0.99 * u_of(sweep)


def test_the_same_point_known_badly_teaches_little():
    model = from_sheet(BUILD, WET, MeasuredBuilds((measured(OTHER[0], u=5.0),)))
    assert model.pressure(0.006) == pytest.approx(PressureModel(BUILD, WET).pressure(0.006), rel=0.03)


@pytest.mark.parametrize(
    ("path", "value"), [("solution.agent", "another agent"), ("packing.kind", "beads"), ("packing.kind", "none")]
)
def test_another_agent_or_kind_of_packing_teaches_nothing(path, value):
    other = OTHER[0].with_entry(path, value)
    if value == "beads":
        other = replace(OTHER[0], packing=Packing("beads", 0.28, bead=4e-3))
    assert from_sheet(BUILD, WET, MeasuredBuilds((measured(other, ()),))).learned is None


def test_an_agent_written_with_other_capitals_and_spaces_is_the_same():
    other = OTHER[0].with_entry("solution.agent", f"  {BUILD.solution.agent.upper()} ")
    assert from_sheet(BUILD, WET, MeasuredBuilds((measured(other),))).learned.builds == 1


def test_a_dry_sweep_alone_teaches_nothing_about_the_wet_packing():
    dry = MeasuredBuild(OTHER[0], WET, (), points(OTHER[0], ()))
    assert from_sheet(BUILD, WET, MeasuredBuilds((dry,))).learned is None


def test_holes_that_one_drill_makes_wide_in_each_build_are_expected_in_the_next():
    wide = (("holes", -0.2),)  # pressure drop of the holes a fifth lower: diameters 5 % larger, as it goes with d^-4
    narrow = [build.with_entry("tube.hole", 0.8 * BUILD.tube.hole) for build in OTHER]  # most of the pressure is theirs
    dry = replace(WET, wet=False)
    taught = MeasuredBuilds(
        tuple(MeasuredBuild(one, WET, points(one, wide), points(one, wide, conditions=dry)) for one in narrow)
    )
    learned, stated = from_sheet(BUILD, WET, taught), PressureModel(BUILD, WET).uncertainties["holes"]
    assert -0.2 * 1.1 < learned.factors["holes"] < -0.2 * 0.3
    assert (
        sqrt(learned.learned.covariance[learned.learned.keys.index("holes"), learned.learned.keys.index("holes")])
        < 0.9 * stated
    )


def test_the_wall_of_an_outlet_hose_is_learned_from_builds_with_one_and_by_builds_with_one():
    slippery = (("wall", -1.0),)
    hosed = tuple(build.with_entry("outlet.hose", 4.0) for build in OTHER[:3])
    with_hose = BUILD.with_entry("outlet.hose", 6.0)
    taught = MeasuredBuilds(tuple(measured(build, slippery) for build in hosed))
    learned, stated = from_sheet(with_hose, WET, taught), PressureModel(with_hose, WET)
    truth = stated.moved(dict(slippery)).pressure(0.006)
    assert learned.factors["wall"] < -0.3
    assert abs(learned.pressure(0.006) - truth) < 0.5 * abs(stated.pressure(0.006) - truth)
    assert "wall" not in from_sheet(BUILD.with_entry("outlet.hose", 0.0), WET, taught).factors
    dry_of_hose = MeasuredBuilds(tuple(measured(build.with_entry("outlet.hose", 0.0), ()) for build in OTHER[:3]))
    untaught = from_sheet(with_hose, WET, dry_of_hose)
    assert untaught.factors["wall"] == pytest.approx(0.0, abs=1e-9)
    place = untaught.learned.keys.index("wall")
    assert sqrt(untaught.learned.covariance[place, place]) == pytest.approx(stated.uncertainties["wall"])


def test_a_generator_without_packing_learns_nothing_and_is_predicted_as_ever():
    bare = replace(BARE, outlet=FIRST.outlet)
    experience = MeasuredBuilds((measured(bare, ()), measured(OTHER[0])))
    assert from_sheet(bare, WET, experience).effects == PressureModel(bare, WET).effects


def test_points_that_no_scaling_fits_teach_nothing():
    impossible = tuple(SteadyPoint.from_parts(10.0, q, (1e-3, 1e-7, 0.0)) for q in FLOWS)
    assert from_sheet(BUILD, WET, MeasuredBuilds((MeasuredBuild(OTHER[0], WET, impossible),))).learned is None


def test_a_sweep_of_the_build_itself_outweighs_what_others_say():
    experience = MeasuredBuilds(tuple(measured(build, (("wetting", 0.5),)) for build in OTHER[:3]))
    model = fit_to_sweeps(from_sheet(BUILD, WET, experience), (), points(BUILD, LESS)).wet
    truth = PressureModel(BUILD, WET).moved(dict(LESS))
    for flow in FLOWS:
        assert model.pressure(flow) == pytest.approx(truth.pressure(flow), rel=0.02)


def test_after_a_dry_sweep_the_wet_packing_is_still_what_others_say():
    others = [replace(measured(one), dry=points(one, (), conditions=replace(WET, wet=False))) for one in OTHER[:2]]
    experience = MeasuredBuilds(tuple(others))
    dry = points(BUILD, (), conditions=replace(WET, wet=False))
    learned = from_sheet(BUILD, WET, experience)
    scaled = fit_to_sweeps(learned, dry, ()).wet
    assert scaled.pressure(0.006) == pytest.approx(learned.pressure(0.006), rel=0.03)
    assert u_of(scaled) < u_of(learned)
    assert {key for _, step in scaled.effects for key in step} >= {"wetting", "wetting slope", "pores"}


def test_a_changed_agent_forgets_what_was_learned_and_a_longer_packing_keeps_it():
    learned = from_sheet(BUILD, WET, MeasuredBuilds((measured(OTHER[0]), measured(OTHER[1]))))
    longer = changed_build(learned, BUILD.with_entry("packing.length", 0.4))
    assert longer.factors["wetting"] == learned.factors["wetting"] < -0.3
    other = changed_build(learned, BUILD.with_entry("solution.agent", "another agent"))
    assert other.factors.get("wetting", 0.0) == 0.0
    stated = PressureModel(BUILD, WET).uncertainties
    for key in ("wetting", "wetting slope", "pores"):
        assert [step for _, step in other.effects if key in step] == [{key: stated[key]}]


def test_a_new_packing_of_a_kind_that_was_measured_is_predicted_by_those_builds():
    beads = replace(BUILD, packing=Packing("beads", 0.28, bead=4e-3))
    learned = from_sheet(beads, WET, MeasuredBuilds((measured(OTHER[0]), measured(OTHER[1]))))
    assert learned.learned is None
    to_pad = changed_build(learned, BUILD)
    assert to_pad.factors["wetting"] < -0.3
    assert u_of(to_pad) < u_of(PressureModel(BUILD, WET))


def test_an_evaluation_says_from_how_many_builds_it_learned_and_leaves_out_runs_of_a_build_with_sweeps():
    experience = MeasuredBuilds((measured(OTHER[0]), measured(OTHER[1]), measured(BUILD)))
    given = EvaluationInput(BUILD, None, None, None, RoomAir(), FoamKnowledge.usual(), experience=experience)
    found = evaluate(given)
    assert "learned from 3 measured builds" in " ".join(found.background)
    swept = evaluate(replace(given, wet=points(BUILD, ())))
    assert swept.generator.learned.builds == 2
    assert np.all(np.linalg.eigvalsh(swept.generator.learned.covariance) > 0.0)
