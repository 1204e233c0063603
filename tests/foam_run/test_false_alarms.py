"""Alarms marked as false: the mark is in the recording, and is there again after the program was started again."""

import dataclasses
import math
from types import SimpleNamespace

import pytest
from fake_session import FakeSession, state_of_run
from waiting import until

from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.run_control import RunControl
from frothline.readings.false_alarms import FALSE_ALARM, false_alarm_note, false_alarms
from frothline.readings.marks import RecordedMark, marks
from frothline.recording.reader import load
from frothline.recording.sidecar import BEGINS
from frothline.recording.writer import RecordingWriter
from frothline.report.run import run_report
from frothline.rig.playback import PlaybackState
from frothline.run.watch.alarms import Alarm
from frothline.simulation.modelled import stream
from frothline.trials.notebook import open_notebook
from frothline.web.elements import words_of
from frothline.web.pages.notebook.trials import side_by_side


def alarm(number, code):
    return Alarm(number, code, "warning", "outlet", "title", "seen", "means", "do", 60.0 + number, 60.0)


ALARMS = tuple(alarm(number, code) for number, code in enumerate(("clogging", "thinning", "clogging"), 1))


@pytest.fixture
def run_file(tmp_path):
    """A recorded run with three alarms, the third of which was marked as false by the page's button."""
    bench = FakeSession(tmp_path)
    bench.run = state_of_run(50.0, alarms=ALARMS, log=ALARMS)
    bench.start_recording("evening")
    assert RunControl(bench, GeneratorWorkspace(bench)).false_alarm("3") == "Marked as a false alarm"
    kind, _, said = bench.calls[-1].partition(": ")
    writer = RecordingWriter.create(tmp_path, "evening", background=False)
    writer.write(stream("modelled://run?seed=2", 20.0)[0])
    writer.note("step", BEGINS["run"])
    for one in ALARMS:
        writer.alarm(one.severity, one.code, f"{one.title}: {one.seen}")
    writer.note(kind, said)
    writer.close()
    (tmp_path / "evening.toml").write_text('kind = "run"\ntitle = "Evening"\n')
    return writer.path


def after_a_restart(path, url, log=ALARMS):
    """The marks of a run of the replay, by a program that was just started."""
    bench = FakeSession(path.parent)
    real, bench.run = bench.snapshot, state_of_run(5.0, alarms=log, log=log)
    bench.snapshot = lambda: (now := real()) and dataclasses.replace(now, link=dataclasses.replace(now.link, port=url))
    runs = RunControl(bench, GeneratorWorkspace(bench))
    runs.false_alarms(bench.run)
    until(lambda: not runs._marked_earlier.working)
    return runs.false_alarms(bench.run)


def test_after_a_restart_the_replay_of_a_recording_has_its_marks_again(run_file):
    assert after_a_restart(run_file, f"replay://{run_file}?speed=4") == {3}


def test_the_marks_are_those_of_the_same_alarm_and_of_no_other(run_file):
    url = f"replay://{run_file}"
    assert after_a_restart(run_file, url, ALARMS[:2]) == frozenset()  # the second clogging has not come yet
    assert after_a_restart(run_file, url, (alarm(1, "clogging"), alarm(2, "clogging"))) == {2}
    assert after_a_restart(run_file, f"{url}?from=0.5") == frozenset()  # alarms before that are not counted
    assert after_a_restart(run_file, "/dev/ttyUSB0") == frozenset()
    assert after_a_restart(run_file, f"replay://{run_file}x") == frozenset()  # an unreadable file is no mark


def in_the_middle(path, log, *, played, now):
    """The marks of a run whose replay began in the middle: ``played`` s of the recording at session time ``now``."""
    bench = FakeSession(path.parent)
    bench.run = state_of_run(5.0, alarms=log, log=log)
    shown = bench.snapshot()
    link = dataclasses.replace(shown.link, port=f"replay://{path}?from=0.5")
    bench.snapshot = lambda: dataclasses.replace(shown, link=link, time=now)
    state = PlaybackState(path.name, played, 0.6, 1.0, False, False)
    bench.playback = lambda: SimpleNamespace(state=lambda: state)
    runs = RunControl(bench, GeneratorWorkspace(bench))
    runs.false_alarms(bench.run)
    until(lambda: not runs._marked_earlier.working)
    return runs.false_alarms(bench.run)


def test_a_replay_that_begins_in_the_middle_has_the_marks_of_alarms_at_their_time(run_file):
    recorded = [mark for mark in marks(load(run_file)) if mark.kind == "warning"][-1].time
    only = dataclasses.replace(alarm(1, "clogging"), time=900.0)  # the third of the recording is the first here
    there = {"played": recorded + 40.0, "now": 940.0}
    assert in_the_middle(run_file, (only,), **there) == {1}
    assert in_the_middle(run_file, (dataclasses.replace(only, time=925.0),), **there) == {
        1
    }  # seen later: a new baseline
    assert in_the_middle(run_file, (dataclasses.replace(only, time=935.0),), **there) == frozenset()
    assert in_the_middle(run_file, (dataclasses.replace(only, code="thinning"),), **there) == frozenset()
    two = (dataclasses.replace(only, time=880.0), dataclasses.replace(only, number=2, time=902.0))
    assert in_the_middle(run_file, two, **there) == {2}  # the nearest alone
    assert in_the_middle(run_file, (only,), played=recorded + 40.0, now=1040.0) == frozenset()


def test_a_trial_lists_the_alarms_of_its_run_and_which_were_marked_as_false(run_file):
    trial = open_notebook(run_file.parent).trial("evening")
    assert [text.partition(" ")[2] for text in trial.alarms] == [
        "title: seen",
        "title: seen",
        "title: seen (marked as a false alarm)",
    ]
    seen = SimpleNamespace(trials=(trial,), ready=True, place="own")
    words = " ".join(words_of(part) for part in side_by_side(seen, (), "metric") if part is not None)
    assert "Notes and alarms (" in words
    assert "marked as a false alarm" in words
    again = open_notebook(run_file.parent).trial("evening")  # from the cache
    assert again.alarms == trial.alarms


def test_the_report_of_the_run_says_which_alarm_was_marked(run_file):
    report = run_report(open_notebook(run_file.parent), "evening")
    rows = [row for row in (part.split("</tr>")[0] for part in report.html.split("<tr>")) if "seen" in row]
    assert ["marked as a false alarm" in row for row in rows] == [False, False, True]
    (found,) = report.data["false_alarms"]
    assert (found["code"], found["number"]) == ("clogging", 3)


def test_a_second_run_in_a_recording_has_its_own_alarm_1(run_file):
    begin = RecordedMark(0.0, "step", BEGINS["run"])
    raised = RecordedMark(1.0, "alarm", "clogging: title: seen")
    false = RecordedMark(2.0, FALSE_ALARM, false_alarm_note("clogging", 1))
    assert [one.place for one in false_alarms([begin, raised, begin, raised, false, false])] == [3]
    assert [one.place for one in false_alarms([begin, raised, false, begin, raised])] == [1]
    assert len(false_alarms(marks(load(run_file)))) == 1


@pytest.mark.parametrize(
    "note",
    [false_alarm_note("clogging", 2), false_alarm_note("clogging", 0), false_alarm_note("dry", 1), "clogging", ""],
)
def test_a_note_without_its_alarm_marks_nothing(note):
    raised = RecordedMark(math.nan, "alarm", "clogging: title: seen")
    assert false_alarms([RecordedMark(0.0, "step", BEGINS["run"]), raised, RecordedMark(1.0, FALSE_ALARM, note)]) == ()
