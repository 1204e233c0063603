"""One rule for the calibration of a recording: library, notebook, prompt and pages give the same figures."""

import inspect
import shutil
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from prompt_json import result_of

from frothline.bench.library import Library, LibraryFolder
from frothline.bench.live_series import LiveSeries
from frothline.bench.session import Session
from frothline.cli import main
from frothline.errors import InputError
from frothline.readings.series import read_series
from frothline.readings.table import read_table, read_tables
from frothline.recording.reader import load
from frothline.recording.writer import RecordingWriter
from frothline.report.provenance import budgets
from frothline.report.run import run_report
from frothline.report.sweep import sweep_report
from frothline.run.run import run_of_recording
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.simulation.modelled import stream
from frothline.sweep.recorded_source import load_sweeps
from frothline.trials.measurements import measure
from frothline.trials.notebook import Notebook, open_notebook
from frothline.trials.trial import load_trial
from frothline.web.pages.source.other_sweeps import choose
from frothline.wire import decode_all

SEASON = Path(__file__).parents[2] / "recordings" / "season"
SWEEP = SEASON / "03-29-sweep-shop-motor.froth"
RUN = SEASON / "04-05-first-tube.froth"
LEVEL = 4321.0  # Pa


def level(value=LEVEL, board=""):
    """A line without a slope: whatever the sensor says, it is ``value``. By hand: value + 0 x ratio."""
    line = ChannelCalibration(
        channel="pressure",
        input="ratio",
        unit="Pa",
        coefficients=np.array([value, 0.0]),
        covariance=np.diag([1.0, 1.0]),
        low=0.0,
        high=1.0,
        board=board,
    )
    return Calibration(board, {"pressure": line})


def steeper(factor=1.5):
    """Half as much again of the data sheet's pressure: NXP MPX5050 rev 11, P = (ratio - 0.04) / 0.018 kPa."""
    line = ChannelCalibration(
        channel="pressure",
        input="ratio",
        unit="Pa",
        coefficients=np.array([-0.04, 1.0]) / 0.018 * 1e3 * factor,
        covariance=np.diag([1.0, 1.0]),
        low=0.0,
        high=1.0,
    )
    return Calibration("", {"pressure": line})


def recorded(folder, name="sweep", seed=6):
    data, _ = stream(f"modelled://sweep?seed={seed}&rate=50", 4.0)
    with RecordingWriter.create(folder, name, source="modelled://sweep") as writer:
        writer.write(data)
    return folder / f"{name}.froth"


@pytest.fixture
def season(tmp_path):
    """A sweep and a run, calibrated: every pressure is half as much again as by the data sheet."""
    for file in (SWEEP, RUN):
        shutil.copy(file, tmp_path)
        shutil.copy(file.with_suffix(".toml"), tmp_path)
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    save_calibration(tmp_path / "calibration.toml", steeper())
    return tmp_path


READERS = (read_table, read_tables, read_series, load_sweeps, open_notebook, Notebook.__init__, measure, load_trial)
READERS += (run_of_recording, run_report, sweep_report, budgets, Session.__init__)


@pytest.mark.parametrize("reader", READERS, ids=lambda one: one.__qualname__)
def test_every_reader_takes_the_calibration_in_the_folder_unless_told_otherwise(reader):
    assert inspect.signature(reader).parameters["calibration"].default == "auto"


def test_a_table_is_read_with_the_calibration_in_its_folder(tmp_path):
    path = recorded(tmp_path)
    plain = read_table(path)["line_pressure"].dropna()
    assert plain.std() > 1.0
    save_calibration(tmp_path / "calibration.toml", level())
    assert read_table(path)["line_pressure"].dropna().to_numpy() == pytest.approx(LEVEL)
    assert read_table(str(path))["line_pressure"].dropna().to_numpy() == pytest.approx(LEVEL)
    assert read_table(load(path))["line_pressure"].dropna().to_numpy() == pytest.approx(LEVEL)
    assert read_series(path)["line_pressure"].value[5:] == pytest.approx(LEVEL)
    assert read_table(path, calibration=None)["line_pressure"].dropna().to_numpy() == pytest.approx(plain.to_numpy())
    # a file, as Path or text, and a calibration itself are used as given
    other = tmp_path / "other" / "mine.toml"
    save_calibration(other, level(1234.0))
    for choice in (other, str(other), load_calibration(other)):
        assert read_table(path, choice)["line_pressure"].dropna().to_numpy() == pytest.approx(1234.0)


