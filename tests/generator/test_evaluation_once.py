"""How often an evaluation predicts: it is done at every key that is typed into the sheet."""

from dataclasses import replace

import numpy as np
import pytest

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.generator import evaluation, joint_draws, pressure_model, what_if
from frothline.generator.evaluation import EvaluationInput, evaluate, search_sizes
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.prediction import predict
from frothline.generator.room_air import RoomAir
from frothline.generator.sheet import parse_sheet, starting_sheet


def blower(share_of=1.0):
    points = [
        SteadyPoint.from_parts(share_of * 24e3 * (1 - share**2) + 1e-6, share * 0.05, (48.0, 1.5e-4, 0.0))
        for share in np.linspace(0.0, 0.98, 11)
    ]
    return BlowerCurve().fit(points)


BUILD = parse_sheet(starting_sheet()).build
GIVEN = EvaluationInput(BUILD, BUILD, blower(), None, RoomAir(), FoamKnowledge.usual())
NARROW = BUILD.with_entry("outlet.bore", 0.8 * BUILD.outlet.bore)


@pytest.fixture
def predicted(monkeypatch):
    """The builds that were predicted, in order."""
    builds = []

    def counted(generator, *arguments, **named):
        builds.append(generator.build)
        return predict(generator, *arguments, **named)

    monkeypatch.setattr(evaluation, "predict", counted)
    monkeypatch.setattr(what_if, "predict", counted)
    return builds


def test_each_build_is_predicted_once(predicted):
    evaluate(GIVEN)
    assert predicted == [BUILD]
    predicted.clear()
    evaluate(replace(GIVEN, wanted=NARROW))
    assert predicted == [BUILD, NARROW]


def test_the_effect_of_a_change_is_the_same_whether_the_build_was_predicted_before_or_not():
    found = evaluate(replace(GIVEN, wanted=NARROW))
    by_itself = what_if.what_if(found.generator, NARROW, GIVEN.source, knowledge=GIVEN.knowledge)
    assert found.change.flow_change == by_itself.flow_change
    assert found.change.pressure_change == by_itself.pressure_change
    assert found.change.words == by_itself.words


def test_a_search_of_sizes_does_not_predict_the_build_again(predicted, monkeypatch):
    found = evaluate(GIVEN)
    predicted.clear()
    sought = []
    monkeypatch.setattr(
        "frothline.generator.size_search.predict", lambda g, *rest: (sought.append(g.build), predict(g, *rest))[1]
    )
    choices = search_sizes(found, "outlet.bore", "pressure", 1.2 * found.built.point.pressure.value).choices
    assert not predicted
    assert len(sought) == len({one.outlet.bore for one in sought}) >= len(choices) > 0


def test_a_source_at_one_flow_is_the_source_at_many():
    source = GIVEN.source
    for flow in (0.0, 1e-7, 0.013, 0.049):
        assert source.pressure_at(flow) == pytest.approx(float(source.pressure(flow)[0]), rel=1e-13, abs=1e-9)


def test_the_next_change_of_a_build_draws_the_build_as_it_is_no_second_time(monkeypatch):
    """One is dragged while the other stays; the draws of each build are made once and are the same for both."""
    drawn = []
    real = joint_draws.JointDraws._load
    monkeypatch.setattr(
        joint_draws.JointDraws,
        "_load",
        lambda self, model, flows: (drawn.append(model.build), real(self, model, flows))[1],
    )
    model = pressure_model.PressureModel(BUILD, GIVEN.conditions)
    before = predict(model, GIVEN.source)
    first, second = (
        what_if.what_if(model, BUILD.with_entry("outlet.bore", share * BUILD.outlet.bore), GIVEN.source, before=before)
        for share in (0.8, 0.9)
    )
    assert drawn.count(BUILD) == 1
    assert len(drawn) == 3
    alone = what_if.what_if(pressure_model.PressureModel(BUILD, GIVEN.conditions), second.after.build, GIVEN.source)
    assert alone.flow_change == second.flow_change != first.flow_change
    assert drawn.count(BUILD) == 2  # another model of the same build is not taken for it


def test_while_one_entry_is_dragged_the_build_as_it_is_is_calculated_once(predicted):
    earlier = evaluate(replace(GIVEN, wanted=NARROW))
    predicted.clear()
    other = BUILD.with_entry("outlet.bore", 0.9 * BUILD.outlet.bore)
    found = evaluate(replace(GIVEN, wanted=other), earlier)
    assert predicted == [other]
    fresh = evaluate(replace(GIVEN, wanted=other))
    assert found.generator is earlier.generator is not fresh.generator
    assert (found.change.flow_change, found.change.words) == (fresh.change.flow_change, fresh.change.words)
    assert (found.built.point.flow, found.trouble) == (fresh.built.point.flow, fresh.trouble)
    assert [grid.changed for grid in found.grids] == [grid.changed for grid in fresh.grids] == [False, False, True]
    for one, again in zip(found.grids, fresh.grids, strict=True):
        assert np.array_equal(one.pressure, again.pressure)
        assert np.array_equal(one.upper, again.upper)


@pytest.mark.parametrize("changed", ["built", "source", "knowledge", "air", "wet"])
def test_what_changed_since_the_earlier_evaluation_is_calculated_again(changed):
    """An evaluation after another one is the same as one by itself, whatever changed between the two."""
    earlier = evaluate(replace(GIVEN, wanted=NARROW))
    wet = tuple(
        SteadyPoint.from_parts(0.8 * earlier.generator.pressure(q), q, (20.0, 2e-5, 0.0))
        for q in np.linspace(2e-3, 6e-3, 6)
    )
    now = {
        "built": BUILD.with_entry("packing.length", 0.7 * BUILD.packing.length),
        "source": blower(0.7),
        "knowledge": replace(GIVEN.knowledge, capture=0.5 * GIVEN.knowledge.capture),
        "air": RoomAir(ambient_temperature=303.15),
        "wet": wet,
    }[changed]
    given = replace(GIVEN, **{"wanted": NARROW, changed: now})
    found, fresh = evaluate(given, earlier), evaluate(given)
    assert found.built.point.flow == fresh.built.point.flow
    assert found.built.foam_rate == fresh.built.foam_rate
    assert found.change.flow_change == fresh.change.flow_change
    assert (found.built.point.flow, found.built.foam_rate) != (earlier.built.point.flow, earlier.built.foam_rate)
    assert np.array_equal(found.grids[1].pressure, fresh.grids[1].pressure)
