"""A photo without the printed target is measured with two marks of a ruler; a round wall is allowed for."""

from math import hypot, sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from foam_pictures import Foam, Shot, homography, mapped, picture, save
from prompt_json import result_of
from scipy.integrate import quad

import frothline as fl
from frothline import cli
from frothline.bench.library import _photos
from frothline.bench.photo_record import note_photo, note_texts
from frothline.bubble_size.marks import round_wall, target_of_marks
from frothline.bubble_size.measure import measure_photo
from frothline.bubble_size.photo import GreyPhoto, read_photo
from frothline.bubble_size.photo_notes import PhotoNotes, notes_of, read_notes
from frothline.bubble_size.stored import bubbles_in
from frothline.errors import InputError, NoTarget
from frothline.web.elements import words_of
from frothline.web.pages.notebook import labels
from frothline.web.pages.notebook.photo_forms import photo_form

FOAM = Foam(130, 0.066, 0.3, 7)
SHOT = Shot(scale=2900, hidden=tuple(range(24)))  # a window without dots


@pytest.fixture(scope="module")
def grey():
    return picture(FOAM, SHOT)


@pytest.fixture
def photo(grey, tmp_path):
    return save(grey, tmp_path / "foam.png")


def marks(grey, shot=SHOT):
    """Two marks below the window, 60 mm apart, as a person reads them off."""
    below = 0.62 * shot.card.window
    ends = mapped(homography(shot, grey.shape[0]), np.array([-0.03, 0.03]), np.array([below, below]))
    return {
        "first": f"{ends[0][0]:.0f}, {ends[0][1]:.0f}",
        "second": f"{ends[1][0]:.0f} {ends[1][1]:.0f}",
        "length": "60",
    }


def test_known_foam_is_measured_by_two_marks_within_its_interval(photo, grey):
    one = measure_photo(photo, notes=notes_of(marks(grey)))
    assert one.diameter.lower < FOAM.d32() < one.diameter.upper
    assert one.diameter.value == pytest.approx(FOAM.d32(), rel=0.05)
    assert one.card == "ruler"
    assert "scale by two marks" in one.diameter.assumptions
    assert any("two marks" in said for said in one.warnings)
    apart = 0.06 * 2900  # px; the marks to 2 px each, the slant 2 %, the pane 0.7 %
    assert one.u_scale == pytest.approx(hypot(2 * sqrt(2) / apart, 0.02, 0.007), rel=0.02)


def test_a_photo_with_neither_target_nor_marks_is_asked_back(photo):
    with pytest.raises(NoTarget, match="no printed target") as refused:
        measure_photo(photo)
    assert "two marks of a ruler" in refused.value.remedy
    assert "--target" in refused.value.remedy


def test_the_window_is_the_middle_of_the_photo_at_the_scale_of_the_marks():
    photo = GreyPhoto("x", np.zeros((1000, 2000), np.uint8), None, (4000, 2000))  # decoded at half its size
    found = target_of_marks(photo, PhotoNotes(((100.0, 100.0), (100.0, 1100.0)), 0.1))
    assert found.scale == pytest.approx(5000.0)  # 1000 px of the whole photo are 500 here, and 100 mm
    assert found.card.inner == pytest.approx(0.6 * 1000 / 5000)
    assert found.tilt == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("points", "said"),
    [(((100, 100), (100, 2100)), "outside the photo"), (((100, 1000), (3900, 1000)), "is in the middle")],
)
def test_marks_that_cannot_be_are_refused(points, said):
    photo = GreyPhoto("x", np.zeros((2000, 4000), np.uint8), None, (4000, 2000))
    with pytest.raises(InputError, match=said):
        target_of_marks(photo, PhotoNotes(points, 0.1))


def test_a_round_wall_is_corrected_as_by_the_integral():
    """Through x = R sin θ an area is smaller by cos θ; over a window of 40 mm at 92 mm, by a library's integral."""
    seen, _ = quad(lambda x: (1 - (x / 46.0) ** 2) ** 0.25, 0.0, 20.0)
    factor, u = round_wall(0.092, 0.040, "x")
    assert factor == pytest.approx(20.0 / seen, rel=1e-4)
    assert u == pytest.approx((1 - seen / 20.0) / 2, rel=1e-3)
    assert round_wall(10.0, 0.040, "x")[0] == pytest.approx(1.0, abs=1e-5)
    assert round_wall(0.1, 0.0699, "x")
    with pytest.raises(InputError, match="seen aslant"):
        round_wall(0.1, 0.0701, "x")


