"""A generator file of another builder becomes a build sheet of one's own; nothing is written over."""

import re
from datetime import date
from pathlib import Path

import pytest

from frothline import cli
from frothline.bench.own_build import own_build, own_build_in
from frothline.bench.sheet_draft import SheetDraft
from frothline.bench.sheet_folder import SheetFolder
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.build import differences
from frothline.generator.sheet import parse_sheet, read_sheet, sheet_text, simulated_sheet, starting_sheet
from frothline.sweep.generator_file import GeneratorFile, write_generator

DAY = date(2026, 5, 3)
POINTS = tuple(SteadyPoint(1000.0 * k, 10.0, 1e-3 * k, 1e-5, 0.0, 1.0) for k in (1, 2, 3))


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "builds").mkdir()
    return tmp_path


def received(folder, sheet=None, place="builds", **more):
    (folder / place).mkdir(exist_ok=True)
    sheet = simulated_sheet() if sheet is None else sheet
    given = {"wet": POINTS, "dry": POINTS[:2], "factors": (("tube", 0.1, 0.02), ("packing", 0.2, 0.05)),
             "origin": ("04-12 sweep.froth",), "notes": ("hose 2 m",)} | more  # fmt: skip
    return write_generator(folder / place / "tall.toml", GeneratorFile("tall one", sheet, **given))


def test_the_sheet_is_taken_over_entry_by_entry_and_its_notes_say_where_from(folder):
    path = received(folder)
    before = path.read_bytes()
    mine = own_build(path, folder / "builds" / "mine.toml", day=DAY)
    theirs = parse_sheet(simulated_sheet()).build
    build = read_sheet(mine.path)
    assert [one.path for one in differences(theirs, build)] == []
    assert build.name == "mine"
    said = (
        "Taken over on 2026-05-03 from “tall one”, file tall.toml; measured by: 04-12 sweep.froth; its notes: hose 2 m"
    )
    assert build.notes.endswith(said)
    assert build.notes.startswith(theirs.notes)
    assert path.read_bytes() == before
    assert mine.to_correct == ()
    assert "2 dry points and 3 wet points with 2 fitted factors" in " ".join(mine.words)
    assert "Sweep yours" in " ".join(mine.words)


def test_a_file_without_points_loses_nothing(folder):
    mine = own_build(received(folder, wet=(), dry=(), factors=()), folder / "builds" / "mine.toml", day=DAY)
    assert mine.left_out == ()


def test_no_build_is_written_over(folder):
    path = received(folder)
    with pytest.raises(InputError, match="there is a build of this name"):
        own_build(path, path)
    mine = folder / "builds" / "mine.toml"
    mine.write_text(starting_sheet(), "utf-8")
    with pytest.raises(InputError, match="there is a build of this name"):
        own_build_in(folder, "builds/tall.toml", "mine")
    assert mine.read_text("utf-8") == starting_sheet()


def test_without_a_name_the_received_one_is_used_with_a_number_where_it_is_taken(folder):
    received(folder, place="generators")
    name = parse_sheet(simulated_sheet()).build.name
    made = [own_build_in(folder, "generators/tall.toml", day=DAY) for _ in range(3)]
    assert [one.name for one in made] == [name, f"{name} 2", f"{name} 3"]
    assert [read_sheet(one.path).name for one in made] == [one.name for one in made]
    assert len({one.path for one in made}) == 3
    named = own_build_in(folder, "generators/tall.toml", "My own: 1")
    assert (named.path.name, read_sheet(named.path).name) == ("My-own-1.toml", "My own: 1")


