"""Sensors that fall silent during a run, and alarms that must agree with the figures beside them.

The line is that of test_watch_line: source p = 15 kPa - 3e5 q, generator p = 6e7 q2.
"""

import math

import numpy as np
import pytest
from builds import FIRST
from test_watch_line import BLOWER, LINE, meets
from waiting import until

from frothline.bench.session import Session
from frothline.readings.resample import TICK, Resampler, Tick
from frothline.run.foam_balance import FoamBalance
from frothline.run.foam_figures import figures_of
from frothline.run.reservoir_scale import ReservoirScale
from frothline.run.run import Run
from frothline.run.state import AIR_ALONE, DRY, FOAMING, PRIMING
from frothline.run.watch.alarm_kinds import ALARM, KINDS, NOTICE, WARNING
from frothline.run.watch.alarm_words import words_of
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.monitor import RunMonitor
from frothline.sensors.series import Series, Status
from frothline.web.run_summary import sounding

NAN = math.nan
OUT, BACK, END = 60.0, 90.0, 100.0  # s: the plug is out, is in again, the run ends
P, Q = meets()


class Line:
    """A sound line whose sensors fall silent at OUT and are back at BACK."""

    def __init__(self, *gone, from_start=(), saturated=False):
        rng = np.random.default_rng(11)
        self.watch = RunMonitor(FlowEstimates.of(BLOWER, LINE))
        self.words, self.active = {}, {}
        for k in range(round(END / TICK)):
            at = (k + 1) * TICK
            out = {*from_start, *(gone if OUT < at <= BACK else ())}
            reading = {
                "pressure": P * (1 + 0.001 * rng.normal()),
                "flow": Q * (1 + 0.003 * rng.normal()),
                "temperature": 310.0,
                "mass": 50.0 - 0.5 * at + 2e-3 * rng.normal(),
            }
            reading |= dict.fromkeys(out, NAN)
            full = saturated and "pressure" in out
            self.watch.feed([Tick(at, reading["pressure"], reading["flow"], reading["flow"], reading["temperature"],
                                  101325.0, reading["mass"], saturated=full)])  # fmt: skip
            self.words[round(at, 2)] = self.watch.phase_words
            self.active[round(at, 2)] = {alarm.code for alarm in self.watch.active}


def test_without_its_pressure_sensor_a_run_does_not_foam_steadily_and_somebody_is_called():
    line = Line("pressure")
    assert line.words[OUT] == "foaming steadily"
    assert line.words[OUT + 1.5] == "not monitoring: pressure sensor silent"
    assert line.words[BACK] == "not monitoring: pressure sensor silent"
    (alarm,) = line.watch.log
    assert (alarm.code, alarm.severity) == ("pressure_off", ALARM)  # with card and tone
    assert alarm.ended == pytest.approx(BACK + 1.0, abs=0.3)
    assert line.words[END] == "foaming steadily"


@pytest.mark.parametrize(
    ("gone", "codes", "words"),
    [
        (("flow",), {"anemometer_off"}, "monitoring the pressure only: anemometer silent"),
        (("temperature",), {"thermometer_off"}, "foaming steadily"),
        (("mass",), {"scale_off"}, "foaming steadily"),
        (
            ("pressure", "flow"),
            {"pressure_off", "anemometer_off"},
            "not monitoring: pressure sensor and anemometer silent",
        ),
        (("pressure", "temperature"), {"pressure_off", "thermometer_off"}, "not monitoring: pressure sensor silent"),
        (
            ("pressure", "flow", "temperature", "mass"),
            {"pressure_off", "anemometer_off", "thermometer_off", "scale_off"},
            "not monitoring: pressure sensor and anemometer silent",
        ),
    ],
)
def test_every_sensor_that_falls_silent_has_its_card_alone_and_with_others(gone, codes, words):
    line = Line(*gone)
    assert line.active[OUT + 20.0] == codes
    assert line.words[OUT + 20.0] == words
    assert line.active[END] == set()  # all are back
    assert line.words[END] == "foaming steadily"
    assert all(KINDS[code].severity in {ALARM, WARNING} for code in codes)


def test_a_sensor_that_was_never_there_is_no_alarm():
    for name in ("temperature", "mass"):
        assert Line(from_start=(name,)).watch.log == ()
    assert "not monitoring" not in Line(from_start=("pressure",)).watch.phase_words


def test_a_pressure_beyond_the_sensor_is_too_high_and_not_silent():
    line = Line("pressure", saturated=True)
    assert line.active[OUT + 10.0] == {"pressure_high"}


