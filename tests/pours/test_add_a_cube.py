"""Cubes and the settlement come weeks after the pour: form and prompt add them to its file by one function.

Strengths by hand: 7.4 kN on 100 mm x 100 mm are 0.74 MPa; 587 g in 1 L are 587 kg/m3.
"""

import math

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench.cube_record import add_cube, add_settlement, correct_cube, remove_cube, specimen_texts, stamp
from frothline.errors import InputError, NoSpace
from frothline.pours.record import read_pour

CUBE = {"edge": "100", "age": "28", "mass": "587", "load": "7,4"}
WRITTEN = '''# my kerb, written in the rain
title = "Kerb"   # of the herb bed
note = """
[cast]
sank = "9 mm"
"""

[cast]    # by the mould
# volume = "41 L"
lift = "150 mm"   # two boards

# the first cube had a hole
[[specimen]]
edge = "150 mm"   # the old mould
age = "7 d"
load = "9 kN"

[simulated]
by = "hand"
'''


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "pours").mkdir()
    (tmp_path / "pours" / "kerb.toml").write_text(WRITTEN, "utf-8")
    return tmp_path


def file_of(folder):
    return folder / "pours" / "kerb.toml"


def kerb(folder):
    return read_pour(file_of(folder))


def test_a_cube_is_added_below_everything_that_was_written(folder):
    said = add_cube(folder, "kerb", CUBE)
    assert "pours/kerb.toml" in said
    assert "[[specimen]] 2" in said
    text = file_of(folder).read_text("utf-8")
    assert text.startswith(WRITTEN)
    assert 'age = "28 d"' in text
    found = kerb(folder).specimens[1]
    assert found.strength == pytest.approx(0.74e6)
    assert found.density == pytest.approx(587.0)
    assert found.age == 28 * 86400.0
    assert kerb(folder).problems == ()


def test_numbers_without_a_unit_are_those_of_the_reader(folder):
    add_cube(folder, "kerb", {"edge": "4", "age": "28", "load": "1660"}, "inch-pound")
    assert kerb(folder).specimens[1].sizes == pytest.approx((0.1016,) * 3)
    assert kerb(folder).specimens[1].load == pytest.approx(1660 * 4.4482216, rel=1e-6)


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ({"edge": "100", "load": "7.4"}, "the age is missing"),
        ({"edge": "100", "mass": "587"}, "the age is missing"),
        ({"age": "28 d", "load": "7.4"}, "the size is missing"),
        ({"diameter": "100", "age": "28 d", "load": "7.4"}, "the height of the cylinder is missing"),
        ({"length": "100", "age": "28 d", "load": "7.4"}, "the width and the height of the block are missing"),
        ({"edge": "100", "age": "28 d"}, "nothing is measured"),
        ({"edge": "much", "age": "28 d", "load": "7.4"}, "edge"),
        ({"edge": "100", "age": "28 d", "load": "-7"}, "load"),
        ({"edge": "100", "age": "28 d", "mass": "587 t", "load": "7"}, "mass"),
        ({"edge": "100", "colour": "grey"}, "is not an entry of a cube"),
        ({}, "the size is missing"),
    ],
)
def test_what_is_missing_or_wrong_is_asked_for_and_the_file_is_unchanged(folder, texts, said):
    with pytest.raises(InputError, match=said):
        add_cube(folder, "kerb", texts)
    assert file_of(folder).read_text("utf-8") == WRITTEN


def test_a_dried_cube_needs_no_age(folder):
    add_cube(folder, "kerb", {"edge": "100", "dry-mass": "489"})
    assert kerb(folder).specimens[1].dry_density == pytest.approx(489.0)


def test_the_same_cube_is_not_written_twice_by_a_second_press(folder):
    add_cube(folder, "kerb", CUBE)
    with pytest.raises(InputError, match="in the file already, as specimen 2"):
        add_cube(folder, "kerb", CUBE)
    add_cube(folder, "kerb", {**CUBE, "note": "another one"})
    assert len(kerb(folder).specimens) == 3


