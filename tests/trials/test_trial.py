"""Runs condensed to trials, held to the truth of the simulated line; what is missing or wrong costs only itself."""

import dataclasses
import shutil

import pytest
from seasons import SEASON, script

from frothline.generator.sheet import read_sheet
from frothline.label_case import label_case
from frothline.recording.catalogue import Catalogue
from frothline.recording.writer import RecordingWriter
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.trials.compare import compare
from frothline.trials.figures import shown_figures
from frothline.trials.measurements import Filling, measure
from frothline.trials.notebook import open_notebook
from frothline.trials.trial import load_trial


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Two runs and a sweep of the season, with its sheets."""
    there = tmp_path_factory.mktemp("notebook")
    for name in ("04-05-first-tube", "04-05-more-holes-long-packing", "03-29-sweep-shop-motor"):
        for suffix in (".froth", ".toml"):
            shutil.copy(SEASON / f"{name}{suffix}", there)
    shutil.copytree(SEASON / "builds", there / "builds")
    return there


@pytest.fixture(scope="module")
def trial(folder):
    return open_notebook(folder).trial("04-05-first-tube")


def test_a_trial_tells_what_the_simulated_line_did_while_the_tub_was_filled(trial):
    # the truth of the physical model over the same stretch, which no sensor and no evaluation has seen
    made = script("make_season")
    day = next(one for one in made.DAYS if one.name == trial.name)
    rig = made._rig(day, read_sheet(SEASON / "builds" / "first-tube.toml"))
    rig.control("motor", value=False)
    rig.run(made.chance(f"bench {day.name}").uniform(3.0, 12.0))
    truth, since = [], 0.0
    while since < trial.used.end:
        if since == made.STILL:
            rig.control("motor", value=True)
        rig.run(0.5)
        since += 0.5
        if since > trial.used.start:
            truth.append(rig.truth())

    def mean(name):
        return sum(one[name] for one in truth) / len(truth)

    for estimate, true in (
        (trial.line_pressure, mean("line_pressure")),
        (trial.air_rate, mean("free_air_flow")),
        (trial.solution_use, mean("solution_flow") / 1000.0),  # the model's is in kg/s
        (trial.density, mean("foam_density")),
        (trial.output, mean("foam_rate")),
        (trial.capture, mean("capture")),
    ):
        # 3 standard uncertainties: six figures of one specimen of sensors, each to be missed once in 370
        assert abs(estimate.value - true) < 3 * estimate.standard_uncertainty, (estimate, true)
        assert estimate.standard_uncertainty < 0.1 * abs(true)


def test_the_window_is_the_filling_of_the_timed_sample_and_says_so(trial):
    assert trial.used.why == "while the timed sample was filled"
    assert trial.used.end == pytest.approx(29.6)  # as it stands beside the recording
    assert trial.used.end - trial.used.start == pytest.approx(11.6)


def entry_of(folder, name="04-05-first-tube"):
    return Catalogue(folder).named(name)


def changed(entry, **metadata):
    return dataclasses.replace(entry, metadata={**entry.metadata, **metadata})


def test_without_a_sample_the_air_is_known_and_the_foam_says_why_not(folder):
    found = load_trial(changed(entry_of(folder), sample=[]))
    assert found.air_rate is not None
    assert found.density is None
    assert found.why["density"] == "no sample was weighed"
    assert found.used.why.startswith("the longest steady stretch")


def test_a_sample_that_was_written_wrongly_costs_that_sample_alone(folder):
    entry = entry_of(folder)
    samples = [dict(one) for one in entry.metadata["sample"]]
    samples[2]["full"] = "29.2 g"  # lighter than the empty jug
    found = load_trial(changed(entry, sample=samples))
    assert len(found.samples) == 2
    assert found.density is not None
    (problem,) = found.problems
    assert "sample 3" in problem


def test_a_sample_that_contradicts_the_recording_is_asked_about_and_left_out_until_it_is_confirmed(folder):
    """Four times the fill time that was written down: the reservoir lost four times what this bucket would have held."""
    entry = entry_of(folder)
    whole = load_trial(entry)
    samples = [dict(one) for one in entry.metadata["sample"]]
    timed = next(number for number, one in enumerate(samples) if "fill_time" in one)
    samples[timed]["fill_time"] = f"{4 * float(str(samples[timed]['fill_time']).split()[0])} s"
    found = load_trial(changed(entry, sample=samples))
    (problem,) = found.problems
    assert f"sample {timed + 1} is not used" in problem
    assert "Check for a late press." in problem
    assert len(found.samples) == len(whole.samples) - 1
    assert found.output is None
    samples[timed]["confirmed"] = True
    confirmed = load_trial(changed(entry, sample=samples))
    assert confirmed.problems == ()
    assert confirmed.output.value == pytest.approx(whole.output.value / 4, rel=1e-6)


def test_a_missing_sheet_is_said_and_everything_else_stays(folder):
    found = load_trial(changed(entry_of(folder), build="builds/lost.toml"))
    assert found.build is None
    assert any("builds/lost.toml" in one for one in found.problems)
    assert found.density is not None


def test_a_sheet_may_stand_in_the_metadata_itself(folder):
    text = (folder / "builds" / "long-packing.toml").read_text()
    found = load_trial(changed(entry_of(folder), build="as it stood", build_sheet=text))
    assert found.build.packing.length == pytest.approx(0.4)
    assert found.problems == ()


def test_a_recording_that_is_no_recording_is_a_trial_with_a_problem(folder, tmp_path):
    entry = dataclasses.replace(entry_of(folder), path=str(tmp_path / "gone.froth"))
    found = load_trial(entry)
    assert found.line_pressure is None
    assert found.problems


def test_simulated_is_said_of_what_no_rig_measured(trial, folder):
    assert trial.simulated
    entry = changed(entry_of(folder), simulated="")
    assert load_trial(entry).simulated  # the port tells, too
    assert not load_trial(dataclasses.replace(entry, source="/dev/ttyUSB0")).simulated


def test_two_builds_differ_in_the_parts_that_changed_and_the_drawing_marks_them(folder):
    notebook = open_notebook(folder)
    found = notebook.compare("04-05-first-tube", "04-05-more-holes-long-packing")
    # the season's script changed these four entries, and nothing else
    assert set(found.paths) == {"tube.rows", "tube.under_liquid", "packing.length", "packing.mass"}
    drawing = found.drawing()
    assert drawing.count('fl-changed"') == 2  # tube and packing
    assert "packing length 250 mm to 400 mm" in found.words


def test_the_same_build_again_is_called_that(trial):
    assert compare(trial, trial).words == "no change: the same build"


def test_a_tidy_table_has_a_unit_for_every_column(folder):
    table = open_notebook(folder).table()
    assert list(table["trial"]) == ["04-05-first-tube", "04-05-more-holes-long-packing"]
    assert set(table.attrs["units"]) == set(table.columns)
    assert table.attrs["units"]["u_density"] == "kg/m3"
    assert table.attrs["simulated"] is True
    assert table["u_density"].between(0.1, 2.0).all()


def test_objects_show_themselves_in_a_notebook(folder):
    notebook = open_notebook(folder)
    for one in (notebook, notebook.trials[0], notebook.compare(*[t.name for t in notebook.trials])):
        assert one._repr_html_().startswith("<")
    for figure in shown_figures(notebook.trials):
        assert label_case(figure.label) in notebook.trials[0]._repr_html_()


def test_a_title_cannot_bring_markup_into_a_notebook(folder):
    found = load_trial(changed(entry_of(folder), title="<img src=x onerror=alert(1)>"))
    assert "<img" not in found._repr_html_()


def test_the_cache_is_made_anew_when_a_file_changes_and_never_believed_when_broken(folder, tmp_path):
    shutil.copytree(folder, tmp_path / "season")
    season = tmp_path / "season"
    first = open_notebook(season).trials
    cache = season / ".frothline-trials.json"
    assert cache.exists()
    assert open_notebook(season).trials == first
    cache.write_text('{"version": 2, "trials": {"04-05-first-tube.froth": [[], {"sha256": 1}]}}')
    assert open_notebook(season).trials == first
    cache.write_text("no json")
    assert open_notebook(season).trials == first
    # another sample time is another window, though the recording is the same
    beside = season / "04-05-first-tube.toml"
    beside.write_text(beside.read_text().replace('at = "29.6 s"', 'at = "39.6 s"'))
    assert open_notebook(season).trial("04-05-first-tube").used.end == pytest.approx(39.6)


@pytest.mark.slow
def test_a_sweep_and_a_trial_of_the_season_are_made_again_byte_for_byte(tmp_path):
    made = script("make_season")
    made.season(tmp_path / "season", (made.DAYS[1], made.DAYS[2]))
    written = [path for path in (tmp_path / "season").rglob("*") if path.is_file()]
    assert len(written) > 10
    for path in written:
        assert path.read_bytes() == (SEASON / path.relative_to(tmp_path / "season")).read_bytes(), path.name


@pytest.mark.exhaustive
def test_the_season_is_made_again_byte_for_byte(tmp_path):
    script("make_season").season(tmp_path / "season")
    made = {p.relative_to(tmp_path / "season") for p in (tmp_path / "season").rglob("*") if p.is_file()}
    kept = {p.relative_to(SEASON) for p in SEASON.rglob("*") if p.is_file() and not p.name.startswith(".")}
    assert made == kept
    for name in sorted(made):
        assert (tmp_path / "season" / name).read_bytes() == (SEASON / name).read_bytes(), name


def test_the_season_is_small_and_says_that_it_is_simulated():
    files = [p for p in SEASON.rglob("*") if p.is_file()]
    assert sum(p.stat().st_size for p in files) < 6e6
    for beside in SEASON.glob("0*.toml"):
        assert "simulated" in beside.read_text().splitlines()[0]
    assert "simulated" in (SEASON.parent / "README.md").read_text().splitlines()[2]


def test_the_example_script_runs(tmp_path, capsys):
    script("example").main(SEASON, tmp_path / "card.html")
    said = capsys.readouterr().out
    assert "These trials are simulated." in said
    assert "cement" in said
    assert (tmp_path / "card.html").stat().st_size > 5000


def run_of(folder, name, *, refill_at=None):
    """A recorded run of 40 s on the simulated line; ``refill_at`` s something is poured into its reservoir."""
    rig = ModelledRig(read_url(f"modelled://{name}?seed=3&rate=20"))
    rig.board.start()
    writer = RecordingWriter.create(folder, f"{name}-{refill_at}", source="test", background=False)
    for second in range(40):
        if second == refill_at:
            rig.control("solution", 3.0)
        writer.write(rig.run(1.0))
    writer.close()
    return writer.path


@pytest.mark.parametrize(("name", "refill_at"), [("run-fed", None), ("run", 30)])
def test_a_scale_that_does_not_fall_or_is_poured_onto_tells_no_use_of_solution(tmp_path, name, refill_at):
    """The float valve feeds what is drawn, a canister more than that: neither slope is what the foam takes."""
    used = measure(run_of(tmp_path, name, refill_at=refill_at), Filling(37.0, 20.0))
    assert used.line_pressure is not None
    assert used.solution_use is None
    assert "refill" in used.why["solution_use"]


def test_a_scale_that_falls_tells_the_use_of_solution(tmp_path):
    path = run_of(tmp_path, "run")
    used = measure(path, Filling(37.0, 20.0)).solution_use
    rig = ModelledRig(read_url("modelled://run?seed=3&rate=20"))
    rig.run(17.0)
    before = rig.truth()["solution_left"]
    rig.run(20.0)
    true = (before - rig.truth()["solution_left"]) / 20.0 / 1002.0  # kg/s to m3/s by the model's own density
    assert abs(used.value - true) < 3 * used.standard_uncertainty


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ('kind = "run"\ntitle = "München"\n'.encode("latin-1"), "save it as UTF-8"),
        (b'kind = "run"\ntitle = "open\n', "line 2"),
        ('kind = "run"\n'.encode("utf-16"), "save it as UTF-8"),
    ],
)
def test_a_run_whose_file_cannot_be_read_stays_in_the_notebook_with_its_problem(tmp_path, capsys, content, said):
    """A run whose TOML file has a typing error had vanished from trials, report and page without a word."""
    from frothline import cli

    for name in ("04-05-first-tube", "04-05-more-holes-long-packing"):
        for suffix in (".froth", ".toml"):
            shutil.copy(SEASON / f"{name}{suffix}", tmp_path)
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    (tmp_path / "04-05-first-tube.toml").write_bytes(content)
    found = open_notebook(tmp_path)
    assert [one.name for one in found.trials] == ["04-05-first-tube", "04-05-more-holes-long-packing"]
    broken = found.trial("04-05-first-tube")
    assert len(broken.problems) == 1
    assert said in broken.problems[0]
    assert broken.build is None
    assert cli.main(["trials", str(tmp_path)]) == 1
    assert said in capsys.readouterr().out
    assert cli.main(["recordings", str(tmp_path)]) == 1
    assert said in capsys.readouterr().out
