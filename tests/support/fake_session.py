"""A bench without a board: a blower whose throttle is moved by a script, in session time that may run fast.

It has the methods of ``bench.Session`` that the pages use, and nothing of its inside. Figures are round and invented.
"""

import dataclasses
import math
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from frothline.bench import snapshot
from frothline.bench.calibration_session import CalibrationSession
from frothline.curve.fan_laws import InStandardAir
from frothline.curve.steady_points import SteadyPoint
from frothline.estimate import Estimate
from frothline.foam.sample import evaluate
from frothline.numerics.uncertainty import Contribution
from frothline.run.course import CourseRecorder
from frothline.run.state import FlowViews, RunFigures, RunState, SampleTaken
from frothline.sensors.budget import Budget
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.series import Series, Signal
from frothline.sensors.spool import Spool
from frothline.sweep import guide_state
from frothline.wire import ENUMS

SHUT_OFF, FREE_DELIVERY = 6500.0, 0.030  # Pa, m3/s
RATE = 100.0
OPENINGS = np.linspace(0.0, 1.0, 11)
NAMES = {
    "line_pressure": ("Pa", 12.0),
    "standard_flow": ("m3/s", 6e-5),
    "air_power": ("W", 0.9),
    "air_speed": ("m/s", 0.05),
    "line_temperature": ("K", 0.4),
    "ambient_pressure": ("Pa", 60.0),
    "supply_voltage": ("V", 0.03),
}
CHANNELS = (
    snapshot.ChannelState("pressure", "mpx5010", "line pressure", "A0", 100.0, True),
    snapshot.ChannelState("rotor", "pulse_rotor", "rotor", "D8", 100.0, True),
    snapshot.ChannelState("temperature", "ntc_10k_3950", "line temperature", "A2", 100.0, True),
    snapshot.ChannelState("ambient", "bme280", "ambient", "I2C", 1.0, True),
    snapshot.ChannelState("supply", "bandgap_1v1", "supply", "", 1.0, True),
)


SENSORS = {"pressure": ENUMS["sensor_kind"]["mpx5010"], "rotor": ENUMS["sensor_kind"]["pulse_rotor"], "supply": 1}


def truth(opening):
    """(pressure, flow) at an opening from 0, shut, to 1, free."""
    flow = FREE_DELIVERY * opening
    return SHUT_OFF * (1 - (flow / FREE_DELIVERY) ** 2), flow


