"""A run, live or from a recording: foam balance and fault watch.

    run = Run(build=build, generator=scaled.wet, blower=fit)     # every part may be missing
    for batch in batches:
        for alarm in run.feed(batch): ...                        # dicts of Series, as a converter gives them
    run.add_sample(Weighing(...))                                # also while it runs
    run.state                                                    # RunState: frozen, for pages

The same object serves a session, batch by batch, and a recording (``run_of_recording``): its results do not depend on
the division into batches.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import replace
from itertools import pairwise
from math import isfinite, nan
from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING, Any

import numpy as np

from frothline.curve.operating_point import OperatingPoint, operating_point
from frothline.errors import FrothlineError, InputError, SensorMissing
from frothline.estimate import Estimate
from frothline.foam.sample import FoamSample, Weighing
from frothline.foam.sample_check import contradicts
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import PressureModel
from frothline.readings.applied_calibration import AUTO
from frothline.readings.resample import TICK, Resampler
from frothline.readings.series import read_series
from frothline.run.agreement import ANEMOMETER, BUILD, SOURCE, Agreement, agreement_of
from frothline.run.course import CourseRecorder
from frothline.run.foam_balance import FoamBalance
from frothline.run.foam_figures import figures_of, rate_of_air
from frothline.run.frozen_sensors import FrozenSensors
from frothline.run.run_samples import RunSamples
from frothline.run.state import DRY, FOAMING, PHASES, WAITING, ExpectedRun, FlowViews, RunFigures, RunState, SampleTaken
from frothline.run.watch.alarms import spoilt
from frothline.run.watch.flow_estimates import FlowEstimates, line_of
from frothline.run.watch.monitor import RunMonitor
from frothline.run.watch.recent_readings import known_mean
from frothline.run.watch.settings import WatchSettings

if TYPE_CHECKING:
    from frothline.curve.blower import BlowerFit
    from frothline.curve.resistance import ResistanceLine
    from frothline.foam.prior import FoamPrior
    from frothline.generator.build import Build
    from frothline.readings.resample import Tick
    from frothline.run.watch.alarms import Alarm
    from frothline.sensors.series import Series

    Made = dict[str, tuple[float, float]]  # air that made foam in the balance, by phase

__all__ = ["PHASES", "FlowViews", "Run", "RunFigures", "RunState", "SampleTaken", "run_of_recording", "slices"]

REMEMBER = 900.0  # s of stored air flow for samples
LOOK_BACK = 600.0  # s, largest age of an alarm's onset for which the good foam is known
LOOK_EVERY = 0.25  # s
STATE_EVERY = 0.2  # s of readings between two calculations of the state: the curve's intervals need some ms
SLICE = 0.5  # s


class Run:
    """One run: feed it readings and samples, read ``state``; see the module docstring.

    Parameters
    ----------
    build
        The sheet: reservoir, foam hose, name.
    generator
        Its resistance model, preferably scaled to measured sweeps; default: from ``build`` alone.
    resistance
        The measured wet line; takes precedence over ``generator``.
    blower
        The source's curve.
    samples
        Samples of this build from earlier runs; their density and captured share are used.
    prior
        The foam before any sample, as other builds tell it; default: the usual one.
    load, tare
        kg of solution at the beginning (default: what the sheet's reservoir holds); kg of the empty reservoir.
    settings
        Settings of the watch.
    started
        s, on the clock of the readings; default: the first reading.
    """

    def __init__(
        self,
        *,
        build: Build | None = None,
        generator: PressureModel | None = None,
        resistance: ResistanceLine | None = None,
        blower: BlowerFit | None = None,
        samples: Sequence[FoamSample] = (),
        load: float | None = None,
        tare: float | None = None,
        prior: FoamPrior | None = None,
        settings: WatchSettings | None = None,
        started: float = nan,
        source: str = "",
    ) -> None:
        if load is not None and not load > 0.0:
            raise InputError("the reservoir's load must be above zero", where="run: load", remedy="Give it in kg")
        if generator is None and build is not None:
            generator = PressureModel(build, OperatingConditions.of(build))
        build = build or (generator.build if generator is not None else None)
        if resistance is None and generator is not None:
            resistance = line_of(generator, blower)
        self.build = build
        self.source = source
        self.watch = RunMonitor(FlowEstimates.of(blower, resistance, generator), settings)
        self.ledger = FoamBalance(build, load, tare, prior)
        self._meets = _operating_point(blower, resistance)
        self._course = CourseRecorder()
        self._ticker = Resampler()
        self._frozen = FrozenSensors(settings or WatchSettings())
        self._air: deque[tuple[float, float]] = deque(maxlen=round(REMEMBER / TICK))
        self._lately: deque[Tick] = deque(maxlen=round(1.0 / TICK))
        self._made: deque[tuple[float, Made]] = deque(maxlen=round(LOOK_BACK / LOOK_EVERY))
        self._started = started
        self._stopped = nan
        self._over = False
        self._time = nan
        self._state: tuple[float, int, RunState] | None = None
        self._version = 0
        self._good: Made | None = None
        self._spoilt, self._onset = 0, nan
        for sample in samples:
            self.ledger.add_sample(sample, None)
        self._samples = RunSamples(self.ledger, self._air_over)

    # --- feeding ----------------------------------------------------------------------------------------------------

    def feed(self, found: Mapping[str, Series]) -> list[Alarm]:
        """Take the next batch of series; returns new, changed and ended alarms. Does nothing after ``stop``."""
        if self._over:
            return []
        ticks = [self._frozen.without(tick) for tick in self._ticker.feed(found)]
        if not ticks:
            return []
        if not isfinite(self._started):
            self._started = ticks[0].time - TICK
        changed: dict[int, Alarm] = {}
        for tick in ticks:
            for alarm in self.watch.feed((tick,)):
                changed[alarm.number] = alarm
            self.ledger.feed(tick, self.watch.phase, self.watch.remaining)
            if isfinite(tick.free_air):
                self._air.append((tick.time, tick.free_air))
            self._lately.append(tick)
            self._course.take(tick.pressure)
            if not self._made or tick.time - self._made[-1][0] >= LOOK_EVERY:
                self._made.append((tick.time, dict(self.ledger.makes)))
        self._time = ticks[-1].time
        u = self._ticker.u.get("free_air_flow", nan)
        flow = self._lately[-1].free_air
        if isfinite(u) and flow > 0.0:
            self.ledger.u_air = min(max(u / flow, 0.005), 0.3)
        self._tell_what_is_left()
        self._remember_good()
        if changed:
            self._version += 1
        return list(changed.values())

    def _tell_what_is_left(self) -> None:
        """Pass the share of the load to the watch, from the same figure as the output, with refills."""
        left, load = self.ledger.left_by_scale, self.ledger.load
        self.watch.set_solution_share(min(left / load, 1.0) if load and isfinite(left) else nan)

    def _remember_good(self) -> None:
        """Store the foam made until the onset of the first alarm that spoils foam."""
        alarm = spoilt(self.watch.log)
        if alarm is None or (alarm.number == self._spoilt and alarm.onset == self._onset):
            return
        before = [made for time, made in self._made if time <= alarm.onset]
        if before or self._good is None:
            self._good = before[-1] if before else {}
        self._spoilt, self._onset = alarm.number, alarm.onset

    def _foam_good(self) -> Estimate | None:
        """The good foam, with the present estimates of captured share and expansion."""
        if self._good is None:
            return None
        until = copy(self.ledger)
        until.makes = {key: self._good.get(key, (0.0, 0.0)) for key in self.ledger.makes}
        return figures_of(until, FOAMING).foam_total

    def gap(self) -> None:
        """Handle an interruption of the readings or a reset of their clock."""
        self.watch.gap()
        self._ticker = Resampler(u=self._ticker.u)

    def stop(self, time: float = nan) -> None:
        """End the run: its figures stay unchanged."""
        self._over, self._stopped = True, time if isfinite(time) else self._time
        self._version += 1

    @property
    def running(self) -> bool:
        return not self._over

    # --- samples ----------------------------------------------------------------------------------------------------

    def add_sample(self, weighing: Weighing, time: float = nan) -> FoamSample:
        """Add a sample of this run; ``time`` is the time of the full container (s, same clock), default now.

        The air flow during filling comes from the run itself. Raises InputError if its readings contradict each other,
        SampleQuestioned if they contradict the run and are not confirmed; the sample is then not used.
        """
        sample = self._samples.add(weighing, time if isfinite(time) else self._time)
        self._version += 1
        return sample

    def correct_sample(self, number: int, weighing: Weighing, time: float = nan, *, counts: bool = True) -> FoamSample:
        """Replace the readings of a sample of this run, also after its end; ``number`` from 1, ``time`` as in
        ``add_sample``, default unchanged. ``counts`` : False withdraws the sample.

        Raises as ``add_sample``; the sample then stays as it was.
        """
        sample = self._samples.correct(number, weighing, time, counts=counts)
        self._version += 1
        return sample

    def _air_over(self, start: float, end: float, least: float = 0.5) -> float | None:
        """Mean free air flow, m3/s, between two times; None if no more than ``least`` of it is known."""
        if end <= start:
            return None
        flows = [q for t, q in self._air if start < t <= end]
        return fmean(flows) if flows and len(flows) * TICK > least * (end - start) else None

    # --- looking ----------------------------------------------------------------------------------------------------

    @property
    def state(self) -> RunState:
        """The full state, immutable. Calculated at most five times per second of readings."""
        kept = self._state
        if kept is not None and kept[1] == self._version and self._time - kept[0] < STATE_EVERY:
            return kept[2]
        made = self._make_state()
        self._state = (self._time, self._version, made)
        return made

    def _make_state(self) -> RunState:
        watch = self.watch
        now = self._stopped if isfinite(self._stopped) else self._time
        output = replace(figures_of(self.ledger, watch.phase), foam_good=self._foam_good())
        if self.running:
            self._course.close(now, output.foam_rate, output.solution_left)
        else:
            output = replace(output, foam_rate=None, why={**output.why, "foam_rate": "the run was stopped"})
        views = self._views()
        return RunState(
            running=self.running,
            time=now,
            started=self._started,
            elapsed=now - self._started if isfinite(now) and isfinite(self._started) else 0.0,
            phase=watch.phase,
            phase_words=watch.phase_words,
            output=output,
            views=views,
            samples=self._samples.counted,
            alarms=watch.active,
            log=tuple(watch.log),
            cannot_see=watch.cannot_see if isfinite(self._time) else (),
            build=self.build.name if self.build is not None else "",
            source=self.source,
            expected=self._expected(),
            course=self._course.course(),
            agreement=self._agreement(views),
        )

    def _expected(self) -> ExpectedRun:
        """Where the run should work, by source curve and build."""
        if self._meets is None:
            return ExpectedRun()
        flow = known_mean(tick.flow for tick in self._lately)
        free = known_mean(tick.free_air for tick in self._lately)
        if not (flow > 0.0 and free > 0.0):  # the state of the air is not known yet
            return ExpectedRun(self._meets.pressure)
        return ExpectedRun(self._meets.pressure, rate_of_air(self.ledger, self._meets.flow.scaled(free / flow)))

    def _agreement(self, views: FlowViews) -> Agreement:
        """Whether the parts of the run agree. The build counts while the line foams: its line is that of a wet one."""
        ledger, weighed = self.ledger, self.ledger.by_scale
        scale = sample = None
        if weighed is not None and ledger.samples:
            scale = contradicts(weighed, ledger.observations, ledger.u_air, ledger.prior)
        newest = self._samples.newest
        if newest and (weighed is not None or ledger.samples > 1):
            others = [one for one in ledger.seen if one not in newest]
            sample = any(contradicts(one, others, ledger.u_air, ledger.prior) for one in newest)
        flows = {ANEMOMETER: views.anemometer, SOURCE: views.by_source}
        if self.watch.phase == FOAMING:
            flows[BUILD] = views.by_build
        return agreement_of({} if self.watch.phase == WAITING else flows, scale_apart=scale, sample_apart=sample)

    def _views(self) -> FlowViews:
        """The three views of the flow, from the means of the last second."""
        pressure = known_mean(tick.pressure for tick in self._lately)
        flow = known_mean(tick.flow for tick in self._lately)
        views = self.watch.state.views
        u = self._ticker.u
        return FlowViews(
            pressure=Estimate.normal(pressure, u.get("line_pressure", nan), "Pa") if isfinite(pressure) else None,
            anemometer=Estimate.normal(flow, u.get("standard_flow", nan), "m3/s") if isfinite(flow) else None,
            by_source=views.by_source(pressure),
            by_build=views.by_build(pressure) if self.watch.phase != DRY else None,
        )


def _operating_point(blower: BlowerFit | None, resistance: ResistanceLine | None) -> OperatingPoint | None:
    """Operating point of source and build; None if one is missing or they have none."""
    if blower is None or resistance is None:
        return None
    try:
        met = operating_point(blower, resistance)
    except FrothlineError:
        return None
    return met if isinstance(met, OperatingPoint) else None


def slices(series: Mapping[str, Series], seconds: float = SLICE) -> Iterator[dict[str, Series]]:
    """Divide series into batches of ``seconds``, as in a session."""
    times = [one.time for one in series.values() if len(one.time)]
    if not times:
        return
    start, end = min(float(t[0]) for t in times), max(float(t[-1]) for t in times)
    edges = start + seconds * np.arange(int((end - start) / seconds) + 2)
    for begin, until in pairwise(edges):
        batch = {}
        for name, one in series.items():
            low, high = np.searchsorted(one.time, [begin, until])
            if high > low:
                shared = one.u_systematic
                batch[name] = replace(
                    one,
                    time=one.time[low:high],
                    value=one.value[low:high],
                    u=one.u[low:high],
                    status=one.status[low:high],
                    u_systematic=shared[low:high] if len(shared) == len(one.u) else shared,
                )
        if batch:
            yield batch


def run_of_recording(path: Path, *, calibration: Any = AUTO, spool: Any = None, **parts: Any) -> Run:
    """Evaluate a recorded run by the same code as live; ``parts`` are those of ``Run``.

    Raises RecordingError, and SensorMissing if neither pressure nor flow was recorded.
    """
    series = read_series(path, calibration, spool)
    if "line_pressure" not in series and "free_air_flow" not in series:
        raise SensorMissing(
            "it contains neither pressure nor flow", where=str(path), remedy="A run needs at least one of the two"
        )
    run = Run(**parts)
    for batch in slices(series):
        run.feed(batch)
    run.stop()
    return run
