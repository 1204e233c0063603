"""Twelve numbers from the press are entered in one go, each with its pour: nothing is written before all is checked.

Strengths by hand: 7.4 kN on 100 mm x 100 mm are 0.74 MPa; 4.1 kN are 0.41 MPa.
"""

import math
import re

import pandas as pd
import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.bench.cube_rows import MOST_SHOWN, add_cubes, filled_rows
from frothline.bench.cube_table import add_cube_table
from frothline.errors import InputError, NoSpace
from frothline.pours.record import read_pour
from frothline.web.components import Asked
from frothline.web.elements import words_of
from frothline.web.pages.batch import cube_rows, labels

ROWS = [
    {"pour": "kerb", "edge": "100", "age": "28", "mass": "587", "load": "7,4"},
    {"mass": "590", "load": "7.2"},
    {"pour": "wall", "edge": "150", "age": "7", "load": "4.1"},
    {"pour": "wall", "load": ""},
    {"pour": "kerb", "mass": "580", "load": "7.1", "note": "a hole"},
]


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "pours").mkdir()
    for name in ("kerb", "wall"):
        (tmp_path / "pours" / f"{name}.toml").write_text(f'title = "{name}"  # mine\n', "utf-8")
    return tmp_path


def pour(folder, name):
    return read_pour(folder / "pours" / f"{name}.toml")


def texts(folder):
    return [(folder / "pours" / f"{name}.toml").read_text("utf-8") for name in ("kerb", "wall")]


def test_rows_of_several_pours_go_each_into_its_file(folder):
    assert add_cubes(folder, ROWS) == "Saved: 3 cubes in pours/kerb.toml, 1 cube in pours/wall.toml"
    kerb, wall = pour(folder, "kerb"), pour(folder, "wall")
    assert [one.strength for one in kerb.specimens] == pytest.approx([0.74e6, 0.72e6, 0.71e6])
    assert [one.age / 86400 for one in kerb.specimens] == pytest.approx([28.0, 28.0, 28.0])
    assert kerb.specimens[2].note == "a hole"
    assert wall.specimens[0].strength == pytest.approx(4100 / 0.0225)
    assert texts(folder)[0].startswith('title = "kerb"  # mine\n')


def test_what_is_empty_comes_from_the_rows_above_and_a_size_is_not_mixed_with_another():
    rows = [*ROWS, {"pour": "kerb", "diameter": "100", "height": "200", "load": "6"}]
    found = filled_rows(rows)
    assert [number for number, _ in found] == [1, 2, 3, 5, 6]
    assert found[1][1] == {"pour": "kerb", "edge": "100", "age": "28", "mass": "590", "load": "7.2"}
    assert "mass" not in found[2][1]
    assert found[4][1] == {"pour": "kerb", "diameter": "100", "height": "200", "age": "28", "load": "6"}
    assert filled_rows([{}, {"pour": "kerb", "age": "7"}]) == []


@pytest.mark.parametrize(
    ("number", "changed", "said"),
    [
        (1, {"load": "7 kg"}, "row 2: Greatest load"),
        (2, {"age": ""}, "row 3: the age is missing"),
        (2, {"edge": ""}, "row 3: the size is missing"),
        (2, {"pour": "gone"}, "row 3: no pour in this folder"),
        (2, {"pour": "../pours/wall"}, "row 3: no pour in this folder"),
        (1, {"mass": "587", "load": "7,4"}, "row 2: this cube is in the file already, as specimen 1"),
        (4, {"colour": "grey"}, "row 5: “colour” is not an entry"),
        (1, {"mass": "much", "load": "x"}, "row 2: Mass when crushed.*row 2: Greatest load"),
    ],
)
def test_a_wrong_row_is_named_and_nothing_is_written(folder, number, changed, said):
    before = texts(folder)
    rows = [{**row, **(changed if number == k else {})} for k, row in enumerate(ROWS)]
    with pytest.raises(InputError, match=said):
        add_cubes(folder, rows)
    assert texts(folder) == before


def test_no_row_and_too_many_are_refused(folder):
    with pytest.raises(InputError, match="no cube is entered"):
        add_cubes(folder, [{"pour": "kerb"}, {}])
    with pytest.raises(InputError, match="more than 200"):
        add_cubes(folder, [{**ROWS[0], "note": str(k)} for k in range(201)])


