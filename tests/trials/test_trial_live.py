"""From a live run to a trial: what was weighed while the foam was made stands beside the recording afterwards."""

from dataclasses import replace

import pytest
from builds import FIRST
from waiting import simulated_time_passes

from frothline.bench.session import Session
from frothline.errors import SampleQuestioned
from frothline.foam.sample import Weighing
from frothline.trials.notebook import open_notebook


def test_a_live_run_with_its_samples_is_a_trial_as_soon_as_it_has_ended(tmp_path):
    build = replace(FIRST, name="evening tube")
    with Session("modelled://run?seed=4&speed=4", tmp_path) as session:
        session.start(wait=True)
        session.start_run("evening", {"air_source": "motor", "solution_batch": "A"}, build=build)
        simulated_time_passes(session, 20.0)
        session.add_sample(Weighing(0.060, 2.3, 6.6, 8.0, note="tub"))
        session.stop_run()
    (trial,) = open_notebook(tmp_path).trials
    assert trial.problems == ()
    assert trial.build == build  # the sheet as it was then, whatever becomes of the file
    assert (trial.air_source, trial.solution_batch) == ("motor", "A")
    assert trial.simulated
    assert len(trial.samples) == 1
    assert abs(trial.density.value - (6.6 - 2.3) / 0.060) < 1e-9
    assert trial.used.why == "while the timed sample was filled"
    assert any("tub" in one for one in trial.notes)  # and in the recording itself, should the file beside it be lost


@pytest.mark.exhaustive
def test_a_sample_that_is_asked_about_is_no_sample_of_the_trial_but_its_readings_are_in_the_recording(tmp_path):
    """A tub that is full in 8 s, timed to 64 s."""
    with Session("modelled://run?seed=4&speed=4", tmp_path) as session:
        session.start(wait=True)
        session.start_run("evening", build=FIRST)
        simulated_time_passes(session, 20.0)
        with pytest.raises(SampleQuestioned, match="late press"):
            session.add_sample(Weighing(0.060, 2.3, 6.6, 64.0))
        assert any(mark.text.startswith("not used yet: container 60 L") for mark in session.snapshot().marks)
        session.add_sample(Weighing(0.060, 2.3, 6.6, 8.0))
        session.stop_run()
    (trial,) = open_notebook(tmp_path).trials
    assert len(trial.samples) == 1
    assert trial.problems == ()
    assert any("64 s" in one for one in trial.notes)
