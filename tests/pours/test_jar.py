"""A jar of slurry and foam: survival by the volumes of its parts, settlement, and what the file leaves open."""

import math
import shutil
from pathlib import Path

import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.pours.jar import EXAMPLE, judge_jar, parse_jar
from frothline.trials.notebook import open_notebook
from frothline.trials.workshop_foam import foam_for_batch

SEASON = Path(__file__).parents[2] / "recordings" / "season"
RUN = "04-05-first-tube"
# By hand (additivity of volumes, as in ASTM C796): 300 g cement of 3.15 is 95.2 mL, with 150 mL water and 300 mL foam of
# 75 kg/m3 (22.5 mL water, 277.5 mL air) 545.2 mL; with 90 % of the air 517.5 mL.
MADE = 300 / 3.15 + 150 + 22.5


def written(share=0.9, diameter=92.0, settled=None, foam='foam_volume = "300 mL"', more=""):
    height = (MADE + share * 277.5) * 1e3 / (math.pi / 4 * diameter**2)
    low = height if settled is None else settled * height
    return (
        f'foam_density = "75 kg/m3"\n{more}[masses]\ncement = "300 g"\nwater = "150 g"\n{foam}\n'
        f'[jar]\ndiameter = "{diameter} mm"\nheight = "{height:.2f} mm"\nsettled = "{low:.2f} mm"\nafter = "2 h"\n'
    )


@pytest.mark.parametrize("share", [0.75, 0.9, 0.98])
def test_survival_is_that_of_the_volumes(share):
    found = judge_jar(parse_jar(written(share), "a"))
    assert found.survival.value == pytest.approx(share, abs=0.005)
    assert found.survival.lower < share < found.survival.upper <= 1.0
    assert found.density.value == pytest.approx(472.5e-3 / ((MADE + share * 277.5) * 1e-6), rel=1e-3)
    assert "a mixer may differ" in found.survival.assumptions[0]
    assert found.questions == ()


def test_a_narrow_jar_is_known_less_well():
    """A ruler to half a millimetre: 2.5 % of the volume at 40 mm, 1.1 % at 92 mm."""
    wide, narrow = (judge_jar(parse_jar(written(diameter=d), "a")).survival for d in (92.0, 40.0))
    assert narrow.standard_uncertainty > 1.15 * wide.standard_uncertainty
    assert wide.standard_uncertainty >= 0.04


def test_settlement_and_what_is_left_then():
    found = judge_jar(parse_jar(written(0.9, settled=0.95), "a"))
    assert found.settlement.value == pytest.approx(0.05, abs=1e-3)
    assert found.settlement.lower < 0.05 < found.settlement.upper
    # 5 % of 517.5 mL less is 25.9 mL of 277.5 mL air
    assert found.later.value == pytest.approx(0.9 - 25.9 / 277.5, abs=0.006)
    assert found.after == 7200.0


def test_mass_and_volume_of_the_foam_give_its_density():
    text = written(foam='foam = "22.5 g"\nfoam_volume = "300 mL"').replace('foam_density = "75 kg/m3"\n', "")
    assert judge_jar(parse_jar(text, "a")).survival.value == pytest.approx(0.9, abs=0.005)
    of_trial = judge_jar(
        parse_jar(written().replace('foam_density = "75 kg/m3"\n', ""), "a"), Estimate.normal(75, 1, "kg/m3")
    )
    assert of_trial.survival.value == pytest.approx(0.9, abs=0.005)


def test_the_example_can_be_read():
    jar = parse_jar(EXAMPLE, "a")
    assert jar.problems == ()
    assert jar.trial == "04-12-long-packing"
    assert judge_jar(jar, Estimate.normal(75, 1, "kg/m3")).survival is not None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('cement = "300 g"', ""), "cement, water and foam are not all written"),
        (("diameter", "# diameter"), "diameter and height"),
        (('foam_density = "75 kg/m3"', ""), "density of the foam is not known"),
    ],
)
def test_what_is_missing_is_named(change, words):
    found = judge_jar(parse_jar(written().replace(*change), "a"))
    assert found.survival is None
    assert words in found.why["survival"]


