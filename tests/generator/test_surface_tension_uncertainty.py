"""The uncertainty of a measured surface tension reaches the capillary pressures, and what rests on them.

By hand, of 50 drops of 1.52 g from a tip of 4.0 mm: γ ∝ m, so that the scale gives √2 x 0.005 g/√3 / 1.52 g = 0.27 %.
The tip gives some 0.5 % and the correction 1 to 2 %: the tension is known to some 2 %. A capillary pressure 4 σ/d has
the relative uncertainty of σ, in quadrature with that of d.
"""

from dataclasses import replace
from math import exp, sqrt

import numpy as np
import pytest
from builds import FIRST

from frothline.estimate import Estimate
from frothline.foam.agent import AgentBook
from frothline.foam.agent_file import parse_agent
from frothline.generator.build import Packing
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.model_fit import _first_normal
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.generator.pressure_terms import TENSION
from frothline.generator.room_air import RoomAir
from frothline.generator.what_if import changed_build
from frothline.trials.foam_history import with_tension
from frothline.trials.own_generators import own_generators
from frothline.trials.swept_builds import SweptBuild

SOAP = 'name = "soap"\n[drops]\ntip = "4.0 mm"\ncount = 50\nmass = "1.52 g"\n'
FLOW = 0.006  # m³/s


def build_with(kind="beads", under=72):
    packing = Packing("beads", 0.28, bead=4e-3) if kind == "beads" else Packing("pad", 0.28, wire=70e-6, voidage=0.965)
    tube = replace(FIRST.tube, under_liquid=under)
    return replace(FIRST, packing=packing, tube=tube, solution=replace(FIRST.solution, agent="soap"))


def model(tension=None, **more):
    build = build_with(**more)
    return PressureModel(build, OperatingConditions.of(build).with_tension(tension))


def known(percent):
    return Estimate.normal(0.030, 0.030 * percent / 100, "N/m")


def test_a_weighed_drop_reaches_the_model_with_its_uncertainty():
    agent = parse_agent(SOAP, "soap")
    tension = agent.surface_tension
    relative = tension.standard_uncertainty / tension.value
    assert sqrt(2) * 0.005 / sqrt(3) / 1.52 < relative < 0.03
    build = build_with()
    knowledge = with_tension(FoamKnowledge.usual(build), build, AgentBook((agent,)))
    conditions = RoomAir().conditions(build, knowledge)
    assert (conditions.surface_tension, conditions.u_tension) == (tension.value, pytest.approx(relative))
    without = RoomAir().conditions(build, FoamKnowledge.usual(build))
    assert without.u_tension == OperatingConditions.usual().u_tension


def test_the_uncertainty_of_a_capillary_pressure_is_the_quadrature_by_hand():
    """σ known to 12 %: 0.1 and 0.12 make 0.1562 for a hole; 0.64 and 0.12 make 0.6512 for a pore."""
    found = model(known(12)).uncertainties
    assert found["entry"] == pytest.approx(0.15620, abs=1e-5)
    assert found["pores"] == pytest.approx(0.65115, abs=1e-5)
    unknown = model().uncertainties
    assert unknown["entry"] == pytest.approx(0.30, abs=0.005)  # as it is where nobody measured it
    assert unknown["pores"] == pytest.approx(0.70, abs=0.005)


def test_wool_and_a_dry_line_have_nothing_of_it():
    assert model(known(12), kind="wool").tension_errors.keys() == {"entry"}
    assert model(known(12), under=0, kind="wool").tension_errors == {}
    dry = replace(model(known(12)), conditions=OperatingConditions.usual(wet=False))
    assert dry.tension_errors == {}


def test_entry_and_pores_rise_and_fall_together_with_the_tension():
    one = model(known(12))
    errors = dict(one.effects)
    assert errors[TENSION] == {"entry": 0.12, "pores": 0.12}
    assert errors["generator: entry"]["entry"] == pytest.approx(0.1)
    assert errors["generator: pores"]["pores"] == pytest.approx(0.64)
    for key, total in one.uncertainties.items():
        assert sqrt(sum(step.get(key, 0.0) ** 2 for _, step in one.effects)) == pytest.approx(total)


def test_a_tension_that_is_higher_by_its_uncertainty_raises_the_pressure_as_the_shared_error_does():
    """4 σ/d goes with σ: exp(0.12) times the tension is the model shifted by one standard uncertainty."""
    base = model(known(12))
    shifted = base.moved(dict(base.effects)[TENSION]).drops(FLOW)
    again = model(Estimate.normal(0.030 * exp(0.12), 1e-3, "N/m")).drops(FLOW)
    assert base.drops(FLOW)["entry"] > 1.0
    for key in ("entry", "pores"):
        assert shifted[key] == pytest.approx(again[key], rel=1e-6)


def test_the_fit_begins_with_the_covariance_that_the_tension_makes():
    one = model(known(12))
    names = list(one.parameters)
    first = np.array([one.uncertainties[key] for key in names])
    _, root = _first_normal(one, names, first)
    covariance = root @ root.T
    entry, pores = names.index("entry"), names.index("pores")
    assert covariance[entry, pores] == pytest.approx(0.12**2)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(first)
    away = covariance - np.diag(np.diag(covariance))
    away[entry, pores] = away[pores, entry] = 0.0
    assert not away.any()


@pytest.mark.parametrize("part", ["hole", "bead"])
def test_another_hole_or_bead_keeps_the_error_of_the_same_solution(part):
    before = model(known(12))
    build = before.build
    tube = replace(build.tube, hole=0.0025) if part == "hole" else build.tube
    packing = replace(build.packing, bead=6e-3) if part == "bead" else build.packing
    after = changed_build(before, replace(build, tube=tube, packing=packing))
    shared = [step for name, step in after.effects if name == TENSION]
    assert shared == [{"entry": 0.12, "pores": 0.12}]


def test_a_better_known_tension_narrows_the_pressure_share():
    widths = [
        next(one for one in model(tension).shares(FLOW) if one.key == "entry").pressure.standard_uncertainty
        for tension in (known(1), known(12), None)
    ]
    assert widths == sorted(widths)
    assert widths[2] > 2.5 * widths[0]


def test_measured_builds_of_the_agent_are_read_with_its_tension():
    build = build_with()
    swept = SweptBuild(build, wet=True, points=(), simulated=False)
    (found,) = own_generators([], [swept], AgentBook((parse_agent(SOAP, "soap"),))).measured
    assert found.conditions.surface_tension == parse_agent(SOAP, "soap").surface_tension.value
    (found,) = own_generators([], [swept]).measured
    assert found.conditions.surface_tension == OperatingConditions.usual().surface_tension
