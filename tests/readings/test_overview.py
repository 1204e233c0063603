"""The overview of a long recording: its extremes are those of the samples, and stored values are never used unchecked."""

import io
import pickle
import shutil

import numpy as np
import pandas as pd
import pytest

import frothline as fl
from frothline.errors import InputError, NotARecording, RecordingUnwritable
from frothline.readings import overview as module
from frothline.readings.marks import marks
from frothline.readings.overview import FOLDER, SAMPLES, overview
from frothline.readings.series import read_series
from frothline.recording.reader import load
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.sensors import flow
from frothline.sensors.calibration import Calibration
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.trials.notebook import season


def recorded(folder, seconds=30.0, *, boots=1, segment=1 << 30):
    """A recording of a simulated rig at 100 Hz."""
    rig = ModelledRig(read_url("modelled://steady?seed=2&speed=0&rate=100"))
    policy = Policy(free_floor=0, segment_bytes=segment)
    with RecordingWriter.create(folder, "a", background=False, policy=policy) as writer:
        for boot in range(boots):
            if boot:
                rig.reset("external")
            rig.board.start()
            for _ in range(30):
                writer.write(rig.run(seconds / 30))
    return folder / "a.froth"


def agrees(frame, series, begin, end):
    """The extremes of a table are those of the samples in it; a pair of stored values begins in its first stretch."""
    for name, one in series.items():
        inside = (one.time >= begin) & (one.time < end) & np.isfinite(one.value)
        if inside.any():
            assert frame[f"{name}_low"].min() == one.value[inside].min(), name
            assert frame[f"{name}_high"].max() == one.value[inside].max(), name


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    path = recorded(tmp_path_factory.mktemp("one"))
    return path, read_series(path)


def test_the_whole_recording_has_the_extremes_of_its_samples(one):
    path, series = one
    frame = fl.overview(path, points=10)
    agrees(frame, series, 0.0, 1e9)
    assert len(frame) == 10
    assert frame.attrs["units"]["line_pressure_low"] == "Pa"
    assert frame.attrs["seconds"] == pytest.approx(30.0, abs=0.2)
    assert frame["line_temperature_low"].notna().all()  # five readings a second: slower than the line


def test_an_overview_is_a_table_that_draws_itself(one, monkeypatch):
    monkeypatch.setenv("FROTHLINE_UNITS", "metric")
    frame = fl.overview(one[0], points=10)
    figure = frame.plot()
    low, high = figure.data[:2]
    assert [axis.title.text for axis in figure.select_yaxes()][:2] == ["Pressure (kPa)", "Flow in standard air (L/s)"]
    assert high.y.max() * 1e3 == pytest.approx(one[1]["line_pressure"].value.max())
    assert low.y.min() * 1e3 == pytest.approx(one[1]["line_pressure"].value.min())
    assert low.x[0] == pytest.approx(frame.attrs["seconds"] / 20)  # the middle of the first of ten stretches
    temperature = fl.overview(one[0], points=10, columns=["line_temperature"]).plot()
    assert len(temperature.data) == 2
    assert temperature.data[1].y.max() + 273.15 == pytest.approx(one[1]["line_temperature"].value.max())
    assert type(frame.table()) is pd.DataFrame
    assert frame.table().equals(pd.DataFrame(frame))
    assert frame.table().attrs == frame.attrs
    assert type(frame[["time"]]) is pd.DataFrame
    with pytest.raises(InputError, match="nothing to draw"):
        fl.overview(one[0], points=10, columns=["air_power"]).plot()


def test_no_uncertainty_of_a_flow_is_calculated_which_an_overview_does_not_show(tmp_path, monkeypatch):
    def asked(*groups):
        raise AssertionError

    monkeypatch.setattr(flow, "added", asked)
    path = recorded(tmp_path, 6.0)
    assert np.isfinite(overview(path)["air_power_high"]).any()
    assert np.isfinite(overview(path, begin=2.0, end=2.5)["air_power_high"]).any()


def test_marks_and_known_series_are_stored_too(tmp_path):
    path = shutil.copy(season() / "04-05-first-tube.froth", tmp_path)
    told = [vars(mark) for mark in marks(load(path))]
    assert len(told) == 4
    for _ in range(2):
        frame = overview(path, points=4)
        assert frame.attrs["marks"] == told
        assert {"line_pressure", "scale_mass"} <= set(frame.attrs["known"])
        assert "differential_pressure" not in frame.attrs["known"]  # no orifice is fitted
        assert frame.attrs["stretch"] == pytest.approx(41.95 / 4)
    assert not overview(path, begin=5.0, end=40.0, points=4).attrs["marks"]


