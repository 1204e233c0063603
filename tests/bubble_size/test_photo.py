"""Photos of simulated foam behind the card: scale, tilt, what spoils a photo, and what is no photo of foam."""

import dataclasses
import math
import sys
from datetime import datetime

import numpy as np
import pytest
from foam_pictures import Foam, Shot, homography, mapped, picture, save
from PIL import Image

import frothline as fl
from frothline.bubble_size import find_target as search
from frothline.bubble_size.find_target import find_target
from frothline.bubble_size.foam_photos import measure_photos, together
from frothline.bubble_size.measure import measure_photo
from frothline.bubble_size.photo import read_photo
from frothline.bubble_size.target import LARGE, SMALL, target_page
from frothline.errors import InputError, MissingPackage, NoTarget

# 160 px across the window: a bubble has some 17 px
FOAM = Foam(130, 0.066, 0.3, 7)
SHOT = Shot(scale=2900)


@pytest.fixture(scope="module")
def plain():
    return picture(FOAM, SHOT)


@pytest.fixture(scope="module")
def found(plain, tmp_path_factory):
    return measure_photo(save(plain, tmp_path_factory.mktemp("photo") / "foam.png"))


def far_from_truth(target, shot, grey):
    """Largest distance of the found places of the dots from the drawn ones, in steps."""
    dots = target.card.dots * shot.printed
    drawn = mapped(homography(shot, grey.shape[0]), *dots.T)
    step = np.linalg.norm(drawn[1] - drawn[0])
    return np.linalg.norm(search.project(target.matrix, target.card.dots) - drawn, axis=1).max() / step


# --- the card -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"turn": 180.0},
        pytest.param({"turn": 90.0}, marks=pytest.mark.exhaustive),
        {"turn": 33.0, "tilt": (0.05, 0.08), "margin": 0.4},
        {"hidden": (3, 4, 12)},
        *(
            pytest.param(one, marks=pytest.mark.exhaustive)
            for one in ({"gradient": 0.85}, {"noise": 0.06}, {"blur": 2.0})
        ),
        {"card": SMALL, "scale": 5000.0},
    ],
    ids=str,
)
def test_the_card_is_found_where_it_was_drawn(change):
    """Bare card, without foam. A hundredth of a step is 0.12 mm, and 0.2 % of the width of the dots' square."""
    shot = dataclasses.replace(SHOT, **{"scale": 2500.0, **change})
    grey = picture(None, shot)
    target = find_target(grey)
    assert target.card is shot.card
    assert target.hidden == len(shot.hidden)
    assert far_from_truth(target, shot, grey) < 0.015


def test_a_mirrored_photo_has_the_same_scale(plain):
    assert find_target(plain[:, ::-1]).scale == pytest.approx(SHOT.scale, rel=2e-3)


@pytest.mark.parametrize("hidden", [tuple(range(24)), (0,), tuple(range(3, 16))], ids=["all", "ring", "half"])
def test_a_hidden_card_is_asked_for(hidden):
    with pytest.raises(NoTarget, match="target"):
        find_target(picture(None, dataclasses.replace(SHOT, scale=2500, hidden=hidden)))


@pytest.mark.parametrize(
    "grey", [np.zeros((3, 4)), np.full((300, 400), 200), np.eye(200) * 255], ids=["tiny", "even", "line"]
)
def test_other_pictures_have_no_card(grey):
    with pytest.raises(NoTarget):
        find_target(grey.astype(np.uint8))


def test_noise_is_no_card_and_is_left_soon(monkeypatch):
    calls = []
    extended = search._extended
    monkeypatch.setattr(search, "_extended", lambda *given: calls.append(1) or extended(*given))
    grey = np.random.default_rng(0).integers(0, 255, (150, 150)).astype(np.uint8)
    with pytest.raises(NoTarget):
        find_target(grey)
    assert len(calls) <= 2 * search.MOST_TRIES


def test_the_page_in_the_hardware_folder_is_the_one_the_program_writes():
    from pathlib import Path

    page = Path(__file__).parents[2] / "hardware" / "bubbles" / "target.html"
    assert page.read_text("utf-8") == target_page()
    assert 'width="84mm"' in target_page()  # the large card: 1.4 times 60 mm
    assert target_page().count("<circle") == 2 * 24 + 3  # three rings have a hole


# --- the foam -----------------------------------------------------------------------------------------------------------


def test_the_diameter_of_known_foam_is_within_its_interval(found):
    assert found.diameter.lower < FOAM.d32() < found.diameter.upper
    assert found.diameter.value == pytest.approx(FOAM.d32(), rel=0.08)  # of this window; the foam is a little larger
    assert found.warnings == ()
    assert found.card == "large"
    assert found.median.value < found.diameter.value