class FakeSession:
    """``hold`` is how many seconds an opening must be held; the page's button moves the throttle on, if it is steady."""

    def __init__(self, folder, *, hold=0.8, openings=11):
        self.folder = Path(folder)
        self.hold, self.openings = hold, openings
        self.link_state, self.link_words = snapshot.LIVE, "Connected"
        self.rate_factor = 1.0
        self._began = time.monotonic()
        self._stopped_at = None
        self._moved_at, self._from, self._to = -10.0, 0.0, 0.35
        self._recording = None
        self._last = None
        self._marks = []
        self._sweep = None
        self._points = ()
        self._fit = None
        self._lock = threading.RLock()
        self.losses = snapshot.Losses()
        self.channels = CHANNELS
        self.run = None
        self.through = {}
        self.status = {}
        self.calls = []
        self.found = ()
        self._heard = 0.0
        description = SimpleNamespace(
            label="bench 1", sensor=lambda kind: SENSORS.get(kind, 0), pressure_sensor=lambda _: None
        )
        converter = SimpleNamespace(description=description, spool=Spool.default())
        stand_in = SimpleNamespace(converter=converter, calibration=None, use=lambda _: None, latest=self._latest)
        self._calibrating = CalibrationSession(stand_in, self.folder)

    # --- what happens on the bench

    @property
    def now(self):
        return time.monotonic() - self._began

    def unplug(self):
        self._stopped_at = self.now
        self.link_state, self.link_words = snapshot.LOST, "the port went away"

    def plug(self):
        self._stopped_at = None
        self.link_state, self.link_words = snapshot.LIVE, "Connected"

    def opening(self, at):
        share = np.clip((at - self._moved_at) / 0.4, 0, 1)
        return self._from + (self._to - self._from) * share

    def move(self, to):
        self._from, self._to, self._moved_at = float(self.opening(self.now)), float(to), self.now

    # --- what the pages call

    def window(self, name, seconds):
        end = self.now if self._stopped_at is None else self._stopped_at
        first = max(0, math.ceil((end - seconds) * RATE))
        number = np.arange(first, max(first, math.floor(end * RATE)))
        at = number / RATE
        pressure, flow = truth(self.opening(at))
        wobble = np.sin(number * 12.9898) * 43758.5453
        wobble = 2 * (wobble - np.floor(wobble)) - 1
        value = {
            "line_pressure": pressure + 40 * wobble,
            "standard_flow": flow + 1e-4 * wobble,
            "air_power": pressure * flow * (1 + 0.01 * wobble),
            "air_speed": flow / 0.00312 + 0.02 * wobble,
            "line_temperature": 305.0 + 0.1 * wobble,
            "ambient_pressure": 101000 + 5 * wobble,
            "supply_voltage": 5.01 + 0.002 * wobble,
        }[name]
        unit, u = NAMES[name]
        return snapshot.SeriesWindow(name, unit, first, at, value, np.full(len(at), u), np.zeros(len(at), np.uint8))

    def _latest(self):
        live = self.link_state == snapshot.LIVE
        figures = {}
        for name, (unit, u) in NAMES.items():
            window = self.window(name, 1.0)
            status = self.status.get(name, 0)
            known = live and not status & 15
            value = float(window.value.mean()) if known and len(window.value) else math.nan
            figures[name] = snapshot.Latest(
                value, u if known else math.nan, unit, status, self.now, len(window.value), 1.0
            )
        return figures

    def snapshot(self):
        with self._lock:
            self._advance()
            self._feed_calibration()
            frames = int(RATE * (self.now if self._stopped_at is None else self._stopped_at))
            return snapshot.Snapshot(
                time=self.now,
                folder=self.folder,
                link=snapshot.LinkState(self.link_state, self.link_words, "/dev/ttyUSB0", 0.0, frames),
                board=snapshot.BoardState(
                    "bench 1", "modelled", "0.1.0", 1, 7, "power on", 100, True, self.channels, False
                ),
                losses=self.losses,
                latest=self._latest(),
                recording=self._recording
                and snapshot.RecordingState(
                    self._recording[0].stem, self._recording[0], self.now - self._recording[1], frames * 30
                ),
                last_recording=self._last,
                marks=tuple(self._marks),
                clock=snapshot.ClockState(2.1e-5, 3e-6, 60.0, 500),
                steady=guide_state.SteadyProgress("steady", 1.0),
                points=self._points,
                fit=self._fit,
                fit_refused="" if self._fit else f"{len(self._points)} points, a curve needs 4",
                fit_running=False,
                sweep=self._sweep,
                run=self.run,
                through=self.through,
                simulated=False,
            )

    def start_recording(self, name=""):
        self._recording = (self.folder / f"{name or 'recording-1'}.froth", self.now)
        self.calls.append("start_recording")
        return self._recording[0]

    def stop_recording(self):
        self.calls.append("stop_recording")
        if self._recording is None:
            return None
        self._last, self._recording = self._recording[0], None
        return self._last

    def mark(self, text=""):
        self.calls.append("mark")
        self._marks.append(snapshot.SessionMark(self.now, "mark", text or "from the page"))

    def start_sweep(self, *, metadata=None, through="", build=None):
        self.calls.append(f"start_sweep {through}".strip())
        with self._lock:
            if self._recording is None:
                self.start_recording()
            if through:
                self.guide_through(through)
                return
            self._points, self._fit = (), None
            self.move(0.0)
            self._say("hold", "hold", "shut off: hold while the reading settles", 0.0)

    def playback(self):
        return None

    def hand_follows(self):
        return False

    def redo_point(self):
        self.calls.append("redo_point")
        self._points = self._points[:-1]
        return True

    def turn_throttle(self, opening):
        self.calls.append(f"turn_throttle {opening}")

    def guide_through(self, kind):
        """A sweep through a generator waits for its first word; ``end_through`` ends it."""
        self._sweep = guide_state.GuideState(
            *(("foam", "wait for foam") if kind == "wet" else ("full", "full air")),
            "shut the bleed, source at full, solution on; press the button once foam comes evenly",
            0.0,
            0,
            9,
            of=kind,
            caution="foam flows while the air runs: put a bucket under the outlet and have the next one ready",
        )

    def end_through(self, points):
        self.through = {**self.through, self._sweep.of: points}
        self._sweep = dataclasses.replace(
            self._sweep, phase="done", instruction="done", points=len(points), done=True, running=False
        )

    def sweep_button(self):
        """On the real bench the hand moves the throttle; here the button does."""
        self.calls.append("sweep_button")
        with self._lock:
            if self._sweep is not None and self._sweep.running and len(self._points) < self.openings:
                self.move(OPENINGS[len(self._points)])

    def stop_sweep(self):
        self.calls.append("stop_sweep")
        if self._sweep is not None:
            self._sweep = dataclasses.replace(self._sweep, running=False)

    def budgets(self):
        self.calls.append("budgets")
        shares = (
            Contribution("data-sheet band", "systematic", np.float64(12.0), origin="the sensor's data sheet"),
            Contribution("converter", "systematic", np.float64(5.0), origin="the chip's data sheet"),
            Contribution("resolution", "random", np.float64(0.01), origin="steps"),
        )
        return {"line_pressure": Budget("line_pressure", 5703.75, "Pa", shares)}

    def calibrations(self):
        line = ChannelCalibration("temperature", "ratio", "K", np.zeros(2), np.zeros((2, 2)), 0, 1, date="2026-05-02")
        return {"temperature": dataclasses.replace(line, who="the yard")}

    def pressure_sensor(self, kind):
        return None

    def findings(self):
        return self.found

    def calibrating(self):
        return self._calibrating

    def note(self, text, kind="note"):
        self.calls.append(f"{kind}: {text}")

    def start_run(self, name="", metadata=None, **parts):
        self.calls.append(f"start_run {name}".strip())
        self.run = state_of_run(self.now)

    def stop_run(self):
        self.calls.append("stop_run")
        if self.run is None or not self.run.running:
            return None
        self.run = dataclasses.replace(self.run, running=False)
        return self.run

    def add_sample(self, weighing, time):
        self.calls.append("add_sample")
        sample = evaluate(weighing, Estimate.normal(0.0125, 0.0003, "m3/s"))
        taken = (*self.run.samples, SampleTaken(time, weighing, sample, len(self.run.samples) + 1))
        self.run = dataclasses.replace(self.run, samples=taken)
        return sample

    def correct_sample(self, number, weighing, time, *, counts=True):
        self.calls.append(f"correct_sample {number}")
        sample = evaluate(weighing, Estimate.normal(0.0125, 0.0003, "m3/s"))
        made = SampleTaken(time, weighing, sample, number)
        others = [one for one in self.run.samples if one.number != number]
        self.run = dataclasses.replace(self.run, samples=(*others, *([made] if counts else [])))
        return sample

    def change_rig(self, url):
        self.calls.append(f"change_rig {url}")

    def _feed_calibration(self):
        """What the channels read since the last look, as the live thread would hand it on."""
        end = self.now
        number = np.arange(math.ceil(self._heard * RATE), math.floor(end * RATE))
        self._heard = end
        if len(number):
            level = truth(self.opening(end))[0]
            ratio = 0.04 + 0.09e-3 * level + 1e-5 * np.sin(number * 12.9898)  # MPX5010
            state_ = {
                "line_pressure": level,
                "line_temperature": 305.0,
                "ambient_pressure": 101000.0,
                "ambient_temperature": 293.0,
                "ambient_humidity": 0.5,
            }
            at, zeros = number / RATE, np.zeros(len(number))
            signals = {"pressure": Signal(at, ratio), "rotor": Signal(at, zeros + 100 * self.opening(end))}
            series = {
                name: Series(name, "", at, zeros + v, zeros, zeros.astype(np.uint8)) for name, v in state_.items()
            }
            self._calibrating.hear(signals, series)

    # --- the sweep

    def _say(self, phase, instruction, why, progress, done=False):
        count = len(self._points)
        self._sweep = guide_state.GuideState(
            phase, instruction, why, progress, count, self.openings, done=done, running=not done
        )

    def _advance(self):
        if self._sweep is None or not self._sweep.running or self._sweep.of != "source":
            return
        held = (self.now - self._moved_at - 0.4) / self.hold
        at_place = len(self._points) < self.openings and abs(self._to - OPENINGS[len(self._points)]) < 1e-9
        if at_place and held >= 1:
            self._take(self._to)
            at_place = False
        if len(self._points) >= self.openings:
            self._say("done", "done", f"{self.openings} points saved", 1.0, done=True)
        elif not at_place:
            self._say("open", "open slightly", "then hold", 0.0)
        else:
            self._say("hold", "hold", "the reading settles", min(max(held, 0.0), 1.0))

    def _take(self, opening):
        pressure, flow = truth(opening)
        self._points += (SteadyPoint(self.now - 1, self.now, pressure, 14.0, flow, 1.2e-4),)
        if len(self._points) >= 4:
            self._fit = fit(self._points)