def test_a_full_disk_at_the_second_pour_says_what_is_saved(folder, monkeypatch):
    import frothline.pours.file_change as module

    write = module.write_atomically

    def full(path, how):
        if path.stem == "wall":
            raise NoSpace("no space", where=str(path), remedy="Make room")
        return write(path, how)

    monkeypatch.setattr(module, "write_atomically", full)
    with pytest.raises(NoSpace, match=r"3 cubes in pours/kerb.toml saved, then: no space"):
        add_cubes(folder, ROWS)
    assert len(pour(folder, "kerb").specimens) == 3


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_the_prompt_reads_a_table(folder, capsys, mark):
    path = folder / "press.csv"
    lines = [["Pour", "edge", "age", "mass", "load"], ["kerb", "100 mm", "28 d", "587 g", "7.4 kN"],
             ["", "", "", "590", "7.2"], [], ["wall", "150", "7", "", "4.1"]]  # fmt: skip
    path.write_text("\n".join(mark.join(line) for line in lines), "utf-8-sig")
    assert cli.main(["pours", str(folder), "--add-cubes", str(path), "--json"]) == 0
    assert result_of(capsys.readouterr().out)["said"].startswith("Saved: 2 cubes in pours/kerb.toml")
    assert len(pour(folder, "wall").specimens) == 1
    assert cli.main(["pours", str(folder), "--add-cubes", str(folder / "none.csv")]) == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [("pour,colour\n", "“colour” is not a column"), ("edge,load\n", "“pour” is missing"), ("", "no cube in it"),
     ("pour,load\nkerb,7,4\n", "line 2: 3 cells, but the header has 2; with a decimal comma separate the cells by semicolons"),
     ("pour,load\n", "no cube is entered"), ("pour,age, d,load\n", "“d” is not a column.*brackets"),
     ("pour,load [kg]\n", "“kg” is not a unit for load; write it like load .kN."),
     ("pour,note (g)\n", "“g” is not a unit for note$"), ("pour,age (kg)\n", "write it like age .d."),
     ("pour,load [kN],Load\n", "the column “Load” is there twice")],
)  # fmt: skip
def test_a_table_that_cannot_be_understood_is_refused(folder, text, said):
    (folder / "a.csv").write_text(text, "utf-8")
    with pytest.raises(InputError, match=r".") as refused:
        add_cube_table(folder, folder / "a.csv")
    assert re.search(said, refused.value.what)


TABLE = """\
# from the press
pour,edge,age,mass,load,note

kerb,100 mm,,587,7.4,
,,28,5x,9e5,
,100,28,587,-3,
wall,1e9 mm,7,,4.1,
gone,100,7 y,,4.1,too,many
wall,150,7,,4.1,
,,,,4.1 kN,
"""
# by hand: 9e5 kN on 100 mm x 100 mm are 9e10 Pa
WRONG = [
    "line 4: the age is missing: a strength or a density without an age cannot be compared",
    "line 5: mass: “5x”: “x” is not a unit of mass",
    "line 5: load: “9e5 kN” is not plausible",
    "line 6: load: “-3 kN” is below zero",
    "line 7: edge: “1e9 mm” is not plausible",
    "line 8: 7 cells, but the header has 6",
    "line 10: this cube is in the file already, as specimen 2",
]


def test_a_table_with_errors_of_every_kind_names_them_all_at_once_by_line_and_column(folder, capsys):
    path = folder / "press.csv"
    path.write_text(TABLE, "utf-8")
    before = texts(folder)
    with pytest.raises(InputError, match=r".") as refused:
        add_cube_table(folder, path)
    said = refused.value.what.split("; line ")
    assert len(said) == len(WRONG)
    for one, wanted in zip(["line " * (k > 0) + words for k, words in enumerate(said)], WRONG, strict=True):
        assert one.startswith(wanted)
    assert refused.value.where == str(path)
    assert texts(folder) == before
    assert cli.main(["pours", str(folder), "--add-cubes", str(path)]) == 2
    assert all(one in capsys.readouterr().err.replace("\n", " ") for one in WRONG[:1])


def test_what_is_impossible_is_said_beside_what_is_unreadable_or_missing(folder):
    rows = [{"pour": "kerb", "edge": "100", "mass": "much", "load": "7.4 N"}, {"pour": "gone", "load": "x"}]
    with pytest.raises(InputError, match=r".") as refused:
        add_cubes(folder, rows)
    for words in ("row 1: Mass when", "row 1: the age", "row 1: load “7.4 N” is not plausible: it means a strength of",
                  "row 2: Greatest load", "row 2: the size", "row 2: the age", "row 2: no pour in this folder"):  # fmt: skip
        assert words in refused.value.what


def test_very_many_errors_end_in_their_number(folder):
    rows = [{**ROWS[0], "load": "x", "note": str(k)} for k in range(MOST_SHOWN + 7)]
    with pytest.raises(InputError, match=rf"row {MOST_SHOWN}: .*; and 7 more"):
        add_cubes(folder, rows)


def test_the_same_cube_in_other_units_is_the_same_cube(folder):
    add_cubes(folder, [{"pour": "kerb", "edge": "100 mm", "age": "28 d", "mass": "587 g", "load": "7.4 kN"}])
    again = {"pour": "kerb", "edge": "10 cm", "age": "4 weeks", "mass": "0.587 kg", "load": "7400 N"}
    with pytest.raises(InputError, match="row 1: this cube is in the file already, as specimen 1"):
        add_cubes(folder, [again])
    add_cubes(folder, [{**again, "note": "another"}])
    assert len(pour(folder, "kerb").specimens) == 2


