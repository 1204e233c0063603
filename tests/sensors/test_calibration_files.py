"""Calibrations: what they say inside and outside their range, and what their files keep."""

from dataclasses import replace

import numpy as np
import pytest
import sensor_boards as boards
from hypothesis import given, settings
from hypothesis import strategies as st

from frothline.errors import InputError
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Status

# A workshop's U-tube: ratio against Pa.
LINE = ChannelCalibration(
    channel="pressure",
    input="ratio",
    unit="Pa",
    coefficients=np.array([-2300.0, 55_300.0]),
    covariance=np.array([[400.0, -900.0], [-900.0, 4000.0]]),
    low=0.041,
    high=0.40,
    rival=np.array([-2290.0, 55_100.0, 480.0]),
    relative_systematic=0.001,
    date="2026-05-02",
    who="the builder",
    how="water manometer",
    board="bench 1",
    residuals=(3.0, -4.0, 1.0),
    points=((0.04, 1e-5, 0.0, 5.0), (0.2, 1e-5, 8700.0, 5.0)),
    reason="straight: 3 points are too few to detect a curve (five points at four settings are needed)",
)


def test_within_its_range_the_line_keeps_its_covariance():
    """JCGM 100, H.3.4: u2 = u2(c0) + x2 u2(c1) + 2 x cov; reckoned by hand at 0.2: 400 + 160 - 360 = 200."""
    plain = replace(LINE, relative_systematic=0.0)
    found = plain.evaluate(np.array([0.2]))
    assert found.value[0] == pytest.approx(8760.0)
    assert found.u[0] == pytest.approx(np.sqrt(200.0))
    assert not found.outside[0]


def test_beyond_its_range_the_interval_widens_and_is_flagged():
    inside, outside = LINE.evaluate(np.array([0.40])), LINE.evaluate(np.array([0.60]))
    assert outside.outside[0]
    difference = abs((-2300 + 55300 * 0.6) - (-2290 + 55100 * 0.6 + 480 * 0.36))
    assert outside.u[0] > inside.u[0]
    assert outside.u[0] >= difference / np.sqrt(3)


def test_the_converter_uses_it_and_marks_what_lies_beyond():
    tables = boards.stream(pressure=lambda t: np.where(t < 2.5, 10e3, 25e3))
    calibration = Calibration("bench 1", {"pressure": LINE})
    pressure = Converter(RigDescription.from_tables(tables), calibration).convert(tables)["line_pressure"]
    assert pressure.value[0] == pytest.approx(-2300 + 55300 * 0.22, abs=1.0)
    assert not pressure.status[0] & Status.OUT_OF_RANGE
    assert pressure.status[-1] & Status.OUT_OF_RANGE
    assert pressure.u[0] < 40  # 724 Pa before


def test_a_zero_read_after_the_line_takes_out_the_drift():
    tables = boards.stream(pressure=0.0)
    drifted = Calibration("bench 1", {"pressure": LINE}).with_zero("pressure", 0.04)
    pressure = Converter(RigDescription.from_tables(tables), drifted).convert(tables)["line_pressure"]
    assert pressure.value[-1] == pytest.approx(0.0, abs=1.0)


def test_a_new_line_forgets_the_zero_that_was_read_before_it():
    assert Calibration("bench 1", {}, {"pressure": 0.05}).with_channel(LINE).zeros == {}