def test_a_wrong_load_is_corrected_and_what_was_written_stays_as_a_comment(folder):
    correct_cube(folder, "kerb", 1, {"load": "19 kN"})
    lines = file_of(folder).read_text("utf-8").splitlines()
    assert lines.index('# load = "9 kN"') == lines.index('load = "19 kN"') - 1
    assert [one for one in WRITTEN.splitlines() if one not in lines] == ['load = "9 kN"']
    assert kerb(folder).specimens[0].strength == pytest.approx(19e3 / 0.0225)
    correct_cube(folder, "kerb", 1, {"edge": "", "diameter": "150", "height": "300"})
    assert kerb(folder).specimens[0].strength == pytest.approx(19e3 / (math.pi / 4 * 0.0225))
    before = file_of(folder).read_text("utf-8")
    with pytest.raises(InputError, match="the age is missing"):
        correct_cube(folder, "kerb", 1, {"age": ""})
    with pytest.raises(InputError, match="not there"):
        correct_cube(folder, "kerb", 2, {"age": "3 d"})
    assert correct_cube(folder, "kerb", 1, {"age": "7 d"}) == "Nothing was changed"
    assert file_of(folder).read_text("utf-8") == before


def test_an_unchanged_entry_of_a_correction_keeps_its_digits(folder):
    add_cube(folder, "kerb", {"edge": "100.03 mm", "age": "28 d", "mass": "587.21 g", "load": "7.4 kN"})
    shown = specimen_texts(kerb(folder).specimens[1])
    correct_cube(folder, "kerb", 2, shown | {"load": "7.5 kN"})
    assert kerb(folder).specimens[1].mass == pytest.approx(0.58721, rel=1e-9)
    assert kerb(folder).specimens[1].sizes[0] == pytest.approx(0.10003, rel=1e-9)


def test_of_two_pages_the_second_one_is_told_that_the_cube_was_changed(folder):
    seen = stamp(kerb(folder).specimens[0])
    correct_cube(folder, "kerb", 1, {"load": "19 kN"}, seen=seen)
    for change in (lambda: correct_cube(folder, "kerb", 1, {"load": "8 kN"}, seen=seen),
                   lambda: remove_cube(folder, "kerb", 1, seen)):  # fmt: skip
        with pytest.raises(InputError, match="changed meanwhile"):
            change()


def test_a_cube_of_another_pour_is_taken_out_and_its_lines_stay(folder):
    add_cube(folder, "kerb", CUBE)
    remove_cube(folder, "kerb", 1)
    (left,) = kerb(folder).specimens
    assert left.load == pytest.approx(7400.0)
    assert '# edge = "150 mm"   # the old mould' in file_of(folder).read_text("utf-8")
    remove_cube(folder, "kerb", 1)
    assert kerb(folder).specimens == ()
    with pytest.raises(InputError, match="there is no specimen 1"):
        remove_cube(folder, "kerb", 1)


def test_the_rise_or_sink_is_written_into_the_cast_and_a_later_one_replaces_it(folder):
    assert "entry sank of [cast]" in add_settlement(folder, "kerb", "sank", "2")
    assert kerb(folder).sank == pytest.approx(0.002)
    assert kerb(folder).lift == pytest.approx(0.15)
    add_settlement(folder, "kerb", "rose", "1,5 mm")
    assert kerb(folder).sank == pytest.approx(-0.0015)
    assert '# sank = "2 mm"' in file_of(folder).read_text("utf-8")
    assert kerb(folder).problems == ()
    add_settlement(folder, "kerb", "sank", "0 mm")
    assert kerb(folder).sank == 0.0
    kept = file_of(folder).read_text("utf-8")
    for key, text, said in [("sank", "", "missing"), ("sank", "2 L", "sank"), ("fell", "2", "neither")]:
        with pytest.raises(InputError, match=said):
            add_settlement(folder, "kerb", key, text)
    assert file_of(folder).read_text("utf-8") == kept
    assert [one for one in WRITTEN.splitlines() if one not in kept.splitlines()] == []


