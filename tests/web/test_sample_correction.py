"""Saved samples corrected on the run page, without a browser.

Densities are checked by hand: net mass over volume.
"""

import dataclasses
import tomllib

import pytest
from fake_session import FakeSession, state_of_run
from test_run_page import text
from test_run_samples import entries, timed_bucket

from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.run_control import RunControl
from frothline.bench.sample_correction import drainage_figures, entry_texts, read_correction, wrong_entries
from frothline.errors import InputError, RecordingUnwritable, SampleQuestioned
from frothline.foam.sample import Weighing
from frothline.trials.sample_corrections import corrected_samples
from frothline.web.pages.run import correction, labels, samples


@pytest.fixture
def bench(tmp_path):
    return FakeSession(tmp_path)


def key(taken):
    return correction.key_of(taken)


def recorded(bench):
    """A sample of 20 L with 1790 - 640 g in a running recording, 3.2 s to fill."""
    bench.start_recording("run-1")
    bench._recording = (bench._recording[0], bench.now - 100.0)
    runs = RunControl(bench, GeneratorWorkspace(bench))
    timed_bucket(runs, bench)
    runs.discard()
    return runs, bench.folder / "run-1.toml"


def form(runs, wish=None, now=None):
    return correction.correction_block(
        runs.taken,
        {correction.CORRECTING: (runs.taken[0].key,), **(wish or {})},
        runs.timer.look(),
        runs._session.now if now is None else now,
        runs.samples.questions,
    )


def test_every_entry_of_a_saved_sample_can_be_corrected(bench):
    runs, path = recorded(bench)
    was = entry_texts(runs.taken[0])
    assert (was["full"], was["empty"], was["container"]) == ("1790 g", "640 g", "20 L")
    assert float(was["end"].split()[0]) - float(was["start"].split()[0]) == pytest.approx(3.2, abs=0.11)
    typed = {"full": "2 kg", "empty": "600", "container": "19 L", "depth": "300", "note": "wet outside"}
    typed |= {"drained": "60 s: 14; 2 min: 0.03 L"}
    said = runs.samples.correct(key(runs.taken[0]), typed)
    assert "saved in run-1.toml" in said
    weighing = runs.taken[0].weighing
    assert (weighing.full, weighing.empty, weighing.container_volume) == pytest.approx((2.0, 0.6, 0.019))
    assert (weighing.depth, weighing.note) == (pytest.approx(0.3), "wet outside")
    assert weighing.drained == ((60.0, pytest.approx(14e-6)), (120.0, pytest.approx(30e-6)))
    assert runs.taken[0].sample.density.value == pytest.approx(1.4 / 0.019)
    (found,) = corrected_samples(tomllib.loads(path.read_text()))
    assert found.noted.weighing.full == pytest.approx(2.0)
    assert found.noted.weighing.drained == weighing.drained
    assert found.original["full"] == "1790 g"


