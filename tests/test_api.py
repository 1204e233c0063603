"""``import frothline as fl``: each name, what it takes, what it gives, and that page and prompt give the same."""

import inspect
import math
import pickle
import re
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from prompt_json import result_of

import frothline as fl
from frothline import api_page, cli
from frothline.bench.session import Session
from frothline.curve.blower import BlowerCurve
from frothline.curve.resistance_fit import fit_resistance
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError, InputError, MissingPackage, UnitMismatch
from frothline.estimate import Estimate
from frothline.presentable import (
    Observations,
    Picture,
    PictureAxis,
    PictureLine,
    PicturePoints,
    Plottable,
    PresentedFigure,
)
from frothline.readings.table import read_table
from frothline.recording.writer import RecordingWriter
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.simulation import stream
from frothline.sweep.generator_resistance import GeneratorResistance
from frothline.sweep.recorded_source import load_sweeps
from frothline.units import METRIC

ROOT = Path(__file__).parents[1]
SEASON = ROOT / "recordings" / "season"
SWEEP, OTHER = SEASON / "03-29-sweep-shop-motor.froth", SEASON / "03-29-sweep-garden-blower.froth"
RUN = SEASON / "04-05-first-tube.froth"
SHEET = SEASON / "builds" / "first-tube.toml"
NAMES = [
    "Estimate",
    "add_cube",
    "add_cubes",
    "add_note",
    "add_settlement",
    "agents",
    "batch",
    "bubbles",
    "build",
    "connect",
    "correct_cube",
    "correct_jar",
    "correct_pour",
    "correct_sample",
    "drainage",
    "errors",
    "fit_resistance",
    "fit_source",
    "jar",
    "keep_cup",
    "library",
    "make_card",
    "make_pours_report",
    "make_report",
    "new_agent",
    "new_build",
    "new_pour_plan",
    "note_photo",
    "notebook",
    "overview",
    "own_build",
    "plan_build",
    "pool_sources",
    "pour_plan",
    "predict",
    "read",
    "record_jar",
    "record_pour",
    "remove_cube",
    "restore_sample",
    "save_build",
    "save_generator",
    "save_source",
    "settle_jar",
    "tables",
    "undo_plan",
    "units",
    "unplan_build",
    "verify",
    "what_if",
    "withdraw_sample",
]
HOSTILE = "<script>alert('x')</script>"


@pytest.fixture(scope="module")
def curve():
    return fl.fit_source(SWEEP)


@pytest.fixture(scope="module")
def other():
    return fl.fit_source(str(OTHER))


@pytest.fixture(scope="module")
def notebook(tmp_path_factory):
    folder = tmp_path_factory.mktemp("season") / "season"
    shutil.copytree(SEASON, folder)
    return fl.notebook(folder)


@pytest.fixture(scope="module")
def narrower(curve):
    return fl.what_if(SHEET, curve, {"outlet.bore": "26 mm"})


def steep(name="resistance"):
    """Points of p = 2e5 q + 3e6 q², by hand, each known to 1 %."""
    flows = np.array([0.002, 0.005, 0.01, 0.015, 0.02, 0.03])
    points = [
        SteadyPoint(0.0, 5.0, float(2e5 * q + 3e6 * q**2), float(20.0 + 0.01 * 2e5 * q), float(q), 1e-5, n=100)
        for q in flows
    ]
    return GeneratorResistance(fit_resistance(points), (Path(f"{name}.froth"),))


@pytest.fixture(scope="module")
def fresh_season(tmp_path_factory):
    """The season where no trial was read before."""
    folder = tmp_path_factory.mktemp("fresh") / "season"
    shutil.copytree(SEASON, folder, ignore=shutil.ignore_patterns(".frothline-*"))
    return folder


# --- names --------------------------------------------------------------------------------------------------------------