@pytest.mark.parametrize("text", ["", 'title = "x"', '[cast]\nlift = "1 m"', "# only a comment"])
def test_a_file_without_cast_or_without_a_last_line_end_is_added_to(folder, text):
    file_of(folder).write_text(text, "utf-8")
    add_settlement(folder, "kerb", "sank", "2 mm")
    add_cube(folder, "kerb", CUBE)
    assert file_of(folder).read_text("utf-8").startswith(text)
    assert (kerb(folder).sank, len(kerb(folder).specimens)) == (0.002, 1)


def test_the_line_ends_of_the_file_stay(folder):
    file_of(folder).write_bytes(WRITTEN.replace("\n", "\r\n").encode())
    add_cube(folder, "kerb", CUBE)
    add_settlement(folder, "kerb", "sank", "2 mm")
    data = file_of(folder).read_bytes()
    assert data.count(b"\n") == data.count(b"\r\n")
    assert len(kerb(folder).specimens) == 2


@pytest.mark.parametrize(
    "text",
    [
        'specimen = [{edge = "100 mm", age = "7 d", load = "5 kN"}]\n',
        '[specimen]\nedge = "100 mm"\nage = "7 d"\nload = "5 kN"\n',
        'cast = {lift = "150 mm"}\nspecimen = "none"\n',
        'cast.lift = "150 mm"\nspecimen = []\n',
    ],
)
def test_a_file_in_another_form_is_refused_with_its_place_and_unchanged(folder, text):
    file_of(folder).write_text(text, "utf-8")
    for change in (lambda: add_cube(folder, "kerb", CUBE), lambda: correct_cube(folder, "kerb", 1, {"load": "6 kN"}),
                   lambda: remove_cube(folder, "kerb", 1)):  # fmt: skip
        with pytest.raises(InputError) as raised:
            change()
        assert raised.value.remedy
        assert file_of(folder).read_text("utf-8") == text
    if text.startswith("cast"):
        with pytest.raises(InputError, match="cannot write into this file"):
            add_settlement(folder, "kerb", "sank", "2 mm")
    assert file_of(folder).read_text("utf-8") == text


def test_a_damaged_file_a_missing_one_and_a_full_disk_lose_nothing(folder, monkeypatch):
    for name in ("", "../kerb", "wall", "pours/kerb"):
        with pytest.raises(InputError, match="no pour in this folder"):
            add_cube(folder, name, CUBE)
    file_of(folder).write_bytes(b"title = \xff")
    with pytest.raises(InputError, match="cannot be read"):
        add_cube(folder, "kerb", CUBE)
    file_of(folder).write_text("title = ", "utf-8")
    with pytest.raises(InputError, match="not TOML"):
        add_settlement(folder, "kerb", "sank", "2 mm")
    file_of(folder).write_text(WRITTEN, "utf-8")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(NoSpace):
        add_cube(folder, "kerb", CUBE)
    assert file_of(folder).read_text("utf-8") == WRITTEN


def test_text_of_any_kind_stays_text(folder):
    add_cube(folder, "kerb", {**CUBE, "note": 'a "quoted" \\ note\n[[specimen]]\x07'})
    assert len(kerb(folder).specimens) == 2
    assert kerb(folder).specimens[1].note.startswith('a "quoted" \\ note')


def test_the_prompt_adds_corrects_and_takes_out_by_the_same_function(folder, capsys):
    base = ["pours", str(folder), "--pour", "Kerb"]
    assert cli.main([*base, "--add-cube", "edge=100 mm", "age=28 d", "load=7.4 kN", "--json"]) == 0
    assert "[[specimen]] 2" in result_of(capsys.readouterr().out)["said"]
    assert cli.main([*base, "--correct-cube", "2", "load=7.6 kN"]) == 0
    assert cli.main([*base, "--rose", "1 mm"]) == 0
    assert kerb(folder).specimens[1].load == pytest.approx(7600.0)
    assert kerb(folder).sank == pytest.approx(-0.001)
    assert cli.main([*base, "--remove-cube", "2"]) == 0
    assert len(kerb(folder).specimens) == 1
    for wrong in (["--add-cube", "edge"], ["--add-cube", "load=7 kN"], ["--correct-cube", "2"], ["--sank", "x"]):
        assert cli.main([*base, *wrong]) == 2, wrong
    assert cli.main(["pours", str(folder), "--add-cube", "edge=100 mm"]) == 2