@pytest.mark.parametrize(
    ("typed", "end", "took"),
    [
        ({"fill": "2.2"}, 0.0, 2.2),  # the end stays
        ({"end": -1.0}, -1.0, 2.2),  # the start stays
        ({"start": -4.2}, 0.0, 4.2),
        ({"start": -5.0, "end": -1.0}, -1.0, 4.0),
        ({"fill": "2", "end": -1.0}, -1.0, 2.0),
        ({"fill": "2", "start": -4.2}, -2.2, 2.0),
        ({"fill": "not timed"}, 0.0, None),
        ({"start": ""}, 0.0, None),
    ],
)
def test_of_start_end_and_fill_time_the_one_that_was_not_changed_follows(bench, typed, end, took):
    """Times are given from the full bucket, in s."""
    runs, _ = recorded(bench)
    old = dataclasses.replace(
        runs.taken[0], at=90.0, weighing=dataclasses.replace(runs.taken[0].weighing, fill_time=3.2)
    )
    texts = {name: value if isinstance(value, str) else f"{90.0 + value:.1f} s" for name, value in typed.items()}
    found = read_correction(old, texts, 10.0)
    assert found.later == pytest.approx(end)
    assert found.weighing.fill_time == (None if took is None else pytest.approx(took))


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ({"full": ""}, "full"),
        ({"full": "heavy"}, "full"),
        ({"full": "600 g"}, "full"),
        ({"empty": "5 lb of tin"}, "empty"),
        ({"container": "0"}, "container"),
        ({"fill": "a while"}, "fill"),
        ({"fill": "0"}, "fill"),
        ({"start": "95 s"}, "start"),
        ({"end": "later"}, "end"),
        ({"end": "9000 s"}, "end"),
        ({"start": "80 s", "end": "90 s", "fill": "3 s"}, "fill"),
        ({"depth": "-3"}, "depth"),
        ({"drained": "much"}, "drained"),
        ({"drained": "60 s: 2 L"}, "drained"),
    ],
)
def test_a_wrong_entry_is_refused_at_its_field_and_its_text_stays(bench, typed, name):
    runs, path = recorded(bench)
    before, file = runs.taken, path.read_text()
    if "start" in typed or "end" in typed:
        made = dataclasses.replace(runs.taken[0], at=90.0)
        runs.samples._taken = before = (made,)
    with pytest.raises(InputError):
        runs.samples.correct(key(before[0]), typed)
    assert (runs.taken, path.read_text()) == (before, file)
    assert list(wrong_entries(before[0], typed, 10.0)) == [name]
    settings = {correction.setting_of(before[0], one): (value,) if value else () for one, value in typed.items()}
    shown = form(runs, settings, before[0].time + 10.0)
    wrong = [entry for piece in shown for entry in entries(piece) if entry[1].get("data-is") == "wrong"]
    (field,) = [part[1] for part in wrong[0][2:] if part[0] == "input"]
    assert field["name"] == name
    assert field["value"] == typed.get(name, field["value"])
    assert wrong[0][-1][2] != ""


def test_three_times_that_agree_within_their_last_digit_are_taken(bench):
    runs, _ = recorded(bench)
    old = dataclasses.replace(runs.taken[0], at=90.0)
    assert read_correction(old, {"start": "80 s", "end": "83 s", "fill": "3.05"}, 10.0).weighing.fill_time == 3.05
    with pytest.raises(InputError, match=r"from start to full are 3\.0 s"):
        read_correction(old, {"start": "80 s", "end": "83 s", "fill": "3.2"}, 10.0)


def test_what_was_typed_stays_after_a_reload_and_says_that_it_is_not_saved_yet(bench):
    runs, _ = recorded(bench)
    shown = form(runs, {correction.setting_of(runs.taken[0], "full"): ("1800 g",)})
    assert "'value': '1800 g'" in str(shown)
    assert "not saved yet; was 1790 g" in text(shown)
    runs.samples.correct(key(runs.taken[0]), {"full": "1800 g"})
    assert "not saved yet" not in text(form(runs, {correction.setting_of(runs.taken[0], "full"): ("1800 g",)}))
    assert "corrected once" in text(form(runs))


def test_a_sample_can_be_withdrawn_corrected_and_counted_again(bench):
    runs, path = recorded(bench)
    runs.samples.count_sample(key(runs.taken[0]), counts=False)
    assert runs.samples.counted == ()
    assert "Sample 1, withdrawn" in text(samples.result_block(runs.taken, "metric"))
    assert runs.samples_of(runs._desk.built) == ()
    runs.samples.correct(key(runs.taken[0]), {"full": "2 kg"})
    assert runs.samples.counted == ()
    runs.samples.count_sample(key(runs.taken[0]), counts=True)
    assert runs.samples.counted[0].sample.density.value == pytest.approx(68.0)  # (2000 - 640) g in 20 L
    (found,) = corrected_samples(tomllib.loads(path.read_text()))
    assert (found.counts, found.corrections) == (True, 3)