def test_importing_the_package_alone_loads_nothing_heavy():
    code = (
        "import sys, frothline; dir(frothline); frothline.__version__\n"
        "print(*sorted({'numpy', 'pandas', 'scipy', 'plotly', 'dash', 'serial', 'tomlkit'} & set(sys.modules)))\n"
        "frothline.Estimate; frothline.units; frothline.errors\n"
        "print(*sorted({'numpy', 'pandas', 'scipy', 'plotly', 'dash', 'serial', 'tomlkit'} & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.split() == []


def test_dir_shows_every_name_and_each_leads_somewhere():
    assert set(NAMES) <= set(dir(fl))
    assert sorted(fl.__all__) == sorted(NAMES)
    for name in NAMES:
        assert getattr(fl, name).__doc__, f"{name} has no docstring"
    with pytest.raises(AttributeError, match="no attribute 'fit'"):
        fl.fit  # noqa: B018


def test_names_for_type_checkers_are_those_that_are_loaded():
    """The block for type checkers imports exactly the public names: else an editor shows another list."""
    text = inspect.getsource(fl)
    block = text[text.index("if TYPE_CHECKING:") : text.index("__version__ =")]
    shown = set(re.findall(r"\w+", re.sub(r"from [\w.]+ import", "", block)))
    assert shown - {"if", "TYPE_CHECKING"} == set(NAMES)


def test_an_editor_sees_a_signature_for_every_function():
    for name in NAMES:
        if inspect.isfunction(getattr(fl, name)):
            signature = inspect.signature(getattr(fl, name))
            assert signature.return_annotation is not inspect.Parameter.empty
            assert all(p.annotation is not p.empty for p in signature.parameters.values()), name


# --- paths, calibration -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [str, Path])
def test_every_function_takes_a_path_as_text_or_as_path(kind, tmp_path, curve):
    assert len(fl.read(kind(SWEEP))) == len(fl.read(SWEEP))
    assert fl.fit_source(kind(SWEEP)).recordings == (SWEEP,)
    assert fl.build(kind(SHEET)).name == "first tube"
    assert fl.predict(kind(SHEET), curve, folder=kind(SEASON)).now.pressure.known
    assert fl.what_if(kind(SHEET), [kind(SWEEP)], {"outlet.bore": "26 mm"}, folder=kind(SEASON)).change
    assert fl.notebook(kind(SEASON)).folder == SEASON
    assert fl.verify(kind(SWEEP)).whole
    with fl.connect("modelled://steady", folder=kind(tmp_path)) as rig:
        assert rig.folder == tmp_path


def test_several_recordings_are_one_table_and_one_curve():
    both = fl.read([SWEEP, str(OTHER)])
    assert list(both["recording"].unique()) == [SWEEP.stem, OTHER.stem]
    with pytest.raises(InputError, match="given twice"):
        fl.fit_source(SWEEP, str(SWEEP))
    with pytest.raises(InputError, match="no recording is given"):
        fl.fit_source()


def steeper(factor):
    """``factor`` times the data sheet's pressure: NXP MPX5050 rev 11, P = (ratio - 0.04) / 0.018 kPa."""
    line = ChannelCalibration(
        channel="pressure",
        input="ratio",
        unit="Pa",
        coefficients=np.array([-0.04, 1.0]) / 0.018 * 1e3 * factor,
        covariance=np.diag([1.0, 1.0]),
        low=0.0,
        high=1.0,
        board="",
    )
    return Calibration("", {"pressure": line})


def test_auto_takes_the_calibration_that_page_and_prompt_take(tmp_path, capsys, curve):
    shutil.copy(SWEEP, tmp_path)
    path = tmp_path / SWEEP.name
    save_calibration(tmp_path / "calibration.toml", steeper(1.5))
    auto = fl.fit_source(path)
    assert auto.shut_off.value == pytest.approx(1.5 * curve.shut_off.value, rel=0.02)
    assert cli.main(["curve", str(path), "--json"]) == 0
    prompt = result_of(capsys.readouterr().out)
    assert prompt["shut_off"]["value"] == pytest.approx(auto.shut_off.value, rel=1e-12)
    assert load_sweeps([path]).points == auto.sweeps.points  # what the page calls
    assert fl.fit_source(path, calibration=None).shut_off == curve.shut_off
    named = fl.read(path, str(tmp_path / "calibration.toml"), columns=["line_pressure"])
    assert named["line_pressure"].equals(fl.read(path)["line_pressure"])
    assert fl.read(path)["line_pressure"].equals(read_table(path)["line_pressure"])
    assert not fl.read(path)["line_pressure"].equals(fl.read(path, None)["line_pressure"])
    assert fl.predict(SHEET, path).now.pressure == fl.predict(SHEET, auto).now.pressure


def test_a_change_is_evaluated_as_the_prompt_evaluates_it(capsys, narrower):
    assert cli.main(["whatif", str(SHEET), "--sweep", str(SWEEP), "--set", "outlet.bore=26 mm", "--json"]) == 0
    prompt = result_of(capsys.readouterr().out)
    for name in ("value", "lower", "upper"):
        assert prompt["flow_change"][name] == pytest.approx(getattr(narrower.change.flow_change, name), rel=1e-9)
        assert prompt["then"]["pressure"][name] == pytest.approx(getattr(narrower.now.pressure, name), rel=1e-9)


def test_entries_that_go_along_do_so_as_at_the_prompt(curve, capsys):
    changes = {"packing.length": "400 mm"}
    found = fl.what_if(SHEET, curve, **changes)
    alone = fl.what_if(SHEET, curve, changes, alone=True)
    assert "packing.mass" in found.changed
    assert "packing.mass" not in alone.changed
    assert cli.main(["whatif", str(SHEET), "--sweep", str(SWEEP), "--set", "packing.length=400 mm", "--json"]) == 0
    prompt = result_of(capsys.readouterr().out)
    assert prompt["then"]["pressure"]["value"] == pytest.approx(found.now.pressure.value, rel=1e-9)


@pytest.mark.exhaustive
def test_another_air_source_is_a_change_too(curve, other):
    found = fl.what_if(SHEET, curve, new_curve=other)
    assert found.change is not None
    assert found.changed == ()
    assert found.now.pressure.value != found.built.pressure.value


def test_a_batch_is_the_batch_of_the_prompt(notebook, capsys):
    trial = notebook.trial("04-12-long-packing")
    mixed = fl.batch("600 kg/m3", "120 L", trial, notebook=notebook)
    options = ["--density", "600", "--volume", "120 L", "--folder", str(notebook.folder), "--trial", trial.name]
    assert cli.main(["batch", *options, "--json"]) == 0
    prompt = result_of(capsys.readouterr().out)
    assert prompt["cast_density"]["upper"] == pytest.approx(mixed.cast_density.upper, rel=1e-12)
    assert (
        fl.batch(600, 0.12, trial, bag=25, bucket=0.01).cast_density == mixed.cast_density
    )  # the folder's own trials, numbers in SI
    typed = fl.batch("600 kg/m3", "120 L", "60 kg/m3", output="30 L/min", dilution="1+30")
    assert typed.foam.density.value == 60.0
    assert typed.foam.output.value == pytest.approx(30.0 / 6e4)
    assert (typed.foam.agent_parts, typed.foam.convention) == (30.0, "1+N")
    given = fl.batch("600 kg/m3", "120 L", Estimate.normal(60.0, 2.0, "kg/m3"))
    assert given.foam.density.standard_uncertainty == 2.0
    assert given.run_time is None


def test_numbers_of_a_change_are_si_and_text_is_as_in_a_sheet(curve, narrower):
    numbers = fl.what_if(SHEET, curve, {"outlet.bore": 0.026})
    assert numbers.now.pressure == narrower.now.pressure
    assert fl.what_if(SHEET, curve, {"tube.rows": 3}).given.wanted.tube.rows == 3
    with pytest.raises(InputError, match="outside"):
        fl.what_if(SHEET, curve, {"outlet.bore": 26})  # metres


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: fl.read("no such.froth"),
        lambda: fl.build("no such.toml"),
        lambda: fl.verify("no such.froth"),
        lambda: fl.notebook("no such folder"),
        lambda: fl.fit_source(RUN, holes=[0.01, 0.02]),
        lambda: fl.fit_resistance(SWEEP),
        lambda: fl.what_if(SHEET, SWEEP, {"outlet.boar": "3 mm"}),
        lambda: fl.what_if(SHEET, SWEEP, {"outlet.bore": "3 furlongs"}),
        lambda: fl.what_if(SHEET, SWEEP, {"tube.rows": 0}),
        lambda: fl.predict(SHEET, []),
        lambda: fl.batch("600 kg/m3", "120 L", "60 furlongs"),
        lambda: fl.batch("600 kg/m3", "-3 L", "60 kg/m3"),
        lambda: fl.batch("600 kg/m3", "120 L", "60 kg/m3", dilution="1:30"),
        lambda: fl.tables.read("no such.csv"),
    ],
)
def test_what_is_wrong_is_refused_in_the_projects_own_errors(wrong):
    with pytest.raises(FrothlineError) as refused:
        wrong()
    assert refused.value.what


