"""The run page without a browser: the run, its alarms and its buttons."""

import dataclasses
import json
import re
from html import unescape
from types import SimpleNamespace

import pytest
from fake_session import FakeSession, state_of_run

from frothline.bench import snapshot
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.run_control import RunControl
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.run.state import PHASES
from frothline.run.watch.alarm_kinds import ALARM, KINDS
from frothline.run.watch.alarms import Alarm
from frothline.simulation.options import with_scenario
from frothline.web import document, line_diagram, run_summary
from frothline.web.elements import words_of
from frothline.web.pages import links
from frothline.web.pages.run import blocks


def alarm(code, *, number=1, **more):
    kind = KINDS[code]
    row = {"number": number, "code": code, "severity": kind.severity, "place": kind.place, "title": kind.title}
    return Alarm(**row, seen="60 % less resistance", means=kind.means, do=kind.do, time=31.0, onset=30.6, **more)


def text(pieces):
    return " ".join(words_of(piece) for piece in pieces if piece is not None)


@pytest.mark.parametrize("code", KINDS)
def test_every_alarm_has_its_place_on_the_line(code):
    run = state_of_run(50.0, alarms=(alarm(code),))
    (fault,) = run_summary.faults(run)
    assert fault.place in line_diagram.SPOTS
    assert KINDS[code].title.startswith(fault.word)  # at a joint the mark itself says which one
    assert f'data-state="fault-{fault.place}"' in line_diagram.drawing(links())


def test_an_alarm_says_what_was_seen_what_it_means_and_what_to_do():
    said = text(blocks.alarm_block(state_of_run(50.0, alarms=(alarm("packing_blown"),))))
    for part in (KINDS["packing_blown"].title.capitalize(), "60 % less resistance", KINDS["packing_blown"].means):
        assert part in said
    assert KINDS["packing_blown"].do in said


def test_foam_is_a_dash_with_its_reason_while_the_packing_is_out():
    texts = run_summary.figures(state_of_run(50.0, alarms=(alarm("packing_blown"),)), "metric")
    assert texts["run-foam_rate"] == "–"
    assert texts["run-foam_rate-under"] == "packing blown out"
    assert texts["run-foam_total"] != "–"  # what was made before stays made


def test_nothing_goes_well_while_an_alarm_lasts():
    for code, kind in KINDS.items():
        run = state_of_run(50.0, alarms=(alarm(code),), phase_words="foaming steadily")
        said = run_summary.figures(run, "metric")["run-phase"].lower()
        loud = f"not monitoring: {kind.title}" if code == "pressure_off" else kind.title
        assert said == (loud if kind.severity == ALARM else "foaming steadily"), code
    assert run_summary.figures(state_of_run(50.0), "metric")["run-phase"] == "Foam comes steadily"


def test_the_gravest_alarm_is_ready_to_stand_over_whole_pages_and_a_warning_is_not():
    both = (alarm("joint_off_after"), alarm("clogging"))

    def over(**changes):
        return run_summary.over_everything(SimpleNamespace(run=state_of_run(50.0, **changes), link=link))

    link = SimpleNamespace(state=snapshot.LIVE)
    assert over(alarms=both) == {
        "over-title": KINDS["joint_off_after"].title,
        "over-do": KINDS["joint_off_after"].do,
    }
    assert not any(over(alarms=both[1:]).values())
    assert not any(over(alarms=both, running=False).values())
    link.state = snapshot.LOST
    assert over()["over-title"] == "USB cable unplugged"


def test_each_alarm_that_sounds_has_a_name_of_its_own():
    first = run_summary.sounding(state_of_run(50.0, alarms=(alarm("dry"), alarm("thinning"))))
    assert len(first) == 1  # thinning is a warning
    assert first != run_summary.sounding(state_of_run(90.0, alarms=(alarm("dry"),)))  # of another run
    assert run_summary.sounding(None) == []


def test_the_foam_that_was_good_is_told_beside_the_growing_total():
    run = state_of_run(50.0, alarms=(alarm("dry"),), log=(alarm("dry"),))
    run = dataclasses.replace(run, output=dataclasses.replace(run.output, foam_good=Estimate.normal(0.17, 0.01, "m3")))
    said = run_summary.figures(run, "metric")["run-good"]
    assert (
        said == "Good foam until “reservoir dry” at 0:10: 170 L (150 to 190)."
    )  # its onset, 30.6 s, less the start, 20 s
    assert run_summary.figures(state_of_run(50.0), "metric")["run-good"] == ""
    nothing = state_of_run(50.0, log=(alarm("packing_blown"),))
    assert "No good foam" in run_summary.figures(nothing, "metric")["run-good"]


def test_foam_of_a_run_that_still_primes_is_called_an_estimate():
    primes = run_summary.figures(state_of_run(50.0, phase="priming"), "metric")
    assert primes["run-foam_total-under"].startswith("estimate while priming: ")
    assert "estimate" not in run_summary.figures(state_of_run(50.0), "metric")["run-foam_total-under"]


def test_air_is_in_cubic_feet_for_those_who_use_inches():
    run = state_of_run(50.0)
    run = dataclasses.replace(run, output=dataclasses.replace(run.output, air_used=Estimate.normal(2.64, 0.05, "m3")))
    assert "93.2 ft³" in text(blocks.more_block(run, "", "inch-pound"))  # 2.64 / 0.028316846592, NIST SP 811 B.8


