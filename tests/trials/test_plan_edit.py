"""A plan made and changed by a form: wrong entries are refused at their place, the file keeps what the form does not have,
the last change can be undone, and a build chosen by hand comes before everything proposed.
"""

import datetime as dt
import shutil
import tomllib

import pytest
from prompt_json import result_of
from seasons import SEASON

from frothline.cli import main
from frothline.errors import InputError
from frothline.generator.sheet import read_sheet
from frothline.trials.next_trial import next_of
from frothline.trials.notebook import open_notebook
from frothline.trials.plan_edit import (
    add_planned,
    in_reader_units,
    plan_problems,
    plan_texts,
    remove_planned,
    rows_of,
    save_plan,
    sized_entries,
    undo_plan,
)
from frothline.trials.plan_file import read_plan

FIRST = "builds/first-tube.toml"
NEW = {
    "reference": FIRST,
    "part-1": "packing.length",
    "low-1": "250 mm",
    "high-1": "40 cm",
    "between-1": "300 mm; 0.35 m",
    "part-2": "tube.rows",
    "low-2": "4",
    "high-2": "6",
    "figure-1": "density",
    "least-1": "60",
    "most-1": "5 lb/ft3",
    "figure-2": "drainage",
    "least-2": "10 min",
}


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    return tmp_path


@pytest.fixture
def builds(folder):
    return {f"builds/{file.name}": read_sheet(file) for file in (folder / "builds").glob("*.toml")}


def test_a_plan_is_made_without_a_file_and_the_command_line_reads_it(folder, builds, capsys):
    save_plan(folder, NEW, builds)
    plan = read_plan(folder / "plan.toml")
    assert [(one.name, one.levels) for one in plan.factors] == [
        ("packing.length", pytest.approx((0.25, 0.3, 0.35, 0.4))),
        ("tube.rows", (4.0, 6.0)),
    ]
    low, high = next((one.low, one.high) for one in plan.wishes if one.response == "density")
    assert (low, high) == pytest.approx((60.0, 5 * 16.01846337), rel=1e-6)  # NIST SP 811: 1 lb/ft3 is 16.01846 kg/m3
    assert main(["plan", str(folder / "plan.toml"), "--json"]) == 0
    told = result_of(capsys.readouterr().out)
    assert told["reason"] == next_of(plan, open_notebook(folder).trials).reason
    assert len(told["runs"]) >= 3  # one more than the parts separates them


def test_a_number_without_a_unit_is_in_those_of_the_reader_and_saved_with_it(folder, builds):
    bare = NEW | {"low-1": "10", "high-1": "15 1/2", "between-1": "11; 300 mm", "least-1": "4", "least-2": "600"}
    save_plan(folder, in_reader_units(bare, "inch-pound"), builds)
    plan = read_plan(folder / "plan.toml")
    # 1 in is 25.4 mm by definition; NIST SP 811: 1 lb/ft3 is 16.01846 kg/m3
    assert plan.factors[0].levels == pytest.approx((0.254, 0.2794, 0.3, 0.3937))
    assert [one.low for one in plan.wishes] == pytest.approx([4 * 16.01846337, 600.0], rel=1e-6)
    assert "10 in" in (folder / "plan.toml").read_text("utf-8")


def test_what_is_saved_is_what_the_form_shows_again(folder, builds):
    save_plan(folder, NEW, builds)
    again = plan_texts((folder / "plan.toml").read_text("utf-8"))
    wanted = {**NEW, "batches": "1", "most-2": "", "between-2": ""}
    assert {name: again.get(name, "") for name in wanted} == wanted
    before = (folder / "plan.toml").read_text("utf-8")
    save_plan(folder, again, builds)
    assert tomllib.loads((folder / "plan.toml").read_text("utf-8")) == tomllib.loads(before)


def test_the_plan_of_the_season_is_shown_and_keeps_its_comments_and_what_goes_along(folder, builds):
    shutil.copy(SEASON / "plan.toml", folder)
    texts = plan_texts((folder / "plan.toml").read_text("utf-8"))
    assert plan_problems(texts, builds) == {}
    number = next(name[5:] for name, text in texts.items() if text == "tube.rows")
    for entry in ("part", "low", "high", "between"):
        texts[f"{entry}-{number}"] = ""
    save_plan(folder, texts, builds)
    text = (folder / "plan.toml").read_text("utf-8")
    assert "# What may still be tried" in text
    raw = tomllib.loads(text)
    assert "tube.rows" not in raw["factors"]
    assert raw["along"] == {"packing.mass": "packing.length"}  # what followed the rows has nothing to follow
    assert read_plan(folder / "plan.toml").wishes


