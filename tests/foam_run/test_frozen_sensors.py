"""Sensors that repeat their last reading. The line is that of test_watch_line: p = 15 kPa - 3e5 q meets p = 6e7 q2.

That a hanging bus or cable repeats a value is common practice, no source. The noise here is drawn; each length that is
checked follows from the stated rule by hand: 5 s, or five times the longest stretch before.
"""

import math

import numpy as np
import pytest
from builds import FIRST
from test_watch_line import BLOWER, LINE, meets

from frothline.readings.resample import TICK, Tick
from frothline.run.frozen_sensors import FrozenSensors
from frothline.run.run import Run
from frothline.run.watch.flow_estimates import FlowEstimates
from frothline.run.watch.monitor import RunMonitor
from frothline.sensors.series import Series

P, Q = meets()
HANGS, BACK, END = 60.0, 90.0, 100.0  # s


def readings(hangs=(), *, coarse=0.0, every=1, pressure=P, off=math.inf, seed=5):
    """(time, pressure, flow) of each tick, which flutter; ``hangs`` repeat their last value from HANGS to BACK.

    coarse : Pa, step of the pressure converter; every : ticks between two new values of the flow; off : s, of the air
    """
    rng = np.random.default_rng(seed)
    last = {}
    for k in range(round(END / TICK)):
        at = (k + 1) * TICK
        on = at <= off
        now = {
            "pressure": pressure * (1 + 0.002 * rng.normal()) if on else 0.0,
            "flow": Q * (1 + 0.003 * rng.normal()) * on,
        }
        if coarse:
            now["pressure"] = round(now["pressure"] / coarse) * coarse
        if k % every and last:
            now["flow"] = last["flow"]
        if HANGS < at <= BACK:
            now |= {name: last[name] for name in hangs}
        last = dict(now)
        yield at, now["pressure"], now["flow"]


def watched(*hangs, **line):
    """The watch of such a line, and for each moment the titles of the active alarms."""
    watch, sensors, titles = RunMonitor(FlowEstimates.of(BLOWER, LINE)), FrozenSensors(), {}
    for at, p, q in readings(hangs, **line):
        watch.feed([sensors.without(Tick(at, p, q, q, 310.0, 101325.0))])
        titles[round(at, 2)] = {alarm.title for alarm in watch.active}
    return watch, titles


@pytest.mark.parametrize(
    ("hangs", "title", "words"),
    [
        ("pressure", "pressure reading frozen", "not monitoring: pressure sensor silent"),
        ("flow", "anemometer reading frozen", "monitoring the pressure only: anemometer silent"),
    ],
)
def test_a_sensor_that_repeats_its_last_reading_is_no_measurement(hangs, title, words):
    watch, titles = watched(hangs)
    assert not titles[HANGS]
    assert not titles[HANGS + 4.9]  # five seconds are asked
    assert titles[HANGS + 6.0] == titles[BACK] == {title}
    assert watch.phase_words != words  # at the end it is back
    assert not titles[END]
    alarm = next(one for one in watch.log if one.title == title)
    assert "exactly the same reading" in alarm.seen
    assert "plug it in again" in alarm.do


def test_both_together_are_both_named():
    _, titles = watched("pressure", "flow")
    assert titles[BACK] == {"pressure reading frozen", "anemometer reading frozen"}


@pytest.mark.parametrize(
    "line",
    [
        {},
        {"coarse": 11.0},  # Pa: ten bits over 10 kPa, as the converter of a small board
        {"every": 14},  # a rotor of 1.4 pulses a second
        {"coarse": 0.0, "off": 65.0},  # the air is switched off: both stay at exactly zero
        {"pressure": 30.0},  # hardly any
    ],
)
def test_a_coarse_converter_a_slow_rotor_and_a_line_at_rest_raise_nothing(line):
    watch, _ = watched(**line)
    assert not [alarm for alarm in watch.log if "frozen" in alarm.title]


def test_the_longest_stretch_of_before_counts_five_times():
    """A rotor with a new value each 1.5 s stands for 29 ticks; it has hung after five times that, 7.25 s, not after 5 s."""
    sensors, since = FrozenSensors(), {}
    for at, p, q in readings(("flow",), every=30):
        if HANGS < at <= BACK and sensors.without(Tick(at, p, q, q)).flow_frozen:
            since.setdefault("flow", at)
        elif not HANGS < at <= BACK:
            assert not sensors.without(Tick(at, p, q, q)).flow_frozen
    assert since["flow"] == pytest.approx(58.55 + 7.25)  # the last new value came at 58.55 s


def test_too_little_was_seen_before_to_say_that_a_reading_stands():
    sensors = FrozenSensors()
    ticks = [(at, p, q) for at, p, q in readings() if at <= 9.0]
    held = [(9.0 + (k + 1) * TICK, *ticks[-1][1:]) for k in range(400)]
    assert not any(sensors.without(Tick(at, p, q, q)).pressure_frozen for at, p, q in ticks + held)
    sensors = FrozenSensors()  # a calm stretch, then few changes
    few = [(at, 100.0 * int(at) + 2000.0, q) for at, _, q in readings() if at <= 18.0]
    held = [(18.0 + (k + 1) * TICK, *few[-1][1:]) for k in range(400)]
    assert not any(sensors.without(Tick(at, p, q, q)).pressure_frozen for at, p, q in few + held)


def test_a_sensor_that_hangs_again_is_found_as_soon_as_the_first_time():
    sensors, found = FrozenSensors(), []
    course = list(readings())
    course += [(END + at, p, q) for at, p, q in readings(("pressure",))]  # hangs at 160 s
    held = [(40.0 < at <= 70.0 and 3000.0) or p for at, p, _ in course]  # and before, from 40 to 70 s
    for (at, _, q), p in zip(course, held, strict=True):
        if sensors.without(Tick(at, p, q, q)).pressure_frozen:
            found.append(at)
    assert found[0] == pytest.approx(45.05, abs=0.06)
    assert next(at for at in found if at > 100.0) == pytest.approx(165.0, abs=0.06)


def test_a_closed_outlet_stops_the_flow_at_exactly_nothing():
    sensors = FrozenSensors()
    shut = [sensors.without(Tick(at, p, q if at <= 60.0 else 0.0, 0.0)) for at, p, q in readings()]
    assert not any(tick.flow_frozen for tick in shut)


def test_a_saturated_pressure_sensor_has_its_own_alarm():
    sensors = FrozenSensors()
    full = [sensors.without(Tick(at, 5e4 if at > HANGS else p, q, q, saturated=at > HANGS)) for at, p, q in readings()]
    assert not any(tick.pressure_frozen for tick in full)


def test_a_run_takes_no_air_and_no_foam_from_an_anemometer_that_hangs():
    run = Run(build=FIRST)
    every = [(at, p, q) for at, p, q in readings(("flow",)) if at <= BACK]
    for begin in range(0, len(every), 20):
        time, pressure, flow = (np.array(column) for column in zip(*every[begin : begin + 20], strict=True))
        time = time - 0.5 * TICK
        free = {"line_pressure": (pressure, "Pa"), "standard_flow": (flow, "m3/s"), "free_air_flow": (flow, "m3/s")}
        run.feed({name: Series(name, unit, time, value, 0.001 * value, np.zeros(len(time), dtype=np.uint8))
                  for name, (value, unit) in free.items()})  # fmt: skip
    assert {alarm.title for alarm in run.watch.active} == {"anemometer reading frozen"}
    assert run.ledger.air["foaming"] + run.ledger.air["priming"] + run.ledger.air["air alone"] <= Q * (HANGS + 5.5)
