"""Samples on the run page without a browser: the timer and its results."""

import dataclasses
import shutil
import tomllib
from pathlib import Path
from time import monotonic, sleep
from types import SimpleNamespace

import pytest
from fake_session import FakeSession, state_of_run
from test_run_page import text

from frothline.bench import batch_form
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.library import FolderView
from frothline.bench.run_control import RunControl, SimulatedFaults
from frothline.bench.sample_correction import TakenSample
from frothline.bench.sample_timer import DRAIN, FILLING, READY, WEIGH, SampleTimer
from frothline.errors import InputError, SampleQuestioned
from frothline.estimate import Estimate
from frothline.foam.dilution import Dilution
from frothline.foam.sample import Weighing, evaluate
from frothline.foam.target_windows import windows_for
from frothline.generator.foam_prior import FoamKnowledge
from frothline.trials.notebook import season
from frothline.trials.sample_sidecar import add_drained, append_sample
from frothline.web.feed import Feed
from frothline.web.pages.batch import blocks as batch_blocks
from frothline.web.pages.run import blocks, samples
from frothline.web.viewer import Viewer

# --- the timer


def weighed():
    timer = SampleTimer()
    timer.begin()
    timer.press(10.0, {"container": "20 L", "empty": "640"})
    timer.press(13.2, {})
    timer.press(40.0, {"full": "1.79 kg"})
    return timer


def test_the_steps_come_one_after_the_other_and_the_fill_time_is_between_two_presses():
    timer = SampleTimer()
    timer.begin()
    assert timer.look().step == READY
    timer.press(10.0, {"container": "20 L", "empty": "640 g"})
    assert timer.look().step == FILLING
    timer.press(13.2, {})
    assert timer.look().step == WEIGH
    assert timer.look().fill_time == pytest.approx(3.2)
    timer.press(40.0, {"full": "1790 g"})
    assert timer.look().step == DRAIN
    weighing = timer.look().weighing()
    assert (weighing.container_volume, weighing.empty, weighing.full) == pytest.approx((0.020, 0.640, 1.790))


def test_a_wet_finger_that_touches_twice_has_not_filled_a_bucket():
    timer = SampleTimer()
    timer.begin()
    for time in (10.0, 10.12, 13.2):
        timer.press(time, {})
    assert timer.look().step == WEIGH
    assert timer.look().fill_time == pytest.approx(3.2)


def test_a_weighing_that_cannot_be_read_leaves_the_step_and_the_times_as_they_are():
    timer = SampleTimer()
    timer.begin()
    timer.press(10.0, {"container": "20 L", "empty": "640 g"})
    timer.press(13.2, {})
    for wrong in ("", "heavy", "600 g", "90 kg"):  # nothing, no number, lighter than empty, heavier than water
        with pytest.raises(InputError):
            timer.press(40.0, {"full": wrong})
        assert timer.look().step == WEIGH
    assert timer.look().fill_time == pytest.approx(3.2)


def test_readings_of_the_drained_liquid_are_asked_for_at_1_2_3_5_and_10_minutes():
    timer = weighed()
    asked = []
    for minute, volume in ((1, "14"), (2, "27 mL"), (3, "38"), (5, "57"), (10, "0.09 L")):
        asked.append(timer.look().next_reading(13.2 + 60 * minute - 8) / 60)
        timer.press(13.2 + 60 * minute, {"drained": volume})
    assert asked == [1, 2, 3, 5, 10]
    assert timer.look().next_reading(13.2 + 601) is None
    assert timer.look().drained[1] == pytest.approx((120.0, 27e-6))
    assert timer.look().drained[-1] == pytest.approx((600.0, 90e-6))


def refused(typed):
    timer = SampleTimer()
    timer.begin()
    timer.press(10.0, {"container": "20", "empty": typed["empty"]})
    timer.press(13.2, {})
    with pytest.raises(InputError):
        timer.press(40.0, typed)
    return timer


