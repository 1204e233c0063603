"""Page, prompt and Python record pours, cubes, jars and photo notes by the same functions: the files are the same.

By hand: 7.4 kN on 100 mm x 100 mm are 0.74 MPa, 587 g in 1 L are 587 kg/m3; 28 d are 2 419 200 s.
"""

import inspect
import math
from datetime import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import frothline as fl
from frothline import cli
from frothline.bench import cube_record, jar_record, pour_record
from frothline.bench.given_entries import Saved
from frothline.bubble_size.photo_notes import read_notes
from frothline.errors import InputError
from frothline.pours import new_pour
from frothline.pours.jar import read_jar
from frothline.pours.record import read_pour
from frothline.web.components import Asked
from frothline.web.pages.batch import cube_rows, cubes, jars, record

POUR = {"title": "Kerb", "cement": "21.2 kg", "water": "10,6", "foam-volume": "40 L", "cup": "640", "cast": "60 L"}
CUBE = {"edge": "100 mm", "age": "28 d", "mass": "587 g", "load": "7.4 kN", "dry-mass": "489 g", "note": "a hole"}
JAR = {"cement": "300 g", "water": "150 g", "foam-volume": "300 mL", "foam-density": "75 kg/m3", "volume": "517 mL"}
AGO = datetime.fromisoformat("2025-04-12T15:30:00")
PLAN = '[form]\nvolume = "400 L"\n[foam]\ndensity = "75 kg/m3"\noutput = "60 L/min"\n'


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    """A new pour has the time of its recording: it stands still here."""
    stopped = type("Stopped", (datetime,), {"now": classmethod(lambda cls, tz=None: AGO)})
    monkeypatch.setattr(new_pour, "datetime", stopped)


@pytest.fixture
def places(tmp_path):
    """Three folders of recordings: page, prompt, Python."""
    found = [tmp_path / name for name in ("page", "prompt", "python")]
    for one in found:
        (one / "pours").mkdir(parents=True)
        for name in ("kerb", "wall"):
            (one / "pours" / f"{name}.toml").write_text(f'title = "{name}"  # mine\n', "utf-8")
    return found


def files(folder):
    return {str(one.relative_to(folder)): one.read_bytes() for one in sorted(folder.rglob("*.toml"))}


def on_page(folder, page, verb, argument="", **values):
    return page.answer(Asked(verb, argument, {name.replace("_", "-"): text for name, text in values.items()}), folder)


def at_prompt(*arguments):
    assert cli.main([*map(str, arguments), "--json", "--quiet"]) == 0


def typed(entries):
    return [f"{name}={text}" for name, text in entries.items()]


def named(entries):
    """Keywords of Python, in another order than that of the form."""
    return {name.replace("-", "_"): text for name, text in reversed(entries.items())}


def same(places):
    page, prompt, python = (files(one) for one in places)
    assert page == prompt == python
    return python


def saved(one, file):
    assert isinstance(one, Saved)
    assert one.path == file
    assert file.exists()
    assert repr(one) == f"<Saved {one.said}>"
    assert one.said.replace("“", "") in one._repr_html_().replace("“", "")
    assert list(one.table()["file"]) == [str(file)]


# --- the same file ----------------------------------------------------------------------------------------------------


def test_a_pour_is_the_same_file_by_page_prompt_and_python(places):
    page, prompt, python = places
    on_page(page, record, record.RECORD, **POUR, name="slab")
    at_prompt("pours", prompt, "--new", "slab", "--entry", *typed(POUR))
    found = fl.record_pour("slab", python, **named(POUR))
    saved(found, python / "pours" / "slab.toml")
    same(places)
    assert read_pour(found.path).masses.water == 10.6