def test_entries_of_a_later_version_are_kept_as_comments_and_named(folder):
    later = simulated_sheet().replace("[outlet]", '[outlet]\nswirl = "left"', 1)
    later = 'mood = "fine"\n' + later + '\n[heater]\npower = "2 kW"  # of the tank\n'
    mine = own_build(received(folder, later), folder / "builds" / "mine.toml", day=DAY)
    assert mine.left_out[0] == "mood, outlet.swirl, heater: not known to this version; in the new sheet as comments"
    text = mine.path.read_text("utf-8")
    for line in ('# swirl = "left"', '# mood = "fine"', "# [heater]", '# power = "2 kW"  # of the tank'):
        assert line in text.splitlines()
    assert read_sheet(mine.path).name == "mine"


def test_a_wrong_entry_stays_to_be_corrected_and_is_said(folder):
    wrong, count = re.subn(r"(?s)(\[outlet\].*?\nbore = )[^\n]*", r'\1"9 km"', simulated_sheet(), count=1)
    assert count == 1
    mine = own_build(received(folder, wrong), folder / "builds" / "mine.toml", day=DAY)
    assert "To correct in the sheet" in " ".join(mine.words)
    assert "9 km" in " ".join(mine.words)
    assert parse_sheet(mine.path.read_text("utf-8")).build is None


@pytest.mark.parametrize(
    ("name", "said"),
    [("builds/gone.toml", "no received generator"), ("../tall.toml", "no received generator"),
     ("builds/../builds/tall.toml", "no received generator"), ("builds/plain.toml", "not the file of a measured"),
     ("", "no received generator")],
)  # fmt: skip
def test_what_is_no_received_generator_is_refused(folder, name, said):
    received(folder)
    (folder / "builds" / "plain.toml").write_text(starting_sheet(), "utf-8")
    files = sorted(folder.rglob("*"))
    with pytest.raises(InputError, match=said):
        own_build_in(folder, name)
    with pytest.raises(InputError, match="cannot be a name"):
        own_build_in(folder, "builds/tall.toml", "///")
    assert sorted(folder.rglob("*")) == files


def test_a_sheet_that_is_not_toml_is_refused(folder):
    path = received(folder, "bore = 3 3")
    with pytest.raises(InputError, match="build sheet in this file cannot be read"):
        own_build(path, folder / "builds" / "mine.toml")
    assert not (folder / "builds" / "mine.toml").exists()


def test_the_prompt_and_python_write_the_same_sheet(folder, capsys):
    import frothline as fl

    path = received(folder)
    assert cli.main(["build", str(path), "--as-mine", str(folder / "builds" / "mine")]) == 0
    assert "Not taken over: 2 dry points" in capsys.readouterr().out
    again = fl.own_build(path, folder / "builds" / "again.toml")
    first = (folder / "builds" / "mine.toml").read_text("utf-8")
    assert Path(again.path).read_text("utf-8") == first.replace('"mine"', '"again"')
    assert cli.main(["build", str(path), "--as-mine", str(folder / "builds" / "mine.toml")]) == 2


def test_saving_an_opened_received_file_under_its_own_name_does_not_replace_it(folder):
    path = received(folder)
    before = path.read_bytes()
    draft = SheetDraft()
    draft.take(sheet_text(path), path.name)
    draft.read()
    with pytest.raises(InputError, match="whose points would be lost"):
        draft.save(folder / "builds", "tall")
    assert path.read_bytes() == before
    assert draft.save(folder / "builds", "other").name == "other.toml"


def test_received_files_are_listed_for_the_page_and_a_new_sheet_is_found_at_once(folder):
    received(folder)
    received(folder, place="generators")
    (folder / "builds" / "plain.toml").write_text(starting_sheet(), "utf-8")
    sheets = SheetFolder()
    sheets.begin(folder, simulated=False)
    assert sheets.found.received == ("builds/tall.toml", "generators/tall.toml")
    assert not sheets.has("mine.toml")
    own_build_in(folder, "builds/tall.toml", "mine")
    assert sheets.has("mine.toml")


def test_python_shows_what_is_left(folder):
    mine = own_build(received(folder), folder / "builds" / "mine.toml")
    assert "mine.toml is a build of yours" in repr(mine)
    assert list(mine.table()["left"]) == ["not taken over"]