@pytest.mark.parametrize(
    ("changed", "name"),
    [
        ({"reference": ""}, "reference"),
        ({"reference": "builds/none.toml"}, "reference"),
        ({"batches": "0"}, "batches"),
        ({"batches": "many"}, "batches"),
        ({"part-1": "packing.colour"}, "part-1"),
        ({"part-2": "packing.length"}, "part-2"),
        ({"low-1": ""}, "low-1"),
        ({"high-1": "long"}, "high-1"),
        ({"low-1": "50 cm"}, "high-1"),
        ({"between-1": "300 mm; 900 mm"}, "between-1"),
        ({"between-1": "300 mm; wide"}, "between-1"),
        ({"low-2": "4.5"}, "low-2"),
        ({"high-1": "20 m"}, "high-1"),  # longer than the body: it cannot be built
        ({"part-1": "", "part-2": ""}, "part-1"),
        ({"figure-1": "", "figure-2": ""}, "figure-1"),
        ({"figure-2": "density"}, "figure-2"),
        ({"least-1": "heavy"}, "least-1"),
        ({"most-1": "50 kg/m3"}, "most-1"),
        ({"least-1": "", "most-1": ""}, "least-1"),
    ],
)
def test_a_wrong_entry_is_refused_at_its_place_and_changes_nothing(folder, builds, changed, name):
    save_plan(folder, NEW, builds)
    before = (folder / "plan.toml").read_text("utf-8")
    assert list(plan_problems(NEW | changed, builds)) == [name]
    with pytest.raises(InputError, match=name):
        save_plan(folder, NEW | changed, builds)
    assert (folder / "plan.toml").read_text("utf-8") == before


def test_a_plan_that_is_no_toml_is_never_overwritten(folder, builds):
    (folder / "plan.toml").write_text("reference = \n# my own words\n")
    with pytest.raises(InputError, match="cannot be read"):
        save_plan(folder, NEW, builds)
    with pytest.raises(InputError, match="cannot be read"):
        add_planned(folder, builds[FIRST])
    assert "# my own words" in (folder / "plan.toml").read_text()


def test_the_last_change_is_undone_and_undo_can_be_undone(folder, builds):
    with pytest.raises(InputError, match="not changed here"):
        undo_plan(folder)
    save_plan(folder, NEW, builds)
    save_plan(folder, NEW | {"high-1": "50 cm"}, builds)
    undo_plan(folder)
    assert max(read_plan(folder / "plan.toml").factors[0].levels) == pytest.approx(0.4)
    undo_plan(folder)
    assert max(read_plan(folder / "plan.toml").factors[0].levels) == pytest.approx(0.5)


def test_the_first_plan_of_a_folder_can_be_undone_too(folder, builds):
    save_plan(folder, NEW, builds)
    assert "removed" in undo_plan(folder)
    assert not (folder / "plan.toml").exists()
    undo_plan(folder)
    assert read_plan(folder / "plan.toml").factors


def test_a_build_chosen_by_hand_is_the_next_trial_until_it_was_made(folder, builds, capsys):
    for name in ("04-05-first-tube", "04-12-first-tube"):
        for suffix in (".froth", ".toml"):
            shutil.copy(SEASON / f"{name}{suffix}", folder)
    narrow = builds[FIRST].with_entry("outlet.bore", 0.021)
    add_planned(folder, narrow, dt.datetime(2025, 4, 6, 12, 0, tzinfo=dt.UTC))
    trials = open_notebook(folder).trials
    found = next_of(read_plan(folder / "plan.toml"), trials)
    assert [one.name for one in found.planned] == [narrow.name]
    assert found.build.outlet.bore == pytest.approx(0.021)
    assert "change outlet bore from" in found.reason
    assert found.marked == ["outlet.bore"]
    assert main(["plan", str(folder / "plan.toml"), "--sheet", str(folder / "next.toml")]) == 0
    assert "You planned" in capsys.readouterr().out
    assert read_sheet(folder / "next.toml").outlet.bore == pytest.approx(0.021)
    remove_planned(folder, narrow.name)
    # the first tube was made on 12 April, after it was planned, and on 5 April, before
    for day, made in ((6, True), (20, False)):
        add_planned(folder, builds[FIRST], dt.datetime(2025, 4, day, 12, 0, tzinfo=dt.UTC))
        found = next_of(read_plan(folder / "plan.toml"), trials)
        assert (found.build is None) == made
        remove_planned(folder, builds[FIRST].name)
    with pytest.raises(InputError, match="not planned"):
        remove_planned(folder, "nothing")


def test_planned_builds_and_the_form_leave_each_other_as_they_are(folder, builds):
    add_planned(folder, builds[FIRST].with_entry("outlet.bore", 0.021))
    save_plan(folder, NEW, builds)
    plan = read_plan(folder / "plan.toml")
    assert (len(plan.planned), len(plan.factors)) == (1, 2)
    remove_planned(folder, plan.planned[0].name)
    assert (len(read_plan(folder / "plan.toml").planned), len(read_plan(folder / "plan.toml").factors)) == (0, 2)


def test_parts_without_a_size_cannot_be_chosen(builds):
    names = sized_entries(builds[FIRST])
    assert {"packing.length", "outlet.bore", "solution.dilution", "tube.rows"} <= set(names)
    assert not {"packing.kind", "solution.brand", "packing.bead"} & set(names)


def test_a_form_has_an_empty_row_after_those_in_use_up_to_eight():
    assert rows_of({}, "part") == 1
    assert rows_of({"part-1": "tube.rows", "part-3": "outlet.bore"}, "part") == 4
    assert rows_of({f"part-{n}": "tube.rows" for n in range(1, 9)}, "part") == 8
