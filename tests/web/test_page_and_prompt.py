"""One question, one answer: the generator page and the prompt evaluate the same sheet, source and folder alike."""

import dataclasses
import shutil
import time
from pathlib import Path

import pytest
from fake_session import FakeSession
from prompt_json import result_of

from frothline import cli
from frothline.bench import batch_form
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.library import FolderView
from frothline.bench.run_control import RunControl
from frothline.foam.dilution import Dilution
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.room_air import RoomAir
from frothline.generator.sheet import read_sheet
from frothline.readings.table import read_table
from frothline.sweep.recorded_source import load_sweeps
from frothline.trials.notebook import Notebook

SEASON = Path(__file__).parents[2] / "recordings" / "season"
SHEET = SEASON / "builds" / "first-tube.toml"
SWEEP = "03-29-sweep-shop-motor"


class WithoutAmbient(FakeSession):
    """A rig without an ambient module: it measures pressure and flow alone."""

    def snapshot(self):
        now = super().snapshot()
        latest = {name: one for name, one in now.latest.items() if not name.startswith(("ambient", "line_temp"))}
        return dataclasses.replace(now, latest=latest)


def page_answer(folder, sheet, source, outlet=None):
    """What the page shows for a saved sheet, a recorded source and the folder's samples."""
    bench = WithoutAmbient(folder)
    desk = GeneratorWorkspace(bench)
    desk.notice(bench.snapshot())
    desk.open(sheet, leave=True)
    desk.choose("source", str(source))
    run = RunControl(bench, desk)
    run.see(FolderView("own", folder, look=1, ready=True, trials=Notebook(folder).trials))
    run.notice(bench.snapshot())
    if outlet is not None:
        desk.edit({"outlet.bore": outlet})
    end = time.monotonic() + 120.0
    while time.monotonic() < end:
        desk.notice(bench.snapshot())
        now = desk.look()
        if not now.working and now.answer is not None:
            return now.answer
        time.sleep(0.02)
    raise AssertionError("no answer within 120 s")


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    folder = tmp_path_factory.mktemp("season")
    shutil.copytree(SEASON, folder, dirs_exist_ok=True)
    return folder


def prompt_answer(capsys, *arguments):
    code = cli.main(["whatif", *map(str, arguments), "--json"])
    said = capsys.readouterr()
    assert code == 0, said.err
    return result_of(said.out)


@pytest.mark.parametrize("outlet", [None, "32x3"])
def test_page_and_prompt_give_the_same_foam_for_the_same_sheet_source_and_folder(season, capsys, outlet):
    source = season / f"{SWEEP}.froth"
    page = page_answer(season, SHEET.name, source, outlet)
    change = [] if outlet is None else ["--set", f"outlet.bore={outlet}"]
    prompt = prompt_answer(capsys, season / "builds" / SHEET.name, "--sweep", source, *change)
    shown = prompt["now" if outlet is None else "then"]
    for name in ("foam_rate", "air_rate", "hole_velocity"):
        figure = getattr(page.now, name)
        assert shown[name]["value"] == pytest.approx(figure.value, rel=1e-9)
        assert shown[name]["lower"] == pytest.approx(figure.lower, rel=1e-9)
    assert shown["pressure"]["value"] == pytest.approx(page.now.point.pressure.value, rel=1e-9)
    assert tuple(prompt["findings"]) == page.findings
    assert page.given.knowledge != FoamKnowledge.usual()  # the season has samples of this build


def test_without_samples_in_the_folder_the_assumed_share_is_printed_before_the_figures(tmp_path, capsys):
    for suffix in (".froth", ".toml"):
        shutil.copy((SEASON / SWEEP).with_suffix(suffix), tmp_path)
    assert (
        cli.main(["whatif", str(SHEET), "--sweep", str(tmp_path / f"{SWEEP}.froth"), "--set", "outlet.bore=32x3"]) == 0
    )
    lines = capsys.readouterr().out.splitlines()
    figures = next(n for n, line in enumerate(lines) if line.startswith("Now"))
    last = max(n for n, line in enumerate(lines) if line.startswith("Then"))
    cautions = [n for n, line in enumerate(lines) if line.startswith("caution")]
    before = "\n".join(lines[:figures])
    assert "the air rate changes by" in before
    assert "of the source's pressure:" in before
    assert FoamKnowledge.usual().assumptions[0] in before
    assert last < min(cautions)
    assert len(set(lines)) == len(lines)