def test_a_calibration_in_another_folder_is_not_taken(tmp_path):
    """Not that of the folder above, nor that of the folder the program was started in."""
    path = recorded(tmp_path / "below")
    save_calibration(tmp_path / "calibration.toml", level())
    assert read_table(path)["line_pressure"].std() > 1.0


def test_a_calibration_that_cannot_be_read_is_refused_and_not_passed_over(tmp_path):
    path = recorded(tmp_path)
    (tmp_path / "calibration.toml").write_text("format = [", "utf-8")
    with pytest.raises(InputError, match=r"calibration.toml"):
        read_table(path)
    assert len(read_table(path, calibration=None)) > 0


def test_recordings_with_two_calibrations_are_not_evaluated_together(tmp_path):
    blower = SEASON / "03-29-sweep-garden-blower.froth"
    for folder, value, recording in (("a", 1.0, SWEEP), ("b", 2.0, blower)):
        (tmp_path / folder).mkdir()
        shutil.copy(recording, tmp_path / folder / SWEEP.name)
        save_calibration(tmp_path / folder / "calibration.toml", level(value))
    paths = [tmp_path / folder / SWEEP.name for folder in ("a", "b")]
    with pytest.raises(InputError, match="different calibrations"):
        load_sweeps(paths)
    assert load_sweeps(paths, calibration=None).points


def curve_of(capsys, *arguments):
    assert main([*map(str, arguments), "--json"]) == 0
    return result_of(capsys.readouterr().out)


def settled(look, seconds=120.0):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = look()
        if found is not None:
            return found
        time.sleep(0.02)
    raise AssertionError("no answer")


def test_library_prompt_and_pages_give_the_same_curve_of_a_calibrated_sweep(season, capsys):
    path = season / SWEEP.name
    by_library = load_sweeps(path).fit().shut_off.value
    assert by_library == pytest.approx(1.5 * load_sweeps(path, calibration=None).fit().shut_off.value, rel=0.01)
    assert curve_of(capsys, "curve", path)["shut_off"]["value"] == pytest.approx(by_library, rel=1e-9)
    assert open_notebook(season).curve("shop motor").shut_off.value == pytest.approx(by_library, rel=1e-9)
    shelf = Library(season, None)
    settled(lambda: shelf.places["own"].look().ready or None)

    def drawn():
        overlay = choose(shelf, [str(path)], simulated=False, calibration="auto", stamp="")
        return overlay.known[0][1] if overlay.known else None

    assert settled(drawn).shut_off.value == pytest.approx(by_library, rel=1e-9)


def test_library_prompt_and_pages_give_the_same_trial_of_a_calibrated_run(season, capsys):
    by_library = open_notebook(season).trial(RUN.stem).line_pressure.value
    plain = open_notebook(season, calibration=None).trial(RUN.stem).line_pressure.value
    assert by_library == pytest.approx(1.5 * plain, rel=0.01)
    told = curve_of(capsys, "trials", season, "--trial", RUN.stem)
    assert told["line_pressure"]["value"] == pytest.approx(by_library, rel=1e-9)
    (seen,) = (one for one in LibraryFolder("own", season)._look().trials if one.name == RUN.stem)
    assert seen.line_pressure.value == pytest.approx(by_library, rel=1e-9)


