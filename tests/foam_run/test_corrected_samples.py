"""Samples of a run corrected or withdrawn: every figure of the run follows, also after its end.

The check is the run itself with the right readings from the beginning: both must give the same figures.
"""

import pytest
from test_run_output import series

from frothline.bench.live_run import LiveRun
from frothline.errors import InputError, SampleQuestioned
from frothline.foam.sample import Weighing
from frothline.run.run import Run, slices

RIGHT = Weighing(0.020, 0.640, 1.790, 9.0)
WRONG = Weighing(0.020, 0.640, 1.590, 9.0)  # a kilogram scale read 200 g too low
OTHER = Weighing(0.010, 0.300, 0.880, 4.6)


def run_with(*weighings):
    run = Run()
    for batch in slices(series()):
        run.feed(batch)
    for weighing in weighings:
        run.add_sample(weighing, 30.0)
    return run


def figures(run):
    output = run.state.output
    return {name: getattr(output, name) for name in ("density", "expansion", "capture", "foam_total", "foam_left")}


def same(one, other):
    for name, estimate in figures(one).items():
        wanted = figures(other)[name]
        assert (estimate is None) == (wanted is None), name
        if estimate is not None:
            assert estimate.value == pytest.approx(wanted.value), name
            assert estimate.standard_uncertainty == pytest.approx(wanted.standard_uncertainty), name


@pytest.mark.parametrize("ended", [False, True])
def test_a_corrected_sample_gives_the_figures_of_the_right_one(ended):
    run, right = run_with(WRONG, OTHER), run_with(RIGHT, OTHER)
    if ended:
        run.stop()
        right.stop()
    run.correct_sample(1, RIGHT)
    same(run, right)
    assert [one.weighing for one in run.state.samples] == [RIGHT, OTHER]


def test_two_corrections_in_a_row_leave_the_last_one():
    run = run_with(RIGHT, OTHER)
    run.correct_sample(1, WRONG)
    run.correct_sample(1, RIGHT)
    same(run, run_with(RIGHT, OTHER))


def test_a_withdrawn_sample_is_as_if_it_had_not_been_weighed_until_it_counts_again():
    run = run_with(WRONG, OTHER)
    run.correct_sample(1, WRONG, counts=False)
    same(run, run_with(OTHER))
    assert [one.number for one in run.state.samples] == [2]
    run.correct_sample(1, RIGHT, counts=False)  # a withdrawn sample can be corrected
    same(run, run_with(OTHER))
    run.correct_sample(1, RIGHT)
    same(run, run_with(RIGHT, OTHER))


def test_a_sample_moved_in_time_takes_the_air_of_the_new_time():
    run, there = run_with(RIGHT), Run()
    for batch in slices(series()):
        there.feed(batch)
    there.add_sample(RIGHT, 20.0)
    run.correct_sample(1, RIGHT, 20.0)
    same(run, there)
    assert run.state.samples[0].time == 20.0


def test_a_sample_older_than_the_stored_air_keeps_the_air_it_was_weighed_with():
    run = run_with(WRONG)
    air = run.state.samples[0].air
    run._air.clear()
    run.correct_sample(1, RIGHT)
    same(run, run_with(RIGHT))
    assert run.state.samples[0].air == air


def test_a_correction_that_contradicts_the_run_is_asked_about_and_changes_nothing():
    run = run_with(RIGHT, OTHER)
    late = Weighing(0.020, 0.640, 1.790, 29.0)
    with pytest.raises(SampleQuestioned):
        run.correct_sample(1, late)
    same(run, run_with(RIGHT, OTHER))
    run.correct_sample(1, Weighing(0.020, 0.640, 1.790, 29.0, confirmed=True))
    assert run.state.samples[0].weighing.fill_time == 29.0
    with pytest.raises(InputError, match="no sample 3"):
        run.correct_sample(3, RIGHT)


def test_the_last_run_of_a_session_can_be_corrected_after_its_stop():
    live, run = LiveRun(), run_with(WRONG)
    with pytest.raises(InputError, match="no run yet"):
        live.correct_sample(1, RIGHT)
    live.start(run)
    live.stop()
    live.correct_sample(1, RIGHT)
    assert live.state.samples[0].weighing == RIGHT
    assert not live.state.running
