"""The generator's page without a browser: what is typed, what is wrong with it, what it would do, how it is drawn."""

import dataclasses
import shutil
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fake_session import FREE_DELIVERY, SHUT_OFF, FakeSession, state_of_run

from frothline.bench.chosen_sweeps import LIVE_SOURCE
from frothline.bench.generator_files import save_generator_file
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.recorder import sweep_metadata
from frothline.bench.source_files import generator_entries
from frothline.bench.sweep_control import SweepControl
from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.evaluation import EvaluationInput, evaluate
from frothline.generator.foam_prior import FoamKnowledge
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.generator.room_air import RoomAir
from frothline.generator.sheet import parse_sheet, read_sheet, simulated_sheet, starting_sheet
from frothline.recording.sidecar import write_metadata
from frothline.recording.writer import RecordingWriter
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.source_library.collection import read_library
from frothline.sweep import generator_guide as through_guide
from frothline.sweep import source_guide
from frothline.sweep.generator_file import read_generator
from frothline.sweep.recorded_generator import role_notes
from frothline.sweep.recorded_source import load_sweeps
from frothline.web.elements import words_of
from frothline.web.feed import Feed
from frothline.web.pages.generator import chart as generator_chart
from frothline.web.pages.generator import form as generator_form
from frothline.web.pages.generator import labels
from frothline.web.pages.generator import results as generator_results
from frothline.web.pages.sweep import labels as sweep_labels
from frothline.web.viewer import Viewer


def blower(shut_off=SHUT_OFF, free=FREE_DELIVERY):
    """A falling parabola, as steady points would show it."""
    points = [
        SteadyPoint.from_parts(shut_off * (1 - share**2) + 1e-6, share * free, (0.002 * shut_off, 0.003 * free, 0.0))
        for share in np.linspace(0.0, 0.98, 11)
    ]
    return BlowerCurve().fit(points)


def record(folder, name, beside):
    """A recording without samples, with its TOML file."""
    RecordingWriter.create(folder, name, source="modelled://steady").close()
    write_metadata(folder / f"{name}.toml", {"recording": name, **beside})


@pytest.fixture
def bench(tmp_path):
    made = FakeSession(tmp_path)
    made._fit = blower()
    return made


@pytest.fixture
def desk(bench):
    made = GeneratorWorkspace(bench)
    made.notice(bench.snapshot())
    return made