def test_a_correction_after_the_end_of_the_recording_is_saved_with_it(bench):
    runs, path = recorded(bench)
    bench.stop_recording()
    runs.samples.correct(key(runs.taken[0]), {"full": "2 kg"})
    runs.samples.correct(key(runs.taken[0]), {"empty": "700 g"})
    (found,) = corrected_samples(tomllib.loads(path.read_text()))
    assert (found.noted.weighing.full, found.noted.weighing.empty) == pytest.approx((2.0, 0.7))
    assert found.original["empty"] == "640 g"


def test_of_two_pages_the_second_is_told_that_the_sample_was_corrected_meanwhile(bench):
    runs, _ = recorded(bench)
    seen = key(runs.taken[0])
    runs.samples.correct(seen, {"full": "2 kg"})
    with pytest.raises(InputError, match="on another page"):
        runs.samples.correct(seen, {"full": "1.8 kg"})
    with pytest.raises(InputError, match="not of this session"):
        runs.samples.correct("0/0", {"full": "1.8 kg"})


def test_a_file_that_cannot_be_written_leaves_sample_and_run_as_they_were(bench, monkeypatch):
    bench.run = state_of_run(bench.now)
    runs, path = recorded(bench)
    path.write_text('[[sample]]\nat = "90 s"\ncontainer = "20 L"\nempty = "640 g"\nfull = "1790 g"\n')
    runs.samples._taken = (dataclasses.replace(runs.taken[0], place=path, number=1),)
    before, weighing = runs.taken, bench.run.samples[0].weighing

    def refuse(*_):
        raise RecordingUnwritable("the disk is full")

    monkeypatch.setattr("frothline.bench.sample_records.append_correction", refuse)
    with pytest.raises(RecordingUnwritable):
        runs.samples.correct(key(before[0]), {"full": "2 kg"})
    assert runs.taken == before
    assert bench.run.samples[0].weighing.full == weighing.full


def test_a_correction_that_contradicts_the_run_is_asked_about_in_its_form_and_can_be_confirmed(bench):
    bench.run = state_of_run(bench.now)
    runs, _ = recorded(bench)
    correct = bench.correct_sample

    def asks(number, weighing, time, *, counts=True):
        if not weighing.confirmed:
            raise SampleQuestioned("20 L in 31.0 s: the other samples give 3.2 s.", where="sample")
        return correct(number, weighing, time, counts=counts)

    bench.correct_sample = asks
    with pytest.raises(SampleQuestioned):
        runs.samples.correct(key(runs.taken[0]), {"fill": "31 s"})
    shown = text(form(runs))
    assert "the other samples give 3.2 s" in shown
    assert "Use it as it is" in shown
    runs.samples.correct(key(runs.taken[0]), {"fill": "31 s"}, confirmed=True)
    assert runs.taken[0].weighing.confirmed
    assert "Use it as it is" not in text(form(runs))


def test_readings_of_the_drained_liquid_go_on_after_the_weighing_was_corrected(bench):
    bench.start_recording("run-1")
    runs = RunControl(bench, GeneratorWorkspace(bench))
    timed_bucket(runs, bench)
    assert "Drained liquid" not in text(form(runs))  # the timer still reads it
    runs.samples.correct(key(runs.taken[0]), {"full": "2 kg"})
    bench._began -= 60.0
    runs.press({"drained": "14 mL"})
    assert runs.taken[0].weighing.full == pytest.approx(2.0)
    assert len(runs.taken[0].weighing.drained) == 1
    (found,) = corrected_samples(tomllib.loads((bench.folder / "run-1.toml").read_text()))
    assert (found.noted.weighing.full, len(found.noted.weighing.drained)) == (pytest.approx(2.0), 1)


def test_without_a_recording_a_correction_says_that_it_is_in_this_session_only(bench):
    runs = RunControl(bench, GeneratorWorkspace(bench))
    timed_bucket(runs, bench)
    runs.discard()
    assert "in this session only" in runs.samples.correct(key(runs.taken[0]), {"full": "2 kg"})
    assert runs.taken[0].weighing == dataclasses.replace(
        Weighing(0.020, 0.640, 2.0), fill_time=pytest.approx(3.2, abs=0.1)
    )