def test_the_error_of_a_misspelt_entry_names_the_right_one(curve):
    with pytest.raises(InputError) as refused:
        fl.what_if(SHEET, curve, {"outlet.boar": "3 mm"})
    assert "outlet.bore" in refused.value.remedy


# --- how results show themselves -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def results(curve, notebook, narrower):
    return {
        "curve": curve,
        "resistance": steep(),
        "build": fl.build(SHEET),
        "prediction": fl.predict(SHEET, curve),
        "values": narrower.now,
        "what_if": narrower,
        "notebook": notebook,
        "comparison": notebook.compare("04-05-first-tube", "04-12-long-packing"),
        "effects": notebook.which_helped("drainage"),
        "batch": fl.batch("600 kg/m3", "120 L", notebook.trials[0], notebook=notebook),
        "check": fl.verify(SWEEP),
    }


ALL = [
    "curve",
    "resistance",
    "build",
    "prediction",
    "values",
    "what_if",
    "notebook",
    "comparison",
    "effects",
    "batch",
    "check",
]
PLOTTED = ["curve", "resistance", "prediction", "what_if", "notebook", "comparison", "effects", "batch"]


@pytest.mark.parametrize("name", ALL)
def test_a_result_has_one_short_line_and_a_rich_text(results, name):
    one = results[name]
    line = repr(one)
    assert line.startswith(f"<{type(one).__name__} ")
    assert "\n" not in line
    assert len(line) < 260
    assert one._repr_html_().startswith("<")


