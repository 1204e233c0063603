"""One plan for file, prompt, Python and page; its card for the wall."""

import json
import re
from pathlib import Path

import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.bench.pour_plan_form import typed_plan, worked_plan
from frothline.errors import InputError
from frothline.foam.dilution import Dilution
from frothline.pours.plan_file import new_plan
from frothline.pours.plan_rows import EACH_MIX, facts
from frothline.report.pour_plan import plan_card, plan_data
from frothline.units import METRIC

SEASON = Path(__file__).parents[2] / "recordings" / "season"
PLAN = """
title = "Garden wall"
[form]
length = "2 m"
width = 200            # mm
height = "1 m"
[mixer]
volume = "120 L"
[foam]
density = "75 kg/m3 (73 to 77)"
output = "60 L/min (55 to 65)"
reservoir = 20         # L
dilution = "1+40"
[sources]
"leaf blower" = "240 L/min"
"""
PRICES = '[cement]\nprice = 5.40\nper = "25 kg"\n[agent]\nprice = 3\nper = "2 kg"\n'
GIVEN = {
    "length": "2 m",
    "width": "200 mm",
    "height": "1 m",
    "foam-density": "75 kg/m3 (73 to 77)",
    "output": "60 L/min (55 to 65)",
    "reservoir": "20 L",
    "dilution": "1+40",
    "source": "leaf blower: 240 L/min",
    "title": "Garden wall",
}


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "wall.toml"
    path.write_text(PLAN, "utf-8")
    return path


def test_file_options_python_and_page_give_one_plan(file, capsys):
    assert cli.main(["pourplan", str(file), "--json"]) == 0
    of_file = result_of(capsys.readouterr().out)
    options = [part for name, text in GIVEN.items() for part in (f"--{name}", text)]
    assert cli.main(["pourplan", *options, "--json"]) == 0
    of_options = result_of(capsys.readouterr().out)
    assert of_file == of_options
    assert json.loads(json.dumps(plan_data(fl.pour_plan(file)))) == of_file
    of_page = worked_plan(typed_plan({}) | GIVEN, None, Dilution(40, "1+N")).plan
    assert json.loads(json.dumps(plan_data(of_page))) == of_file


def test_numbers_without_a_unit_are_metric_in_a_file_and_the_reader_s_at_the_prompt(file, capsys):
    assert cli.main(["pourplan", str(file), "--units", "us", "--json"]) == 0
    us = result_of(capsys.readouterr().out)
    assert us == json.loads(json.dumps(plan_data(fl.pour_plan(file))))
    assert cli.main(["pourplan", str(file), "--mixer", "40", "--units", "us", "--json"]) == 0  # gallons
    assert result_of(capsys.readouterr().out)["mixes"] == fl.pour_plan(file, mixer="40 gal").mixes


def test_an_option_takes_the_place_of_the_file_s_entry(file):
    assert fl.pour_plan(file, volume="100 L").order.volume == pytest.approx(0.1)  # in place of length and width
    assert fl.pour_plan(file, length="4 m").order.volume == pytest.approx(0.8)


def test_every_wrong_entry_of_a_file_is_named_with_its_place(file, capsys):
    file.write_text(
        PLAN.replace('"2 m"', '"2 L"').replace("[sources]", "[team]\nhelpers = 0\nhat = 1\n[sources]"), "utf-8"
    )
    assert cli.main(["pourplan", str(file), "--json"]) == 2
    said = capsys.readouterr()
    for words in (
        "wall.toml: 3 entries",
        "form.length: “2 L”",
        "team.helpers: “0” must be 1",
        "“team.hat” is not known",
    ):
        assert words in said.err
    assert "Traceback" not in said.err
    file.write_text("[form\n", "utf-8")
    assert cli.main(["pourplan", str(file)]) == 2
    assert "line 1" in capsys.readouterr().err
    assert cli.main(["pourplan", str(file.parent / "none.toml")]) == 2


def test_a_new_plan_file_has_every_entry_and_can_be_read(tmp_path):
    path = new_plan(tmp_path / "new.toml")
    with pytest.raises(InputError, match="the volume is missing"):
        fl.pour_plan(path)
    found = fl.pour_plan(path, volume="400 L", foam_density="75 kg/m3")
    assert found.mixes == fl.pour_plan(volume="400 L", foam_density="75 kg/m3").mixes
    with pytest.raises(InputError, match="already"):
        new_plan(path)


