"""An agent's file: what is read from it, what is asked back, and where its surface tension is used."""

import dataclasses
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest
from fake_session import FakeSession
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.bench.evaluation_input import input_of
from frothline.bench.library import FolderView
from frothline.bench.run_control import RunControl
from frothline.errors import InputError
from frothline.foam.agent_file import new_agent, parse_agent, read_agents, read_hardness
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.pressure_terms import FixedTerms
from frothline.generator.room_air import RoomAir
from frothline.generator.sheet import read_sheet
from frothline.trials.foam_history import with_tension
from frothline.web.elements import words_of
from frothline.web.pages.notebook import agents as page

SEASON = Path(__file__).parents[2] / "recordings" / "season"
WHOLE = """
name = "Dish soap"
kind = "detergent"
dilution = "1+30"
[water]
source = "tap"
hardness = "12 °dH"
temperature = "15 °C"
[drops]
tip = "4.0 mm"
count = 50
mass = "1.30 g"
temperature = "20 °C"
"""


def test_the_surface_tension_comes_from_the_weight_of_the_drops():
    """26 mg a drop: r/V^(1/3) = 2.0/2.9625 = 0.675, f = 0.613 (between 0.6171 and 0.6093, Harkins and Brown);
    26e-6 x 9.80665/(2 π 2.0e-3 x 0.613) = 33.1 mN/m. Tip 0.02 mm of 4 mm (0.4 %, as f falls with it), f 0.5 %, mass
    4 mg of 1.3 g (0.3 %): 0.7 %."""
    agent = parse_agent(WHOLE, "soap")
    assert agent.problems == ()
    assert agent.factor == pytest.approx(0.613, abs=0.001)
    assert agent.surface_tension.value == pytest.approx(0.0331, abs=0.0001)
    assert agent.surface_tension.standard_uncertainty == pytest.approx(0.007 * 0.0331, rel=0.05)
    assert agent.hardness == pytest.approx(2.14, abs=0.005)  # 12 °dH
    assert "33.1 mN/m" in repr(agent)


@pytest.mark.parametrize(
    ("text", "millimoles"),
    [("1 °dH", 0.1783), ("10 °fH", 1.0), ("100.09 ppm", 1.0), ("2,1 mmol/L", 2.1), ("50 mg/L", 0.4996)],
)
def test_hardness_is_read_in_the_units_of_several_countries(text, millimoles):
    """As calcium carbonate, 100.09 g/mol; DIN 38409-6 and the French degree of 10 mg/L, from memory."""
    assert read_hardness(text) == pytest.approx(millimoles, rel=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"1.30 g"', '"13 g"', "above that of water"),
        ('"1.30 g"', '"0.4 g"', "below that of any solution"),
        ('tip = "4.0 mm"', 'tip = "12 mm"', "narrower tip"),
        ("count = 50", "count = 0", "must be greater than 0"),
        ("count = 50\n", "", "[drops] lacks count"),
        ('"12 °dH"', '"12"', "not a hardness with its unit"),
        ('"1+30"', '"1:30"', "two ways"),
        ('"15 °C"', '"150 °C"', "not plausible"),
        ("hardness", "hardnes", "did you mean “water.hardness”"),
        ("[drops]", 'colour = "green"\n[drops]', "“water.colour” is not known"),
        ('kind = "detergent"', 'surface_tension = "30 mN/m"', "leave one out"),
    ],
)
def test_what_is_wrong_is_asked_back_and_the_rest_is_read(old, new, words):
    agent = parse_agent(WHOLE.replace(old, new, 1), "soap")
    assert words in " ".join(agent.problems)
    assert agent.name == "Dish soap"


def test_everything_wrong_is_named_at_once():
    text = WHOLE.replace('"12 °dH"', '"12"').replace('"1+30"', '"x"').replace('tip = "4.0 mm"\n', "")
    assert len(parse_agent(text, "soap").problems) == 3