def test_the_folder_whose_samples_are_used_can_be_named(tmp_path, season, capsys):
    for suffix in (".froth", ".toml"):
        shutil.copy((SEASON / SWEEP).with_suffix(suffix), tmp_path)
    source = tmp_path / f"{SWEEP}.froth"
    usual = prompt_answer(capsys, SHEET, "--sweep", source)["now"]["foam_rate"]["value"]
    own = prompt_answer(capsys, SHEET, "--sweep", source, "--folder", season)["now"]["foam_rate"]["value"]
    beside = prompt_answer(capsys, SHEET, "--sweep", season / f"{SWEEP}.froth")["now"]["foam_rate"]["value"]
    assert own == pytest.approx(beside, rel=1e-9)
    assert usual > 1.3 * own


def test_the_air_of_an_evaluation_is_that_of_the_recording():
    path = SEASON / f"{SWEEP}.froth"
    table = read_table(path)
    air = load_sweeps(path).air
    assert air.ambient_pressure == pytest.approx(table["ambient_pressure"].mean(), rel=1e-4)
    assert air.ambient_temperature == pytest.approx(table["ambient_temperature"].mean(), rel=1e-4)
    assert air.ambient_humidity == pytest.approx(table["ambient_humidity"].mean(), rel=1e-2)
    flows = table["standard_flow"] > 0
    assert air.line_temperature == pytest.approx(table["line_temperature"][flows].mean(), rel=1e-3)
    assert SWEEP in air.words
    assert f"{air.ambient_pressure / 1e3:.1f} kPa" in air.words


def test_free_air_of_a_mountain_workshop_is_thinner_by_the_ideal_gas_law():
    build = read_sheet(SHEET)
    dry = {"ambient_temperature": 293.15, "ambient_humidity": 0.0}
    sea, high = (
        RoomAir(ambient_pressure=p, **dry).conditions(build, FoamKnowledge.usual()).ambient for p in (101325.0, 84.5e3)
    )
    assert high.density / sea.density == pytest.approx(84.5 / 101.325, rel=1e-3)
    assert high.density == pytest.approx(84.5e3 / (287.05 * 293.15), rel=1e-3)  # dry air, R = 287.05 J/(kg K)


def test_air_that_was_not_measured_is_said_to_be_that_of_sea_level():
    assert "not measured" in RoomAir().words
    assert "101.3 kPa" in RoomAir().words
    assert RoomAir.mean([]) == RoomAir()
    two = RoomAir.mean([RoomAir(ambient_pressure=90e3, origin="in a"), RoomAir(ambient_pressure=100e3, origin="in b")])
    assert two.ambient_pressure == 95e3
    assert two.origin == "in a, in b"


def test_air_that_nobody_measured_in_the_hose_is_as_warm_as_the_source_compresses_it():
    """By hand: 14 kPa of 20 kPa at shut-off; 293.15 K ((115.325/101.325)^(2/7) - 1)/0.3 = 36.8 K over the room."""
    build = read_sheet(SHEET)
    conditions = RoomAir().conditions(build, FoamKnowledge.usual(), 14e3)
    assert conditions.line_temperature - conditions.ambient.temperature == pytest.approx(36.8, abs=0.05)
    measured = RoomAir(line_temperature=311.0).conditions(build, FoamKnowledge.usual(), 14e3)
    assert measured.line_temperature == 311.0


def test_page_and_prompt_expect_the_same_density_of_the_same_typed_foam(capsys):
    values = batch_form.START | {"foam": "75", "output": "250", "slurry": "", "cup": ""}
    page = batch_form.worked(values, None, Dilution(40, "1+N")).batch
    typed = ["--density", "600", "--volume", "200 L", "--foam-density", "75", "--foam-output", "250"]
    assert cli.main(["batch", *typed, "--json"]) == 0
    prompt = result_of(capsys.readouterr().out)
    assert prompt["cast_density"]["lower"] == pytest.approx(page.cast_density.lower, rel=1e-9)
    assert prompt["run_time"]["upper"] == pytest.approx(page.run_time.upper, rel=1e-9)