def test_a_pour_of_a_plan_is_the_same_file_and_an_empty_entry_of_it_is_not_written(places):
    _, prompt, python = places
    plan = prompt.parent / "plan.toml"
    plan.write_text(PLAN, "utf-8")
    at_prompt("pours", prompt, "--new", "slab", "--plan", plan, "--entry", "cup=612 kg/m3", "--entry", "sand=")
    fl.record_pour("slab", python, plan=plan, cup="612 kg/m3", sand=None)
    of_path = files(python)
    (python / "pours" / "slab.toml").unlink()
    fl.record_pour("slab", python, plan=fl.pour_plan(plan), cup="612 kg/m3", sand="")
    assert files(prompt) == of_path == files(python)
    assert read_pour(python / "pours" / "slab.toml").masses.cement > 1.0


def test_a_cube_is_the_same_line_by_line(places):
    page, prompt, python = places
    on_page(page, cubes, cubes.ADD, "kerb", shape="cube", **named(CUBE))
    at_prompt("pours", prompt, "--pour", "kerb", "--add-cube", *typed(CUBE))
    saved(fl.add_cube("kerb", python, **named(CUBE)), python / "pours" / "kerb.toml")
    same(places)
    on_page(page, cubes, cubes.CORRECT, "kerb/1/", **named({**CUBE, "load": "7.1 kN", "note": ""}))
    at_prompt("pours", prompt, "--pour", "kerb", "--correct-cube", "1", "load=7.1 kN", "note=")
    fl.correct_cube("kerb", 1, python, load="7.1 kN", note=None)
    assert b'# note = "a hole"' in same(places)["pours/kerb.toml"]
    on_page(page, cubes, cubes.REMOVE, "kerb/1/")
    at_prompt("pours", prompt, "--pour", "kerb", "--remove-cube", "1")
    saved(fl.remove_cube("kerb", 1, python), python / "pours" / "kerb.toml")
    same(places)
    assert read_pour(python / "pours" / "kerb.toml").specimens == ()


@pytest.mark.parametrize(("top", "depth"), [("sank", "2 mm"), ("rose", "1.5 mm")])
def test_a_settlement_is_the_same_file(places, top, depth):
    page, prompt, python = places
    on_page(page, cubes, cubes.SETTLE, "kerb", top=top, by=depth)
    at_prompt("pours", prompt, "--pour", "kerb", f"--{top}", depth)
    saved(fl.add_settlement("kerb", python, **{top: depth}), python / "pours" / "kerb.toml")
    same(places)


def test_many_cubes_are_the_same_files_by_table_form_and_dictionaries(places):
    page, prompt, python = places
    rows = [
        {"pour": "kerb", "edge": "100 mm", "age": "28 d", "mass": "587 g", "load": "7.4 kN"},
        {"pour": "", "edge": "100 mm", "age": "28 d", "mass": "590 g", "load": "7.2 kN"},
        {"pour": "wall", "edge": "100 mm", "age": "7 d", "mass": "", "load": "4.1 kN"},
    ]
    form = {f"{name}-{k}": text for k, row in enumerate(rows, 1) for name, text in row.items() if name != "edge"}
    cube_rows.answer(Asked("add-cubes", "", {**form, "shape": "cube", "edge": "100 mm"}), page)
    table = prompt.parent / "press.csv"
    pd.DataFrame(rows).to_csv(table, index=False)
    at_prompt("pours", prompt, "--add-cubes", table)
    saved(fl.add_cubes(rows, python), python / "pours")
    same(places)
    again = [one.with_name(f"{one.name}-2") for one in places]
    for folder in again:
        (folder / "pours").mkdir(parents=True)
        for name in ("kerb", "wall"):
            (folder / "pours" / f"{name}.toml").write_text(f'title = "{name}"  # mine\n', "utf-8")
    fl.add_cubes(table, again[0])
    fl.add_cubes(pd.DataFrame(rows), again[1])
    assert files(again[0]) == files(again[1]) == files(python)