@pytest.mark.parametrize("part", [(0.0, 2.0), (4.0, 4.5), (12.3, 20.0), (29.0, 30.0)])
def test_a_short_part_shows_every_sample(one, part):
    path, series = one
    frame = overview(path, begin=part[0], end=part[1], points=5000)
    agrees(frame, series, *part)
    pressure = series["line_pressure"]
    inside = (pressure.time >= part[0]) & (pressure.time < part[1])
    assert frame["line_pressure_low"].notna().sum() == inside.sum()


def test_stored_values_are_used_for_the_whole_and_the_recording_only_for_a_short_part(one, monkeypatch):
    path, _ = one
    before = overview(path, points=10)
    monkeypatch.setattr(module, "outlined", None)
    assert overview(path, points=10).equals(before)
    monkeypatch.setattr(module, "decode_all", None)
    assert overview(path, points=10).equals(before)
    with pytest.raises(TypeError):
        overview(path, begin=1.0, end=2.0, points=1000)


def damaged(content, how):
    if how == "cut":
        return content[: len(content) // 2]
    if how == "empty":
        return b""
    if how == "a bit":
        return content[:2000] + bytes([content[2000] ^ 8]) + content[2001:]
    if how == "a pickle":
        return pickle.dumps({"stamp": "x"})
    other = io.BytesIO()
    np.savez(other, stamp=np.array("of another recording"))
    return other.getvalue()


@pytest.mark.parametrize("how", ["cut", "empty", "a bit", "a pickle", "another"])
def test_stored_values_that_are_damaged_are_calculated_again(one, how):
    path, series = one
    overview(path)
    (file,) = (path.parent / FOLDER).iterdir()
    file.write_bytes(damaged(file.read_bytes(), how))
    agrees(overview(path, points=10), series, 0.0, 1e9)
    agrees(overview(path, points=10), series, 0.0, 1e9)


def test_a_recording_that_grew_is_read_again(tmp_path):
    path = recorded(tmp_path, 12.0)
    content = path.read_bytes()
    cut = content.index(b"\0", len(content) // 2) + 1
    path.write_bytes(content[:cut])
    short = overview(path).attrs["seconds"]
    path.write_bytes(content)
    assert overview(path).attrs["seconds"] > short + 3.0


def test_another_calibration_or_spool_has_other_values(one, monkeypatch):
    path, _ = one
    calls, outlined = [], module.outlined
    monkeypatch.setattr(module, "outlined", lambda *given: calls.append(given) or outlined(*given))
    sheets = overview(path, None)
    zeroed = Calibration(zeros={"pressure": 0.05})
    calls.clear()
    assert not overview(path, zeroed).equals(sheets)
    assert len(calls) == 1
    overview(path, zeroed)
    assert len(calls) == 1


def test_a_folder_that_cannot_be_written_only_costs_time(tmp_path, monkeypatch):
    path = recorded(tmp_path, 8.0)

    def refused(*_):
        raise RecordingUnwritable("it could not be written", where="here")

    monkeypatch.setattr(module, "write_atomically", refused)
    assert overview(path, points=5).equals(overview(path, points=5))


def test_a_recording_with_another_boot_has_the_extremes_of_both_and_nothing_between_them(tmp_path):
    path = recorded(tmp_path, 10.0, boots=2)
    series = read_series(path)
    agrees(overview(path, points=8), series, 0.0, 1e9)
    pressure = series["line_pressure"]
    at = float(pressure.time[np.argmax(np.diff(pressure.time))])  # of the last sample before the break
    frame = overview(path, begin=at - 4.0, end=at + 6.0, points=3)
    inner, outer = (
        pressure.value[(pressure.time > at - 4.0 + more) & (pressure.time < at + 6.0 - more)]
        for more in (SAMPLES / 100, -SAMPLES / 100)
    )
    assert outer.min() <= frame["line_pressure_low"].min() <= inner.min()
    assert inner.max() <= frame["line_pressure_high"].max() <= outer.max()


def test_a_part_across_two_segments_shows_every_sample(tmp_path):
    path = recorded(tmp_path, 30.0, segment=30_000)
    assert len(list(tmp_path.glob("*.froth"))) > 2
    series = read_series(path)
    for part in ((0.0, 30.0), (3.0, 9.0), (5.5, 6.5), (11.0, 19.5)):
        agrees(overview(path, begin=part[0], end=part[1], points=9000), series, *part)


def test_a_recording_without_samples_is_an_empty_overview_or_a_plain_error(tmp_path):
    with pytest.raises(NotARecording):
        overview(tmp_path / "none.froth")


@pytest.mark.parametrize(
    "wrong",
    [{"columns": ["speed"]}, {"points": 0}, {"begin": 5.0, "end": 5.0}, {"begin": float("nan")}, {"begin": 99.0}],
)
def test_a_wrong_part_or_column_is_refused(one, wrong):
    with pytest.raises(InputError):
        overview(one[0], **wrong)