def test_kilograms_written_where_grams_are_taken_are_told_at_the_field_and_can_be_mended():
    """0.8 kg of bucket and 1.9 kg of bucket and foam: 1.1 kg in 20 L are 55 kg/m³, and no timing is lost."""
    timer = refused({"empty": "0.8", "full": "0.5"})
    (told,) = timer.look().wrong.values()
    assert "full (0.5 g) is not heavier than empty (0.8 g)" in told[:1].lower() + told[1:]
    assert "like 0.8 kg" in told
    said = str(samples.timer_block(timer.look(), 41.0, (), "metric"))
    for name, value in (("container", "20"), ("empty", "0.8"), ("full", "0.5"), ("depth", "")):
        assert f"'value': '{value}'" in said, name
        assert f"timer-{name}" in said
    assert told in said
    timer.press(60.0, {"container": "20", "empty": "0.8 kg", "full": "1.9 kg"})
    at = timer.look()
    assert (at.step, at.wrong) == (DRAIN, {})
    assert at.fill_time == pytest.approx(3.2)
    weighing = at.weighing()
    assert (weighing.full - weighing.empty) / weighing.container_volume == pytest.approx(55.0)


def test_what_a_figure_without_a_unit_is_taken_as_stands_at_its_field():
    timer = refused({"empty": "0.8", "full": "much"})
    at = timer.look()
    assert (at.taken_as("empty"), at.taken_as("container")) == ("taken as 0.8 g", "taken as 20 L")
    assert refused({"empty": "0.8 kg", "full": "much"}).look().taken_as("empty") == ""
    assert list(at.wrong) == ["full"]


def test_foam_that_would_be_heavier_than_water_is_told_at_the_bucket_with_all_that_was_taken():
    (name,), (told,) = (
        list(part(refused({"empty": "640", "full": "90 kg"}).look().wrong)) for part in (dict, dict.values)
    )
    assert name == "container"
    assert "20 L, 640 g empty and 90 kg full" in told


def test_a_bucket_that_cannot_be_read_does_not_hold_up_the_foam_and_is_told_when_it_is_full():
    timer = SampleTimer()
    timer.begin()
    timer.press(10.0, {"container": "a pail", "empty": "640"})
    assert timer.look().step == FILLING
    timer.press(13.0, {})
    assert list(timer.look().wrong) == ["container"]


def test_a_refused_reading_of_the_drained_liquid_keeps_what_was_typed():
    timer = weighed()
    with pytest.raises(InputError):
        timer.press(80.0, {"drained": "much"})
    said = str(samples.timer_block(timer.look(), 81.0, (), "metric"))
    assert "'value': 'much'" in said
    assert "'data-is': 'wrong'" in said


def test_units_can_be_typed_wherever_a_hint_names_one():
    """A phone's keyboard for decimals has no letters."""
    order = batch_blocks.block(
        values := batch_form.typed({}),
        batch_form.worked(values, None, Dilution(40, "1+N")),
        Dilution(40, "1+N"),
        "metric",
    )
    timer = SampleTimer()
    timer.begin()
    for piece in (*order, *samples.timer_block(timer.look(), 0.0, (), "metric")):
        for entry in entries(piece):
            field = next(one for one in entry[2:] if isinstance(one, list) and one[0] == "input")
            if "like " in text(entry[2:]) or "like " in field[1].get("placeholder", ""):
                assert field[1]["inputmode"] == "text", field[1]["id"]


def entries(piece):
    """All entries of a form that have a field to write in."""
    if isinstance(piece, str) or piece is None:
        return
    inside = [child for child in piece[2:] if isinstance(child, list)]
    if piece[1].get("class") == "entry" and any(child[0] == "input" for child in inside):
        yield piece
    for child in inside:
        yield from entries(child)