def test_a_jar_is_the_same_file(places):
    page, prompt, python = places
    on_page(page, jars, jars.NEW, "", **named({**JAR, "name": "soap"}))
    at_prompt("jar", prompt, "--new", "soap", *(part for one in typed(JAR) for part in ("--entry", one)))
    saved(fl.record_jar("soap", python, **named(JAR)), python / "jars" / "soap.toml")
    same(places)
    on_page(page, jars, jars.SETTLE, "", jar="soap", settled="149 mm", after="2 h")
    at_prompt("jar", prompt, "--settled", "soap", "149 mm", "2 h")
    fl.settle_jar("soap", "149 mm", "2 h", python)
    same(places)
    on_page(page, jars, jars.CORRECT, "soap/", jar="soap", cement="310 g", settled="")
    at_prompt("jar", prompt, "--correct", "soap", "cement=310 g", "settled=")
    fl.correct_jar("soap", python, cement="310 g", settled=None)
    assert b'# cement = "300 g"' in same(places)["jars/soap.toml"]
    assert read_jar(python / "jars" / "soap.toml").masses.cement == pytest.approx(0.31)


def test_the_notes_of_a_photo_are_the_same_file(places, monkeypatch):
    from frothline.bench.photo_record import note_photo
    from frothline.cli import bubbles

    notes = {"first": "120, 300", "second": "820, 310", "length": "50 mm", "jar": "92 mm", "ruler": "95 mm"}
    for one in places:
        (one / "foam.jpg").write_bytes(b"a photo")
    page, prompt, python = (one / "foam.jpg" for one in places)
    note_photo(page, notes)
    seen = SimpleNamespace(as_dict=dict, photos=(), warnings=())
    monkeypatch.setattr(bubbles, "measure_photos", lambda *_, **__: seen)
    marks = ("--scale", *(notes[name] for name in ("first", "second", "length")))
    at_prompt("bubbles", prompt, *marks, "--jar", "92 mm", "--ruler", "95 mm", "--keep")
    saved(fl.note_photo(python, **notes), python.with_name("foam.jpg.toml"))
    same(places)
    fl.note_photo(python, first=(121.5, np.int64(300)), length=0.05, jar=None)
    found = read_notes(python)
    assert found.marks == ((121.5, 300.0), (820.0, 310.0))
    assert (found.length, found.jar, found.ruler) == (pytest.approx(0.05), None, pytest.approx(0.095))


# --- numbers are SI ---------------------------------------------------------------------------------------------------


def test_numbers_are_si_to_all_their_digits(places):
    folder = places[2]
    fl.add_cube("kerb", folder, edge=0.1, age=28 * 86400, mass=0.587, load=np.float32(7400), dry_mass=0.4891234567)
    cube = read_pour(folder / "pours" / "kerb.toml").specimens[0]
    assert cube.strength == pytest.approx(0.74e6)
    assert (cube.age, cube.density) == (28 * 86400.0, pytest.approx(587.0))
    assert cube.dry_mass == pytest.approx(0.4891234567, rel=1e-11)
    fl.add_settlement("kerb", folder, rose=0.0015)
    assert read_pour(folder / "pours" / "kerb.toml").sank == pytest.approx(-0.0015)
    fl.record_pour("slab", folder, cement=21.2, foam_volume=0.04, wanted_density=600, lift=0.15)
    pour = read_pour(folder / "pours" / "slab.toml")
    assert (pour.masses.foam_volume, pour.wanted_density, pour.lift) == (
        pytest.approx(0.04),
        600.0,
        pytest.approx(0.15),
    )
    fl.record_jar("soap", folder, cement=0.3, water=0.15, foam=0.0225, foam_volume=3e-4, diameter=0.09, height=0.08)
    fl.settle_jar("soap", 0.149, 2 * 3600, folder)
    jar = read_jar(folder / "jars" / "soap.toml")
    assert (jar.masses.cement, jar.height) == (pytest.approx(0.3), pytest.approx(0.08))
    assert jar.after == 7200.0
    assert jar.masses.foam_volume == pytest.approx(3e-4)