def test_a_jar_that_contradicts_itself_is_asked_back():
    heavier = judge_jar(parse_jar(written(-0.4), "a"))
    assert heavier.survival is None
    assert heavier.questions
    rose = judge_jar(parse_jar(written(settled=1.2), "a"))
    assert any("is above height" in one for one in rose.questions)
    assert rose.survival is not None
    wrong = parse_jar(written(more='colour = "grey"\n').replace('"150 g"', '"much"'), "a")
    assert len(wrong.problems) == 2


@pytest.fixture
def folder(tmp_path):
    for suffix in (".froth", ".toml"):
        shutil.copy(SEASON / f"{RUN}{suffix}", tmp_path)
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    (tmp_path / "jars").mkdir()
    (tmp_path / "jars" / "soap.toml").write_text(written(0.82, more=f'trial = "{RUN}"\n'), "utf-8")
    (tmp_path / "jars" / "broken.toml").write_text("[masses", "utf-8")
    (tmp_path / "jars" / "out.toml").symlink_to(SEASON / f"{RUN}.toml")
    return tmp_path


def test_a_batch_expects_the_survival_of_the_jar_before_the_first_cup(folder):
    book = open_notebook(folder)
    trial = book.trial(RUN)
    assert trial.cups == ()
    assert [one.value for one in trial.jars] == pytest.approx([0.82], abs=0.01)
    assert foam_for_batch(trial, book.trials).survival.value == pytest.approx(0.85, abs=0.04)
    assert len(book.pours.problems) == 2


def test_prompt_python_and_page_show_the_jar(folder, capsys):
    one = fl.jar(folder / "jars" / "soap.toml")
    assert repr(one).startswith("<Jar soap: 82 % of the air survives")
    assert "settlement" in one._repr_html_().lower()
    assert one.table()["survival"][0] == one.outcome.survival.value
    assert cli.main(["jar", str(folder), "--json"]) == 0
    (data,) = result_of(capsys.readouterr().out)["jars"]
    assert data["survival"]["value"] == one.outcome.survival.value
    assert cli.main(["jar", "--file", str(folder / "jars" / "soap.toml")]) == 0
    assert "82" in capsys.readouterr().out
    assert cli.main(["jar", "--example"]) == 0
    assert parse_jar(capsys.readouterr().out, "a").problems == ()
    assert cli.main(["jar", "--file", str(folder / "jars" / "broken.toml")]) == 2
    with pytest.raises(InputError, match="cannot be read"):
        fl.jar(folder / "jars" / "none.toml")
    from frothline.bench.library import FolderView
    from frothline.web.pages.batch import pours

    text = str(pours.block(FolderView("own", folder, pours=open_notebook(folder).pours), "metric"))
    assert "Jars of this folder" in text
    assert "82" in text


def test_a_jar_whose_volume_is_not_that_of_its_sizes_is_asked_back():
    """92 mm across and 78 mm high are 518.5 mL."""
    wrong = judge_jar(
        parse_jar(EXAMPLE.replace("[jar]", '[jar]\nvolume = "2 L"'), "a"), Estimate.normal(75.0, 1.5, "kg/m3")
    )
    assert wrong.survival is wrong.density is None
    assert any("volume and sizes of the jar contradict each other" in words for words in wrong.questions)
    right = judge_jar(
        parse_jar(EXAMPLE.replace("[jar]", '[jar]\nvolume = "530 mL"'), "a"), Estimate.normal(75.0, 1.5, "kg/m3")
    )
    assert right.survival is not None


def test_a_question_about_a_jar_speaks_of_no_cup():
    """110 inches for 110 mm: 77 L of 472 g."""
    found = judge_jar(
        parse_jar(EXAMPLE.replace('height = "78 mm"', 'height = "110 in"'), "a"), Estimate.normal(75.0, 1.5, "kg/m3")
    )
    assert found.survival is None
    assert any("a mix of" in words and "lighter than the foam" in words for words in found.questions)
    assert not any("cup" in words for words in found.questions)