def test_figures_of_a_run_come_with_their_intervals_in_the_readers_units():
    """0.36/60 m³/s are 360 L/min and, at 3.785411784 L to the gallon, 95.1 gal/min."""
    texts = run_summary.figures(state_of_run(50.0), "metric")
    assert (texts["run-foam_rate"], texts["run-foam_rate-unit"]) == ("360", "L/min")
    assert (texts["run-time_left"], texts["run-time_left-under"]) == ("2:30", "1:40 to 3:20")
    assert texts["run-time_left-unit"] == "min"
    texts = run_summary.figures(state_of_run(50.0), "inch-pound")
    assert float(texts["run-foam_rate"]) == pytest.approx(95.1, abs=1.0)
    assert run_summary.figures(None, "metric")["run-foam_rate-under"] == "no run yet"


def test_every_phase_has_its_word():
    assert set(run_summary.PHASES) == set(PHASES)


def test_the_simulated_rig_makes_foam_with_the_source_that_was_swept():
    assert with_scenario("modelled://sweep?seed=4&speed=2", "run") == "modelled://run?seed=4&speed=2&source=vacuum"
    assert with_scenario("emulated://sweep-hump?seed=1", "run") == "emulated://run?seed=1&source=hump"
    with pytest.raises(InputError, match="real"):
        with_scenario("/dev/ttyUSB0", "run")


# --- the buttons


def run_control(tmp_path, **changes):
    bench = FakeSession(tmp_path)
    runs = RunControl(bench, GeneratorWorkspace(bench))
    bench.run = state_of_run(50.0, **changes)
    return bench, runs


def test_a_false_alarm_is_noted_with_its_code_once_and_only_for_this_run(tmp_path):
    """Later evaluation finds the alarm by its code and its number in the run."""
    both = (alarm("packing_blown"), dataclasses.replace(alarm("clogging"), number=2))
    bench, runs = run_control(tmp_path, alarms=both, log=both)
    bench.start_recording()
    assert runs.false_alarm("2") == "Marked as a false alarm"
    assert bench.calls[-1] == "false alarm: clogging: alarm 2 of this run marked as false"
    count = len(bench.calls)
    assert runs.false_alarm("2") == "Already marked as a false alarm"
    assert len(bench.calls) == count
    assert runs.false_alarms(bench.run) == {2}
    assert runs.false_alarms(state_of_run(900.0)) == frozenset()  # another run has its own alarm 2
    assert runs.false_alarms(None) == frozenset()
    for wrong in ("3", "", "two"):
        with pytest.raises(InputError, match="no alarm"):
            runs.false_alarm(wrong)


def test_a_mark_without_a_recording_is_called_unrecorded(tmp_path):
    both = (alarm("packing_blown"),)
    _, runs = run_control(tmp_path, alarms=both, log=both)
    assert runs.false_alarm("1").endswith("no recording is running")
    assert runs.refilled() == "Refill noted; no recording is running"


def test_an_alarm_marked_as_false_stays_below_the_others_without_its_colour(tmp_path):
    both = (alarm("packing_blown"), dataclasses.replace(alarm("clogging"), number=2))
    run = state_of_run(50.0, alarms=both, log=both)
    first, second = blocks.alarm_block(run, {1})
    assert (first[1]["class"], second[1]["class"]) == ("alarm warning", "alarm notice")
    assert "Marked as a false alarm" in text([second])
    assert "Marked" not in text([first])
    assert "run:false-alarm:2" in str(blocks.button_block(run, None, "", {1}))  # the button is for the first one shown
    assert "run:false-alarm" not in str(blocks.button_block(run, None, "", {1, 2}))
    assert "false alarm" in text(blocks.log_block(run, {2}))
    assert "false alarm" not in text(blocks.log_block(run))


def test_a_refill_is_noted_in_the_recording_of_a_real_rig_and_poured_in_at_a_simulated_one(tmp_path):
    bench, runs = run_control(tmp_path)
    bench.start_recording()
    assert runs.refilled() == "Refill noted"
    assert bench.calls[-1] == "refill: reservoir refilled"
    asked = []
    bench.simulation = SimpleNamespace(
        control=lambda *what: asked.append(what),
        faults=lambda: {"packing_blown": "the packing has left"},
        truth=lambda: {"faults": ()},
    )
    assert runs.refilled() == "Reservoir refilled"
    assert asked == [("refill", "reservoir")]


def test_a_run_takes_its_name_at_the_start_and_none_is_needed(tmp_path):
    bench, runs = run_control(tmp_path)
    runs.start("longer packing")
    assert bench.calls[-1] == "start_run longer packing"
    runs.start()
    assert bench.calls[-1] == "start_run"
    field = next(one for one in blocks.button_block(None, None, "") if "run-name" in str(one))
    assert "Run name" in text([field])
    assert "run-name" not in str(blocks.button_block(state_of_run(50.0), None, ""))


def test_every_button_of_a_run_keeps_its_place_whether_there_is_an_alarm_or_not():
    def words(**changes):
        (actions, stop) = blocks.button_block(state_of_run(50.0, **changes), None, "")
        return [words_of(one) for one in (*actions[2:], stop)]

    assert words() == words(alarms=(alarm("packing_blown"),)) == ["Refilled", "Silence", "False alarm", "Stop the run"]


def test_the_former_address_of_the_page_still_leads_to_it():
    found = document.index_string(links(), "")
    names = json.loads(unescape(re.search(r'data-pages="([^"]*)"', found)[1]))
    assert names["/bucket"] == names["/run"] == "run"
    assert names["/batch"] == "batch"
