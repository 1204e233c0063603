"""What measured points leave open: they know the sum of a generator's pressure drops, and not the share of its outlet.

The oracle moves the measured share itself and finds the meeting point by root finding. It shares no code with the joint
draws but the model.
"""

from dataclasses import replace
from math import exp, log
from statistics import NormalDist

import numpy as np
import pytest
from builds import FIRST
from scipy import optimize
from test_build_whatif import SOURCE, WET

from frothline.generator.joint_draws import JointDraws
from frothline.generator.pressure_model import PressureModel
from frothline.generator.what_if import changed_build

BUILD = FIRST.with_entry("outlet.hose", 1.5).with_entry("outlet.bore", 0.036)
WIDER, NARROWER = (BUILD.with_entry("outlet.bore", bore) for bore in (0.046, 0.029))
FOUND = {"wetting": log(6.0), "wall": -1.0}  # much of the pressure in the packing, and as much in the outlet
Z = 1.8  # standard uncertainties


def measured(at):
    """A generator whose points leave open how much of the pressure the foam takes along its hose: a factor of e (one
    standard uncertainty), against as much of the packing's at a flow, m³/s.
    """
    bare = PressureModel(BUILD, WET).moved(FOUND)
    one, other = (bare.moved({key: 0.01}).pressure(at) - bare.pressure(at) for key in ("wall", "wetting"))
    return replace(bare, errors=(("generator, scaled: 1", {"wall": 1.0, "wetting": -one / other}),))


def meeting(generator, after, z):
    """Flow at which the source meets the changed build, z standard uncertainties away.

    The measured sum moves by its derivative, which is none where it was measured best; the ratio to it moves in full.
    """
    ((_, step),) = generator.errors

    def moved(model, size, q):
        return model.moved({key: size * value for key, value in step.items()}).pressure(q)

    def gap(q):
        derivative = log(moved(generator, 0.01, q) / moved(generator, -0.01, q)) / 0.02
        ratio = moved(after, z, q) / moved(generator, z, q)
        return SOURCE.pressure_at(q) - generator.pressure(q) * exp(z * derivative) * ratio

    return optimize.brentq(gap, 1e-3, 0.05, xtol=1e-6)


@pytest.mark.parametrize(("bore", "at"), [(0.046, 0.0166), (0.029, 0.0120)], ids=["wider", "narrower"])
def test_the_ends_of_a_changed_outlet_are_those_of_the_open_share(bore, at):
    generator = measured(at)
    changed = PressureModel(BUILD.with_entry("outlet.bore", bore), WET).moved(FOUND)
    after = replace(changed, errors=generator.errors, before_outlet=generator)
    middle, *ends = (meeting(generator, after, z) for z in (0.0, -Z, Z))
    assert middle == pytest.approx(at, rel=0.02)
    flows = JointDraws().meet(SOURCE, after).flow[1:]
    drawn = np.quantile(flows, [NormalDist().cdf(-Z), NormalDist().cdf(Z)])
    # the response is a straight line on either side; a derivative alone would give ends a quarter to a third off
    for true, end in zip(sorted(ends), drawn, strict=True):
        assert end - middle == pytest.approx(true - middle, rel=0.2)


def test_only_another_outlet_is_told_by_its_share():
    """The holes are known well: an open share of foam and packing says nothing more about them."""
    generator = measured(0.0166)
    assert changed_build(generator, BUILD.with_entry("outlet.bore", 0.046)).before_outlet is generator
    assert changed_build(generator, BUILD.with_entry("tube.hole", 0.005)).before_outlet is None
