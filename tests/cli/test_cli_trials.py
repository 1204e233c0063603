"""Trials, effects, plans, samples, batches, builds, what-ifs and reports at the prompt."""

import json
import shutil
import textwrap
from pathlib import Path

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.cli.arguments.plan import ABOUT
from frothline.errors import InputError
from frothline.trials.plan_file import parse_plan

SEASON = Path(__file__).parents[2] / "recordings" / "season"
SWEEP = SEASON / "03-29-sweep-shop-motor.froth"
RUN = SEASON / "05-03-strong-long-narrow.froth"
FIRST = SEASON / "builds" / "first-tube.toml"


def run(capsys, *arguments):
    code = cli.main([str(one) for one in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def as_json(capsys, *arguments):
    code, out, err = run(capsys, *arguments, "--json")
    assert code == 0, err
    return result_of(out)


def test_recordings_are_searched_and_filtered(capsys):
    every = as_json(capsys, "recordings", SEASON)
    assert len(every) == 12
    found = as_json(capsys, "recordings", SEASON, "--words", "BLOWER packing", "--kind", "run")
    assert [one["name"] for one in found] == ["05-10-long-packing-blower"]
    april = as_json(capsys, "recordings", SEASON, "--since", "2025-04-01", "--until", "2025-04-12")
    assert {one["name"][:5] for one in april} == {"04-05", "04-12"}


def test_a_recording_that_cannot_be_read_is_code_1_and_the_others_are_listed(capsys, tmp_path):
    shutil.copy(RUN, tmp_path)
    (tmp_path / "letter.froth").write_text("Dear builder,")
    code, out, _ = run(capsys, "recordings", tmp_path)
    assert code == 1
    assert "unreadable" in out
    assert "05-03" in out


def test_a_date_that_is_none_is_code_2(capsys):
    code, _, err = run(capsys, "recordings", SEASON, "--since", "last week")
    assert code == 2
    assert "2025-04-12" in err


def test_trials_side_by_side_and_one_alone_agree(capsys):
    every = as_json(capsys, "trials", SEASON)
    alone = as_json(capsys, "trials", SEASON, "--trial", "First foam")
    assert alone == every[0]
    assert alone["density"]["unit"] == "kg/m3"
    _, out, _ = run(capsys, "trials", SEASON)
    assert "(simulated)" in out.splitlines()[0]
    assert f"{alone['density']['value']:.1f} kg/m³" in out  # its interval is 2.4 wide: tenths are known


def test_an_unknown_trial_is_code_2_and_names_those_there_are(capsys):
    code, _, err = run(capsys, "trials", SEASON, "--trial", "perfect foam")
    assert code == 2
    assert "04-05-first-tube" in err


def test_two_trials_are_compared_and_drawn(capsys, tmp_path):
    drawing = tmp_path / "changed.svg"
    data = as_json(
        capsys, "trials", SEASON, "--compare", "04-05-first-tube", "04-12-narrow-outlet", "--drawing", drawing
    )
    assert [one["path"] for one in data["changed"]] == ["outlet.bore"]
    assert "fl-changed" in drawing.read_text()


def test_effects_say_first_what_cannot_be_told_apart(capsys):
    two = ("--trials", "04-05-first-tube", "04-05-more-holes-long-packing")
    _, out, _ = run(capsys, "effects", SEASON, *two)
    assert out.splitlines()[1].startswith("- Tube rows and packing length (mm) changed together in every pair")
    data = as_json(capsys, "effects", SEASON, *two)
    assert data["effects"] == []
    assert data["runs_that_would_tell"]


def test_effects_find_what_the_season_was_made_with(capsys):
    # rules of recordings/make_season.py: drainage goes with length to 0.6 and with agent to 0.5, so that from 250 to
    # 400 mm it is 1.6^0.6 = 1.33 and from 1+30 to 1+20 it is (31/21)^0.5 = 1.21 of some 380 s
    data = as_json(capsys, "effects", SEASON, "--response", "drainage")
    effect = {one["factor"]: one for one in data["effects"]}
    for factor, seconds in (("packing length (mm)", 0.33 * 380), ("solution dilution (% agent)", 0.21 * 380)):
        assert effect[factor]["lower"] < seconds < effect[factor]["upper"]
        assert effect[factor]["lower"] > 0


def test_one_trial_has_no_effects_and_that_is_code_5(capsys):
    code, _, err = run(capsys, "effects", SEASON, "--trials", "04-05-first-tube")
    assert code == 5
    assert "two" in err


def test_the_help_of_plan_describes_every_entry_of_the_file_and_the_form(capsys):
    with pytest.raises(InputError) as unknown:
        parse_plan("surprise = 1", SEASON / "plan.toml")
    with pytest.raises(SystemExit):
        cli.main(["plan", "--help"])
    said = " ".join(capsys.readouterr().out.split())
    for name in unknown.value.remedy.removeprefix("Known: ").split(", "):
        assert name in said
    assert "[[planned]]" in said
    readme = " ".join((SEASON.parents[1] / "README.md").read_text("utf-8").split())
    for button in ("Plan", "Plan this as next trial"):  # as the pages call them
        assert button in said
        assert f"*{button}*" in readme
    assert "`[[planned]]`" in readme


def test_a_plan_as_in_the_help_is_read(tmp_path):
    example = ABOUT[ABOUT.index("reference =") : ABOUT.index("The notebook page")].replace(
        '"..."', f"'''\n{FIRST.read_text('utf-8')}'''"
    )
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    plan = parse_plan(textwrap.dedent(f"  {example}"), tmp_path / "plan.toml")
    assert [one.name for one in plan.planned] == ["Narrow outlet"]
    assert plan.batches == 2


def test_a_plan_proposes_a_run_and_writes_its_sheet(capsys, tmp_path):
    sheet = tmp_path / "next.toml"
    data = as_json(capsys, "plan", SEASON / "plan.toml", "--sheet", sheet)
    assert data["proposal"]["settings"].keys() == {"tube.rows", "packing.length", "outlet.bore", "solution.dilution"}
    assert len(data["left_out"]) == 2
    built = as_json(capsys, "build", sheet)
    assert built["build"]["packing"]["length"] == pytest.approx(data["proposal"]["settings"]["packing.length"])
    code, _, err = run(capsys, "plan", SEASON / "plan.toml", "--sheet", sheet)
    assert code == 2
    assert "name exists" in err


def test_a_sample_that_was_timed_too_long_for_the_air_blown_in_is_asked_about_at_the_prompt(capsys):
    """60 L of foam in 60 s from 10 L/s of air: a tenth of the air, and 30 % is the least that is usual."""
    tub = ["sample", "--container", "60 L", "--empty", "2.3 kg", "--full", "7.7 kg", "--air", "10", "--u-air", "0.3"]
    assert cli.main([*tub, "--fill-time", "60 s"]) == 0
    assert "Check this sample: 60 L in 60.0 s" in capsys.readouterr().out
    assert cli.main([*tub, "--fill-time", "7 s", "--json"]) == 0
    assert result_of(capsys.readouterr().out)["question"] == ""


def test_a_sample_at_the_prompt_and_the_lines_to_keep(capsys):
    given = ("--container", "1.4 L", "--empty", "0 g", "--full", "180 g", "--fill-time", "7 s")
    data = as_json(capsys, "sample", *given)
    assert data["sample"]["density"]["value"] == pytest.approx(180 / 1.4)  # g/L
    assert data["sample"]["output"]["value"] == pytest.approx(1.4e-3 / 7)
    _, out, _ = run(capsys, "sample", *given, "--toml")
    assert out.splitlines()[0] == "[[sample]]"
    code, _, err = run(capsys, "sample", "--container", "2 L", "--empty", "300 g", "--full", "200 g")
    assert code == 2
    assert "not heavier than empty" in err


def test_a_batch_from_figures_and_from_a_trial(capsys):
    # by hand: cast 800 kg/m3, w/c 0.5: cement 800/1.5 = 533.3 kg/m3, water 266.7; air 1 - 533.3/3150 - 0.2667 = 0.5640;
    # foam of 80 kg/m3 0.5640/0.92 = 0.6131 m3 with 49.0 kg of water, so 217.6 kg into the mixer; a tenth of it for 100 L
    given = ("--density", "800", "--volume", "100 L", "--foam-density", "80", "--foam-output", "120")
    data = as_json(capsys, "batch", *given, "--survival", "1")
    assert data["cement"] == pytest.approx(53.33, abs=0.01)
    assert data["foam_volume"] == pytest.approx(0.06131, abs=0.0001)
    assert data["mixer_water"] == pytest.approx(21.76, abs=0.02)
    assert data["run_time"]["value"] == pytest.approx(data["start_up"]["value"] + 61.31 / 120 * 60, abs=0.1)
    _, out, _ = run(capsys, "batch", "--density", "600", "--volume", "50 L", "--folder", SEASON, "--trial", RUN.stem)
    assert "Simulated" in out
    assert "Not structural" in out


def test_a_batch_without_foam_is_code_2(capsys):
    code, _, err = run(capsys, "batch", "--density", "600", "--volume", "50 L")
    assert code == 2
    assert "--foam-density" in err


def test_a_batch_writes_report_and_card_with_the_figures_of_its_json(capsys, tmp_path):
    given = ("batch", "--density", "600", "--volume", "50 L", "--foam-density", "75", "--foam-output", "200")
    data = as_json(capsys, *given, "--report", tmp_path / "b.html", "--card", tmp_path / "c.html")
    for name in ("b", "c"):
        text = (tmp_path / f"{name}.html").read_text()
        assert f"{data['cement']:.1f} kg" in text


def test_a_sheet_is_begun_checked_compared_and_drawn(capsys, tmp_path):
    new = tmp_path / "mine.toml"
    assert run(capsys, "build", new.with_suffix(""), "--new")[0] == 0  # the suffix is added
    assert run(capsys, "build", new)[0] == 0
    new.write_text(new.read_text().replace('hole = "4 mm"', 'hole = "4.05 mm"'))
    code, out, _ = run(capsys, "build", new, "--svg", tmp_path / "mine.svg")
    assert code == 1  # it can be, but 4.05 mm is no drill
    assert "check: " in out
    assert (tmp_path / "mine.svg").read_text().startswith("<svg")
    new.write_text(new.read_text().replace("rows = 4", "rows = -4"))
    code, _, err = run(capsys, "build", new)
    assert code == 2
    line = new.read_text().splitlines().index(next(x for x in new.read_text().splitlines() if x.startswith("rows")))
    assert f"{new}:{line + 1}" in err
    data = as_json(capsys, "build", SEASON / "builds" / "narrow-outlet.toml", "--against", FIRST)
    assert [(one["path"], one["before"], one["after"]) for one in data["differences"]] == [
        ("outlet.bore", "40x3", "32x3")
    ]


def test_a_narrower_outlet_lets_less_air_through(capsys):
    data = as_json(capsys, "whatif", FIRST, "--sweep", SWEEP, "--set", "outlet.bore=32x3")
    assert any("eye protection" in one or "keep faces away" in one for one in data["cautions"])
    assert data["now"]["meets"]
    assert data["then"]["meets"]
    assert data["then"]["air_rate"]["value"] < data["now"]["air_rate"]["value"]
    assert data["flow_change"]["value"] < 0
    code, _, err = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--set", "outlet.bore")
    assert code == 2
    assert "--set" in err


@pytest.mark.exhaustive
def test_a_wanted_pressure_is_brought_by_a_pipe_that_is_sold(capsys):
    now = as_json(capsys, "whatif", FIRST, "--sweep", SWEEP)["now"]["pressure"]["value"]
    data = as_json(capsys, "whatif", FIRST, "--sweep", SWEEP, "--wanted", f"pressure={now / 1e3}")
    # the sheet's own outlet is a 40 x 3 pipe: it brings what it brings
    best = data["choices"][0]
    assert best["size"].startswith("40x3 ")
    assert best["value"] == pytest.approx(0.034)
    assert best["reached"]["value"] == pytest.approx(now, rel=1e-3)
    assert data["met"]
    code, out, _ = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--wanted", "pressure=900", "--by", "tube.hole")
    assert code == 0
    assert "no stock size reaches the target" in out
    assert "drill" in out


@pytest.mark.parametrize("asked", ["pressure", "pressure=much", "colour=3", "pressure=-1", "air=inf", "ratio=20"])
def test_a_figure_that_cannot_be_wanted_is_refused_with_what_can(capsys, asked):
    code, _, err = run(capsys, "whatif", FIRST, "--sweep", SWEEP, "--wanted", asked)
    assert code == 2  # the sheet has no flow of its solution, hence no ratio
    assert "flow of the solution" in err if asked == "ratio=20" else "pressure" in err


@pytest.mark.parametrize("what", [SWEEP, RUN, SEASON])
def test_a_report_is_written_once_with_the_figures_of_its_json(capsys, tmp_path, what):
    target = tmp_path / "report.html"
    data = as_json(capsys, "report", what, "-o", target)
    text = target.read_text()
    inside = text[text.index('id="figures">') + 13 : text.rindex("</script>")]
    assert json.loads(inside) == {key: value for key, value in data.items() if key != "file"}
    code, _, err = run(capsys, "report", what, "-o", target)
    assert code == 2
    assert "--overwrite" in err


@pytest.mark.parametrize(
    ("more", "option"),
    [
        (("--full", "150 g"), "--full: "),
        (("--fill-time", "0 s"), "--fill-time: "),
        (("--depth", "0 mm"), "--depth: "),
        (("--container", "0 L"), "--container: "),
        (("--drained", "60s=900mL"), "--drained, reading 1: "),
    ],
)
def test_a_reading_of_a_sample_that_cannot_be_is_named_by_its_option(capsys, more, option):
    given = {"--container": "2 L", "--empty": "184 g", "--full": "331 g", "--fill-time": "8 s", "--depth": "190 mm"}
    given |= {more[0]: more[1]}
    code, _, err = run(capsys, "sample", *(one for pair in given.items() for one in pair))
    assert code == 2
    assert err.startswith(f"frothline: {option}")


def test_bad_news_of_a_sample_and_a_curve_comes_before_the_figures(capsys):
    _, out, _ = run(capsys, "sample", "--container", "2 L", "--empty", "184 g", "--full", "391 g")  # 103 kg/m3
    assert out.splitlines()[0].startswith("above")
    assert "usual for foamed concrete" in out.splitlines()[0]
    _, out, _ = run(capsys, "curve", SEASON / "03-29-sweep-garden-blower.froth")
    lines = out.splitlines()
    notes = [n for n, line in enumerate(lines) if line.startswith("note: ")]
    assert notes == list(range(len(notes)))
    assert notes
    assert lines[len(notes)] == "as measured"