def test_a_turned_photo_gives_the_same_diameter(plain, found, tmp_path):
    """EXIF orientation 6: the camera was held upright, and the file holds the picture lying (CIPA DC-008, 4.6.5)."""
    exif = Image.Exif()
    exif[274], exif[306] = 6, "2026:05:01 10:02:00"
    one = measure_photo(save(np.rot90(plain), tmp_path / "a.png", exif=exif))
    assert one.taken == datetime(2026, 5, 1, 10, 2)  # noqa: DTZ001
    assert one.diameter.value == pytest.approx(found.diameter.value, rel=0.005)
    assert np.array_equal(read_photo(tmp_path / "a.png").grey, plain)


def test_a_printer_at_95_percent_is_corrected_by_its_ruler(found, tmp_path):
    path = save(picture(FOAM, dataclasses.replace(SHOT, printed=0.95)), tmp_path / "a.png")
    assert measure_photo(path).diameter.value == pytest.approx(found.diameter.value / 0.95, rel=0.02)
    corrected = measure_photo(path, ruler=0.095)
    assert corrected.diameter.value == pytest.approx(found.diameter.value, rel=0.02)
    assert corrected.u_scale < found.u_scale
    with pytest.raises(InputError, match="950 mm cannot be right"):
        measure_photo(path, ruler=0.95)


@pytest.mark.parametrize(
    ("change", "words", "away"),
    [
        ({"glare": 0.15}, "Glare covers", 0.12),
        ({"hidden": (5, 6)}, "2 of the target's 24 dots are hidden", 0.02),
        *(
            pytest.param(*one, marks=pytest.mark.exhaustive)
            for one in (
                ({"drained": 0.4}, "shows no bubbles", 0.12),
                ({"blur": 2.6}, "blurred", 0.5),
                ({"behind": 0.5}, "layer behind", 0.5),
                ({"gradient": 0.85}, "", 0.03),
                ({"noise": 0.05}, "", 0.05),
                ({"tilt": (0.15, 0.0)}, "at a slant", 0.05),
            )
        ),
    ],
    ids=lambda one: str(one)[:24],
)
def test_what_spoils_a_photo_is_named_and_the_rest_is_measured(found, tmp_path, change, words, away):
    one = measure_photo(save(picture(FOAM, dataclasses.replace(SHOT, **change)), tmp_path / "a.png"))
    assert any(words in said for said in one.warnings) if words else one.warnings == ()
    assert one.diameter.value == pytest.approx(found.diameter.value, rel=away)
    assert one.diameter.lower < FOAM.d32() < one.diameter.upper


def test_small_bubbles_are_warned_of_with_a_wide_interval(tmp_path):
    foam = Foam(320, 0.066, 0.3, 2)
    one = measure_photo(save(picture(foam, dataclasses.replace(SHOT, scale=2200)), tmp_path / "a.png"))
    assert one.pixels < 10
    assert "Below 10 px" in one.warnings[0]
    assert one.u_films > 0.05
    assert one.diameter.lower < foam.d32() < one.diameter.upper


@pytest.mark.parametrize("seed", [7, *(pytest.param(seed, marks=pytest.mark.exhaustive) for seed in range(8, 16))])
def test_films_thinner_than_a_pixel_widen_the_interval_and_are_named(tmp_path, seed):
    """3 % of a bubble of 14 px: some films are lost, and the diameter comes out too large."""
    foam = Foam(420, 0.066, 0.15, seed)
    shot = Shot(scale=14 / foam.d32(), film=0.03, seed=seed)
    one = measure_photo(save(picture(foam, shot), tmp_path / "a.png"), ruler=0.1)
    assert one.diameter.lower < foam.d32() < one.diameter.upper
    assert any("films are faint" in said or "weak" in said for said in one.warnings)
    clear = measure_photo(save(picture(foam, dataclasses.replace(shot, film=0.1)), tmp_path / "b.png"), ruler=0.1)
    assert clear.u_films < 0.03 < one.u_films
    assert clear.warnings == ()


@pytest.mark.parametrize(
    ("foam", "change", "words"),
    [
        (None, {"scale": 1800.0}, "no films|whole bubbles"),
        (FOAM, {"glare": 0.6}, "glare or shadow covers"),
        *(
            pytest.param(*one, marks=pytest.mark.exhaustive)
            for one in (
                (None, {"noise": 0.05, "gradient": 0.7}, "no films|whole bubbles"),
                (FOAM, {"blur": 4.5}, "too blurred|no printed target"),
                (FOAM, {"drained": 0.93}, "no films|whole bubbles"),
            )
        ),
    ],
    ids=["wall", "all glare", "dim wall", "blur", "drained"],
)
def test_a_window_without_bubbles_gives_no_diameter(tmp_path, foam, change, words):
    path = save(picture(foam, dataclasses.replace(SHOT, **change)), tmp_path / "a.png")
    with pytest.raises(InputError, match=words) as error:
        measure_photo(path)
    assert error.value.remedy


