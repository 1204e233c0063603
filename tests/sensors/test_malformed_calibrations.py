"""Malformed calibration files: each is refused in words with its place, or read; a save never changes one for the worse."""

import os
import random
import stat
from dataclasses import replace

import numpy as np
import pytest
from test_calibration_files import LINE

from frothline.errors import InputError
from frothline.sensors.calibration import Calibration, CalibrationChange, Previous
from frothline.sensors.calibration_file import load, save

WIRE = replace(
    LINE,
    channel="thermal",
    input="V",
    unit="m/s",
    coefficients=np.array([1.0, 2.0, 0.5]),
    covariance=np.eye(3),
    king={"wire": 350.0, "reference": 293.0, "density": 1.2},
)
WHOLE = Calibration(
    "bench 1",
    {"pressure": LINE, "thermal": WIRE},
    {"pressure": 0.04},
    {"pressure": Previous(LINE, 0.04)},
    (CalibrationChange(channel="pressure", what="calibrated", date="2026-05-02", points=3, residual=1.0),),
)
VALUES = (
    "1", '"x"', "[]", "{}", "true", "nan", "inf", "-1", "[1]", "[[1]]", "{a=1}", "2026-01-01", "1e400", "1e308",
    "9" * 400, '""', "[{}]", "[[1,2,3,4,5]]", '["x"]', "[[1],[2,3]]",
)  # fmt: skip
LINES = (
    "channel = 3", "zero = 1", "[[channel]]", "[[zero]]", "[previous]", "pressure = 3", "board = 7", "history = 1",
    "king = 3", "previous = []", 'form = "king"', "format = true", "x = {a = 1}", "dof = [1]", "dof = -2", "\x07",
)  # fmt: skip


def changed(text, draw):
    """The text with one wrong value, one line less, one strange line or one strange character."""
    lines = text.split("\n")
    k, kind = draw.randrange(len(lines)), draw.randrange(4)
    if kind == 0 and "=" in lines[k]:
        lines[k] = lines[k].split("=")[0] + "= " + draw.choice(VALUES)
    elif kind == 1:
        del lines[k]
    elif kind == 2:
        lines.insert(k, draw.choice(LINES))
    else:
        at = draw.randrange(len(text))
        return text[:at] + chr(draw.randrange(1, 400)) + text[at + 1 :]
    return "\n".join(lines)


@pytest.mark.parametrize("times", [40, pytest.param(2000, marks=pytest.mark.exhaustive)])
def test_any_malformed_file_is_refused_with_its_place_and_kept_by_a_save(tmp_path, times):
    path, draw = tmp_path / "calibration.toml", random.Random(5)
    save(path, WHOLE)
    text, refused = path.read_text("utf-8"), []
    for _ in range(times):
        there = changed(text, draw)
        path.write_text(there, "utf-8")
        try:
            load(path)
        except InputError as error:
            refused.append(error.where)
            with pytest.raises(InputError):
                save(path, WHOLE)
            assert path.read_bytes() == there.encode(), there
        else:
            save(path, WHOLE)
            assert load(path).channels.keys() >= {"pressure", "thermal"}, there
    assert len(refused) > times / 4
    assert all(where.startswith(str(path)) for where in refused)


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("points = [[1, 2, 3]]", "a point has 3 numbers"),
        ('points = ["a"]', "points must be"),
        ("residuals = 3", "residuals must be a list"),
        ("remarks = 3", "remarks is 3"),
        ("systematic = -1", "systematic must be a number of at least 0, not -1"),
        ("dof = 0", "dof must be a number"),
        ("dof = [1]", "dof must be a number"),
        (f"systematic = {'9' * 400}", "systematic must be a number"),
        (f"coefficients = [1, {'9' * 400}]", "coefficients must be numbers"),
    ],
)
def test_a_wrong_entry_of_a_channel_is_named(tmp_path, entry, said):
    path = tmp_path / "calibration.toml"
    save(path, Calibration("bench 1", {"pressure": LINE}))
    key = entry.split(" = ")[0]
    kept = [line for line in path.read_text("utf-8").splitlines() if not line.startswith(f"{key} =")]
    path.write_text("\n".join([*kept, entry]) + "\n", "utf-8")
    with pytest.raises(InputError, match=said) as caught:
        load(path)
    assert caught.value.where == f"{path} [channel.pressure]"


def test_a_calibration_of_a_later_version_is_not_replaced(tmp_path):
    path = tmp_path / "calibration.toml"
    path.write_text('format = 2\nboard = "bench 1"\n', "utf-8")
    with pytest.raises(InputError, match="format 2"):
        save(path, WHOLE)
    assert path.read_text("utf-8") == 'format = 2\nboard = "bench 1"\n'


def test_a_pipe_is_not_read(tmp_path):
    os.mkfifo(tmp_path / "calibration.toml")
    with pytest.raises(InputError, match="cannot be read"):
        load(tmp_path / "calibration.toml")


def test_a_save_forces_the_file_and_then_its_name_to_the_medium(tmp_path, monkeypatch):
    """A rename alone may be lost by a power cut: fsync(2) of Linux wants a sync of the folder too."""
    synced, real = [], os.fsync

    def fsync(descriptor):
        synced.append("folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "file")
        real(descriptor)

    monkeypatch.setattr(os, "fsync", fsync)
    save(tmp_path / "calibration.toml", WHOLE)
    assert synced == ["file", "folder"]
    assert [path.name for path in tmp_path.iterdir()] == ["calibration.toml"]