def asking(bench):
    """A bench whose run asks about each sample that is not confirmed."""
    take = bench.add_sample

    def add_sample(weighing, time):
        if not weighing.confirmed and weighing.fill_time is not None and weighing.fill_time > 5.0:
            raise SampleQuestioned(
                "10 L in 9.8 s: the other samples of the run give 2.2 s. Check for a late press.", where="sample"
            )
        return take(weighing, time)

    bench.add_sample = add_sample
    bench.run = state_of_run(50.0)
    return bench


def timed_late(bench):
    """Press through the timer with a bucket that took 9.8 s by the clock."""
    runs = RunControl(asking(bench), GeneratorWorkspace(bench))
    runs.timer.begin()
    figures = {"container": "10", "empty": "300", "full": "1200"}
    runs.timer.press(10.0, figures)
    runs.timer.press(19.8, {})
    with pytest.raises(SampleQuestioned):
        runs.press(figures)
    return runs, figures


def test_a_sample_that_contradicts_the_run_is_asked_about_with_all_its_figures_to_correct(bench):
    runs, _ = timed_late(bench)
    assert runs.taken == ()
    assert runs.timer.look().step == WEIGH
    said = text(samples.timer_block(runs.timer.look(), 25.0, (), "metric"))
    assert "Check for a late press." in said
    assert "Use it as it is" in said
    ids = [
        field[1]["id"]
        for piece in samples.timer_block(runs.timer.look(), 25.0, (), "metric")
        for entry in entries(piece)
        for field in entry[2:]
        if isinstance(field, list) and field[0] == "input"
    ]
    assert [one.split("-")[-1] for one in ids][:4] == ["fill", "full", "empty", "container"]


def test_a_corrected_fill_time_is_used_and_one_that_is_not_known_leaves_the_density(bench):
    runs, figures = timed_late(bench)
    with pytest.raises(InputError, match="not a time"):
        runs.press({**figures, "fill": "a while"})
    assert "fill" in runs.timer.look().wrong
    runs.press({**figures, "fill": "2.2 s"})
    assert runs.taken[-1].weighing.fill_time == pytest.approx(2.2)
    assert not runs.taken[-1].weighing.confirmed
    runs, figures = timed_late(bench)
    runs.press({**figures, "fill": "not timed"})
    assert runs.taken[-1].weighing.fill_time is None
    assert runs.taken[-1].sample.density.value == pytest.approx(90.0)


def test_a_sample_may_be_used_as_it_is_and_the_question_is_gone(bench):
    runs, figures = timed_late(bench)
    runs.press(figures, confirmed=True)
    assert runs.taken[-1].weighing.confirmed
    assert runs.taken[-1].weighing.fill_time == pytest.approx(9.8, abs=0.06)
    assert runs.timer.look().question == ""
    assert runs.timer.look().step == DRAIN


def test_the_next_sample_begins_without_the_last_ones_question(bench):
    runs, _ = timed_late(bench)
    runs.discard()
    runs.timer.begin()
    runs.timer.press(40.0, {})
    assert runs.timer.look().question == ""
    assert runs.timer.look().fill == ""
    runs.timer.press(42.0, {})
    assert runs.timer.look().fill_time == pytest.approx(2.0)


def test_the_countdown_says_that_it_is_one():
    said = text(samples.timer_block(weighed().look(), 13.2 + 44.0, (), "metric"))
    assert "next reading at 1 min in 0:16" in said


def test_a_reading_that_was_missed_is_left_out():
    assert weighed().look().next_reading(13.2 + 100) == 120.0


def test_less_liquid_than_before_is_asked_back():
    timer = weighed()
    timer.press(80.0, {"drained": "20"})
    with pytest.raises(InputError, match="less than"):
        timer.press(140.0, {"drained": "12"})
    assert len(timer.look().drained) == 1


def test_the_rigs_own_button_does_what_needs_no_figures():
    timer = SampleTimer()
    timer.begin()
    timer.push(5.0)
    timer.push(8.5)
    assert timer.look().step == WEIGH
    assert timer.look().fill_time == pytest.approx(3.5)
    timer.push(9.0)
    assert timer.look().step == WEIGH