def test_the_line_of_a_notebook_reads_no_recording(fresh_season, monkeypatch):
    fresh = fl.notebook(fresh_season)
    monkeypatch.setattr("frothline.trials.measurements.measure", lambda *_: pytest.fail("a recording was read"))
    assert repr(fresh).endswith("season: 10 runs>")


def test_a_session_that_was_never_started_has_a_line_and_nothing_to_draw(tmp_path):
    idle = Session("modelled://steady", tmp_path, own_process=False)
    assert repr(idle).startswith("<Session rig")
    assert len(idle.table()) == 1
    with pytest.raises(InputError, match="nothing to draw"):
        idle.plot()
    idle.close()


@pytest.mark.parametrize("name", ["curve", "resistance", "build", "what_if", "batch", "check"])
def test_a_result_can_be_pickled_and_is_the_same(results, name):
    back = pickle.loads(pickle.dumps(results[name]))
    assert repr(back) == repr(results[name])
    pd.testing.assert_frame_equal(back.table(), results[name].table())


def test_a_trial_has_one_short_line(notebook):
    assert repr(notebook.trials[0]) == (
        f"<Trial 04-05-first-tube: first tube on shop motor, density {notebook.trials[0].density.to('kg/m³')}>"
    )


@pytest.mark.parametrize("name", ALL)
def test_a_table_has_rows_and_a_unit_for_every_column(results, name):
    table = results[name].table()
    assert len(table) >= 1
    assert list(table.attrs["units"]) == list(table.columns)
    for column, unit in table.attrs["units"].items():
        if column.startswith(("u_", "lower_", "upper_")) and column.partition("_")[2] in table:
            assert unit == table.attrs["units"][column.partition("_")[2]]


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("suffix", [".parquet", ".csv"])
def test_units_survive_the_disk(results, name, suffix, tmp_path):
    table = results[name].table()
    back = fl.tables.read(fl.tables.write(table, tmp_path / f"one{suffix}"))
    assert back.attrs["units"] == table.attrs["units"]
    assert list(back.columns) == list(table.columns)
    assert len(back) == len(table)
    numbers = table.select_dtypes("float").columns
    assert np.allclose(back[numbers].astype(float), table[numbers], rtol=1e-8, equal_nan=True)