def test_the_page_s_trials_follow_a_calibration_that_comes_and_goes(season):
    place = LibraryFolder("own", season)

    def pressure():
        return next(one for one in place._look().trials if one.name == RUN.stem).line_pressure.value

    calibrated = pressure()
    (season / "calibration.toml").rename(season / "put-aside.toml")
    assert pressure() == pytest.approx(calibrated / 1.5, rel=0.01)
    (season / "put-aside.toml").rename(season / "calibration.toml")
    assert pressure() == pytest.approx(calibrated, rel=1e-9)


def test_a_calibration_that_cannot_be_read_is_the_problem_of_the_trial(season):
    (season / "calibration.toml").write_text("format = [", "utf-8")
    trial = open_notebook(season).trial(RUN.stem)
    assert any("calibration.toml" in problem for problem in trial.problems)
    assert trial.density is not None  # the samples need none


# --- a session ---------------------------------------------------------------------------------------------------------


def test_another_board_gets_its_own_part_of_the_calibration():
    tables = decode_all(stream("modelled://steady?rate=50", 2.0)[0]).tables
    other = {name: rows.copy() for name, rows in tables.items()}
    other["description"]["label"] = b"other"
    samples = LiveSeries(time.monotonic(), level(board="other"))
    samples.describe(tables)
    assert not samples.calibrations()
    samples.describe(other)
    assert set(samples.calibrations()) == {"pressure"}
    samples.describe(tables)
    assert not samples.calibrations()


def test_a_session_that_changes_its_rig_looks_again_which_calibration_applies(tmp_path):
    """The simulated boards are called by their seeds; the file is written while the session runs."""

    def pressure_of(label):
        if session.calibrating().known().label != label:
            return None
        latest = session.snapshot().latest.get("line_pressure")
        return None if latest is None or not latest.known or latest.time < began + 1.5 else latest.value

    with Session("modelled://steady?seed=1", tmp_path) as session:
        session.start(wait=True)
        began = session.now
        assert abs(settled(lambda: pressure_of("simulated 1")) - LEVEL) > 100.0
        save_calibration(tmp_path / "calibration.toml", level(board="simulated 2"))
        session.change_rig("modelled://steady?seed=2")
        began = session.now
        assert settled(lambda: pressure_of("simulated 2")) == pytest.approx(LEVEL)
        assert set(session.calibrations()) == {"pressure"}
        session.change_rig("modelled://steady?seed=3")
        began = session.now
        assert abs(settled(lambda: pressure_of("simulated 3")) - LEVEL) > 100.0
        assert not session.calibrations()


def test_a_recording_played_back_shows_the_figures_that_it_is_read_with(tmp_path):
    """The calibration in the folder of the recording, not that of the folder in which the session would record."""
    path = recorded(tmp_path / "theirs")
    save_calibration(tmp_path / "theirs" / "calibration.toml", level())
    save_calibration(tmp_path / "mine" / "calibration.toml", level(1234.0))
    with Session(f"replay://{path}?speed=1", tmp_path / "mine") as session:
        session.start(wait=True)
        assert settled(lambda: session.snapshot().latest.get("line_pressure")).value == pytest.approx(LEVEL)
        assert session.calibrating().path == path.with_name("calibration.toml")
        session.change_rig("modelled://steady?seed=1")
        assert session.calibrating().path == tmp_path / "mine" / "calibration.toml"


def test_a_session_without_a_calibration_is_that_of_the_data_sheets(tmp_path):
    save_calibration(tmp_path / "calibration.toml", level())
    with Session("modelled://steady?seed=1", tmp_path, calibration=None) as session:
        session.start(wait=True)
        settled(lambda: session.calibrating().known().label or None)
        assert not session.calibrations()
        session.change_rig("modelled://steady?seed=2")
        settled(lambda: session.snapshot().latest.get("line_pressure"))
        assert not session.calibrations()


def test_check_uses_the_calibration_of_the_folder_it_is_given(tmp_path, monkeypatch):
    monkeypatch.setenv("FROTHLINE_FOLDER", str(tmp_path / "other"))
    used = []

    class Stop(Exception):
        pass

    def session(port, folder=None, **sensors):
        used.append(Path(folder))
        raise Stop

    monkeypatch.setattr("frothline.cli.check.Session", session)
    main(["check", "--port", "modelled://idle", "--folder", str(tmp_path / "mine")])
    assert used == [tmp_path / "mine"]