def test_prices_next_to_the_plan_are_used_and_what_has_none_is_named(file):
    (file.parent / "prices.toml").write_text(PRICES, "utf-8")
    found = fl.pour_plan(file)
    assert found.cost == pytest.approx(7 * 5.40)  # 168 kg of cement; the price of the agent has a wrong unit
    assert found.missing == ("agent", "water")
    assert "agent is bought by volume" in " ".join(found.warnings)
    assert "37.80; without agent and water: no price" in found._repr_html_()


def test_the_card_has_the_mix_the_timetable_and_the_shopping_list(file):
    text = re.sub(r"<[^>]+>", " ", plan_card(fl.pour_plan(file)).html)
    for words in (
        "Garden wall",
        "21.0 kg",
        "42.5 L",
        "leaf blower",
        "Air on",
        "7 packs of 25.0 kg",
        "Cup weighed",
        "kPa",
    ):
        assert words in text
    assert "Simulated" not in text


def test_the_foam_of_a_trial_is_used_by_its_name_and_a_simulated_one_is_marked(tmp_path):
    path = tmp_path / "wall.toml"
    path.write_text('[form]\nvolume = "200 L"\n[foam]\ntrial = "05-03-strong-long-narrow"\n', "utf-8")
    found = fl.pour_plan(path, folder=SEASON)
    assert found.source == "Strong, long and narrow"
    assert found.foam.output.known
    assert found.seconds.known
    assert found.simulated
    assert "Simulated" in plan_card(found).html


def test_the_sentence_and_the_table_have_one_figure_in_every_system(capsys):
    """26.8 kg would be 59.1 lb in a sentence that is converted; 26.77 kg are 59.0 lb."""
    options = ["--volume", "1/2 yd3", "--height", "3 ft", "--foam-density", "4.7", "--output", "16", "--mixer", "6 ft3"]
    assert cli.main(["pourplan", *options, "--units", "us"]) == 0
    said = capsys.readouterr().out
    (sentence,) = re.findall(r"each with ([\d.]+) lb of cement", said)
    (row,) = re.findall(r"Cement +([\d.]+) lb \(", said)
    assert sentence == row


def test_text_of_the_prompt_in_us_units_has_no_metric_figure(capsys):
    from test_us_texts import METRIC

    options = [part for name, text in GIVEN.items() if name != "source" for part in (f"--{name}", text)]
    assert cli.main(["pourplan", *options, "--units", "us"]) == 0
    assert not METRIC.search(re.sub(r"“[^”]*”", "", capsys.readouterr().out))


def test_the_run_time_names_the_air_source_that_it_is_of(file):
    """53.1 L: by 4 L/s and 4 s of start-up 17 s, by the measured 1 L/s 57 s. The row, the sentence and the card name the
    source, and say what is assumed of foam that was not weighed from it."""
    given = {"volume": "1 m3", "density": "600", "foam_density": "75", "output": "60 L/min", "survival": "90 %"}
    plan = fl.pour_plan(**given, source="leaf blower: 240 L/min")
    rows = dict(facts(plan, METRIC)[EACH_MIX])
    assert rows["foam by time with “leaf blower”, from air on"].startswith("17 s")
    assert rows["assumed of “leaf blower”"] == "the same foam density, 75.0 kg/m³"
    assert "(17 s with “leaf blower”)" in plan.answer
    html = plan_card(plan).html
    assert html.count("with “leaf blower”") >= 3  # the sentence, the large figure, the row
    assert "assumed of “leaf blower”" in html.lower()
    slow = fl.pour_plan(**given, source="inflator: 12 L/min")
    rows = dict(facts(slow, METRIC)[EACH_MIX])
    assert rows["foam by time with “foam as measured”, from air on"].startswith("57 s")
    assert not [label for label in rows if label.startswith("assumed")]
    alone = fl.pour_plan(**given)
    assert "foam by time, from air on" in dict(facts(alone, METRIC)[EACH_MIX])
    only = fl.pour_plan(**{**given, "output": ""}, source="leaf blower: 240 L/min")
    assert "assumed of “leaf blower”" in dict(facts(only, METRIC)[EACH_MIX])
    assert "foam by time with “leaf blower”, from air on" in dict(facts(only, METRIC)[EACH_MIX])