@pytest.mark.parametrize("name", PLOTTED)
def test_a_picture_has_traces_with_numbers_and_titled_axes(results, name):
    figure = results[name].plot()
    assert len(figure.data) >= 1
    for trace in figure.data:
        assert len(trace.x) == len(trace.y) >= 1
    assert figure.layout.xaxis.title.text
    assert figure.layout.yaxis.title.text


def test_a_curve_is_drawn_in_the_units_of_its_axes_with_its_points(curve):
    band, line, points = curve.plot().data
    assert line.y[0] == pytest.approx(curve.shut_off.value / 1e3, rel=1e-6)  # kPa
    assert max(line.x) == pytest.approx(curve.free_delivery.value * 1e3, rel=1e-6)  # L/s
    assert len(points.x) == len(curve.fit.points)
    first = curve.fit.points[0]
    assert points.error_y.array[0] == pytest.approx(1.959964 * first.u_pressure / 1e3, rel=1e-6)
    assert max(band.y) > max(line.y)


def test_a_resistance_gives_back_the_line_that_its_points_were_made_of():
    """p = 2e5 q + 3e6 q², by hand."""
    found = steep()
    assert float(found.fit.line.pressure(0.02)[0]) == pytest.approx(2e5 * 0.02 + 3e6 * 0.02**2, rel=1e-6)
    table = found.table()
    assert table["used"].all()
    assert table["pressure"].iloc[2] == pytest.approx(2e5 * 0.01 + 3e6 * 0.01**2)
    assert "a = " not in repr(found)
    assert "<td>a</td>" in found._repr_html_()


@pytest.mark.exhaustive
@pytest.mark.slow
def test_a_resistance_is_read_from_a_recorded_sweep_through_a_generator(tmp_path):
    writer = RecordingWriter.create(tmp_path, "tube", background=False)
    writer.write(stream("modelled://generator-dry?seed=3", 200.0)[0])
    writer.close()
    found = fl.fit_resistance(str(writer.path))
    assert found.fit.line.b > 0.0
    assert len(found.table()) >= 4
    assert "has no entry for" in found._repr_html_()  # no TOML says what it is


def test_the_table_of_a_change_has_both_states(narrower):
    table = narrower.table()
    assert list(table["state"]) == ["as built", "changed"]
    assert table["pressure"].iloc[1] == narrower.now.pressure.value
    assert table["lower_air_rate"].iloc[0] == narrower.built.air_rate.lower
    assert table.attrs["units"]["air_rate"] == "m3/s"


def test_a_figure_that_is_not_known_has_its_reason_in_table_and_text(curve):
    found = fl.predict(SHEET, curve)
    assert found.now.air_to_solution is None
    assert math.isnan(found.table()["air_to_solution"].iloc[0])
    assert "solution flow is not known" in found.table().attrs["unknown"]["air_to_solution"]
    assert "solution flow is not known" in found._repr_html_()


