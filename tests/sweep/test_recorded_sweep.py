"""A recorded sweep is used as what it says it is: an air source's, a dry or a wet one through a generator."""

import dataclasses
import shutil
from pathlib import Path

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench.recorder import sweep_metadata
from frothline.errors import InputError
from frothline.generator.pressure_model import from_sheet
from frothline.generator.sheet import edit_sheet, parse_sheet, starting_sheet
from frothline.recording.sidecar import write_metadata
from frothline.recording.writer import RecordingWriter
from frothline.simulation import stream
from frothline.sweep.recorded_generator import check_role, identify, read_generator_sweep, role_notes
from frothline.trials import swept_builds
from frothline.trials.notebook import Notebook
from frothline.trials.own_generators import TrialExperience, own_generators

SEASON = Path(__file__).parents[2] / "recordings" / "season"
SWEEP = SEASON / "03-29-sweep-shop-motor.froth"
RUN = SEASON / "04-05-first-tube.froth"
ROLES = ("source", "dry", "wet")


def build(**changes):
    return parse_sheet(
        edit_sheet(starting_sheet(), {k.replace("__", "."): v for k, v in changes.items()}), "sheet"
    ).build


@pytest.fixture
def beside(tmp_path):
    """Writes what stands beside a recording, and gives its path. Nobody reads the recording itself here."""

    def write(name, **metadata):
        if metadata:
            write_metadata(tmp_path / f"{name}.toml", metadata)
        return tmp_path / f"{name}.froth"

    return write


@pytest.mark.parametrize("said", ROLES)
@pytest.mark.parametrize("given", ROLES)
def test_each_kind_of_sweep_is_taken_for_itself_alone(beside, said, given):
    path = beside("one", **sweep_metadata("" if said == "source" else said, build()))
    assert identify(path).role == said
    if said == given:
        check_role([path], given)
        assert role_notes([path], given, build()) == ()
        return
    with pytest.raises(InputError) as told:
        check_role([path], given)
    assert {"source": "air source", "dry": "a dry sweep", "wet": "a wet sweep"}[said] in told.value.what
    assert "one.froth" in told.value.where
    assert "one.toml" in told.value.remedy


def test_either_sweep_through_a_generator_has_its_resistance_and_that_of_a_source_has_not(beside):
    for said in ("dry", "wet"):
        check_role([beside(said, **sweep_metadata(said))], "generator")
    with pytest.raises(InputError, match="a sweep of an air source"):
        check_role([beside("blower", kind="sweep")], "generator")


def test_a_run_is_no_sweep(beside):
    with pytest.raises(InputError, match="a run, not a sweep"):
        check_role([beside("foam", kind="run")], "wet")


@pytest.mark.parametrize(
    "metadata", [{}, {"title": "by hand"}, {"kind": "test"}, {"kind": "generator sweep"}, {"kind": ["sweep"]}]
)
@pytest.mark.parametrize("given", ["dry", "wet"])
def test_a_recording_that_does_not_say_what_it_is_is_taken_with_a_note(beside, metadata, given):
    path = beside("old", **metadata)
    check_role([path], given)
    (note,) = role_notes([path], given, build())
    assert "old.froth has no entry for" in note
    assert f"a {given} sweep" in note


def test_a_generator_sweep_without_its_state_is_still_none_of_a_source(beside):
    with pytest.raises(InputError, match="a sweep through a generator"):
        check_role([beside("old", kind="generator sweep")], "source")


def test_the_entries_that_differ_from_the_sheet_kept_with_it_are_named(beside):
    path = beside("one", **sweep_metadata("wet", build(outlet__bore="20 mm", tube__rows=5)))
    (note,) = role_notes([path], "wet", build(outlet__bore="36 mm", tube__rows=5))
    assert "20 mm then" in note
    assert "36 mm now" in note
    assert "rows" not in note
    # what the pressure does not depend on is no difference: the name, the filling, the agent
    assert (
        role_notes([path], "wet", build(name="other", outlet__bore="20 mm", tube__rows=5, reservoir__volume="9 L"))
        == ()
    )


