"""The concrete decides: pours tied to trials, and which change helped judged by what was poured."""

import shutil
from datetime import datetime
from pathlib import Path

import pytest
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.bench.pour_planning import plan_pour
from frothline.errors import InputError
from frothline.pours.new_pour import new_pour
from frothline.pours.record import read_pour
from frothline.trials.figures import CONCRETE, shown_figures
from frothline.trials.known_names import known_names
from frothline.trials.notebook import open_notebook
from frothline.trials.which_helped import which_helped
from frothline.trials.workshop_foam import foam_for_batch

SEASON = Path(__file__).parents[2] / "recordings" / "season"
DILUTION = "solution dilution (% agent)"


@pytest.fixture(scope="module")
def notebook():
    return open_notebook(SEASON)


@pytest.fixture
def folder(tmp_path):
    """The season's pours and two of its trials, in a folder of one's own."""
    for name in ("04-05-first-tube", "04-26-strong"):
        for suffix in (".froth", ".toml"):
            shutil.copy(SEASON / f"{name}{suffix}", tmp_path)
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    shutil.copytree(SEASON / "pours", tmp_path / "pours")
    return tmp_path


def effect(notebook, response):
    return next(
        one for one in which_helped(notebook.trials, response).report.effects if one.factor == DILUTION
    ).estimate


def test_the_concrete_overturns_what_the_foam_suggested(notebook):
    """A stronger solution makes foam that drains more slowly, and concrete with less of its air, weaker and sunk."""
    foam = effect(notebook, "drainage")
    assert foam.lower > 0
    assert effect(notebook, "survival").upper < 0
    assert effect(notebook, "strength_28").upper < 0
    assert effect(notebook, "settlement").lower > 0


def test_a_trial_has_the_figures_of_its_pour_and_a_trial_without_says_so(notebook):
    poured, other = notebook.trial("04-26-strong"), notebook.trial("04-26-first-tube-blower")
    pour = notebook.pours.named("Planter")
    assert poured.pours == ("04-26-planter",)
    assert notebook.pours.of(poured) == (pour,)
    assert poured.figure("survival") == pour.outcome.survival
    assert poured.strength_28 == pour.strength_28
    assert other.survival is None
    assert other.why["survival"] == "no pour with this foam is recorded"


def test_the_rules_of_the_season_are_found_within_the_stated_intervals(notebook):
    """Rules of recordings/make_pours.py: share that survives, up to 0.8 % from pour to pour; strength with density to 2.4."""
    from make_pours import POURS

    for name, _, _, _, survival, _ in POURS:
        found = notebook.pours.named(name).outcome.survival
        assert found.lower - 0.016 < survival < found.upper + 0.016, name
    exponent = notebook.pours.law.density_exponent
    assert exponent.lower < 2.4 < exponent.upper


def test_figures_of_concrete_are_shown_only_where_something_was_poured(notebook):
    without = [one for one in notebook.trials if not one.pours]
    assert not {one.name for one in shown_figures(without)} & set(CONCRETE)
    assert set(CONCRETE) <= {one.name for one in shown_figures(notebook.trials)}


def test_a_comparison_has_the_concrete_where_both_trials_were_poured(notebook):
    both = notebook.compare("04-05-first-tube", "04-26-strong").figures
    words = {one.figure.name: one.words for one in both}
    assert words["cast_density"] == "higher"  # the strong foam lost more of its air
    assert set(CONCRETE) <= set(words)
    one_alone = notebook.compare("04-26-first-tube-blower", "04-26-strong").figures
    assert not {one.figure.name for one in one_alone} & set(CONCRETE)


def test_two_pours_with_one_foam_are_one_mean_with_their_scatter(folder):
    first = folder / "pours" / "04-05-bench-foot.toml"
    text = first.read_text("utf-8").replace('title = "', 'title = "Second ', 1)
    (folder / "pours" / "again.toml").write_text(text, encoding="utf-8")
    trial = open_notebook(folder).trial("04-05-first-tube")
    assert len(trial.pours) == 2
    assert "mean of 2 pours" in trial.survival.assumptions


def test_a_pour_whose_trial_is_not_there_is_kept_and_says_so(folder):
    book = open_notebook(folder).pours
    assert len(book.pours) == 6
    orphan = book.named("04-12-kerb")
    assert orphan.trial is None
    assert any("no trial is called “04-12-narrow-outlet”" in one for one in orphan.problems)
    assert orphan.outcome.survival is None  # its foam was not weighed in this folder
    assert orphan.strength_28 is not None  # its cubes need no foam


def test_an_unreadable_file_costs_no_other_pour(folder):
    (folder / "pours" / "broken.toml").write_text("[masses\n", encoding="utf-8")
    (folder / "pours" / "link.toml").symlink_to(folder / "nowhere.toml")
    book = open_notebook(folder).pours
    assert len(book.pours) == 6
    assert len(book.problems) == 2


