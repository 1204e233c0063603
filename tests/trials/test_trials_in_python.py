"""Trials, their plan, sheets and reports are changed from Python by the functions of page and prompt.

By hand: (340 - 184.2) g in 2 L are 77.9 kg/m3.
"""

import shutil
from dataclasses import replace
from datetime import datetime
from types import SimpleNamespace

import pytest
from seasons import SEASON

import frothline as fl
from frothline import cli
from frothline.bench.plan_control import PlanControl
from frothline.bench.recorded_samples import RecordedSamples
from frothline.errors import InputError
from frothline.recording.catalogue import Catalogue
from frothline.trials import plan_edit, sample_corrections
from frothline.web.pages.notebook import page as notebook_page

NAME = "04-05-first-tube"  # sample 2: a jug of 2 L with 335 - 184.2 g
BUILD = SEASON / "builds" / "first-tube.toml"
AGO = datetime.fromisoformat("2025-04-12T15:30:00+00:00")


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    stopped = type("Stopped", (datetime,), {"now": classmethod(lambda cls, tz=None: AGO)})
    for module in (plan_edit, sample_corrections):
        monkeypatch.setattr(module, "datetime", stopped)


@pytest.fixture
def places(tmp_path):
    """Two folders of recordings: one for page or prompt, one for Python."""
    for name in ("page", "python"):
        (tmp_path / name).mkdir()
        for suffix in (".froth", ".toml"):
            shutil.copy(SEASON / f"{NAME}{suffix}", tmp_path / name)
    return tmp_path / "page", tmp_path / "python"


def files(folder):
    return {one.name: one.read_bytes() for one in sorted(folder.rglob("*")) if one.suffix in (".toml", ".html")}


def page_samples(folder):
    entries = Catalogue(folder).entries
    place = SimpleNamespace(look=lambda: SimpleNamespace(entries=entries), expire=lambda: None)
    made = RecordedSamples(place, SimpleNamespace(taken=()))
    return made, entries[0]


def key(entry, number):
    from frothline.bench.recorded_samples import recorded_samples

    one = recorded_samples(entry)[number - 1]
    return f"{one.key}/{one.corrections}"


# --- samples, notes, cups ---------------------------------------------------------------------------------------------


def test_a_sample_is_corrected_withdrawn_and_restored_in_the_same_file_as_by_the_page(places):
    page, python = places
    recording = python / f"{NAME}.froth"
    samples, entry = page_samples(page)
    said = samples.correct(entry.path, key(entry, 2), {"full": "340 g", "drained": "60 s: 6 mL; 120 s: 14 mL"})
    found = fl.correct_sample(recording, 2, full=0.34, drained=[(60, 6e-6), ("120 s", "14 mL")])
    assert found.said == said == f"Sample 2 corrected; saved in {NAME}.toml"
    assert found.path == python / f"{NAME}.toml"
    assert files(page) == files(python)
    samples, entry = page_samples(page)
    samples.count_sample(entry.path, key(entry, 3), counts=False)
    assert "withdrawn" in repr(fl.withdraw_sample(str(recording), 3))
    assert files(page) == files(python)
    assert "counts again" in fl.restore_sample(recording, 3).said
    assert fl.restore_sample(recording, 3).said == "Nothing was changed"
    (trial,) = fl.notebook(python).trials
    assert round(trial.samples[1].density.value, 2) == 77.9
    fl.correct_sample(trial, 2, full="341", note=None)
    assert 'full = "341 g"' in (python / f"{NAME}.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("entries", "said"),
    [
        ({"full": "heavy"}, "heavy"),
        ({"colour": "grey"}, "“colour” is not known"),
        ({"drained": [("60 s",)]}, "pairs"),
        ({"drained": ["60"]}, "pairs"),
        ({"drained": 4}, "is not a text"),
        ({"fill": float("nan")}, "nan is not a number"),
        ({"end": 9999}, "outside the recording"),
        ({"full": None}, "no value entered"),
    ],
)
def test_a_wrong_correction_is_refused_and_the_file_stays(places, entries, said):
    before = files(places[1])
    with pytest.raises(InputError, match=said) as refused:
        fl.correct_sample(places[1] / f"{NAME}.froth", 2, **entries)
    assert refused.value.where
    assert files(places[1]) == before