def test_a_file_that_is_no_photo_is_refused_in_words(tmp_path):
    (tmp_path / "a.jpg").write_text("hello", "utf-8")
    with pytest.raises(InputError, match="cannot be read as JPEG"):
        fl.bubbles(tmp_path / "a.jpg")
    with pytest.raises(InputError, match="does not exist"):
        fl.bubbles(tmp_path / "b.jpg")
    Image.new("I;16", (50, 40), 40000).save(tmp_path / "deep.png")
    assert read_photo(tmp_path / "deep.png").grey.max() == pytest.approx(40000 / 257, abs=1)


def test_a_large_photo_is_decoded_at_half_its_size(tmp_path, monkeypatch):
    monkeypatch.setattr("frothline.bubble_size.photo.MOST", 100 * 80)
    Image.new("RGB", (400, 320), (90, 90, 90)).save(tmp_path / "a.jpg")
    assert read_photo(tmp_path / "a.jpg").grey.shape == (160, 200)


def test_without_the_package_one_sentence_says_what_to_install(plain, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "skimage", None)
    with pytest.raises(MissingPackage, match=r"frothline\[photo\]"):
        measure_photo(save(plain, tmp_path / "a.png"))


# --- growth -------------------------------------------------------------------------------------------------------------


def grown(found, diameters, u=0.02):
    from frothline.estimate import Estimate

    return [
        dataclasses.replace(found, diameter=Estimate.positive(d, math.hypot(u, found.u_scale), "m")) for d in diameters
    ]


def test_growth_is_the_slope_of_the_diameter(found):
    """By hand: 1.00, 1.06, 1.12 mm after 0, 5, 10 min grow by 0.12 mm in 600 s."""
    one = together(grown(found, [1.00e-3, 1.06e-3, 1.12e-3]), [0, 300, 600])
    assert one.growth.value == pytest.approx(0.12e-3 / 600, rel=0.01)
    two = together(grown(found, [1.00e-3, 1.12e-3]), [0, 600])
    # each end to 2 %; the scale adds little
    assert two.growth.standard_uncertainty == pytest.approx(math.hypot(0.02e-3, 0.0224e-3) / 600, rel=0.02)
    apart = together(grown(found, [1.00e-3, 1.30e-3, 1.12e-3]), [0, 300, 600])
    assert apart.growth.standard_uncertainty > 2 * one.growth.standard_uncertainty


def test_photos_in_another_order_grow_alike(found):
    a = together(grown(found, [1.00e-3, 1.06e-3, 1.12e-3]), [0, 300, 600])
    b = together(grown(found, [1.12e-3, 1.00e-3, 1.06e-3]), [900, 300, 600])
    assert b.growth == a.growth
    assert b.times == (0.0, 300.0, 600.0)
    assert b.diameter == a.diameter


def test_growth_needs_times_that_differ(found):
    two = grown(found, [1.00e-3, 1.06e-3])
    assert "give the times" in together(two).why_no_growth
    assert "less than 10 s apart" in together(two, [5, 5]).why_no_growth
    assert "two or more" in together(two[:1]).why_no_growth
    with pytest.raises(InputError, match="3 times are given for 2 photos"):
        together(two, [0, 1, 2])


# --- faces --------------------------------------------------------------------------------------------------------------


def test_python_gives_a_short_text_a_table_and_a_picture(plain, tmp_path):
    path = save(plain, tmp_path / "<b>.png")
    one = fl.bubbles(path)
    assert repr(one).startswith("<FoamPhotos <b>.png: bubble diameter")
    html = one._repr_html_()
    assert "<b>.png" not in html
    assert "data:image/jpeg;base64," in html
    assert "Cheng and Lemlich" in html
    table = one.table()
    assert table.attrs["units"]["diameter"] == "m"
    assert table["diameter"][0] == one.diameter.value
    assert one.plot().data[0].source.startswith("data:image/jpeg")
    with pytest.raises(InputError, match="no photo 1"):
        one.plot(1)
    with pytest.raises(InputError, match="no photo is given"):
        measure_photos([])


def test_the_prompt_measures_and_writes_the_target(plain, found, tmp_path, capsys):
    from prompt_json import result_of

    from frothline import cli

    path = save(plain, tmp_path / "a.png")
    assert cli.main(["bubbles", str(path), "--json", "--outlines", str(tmp_path / "o.jpg")]) == 0
    data = result_of(capsys.readouterr().out)
    assert data["diameter"]["value"] == pytest.approx(found.diameter.value)
    with Image.open(tmp_path / "o.jpg") as image:
        assert image.format == "JPEG"
    assert cli.main(["bubbles", "--target", str(tmp_path / "t.html")]) == 0
    assert (tmp_path / "t.html").read_text("utf-8") == target_page()
    capsys.readouterr()
    assert cli.main(["bubbles"]) == 2
    assert cli.main(["bubbles", str(path), "--times", "soon"]) == 2
    assert "--times" in capsys.readouterr().err
    assert LARGE.window == 0.06
