"""A pour is recorded from a form or the prompt by one function, prefilled from one mix of a plan."""

import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.bench.pour_record import ENTRIES, entries_of_plan, record_pour
from frothline.errors import InputError
from frothline.pours.outcome import judge_pour
from frothline.pours.record import read_pour
from frothline.web.elements import words_of
from frothline.web.pages.batch import record

PLAN = fl.pour_plan(volume="400 L", foam_density="75 kg/m3", output="60 L/min")


def test_one_mix_of_the_plan_is_what_the_form_begins_with(tmp_path):
    texts = entries_of_plan(PLAN)
    found = read_pour(record_pour(tmp_path, {**texts, "name": "kerb", "trial": "a trial", "cup": "612", "lift": "150"}))
    assert found.problems == ()
    assert found.trial == "a trial"
    assert found.masses.cement == pytest.approx(PLAN.batch.mix.cement, rel=1e-3)
    assert found.masses.foam_volume == pytest.approx(PLAN.batch.foam_volume, rel=1e-3)
    assert found.wanted_density == pytest.approx(600.0)
    assert (found.cup_density, found.lift) == (612.0, pytest.approx(0.15))
    assert judge_pour(found, PLAN.foam.density).survival is not None


def test_numbers_without_a_unit_are_those_of_the_reader(tmp_path):
    found = read_pour(record_pour(tmp_path, {"name": "kerb", "cement": "55", "cup": "38"}, "inch-pound"))
    assert found.masses.cement == pytest.approx(55 * 0.45359237)
    assert found.cup_density == pytest.approx(38 * 16.01846, rel=1e-6)


def test_all_wrong_entries_are_named_and_nothing_is_written(tmp_path):
    with pytest.raises(InputError) as raised:
        record_pour(tmp_path, {"name": "kerb", "cement": "much", "cup": "6 L", "lift": "-1 mm"})
    for words in ("masses: cement", "cup: density", "cast: lift"):
        assert words in str(raised.value)
    assert not (tmp_path / "pours").exists()
    with pytest.raises(InputError, match="cannot be the name"):
        record_pour(tmp_path, {"name": "../kerb"})
    with pytest.raises(InputError, match="is not an entry of a pour"):
        record_pour(tmp_path, {"name": "kerb", "colour": "grey"})
    path = record_pour(tmp_path, {"name": "kerb", "note": 'a "quoted" note'})
    assert read_pour(path).note == 'a "quoted" note'
    with pytest.raises(InputError, match="already"):
        record_pour(tmp_path, {"name": "kerb"})


def test_the_prompt_writes_the_same_file_as_the_form(tmp_path, capsys):
    plan = tmp_path / "wall.toml"
    plan.write_text('[form]\nvolume = "400 L"\n[foam]\ndensity = "75 kg/m3"\noutput = "60 L/min"\n', "utf-8")
    arguments = ["pours", str(tmp_path), "--new", "kerb", "--plan", str(plan), "--entry", "cup=612 kg/m3", "--json"]
    assert cli.main(arguments) == 0
    of_prompt = read_pour(tmp_path / "pours" / "kerb.toml")
    assert result_of(capsys.readouterr().out)["file"].endswith("kerb.toml")
    of_form = read_pour(record_pour(tmp_path, {**entries_of_plan(PLAN), "name": "kerb-2", "cup": "612 kg/m3"}))
    assert of_form.masses == of_prompt.masses
    assert of_form.cup_density == of_prompt.cup_density
    assert cli.main(["pours", str(tmp_path), "--new", "x", "--entry", "cup"]) == 2


@pytest.mark.parametrize(("system", "own"), [("metric", "kg"), ("inch-pound", "lb")])
def test_the_form_keeps_what_was_typed_before_what_the_plan_has(system, own):
    body = record.block({"record-cement": ("20 kg",)}, PLAN, system)
    form = body[1]
    usual, more = form[2][2:], form[3][3][2:]  # the second part is closed at first
    values = {field[3][1]["name"]: field[3][1].get("value") for field in (*usual, *more)}
    assert sorted(values) == sorted(one.name for one in ENTRIES)
    assert [field[3][1]["name"] for field in usual[-3:]] == ["cast", "lift", "note"]
    assert values["cement"] == "20 kg"
    assert values["water"].endswith(f" {own}")
    assert form[4][1]["data-do"] == "batch:record-pour"
    assert "Save this pour" in words_of(form)
    chosen = record.block({"record-trial": ("04-12-a",)}, PLAN, system, [("04-26-b", "B"), ("04-12-a", "A")])
    options = chosen[1][2][3][3][2:]
    assert [one[1]["value"] for one in options] == ["", "04-26-b", "04-12-a"]
    assert [one[1].get("selected") for one in options] == [None, None, ""]
    empty = record.block({}, None, system)
    assert empty[1][2][2][3][1]["value"] == ""