def test_a_sample_or_a_recording_that_is_not_there_is_named(places):
    with pytest.raises(InputError, match="sample 9 is not in the recording") as refused:
        fl.withdraw_sample(places[1] / f"{NAME}.froth", 9)
    assert refused.value.remedy.startswith("Known: 1, 2, 3")
    for do in (fl.withdraw_sample, fl.restore_sample, fl.correct_sample):
        with pytest.raises(InputError, match="no such recording"):
            do(places[1] / "gone.froth", 1)


def test_a_note_is_the_one_of_the_page(places, monkeypatch):
    page, python = places
    place = SimpleNamespace(expire=lambda: None)
    monkeypatch.setattr(notebook_page, "_seen", lambda *_: SimpleNamespace(place=notebook_page.OWN))
    feed = SimpleNamespace(library=SimpleNamespace(places={notebook_page.OWN: place}))
    notebook_page._note(feed, str(page / f"{NAME}.froth"), "a wet day")
    assert fl.add_note(python / f"{NAME}.froth", "a wet day").said == f"Note saved in {NAME}.toml"
    assert files(page) == files(python)
    assert b"a wet day" in files(python)[f"{NAME}.toml"]
    with pytest.raises(InputError, match="note is empty"):
        fl.add_note(python / f"{NAME}.froth", "  ")
    with pytest.raises(InputError, match="no such recording"):
        fl.add_note(python / "gone.froth", "a wet day")


def test_a_cup_is_the_one_of_the_prompt(places, capsys):
    prompt, python = places
    asked = ["batch", "--density", "600", "--volume", "100 L", "--folder", str(prompt), "--trial", NAME]
    assert cli.main([*asked, "--cup", "720", "--keep-cup", "--quiet"]) == 0
    capsys.readouterr()
    (trial,) = fl.notebook(python).trials
    batch = fl.batch("600 kg/m3", "100 L", trial)
    found = fl.keep_cup(trial, batch, 720.0)
    assert found.said.startswith(f"Cup saved in {NAME}.toml: add ")
    assert files(prompt) == files(python)
    assert b"[[cup]]" in files(python)[f"{NAME}.toml"]
    with pytest.raises(InputError, match="heavy"):
        fl.keep_cup(trial, batch, "heavy")
    with pytest.raises(InputError, match="no such recording"):
        fl.keep_cup(python / "gone.froth", batch, "720")


# --- plan and sheets --------------------------------------------------------------------------------------------------


def test_a_build_is_planned_taken_out_and_put_back_as_on_the_page(tmp_path):
    page, python = tmp_path / "page", tmp_path / "python"
    control = PlanControl(SimpleNamespace(folder=page, expire=lambda: None))
    build = replace(fl.build(BUILD), name="shorter")
    control.add(build)
    assert fl.plan_build(build, python).said == "“shorter” is planned as the next trial"
    fl.plan_build(BUILD, python)
    control.add(fl.build(BUILD))
    assert files(page) == files(python)
    control.remove("shorter")
    assert fl.unplan_build("shorter", python).path == python / "plan.toml"
    assert files(page) == files(python)
    assert fl.undo_plan(python).said == control.undo() == "The plan before the last change is back"
    assert files(page) == files(python)
    assert b"shorter" in files(python)["plan.toml"]
    with pytest.raises(InputError, match="“gone” is not planned"):
        fl.unplan_build("gone", python)
    with pytest.raises(InputError, match="was not changed"):
        fl.undo_plan(tmp_path)