def state_of_run(now, **changes):
    """A run that foams: round figures."""
    half = {"foam_rate": 0.02 / 60, "foam_total": 4e-3, "time_left": 25.0, "solution_left": 1.2e-3}
    value = {"foam_rate": 0.36 / 60, "foam_total": 60e-3, "time_left": 150.0, "solution_left": 18e-3}
    unit = {"foam_rate": "m3/s", "foam_total": "m3", "time_left": "s", "solution_left": "m3"}
    output = RunFigures(**{name: Estimate.normal(value[name], half[name], unit[name]) for name in value})
    made = RunState(True, now, now - 30, 30.0, "foaming", "foam comes steadily", output, FlowViews())
    return dataclasses.replace(made, **changes)


def course_of(seconds, *, started=20.0, silent=(), pressure=5.0e3):
    """The course of a run: a reading a second, none in the seconds of ``silent``; 0.1 L/s of foam after 10 s."""
    recorder = CourseRecorder()
    for second in range(1, round(seconds) + 1):
        if second in silent:
            continue
        recorder.take(pressure + 50.0 * math.sin(second))
        rate = Estimate.positive(1e-4, 0.05, "m3/s") if second > 10 else None
        left = Estimate.normal(20e-3 * (1 - second / (2 * seconds)), 1e-3, "m3")
        recorder.close(started + second, rate, left)
    return recorder.course()