def test_a_pulled_plug_on_the_whole_path_is_said_with_a_tone(tmp_path):
    with Session("modelled://run-fed?seed=2&speed=20", tmp_path) as session:
        session.start(wait=True)
        session.start_run("evening", record=False)
        until(lambda: (run := session.snapshot().run) and run.phase == "foaming")
        session.simulation.control("fault", "pressure_unplugged")
        until(lambda: session.snapshot().run.phase_words == "not monitoring: pressure sensor silent")
        after = newest(session) + 5.0
        until(lambda: newest(session) > after)  # the flow is not known without the pressure, yet the rotor turns
        run = session.snapshot().run
        assert [alarm.code for alarm in run.alarms] == ["pressure_off"]
        assert run.phase_words == "not monitoring: pressure sensor silent"
        assert len(sounding(run)) == 1
        session.simulation.control("heal", "pressure_unplugged")
        until(lambda: not session.snapshot().run.alarms)


def test_pressure_sensor_and_anemometer_pulled_together_are_both_named(tmp_path):
    with Session("modelled://run-fed?seed=2&speed=20", tmp_path) as session:
        session.start(wait=True)
        session.start_run("evening", record=False)
        until(lambda: (run := session.snapshot().run) and run.phase == "foaming")
        session.simulation.control("fault", "pressure_unplugged")
        session.simulation.control("fault", "rotor_unplugged")
        both = "not monitoring: pressure sensor and anemometer silent"
        until(lambda: session.snapshot().run.phase_words == both)


def newest(session):
    return session.snapshot().latest["line_pressure"].time


# --- alarms and figures -----------------------------------------------------------------------------------------------


def refilled(*, load=45.0, poured=95.0, drawn=100.8):
    """A run whose reservoir of 45 kg was refilled with 95 kg and has given 100.8 kg: 39.2 kg are in it."""
    run = Run(build=FIRST, load=load)
    run.ledger.scale = ReservoirScale(refilled=poured, mass=60.0, noise=1e-3, seconds=600, _drawn=drawn)
    run._tell_what_is_left()
    return run


def test_the_share_that_an_alarm_tells_is_that_of_the_litres_beside_it():
    run = refilled()
    assert 1000.0 * figures_of(run.ledger, FOAMING).solution_left.value == pytest.approx(39.2, abs=0.1)
    assert run.watch.state.solution_share == pytest.approx(
        39.2 / 45.0, abs=0.001
    )  # and not 28 % of all that was poured


@pytest.mark.parametrize(
    ("code", "left", "drawn", "title"),
    [
        ("thinning", 0.05, 0.5, "foam getting too dry: solution nearly out"),
        ("thinning", 0.87, 0.5, "less solution is drawn"),
        ("thinning", NAN, 0.5, "foam getting too dry: solution nearly out"),  # no scale: pressure and flow tell
        ("dry", 0.01, 0.0, "reservoir dry"),
        ("dry", 0.87, 0.0, "no solution is drawn"),
        ("dry", 0.87, 0.6, "foam is not back yet"),
        ("dry", 0.02, 0.6, "foam is not back yet"),
        ("dry", NAN, NAN, "reservoir dry"),
    ],
)
def test_an_alarm_of_missing_solution_is_called_by_what_the_scale_shows(code, left, drawn, title):
    kind = words_of(code, left, drawn)
    assert (kind.code, kind.title) == (code, title)
    assert kind.severity == KINDS[code].severity != NOTICE
    assert kind.means.endswith(".")
    assert kind.do.endswith(".")


def test_an_alarm_that_lasts_says_what_is_left_now_and_not_when_it_was_raised():
    """Thinning at 5 % of the load; then 40 kg are poured in while the line still passes dry air."""
    watch = RunMonitor(FlowEstimates.of(BLOWER, LINE))
    at = 0.0
    for _ in range(1200):
        at += TICK
        watch.feed([Tick(at, P, Q, Q)])
    watch.state.solution_share = 0.05
    watch._solution.thinning()
    assert watch.active[0].title == "foam getting too dry: solution nearly out"
    assert watch.active[0].seen.endswith("5 % of the initial solution is left")
    number = watch.active[0].number
    watch.state.solution_share = 0.87
    for _ in range(20):
        at += TICK
        watch.feed([Tick(at, 0.7 * P, 1.2 * Q, 1.2 * Q)])
    (alarm,) = watch.active
    assert alarm.number == number
    assert alarm.seen.endswith("85 % of the initial solution is left")
    assert alarm.title == "less solution is drawn"
    assert alarm.mark == "draws less"
    assert watch.phase_words == "less solution is drawn"


