"""Where a calibration is kept and found: one place for the prompt and the pages."""

import io
import json

import numpy as np
import pandas as pd
import pytest

from frothline.bench.folders import default_calibration
from frothline.bench.session import Session
from frothline.cli import main
from frothline.recording.writer import RecordingWriter
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.simulation.modelled import stream

RIG = "modelled://idle?speed=10&seed=4"
LEVEL = 4321.0  # Pa


@pytest.fixture
def home(tmp_path, monkeypatch):
    """The folder of the recordings; one stands in another one."""
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    monkeypatch.setenv("FROTHLINE_FOLDER", str(tmp_path / "mine"))
    monkeypatch.setattr("sys.stdin", io.StringIO("\n\n\n\n"))
    return tmp_path / "mine"


def level(board=""):
    """A line without a slope: whatever the sensor says, it is LEVEL. By hand: 4321 + 0 x ratio."""
    line = ChannelCalibration(
        channel="pressure",
        input="ratio",
        unit="Pa",
        coefficients=np.array([LEVEL, 0.0]),
        covariance=np.diag([1.0, 1.0]),
        low=0.0,
        high=1.0,
        board=board,
    )
    return Calibration(board, {"pressure": line})


def recorded(folder):
    data, _ = stream("modelled://sweep?seed=6&rate=50", 4.0)
    with RecordingWriter.create(folder, "sweep", source="modelled://sweep?seed=6") as writer:
        writer.write(data)
    return folder / "sweep.froth"


def pressures(recording, *more):
    out = recording.parent / "out.csv"
    assert main(["table", str(recording), "-o", str(out), "--overwrite", *more]) == 0
    return pd.read_csv(out, comment="#")["line_pressure"].dropna()


def test_the_prompt_keeps_it_where_the_pages_look_and_says_where(home, capsys):
    assert main(["calibrate", "zero", "--port", RIG]) == 0
    kept = home / "calibration.toml"
    assert kept == default_calibration()
    assert str(kept) in capsys.readouterr().out
    session = Session(RIG)  # what the pages stand on
    assert session.calibrating().path == kept
    assert session.calibrating().known().calibration.zeros == load_calibration(kept).zeros
    assert not (home.parent / "elsewhere" / "calibration.toml").exists()


def test_a_folder_may_be_named_for_both(home, tmp_path):
    assert main(["calibrate", "zero", "--port", RIG, "--folder", str(tmp_path / "other")]) == 0
    assert Session(RIG, tmp_path / "other").calibrating().known().calibration.zeros
    assert not home.exists()


def test_one_that_lies_in_the_folder_one_is_in_is_taken_over_with_a_word(home, tmp_path, capsys):
    earlier = tmp_path / "elsewhere" / "calibration.toml"
    save_calibration(earlier, level())
    before = earlier.read_bytes()
    assert main(["calibrate", "zero", "--port", RIG, "--channel", "pressure"]) == 0
    said = capsys.readouterr()
    assert "is copied" in said.err
    assert str(earlier) in said.err
    kept = load_calibration(home / "calibration.toml")
    assert kept.channels["pressure"].coefficients[0] == LEVEL
    assert "pressure" in kept.zeros
    assert earlier.read_bytes() == before
    # the next time there is one in its place, and the old one is let be
    assert main(["calibrate", "zero", "--port", RIG]) == 0
    assert "is copied" not in capsys.readouterr().err


def test_what_is_named_is_read_and_written(home, tmp_path):
    named = tmp_path / "named.toml"
    save_calibration(named, level())
    assert main(["calibrate", "zero", "--port", RIG, "--calibration", str(named)]) == 0
    assert load_calibration(named).zeros
    assert load_calibration(named).channels
    assert main(["calibrate", "zero", "--port", RIG, "--calibration", str(tmp_path / "no.toml")]) == 2
    assert not home.exists()


def test_what_reads_a_recording_takes_the_calibration_beside_it_and_says_so(home, capsys):
    recording = recorded(home)
    plain = pressures(recording)
    assert plain.std() > 1.0
    save_calibration(default_calibration(), level())
    capsys.readouterr()
    assert pressures(recording).to_numpy() == pytest.approx(LEVEL)
    assert str(default_calibration()) in capsys.readouterr().err
    assert pressures(recording, "--calibration", "none").to_numpy() == pytest.approx(plain.to_numpy())
    assert str(default_calibration()) not in capsys.readouterr().err


def test_recordings_of_two_folders_with_their_own_calibrations_ask_which(home, tmp_path, capsys):
    one, other = recorded(home), recorded(tmp_path / "other")
    for folder in (home, tmp_path / "other"):
        save_calibration(default_calibration(folder), level())
    assert main(["curve", str(one), str(other), "--json"]) == 2
    told = json.loads(capsys.readouterr().out)["error"]
    assert "different calibrations" in told["what"]
    assert "--calibration" in told["remedy"]


def answers(monkeypatch, *lines):
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))


def test_readings_that_do_not_move_are_refused_at_the_prompt_and_nothing_is_kept(home, monkeypatch, capsys):
    """The source is at rest, and heights of 300 and 600 mm are typed; then the answers end."""
    answers(monkeypatch, "0", "20", "", "300", "20", "", "600", "20", "f")
    assert main(["calibrate", "pressure", "--port", RIG]) == 2
    said = capsys.readouterr().err
    assert said.count("Point not taken") == 2  # one line for each of the two refused points
    assert "kept" not in said
    assert not (home / "calibration.toml").exists()


def test_the_previous_calibration_is_taken_back_at_the_prompt(home, capsys):
    folder = home
    save_calibration(
        folder / "calibration.toml", Calibration("bench 1").with_channel(level("bench 1").channels["pressure"])
    )
    assert main(["calibrate", "previous", "--channel", "pressure"]) == 0
    assert "previous calibration of pressure is used" in capsys.readouterr().out
    assert load_calibration(folder / "calibration.toml").channels == {}
    assert main(["calibrate", "previous", "--channel", "pressure"]) == 0
    assert load_calibration(folder / "calibration.toml").channels["pressure"].coefficients[0] == LEVEL
    assert main(["calibrate", "previous", "--channel", "rotor"]) == 2
    assert "no previous calibration of rotor" in capsys.readouterr().err


def test_a_rotor_has_no_zero(home, capsys):
    assert main(["calibrate", "zero", "--port", RIG, "--channel", "rotor"]) == 2
    assert "rotor cannot be zeroed" in capsys.readouterr().err


def test_a_figure_out_of_range_is_asked_again_in_its_unit_and_the_points_stay(home, monkeypatch, capsys):
    """300 °C is typed for the temperature of the water, then 20 °C; 9000 mm for the height, then 0 mm."""
    answers(monkeypatch, "0", "20", "", "9000", "0", "300", "20")
    assert main(["calibrate", "pressure", "--port", RIG]) == 2
    said = capsys.readouterr().err
    assert "9000 mm is outside -50 to 6000 mm" in said
    assert "300 °C is outside 1 to 40 °C" in said
    assert "(SI)" not in said
    assert said.count("temperature of the water, °C") == 3  # once for the first point, twice for the second
    assert "2 of at least 3 points" in said
    assert "the input ended" in said
    assert not (home / "calibration.toml").exists()


def test_an_out_of_range_figure_in_inches_is_refused_in_inches(home, monkeypatch, capsys):
    answers(monkeypatch, "400", "0", "68")
    assert main(["calibrate", "pressure", "--port", RIG, "--units", "inch-pound"]) == 2
    assert "400 in is outside -1.969 to 236.2 in" in capsys.readouterr().err  # 6 m over 0.0254 m
