"""Foam along the wall of an outlet hose: the range that is held possible before a sweep, against a law from elsewhere."""

from math import exp, sqrt
from statistics import NormalDist

import pytest
from builds import FIRST

from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.generator.pressure_terms import LARGEST_WALL_STRESS, LEAST_WALL_STRESS, WALL_STRESS

WITH_HOSE = FIRST.with_entry("outlet.hose", 1.0)


def stiff(radius, speed=5.0):
    """Pa on the wall by bubbles with stiff skins, at 90 % of air: 3.9 tension / radius x the root of the capillary
    number (N. D. Denkov and others 2005, from memory), for 0.03 N/m and 1 mPa s.
    """
    return 3.9 * 0.03 / radius * sqrt(1e-3 * speed / 0.03)


def test_the_range_before_a_sweep_holds_stiff_and_fine_bubbles_and_soft_and_large_ones():
    half = (
        NormalDist().inv_cdf(0.975) * PressureModel(WITH_HOSE, OperatingConditions.of(WITH_HOSE)).uncertainties["wall"]
    )
    lowest, highest = WALL_STRESS * exp(-half), WALL_STRESS * exp(half)
    # by hand: 3.9 x 0.03 / 0.5e-3 x 0.408 = 95.5 Pa; a yield stress of some pascals is a soft foam's, which no flow undercuts
    assert stiff(0.5e-3) == pytest.approx(95.5, rel=0.01)
    assert lowest < 3.0 < stiff(0.5e-3) < highest


def test_the_usual_friction_is_the_middle_of_its_range():
    assert sqrt(LEAST_WALL_STRESS * LARGEST_WALL_STRESS) == pytest.approx(WALL_STRESS, rel=0.02)
