"""The batch page adds cubes and the settlement to a recorded pour, weeks after it was poured."""

import itertools

import pytest
from fake_session import FakeSession
from waiting import until

from frothline.bench.cube_record import stamp
from frothline.errors import InputError
from frothline.pours.record import read_pour
from frothline.web.components import Asked
from frothline.web.elements import words_of
from frothline.web.feed import Feed
from frothline.web.pages.batch import cubes, labels
from frothline.web.viewer import Viewer

KERB = """title = "Kerb"
[cast]
lift = "150 mm"
sank = "2 mm"

[[specimen]]
edge = "100 mm"
age = "7 d"
mass = "587 g"
load = "4.1 kN"
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "pours").mkdir()
    (tmp_path / "pours" / "kerb.toml").write_text(KERB, "utf-8")
    (tmp_path / "pours" / "wall.toml").write_text('title = "Wall"\n', "utf-8")
    return tmp_path


def pours(folder):
    return [read_pour(folder / "pours" / f"{name}.toml") for name in ("wall", "kerb")]


def parts(body, tag="div", **wanted):
    """All elements of a block with these attributes."""
    found = []

    def walk(item):
        if isinstance(item, list):
            if item[0] == tag and all(item[1].get(key) == one for key, one in wanted.items()):
                found.append(item)
            for child in item[2:]:
                walk(child)

    for part in body:
        walk(part)
    return found


def fields(body):
    """Value and look of the entries by name."""
    entries = parts(body, **{"class": "entry"})
    return {one[3][1]["name"]: (one[3][1].get("value"), one[1].get("data-is")) for one in entries}


def buttons(body):
    return {words_of(one): one[1] for one in parts(body, "button")}


def words(body):
    return " ".join(words_of(one) for one in body if one is not None)


def test_the_newest_pour_comes_first_with_an_empty_form_and_nothing_red(folder):
    body = cubes.block({}, pours(folder))
    assert "File of this pour: pours/wall.toml" in words(body)
    names = ("pour", "shape", "edge", "age", "mass", "load", "dry-mass", "note", "top", "by")
    assert {name: look for name, (_, look) in fields(body).items()} == dict.fromkeys(names, "")
    assert buttons(body)[labels.ADD_CUBE]["data-do"] == "batch:add-cube:wall"
    assert words(cubes.block({}, [])) == labels.NO_OWN_POURS


def test_a_chosen_pour_shows_its_cubes_and_what_is_written(folder):
    body = cubes.block({"cube-pour": ("kerb",)}, pours(folder))
    said = words(body)
    for text in ("100 mm", "7 d", "587 g", "4.1 kN", "Cube 1", "Written: sank 2 mm"):
        assert text in said, text
    assert fields(body)["edge"][0] == "100 mm"  # the mould of the last cube
    assert fields(body)["load"][0] == ""


def test_a_cylinder_has_diameter_and_height(folder):
    body = cubes.block({"cube-wall-0-shape": ("cylinder",)}, pours(folder))
    assert {"diameter", "height"} <= fields(body).keys()
    assert "edge" not in fields(body)


def test_a_wrong_entry_is_red_and_its_text_stays(folder):
    wish = {"cube-wall-0-load": ("7.4 kg",), "cube-wall-0-age": ("soon",), "cube-wall-settled-nan-by": ("2 L",)}
    body = cubes.block(wish, pours(folder))
    assert fields(body)["load"] == ("7.4 kg", "wrong")
    assert fields(body)["age"] == ("soon", "wrong")
    assert fields(body)["by"] == ("2 L", "wrong")
    assert fields(body)["mass"] == ("", "")


def test_the_buttons_add_correct_and_take_out(folder):
    def ask(verb, argument, **values):
        return cubes.answer(
            Asked(verb, argument, {name.replace("_", "-"): one for name, one in values.items()}), folder
        )

    assert "[[specimen]] 2" in ask("add-cube", "kerb", shape="cube", edge="100", age="28", load="7,4", note="")
    found = read_pour(folder / "pours" / "kerb.toml").specimens
    assert found[1].strength == pytest.approx(0.74e6)
    body = cubes.block({"cube-pour": ("kerb",), "cube-open": (f"kerb/2/{stamp(found[1])}",)}, pours(folder))
    assert labels.correct_cube(2) in words(body)
    named = buttons(body)
    _, verb, argument = named[labels.SAVE_CORRECTION]["data-do"].split(":")
    ask(verb, argument, shape="cylinder", diameter="100", height="200", age="28 d", load="7.4 kN")
    found = read_pour(folder / "pours" / "kerb.toml").specimens
    assert found[1].shape == "cylinder"
    with pytest.raises(InputError, match="changed meanwhile"):
        ask(verb, argument, shape="cube", edge="100", age="28 d", load="7.4 kN")
    ask("remove-cube", f"kerb/2/{stamp(found[1])}")
    assert len(read_pour(folder / "pours" / "kerb.toml").specimens) == 1
    assert "entry rose" in ask("settle", "kerb", top="rose", by="1")
    with pytest.raises(InputError, match="no cube"):
        ask("correct-cube", "kerb")
    with pytest.raises(InputError, match="no pour in this folder"):
        ask("add-cube", "../kerb", edge="100", age="28", load="7")


def test_the_page_gets_the_forms_of_the_own_folder(folder):
    feed, numbers = Feed(FakeSession(folder)), itertools.count(1)

    def answered():
        body = feed.update(Viewer(page="batch"), next(numbers))["blocks"]["batch-cubes"]["body"]
        return body if labels.ADD_CUBE in words(body) else None

    assert "Wall" in words(until(answered))
