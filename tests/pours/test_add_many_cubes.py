"""Twelve numbers from the press are entered in one go, each with its pour: nothing is written before all is checked.

Strengths by hand: 7.4 kN on 100 mm x 100 mm are 0.74 MPa; 4.1 kN are 0.41 MPa.
"""

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench.cube_rows import add_cubes, filled_rows, read_cube_table
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
    [("pour,colour\n", "“colour” is not a column"), ("edge,load\n", "“pour” is missing"), ("", "“pour” is missing"),
     ("pour,load\nkerb,7,4\n", "row 1 has more cells")],
)  # fmt: skip
def test_a_table_that_cannot_be_understood_is_refused(tmp_path, text, said):
    (tmp_path / "a.csv").write_text(text, "utf-8")
    with pytest.raises(InputError, match=said):
        read_cube_table(tmp_path / "a.csv")


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