def test_a_new_pour_is_a_file_to_fill_in_and_overwrites_nothing(tmp_path):
    amounts = {"density": 600.0, "volume": 0.048, "cement": 19.2, "sand": 0.0, "water": 6.8}
    path = new_pour(tmp_path, "kerb", trial='a "b"', amounts=amounts)
    pour = read_pour(path)
    assert pour.problems == ()
    assert (pour.trial, pour.masses.cement, pour.wanted_volume) == ('a "b"', 19.2, pytest.approx(0.048))
    with pytest.raises(InputError, match="recorded already"):
        new_pour(tmp_path, "kerb")
    for name in ("../kerb", "", ".kerb", "a/b"):
        with pytest.raises(InputError, match="cannot be the name"):
            new_pour(tmp_path, name)


def test_every_commented_entry_of_a_new_file_can_be_read(tmp_path):
    path = new_pour(tmp_path, "kerb", poured=datetime.fromisoformat("2025-04-12T15:30"))
    lines = path.read_text("utf-8").split("\n")
    filled = [line.removeprefix("# ") for line in lines]
    path.write_text("\n".join(filled), encoding="utf-8")
    pour = read_pour(path)
    assert pour.problems == ()
    assert pour.specimens[0].strength > 0
    assert pour.cup_density == pytest.approx(652.0)