def test_a_data_frame_in_si_is_taken_and_nan_is_not_written(places):
    folder = places[2]
    frame = pd.DataFrame(
        {
            "Pour": ["kerb", None, "wall", "wall"],
            "edge": [0.1, math.nan, 0.15, 0.15],
            "age": [28 * 86400.0, math.nan, 7 * 86400.0, 7 * 86400.0],
            "mass": [0.587, 0.59, math.nan, math.nan],
            "load": pd.array([7400, 7200, 9000, pd.NA], dtype="Int64"),
            "dry_mass": [math.nan] * 4,
            "note": ["", pd.NA, "a hole", pd.NaT],
        },
        index=[7, 7, 9, 9],
    )
    assert fl.add_cubes(frame, folder).said == "Saved: 2 cubes in pours/kerb.toml, 1 cube in pours/wall.toml"
    kerb, wall = (read_pour(folder / "pours" / f"{name}.toml").specimens for name in ("kerb", "wall"))
    assert [one.strength for one in kerb] == pytest.approx([0.74e6, 0.72e6])
    assert [one.age for one in kerb] == [28 * 86400.0] * 2
    assert (wall[0].note, math.isnan(wall[0].mass)) == ("a hole", True)
    assert "nan" not in (folder / "pours" / "wall.toml").read_text("utf-8")


# --- errors -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("do", "said", "where"),
    [
        (lambda at: fl.record_pour("x", at, cup="6 L"), "cup: density", "pour"),
        (lambda at: fl.record_pour("../x", at), "cannot be the name", "pour"),
        (lambda at: fl.record_pour("x", at, colour="grey"), "“colour” is not known here", "record_pour"),
        (lambda at: fl.record_pour("x", at, foam_volum="1 L"), "did you mean “foam_volume”", "record_pour"),
        (lambda at: fl.record_pour("x", at, cement=math.nan), "nan is not a number", "record_pour: cement"),
        (lambda at: fl.record_pour("x", at, cement=True), "“True” is not a text", "record_pour: cement"),
        (lambda at: fl.record_pour("x", at, note=3), "“3” is not a text", "record_pour: note"),
        (lambda at: fl.record_pour("x", at, cement=[1]), "is not a text", "record_pour: cement"),
        (lambda at: fl.record_pour("x", at, trial="none"), "unknown trial", "none"),
        (lambda at: fl.add_cube("gone", at, **named(CUBE)), "no pour in this folder", "pours"),
        (lambda at: fl.add_cube("kerb", at, edge="100 mm"), "nothing is measured", "cube"),
        (lambda at: fl.correct_cube("kerb", 3, at, load="1 kN"), "specimen 3 is not there", "kerb"),
        (lambda at: fl.remove_cube("kerb", 3, at), "no specimen 3", "kerb"),
        (lambda at: fl.add_settlement("kerb", at), "one depth", "add_settlement"),
        (lambda at: fl.add_settlement("kerb", at, sank=0.1, rose=0.1), "one depth", "add_settlement"),
        (lambda at: fl.add_settlement("kerb", at, sank=math.inf), "inf is not a number", "add_settlement: sank"),
        (lambda at: fl.record_jar("x", at, cement="much"), "masses: cement", "jar"),
        (lambda at: fl.settle_jar("x", 0.1, "2 h", at), "no jar in this folder", "jars"),
        (lambda at: fl.correct_jar("x", at, cement="1 g"), "no jar in this folder", "jars"),
        (lambda at: fl.correct_jar("x", at, name="y"), "“name” is not known", "correct_jar"),
        (lambda at: fl.note_photo(at / "none.jpg", jar="92 mm"), "no such photo", "none.jpg"),
        (lambda at: fl.note_photo(at / "none.jpg", first=(1, 2, 3)), "two numbers", "note_photo: first"),
        (lambda at: fl.note_photo(at / "none.jpg", first=7), "two numbers", "note_photo: first"),
        (lambda at: fl.add_cubes([{"pour": "kerb", "load": math.inf}], at), "row 1: load: inf is not", "add_cubes"),
        (lambda at: fl.add_cubes([{"pour": "kerb", "loud": 1}], at), "“loud” is not a column", "add_cubes"),
        (lambda at: fl.add_cubes([], at), "no cube is entered", "cubes"),
        (lambda at: fl.add_cubes(pd.DataFrame({"load": [1.0]}), at), "column “pour” is missing", "add_cubes"),
        (lambda at: fl.add_cubes(pd.DataFrame({"pour": ["kerb"], "x": [1]}), at), "not a column", "add_cubes"),
        (lambda at: fl.add_cubes(pd.DataFrame([["kerb", 1, 2]], columns=["pour", "Load", "load"]), at), "twice", "add_"),
    ],
)  # fmt: skip
def test_an_error_says_what_is_wrong_where_and_what_to_do(places, do, said, where):
    before = files(places[2])
    with pytest.raises(InputError) as refused:
        do(places[2])
    assert said in refused.value.what
    assert where in refused.value.where
    assert refused.value.remedy or "unknown trial" in said  # a folder without trials knows none
    assert files(places[2]) == before