def settled(desk, bench, seconds=120.0):
    """What lies on the desk once the answer to the newest question is there."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        desk.notice(bench.snapshot())
        now = desk.look()
        if not now.working and now.answer is not None:
            return now
        time.sleep(0.02)
    raise AssertionError("no answer")


def note_of(pieces, path):
    """The words that stand under an entry of the form."""
    wanted = f"sheet-{path}".replace(".", "-") + "-note"

    def search(item):
        if isinstance(item, list):
            if item[1].get("id") == wanted:
                return words_of(item)
            for child in item[2:]:
                found = search(child)
                if found is not None:
                    return found
        return None

    return next(found for piece in pieces if piece is not None and (found := search(piece)) is not None)


# --- the form


def test_an_entry_that_cannot_be_read_is_told_at_that_entry_and_nowhere_else(desk, bench):
    desk.edit({"outlet.bore": "3/0 in"})
    now = desk.look()
    assert now.build is None
    assert now.built.outlet.bore > 0  # the generator that stands there is still known
    form = generator_form.sheet_block(now)
    assert "zero denominator" in note_of(form, "outlet.bore")
    assert note_of(form, "body.bore") == "= 103.6 mm inside"  # a pipe by its name


def test_an_outlet_wider_than_the_body_is_told_at_the_outlet(desk):
    desk.edit({"outlet.bore": "150 mm"})
    form = generator_form.sheet_block(desk.look())
    assert "is not smaller than" in note_of(form, "outlet.bore")


def test_what_was_changed_says_how_it_is_built(desk):
    desk.edit({"tube.hole": "3 mm"})
    now = desk.look()
    assert now.altered == ("tube.hole",)
    assert "As built: 4 mm" in note_of(generator_form.sheet_block(now), "tube.hole")
    desk.undo()
    assert desk.look().altered == ()


def test_a_saved_sheet_is_read_back_as_it_was_typed_and_found_again(desk, bench):
    """1 1/2 inch schedule 40 has a bore of 1.900 in less twice 0.145 in (ASTM D1785): 40.89 mm."""
    desk.edit({"outlet.bore": "1 1/2 in sch 40", "outlet.hose": "3 ft"})
    path = desk.save("long hose, narrow")
    assert path.parent == bench.folder / "builds"
    build = read_sheet(path)
    assert build.outlet.bore == pytest.approx(0.040894, abs=1e-6)
    assert build.outlet.hose == pytest.approx(0.9144, abs=1e-9)
    assert "# or smooth" in path.read_text()  # what stood there for the reader stays
    again = GeneratorWorkspace(bench)
    again.notice(bench.snapshot())
    assert again.built == build
    assert again.file == path.name


def test_a_sheet_with_a_wrong_entry_is_not_saved(desk):
    desk.edit({"body.length": "soon"})
    with pytest.raises(InputError, match="not saved"):
        desk.save("")


def test_an_emptied_entry_is_again_what_is_usual(desk):
    desk.edit({"reservoir.flow": "6 L/min"})
    assert desk.look().build.reservoir.flow == pytest.approx(1e-4)
    desk.edit({"reservoir.flow": ""})
    assert desk.look().build.reservoir.flow is None


def test_an_entry_that_no_sheet_has_is_refused(desk):
    with pytest.raises(InputError, match="unknown entry"):
        desk.edit({"outlet.colour": "blue"})


def heads(state):
    """Words of the head of each group of entries, by its id."""
    groups = generator_form.sheet_block(state)[1][2:]
    return {group[1]["id"]: words_of(group[2]) for group in groups}


def test_a_closed_group_of_entries_gives_its_values_its_changes_and_its_problems(desk):
    desk.edit({"outlet.bore": "30 mm", "packing.length": "soon", "body.length": "700 mm"})
    found = heads(desk.look())
    assert found["part-outlet"] == "Outlet 30 mm, 1 m 1 change"
    assert found["part-packing"].endswith("soon 1 problem, 1 change")
    assert found["part-solution"] == "Solution washing-up liquid, 1+30"
    desk.edit({"tube.hole": "3/0 in", "tube.rows": "few"})
    assert "2 problems" in heads(desk.look())["part-tube"]


def test_a_closed_part_of_the_page_says_which_source_build_and_sweeps_are_chosen(desk, bench):
    settled(desk, bench)
    texts, states = generator_form.briefs(desk.look())
    assert texts == {"source-brief": "latest sweep", "keep-brief": "not saved", "measured-brief": "not measured"}
    desk.edit({"outlet.bore": "30 mm"})
    texts, states = generator_form.briefs(desk.look())
    assert (texts["keep-brief"], states["keep-brief"]) == ("unsaved changes", "changed")
    desk.save("narrow")
    SweepControl(bench, desk).start("dry")
    bench.end_through(through(desk.built, wet=False))
    texts, states = generator_form.briefs(settled(desk, bench))
    assert (texts["keep-brief"], texts["measured-brief"]) == ("narrow", "dry measured")
    texts, states = generator_form.briefs(replace(desk.look(), trouble={"wet": "this is a dry sweep"}))
    assert (texts["measured-brief"], states["measured-brief"]) == ("1 problem", "wrong")


def test_each_caution_is_on_the_page_once_with_the_figures_of_this_build(bench):
    """A cap of pipe 110x3.2, 110 mm outside (ISO 161-1), at a shut-off of 6.5 kPa: pressure times area is
    6500 x 3.14159 / 4 x 0.110² = 61.8 N, the weight of 61.8 / 9.80665 = 6.3 kg, in pounds 13.9."""
    feed = Feed(bench)
    now = settled(feed.desk, bench)
    message = feed.update(Viewer(page="generator"), 1)
    whole = " ".join(words_of(p) for b in message["blocks"].values() for p in b["body"]) + str(message["texts"])
    assert len(now.answer.cautions) >= 6
    for one in now.answer.cautions:
        assert whole.lower().count(one.words.lower()) == 1, one.key
    assert "6.3 kg on a cap at 6.5 kPa" in message["texts"]["safety-brief"]
    assert "62 N, the weight of 6 kg" in whole
    inch = feed.update(Viewer(page="generator", system="inch-pound"), 2)
    assert "14 lb on a cap at 26.1 inH₂O" in inch["texts"]["safety-brief"]


def test_a_caution_that_calls_for_a_stop_is_in_sight_without_opening_the_others(bench):
    bench._fit = blower(shut_off=40e3)
    feed = Feed(bench)
    settled(feed.desk, bench)
    blocks = feed.update(Viewer(page="generator"), 1)["blocks"]
    stop = "40 kPa is too much for push-fit plastic pipe"
    assert stop in words_of(blocks["stops"]["body"][0])
    assert stop not in words_of(blocks["cautions"]["body"][0])


# --- the answer


def test_a_narrower_outlet_raises_the_pressure_and_lowers_the_flow(desk, bench):
    settled(desk, bench)
    desk.edit({"outlet.bore": "16 mm"})
    answer = settled(desk, bench).answer
    assert answer.change.after.point.pressure.value > answer.change.before.point.pressure.value
    assert answer.change.after.point.flow.value < answer.change.before.point.flow.value
    texts, states = generator_results.figures(desk.look(), "metric")
    assert states["meet"] == "changed"
    assert texts["meet-pressure-unit"] == "kPa"
    head = " ".join(words_of(p) for p in generator_results.head_block(desk.look(), "metric"))
    assert "1 entry changed" in head
    assert "→" in head


def test_the_changed_part_is_marked_on_the_drawing(desk, bench):
    desk.edit({"outlet.bore": "16 mm"})
    now = settled(desk, bench)
    svg = generator_results.side_view(now, narrow=False)[0][1]["svg"]
    assert 'class="fl-outlet fl-changed"' in svg
    assert 'class="fl-body"' in svg


def test_a_source_that_is_too_weak_is_told_in_plain_words(desk, bench):
    """110 mm of water over the holes is 9.81 x 1000 x 0.11 = 1.08 kPa, more than a source of 0.8 kPa has."""
    desk.edit({"tube.depth": "110 mm"})
    desk.save("deep")
    bench._fit = blower(shut_off=800.0)
    now = settled(desk, bench)
    texts, states = generator_results.figures(now, "metric")
    assert "The source is too weak" in texts["meet-words"]
    assert states["meet-words"] == "alarm"
    assert texts["meet-pressure"] == "–"
    assert texts["meet-pressure-under"] == "no operating point"


def test_without_a_source_the_page_says_what_to_do(tmp_path):
    bench = FakeSession(tmp_path)
    desk = GeneratorWorkspace(bench)
    now = settled(desk, bench)
    texts, _ = generator_results.figures(now, "metric")
    assert "guided sweep" in texts["meet-words"]
    assert texts["meet-flow"] == "–"
    assert now.answer.grids  # the generator's own line is drawn all the same


def test_sizes_that_are_found_can_be_put_into_the_form(desk, bench):
    settled(desk, bench)
    target = 1.2 * desk.look().answer.built.point.pressure.value
    desk.search("outlet.bore", "pressure", min(target, 0.97 * SHUT_OFF))
    found = desk.look().found
    assert found.choices
    desk.try_size(0)
    assert desk.look().build.outlet.bore == pytest.approx(found.choices[0].value)


def test_cautions_that_say_stop_come_first_and_judgement_is_called_so(desk, bench):
    bench._fit = blower(shut_off=150e3)  # no blower: a compressor
    now = settled(desk, bench)
    (stop,) = generator_results.stop_block(now)[0][2:]
    assert stop[1]["class"] == "stop"
    assert "regulator" in words_of(stop)
    items = generator_results.caution_block(now)[0][2:]
    assert any("judgement, no source" in words_of(item) for item in items)


def test_the_sheet_of_the_simulated_generator_says_what_its_model_is_made_of():
    from frothline.simulation.generator import BUILDS

    model, build = BUILDS["pipe-100"], parse_sheet(simulated_sheet()).build
    assert build.tube.holes == model.holes
    assert build.tube.hole == model.hole
    assert build.tube.depth == model.head
    assert build.body.bore == pytest.approx(model.body, abs=1e-4)
    assert (build.packing.length, build.packing.wire) == (model.packing, model.fibre)
    assert build.packing.voidage == pytest.approx(1 - model.solid)
    assert build.outlet.bore == model.outlet


# --- the picture


def test_the_ellipse_holds_95_of_100_points_of_two_normal_variables():
    """Drawn against random pairs of NumPy with the same covariance."""
    covariance = np.array([[90.0**2, -0.7 * 90.0 * 3e-4], [-0.7 * 90.0 * 3e-4, (3e-4) ** 2]])  # pressure, flow
    flow, pressure = generator_chart.ellipse(6e-3, 4000.0, covariance, steps=721)
    drawn = np.random.default_rng(3).multivariate_normal([4000.0, 6e-3], covariance, 40_000)

    def at(x, y):  # how far out, and in which direction, in units in which both are alike
        return np.hypot((x - 6e-3) / 3e-4, (y - 4000.0) / 90.0), np.arctan2((y - 4000.0) / 90.0, (x - 6e-3) / 3e-4)

    edge_r, edge_angle = at(flow, pressure)
    order = np.argsort(edge_angle)
    r, angle = at(drawn[:, 1], drawn[:, 0])
    inside = r <= np.interp(angle, edge_angle[order], edge_r[order], period=2 * np.pi)
    assert inside.mean() == pytest.approx(0.95, abs=0.005)  # 4.6 standard deviations of the count


def given(**more):
    build = parse_sheet(starting_sheet()).build
    usual = EvaluationInput(build, build, blower(), None, RoomAir(), FoamKnowledge.usual())
    return replace(usual, **more)


def test_without_a_source_the_cautions_that_need_none_are_shown_and_with_one_the_force_where_it_runs():
    without = {one.key: one.words for one in evaluate(given(source=None)).cautions}
    assert {"push-fit", "plastic-pipe", "backflow", "mains", "noise", "heat"} <= set(without)
    answer = evaluate(given())
    words = {one.key: one.words for one in answer.cautions}["push-fit"]
    met, shut = answer.built.point.pressure.value, answer.blower.shut_off.value
    assert words.index(f"{met / 1e3:.1f}") < words.index(f"{shut / 1e3:.1f} kPa")


def test_dry_wet_and_changed_lines_rise_and_the_wet_one_asks_for_more():
    build = parse_sheet(starting_sheet()).build
    answer = evaluate(given(wanted=build.with_entry("outlet.bore", 0.02)))
    assert [(load.wet, load.changed) for load in answer.grids] == [(False, False), (True, False), (True, True)]
    for load in answer.grids:
        assert (np.diff(load.pressure) > 0).all()
        assert (load.lower <= load.pressure).all()
        assert (load.pressure <= load.upper).all()
        assert (load.lower >= 0).all()
    dry, wet, _ = answer.grids
    middle = 0.5 * wet.flow[-1]
    assert np.interp(middle, wet.flow, wet.pressure) > np.interp(middle, dry.flow, dry.pressure)


def test_a_measured_line_is_drawn_solid_and_a_predicted_one_dashed():
    build = parse_sheet(starting_sheet()).build
    model = PressureModel(build, OperatingConditions.usual())
    points = tuple(
        SteadyPoint.from_parts(0.8 * model.pressure(q), q, (20.0, 2e-5, 0.0)) for q in np.linspace(0.002, 0.006, 6)
    )
    answer = evaluate(given(wet=points))
    assert answer.scaling is not None
    dashes = {trace.name: trace.line.dash for trace in generator_chart.traces(answer, "metric", "light") if trace.name}
    assert dashes["Wet, measured"] == "solid"
    assert dashes["Dry, predicted"] == "dot"


# --- swept through


def through(build, wet):
    """Steady points of a generator that asks for 1.3 times what its sheet says, at six flows."""
    model = PressureModel(build, replace(OperatingConditions.usual(), wet=wet))
    flows = np.linspace(0.004, 0.016, 6)
    return tuple(
        SteadyPoint.from_parts(1.3 * model.pressure(q), q, (0.004 * model.pressure(q), 0.004 * q, 0.0)) for q in flows
    )


@pytest.mark.parametrize("kind", ["dry", "wet"])
def test_a_sweep_through_the_generator_is_its_measured_line_as_soon_as_it_is_done(desk, bench, kind):
    before = settled(desk, bench)
    sweeps = SweepControl(bench, desk)
    sweeps.start(kind)
    assert f"start_sweep {kind}" in bench.calls
    points = through(before.built, wet=kind == "wet")
    assert settled(desk, bench).chosen[kind] == ""  # not before it is over
    bench.end_through(points)
    now = settled(desk, bench)
    assert now.chosen[kind] == LIVE_SOURCE
    assert "latest sweep" in " ".join(words_of(piece) for piece in generator_form.measured_block(now))
    scaling = now.answer.scaling
    line = scaling.wet if kind == "wet" else scaling.dry
    for point in points:  # the model is brought to the points, whatever the sheet said
        assert line.pressure(point.flow) == pytest.approx(point.pressure, rel=0.03)
    drawn = {trace.name: trace for trace in generator_chart.traces(now.answer, "metric", "light")}
    assert drawn[f"{kind.capitalize()}, measured"].line.dash == "solid"
    assert len(drawn[f"measured {kind}"].x) == 6
    assert np.max(drawn[f"measured {kind}"].x) == pytest.approx(16.0)  # L/s of 0.016 m3/s
    # it can be laid aside, and taken again
    desk.choose(kind, "")
    assert settled(desk, bench).answer.scaling is None
    desk.choose(kind, LIVE_SOURCE)
    assert settled(desk, bench).answer.scaling is not None
    assert bench.snapshot().points == ()  # what it lets through is no point of the source


def test_the_measured_generator_is_saved_as_one_file_and_offered_as_a_measured_line(desk, bench, tmp_path):
    """Sheet and six points come back from the file, and the line scaled to them is the one of the page."""
    before = settled(desk, bench)
    assert labels.HAND_ON not in words_of(["div", {}, *filter(None, generator_form.measured_block(before))])
    with pytest.raises(InputError, match="no measured line"):
        save_generator_file(tmp_path, "tall one", before)
    SweepControl(bench, desk).start("wet")
    points = through(before.built, wet=True)
    bench.end_through(points)
    now = settled(desk, bench)
    assert labels.HAND_ON in words_of(["div", {}, *filter(None, generator_form.measured_block(now))])
    desk.edit({"outlet.bore": "30 mm"})  # not saved: not what was measured
    path = save_generator_file(tmp_path, "tall one", settled(desk, bench))
    again = save_generator_file(tmp_path, "tall one", settled(desk, bench))
    assert (path.name, again.name) == ("tall-one.toml", "tall-one-2.toml")
    held = read_generator(path)
    assert held.build == now.built
    assert [(one.flow, one.pressure) for one in held.wet] == [(one.flow, one.pressure) for one in points]
    assert held.dry == ()
    assert held.factors
    assert len(read_library(path.parent).generators) == 2
    desk._folder.refresh()
    offered = {item.path: item for item in desk.look().recorded}
    assert str(path) in offered
    assert not offered[str(path)].of_source
    assert str(path) in str(generator_form.measured_block(desk.look()))
    desk.choose("wet", str(path))
    line, live = settled(desk, bench).answer.scaling.wet, now.answer.scaling.wet
    assert line.pressure(0.01) == pytest.approx(live.pressure(0.01), rel=1e-6)
    with pytest.raises(InputError, match="wet sweep"):
        desk.choose("dry", str(path))


def test_a_generator_file_has_the_build_that_was_measured_and_not_the_one_saved_since(desk, bench, tmp_path):
    before = settled(desk, bench)
    SweepControl(bench, desk).start("dry")
    bench.end_through(through(before.built, wet=False))
    settled(desk, bench)
    desk.edit({"outlet.bore": "30 mm"})
    desk.save("narrow")
    now = settled(desk, bench)
    assert now.built.outlet.bore == 0.030
    assert read_generator(save_generator_file(tmp_path, "x", now)).build.outlet.bore == before.built.outlet.bore


def test_a_generator_file_needs_a_name_and_a_finished_calculation(desk, bench, tmp_path):
    settled(desk, bench)
    SweepControl(bench, desk).start("dry")
    bench.end_through(through(desk.built, wet=False))
    now = settled(desk, bench)
    with pytest.raises(InputError, match="not finished"):
        save_generator_file(tmp_path, "x", replace(now, working=True))
    with pytest.raises(InputError, match="the generator has no name"):
        save_generator_file(tmp_path, "///", now)
    assert save_generator_file(tmp_path, "../x/y", now).parent == tmp_path / "generators"
    (tmp_path / "generators" / "sheet.toml").write_text("name = 'a sheet'")
    assert len(generator_entries(tmp_path)) == 1
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "generators").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(InputError, match="link to another place"):
        save_generator_file(tmp_path / "other", "x", now)
    assert generator_entries(tmp_path / "other") == ()


def test_two_places_are_no_line_and_leave_what_was_measured(desk, bench):
    before = settled(desk, bench)
    SweepControl(bench, desk).start("dry")
    bench.end_through(through(before.built, wet=False)[:2])
    assert settled(desk, bench).chosen["dry"] == ""


def test_another_sheet_is_another_generator_and_was_not_swept(desk, bench):
    before = settled(desk, bench)
    SweepControl(bench, desk).start("dry")
    bench.end_through(through(before.built, wet=False))
    assert settled(desk, bench).chosen["dry"] == LIVE_SOURCE
    desk.open("")
    now = settled(desk, bench)
    assert now.chosen["dry"] == ""
    assert now.swept == frozenset()


def test_sweeps_of_the_build_before_it_was_changed_and_saved_are_carried_over_and_said_to_be(desk, bench):
    """Another outlet is what was not measured: the rest of the line stays as it was found, and the page says so."""
    before = settled(desk, bench)
    SweepControl(bench, desk).start("dry")
    bench.end_through(through(before.built, wet=False))
    assert settled(desk, bench).answer.grids[0].measured
    desk.edit({"outlet.bore": "30 mm"})
    settled(desk, bench)
    desk.save("narrow")
    now = settled(desk, bench)
    assert now.built.outlet.bore == 0.030
    assert now.chosen["dry"] == LIVE_SOURCE
    assert not now.answer.grids[0].measured
    assert "before outlet bore was changed" in " ".join(now.answer.trouble)
    scaled = now.answer.scaling.dry
    assert scaled.build.outlet.bore == 0.030
    assert scaled.factors["holes"] == settled_factor(desk, bench, before.built)
    bench.end_through(through(now.built, wet=False))  # swept anew
    again = settled(desk, bench)
    assert again.answer.grids[0].measured
    assert not again.answer.trouble


def test_the_build_as_it_is_stays_calculated_while_an_entry_changes(desk, bench):
    first = settled(desk, bench)
    desk.edit({"outlet.bore": "30 mm"})
    second = settled(desk, bench)
    desk.edit({"outlet.bore": "28 mm"})
    third = settled(desk, bench)
    assert second.answer.change is not None
    assert third.answer.change.after.build.outlet.bore == pytest.approx(0.028)
    assert first.answer.built is second.answer.built is third.answer.built


def settled_factor(desk, bench, build):
    points = through(build, wet=False)
    given = replace(desk.look().answer.given, built=build, wanted=build, dry=points, wet=(), swept=None)
    return evaluate(given).scaling.dry.factors["holes"]


def test_a_sweep_that_was_recorded_is_offered_for_its_own_kind_alone(desk, bench):
    bench.folder.mkdir(exist_ok=True)
    for name, beside in (
        ("wet-one", {"kind": "generator sweep", "through": "wet"}),
        ("dry-one", {"kind": "generator sweep", "through": "dry"}),
        ("by-hand", {}),
    ):
        record(bench.folder, name, beside)
    desk._folder.refresh()
    now = desk.look()

    assert {item.words.split(" ")[0].rstrip(","): item.through for item in now.recorded} == {
        "wet-one": "wet",
        "dry-one": "dry",
        "by-hand": "",
    }
    (block,) = generator_form.source_block(now)
    assert "wet-one" not in words_of(block)
    assert "by-hand" in words_of(block)
    measured = generator_form.measured_block(now)[0]
    assert words_of(measured).count("wet-one") == 1
    assert words_of(measured).count("by-hand") == 2


def test_the_page_refuses_and_reports_a_sweep_as_the_prompt_does(desk, bench):
    bench.folder.mkdir(exist_ok=True)
    before = settled(desk, bench)
    record(bench.folder, "dry-one", sweep_metadata("dry", before.built))
    record(bench.folder, "of-another", sweep_metadata("dry", before.built.with_entry("outlet.bore", 0.02)))
    record(bench.folder, "by-hand", {})
    desk._folder.refresh()
    paths = {Path(item.path).stem: item.path for item in desk.look().recorded}
    for name in ("of-another", "by-hand", "dry-one"):  # a real recording has its points
        desk._sweeps._points[paths[name]] = through(before.built, wet=False)
    with pytest.raises(InputError, match="a dry sweep through a generator, but was given as a wet sweep"):
        desk.choose("wet", paths["dry-one"])
    assert "given as a wet sweep" in desk.look().trouble["wet"]
    desk.choose("dry", paths["dry-one"])
    assert settled(desk, bench).answer.trouble == ()
    for name in ("of-another", "by-hand"):
        desk.choose("dry", paths[name])
        said = settled(desk, bench).answer.trouble
        assert said == role_notes([Path(paths[name])], "dry", before.built)
        assert len(said) == 1


def test_the_page_reads_a_sweep_with_the_calibration_in_its_folder_as_the_prompt_does(desk, bench):
    season = Path(__file__).parents[2] / "recordings" / "season"
    bench.folder.mkdir(exist_ok=True)
    for suffix in (".froth", ".toml"):
        shutil.copy((season / "03-29-sweep-shop-motor").with_suffix(suffix), bench.folder / f"motor{suffix}")
    path = bench.folder / "motor.froth"
    desk._folder.refresh()
    desk.choose("source", str(path))
    plain = desk.source.shut_off.value
    # NXP MPX5050 rev 11, P = (ratio - 0.04) / 0.018 kPa, and here half as much again
    line = ChannelCalibration(
        channel="pressure",
        input="ratio",
        unit="Pa",
        coefficients=np.array([-0.04, 1.0]) / 0.018 * 1e3 * 1.5,
        covariance=np.diag([1.0, 1.0]),
        low=0.0,
        high=1.0,
    )
    save_calibration(bench.folder / "calibration.toml", Calibration("", {"pressure": line}))
    desk.choose("source", str(path))
    assert desk.source.shut_off.value == pytest.approx(1.5 * plain, rel=0.01)
    assert desk.source.shut_off.value == pytest.approx(load_sweeps(path).fit().shut_off.value, rel=1e-9)


def recorded(folder, name, **beside):
    folder.mkdir(exist_ok=True)
    record(folder, name, beside)


def test_sources_are_offered_by_their_label_and_a_run_is_none(desk, bench):
    recorded(bench.folder, "2026-05-02-sweep", kind="sweep", title="the big motor", air_source="big vacuum")
    recorded(bench.folder, "2026-05-02-run", kind="run", title="first foam")
    desk._folder.refresh()
    (block,) = generator_form.source_block(desk.look())
    said = words_of(block)
    assert "the big motor, big vacuum" in said
    assert "first foam" not in said
    assert "2026-05-02-run" not in said


def test_beside_a_simulated_rig_the_sweeps_of_the_season_are_sources_too(bench, tmp_path):
    season = tmp_path / "season"
    recorded(season, "a-sweep", kind="sweep", title="shop vacuum")
    recorded(season, "a-run", kind="run", title="a run")
    for simulated in (True, False):
        bench.simulated = simulated
        now = dataclasses.replace(bench.snapshot(), simulated=simulated)
        desk = GeneratorWorkspace(bench, season)
        desk.notice(now)
        (block,) = generator_form.source_block(desk.look())
        assert ("simulated season: shop vacuum" in words_of(block)) is simulated
        assert "a run" not in words_of(block)


def test_a_sheet_that_is_put_into_the_folder_is_found_while_the_program_runs(desk, bench, monkeypatch):
    bench.folder.mkdir(exist_ok=True)
    desk._folder._slow._age = 0.0  # the look itself, not the seconds between two
    (bench.folder / "builds").mkdir()
    (bench.folder / "builds" / "by-hand.toml").write_text(simulated_sheet(), "utf-8")
    recorded(bench.folder, "copied", kind="sweep")
    end = time.monotonic() + 120.0
    while time.monotonic() < end and not (desk.look().files and desk.look().recorded):
        desk.notice(bench.snapshot())
        time.sleep(0.02)
    now = desk.look()
    assert now.files == ("by-hand.toml",)
    assert [item.words.split(",")[0].split(" ")[0] for item in now.recorded] == ["copied"]
    assert str(bench.folder / "builds") in words_of(generator_form.keep_block(now)[1])


BAD = """
name = "with seven errors"
[connection]
bore = "wide"
[hose]
bore = "50 mm"
length = "long"
[tube]
bore = "50 mm"
length = "300 mm"
rows = 4
holes_per_row = "many"
hole = "3/0 in"
[body]
bore = "4 in sch 40"
length = "90 yonder"
[outlet]
bore = "36 mm"
shape = "round"
[reservoir]
volume = "45 L"
[solution]
agent = "foaming agent"
dilution = "thin"
"""


def test_a_sheet_with_errors_is_opened_with_all_of_them_at_their_entries(desk, bench):
    (bench.folder / "builds").mkdir(parents=True)
    (bench.folder / "builds" / "bad.toml").write_text(BAD, "utf-8")
    desk._folder.refresh()
    built = desk.built
    desk.open("bad.toml")
    now = desk.look()
    assert now.file == "bad.toml"
    assert desk.built == built  # the generator that stands there is still known
    form = generator_form.sheet_block(now)
    wrong = ("connection.bore", "hose.length", "tube.holes_per_row", "tube.hole", "body.length", "outlet.shape",
             "solution.dilution")  # fmt: skip
    for path in wrong:
        assert note_of(form, path), path
    assert now.values["solution.dilution"] == "thin"
    assert "'value': 'round'" in str(form)  # kept in the list, though it cannot be
    assert "bad.toml is open" in words_of(generator_results.head_block(now, "metric")[0])
    desk.edit({"solution.dilution": "1+30"})
    assert len([problem for problem in desk.look().problems if problem.fatal]) == len(wrong) - 1
    desk.undo()
    assert desk.look().build == built


def test_a_file_that_is_no_sheet_leaves_the_form_and_says_why_beside_the_list(desk, bench):
    (bench.folder / "builds").mkdir(parents=True)
    (bench.folder / "builds" / "torn.toml").write_text("[tube\nbore = 5", "utf-8")
    desk._folder.refresh()
    desk.edit({"outlet.bore": "30 mm"})
    with pytest.raises(InputError):
        desk.open("torn.toml")
    now = desk.look()
    assert now.values["outlet.bore"] == "30 mm"
    assert "torn.toml:1" in words_of(generator_form.keep_block(now)[1])


def test_changes_that_are_not_saved_are_asked_about_before_another_sheet_is_taken(desk):
    desk.edit({"outlet.bore": "30 mm"})
    desk.open("")
    now = desk.look()
    assert now.values["outlet.bore"] == "30 mm"
    assert now.leaving == ""
    assert "Unsaved changes" in " ".join(words_of(piece) for piece in generator_form.keep_block(now))
    desk.stay()
    assert desk.look().leaving is None
    desk.open("")
    desk.open("", leave=True)
    assert desk.look().altered == ()
    desk.open("")  # nothing to lose
    assert desk.look().leaving is None


def test_one_entry_that_cannot_be_leaves_the_effect_of_the_others_to_be_seen(desk, bench):
    desk.edit({"outlet.bore": "30 mm"})
    before = settled(desk, bench).answer.change
    desk.edit({"tube.hole": "3/0 in"})
    now = settled(desk, bench)
    assert now.build is None
    assert now.answer.change.after.point.flow.value == pytest.approx(before.after.point.flow.value)
    assert now.ignored_entries == ("tube.hole",)
    said = words_of(generator_results.verdict_block(now, "metric")[0])
    assert "hole diameter" in said
    desk.edit({"tube.hole": "3 mm"})
    now = settled(desk, bench)
    assert now.ignored_entries == ()
    assert now.answer.change.after.point.flow.value != pytest.approx(before.after.point.flow.value, rel=1e-6)


def test_one_sweep_at_a_time_and_none_during_a_run(desk, bench):
    sweeps = SweepControl(bench, desk)
    sweeps.start("dry")
    assert sweeps.start("dry") == ""  # only shown in large type
    with pytest.raises(InputError, match="a dry sweep is running"):
        sweeps.start("source")
    sweeps.stop()
    bench.run = state_of_run(bench.now)
    with pytest.raises(InputError, match="a run is in progress"):
        sweeps.start("wet")


def test_the_guide_says_the_caution_and_what_its_button_means(bench):
    bench.start_sweep(through="wet")
    message = Feed(bench).update(Viewer(page="generator"), 1)
    texts = message["texts"]
    assert texts["sweep-instruction"] == "wait for foam"
    assert "a bucket under the outlet" in texts["sweep-caution"]
    assert texts["sweep-button"] == "Foam flows evenly"
    assert "A wet sweep is running" in texts["sweep-line"]
    assert "Open full-screen guide" in str(message["blocks"]["through"])
    bench.end_through(())
    message = Feed(bench).update(Viewer(page="generator"), 1)
    assert message["texts"]["sweep-button"] == "Show the line"
    assert "Measure dry" in str(message["blocks"]["through"])


def test_every_step_of_both_guides_has_a_word_on_its_button():
    for phase in {*source_guide.PHASES, *through_guide.PHASES} - {"done"}:
        assert phase in sweep_labels.BUTTONS, phase