def test_the_correction_is_that_of_the_sauter_mean_of_bubbles_spread_evenly_over_the_wall():
    """On the arc s, an area is seen smaller by cos(s/R) and a diameter by its root; Sauter mean: sum d³ over sum d²."""
    radius, half = 0.046, 0.020
    angle = np.linspace(-1, 1, 100_001) * np.arcsin(half / radius)
    seen = np.sqrt(np.cos(angle))
    assert round_wall(2 * radius, 2 * half, "x")[0] == pytest.approx((seen**2).sum() / (seen**3).sum(), rel=1e-4)


def test_a_photo_behind_a_round_wall_is_corrected_for_the_part_that_is_measured(photo, grey):
    """0.6 of 316 px at 2900 px/m are 65.4 mm, of a jar of 100 mm."""
    texts = marks(grey)
    plain, found = (measure_photo(photo, notes=notes_of(one)) for one in (texts, texts | {"jar": "100 mm"}))
    factor, u = round_wall(0.1, 0.6 * 316 / 2900, "x")
    assert found.diameter.value / plain.diameter.value == pytest.approx(factor, rel=0.003)
    assert found.median.value / plain.median.value == pytest.approx(factor, rel=0.003)
    assert found.u_scale == pytest.approx(hypot(plain.u_scale, u), rel=0.01)
    assert any("round wall" in said for said in found.diameter.assumptions)
    with pytest.raises(InputError, match="seen aslant"):
        measure_photo(photo, notes=notes_of(texts | {"jar": "60 mm"}))


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ({"first": "1, 2"}, "second and length are missing"),
        ({"first": "1, 2", "second": "1, 300"}, "length is missing"),
        ({"first": "1, 2", "second": "90, 2", "length": "5"}, "89 px apart"),
        ({"first": "left", "second": "1, 300", "length": "50"}, "first: “left” is not a point"),
        ({"jar": "9 g"}, "jar: "),
        ({"jar": "19 mm"}, "outside 20 to 1000 mm"),
        ({"ruler": "30 mm"}, "outside 50 to 200 mm"),
        ({"length": "2 m", "first": "1, 2", "second": "1, 300"}, "outside 1 to 1000 mm"),
        ({"colour": "grey", "jar": "x"}, "“colour” is not known.*jar: "),
    ],
)
def test_wrong_notes_are_named_all_at_once(texts, said):
    with pytest.raises(InputError, match=said):
        notes_of(texts)


def test_points_are_read_in_the_forms_that_people_write():
    for text in ("120, 300", "120,300", "120 300", "(120; 300)", "120.0, 300"):
        assert notes_of({"first": text, "second": "300, 900", "length": "50 mm"}).marks[0] == (120.0, 300.0)
    assert notes_of({"first": "120,5; 300", "second": "300, 900", "length": "2 in"}).marks[0] == (120.5, 300.0)
    assert notes_of({}) == PhotoNotes()


def test_the_notes_next_to_a_photo_are_used_and_a_changed_file_is_measured_again(photo, grey):
    with pytest.raises(NoTarget):
        bubbles_in(photo)
    texts = marks(grey)
    file = photo.with_name("foam.png.toml")
    file.write_text("\n".join(f'{name} = "{text}"' for name, text in texts.items()), "utf-8")
    assert read_notes(photo) == notes_of(texts)
    one = bubbles_in(photo)
    assert one.diameter.value == pytest.approx(measure_photo(photo, notes=notes_of(texts)).diameter.value)
    file.write_text(file.read_text("utf-8").replace('"60"', '"30 mm"'), "utf-8")
    assert bubbles_in(photo).diameter.value == pytest.approx(one.diameter.value / 2, rel=1e-6)
    file.write_text("first = [", "utf-8")
    with pytest.raises(InputError, match="notes of the photo cannot be read"):
        bubbles_in(photo)


def test_prompt_and_python_measure_alike(photo, grey, capsys):
    texts = marks(grey)
    scale = [texts["first"], texts["second"], "60 mm"]
    found = fl.bubbles(photo, scale=scale, jar="900 mm")
    assert cli.main(["bubbles", str(photo), "--scale", *scale, "--jar", "900 mm", "--json"]) == 1  # it has a warning
    told = result_of(capsys.readouterr().out)
    assert told["diameter"]["value"] == found.diameter.value
    numbers = tuple(tuple(map(float, one.replace(",", " ").split())) for one in scale[:2])
    assert fl.bubbles(photo, scale=(*numbers, 0.06), jar=0.9).diameter == found.diameter
    assert cli.main(["bubbles", str(photo), "--scale", "1,2", "1,3", "60 mm"]) == 2
    with pytest.raises(InputError, match="a scale has"):
        fl.bubbles(photo, scale=("1,2", "3,4"))


