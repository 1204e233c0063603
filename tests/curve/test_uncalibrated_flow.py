"""A source's curve from an element that was never calibrated says so beside each of its flows."""

from dataclasses import replace

import numpy as np
import pytest

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import operating_point
from frothline.curve.resistance import ResistanceLine
from frothline.curve.steady_points import SteadyPoint
from frothline.estimate import NOT_CALIBRATED, Estimate
from frothline.formatting import full_text, reading_text, show_estimate
from frothline.units import METRIC

POINTS = [
    SteadyPoint.from_parts(20e3 * (1 - (q / 0.06) ** 2), q, (20.0, 5e-5, 0.0), ()) for q in np.linspace(0, 0.055, 9)
]
MARKED = [replace(point, notes=(NOT_CALIBRATED,)) for point in POINTS]


def test_free_delivery_and_air_power_say_so_and_shut_off_does_not():
    fit = BlowerCurve().fit(MARKED)
    assert fit.free_delivery.uncalibrated
    assert fit.air_power.uncalibrated
    assert not fit.shut_off.uncalibrated
    assert NOT_CALIBRATED in full_text(fit.free_delivery, METRIC["flow"])
    assert any("never calibrated" in note for note in fit.notes)


def test_a_calibrated_element_says_nothing():
    fit = BlowerCurve().fit(POINTS)
    assert not fit.free_delivery.uncalibrated
    assert not any("never calibrated" in note for note in fit.notes)


def test_the_flow_at_the_operating_point_says_so():
    line = ResistanceLine(0.0, 6e6)
    assert operating_point(BlowerCurve().fit(MARKED), line).flow.uncalibrated
    assert not operating_point(BlowerCurve().fit(POINTS), line).flow.uncalibrated


@pytest.mark.parametrize("calibrated", [True, False])
def test_the_word_stands_beside_the_figure_for_every_reader(calibrated):
    said = reading_text(0.02, 0.002, METRIC["flow"], calibrated=calibrated)
    assert (NOT_CALIBRATED in said) != calibrated
    estimate = Estimate.normal(0.02, 0.002, "m3/s")
    estimate = estimate if calibrated else estimate.marked_uncalibrated()
    assert (NOT_CALIBRATED in show_estimate(estimate, "flow", "metric").under) != calibrated
    assert estimate.marked_uncalibrated().marked_uncalibrated().assumptions.count(NOT_CALIBRATED) == 1