def test_no_operating_point_is_a_result_with_its_reason(curve):
    """By hand: 20 mm of liquid are 196 Pa of head; the source gives 150 Pa."""
    flows = np.linspace(0.005, 0.045, 9)
    points = [
        SteadyPoint(0.0, 5.0, float(150.0 * (1 - (q / 0.05) ** 2)), 0.3, float(q), 1e-5, n=100, source=0) for q in flows
    ]
    weak = replace(curve, fit=BlowerCurve().fit(points))
    blocked = fl.what_if(SHEET, weak, {"tube.depth": "20 mm", "tube.under_liquid": 40})
    assert "no operating point" in repr(blocked)
    assert "the source is too weak" in blocked.table().attrs["unknown"]["pressure"]
    assert not blocked.table()["meets"].iloc[-1]
    assert "the source is too weak" in blocked._repr_html_()
    assert len(blocked.plot().data) >= 2


def test_the_rich_text_has_intervals_and_nothing_of_a_name_as_markup(curve, notebook, tmp_path):
    hostile = tmp_path / "hostile.toml"
    text = SHEET.read_text("utf-8")
    hostile.write_text(re.sub(r"^name = .*$", f'name = "{HOSTILE}"', text, count=1, flags=re.MULTILINE), "utf-8")
    build = fl.build(hostile)
    assert build.name == HOSTILE
    found = fl.what_if(build, curve, {"outlet.bore": "26 mm"})
    sample = shutil.copy(SWEEP, tmp_path / "<b onload=x>.froth")
    for one in (build, found, found.now, fl.verify(sample), fl.fit_source(sample), steep(HOSTILE)):
        html = one._repr_html_()
        assert "<script" not in html
        assert "<b onload" not in html
        if isinstance(one, Plottable):
            assert "<script" not in str(one.plot().to_dict())
    assert re.search(r"\d to \d", found._repr_html_())


class _Shown(Plottable):
    def _title(self):
        return HOSTILE + "\nsecond line " + "x" * 500

    def _figures(self):
        known = Estimate(12.345, 0.25, 11.9, 12.87, "Pa", assumptions=(HOSTILE,))
        pa = METRIC["pressure"]
        return (PresentedFigure(HOSTILE, known, pa), PresentedFigure("other", None, pa, HOSTILE))

    def _facts(self):
        return ((HOSTILE, HOSTILE),)

    def _words(self):
        return (HOSTILE,)

    def _observations(self):
        return Observations(({"a": 1.0},), {"a": "Pa"}, {"a": HOSTILE})

    def _picture(self):
        points = PicturePoints(HOSTILE, [HOSTILE], [1.0], y_ends=([math.nan], [math.inf]))
        line = PictureLine(HOSTILE, [0.0, 1.0], [0.0, 1.0])
        return Picture(HOSTILE, PictureAxis(HOSTILE), PictureAxis(HOSTILE, METRIC["pressure"]), (points, line))


def test_every_part_of_a_rich_text_and_of_a_picture_is_escaped():
    shown = _Shown()
    assert "<script" not in shown._repr_html_()
    assert shown._repr_html_().count("&lt;script&gt;") == 6
    assert "\n" not in repr(shown)
    assert len(repr(shown)) < 200
    figure = shown.plot()
    assert "<script" not in str(figure.to_dict())
    assert list(figure.data[0].error_y.array) == [0.0]  # an open end has no bar


def test_a_picture_without_content_says_so(notebook):
    with pytest.raises(InputError, match="nothing to draw"):
        fl.notebook(SEASON / "builds").plot()
    with pytest.raises(InputError, match="not a figure of a trial"):
        notebook.plot("colour")


def test_a_live_session_shows_its_newest_readings(tmp_path):
    with fl.connect("modelled://steady", folder=tmp_path) as rig:
        assert rig.catch_up(20.0)
        for _ in range(200):
            latest = rig.snapshot().latest
            if "scale_mass" in latest and all(latest[name].known for name in ("line_pressure", "standard_flow")):
                break
            time.sleep(0.1)
        table = rig.table()
        assert table["line_pressure"].iloc[0] > 0.0
        assert table.attrs["units"]["line_pressure"] == "Pa"
        assert table.attrs["unknown"]["scale_mass"]
        assert "simulated" in repr(rig)
        assert "Line pressure" in rig._repr_html_()
        assert rig.plot().data[-1].name == "Now"
    assert rig.snapshot().link.state == "closed"