# --- samples


def test_each_verdict_says_which_window_and_who_says_so():
    weighing = Weighing(0.020, 0.640, 1.790, 3.2, ((60.0, 14e-6), (300.0, 57e-6)))
    sample = evaluate(weighing, Estimate.normal(0.0065, 0.0002, "m3/s"))
    said = text(samples.result_block((TakenSample(20.0, weighing, sample, "run.toml"),), "metric"))
    for window in windows_for():
        assert window.provenance in said
        assert window.words in said
    assert "inside" in said
    assert "57.5 kg/m³" in said  # (1790 - 640) g in 20 L
    assert "not reached" in said


def test_foam_is_held_against_the_density_that_the_plan_wants():
    weighing = Weighing(0.020, 0.640, 2.440, 3.2)  # 90 kg/m3
    taken = (TakenSample(20.0, weighing, evaluate(weighing)),)
    usual = samples.result_block(taken, "metric")
    assert "usual for foamed concrete" in text(usual)
    assert "verdict-above" in str(usual)
    own = samples.result_block(taken, "metric", (85.0, 110.0))
    assert "your target" in text(own)
    assert "usual for foamed concrete" not in text(own)
    assert "verdict-above" not in str(own)


def test_readings_go_to_the_sample_beside_the_recording_and_comments_stay(tmp_path):
    path = tmp_path / "run.toml"
    path.write_text("# mine\nkind = 'run'  # a note of my own\n")
    weighing = Weighing(0.020, 0.640, 1.790, 3.2)
    append_sample(path, weighing, 12.0)
    add_drained(path, Weighing(0.020, 0.640, 1.790, 3.2, ((60.0, 14e-6),)))
    assert "# a note of my own" in path.read_text()
    (sample,) = tomllib.loads(path.read_text())["sample"]
    assert sample["drained"] == [["60 s", "14 mL"]]
    assert sample["full"] == "1790 g"
    with pytest.raises(InputError, match="could not be saved with the recording"):
        add_drained(tmp_path / "none.toml", weighing)


def test_a_sample_of_a_run_tells_the_sheets_desk_what_is_known_of_the_foam(tmp_path):
    bench = FakeSession(tmp_path)
    desk = GeneratorWorkspace(bench)
    runs = RunControl(bench, desk)
    heard = []
    desk.know = lambda knowledge, *_: heard.append(knowledge)
    runs.notice(bench.snapshot())
    runs.start()
    runs.timer.begin()
    runs.press({"container": "20 L", "empty": "640"})
    bench._began -= 3.2  # s that it takes to fill
    runs.press({})
    words = runs.press({"full": "1790"})
    assert "58 kg/m³" in words or "57 kg/m³" in words
    assert bench.calls[-1] == "add_sample"
    capture, expansion = Estimate.normal(0.55, 0.03, "1"), Estimate.normal(17.7, 0.4, "1")
    output = SimpleNamespace(capture=capture, expansion=expansion)
    runs.notice(
        SimpleNamespace(**{**vars(bench.snapshot()), "run": SimpleNamespace(samples=(1,), output=output, started=0.0)})
    )
    assert [(known.capture, known.expansion, known.prior) for known in heard] == [(0.55, 17.7, False)]


def timed_bucket(runs, bench, full="1790"):
    runs.timer.begin()
    runs.press({"container": "20 L", "empty": "640"})
    bench._began -= 3.2  # s that it takes to fill
    runs.press({})
    return runs.press({"full": full})