def fit(points):
    """What the pages use of a fitted curve, from the truth and a round uncertainty."""

    def pressure(q):
        return SHUT_OFF * (1 - (q / FREE_DELIVERY) ** 2), np.full(len(q), 20.0)

    def band(q):
        middle = pressure(q)[0]
        half = 60 + 3000 * (q / FREE_DELIVERY) ** 4 * 0.06
        return middle - half, middle + half

    flows = [point.flow for point in points]
    best = FREE_DELIVERY / math.sqrt(3)
    return SimpleNamespace(
        pressure=pressure,
        band=band,
        range=(min(flows), max(flows)),
        shut_off=Estimate.normal(SHUT_OFF, 14.0, "Pa"),
        free_delivery=Estimate.normal(FREE_DELIVERY, 2.2e-4, "m³/s", extrapolated=max(flows) < FREE_DELIVERY),
        air_power=Estimate.normal(best * SHUT_OFF * 2 / 3, 1.1, "W"),
        standard=InStandardAir(
            shut_off=Estimate.normal(1.02 * SHUT_OFF, 40.0, "Pa"),
            free_delivery=Estimate.normal(1.03 * FREE_DELIVERY, 4e-4, "m³/s"),
            air_power=Estimate.normal(1.05 * best * SHUT_OFF * 2 / 3, 3.0, "W"),
            air_power_flow=Estimate.normal(1.03 * best, 2e-4, "m³/s"),
            found_in=1.16,
        ),
        why="a parabola describes the points as well as anything higher",
        advice=() if max(flows) > 0.8 * FREE_DELIVERY else ("take more points at high flow",),
        refused=(),
    )