def test_a_rig_that_is_not_there_is_an_error_and_leaves_nothing_open(tmp_path):
    with pytest.raises(FrothlineError):
        fl.connect(str(tmp_path / "no-port"), folder=tmp_path)


# --- tables ---------------------------------------------------------------------------------------------------------------


def frame(units, **columns):
    made = pd.DataFrame(columns)
    made.attrs = {"units": units, "simulated": True}
    return made


def test_a_recordings_table_keeps_all_of_its_attrs_through_parquet(tmp_path):
    table = fl.read(SWEEP)
    back = fl.tables.read(fl.tables.write(table, tmp_path / "one.parquet"))
    assert back.attrs == table.attrs
    pd.testing.assert_frame_equal(back, table)


def test_a_recordings_table_keeps_units_identity_and_marks_through_csv(tmp_path):
    table = fl.read(RUN)
    back = fl.tables.read(fl.tables.write(table, tmp_path / "one.csv"))
    assert back.attrs["units"] == table.attrs["units"]
    assert back.attrs["sha256"] == table.attrs["sha256"]
    assert len(back.attrs["marks"]) == len(table.attrs["marks"])
    assert list(back["gap"]) == list(table["gap"])


def test_a_table_that_the_prompt_wrote_is_read_back(tmp_path, capsys):
    assert cli.main(["table", str(SWEEP), "--output", str(tmp_path / "one.csv")]) == 0
    back = fl.tables.read(tmp_path / "one.csv")
    assert back.attrs["units"] == fl.read(SWEEP).attrs["units"]


def test_a_value_with_a_hash_and_text_of_several_lines_survive(tmp_path):
    made = frame({"name": "", "x": "Pa"}, name=["# no comment", "two\nlines, and a comma"], x=[1.0, 2.0])
    for suffix in (".csv", ".parquet"):
        back = fl.tables.read(fl.tables.write(made, tmp_path / f"one{suffix}"))
        assert list(back["name"]) == list(made["name"])


def test_joined_tables_keep_their_units_and_name_their_rows(curve, other):
    one, two = curve.table(), other.table()
    both = fl.tables.concat({"motor": one, "blower": two})
    assert both.attrs["units"] == {"table": "", **one.attrs["units"]}
    assert list(both["table"].unique()) == ["motor", "blower"]
    assert len(both) == len(one) + len(two)
    assert one.attrs["units"]  # the tables that were joined keep theirs
    assert "table" not in one
    plain = fl.tables.concat([one, two])
    assert "table" not in plain
    assert list(plain.index) == list(range(len(both)))


def test_joined_tables_keep_what_is_common_and_list_what_is_not():
    one, other = frame({"x": "Pa"}, x=[1.0]), frame({"x": "Pa"}, x=[2.0])
    other.attrs["started"] = "2025-04-12"
    both = fl.tables.concat([one, other])
    assert both.attrs["simulated"] is True
    assert both.attrs["tables"] == [{}, {"started": "2025-04-12"}]


def test_tables_in_different_units_are_not_joined():
    with pytest.raises(UnitMismatch) as refused:
        fl.tables.concat({"one": frame({"x": "Pa"}, x=[1.0]), "other": frame({"x": "kPa"}, x=[2.0])})
    assert "x is in Pa and in kPa" in refused.value.what
    assert "other" in refused.value.where
    fl.tables.concat([frame({"x": "m3/s"}, x=[1.0]), frame({"x": "m³/s"}, x=[2.0])])  # one unit in two spellings
    with pytest.raises(UnitMismatch):
        fl.tables.concat([frame({"x": ""}, x=[1.0]), frame({"x": "Pa"}, x=[2.0])])


