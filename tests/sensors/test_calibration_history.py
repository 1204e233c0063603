"""The history of calibrations in their file: every change stays listed, and no figure depends on it."""

import numpy as np
import pytest

from frothline.sensors.calibration import CALIBRATED, WENT_BACK, ZEROED, Calibration, ChannelCalibration
from frothline.sensors.calibration_file import load, save


def line(date, residuals=(1.0, -3.0)):
    points = ((0.1, 0.0, 500.0, 1.0), (0.2, 0.0, 900.0, 1.0))
    return ChannelCalibration(
        "pressure", "ratio", "Pa", np.array([0.0, 1.0]), np.eye(2), 0, 1, date=date, residuals=residuals, points=points
    )


@pytest.fixture
def calibration():
    made = (
        Calibration("bench 1").with_channel(line("2026-05-01")).noted("pressure", CALIBRATED, "2026-05-01 10:00", "A")
    )
    made = made.with_zero("pressure", 0.04).noted("pressure", ZEROED, "2026-05-02 10:00", "B")
    made = made.with_channel(line("2026-05-03")).noted("pressure", CALIBRATED, "2026-05-03 10:00", "C")
    return made.taken_back("pressure").noted("pressure", WENT_BACK, "2026-05-04 10:00")


def test_every_change_is_in_the_file_and_comes_back_as_it_was(calibration, tmp_path):
    path = tmp_path / "calibration.toml"
    save(path, calibration)
    again = load(path)
    assert again.history == calibration.history
    assert [(one.what, one.who) for one in again.history[:3]] == [(CALIBRATED, "A"), (ZEROED, "B"), (CALIBRATED, "C")]
    assert (again.history[0].points, again.history[0].residual, again.history[0].unit) == (2, 3.0, "Pa")
    assert (again.history[3].what, again.history[3].of) == (WENT_BACK, "2026-05-01")
    assert again.history[1].residual is None
    save(path, again)
    assert load(path).history == calibration.history


def test_no_figure_depends_on_the_history(calibration):
    plain = Calibration(calibration.board, calibration.channels, calibration.zeros, calibration.previous)
    assert calibration.stamp == plain.stamp
    assert calibration.for_board("bench 1").history == calibration.history


def test_a_line_of_the_history_that_cannot_be_read_costs_that_line_alone(calibration, tmp_path):
    path = tmp_path / "calibration.toml"
    save(path, calibration)
    text = path.read_text("utf-8")
    path.write_text(
        text + '\n[[history]]\nwhat = 3\n\n[[history]]\nchannel = "scale"\npoints = "many"\nresidual = nan\n'
    )
    again = load(path)
    assert again.channels.keys() == calibration.channels.keys()
    assert len(again.history) == 5
    assert (again.history[-1].channel, again.history[-1].points, again.history[-1].residual) == ("scale", 0, None)