HEADS = [
    ("pour;edge [cm];age, d;Mass (kg);load [N];dry mass / g;note", "kerb;10;28;0,587;7400;489;x"),
    ("pour;edge (in);age in weeks;mass (lb);load (lbf);dry_mass in oz;note",
     f"kerb;{10 / 2.54:.12f};4;{0.587 / 0.45359237:.12f};{7400 / 4.4482216152605:.9f};{489 / 28.349523125:.12f};x"),
    ("pour\tEdge of the cube (mm)\tage: h\tmass g\tgreatest load [kN]\tdry-mass\tnote",
     "kerb\t100\t672\t587\t7,4\t489 g\tx"),
    ('pour,edge (m),"age, d",mass [t],load,dry mass (g),note', "kerb,10 cm,28,587 g,7.4,489,x"),
]  # fmt: skip


@pytest.mark.parametrize(("head", "row"), HEADS[:3])
def test_heads_with_units_are_read_as_those_of_other_tables(folder, head, row):
    path = folder / "press.csv"
    path.write_text(f"{head}\n{row}\n", "utf-8")
    add_cube_table(folder, path)
    (one,) = pour(folder, "kerb").specimens
    assert one.sizes == pytest.approx((0.1, 0.1, 0.1))
    assert (one.age, one.mass, one.load, one.dry_mass) == pytest.approx((28 * 86400, 0.587, 7400.0, 0.489))
    assert one.note == "x"


def test_a_unit_that_no_mass_has_is_said_beside_the_other_errors(folder):
    path = folder / "press.csv"
    path.write_text("\n".join(HEADS[3]).replace("7.4", "x"), "utf-8")
    with pytest.raises(InputError, match=r"line 1: “t” is not a unit for mass; .*; line 2: load: “x"):
        add_cube_table(folder, path)


def test_a_spreadsheets_export_in_utf_16_or_windows_1252_is_read(folder):
    for encoding, note in (("utf-16", "été"), ("cp1252", "hôte")):
        path = folder / "press.txt"
        path.write_text(f"pour\tedge (mm)\tage (d)\tload (kN)\tnote\nkerb\t100\t28\t7,4\t{note}\n", encoding)
        add_cube_table(folder, path)
    assert [one.note for one in pour(folder, "kerb").specimens] == ["été", "hôte"]


def test_a_number_of_python_below_a_head_with_a_unit_is_in_that_unit(folder):
    rows = [{"pour": "kerb", "edge (mm)": 100, "age, d": 28, "mass (g)": 587.0, "load [kN]": 7.4}]
    fl.add_cubes(rows, folder)
    fl.add_cubes(pd.DataFrame([{"pour": "wall", "edge": 0.1, "age, d": 28, "mass": 0.587, "load [kN]": 7.4}]), folder)
    for name in ("kerb", "wall"):
        (one,) = pour(folder, name).specimens
        assert (one.sizes[0], one.age, one.mass, one.load) == pytest.approx((0.1, 28 * 86400, 0.587, 7400.0))
    with pytest.raises(InputError, match=r"“x” is not a column.*; row 1: load: “True” is.*; row 2: load: inf is"):
        fl.add_cubes([{"pour": "kerb", "x": 1, "load": True}, {"load": math.inf}], folder)


def parts(item, tag):
    found = []

    def walk(one):
        if isinstance(one, list):
            if one[0] == tag:
                found.append(one)
            for child in one[2:]:
                walk(child)

    for one in item:
        walk(one)
    return found


def test_the_page_has_a_row_more_than_is_filled_and_saves_them_as_the_prompt_does(folder):
    records = [pour(folder, name) for name in ("wall", "kerb")]
    assert words_of(cube_rows.block({}, [])[0]) == labels.NO_OWN_POURS
    body = cube_rows.block({}, records)
    assert len(parts(body, "fieldset")) == 3
    assert words_of(parts(body, "button")[0]) == labels.add_cubes(0)
    wish = {"cubes-0-edge": ("100",), "cubes-0-load-3": ("7 kg",), "cubes-0-load-4": ("7",)}
    body = cube_rows.block(wish, records)
    assert len(parts(body, "fieldset")) == 6
    assert [one[1]["name"] for one in parts(body, "input") if one[1].get("aria-invalid")] == ["load-3"]
    assert words_of(parts(body, "button")[0]) == "Add 2 cubes"
    assert len(parts(cube_rows.block({"cubes-0-note-24": ("x",)}, records), "fieldset")) == 24
    given = {"shape": "cube", "edge": "100", "pour-1": "kerb", "age-1": "28", "load-1": "7.4", "load-2": "7.2",
             "pour-3": "wall", "age-3": "7", "load-3": "4.1", "pour-24": "wall", "load-24": "4.2"}  # fmt: skip
    assert cube_rows.answer(Asked(cube_rows.ADD, "", given), folder).startswith("Saved: 2 cubes in pours/kerb.toml")
    assert len(pour(folder, "wall").specimens) == 2
