"""Bubbles of a trial's photos: measured once, figures of the trial, and shown on page and in reports."""

import shutil
from pathlib import Path

import pytest
from foam_pictures import Foam, Shot, picture, save
from PIL import Image

from frothline.bubble_size import stored
from frothline.errors import NoTarget
from frothline.report.photos import photo_section
from frothline.trials.figures import PHOTO, shown_figures
from frothline.trials.notebook import open_notebook
from frothline.trials.plan_file import read_amount

SEASON = Path(__file__).parents[2] / "recordings" / "season"
RUN = "04-05-first-tube"


@pytest.fixture(scope="module")
def foam():
    return picture(Foam(130, 0.066, 0.3, 7), Shot(scale=2200))


@pytest.fixture(scope="module")
def folder(tmp_path_factory, foam):
    """A run with two photos of its foam ten minutes apart, one of the workshop, and one of a spoilt target."""
    made = tmp_path_factory.mktemp("folder")
    for name in (f"{RUN}.froth", f"{RUN}.toml"):
        shutil.copy(SEASON / name, made)
    shutil.copytree(SEASON / "builds", made / "builds")
    later = picture(Foam(110, 0.066, 0.3, 8), Shot(scale=2200))
    for name, grey, time in (("1", foam, "10:00:00"), ("2", later, "10:10:00")):
        exif = Image.Exif()
        exif[306] = f"2026:05:01 {time}"
        save(grey, made / f"{RUN}-{name}.png", exif=exif)
    Image.new("RGB", (300, 200), (90, 90, 90)).save(made / f"{RUN}-3.png")
    save(picture(None, Shot(scale=1500)), made / f"{RUN}-4.png")
    return made


@pytest.fixture(scope="module")
def trial(folder):
    return open_notebook(folder).trial(RUN)


def test_photos_with_the_target_are_figures_of_the_trial(trial):
    assert len(trial.bubbles.photos) == 2
    assert trial.bubble_diameter == trial.bubbles.diameter
    assert trial.bubble_growth.unit == "m/s"
    assert trial.bubbles.times == (0.0, 600.0)
    assert {one.name for one in shown_figures([trial])} >= set(PHOTO)
    assert trial.as_dict()["bubbles"]["diameter"]["unit"] == "m"


def test_a_photo_without_target_is_only_a_photo_and_a_window_without_bubbles_is_named(trial):
    assert len(trial.photos) == 4
    said = [text for text in trial.words if "bubbles are not measured" in text]
    assert len(said) == 1
    assert f"{RUN}-4.png" in said[0]


def test_a_photo_is_measured_once(folder, trial, monkeypatch):
    def never(path):
        raise AssertionError(path)

    monkeypatch.setattr("frothline.bubble_size.measure.measure_photo", never)
    again = open_notebook(folder).trial(RUN)
    assert again.bubble_diameter == trial.bubble_diameter
    assert again.bubbles.photos[0].outlines == trial.bubbles.photos[0].outlines
    assert again.words == trial.words
    for file in (folder / stored.FOLDER).glob("*.json"):
        file.write_bytes(b'{"stamp": 1' if file.stat().st_size % 2 else b"[]")
    with pytest.raises(AssertionError):
        open_notebook(folder).trial(RUN)


def test_a_changed_photo_is_measured_again_and_a_read_only_folder_costs_only_time(tmp_path, foam, monkeypatch):
    path = save(foam, tmp_path / "a.png")
    first = stored.bubbles_in(path)
    Image.new("L", (90, 60)).save(path)
    for _ in range(2):  # measured, then stored
        with pytest.raises(NoTarget):
            stored.bubbles_in(path)
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / stored.FOLDER).write_text("in the way", "utf-8")
    save(foam, tmp_path / "b" / "a.png")
    assert stored.bubbles_in(tmp_path / "b" / "a.png").diameter == first.diameter


def test_trials_without_photos_have_no_figures_of_bubbles():
    trials = open_notebook(SEASON).trials
    assert not {one.name for one in shown_figures(trials)} & set(PHOTO)
    assert "no photo of this foam" in trials[0].why["bubble_diameter"]


def test_a_plan_may_aim_at_the_diameter_and_the_growth():
    assert read_amount("0.5 mm", "length") == pytest.approx(0.5e-3)
    assert read_amount("0.36 mm/h", "bubble_growth") == pytest.approx(1e-7)


def test_the_report_has_the_outlines_next_to_the_photo(folder, trial):
    html = photo_section("Photos", trial)
    assert html.count("outlines of the bubbles in photo") == 2
    assert "Bubble diameter" in html


def test_the_page_has_picture_diameter_and_warnings(folder, trial):
    from frothline.web.pages.notebook import trials as view

    text = str(view._photos(trial, "metric"))
    assert text.count("size=outlines") == 4  # picture and link, twice
    assert "Bubble diameter" in text
    assert trial.bubbles.photos[0].warnings == () or trial.bubbles.photos[0].warnings[0] in text