def test_a_sample_that_could_not_be_kept_leaves_the_one_before_as_it_was(tmp_path):
    bench = FakeSession(tmp_path)
    runs = RunControl(bench, GeneratorWorkspace(bench))
    timed_bucket(runs, bench)
    runs.press({"drained": "14 mL"})
    runs.discard()
    before = runs.taken

    def refuse(weighing, time):
        raise InputError("the readings contradict each other")

    bench.run, bench.add_sample = state_of_run(bench.now), refuse
    with pytest.raises(InputError):
        timed_bucket(runs, bench, full="1650")
    assert runs.timer.look().step == WEIGH  # with all that was typed, to be mended
    assert runs.taken == before


def test_the_first_sample_of_all_can_fail_too(tmp_path):
    bench = FakeSession(tmp_path)
    runs = RunControl(bench, GeneratorWorkspace(bench))

    def refuse(weighing, time):
        raise InputError("the readings contradict each other")

    bench.run, bench.add_sample = state_of_run(bench.now), refuse
    for _ in range(2):
        with pytest.raises(InputError, match="contradict"):
            timed_bucket(runs, bench)
    assert runs.taken == ()


def trial_of(build, *samples, name="earlier"):
    return SimpleNamespace(build=build, samples=samples, path=Path(f"{name}.froth"), simulated=False)


def test_samples_belong_to_the_build_and_not_to_the_session(tmp_path):
    """Weighed on one build, neither the next run nor the prediction of another build has them as its own; weighed weeks
    ago on this one, whatever its sheet was called, both do.
    """
    bench = FakeSession(tmp_path)
    desk = GeneratorWorkspace(bench)
    desk.notice(bench.snapshot())
    runs = RunControl(bench, desk)
    given, heard = [], []
    start = bench.start_run
    bench.start_run = lambda *a, samples=(), **more: (given.append(samples), start(*a, **more))
    desk.know = lambda knowledge, *_: heard.append(knowledge)
    weighing = Weighing(0.020, 0.640, 1.790, 3.2)
    sample = evaluate(weighing, Estimate.normal(0.0095, 0.0003, "m3/s"))
    here = dataclasses.replace(desk.built, name="the one with the wide outlet", notes="rebuilt in May")
    other = desk.built.with_entry("outlet.bore", 0.020)
    runs.see(FolderView("own", tmp_path, look=1, ready=True, trials=(trial_of(other, sample),)))
    runs.start()
    runs.notice(bench.snapshot())
    assert given == [()]
    assert heard[-1].prior
    warm = here.with_entry("solution.temperature", 298.15).with_entry("reservoir.volume", 0.2)
    runs.see(FolderView("own", tmp_path, look=2, ready=True, trials=(trial_of(other, sample), trial_of(warm, sample))))
    runs.start()
    runs.notice(bench.snapshot())
    assert given[1] == (sample,)
    # 1790 - 640 g in 20 L are 57.5 kg/m3 of foam; of solution at 1000 and air at 1.2 kg/m3 that is 1 to 17.7
    assert heard[-1].expansion == pytest.approx(17.7, rel=0.03)
    # 20 L in 3.2 s are 6.25 L/s of foam, 5.9 L/s of them air, of 9.5 L/s
    assert heard[-1].capture == pytest.approx(0.62, rel=0.05)
    desk.open("")
    desk.edit({"outlet.bore": "54 mm"})
    desk.save("wide")
    runs.start()
    runs.notice(bench.snapshot())
    assert given[2] == ()
    assert heard[-1].prior


def test_a_trial_of_an_earlier_session_is_what_is_known_of_its_build(tmp_path):
    for suffix in (".froth", ".toml"):
        shutil.copy(season() / f"04-05-first-tube{suffix}", tmp_path)
    (tmp_path / "builds").mkdir()
    shutil.copy(season() / "builds" / "first-tube.toml", tmp_path / "builds")
    feed = Feed(FakeSession(tmp_path))
    end = monotonic() + 60.0
    while feed.desk.knowledge.prior and monotonic() < end:
        feed.update(Viewer(page="generator"), 1)
        sleep(0.05)
    # tub and jugs: 6890 - 2315 g in 60 L and 337 - 184.2 g in 2 L, 76.3 kg/m3; of solution at 1000 and air at 1.2
    # kg/m3 that is (1000 - 1.2)/(76.3 - 1.2) volumes of foam from one of solution
    assert feed.desk.knowledge.expansion == pytest.approx(13.3, rel=0.02)