def test_a_kept_sheet_that_cannot_be_read_is_none(beside):
    path = beside("one", kind="generator sweep", through="wet", build_sheet="a = 1\n[tube\n")
    assert identify(path).build is None
    assert role_notes([path], "wet", build()) == ()


# --- at the prompt ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def dry_sweep(tmp_path_factory):
    """A dry sweep through the simulated generator, recorded by the prompt."""
    folder = tmp_path_factory.mktemp("dry")
    sheet = folder / "tube.toml"
    assert cli.main(["build", "--new", str(sheet)]) == 0
    port = "modelled://generator-dry?seed=3&speed=10"
    options = ["--through", "dry", "--build", str(sheet), "--port", port, "--folder", str(folder)]
    assert cli.main(["record", "tube-dry", *options]) == 0
    return folder / "tube-dry.froth"


def whatif(capsys, sheet, *options):
    code = cli.main(["whatif", str(sheet), "--sweep", str(SWEEP), *map(str, options)])
    said = capsys.readouterr()
    return code, said.out + said.err


@pytest.mark.slow
def test_a_dry_sweep_given_as_wet_is_refused_at_the_prompt(capsys, dry_sweep):
    sheet = dry_sweep.with_name("tube.toml")
    code, said = whatif(capsys, sheet, "--wet", dry_sweep)
    assert code == 2
    assert "a dry sweep through a generator, but was given as a wet sweep" in said
    code, said = whatif(capsys, sheet, "--dry-sweep", dry_sweep)
    assert code == 0
    assert "has no entry for" not in said
    assert "another build" not in said


@pytest.mark.slow
def test_a_sweep_without_its_toml_is_known_by_what_it_notes_itself(capsys, dry_sweep, tmp_path):
    nameless = tmp_path / "nameless.froth"
    shutil.copy(dry_sweep, nameless)
    assert identify(nameless).role == "dry"
    sheet = dry_sweep.with_name("tube.toml")
    code, said = whatif(capsys, sheet, "--dry-sweep", nameless)
    assert code == 0
    assert "has no entry for" not in said
    code, said = whatif(capsys, sheet, "--wet", nameless)
    assert code == 2
    assert "a dry sweep through a generator, but was given as a wet sweep" in said


@pytest.fixture
def bare_stream(tmp_path):
    """A recording of bytes alone: nobody noted anything, and no TOML is beside it."""

    def write(url, seconds):
        writer = RecordingWriter.create(tmp_path, "bare", background=False)
        writer.write(stream(url, seconds)[0])
        writer.close()
        return writer.path

    return write


@pytest.mark.exhaustive
@pytest.mark.slow
def test_a_sweep_that_says_nothing_at_all_is_used_and_the_answer_begins_with_a_note(capsys, bare_stream, dry_sweep):
    path = bare_stream("modelled://generator-dry?seed=3", 200.0)
    assert identify(path).role == ""
    code = cli.main(["whatif", str(dry_sweep.with_name("tube.toml")), "--sweep", str(SWEEP), "--dry-sweep", str(path)])
    said = capsys.readouterr().out
    assert code == 0
    assert said.startswith("bare.froth has no entry for its kind; it is used as a dry sweep")


@pytest.mark.exhaustive
def test_a_source_s_sweep_that_says_nothing_is_refused_as_a_generator_s_by_its_falling_pressure(capsys, bare_stream):
    path = bare_stream("modelled://sweep?seed=5", 120.0)
    for role in ("dry", "wet", "generator"):
        with pytest.raises(InputError, match="its pressure falls as its flow grows"):
            read_generator_sweep([path], role)


@pytest.mark.slow
def test_a_sweep_of_another_build_is_reported_at_the_prompt(capsys, dry_sweep, tmp_path):
    sheet = tmp_path / "wider.toml"
    sheet.write_text(edit_sheet(dry_sweep.with_name("tube.toml").read_text("utf-8"), {"outlet.bore": "44 mm"}), "utf-8")
    code, said = whatif(capsys, sheet, "--dry-sweep", dry_sweep)
    assert code == 0
    assert "tube-dry.froth was swept through another build" in said
    assert "outlet bore" in said