def test_a_table_without_units_is_not_joined():
    with pytest.raises(InputError, match="no units"):
        fl.tables.concat([frame({"x": "Pa"}, x=[1.0]), pd.DataFrame({"x": [2.0]})])
    with pytest.raises(InputError, match="no table"):
        fl.tables.concat([])


@pytest.mark.parametrize("name", ["one.csv", "one.parquet", "one.xlsx"])
def test_a_file_that_is_not_such_a_table_is_refused(tmp_path, name):
    (tmp_path / name).write_bytes(b"a,b\n1,2\n\xff\xfe")
    with pytest.raises(InputError) as refused:
        fl.tables.read(tmp_path / name)
    assert name in refused.value.where
    assert refused.value.remedy


def test_a_parquet_file_of_another_program_is_refused(tmp_path):
    pd.DataFrame({"x": [1.0]}).to_parquet(tmp_path / "other.parquet")
    with pytest.raises(InputError, match="not a table with units"):
        fl.tables.read(tmp_path / "other.parquet")


def test_parquet_without_its_package_is_an_error_that_names_it(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(MissingPackage) as refused:
        fl.tables.read(tmp_path / "one.parquet")
    assert "frothline[parquet]" in refused.value.remedy


# --- the pages ------------------------------------------------------------------------------------------------------------


def test_the_api_page_is_made_from_the_docstrings_of_today():
    """``python -m frothline.api_page host/API.md`` makes it."""
    assert (ROOT / "host" / "API.md").read_text("utf-8") == api_page.page()


def test_the_api_page_names_every_public_name_and_every_result(results):
    page = api_page.page()
    for name in NAMES:
        assert f"fl.{name}" in page
    shown = {kind for kind, _ in api_page.RESULTS}
    assert {type(one) for one in results.values()} <= shown
    assert "/home" not in page
    assert " at 0x" not in page


def cells():
    """Code cells of the tutorial, each with its number of the first line."""
    text = (ROOT / "recordings" / "tutorial.py").read_text("utf-8")
    parts = re.split(r"^# %%(.*)$", text, flags=re.MULTILINE)
    assert not parts[0].strip()
    return [body for head, body in zip(parts[1::2], parts[2::2], strict=True) if not head.strip()]


def test_the_tutorial_has_ten_cells_and_each_runs_and_gives_what_it_says(capsys):
    found = cells()
    assert len(found) == 10
    names = {"__file__": str(ROOT / "recordings" / "tutorial.py"), "__name__": "tutorial"}
    printed = []
    for number, cell in enumerate(found, 1):
        exec(compile(cell, f"tutorial cell {number}", "exec"), names)
        printed.append(capsys.readouterr().out)
        assert printed[-1].strip(), f"cell {number} shows nothing"
    with_interval = re.compile(r"\d [a-zA-Z³₂/]+ \(−?[\d.]+ to −?[\d.]+, 95 %\)")
    for number in (2, 4, 5, 6, 9):
        assert with_interval.search(printed[number - 1]), f"cell {number} has no figure with its interval"
    assert names["sweep"].shape[1] > 10
    assert names["motor"].shut_off.value > 1e3
    assert len(names["picture"].data) == 3
    assert set(names["points"]["table"]) == {"motor", "blower"}
    assert names["narrower"].change.flow_change.upper < 0.0  # a narrower outlet takes air away
    assert len(names["notebook"].trials) == 10
    assert len(names["effects"].table()) == len(names["effects"].report.effects) > 0
    assert names["batch"].cast_density.lower < 600.0 < names["batch"].cast_density.upper
    assert names["restored"].attrs["units"]["flow"] == "m3/s"


@pytest.mark.exhaustive
def test_the_tutorial_runs_as_a_script():
    path = ROOT / "recordings" / "tutorial.py"
    said = subprocess.run([sys.executable, str(path)], capture_output=True, text=True, check=True)
    assert "rows, flow in m3/s" in said.stdout