def test_the_size_of_a_photo_is_that_of_the_upright_one(grey, tmp_path):
    from PIL import Image

    image = Image.fromarray(grey[:200, :300])
    exif = Image.Exif()
    exif[274] = 6  # a camera held on its side
    image.save(tmp_path / "a.jpg", exif=exif)
    found = read_photo(tmp_path / "a.jpg")
    assert (found.size, found.grey.shape) == ((200, 300), (300, 200))


def test_notes_are_written_next_to_the_photo_and_a_correction_keeps_what_was_written(photo, grey):
    texts = marks(grey)
    assert note_photo(photo, texts) == "Noted in foam.png.toml"
    file = photo.with_name("foam.png.toml")
    assert read_notes(photo) == notes_of(texts)
    shown = note_texts(read_notes(photo))
    assert shown["length"] == "60 mm"
    assert note_photo(photo, shown) == "Nothing was changed"
    before = file.read_text("utf-8").splitlines()
    assert "stays there as a comment" in note_photo(photo, shown | {"length": "61", "jar": "900"})
    assert read_notes(photo).length == pytest.approx(0.061)
    assert read_notes(photo).jar == pytest.approx(0.9)
    left = [line.removeprefix("# ") for line in file.read_text("utf-8").splitlines()]
    assert [line for line in before if line.removeprefix("# ") not in left] == []
    note_photo(photo, {"jar": ""})
    assert read_notes(photo).jar is None
    written = file.read_text("utf-8")
    for wrong, said in [({"length": "x"}, "length: "), ({"first": "", "second": "1, 2", "length": "3"}, "missing"),
                        ({"colour": "grey"}, "is not known")]:  # fmt: skip
        with pytest.raises(InputError, match=said):
            note_photo(photo, wrong)
    with pytest.raises(InputError, match="length is missing"):
        note_photo(photo, {"length": ""})
    with pytest.raises(InputError, match="no such photo"):
        note_photo(photo.with_name("gone.png"), texts)
    assert file.read_text("utf-8") == written
    note_photo(photo, {"length": "2"}, "inch-pound")
    assert read_notes(photo).length == pytest.approx(0.0508)


def test_the_prompt_keeps_the_scale_for_the_page(photo, grey, capsys):
    texts = marks(grey)
    scale = [texts["first"], texts["second"], "60 mm"]
    assert cli.main(["bubbles", str(photo), "--scale", *scale, "--keep"]) == 1
    assert "Noted in foam.png.toml" in capsys.readouterr().out
    assert bubbles_in(photo).diameter == fl.bubbles(photo).diameter == fl.bubbles(photo, scale=scale).diameter


def test_the_page_asks_for_what_is_missing_and_shows_what_is_noted(tmp_path):
    trial = SimpleNamespace(name="may", path=tmp_path / "may.froth", photo_notes={"a.b/c d.png": PhotoNotes()})
    form = photo_form(trial, "a.b/c d.png", "metric", measured=False)
    assert labels.NOT_MEASURED_YET in words_of(form)
    assert form[1]["id"] == "photo-may-a-b-c-d-png"
    noted = PhotoNotes(((1.0, 2.5), (300.0, 4.0)), 0.05, 0.092, None)
    trial.photo_notes["a.b/c d.png"] = noted
    form = photo_form(trial, "a.b/c d.png", "metric", measured=True)
    assert labels.NOT_MEASURED_YET not in words_of(form)
    values = [one[3][1].get("value") for one in form[2:] if isinstance(one, list) and one[1].get("class") == "entry"]
    assert values == ["1, 2.5", "300, 4", "50 mm", "92 mm", ""]
    assert photo_form(trial, "other.png", "metric", measured=False) is None


def test_a_folder_that_is_shown_is_read_again_when_a_photo_is_noted(photo):
    trial = SimpleNamespace(photos=(str(photo),))
    before = _photos((), (trial,))
    note_photo(photo, {"jar": "92 mm"})
    after = _photos((), (trial,))
    assert before != after
    assert _photos((), (trial,)) == after