@pytest.mark.parametrize("options", [("--wet", SWEEP), ("--dry-sweep", SWEEP), ("--other", RUN), ("--wet", RUN)])
def test_what_is_no_sweep_through_the_generator_is_refused_at_the_prompt(capsys, tmp_path, options):
    sheet = tmp_path / "tube.toml"
    sheet.write_text(starting_sheet(), "utf-8")
    code, said = whatif(capsys, sheet, *options)
    assert code == 2
    assert "was given as" in said


def test_a_resistance_is_not_taken_from_a_source_s_own_sweep(capsys):
    assert cli.main(["compare", str(SWEEP), "--through", str(SWEEP)]) == 2
    assert "was given as a sweep through a generator" in capsys.readouterr().err


@pytest.mark.slow
def test_a_measured_resistance_is_shown_with_form_chi_squared_and_power_law(capsys, dry_sweep):
    assert cli.main(["compare", str(SWEEP), "--through", str(dry_sweep)]) in {0, 1}
    said = capsys.readouterr().out
    (shown,) = [line for line in said.splitlines() if line.startswith("generator: p = ")]
    assert "chi² " in shown
    assert "degrees of freedom" in shown
    assert "power law p = k Qⁿ, Q in L/s: k = " in said
    cli.main(["compare", str(SWEEP), "--through", str(dry_sweep), "--json"])
    data = result_of(capsys.readouterr().out)["resistance"]
    assert data["form"] in shown
    # a dry packing with holes and an outlet: between laminar and square
    assert 1.0 <= data["power_law"]["n"]["value"] <= 2.1
    assert data["power_law"]["k"]["lower"] > 0


@pytest.mark.slow
def test_a_sweep_through_a_generator_is_kept_with_its_build_and_read_once(dry_sweep, tmp_path, monkeypatch):
    """The same points from the folder's own file as from the recording; a broken or old file costs one reading."""
    for suffix in (".froth", ".toml"):
        shutil.copy(dry_sweep.with_suffix(suffix), tmp_path)
    notebook = Notebook(tmp_path)
    (swept,) = notebook.swept_builds()
    assert (swept.wet, swept.simulated, swept.build.name) == (False, True, identify(dry_sweep).build.name)
    read = swept_builds.read_generator_sweep([tmp_path / "tube-dry.froth"], "dry")
    assert [(one.flow, one.u_pressure, one.common) for one in swept.points] == [
        (one.flow, one.u_pressure, one.common) for one in read
    ]
    count = []
    monkeypatch.setattr(swept_builds, "read_generator_sweep", lambda *_, **__: count.append(1) or read)
    assert repr(notebook.swept_builds()) == repr((swept,))
    assert not count
    for broken in ("{", '{"version": 1, "sweeps": {"tube-dry.froth": [0]}}', '{"version": 0, "sweeps": {}}', "[]"):
        (tmp_path / swept_builds.CACHE).write_text(broken)
        assert repr(notebook.swept_builds()) == repr((swept,))
    assert len(count) == 4
    with (tmp_path / "tube-dry.froth").open("ab") as file:
        file.write(b"\0")  # the recording has grown
    assert notebook.swept_builds()
    assert len(count) == 5


@pytest.mark.slow
def test_a_wet_sweep_of_a_folder_teaches_about_another_build_and_its_runs_are_not_counted_beside_it(dry_sweep):
    """The sweep of one generator as wet and as dry; a run of the same generator has its pressure and flow in it."""
    points = swept_builds.read_generator_sweep([dry_sweep], "dry")
    own = identify(dry_sweep).build
    wet, dry = (swept_builds.SweptBuild(own, state, points, simulated=True) for state in (True, False))
    (found,) = own_generators([], [wet, dry]).measured
    assert len(found.wet) == len(found.dry) == len(points)
    assert found.conditions.ambient.density == pytest.approx(points[0].ambient_density, rel=0.02)
    real = dataclasses.replace(wet, simulated=False)
    assert own_generators([], [real, dry]).measured[0].dry == ()
    other = own.with_entry("packing.length", 0.6 * own.packing.length)
    experience = TrialExperience([], lambda: [wet])
    assert from_sheet(other, found.conditions, experience).learned.builds == 1
    assert from_sheet(other, found.conditions, experience.without(own)).learned is None
