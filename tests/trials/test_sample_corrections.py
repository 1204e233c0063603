"""Corrections of samples next to a recording: the notebook, the report and the command line use the corrected values.

Densities are checked by hand: net mass over volume, as weighed in air (the unit weight of ASTM C796, from memory).
"""

import shutil
import tomllib

import pytest
from prompt_json import result_of
from seasons import SEASON

from frothline.cli import main
from frothline.errors import InputError
from frothline.foam.sample import Weighing
from frothline.recording.catalogue import Catalogue
from frothline.report.run import run_report
from frothline.trials.notebook import open_notebook
from frothline.trials.sample_corrections import append_correction, corrected_samples
from frothline.trials.sample_sidecar import append_sample
from frothline.trials.trial import filling_of, load_trial

NAME = "04-05-first-tube"  # a tub of 60 L with 6890 - 2315 g, timed; then a jug of 2 L with 335 - 184.2 g


@pytest.fixture
def folder(tmp_path):
    for suffix in (".froth", ".toml"):
        shutil.copy(SEASON / f"{NAME}{suffix}", tmp_path)
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    return tmp_path


def trial_in(folder):
    (entry,) = list(Catalogue(folder))
    return load_trial(entry)


def densities(folder):
    return [round(one.density.value, 2) for one in trial_in(folder).samples]


def test_a_corrected_weight_is_used_and_the_file_still_has_the_first_one(folder):
    before = densities(folder)
    append_correction(folder / f"{NAME}.toml", 2, {"full": "340 g"})
    # (340 - 184.2) g in 2 L
    assert densities(folder) == [before[0], 77.9, *before[2:]]
    written = tomllib.loads((folder / f"{NAME}.toml").read_text())
    assert written["sample"][1]["full"] == "335 g"
    assert any("sample 2 corrected: full 340 g (was 335 g)" in one for one in trial_in(folder).words)


def test_the_second_correction_of_a_sample_applies_to_the_first(folder):
    path = folder / f"{NAME}.toml"
    append_correction(path, 2, {"full": "340 g"})
    append_correction(path, 2, {"empty": "180 g"})
    assert densities(folder)[1] == 80.0  # (340 - 180) g in 2 L
    append_correction(path, 2, {"full": "335 g", "empty": "184.2 g"})
    assert densities(folder)[1] == 75.4


def test_a_withdrawn_sample_does_not_count_until_it_is_counted_again(folder):
    path, before = folder / f"{NAME}.toml", densities(folder)
    append_correction(path, 2, {"counts": False})
    assert densities(folder) == [before[0], *before[2:]]
    append_correction(path, 2, {"full": "340 g"})  # a withdrawn sample can be corrected
    assert densities(folder) == [before[0], *before[2:]]
    append_correction(path, 2, {"counts": True})
    assert densities(folder)[1] == 77.9
    for number in range(1, len(before) + 1):
        append_correction(path, number, {"counts": False})
    (entry,) = list(Catalogue(folder))
    assert load_trial(entry).why["density"] == f"no sample was weighed ({len(before)} samples withdrawn)"


def test_the_window_of_the_figures_follows_the_corrected_time_of_the_sample(folder):
    (entry,) = list(Catalogue(folder))
    was = filling_of(entry)
    append_correction(folder / f"{NAME}.toml", 1, {"at": f"{was.at - 2:.1f} s", "fill_time": f"{was.took - 2:.1f} s"})
    (entry,) = list(Catalogue(folder))
    assert filling_of(entry).at == pytest.approx(was.at - 2, abs=0.06)
    used = load_trial(entry).used
    assert used.end == pytest.approx(was.at - 2, abs=0.06)
    append_correction(folder / f"{NAME}.toml", 1, {"fill_time": ""})  # it was not timed after all
    (entry,) = list(Catalogue(folder))
    assert filling_of(entry) is None or filling_of(entry).at != pytest.approx(was.at - 2, abs=0.06)


def test_a_correction_that_cannot_be_read_costs_that_correction_alone(folder):
    path, before = folder / f"{NAME}.toml", densities(folder)
    for entries in ({"full": "heavy"}, {"fuul": "340 g"}, {"full": "100 g"}, {"counts": "no"}):
        append_correction(path, 2, entries)
    append_correction(path, 9, {"full": "340 g"})
    trial = trial_in(folder)
    assert [round(one.density.value, 2) for one in trial.samples] == before
    assert len([one for one in trial.problems if "not used" in one]) == 5
    append_correction(path, 2, {"full": "340 g"})
    assert densities(folder)[1] == 77.9


def test_a_sample_that_could_not_be_read_can_be_corrected():
    wrong = {"container": "2 L", "empty": "184.2 g", "full": "much"}
    (found,) = corrected_samples({"sample": [wrong], "correction": [{"sample": 1, "full": "337 g"}]})
    assert found.noted.weighing.full == pytest.approx(0.337)
    assert found.problems == ()


def test_notebook_report_and_command_line_use_the_same_corrected_values(folder, capsys):
    append_correction(folder / f"{NAME}.toml", 2, {"full": "340 g"})
    append_correction(folder / f"{NAME}.toml", 1, {"counts": False})
    notebook = open_notebook(folder)
    (trial,) = notebook.trials
    assert round(trial.samples[0].density.value, 2) == 77.9
    report = run_report(notebook, str(trial.path))
    assert report.data["sample_figures"][0]["density"]["value"] == pytest.approx(trial.samples[0].density.value)
    assert "sample 1 corrected: withdrawn, does not count" in report.html
    assert main(["trials", str(folder), "--json"]) == 0
    (told,) = result_of(capsys.readouterr().out)
    assert told["samples"] == len(trial.samples)
    assert told["density"]["value"] == pytest.approx(trial.density.value)


def test_a_recording_with_a_torn_tail_keeps_its_corrections(folder):
    append_correction(folder / f"{NAME}.toml", 2, {"full": "340 g"})
    recording = folder / f"{NAME}.froth"
    recording.write_bytes(recording.read_bytes()[:-700])
    assert densities(folder)[1] == 77.9


def test_a_correction_keeps_the_comments_of_the_file_and_a_file_that_is_no_toml(tmp_path):
    path = tmp_path / "run.toml"
    path.write_text("# mine\nkind = 'run'  # a note of my own\n")
    append_sample(path, Weighing(0.020, 0.640, 1.790, 3.2), 12.0)
    append_correction(path, 1, {"note": "wet outside"})
    assert "# a note of my own" in path.read_text()
    (found,) = corrected_samples(tomllib.loads(path.read_text()))
    assert found.noted.weighing.note == "wet outside"
    path.write_text("kind = ")
    with pytest.raises(InputError, match="cannot be read"):
        append_correction(path, 1, {"note": "dry"})
    assert path.read_text() == "kind = "