def test_a_tension_that_was_measured_otherwise_keeps_its_interval():
    agent = parse_agent('surface_tension = "28 mN/m (27 to 29)"\n', "soap")
    assert (agent.surface_tension.lower, agent.surface_tension.upper) == pytest.approx((0.027, 0.029))
    assert "is not a surface tension" in parse_agent('surface_tension = "28"\n', "soap").problems[0]


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "agents").mkdir()
    (tmp_path / "agents" / "soap.toml").write_text(WHOLE, "utf-8")
    return tmp_path


def test_the_holes_under_the_liquid_open_at_the_measured_tension(folder):
    """4 γ/D: at 33.1 in place of the usual 30 mN/m the pressure of a hole is 1.10 times as high."""
    build = read_sheet(SEASON / "builds" / "first-tube.toml")
    build = dataclasses.replace(build, solution=dataclasses.replace(build.solution, agent="dish SOAP"))
    book = read_agents(folder)
    known = with_tension(FoamKnowledge.usual(build), build, book)
    assert known.surface_tension is book.agents[0].surface_tension
    air = RoomAir()
    entry = [FixedTerms(build, air.conditions(build, one)).lift[1] for one in (known, FoamKnowledge.usual(build))]
    assert entry[0] / entry[1] == pytest.approx(book.agents[0].surface_tension.value / 0.030, rel=1e-6)
    other = dataclasses.replace(build, solution=dataclasses.replace(build.solution, agent="another"))
    assert with_tension(FoamKnowledge.usual(other), other, book).surface_tension is None
    assert with_tension(FoamKnowledge.usual(build), build, None).surface_tension is None


def test_prompt_python_and_page_read_one_file(folder, capsys):
    assert cli.main(["agents", str(folder), "--json"]) == 0
    (found,) = result_of(capsys.readouterr().out)["agents"]
    (agent,) = fl.agents(folder).agents
    assert found["surface_tension"]["value"] == agent.surface_tension.value
    seen = FolderView("own", folder, 1, ready=True, agents=fl.agents(folder))
    said = " ".join(words_of(part) for part in page.agents(seen, None, "metric") if part is not None)
    assert "Dish soap" in said
    assert "33.1 mN/m" in said
    assert page.agents_state(seen) == "1 file"
    assert list(fl.agents(folder)._observations().units)[:3] == ["name", "kind", "agent_fraction"]


def test_a_folder_without_agents_says_how_one_is_written(tmp_path, capsys):
    assert cli.main(["agents", str(tmp_path)]) == 0
    assert "frothline agents --new" in capsys.readouterr().out
    assert cli.main(["agents", str(tmp_path), "--new", "soap"]) == 0
    assert cli.main(["agents", str(tmp_path), "--agent", "soap"]) == 0
    assert "not measured" in capsys.readouterr().out
    with pytest.raises(InputError, match="already"):
        new_agent(tmp_path, "soap")
    with pytest.raises(InputError, match="no agent is called"):
        fl.agents(tmp_path).named("other")
    (tmp_path / "agents" / "bad.toml").write_text("[", "utf-8")
    assert cli.main(["agents", str(tmp_path)]) == 1
    shutil.rmtree(tmp_path / "agents")


def test_prompt_python_and_page_calculate_with_the_measured_tension(folder):
    """The agent of the sheet is found in the folder of its trials."""
    build = read_sheet(SEASON / "builds" / "first-tube.toml")
    build = dataclasses.replace(build, solution=dataclasses.replace(build.solution, agent="Dish soap"))
    fitted = fl.fit_source(SEASON / "03-29-sweep-shop-motor.froth")
    tension = fl.agents(folder).agents[0].surface_tension.value
    assert input_of(build, source=fitted, folder=folder).conditions.surface_tension == tension
    told, bench = [], FakeSession(folder)
    run = RunControl(bench, SimpleNamespace(built=build, know=lambda knowledge, _: told.append(knowledge)))
    run.see(FolderView("own", folder, 1, ready=True, agents=fl.agents(folder)))
    run.notice(bench.snapshot())
    assert told[-1].surface_tension.value == tension