def test_the_prompt_lists_pours_and_ends_with_1_where_one_has_a_question(capsys, folder):
    assert cli.main(["pours", str(SEASON)]) == 0
    assert "6 pours in" in capsys.readouterr().out
    assert cli.main(["pours", str(SEASON), "--pour", "Planter", "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert "psi" in said
    assert "MPa" not in said
    assert cli.main(["pours", str(folder), "--json"]) == 1
    data = result_of(capsys.readouterr().out)
    assert {one["name"] for one in data["pours"]} >= {"04-26-planter"}
    assert cli.main(["pours", str(folder), "--new", "kerb", "--trial", "04-26-strong"]) == 0
    assert (folder / "pours" / "kerb.toml").is_file()


def test_the_report_has_every_pour_and_its_cautions(tmp_path, capsys):
    target = tmp_path / "pours.html"
    assert cli.main(["pours", str(SEASON), "--report", str(target)]) == 0
    text = target.read_text("utf-8")
    for word in ("Planter", "Stepping stones", "no prediction", "Wet cement burns", "imulated"):
        assert word in text


def test_the_pours_of_the_season_are_made_again_byte_for_byte(tmp_path):
    from make_season import pours

    shutil.copytree(SEASON, tmp_path / "season", ignore=shutil.ignore_patterns("pours", ".frothline-*"))
    pours(tmp_path / "season")
    for path in sorted((SEASON / "pours").glob("*.toml")):
        assert (tmp_path / "season" / "pours" / path.name).read_bytes() == path.read_bytes(), path.name


def test_the_season_shows_agents_a_jar_and_a_pour_plan_filled_in(tmp_path):
    """By hand: 300 g of cement (3.15), 150 mL of water and 300 mL of foam of 75 g/L with 90 % of its air are 517.5 mL, and
    a jar of 92 mm is then filled to 77.8 mm; 2 mm of 78 mm are 2.6 %. 50 drops of 23.3 mg are 1.17 g.
    """
    from make_notes import write_notes
    from make_season import SIMULATED

    write_notes(tmp_path, SIMULATED)
    made = sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*.toml"))
    assert len(made) == 4
    for name in made:
        assert (SEASON / name).read_bytes() == (tmp_path / name).read_bytes(), name
        assert (SEASON / name).read_text("utf-8").startswith("# simulated")
    notebook = open_notebook(SEASON)
    (jar,) = notebook.pours.jars
    assert jar.problems == ()
    assert jar.outcome.survival.value == pytest.approx(0.90, abs=0.01)
    assert jar.outcome.settlement.value == pytest.approx(2 / 78)
    assert notebook.agents.problems == ()
    assert notebook.agents.tension_of("shampoo").value == pytest.approx(0.030, rel=0.01)
    assert notebook.agents.tension_of("washing-up liquid") is None  # the runs' own foam stays as it was
    plan = plan_pour(SEASON / "pour-plan.toml")
    assert plan.source == "Strong, long and narrow"
    assert plan.order.duties["small pump"].on == 600.0
    assert plan.order.volume == pytest.approx(0.4)


def test_a_batch_expects_the_survival_that_the_pours_found(notebook):
    """Without a saved cup the prior would be used, 90 % with 75 to 100 %."""
    trial = notebook.trial("04-05-first-tube")
    foam = foam_for_batch(trial, notebook.trials)
    shares = [one.outcome.survival.value for one in notebook.pours.pours]
    assert foam.survival.assumptions == ("by 6 weighed cups",)
    assert min(shares) < foam.survival.value < max(shares)


def test_shares_are_read_in_percent_their_changes_in_percentage_points_and_files_keep_the_ratio(notebook, capsys):
    """A survival of 0.84 that falls by 0.10 falls by 10 percentage points, which is 12 % of it."""
    found = which_helped(notebook.trials, "survival")
    change = effect(notebook, "survival")
    assert found.unit.factor == 100.0
    assert any("percentage points" in words for words in found.words)
    row = next(one for one in found.as_dict()["effects"] if one["factor"] == DILUTION)
    assert row["value"] == pytest.approx(change.value / 100.0)
    assert -0.2 < row["value"] < -0.05
    assert cli.main(["trials", str(SEASON), "--trial", "04-26-strong"]) == 0
    shown = next(line for line in capsys.readouterr().out.splitlines() if line.startswith("Air surviving"))
    value = notebook.trial("04-26-strong").survival
    assert f"{100 * value.value:.0f}" in shown
    assert " % (" in shown
    assert cli.main(["trials", str(SEASON), "--compare", "04-05-first-tube", "04-26-strong"]) == 0
    said = capsys.readouterr().out
    assert "percentage points (" in next(line for line in said.splitlines() if line.startswith("Air surviving"))


def test_a_trial_that_is_not_there_is_asked_back_with_the_names_that_are_near_wherever_it_is_entered(folder, capsys):
    """ "04-05-frist-tube" is a slip of "04-05-first-tube"; a title is written as the name of its trial."""
    before = (folder / "pours" / "04-26-planter.toml").read_bytes()
    wrong = "04-05-frist-tube"
    new_jar_of = ("jar", str(folder), "--new", "soap", "--entry", "cement=300 g")
    assert cli.main([*new_jar_of]) == 0
    for options in (
        ("pours", str(folder), "--pour", "04-26-planter", "--correct", f"trial={wrong}"),
        ("pours", str(folder), "--new", "x", "--entry", f"trial={wrong}"),
        ("pours", str(folder), "--new", "x", "--trial", wrong),
        ("jar", str(folder), "--new", "y", "--entry", f"trial={wrong}"),
        ("jar", str(folder), "--correct", "soap", f"trial={wrong}"),
    ):
        assert cli.main([*options]) == 2, options
        assert "Did you mean “04-05-first-tube”" in capsys.readouterr().err, options
    notebook = open_notebook(folder)
    for wrongly in (
        lambda: fl.correct_pour("04-26-planter", notebook, trial=wrong),
        lambda: fl.record_pour("x", notebook, trial=wrong),
        lambda: fl.record_jar("y", notebook, trial=wrong, cement="300 g"),
        lambda: fl.correct_jar("soap", notebook, trial=wrong),
    ):
        with pytest.raises(InputError, match=r"unknown trial name.*Did you mean “04-05-first-tube”"):
            wrongly()
    assert (folder / "pours" / "04-26-planter.toml").read_bytes() == before
    assert {one.name for one in (folder / "jars").iterdir()} == {"soap.toml"}
    assert not (folder / "pours" / "x.toml").exists()
    title = notebook.trial("04-05-first-tube").title
    assert cli.main(["pours", str(folder), "--pour", "04-26-planter", "--correct", f"trial={title}"]) == 0
    assert read_pour(folder / "pours" / "04-26-planter.toml").trial == "04-05-first-tube"
    fl.correct_jar("soap", notebook, trial=title)
    assert 'trial = "04-05-first-tube"' in (folder / "jars" / "soap.toml").read_text("utf-8")
    assert cli.main(["pours", str(folder), "--pour", "04-26-planter", "--correct", "trial="]) == 0
    assert read_pour(folder / "pours" / "04-26-planter.toml").trial == ""


@pytest.mark.parametrize(
    ("name", "offered"),
    [
        ("first foam", "Did you mean “04-05-first”?"),  # a title
        ("Planters", "Did you mean “04-26-planter”?"),
        ("05", "Did you mean “04-05-first” or “05-03-last”?"),
        ("qqqq", "Known: 04-05-first, 04-26-planter, 05-03-last"),
        ("", "Known: 04-05-first, 04-26-planter, 05-03-last"),
    ],
)
def test_the_names_that_are_offered_are_near_or_the_first(name, offered):
    titles = {"04-05-first": "First foam", "04-26-planter": "Planter", "05-03-last": "05-03-last"}
    assert known_names(name, titles) == offered
    assert known_names(name, {}) == ""