@pytest.mark.parametrize(
    ("entries", "said"),
    [
        ({"load": 7.4}, "load “0.0074 kN” is not plausible: it means a strength of 0.00074 MPa"),
        ({"load": "0.099 kN"}, "a strength of 0.0099 MPa"),
        ({"load": "2001 kN"}, "a strength of 200 MPa"),
        ({"mass": "20.1 kg"}, "a density of 2.01e+04 kg/m³"),
        ({"mass": 587}, "mass “587000 g” is not plausible: it means a density of 5.87e+05 kg/m³"),
        ({"dry_mass": "19 g"}, "dry mass “19 g” is not plausible: it means a density of 19 kg/m³"),
    ],
)
def test_kilonewtons_given_as_newtons_are_refused_when_a_cube_is_added_or_corrected(places, entries, said):
    good = {"edge": 0.1, "age": "28 d", "mass": 0.587, "load": 7400}
    before = files(places[2])
    with pytest.raises(InputError, match="Nothing is written yet") as refused:
        fl.add_cube("kerb", places[2], **(good | entries))
    assert said in refused.value.what
    with pytest.raises(InputError, match="row 1"):
        fl.add_cubes([{"pour": "kerb", **good, **entries}], places[2])
    assert files(places[2]) == before
    fl.add_cube("kerb", places[2], **good)
    with pytest.raises(InputError, match="Nothing is changed yet") as refused:
        fl.correct_cube("kerb", 1, places[2], **entries)
    assert said in refused.value.what
    weak = {"edge": "100 mm", "age": "1 d", "load": "0.11 kN"}  # 11 kPa, just out of its mould
    assert "entry [[specimen]] 2" in fl.add_cube("kerb", places[2], **weak).said


# --- folders, names and words -----------------------------------------------------------------------------------------


def test_the_default_folder_is_that_of_the_other_functions(tmp_path, monkeypatch):
    monkeypatch.setenv("FROTHLINE_FOLDER", str(tmp_path))
    fl.record_pour("kerb", cement="20 kg", water="10 kg")
    book = fl.notebook()
    assert [one.name for one in book.pours.pours] == ["kerb"]
    fl.add_cube("kerb", book, **named(CUBE))
    book.refresh()
    assert book.pours.pours[0].record.specimens[0].strength == pytest.approx(0.74e6)


def test_each_entry_of_a_form_is_named_in_the_words_of_its_function():
    forms = [
        (fl.record_pour, pour_record), (fl.add_cube, cube_record), (fl.record_jar, jar_record),
    ]  # fmt: skip
    for function, form in forms:
        words = inspect.getdoc(function) + str(inspect.signature(function))
        for entry in form.ENTRIES:
            assert entry.name.replace("-", "_") in words, entry.name