def test_a_file_comes_back_as_it_was_written(tmp_path):
    path = tmp_path / "bench.toml"
    written = Calibration("bench 1", {"pressure": LINE}, {"differential": 0.501})
    save_calibration(path, written)
    read = load_calibration(path)
    assert read.board == "bench 1"
    assert read.zeros == {"differential": 0.501}
    ours, theirs = read.channels["pressure"], LINE
    for name in ("coefficients", "covariance", "rival"):
        assert np.array_equal(getattr(ours, name), getattr(theirs, name))
    for name in ("low", "high", "date", "who", "how", "board", "residuals", "points", "reason", "relative_systematic"):
        assert getattr(ours, name) == getattr(theirs, name)
    text = path.read_text(encoding="utf-8")
    for word in ("the builder", "2026-05-02", "water manometer", "residuals", "covariance", "straight"):
        assert word in text


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=3),
    st.floats(1e-12, 1e6),
    st.floats(-0.99, 0.99),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=30),
)
def test_any_calibration_goes_to_its_file_and_back(tmp_path_factory, coefficients, scale, tie, words):
    size = len(coefficients)
    u = scale * 10.0 ** -np.arange(size)
    covariance = np.outer(u, u) * (np.eye(size) + (1 - np.eye(size)) * tie / size)
    made = replace(LINE, coefficients=np.array(coefficients), covariance=covariance, who=words, how=words, rival=None)
    path = tmp_path_factory.mktemp("any") / "c.toml"
    save_calibration(path, Calibration(words, {"pressure": made}))
    read = load_calibration(path).channels["pressure"]
    assert np.array_equal(read.coefficients, made.coefficients)
    assert np.array_equal(read.covariance, covariance)
    assert read.who == words


def test_comments_of_a_person_and_other_channels_survive_a_new_calibration(tmp_path):
    path = tmp_path / "bench.toml"
    save_calibration(path, Calibration("bench 1", {"pressure": LINE}))
    path.write_text("# hose borrowed from the neighbour\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    other = replace(LINE, channel="scale", input="count", unit="kg")
    save_calibration(path, Calibration("bench 1", {"scale": other}))
    assert "neighbour" in path.read_text(encoding="utf-8")
    assert set(load_calibration(path).channels) == {"pressure", "scale"}


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (('unit = "Pa"', 'unit = "kPa"'), "convert other units first"),
        (('input = "ratio"', 'input = "V"'), "'ratio'"),
        (("format = 1", "format = 9"), "format 9"),
        (("range = [0.041, 0.4]", "range = [0.4, 0.041]"), "range"),
        (("[channel.pressure]", "[channel.presure]"), "Known: pressure"),
        (("coefficients = [-2300.0, 55300.0]", 'coefficients = ["a", "b"]'), "numbers"),
        (("coefficients = [-2300.0, 55300.0]", "coefficients = [nan, 55300.0]"), "finite"),
        (("[-900.0, 4000.0]]", "[-900.0, -4000.0]]"), "negative direction"),
        (("[[400.0, -900.0]", "[[400.0, 5000.0]"), "covariance"),
        (("[-900.0, 4000.0]]", "[-900.0, 4000.0]"), "TOML"),
    ],
)
def test_a_wrong_file_is_refused_with_file_field_and_what_to_do(tmp_path, change, word):
    path = tmp_path / "bench.toml"
    save_calibration(path, Calibration("bench 1", {"pressure": LINE}))
    text = path.read_text(encoding="utf-8")
    assert change[0] in text
    path.write_text(text.replace(*change), encoding="utf-8")
    with pytest.raises(InputError, match=word) as caught:
        load_calibration(path)
    assert "bench.toml" in caught.value.where


def test_a_file_that_cannot_be_written_leaves_the_old_one(tmp_path):
    path = tmp_path / "folder"
    path.mkdir()
    with pytest.raises(InputError, match="cannot be"):
        save_calibration(path, Calibration("bench 1", {"pressure": LINE}))
    assert path.is_dir()


def test_a_zero_older_than_the_line_goes_from_the_file_too(tmp_path):
    path = tmp_path / "calibration.toml"
    save_calibration(path, Calibration("bench 1", {}, {"pressure": 0.041, "scale": 120.0}))
    save_calibration(path, Calibration("bench 1", {}, {"pressure": 0.041, "scale": 120.0}).with_channel(LINE))
    assert load_calibration(path).zeros == {"scale": 120.0}
