"""Control of a run and its samples for the run page: start, stop, time a bucket, save weighings.

On a simulated rig it also makes foam and starts faults.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from frothline.bench.background import Background
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.library import FolderView
from frothline.bench.own_build import SHEETS
from frothline.bench.playback_control import replayed
from frothline.bench.sample_correction import TakenSample
from frothline.bench.sample_records import SampleRecords, recording_of
from frothline.bench.session_api import SessionApi
from frothline.bench.snapshot import Snapshot
from frothline.errors import FrothlineError, InputError
from frothline.estimate import Estimate
from frothline.foam.prior import FoamPrior
from frothline.foam.sample import FoamSample
from frothline.foam.target_windows import Range
from frothline.generator.build import Build
from frothline.generator.build_comparison import makes_same_foam
from frothline.generator.foam_prior import FoamKnowledge
from frothline.quantities import read_number
from frothline.readings.false_alarms import (
    FALSE_ALARM,
    MarkedAlarm,
    false_alarm_note,
    false_alarms,
    marked_again,
)
from frothline.readings.marks import marks
from frothline.recording.reader import load
from frothline.rig.replay import is_replay, read_url
from frothline.run.state import RunState
from frothline.simulation.options import scenario_of, with_scenario
from frothline.trials.cup_notes import keep_cup
from frothline.trials.foam_history import foam_of_build, samples_of, with_tension
from frothline.trials.own_generators import TrialExperience, foam_prior_of
from frothline.trials.plan_file import wanted_density
from frothline.trials.swept_builds import SweptBuild, swept_builds
from frothline.trials.workshop_foam import foam_habits

NEEDS_FOAM = "packing_blown"  # a fault that only a line with a generator can have


DRY_LINE = "generator-dry"  # scenario with a dry generator


MARKED_AGE = 5.0  # s between two looks at the marks of a replayed recording


FOAMS = "run-refilled"  # scenario long enough for a sample and a few faults


@dataclass(frozen=True)
class SimulatedFaults:
    """Faults of a simulated rig: available faults by name with their visible effect, and active ones."""

    foam: bool
    faults: Mapping[str, str]
    active: tuple[str, ...]


class RunControl:
    """Starts and stops runs and takes samples. All methods may be called from any thread."""

    def __init__(self, session: SessionApi, desk: GeneratorWorkspace) -> None:
        self.samples = SampleRecords(session, self._build_of)
        self.timer = self.samples.timer
        self._session = session
        self._desk = desk
        self._lock = threading.RLock()
        self._run_of: tuple[float, Build] | None = None  # begin of the run and its generator
        self._false: set[tuple[float, int]] = set()  # begin of the run and number of each alarm marked as false
        self._marked_earlier: Background[tuple[MarkedAlarm, ...]] = Background(self._read_marked, (), MARKED_AGE)
        self._passed_on: Any = None  # foam knowledge last passed to the workspace
        self._trials: FolderView | None = None
        self._experience: tuple[tuple[str, int], TrialExperience] | None = None
        self._habits: tuple[Any, Mapping[str, Any]] | None = None
        self._pressed: float | None = None  # s of session time up to which presses of the rig's button are handled

    @property
    def taken(self) -> tuple[TakenSample, ...]:
        """Samples of this session, the newest last; withdrawn ones too."""
        return self.samples.taken

    def _build_of(self, *, in_run: bool) -> Build:
        """The generator of a sample taken now."""
        return self._run_of[1] if in_run and self._run_of is not None else self._desk.built

    def notice(self, now: Snapshot) -> None:
        """Handle the rig's button, and pass the run's foam knowledge to the workspace."""
        buttons = [mark.time for mark in now.marks if mark.kind == "button"]
        if self._pressed is not None:
            for time in buttons:
                if time > self._pressed:
                    self.timer.push(time, *recording_of(now))
        self._pressed = max([now.time, *buttons])
        self._tell(now)

    def see(self, trials: FolderView) -> None:
        """Take the folder's recordings as last read, with samples of earlier sessions."""
        self._trials = trials

    def samples_of(self, build: Build) -> tuple[FoamSample, ...]:
        """All samples of this generator, the newest last."""
        trials = self._trials.trials if self._trials is not None else ()
        written = {trial.path.with_suffix(".toml").name for trial in trials}
        lately = tuple(
            item.sample
            for item in self.samples.counted
            if item.kept not in written and item.build is not None and makes_same_foam(item.build, build)
        )
        return (*samples_of(build, trials), *lately)

    def _foam_prior(self, build: Build) -> FoamPrior | None:
        """The foam of a build before any sample, as the folder's other builds tell it."""
        return None if self._trials is None else foam_prior_of(build, self._trials.trials)

    def _measured_builds(self) -> TrialExperience | None:
        """The measured builds of the folder; the same object until the folder was read again."""
        if self._trials is None:
            return None
        seen = self._trials.place, self._trials.look
        if self._experience is None or self._experience[0] != seen:
            known = self._trials
            self._experience = seen, TrialExperience(known.trials, self._swept, known.folder, agents=known.agents)
        return self._experience[1]

    def _swept(self) -> Sequence[SweptBuild]:
        """Sweeps through generators of the folder; slow, in the thread of the evaluation."""
        seen = self._trials
        if seen is None or seen.notebook is None:
            return ()
        return swept_builds(seen.folder, seen.entries, seen.notebook.calibration)

    def _tell(self, now: Snapshot) -> None:
        """Pass the foam knowledge of the present generator to the workspace."""
        run, build = now.run, self._desk.built
        if run is not None and (self._run_of is None or self._run_of[0] != run.started):
            self._run_of = (run.started, build)
        of_run = () if run is None else run.samples
        looked = -1 if self._trials is None else self._trials.look
        agents = None if self._trials is None else self._trials.agents
        corrected = sum(one.corrections for one in self.taken)
        state = (build, looked, len(of_run), len(self.taken), corrected)
        if state == self._passed_on or not (of_run or self.taken or looked >= 0):
            return
        self._passed_on = state
        if run is not None and of_run and self._run_of is not None and makes_same_foam(self._run_of[1], build):
            capture, expansion = run.output.capture, run.output.expansion
            if capture is not None and expansion is not None and capture.known and expansion.known:
                of_run_alone = FoamKnowledge(
                    capture.value, capture.standard_uncertainty, expansion.value, expansion.standard_uncertainty
                )
                self._desk.know(with_tension(of_run_alone, build, agents), self._measured_builds())
                return
        knowledge = foam_of_build(build, self.samples_of(build), self._foam_prior(build))
        self._desk.know(with_tension(knowledge, build, agents), self._measured_builds())

    # --- the run ----------------------------------------------------------------------------------------------------

    def start(self, name: str = "") -> str:
        """Start a run with the sheet's generator, the measured source and its known samples.

        ``name`` : name of its recording; empty: by date and time. A run of a replay is not recorded.
        """
        answer, build, file = self._desk.look().answer, self._desk.built, self._desk.file
        generator = answer.generator if answer is not None and answer.given.built == build else None
        samples = self.samples_of(build)
        again = replayed(self._session.snapshot())
        self._fill()
        self._session.start_run(
            name,
            record=not again,
            metadata={"build_file": f"{SHEETS}/{file}"} if file else {},
            build=build,
            generator=generator,
            blower=self._desk.source,
            samples=samples,
            prior=self._foam_prior(build),
        )
        run = self._session.snapshot().run
        self._run_of = None if run is None else (run.started, build)
        return "Run started; a replay is not recorded again" if again else "Run started"

    def stop(self) -> str:
        ended: RunState | None = self._session.stop_run()
        return "Run stopped; its figures stay" if ended is not None else "No run was going on"

    def refilled(self) -> str:
        """Note that solution was poured in; a simulated reservoir is filled."""
        here = self.simulated()
        if here is not None and here.foam:
            return self.refill()
        self._session.note("reservoir refilled", "refill")
        return "Refill noted" + self._not_recorded()

    def false_alarm(self, argument: str) -> str:
        """Note in the recording that an alarm of this run was false. ``argument`` : number of the alarm."""
        run = self._session.snapshot().run
        alarm = None if run is None else next((one for one in run.log if str(one.number) == argument), None)
        if run is None or alarm is None:
            raise InputError(f"this run has no alarm {argument}", where="false alarm", remedy="Reload the page")
        with self._lock:
            if (run.started, alarm.number) in self._false:
                return "Already marked as a false alarm"
            self._false.add((run.started, alarm.number))
        self._session.note(false_alarm_note(alarm.code, alarm.number), FALSE_ALARM)
        return "Marked as a false alarm" + self._not_recorded()

    def false_alarms(self, run: RunState | None) -> frozenset[int]:
        """Numbers of the alarms of a run that were marked as false; in a replay also those marked in its recording."""
        if run is None:
            return frozenset()
        with self._lock:
            marked = {number for started, number in self._false if started == run.started}
        return frozenset(marked | marked_again(run.log, self._marked_earlier.look()))

    def _read_marked(self) -> tuple[MarkedAlarm, ...]:
        """The alarms that are marked as false in the recording that is replayed; empty with a rig.

        A replay that began in the middle has other counts: there an alarm is known by its time. Session time is then
        that of the newest reading, as is the time that was played.
        """
        now = self._session.snapshot()
        url = now.link.port
        if not is_replay(url):
            return ()
        path, _, share = read_url(url)
        every = marks(load(path))
        found = false_alarms(every)
        if share == 0.0:
            return tuple(MarkedAlarm(one.code, one.of_code) for one in found)
        playback = self._session.playback()
        if playback is None:
            return ()
        earlier = playback.state().played - now.time  # the recording's time less the session's
        return tuple(MarkedAlarm(one.code, one.of_code, every[one.place].time - earlier) for one in found)

    def _not_recorded(self) -> str:
        recording = self._session.snapshot().recording
        return "" if recording is not None and not recording.ended else "; no recording is running"

    # --- samples ----------------------------------------------------------------------------------------------------

    def press(self, typed: Mapping[str, str], *, confirmed: bool = False) -> str:
        """Handle the timer's large button, see ``SampleRecords.press``."""
        return self.samples.press(typed, confirmed=confirmed)

    def discard(self) -> str:
        """Leave the timer; saved samples stay."""
        return self.samples.discard()

    @property
    def wanted(self) -> Range | None:
        """Target foam density of the folder's plan, kg/m³."""
        return None if self._trials is None else wanted_density(self._trials.plan)

    # --- batches ----------------------------------------------------------------------------------------------------

    def habits(self) -> tuple[Any, Mapping[str, Any]]:
        """Foam figures from earlier trials for a batch, as returned by ``foam_habits``, and a key that changes with
        them.
        """
        build, seen = self._desk.built, self._trials
        key = (build, -1 if seen is None else seen.look)
        if self._habits is None or self._habits[0] != key:
            self._habits = (key, foam_habits(build, () if seen is None else seen.trials))
        return self._habits

    def keep_cup(self, argument: str) -> str:
        """Save a weighed cup in the metadata file of the current or last recording: "cup/wanted/survival/u", SI."""
        now = self._session.snapshot()
        path = now.recording.path if now.recording is not None else now.last_recording
        if path is None:
            raise InputError(
                "no recording to save the cup with", where="cup", remedy="Record the run that makes the foam"
            )
        try:
            cup, wanted, survival, u = (read_number(part) for part in argument.split("/"))
        except ValueError:
            raise InputError("the cup could not be read", where="cup", remedy="Reload the page") from None
        keep_cup(path, cup, wanted, Estimate.normal(survival, u, "1"))
        return f"Cup saved in {path.with_suffix('.toml').name}"

    # --- a simulated rig --------------------------------------------------------------------------------------------

    def simulated(self) -> SimulatedFaults | None:
        """Faults of the simulated rig; None with a real rig."""
        simulation: Any = getattr(self._session, "simulation", None)
        if simulation is None:
            return None
        try:
            faults = dict(simulation.faults())
            foam = NEEDS_FOAM in faults and scenario_of(self._session.snapshot().link.port) != DRY_LINE
            return SimulatedFaults(foam, faults, tuple(simulation.truth().get("faults", ())))
        except FrothlineError:
            return None

    def fault(self, name: str) -> str:
        return self._control("fault", name)

    def heal(self, name: str) -> str:
        return self._control("heal", name)

    def refill(self) -> str:
        """Fill the simulated reservoir."""
        self._control("refill", "reservoir")
        return "Reservoir refilled"

    def _fill(self) -> None:
        """Fill the simulated reservoir for a run; at a real rig a person fills it."""
        here = self.simulated()
        if here is not None and here.foam:
            self._control("refill", "reservoir")

    def _control(self, what: str, name: str) -> str:
        simulation: Any = getattr(self._session, "simulation", None)
        if simulation is None:
            raise InputError(
                "this is a real rig", where="simulated fault", remedy="Faults can be simulated on a simulated rig only"
            )
        try:
            simulation.control(what, name)
        except ValueError as error:
            raise InputError(str(error)) from None
        self._session.note(f"simulated {what}: {name}", "simulated")
        return ""

    def make_foam(self, name: str = "") -> str:
        """Fit the generator to the simulated line, with the swept source, and start a run of this name."""
        url = self._session.snapshot().link.port
        self._session.change_rig(with_scenario(url, FOAMS))
        return self.start(name)