def test_another_sheet_on_the_desk_does_not_keep_what_the_one_before_was_known_to_make(tmp_path):
    bench = FakeSession(tmp_path)
    desk = GeneratorWorkspace(bench)
    desk.notice(bench.snapshot())
    desk.know(FoamKnowledge(0.5, 0.02, 17.0, 0.4))
    desk.edit({"notes": "the same, with a word more"})
    desk.save("")
    assert desk.knowledge.expansion == 17.0
    desk.edit({"outlet.bore": "54 mm"})
    assert desk.knowledge.expansion == 17.0  # of the one that stands there
    desk.save("")
    assert desk.knowledge.prior


def test_a_simulated_reservoir_is_full_when_a_run_begins_and_can_be_filled_by_a_button(tmp_path):
    bench = FakeSession(tmp_path)
    runs = RunControl(bench, GeneratorWorkspace(bench))
    asked = []
    bench.simulation = SimpleNamespace(
        control=lambda *what: asked.append(what),
        faults=lambda: {"packing_blown": "the packing has left"},
        truth=lambda: {"faults": ()},
    )
    runs.start()
    assert asked == [("refill", "reservoir")]
    assert "run:refill" in str(blocks.fault_block(SimulatedFaults(True, {"packing_blown": "…"}, ())))
    assert "run:refill" not in str(blocks.fault_block(SimulatedFaults(False, {"leak_after": "…"}, ())))
    runs.refill()
    assert len(asked) == 2


@pytest.mark.parametrize("density", [75.0, float("nan")])
def test_the_bucket_of_a_simulated_rig_weighs_what_its_foam_weighs(tmp_path, density):
    """A visitor of the demo has no bucket: 20 L of 75 kg/m³ weigh 1500 g, and take 4 s at 5 L/s."""
    bench = FakeSession(tmp_path)
    bench.simulation = SimpleNamespace(truth=lambda: {"foam_density": density, "foam_rate": 5e-3})
    records = RunControl(bench, GeneratorWorkspace(bench)).samples
    foam = density > 0.0
    records.begin()
    assert (records.timer.look().container, records.timer.look().empty) == (("20 L", "640 g") if foam else ("", ""))
    records.press({})
    bench._began -= 9.0  # a visitor cannot see when it is full
    records.press({})
    at = records.timer.look()
    assert (at.full, at.fill, at.simulated) == (("2140 g", "4.0 s", True) if foam else ("", "", False))
    assert ("simulated bucket" in str(samples.timer_block(at, 20.0, (), "metric"))) == foam
    if foam:
        records.press({"full": at.full, "fill": at.fill})
        assert records.timer.look().step == DRAIN
        assert records.taken[-1].sample.density.value == pytest.approx(75.0, rel=1e-3)
        records.timer.end()
        records.begin()
        records.press({})
        assert not records.timer.look().simulated


def test_a_simulated_bucket_of_another_size_is_weighed_by_its_own_size(tmp_path):
    timer = SampleTimer()
    timer.begin("20 L", "640 g")
    timer.press(10.0, {"container": "1 gal", "empty": "2 lb"})
    timer.press(20.0, {})
    timer.weigh_simulated(100.0, 1e-3)
    assert timer.look().full == "1286 g"  # 907.2 g and 3.785 L of 100 kg/m³
    assert timer.look().fill_time == pytest.approx(3.785, abs=0.05)
    for container in ("", "tub"):
        timer = SampleTimer()
        timer.begin()
        timer.press(10.0, {"container": container, "empty": "640 g"})
        timer.press(20.0, {})
        timer.weigh_simulated(100.0, 1e-3)
        assert (timer.look().full, timer.look().simulated) == ("", False)