@pytest.mark.parametrize("phase", [PRIMING, AIR_ALONE, DRY])
def test_time_to_go_is_not_said_to_be_unknown_for_want_of_solution_while_the_scale_falls(phase):
    ledger = weighed_ledger()
    output = figures_of(ledger, phase)
    assert output.solution_rate.value > 0.0
    assert output.time_left is None
    assert "no solution is drawn" not in output.why["time_left"]


def test_a_reservoir_that_is_called_dry_and_still_weighs_forty_kilograms_is_not_empty():
    ledger = weighed_ledger()
    ledger.emptied = True
    assert figures_of(ledger, DRY).solution_left.value == pytest.approx(ledger.left_by_scale / 1000.0, rel=0.01)


AIR, DRAW = 0.010, 0.8  # m3/s of air, kg/s of solution


def weighed_ledger(seconds=60.0, *, silent=0.0, flow=AIR):
    """A run on a scale that falls by 0.8 kg/s; then ``silent`` s in which the scale says nothing."""
    ledger, at = FoamBalance(FIRST, load=100.0), 0.0
    for k in range(round((seconds + silent) / TICK)):
        at = (k + 1) * TICK
        gone = at > seconds + 3.0  # a tick holds the last reading for three seconds
        mass = NAN if gone else 100.0 - DRAW * min(at, seconds)
        ledger.feed(Tick(at, 10e3, AIR, AIR if at <= seconds else flow, 310.0, 101325.0, mass), FOAMING)
    return ledger


def test_solution_goes_on_being_drawn_while_the_scale_is_silent():
    before = figures_of(weighed_ledger(), FOAMING)
    output = figures_of(weighed_ledger(silent=60.0), FOAMING)
    drawn = 1000.0 * (output.solution_used.value - before.solution_used.value)
    assert drawn == pytest.approx(60.0 * DRAW, rel=0.05)
    assert output.solution_used.standard_uncertainty > before.solution_used.standard_uncertainty
    assert output.solution_rate.value == pytest.approx(DRAW / 1000.0, rel=0.05)
    assert any("no signal from the scale" in words for words in output.assumptions)


def test_without_scale_and_anemometer_nobody_knows_what_is_left():
    output = figures_of(weighed_ledger(silent=30.0, flow=NAN), FOAMING)
    assert output.solution_left is None
    assert "no signal from the scale" in output.why["solution_used"]
    assert any("30 s of foam without a flow reading" in words for words in output.assumptions)


@pytest.mark.parametrize(("pressure", "codes"), [(P, ["anemometer_off"]), (100.0, [])])
def test_a_rotor_that_gave_no_pulse_since_the_start_is_named_once_the_line_has_pressure(pressure, codes):
    watch = RunMonitor(FlowEstimates.of(BLOWER, LINE))
    for k in range(round(30.0 / TICK)):
        at = (k + 1) * TICK
        watch.feed([Tick(at, pressure, NAN, NAN, 310.0, 101325.0, flow_unseen=True)])
        if at < 5.0:
            assert watch.log == ()  # a source that starts up brings pressure before the first pulse
    assert [alarm.code for alarm in watch.log] == codes


def test_ticks_carry_that_the_rotor_gave_no_pulse():
    t = np.arange(0.0, 0.2, 0.01)
    nothing = np.full(len(t), NAN)
    status = np.full(len(t), int(Status.MISSING | Status.UNSEEN), np.uint8)
    flow = Series("standard_flow", "m3/s", t, nothing, nothing, status)
    pressure = Series("line_pressure", "Pa", t, np.full(len(t), 5e3), np.full(len(t), 1.0), np.zeros(len(t), np.uint8))
    ticks = Resampler().feed({"line_pressure": pressure, "standard_flow": flow})
    assert all(tick.flow_unseen and math.isnan(tick.flow) and not tick.flow_silent for tick in ticks)


def test_an_anemometer_that_turns_is_not_called_silent_while_the_first_temperature_is_awaited():
    """A recording begins at rest and the air comes on within a second: a flow needs the air's temperature, which comes
    once a second. The rotor of this one turns from 0.8 s on, and its flow is known from 1.9 s on.
    """
    watch = RunMonitor(FlowEstimates.of(BLOWER, LINE))
    for k in range(round(20.0 / TICK)):
        at = (k + 1) * TICK
        pressure = 360.0 if at < 0.6 else P * (1 - math.exp(-(at - 0.6) / 0.4))
        flow = 0.0 if at < 0.8 else NAN if at < 1.9 else Q
        watch.feed([Tick(at, pressure, flow, flow, 310.0, 101325.0, flow_signal=at >= 0.85)])
    assert [alarm.code for alarm in watch.log] == []