# --- several recordings ------------------------------------------------------------------------------------------------


def test_files_of_two_recordings_are_not_read_as_one(tmp_path):
    one, other = recorded(tmp_path, "one"), recorded(tmp_path, "other")
    for read in (read_table, read_series, load):
        with pytest.raises(InputError, match="2 recordings") as told:
            read([one, other])
        assert "one.froth" in told.value.where
        assert "other.froth" in told.value.where
        assert "read_tables" in told.value.remedy


def test_several_recordings_are_one_tidy_frame(tmp_path):
    one, other = recorded(tmp_path, "one"), recorded(tmp_path, "other", seed=7)
    frame = read_tables([one, str(other)])
    assert list(frame.columns[:3]) == ["recording", "time", "gap"]
    assert list(frame["recording"].unique()) == ["one", "other"]
    assert len(frame) == len(read_table(one)) + len(read_table(other))
    assert frame.index.is_unique
    for name, path in (("one", one), ("other", other)):
        alone = read_table(path)
        part = frame[frame["recording"] == name].drop(columns="recording").reset_index(drop=True)
        pd.testing.assert_frame_equal(part[list(alone.columns)], alone, check_like=True)
        assert frame.attrs["recordings"][name]["sha256"] == alone.attrs["sha256"]
    assert frame.attrs["units"]["line_pressure"] == "Pa"
    assert set(frame.attrs["units"]) == set(frame.columns)
    assert list(read_tables(one)["recording"].unique()) == ["one"]


def test_recordings_of_one_name_are_named_by_their_paths(tmp_path):
    paths = [recorded(tmp_path / folder) for folder in ("monday", "tuesday")]
    assert list(read_tables(paths)["recording"].unique()) == [str(path) for path in paths]


def test_the_same_recording_twice_and_none_at_all_are_refused(tmp_path):
    one = recorded(tmp_path, "one")
    with pytest.raises(InputError, match="given twice"):
        read_tables([one, one])
    with pytest.raises(InputError, match="no recording"):
        read_tables([])


def test_columns_and_calibration_go_for_each_of_several_recordings(tmp_path):
    paths = [recorded(tmp_path / folder) for folder in ("monday", "tuesday")]
    save_calibration(tmp_path / "tuesday" / "calibration.toml", level())
    frame = read_tables(paths, columns=["line_pressure"])
    assert list(frame.columns) == ["recording", "time", "gap", "line_pressure", "u_line_pressure"]
    spread = frame.groupby("recording")["line_pressure"].std()
    assert spread[str(paths[0])] > 1.0
    assert spread[str(paths[1])] < 1e-6


def test_a_sweep_is_named_as_text_as_path_alone_or_in_a_list():
    expected = len(load_sweeps([SWEEP]).points)
    assert expected >= 5
    for given in (SWEEP, str(SWEEP), [str(SWEEP)], (SWEEP,)):
        found = load_sweeps(given)
        assert len(found.points) == expected
        assert found.recordings == (SWEEP,)


def test_the_word_none_means_the_data_sheets_in_the_library_as_at_the_prompt(tmp_path):
    path = shutil.copy(SWEEP, tmp_path)
    save_calibration(tmp_path / "calibration.toml", level())
    plain = read_table(path, calibration=None)["line_pressure"]
    assert read_table(path, calibration="none")["line_pressure"].equals(plain)
    assert not read_table(path)["line_pressure"].equals(plain)


def test_a_sweep_that_is_named_twice_does_not_count_twice(tmp_path):
    copy = shutil.copy(SWEEP, tmp_path / "copy.froth")
    for pair in ([SWEEP, SWEEP], [SWEEP, copy]):
        with pytest.raises(InputError, match="given twice"):
            load_sweeps(pair)