def test_new_files_are_those_of_the_prompt_and_are_not_written_over(tmp_path, capsys):
    prompt, python = tmp_path / "prompt", tmp_path / "python"
    for one in (prompt, python):
        one.mkdir()
    assert cli.main(["build", str(prompt / "tube"), "--new"]) == 0
    assert cli.main(["agents", str(prompt), "--new", "dish-soap"]) == 0
    assert cli.main(["pourplan", "--new", str(prompt / "wall.toml")]) == 0
    capsys.readouterr()
    assert repr(fl.new_build(python / "tube")) == "<Saved Sheet to fill in saved in tube.toml>"
    assert fl.new_agent("dish-soap", python).path == python / "agents" / "dish-soap.toml"
    assert fl.new_pour_plan(python / "wall.toml").path.exists()
    assert files(prompt) == files(python)
    assert len(files(python)) == 3
    for again in (
        lambda: fl.new_build(python / "tube.toml"),
        lambda: fl.new_agent("dish-soap", python),
        lambda: fl.new_pour_plan(python / "wall.toml"),
        lambda: fl.save_build(fl.build(BUILD), python / "tube"),
    ):
        with pytest.raises(InputError) as refused:
            again()
        assert refused.value.remedy
    with pytest.raises(InputError, match="cannot be written"):
        fl.new_build(python / "none" / "tube")


def test_a_changed_build_is_saved_and_read_back(tmp_path):
    build = fl.build(BUILD).with_entry("outlet.bore", 0.03)
    found = fl.save_build(build, tmp_path / "wider")
    assert fl.build(found.path) == replace(build, name="wider")


# --- reports ----------------------------------------------------------------------------------------------------------


def test_cards_and_reports_are_the_files_of_the_prompt(tmp_path, capsys):
    batch = ["batch", "--density", "600", "--volume", "100 L", "--foam-density", "60", "--u-foam-density", "3"]
    plan = ["pourplan", "--volume", "400 L", "--foam-density", "75 kg/m3", "--output", "60 L/min"]
    assert cli.main([*batch, "--report", str(tmp_path / "1.html"), "--card", str(tmp_path / "2.html")]) == 0
    assert cli.main([*plan, "--card", str(tmp_path / "3.html")]) == 0
    capsys.readouterr()
    foam = fl.Estimate.normal(60.0, 3.0, "kg/m3", assumptions=("given on the command line",))
    mixed = fl.batch("600 kg/m3", "100 L", foam)
    fl.make_report(mixed).write(tmp_path / "4.html")
    fl.make_card(mixed).write(tmp_path / "5.html")
    fl.make_card(fl.pour_plan(volume="400 L", foam_density="75 kg/m3", output="60 L/min")).write(tmp_path / "6.html")
    made = files(tmp_path)
    assert made["1.html"] == made["4.html"]
    assert made["2.html"] == made["5.html"]
    assert made["3.html"] == made["6.html"]
    assert len(repr(fl.make_card(mixed))) < 200


def test_a_report_of_pours_and_of_files_is_that_of_the_prompt(places, tmp_path, capsys):
    folder = places[1]
    with pytest.raises(InputError, match="no pour is recorded"):
        fl.make_pours_report(folder)
    fl.record_pour("kerb", folder, trial=NAME, cement="20 kg", water="10 kg", foam_volume="40 L", cup="640")
    assert cli.main(["pours", str(folder), "--report", str(tmp_path / "1.html")]) == 0
    assert cli.main(["report", str(folder), "-o", str(tmp_path / "2.html")]) == 0
    capsys.readouterr()
    fl.make_pours_report(folder).write(tmp_path / "3.html")
    fl.make_report(folder).write(tmp_path / "4.html")
    made = files(tmp_path)
    assert made["1.html"] == made["3.html"]
    assert made["2.html"] == made["4.html"]
    assert fl.make_report(fl.notebook(folder)).html == fl.make_report([folder]).html
    with pytest.raises(InputError, match="nothing is given"):
        fl.make_report([])
    with pytest.raises(InputError, match="chosen from a folder"):
        fl.make_report(folder / f"{NAME}.froth", trials=["x"])
    with pytest.raises(InputError, match="one folder"):
        fl.make_report([folder, folder])