# (time s, drained mL) of v = V t^n / (c + t^n) with V the 1152 mL of 1150 g solution and the air's buoyancy, n = 1.5, half
# time 600 s: by hand 25 % at 600 (1/3)^(1/1.5) = 288 s, 50 % at 600 s.
READINGS = {120: 94, 240: 232, 480: 481, 960: 772}


def curve_text(runs, drained, system="metric", **more):
    name = correction.setting_of(runs.taken[0], "drained")
    wish = {name: (drained,)} | {correction.setting_of(runs.taken[0], key): (one,) for key, one in more.items()}
    body = correction.correction_block(
        runs.taken,
        {correction.CORRECTING: (runs.taken[0].key,), **wish},
        runs.timer.look(),
        runs._session.now,
        {},
        system,
    )
    return text(body)


def test_the_readings_of_a_sample_give_the_drainage_curve_before_they_are_saved(bench):
    runs, _ = recorded(bench)
    typed = "; ".join(f"{time} s: {volume} mL" for time, volume in READINGS.items())
    found = drainage_figures(read_correction(runs.taken[0], {"drained": typed}, 1e4).weighing)[0]
    assert found.quarter.value == pytest.approx(288, rel=0.02)
    assert found.half.value == pytest.approx(600, rel=0.02)
    said = curve_text(runs, typed)
    assert labels.DRAINAGE_TABLE in said
    assert labels.NO_DEPTH in said
    assert "extrapolated" not in said
    deep = read_correction(runs.taken[0], {"drained": typed, "depth": "300"}, 1e4).weighing
    assert drainage_figures(deep)[0].rate.value == pytest.approx(0.300 / 288, rel=0.02)
    assert labels.NO_DEPTH not in curve_text(runs, typed, depth="300")
    assert "mm/h" in curve_text(runs, typed, depth="300")
    assert "in/h" in curve_text(runs, typed, "inch-pound", depth="300 mm")
    runs.samples.correct(key(runs.taken[0]), {"drained": typed})
    assert runs.taken[0].sample.half_drainage.value == pytest.approx(found.half.value)
    assert labels.DRAINAGE_TABLE in text(form(runs))


def test_a_time_after_the_last_reading_is_marked_as_extrapolated(bench):
    runs, _ = recorded(bench)
    said = curve_text(runs, "120 s: 94; 240 s: 232; 280 s: 277")
    assert "The 25 % time is after the last reading: it is extrapolated." in said
    assert "The 50 % time is after the last reading: it is extrapolated." in said


@pytest.mark.parametrize(
    ("drained", "said"),
    [("120 s: 94; 240 s: 232", "Give 3 or more"), ("60 s: 0; 120 s: 0; 180 s: 0", "Wait for the first liquid")],
)
def test_readings_without_a_curve_say_what_they_lack(bench, drained, said):
    runs, _ = recorded(bench)
    assert said in curve_text(runs, drained)
    assert labels.DRAINAGE_TABLE not in curve_text(runs, drained)


def test_no_readings_and_wrong_ones_show_no_curve(bench):
    runs, _ = recorded(bench)
    for drained in ("", "soon: 4 mL", "60 s: 20; 120 s: 10"):
        said = curve_text(runs, drained)
        assert labels.DRAINAGE_TABLE not in said
        assert "Give 3 or more" not in said


def test_readings_are_typed_as_at_the_prompt_too(bench):
    runs, _ = recorded(bench)
    for typed in ("60s=4mL 120s=9mL", "60 s = 4 mL; 120 s = 9 mL", "60 s: 4; 2 min: 9", "60s=4mL\t2min=9"):
        found = read_correction(runs.taken[0], {"drained": typed}, 1e4).weighing.drained
        assert found == ((60.0, pytest.approx(4e-6)), (120.0, pytest.approx(9e-6))), typed
    for typed in ("60s=4mL 120s", "=4mL", "60s="):
        with pytest.raises(InputError, match="Drained liquid"):
            read_correction(runs.taken[0], {"drained": typed}, 1e4)
