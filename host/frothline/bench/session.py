"""A session at the bench: one rig, its link, its recording, its newest samples, its steady points and its sweep.

Rules of this file: the reader thread writes the recording before any decoding; one live thread (the rig's) decodes,
converts and fills the rings; fits run in a worker. Readers (pages, command line) call ``snapshot`` and ``window`` from
any thread and never block another thread.

    with Session(None, folder) as session:      # None: find the rig by its answer
        session.start()                          # returns at once; session.start(wait=True) raises what went wrong
        session.start_recording("evening sweep", {"source": "vacuum, mouth reversed"})
        session.start_sweep()
        session.snapshot()                       # figures, link, losses, points, fit, sweep: frozen
        session.window("line_pressure", 30)      # copy of the newest 30 s
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from frothline.bench.batch_pace import BatchPace
from frothline.bench.board_state import board_state
from frothline.bench.calibration_session import CalibrationSession, calibration_folder
from frothline.bench.folders import default_folder
from frothline.bench.link_monitor import LinkMonitor
from frothline.bench.live_run import LiveRun
from frothline.bench.live_series import LiveSeries
from frothline.bench.live_sweep import LiveSweep
from frothline.bench.plausibility_monitor import PlausibilityMonitor
from frothline.bench.port_access import PortHere, in_own_process
from frothline.bench.recorder import Recorder, build_metadata, sweep_metadata
from frothline.bench.session_log import SessionLog
from frothline.bench.session_view import session_figures, session_observations, session_picture, session_title
from frothline.bench.simulated_operator import SweepOperator, operator_for
from frothline.bench.snapshot import (
    BoardState,
    ClockState,
    SeriesWindow,
    Snapshot,
)
from frothline.errors import InputError, PortError, SampleQuestioned
from frothline.presentable import Observations, Picture, Plottable
from frothline.presentable import PresentedFigure as Row
from frothline.readings.applied_calibration import AUTO
from frothline.recording.sidecar import BEGINS, stamped
from frothline.run.run import Run
from frothline.sensors.spool import Spool
from frothline.sweep.withdrawn import withdrawn_note
from frothline.trials.sample_sidecar import spoken_sample

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frothline.foam.sample import FoamSample, Weighing
    from frothline.generator.build import Build
    from frothline.rig import Ack, LinkEvent, MessageBatch, Rig
    from frothline.run.state import RunState
    from frothline.sensors.budget import Budget
    from frothline.sensors.calibration import ChannelCalibration
    from frothline.sensors.datasheets import RatiometricPressure
from frothline.sensors.finding import Finding


class Session(Plottable):
    """A session with one rig; see the module docstring for its threads and an example.

    Parameters
    ----------
    url : a port ("/dev/ttyUSB0", "COM3", "socket://host:port", "modelled://sweep?seed=1") or None to find the rig.
    folder : folder of recordings, created with the first recording. Default: ``default_folder()``.
    rate : line messages per second to ask the board for (10 to 500 Hz); None leaves the board's own.
    calibration : "auto" takes ``calibration.toml`` of the folder, if it exists; else a ``sensors.Calibration``, its
        file, or None for the data sheets. New calibrations are saved to the given file, else to the folder's.
    spool : passed to ``sensors.Converter``.
    own_process : read the port and write the recording in a separate process, so that load in this process loses no
        frame. False uses threads of this process.
    """

    def __init__(
        self,
        url: str | None = None,
        folder: Path | str | None = None,
        *,
        rate: int | None = None,
        calibration: Any = AUTO,
        spool: Any = None,
        own_process: bool = True,
    ) -> None:
        self.folder = default_folder() if folder is None else Path(folder)
        self._rate = rate
        self._samples = LiveSeries(time.monotonic(), None, spool)
        self._calibrating = CalibrationSession(self._samples, calibration_folder(url, self.folder), calibration)
        self._points = LiveSweep()
        port = in_own_process() if own_process else PortHere()
        self._link = LinkMonitor(port, url, lambda: self.now)
        self._keeper = Recorder(port, lambda: self.now)
        self._pace = BatchPace()
        self._log = SessionLog(self._keeper, lambda: self.now, self._tick)
        self._running = LiveRun()
        self._board: BoardState | None = None
        self._ends_with_sweep = False
        self._ends_with_run = False
        self._findings: PlausibilityMonitor | None = None
        self._swept: tuple[float, float | None] | None = None  # begin and end of the last sweep of the source
        self._hand: SweepOperator | None = None  # follows the guide on a simulated rig

    # --- life -------------------------------------------------------------------------------------------------------

    def start(
        self, *, wait: bool = False, record: str | None = None, metadata: Mapping[str, Any] | None = None
    ) -> Session:
        """Open the link. Without ``wait`` this returns at once and retries; with it a PortError is raised.

        ``record`` : with ``wait``, begin a recording of this name before the first byte is read, so that a playback is
            complete; ``metadata`` and errors as in ``start_recording``.
        """
        if wait:
            self._link.open(lambda rig: self._begin(rig, record, metadata))
        else:
            self._link.keep_opening(self._begin)
        return self

    def close(self) -> None:
        """Close recording, port and threads, in this order of importance. May be called twice."""
        self._link.stop_opening()
        try:
            self.stop_run()
            self.stop_recording(reason="session closed")
        finally:
            self._link.close()
            self._points.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def now(self) -> float:
        """Session time in s; see ``LiveSeries.now``."""
        return self._samples.now()

    def _tick(self) -> int:
        """The board's newest tick; before the first reading that of its description."""
        rig = self._link.rig
        return 0 if rig is None else rig.last_tick or int(rig.answer.description["tick"])

    @property
    def url(self) -> str | None:
        """URL as given or of the rig after a change; None if the rig was found by its answer."""
        return self._link.url

    @property
    def simulation(self) -> Any:
        """Control of a simulated rig: ``.control(name, value)`` and ``.truth()``. None with a real rig."""
        rig = self._link.rig
        return None if rig is None else rig.simulation

    def playback(self) -> Any:
        """Control of a replayed recording, with the methods of ``rig.playback.Playback``; None with a board."""
        rig = self._link.rig
        return None if rig is None else rig.playback

    # --- recording --------------------------------------------------------------------------------------------------

    @property
    def recording(self) -> bool:
        return self._keeper.running

    def start_recording(self, name: str = "", metadata: Mapping[str, Any] | None = None) -> Path:
        """Begin a recording; returns its path. ``metadata`` goes to the TOML file next to it.

        Raises RecordingUnwritable or NoSpace; InputError if one is already running or there is no rig.
        """
        rig = self._link.rig
        if rig is None:
            raise InputError("no rig is connected", where=self.url or "no port", remedy=self._link.words)
        path = self._keeper.start(rig, self.folder, name, metadata or {})
        if self._keeper.interrupted is not None:
            self.note(self._keeper.interrupted.words)
        return path

    def interrupted_words(self) -> str:
        """What the current or last recording continues or follows; empty if no interrupted recording was found."""
        before = self._keeper.interrupted
        return "" if before is None else before.words

    def catch_up(self, timeout: float = 10.0) -> bool:
        """Wait until ``snapshot`` includes all data received before this call, with points and fit.

        Returns False after ``timeout`` s.
        """
        rig, until = self._link.rig, time.monotonic() + timeout
        if rig is not None and not rig.catch_up(timeout):
            return False
        while self._points.look().fitting:
            if time.monotonic() > until:
                return False
            time.sleep(0.02)
        return True

    def stop_recording(self, reason: str = "stopped") -> Path | None:
        """End the recording; returns its path, None if none was running."""
        self._ends_with_sweep = self._ends_with_run = False
        return self._keeper.stop(self._link.rig, reason)

    # --- another rig ------------------------------------------------------------------------------------------------

    def change_rig(self, url: str) -> None:
        """Change to another rig; points, fit and folder stay, and running work with the old rig is ended first.

        Raises PortError if the other rig cannot be opened; the session then retries.
        """
        self.stop_run()
        if self._points.sweeping:
            self.stop_sweep()
        self.stop_recording("another rig")
        self._link.change(url)
        self._samples.gap()
        self._samples.place_anew()
        self._calibrating.rig_changed(calibration_folder(url, self.folder))
        self._points.gap()
        try:
            self._link.open(self._begin)
        except PortError:
            self.start()
            raise

    def _begin(self, rig: Rig, record: str | None = None, metadata: Mapping[str, Any] | None = None) -> None:
        """Start work with a rig that was opened."""
        self._samples.begin_rig(simulated=rig.simulation is not None, played=rig.playback is not None)
        if record is not None:
            self.start_recording(record, metadata)
        rig.run(on_batch=self._take, on_event=self._event, rate=self._rate)

    # --- marks ------------------------------------------------------------------------------------------------------

    def mark(self, text: str = "") -> None:
        """Put a mark into the stream now."""
        self.note(text, kind="mark")

    def note(self, text: str, kind: str = "note") -> None:
        """Write a sentence to the recording; ``kind`` is mark, note, step, sample or simulated (up to 16 bytes)."""
        self._log.note(text, kind)

    # --- sweep ------------------------------------------------------------------------------------------------------

    def start_sweep(
        self,
        name: str = "",
        metadata: Mapping[str, Any] | None = None,
        *,
        record: bool = True,
        through: str = "",
        build: Build | None = None,
    ) -> None:
        """Begin a guided sweep, with fresh points; records it unless one is running or ``record`` is False.

        ``through`` "dry" or "wet" sweeps the generator with a bleed before the spool, see ``sweep.generator_guide``.
        Its points go to ``snapshot().through`` at its end; points and fit of the source stay. ``build``, its sheet, is
        saved with the recording. A running sweep is ended first. Raises InputError during a run.
        """
        about = sweep_metadata(through, build)
        if self._running.on:
            raise InputError("a run is in progress", where="sweep", remedy="Stop the run, then sweep")
        simulation = self.simulation
        hand = None if simulation is None else operator_for(simulation, through)
        if self._points.sweeping:
            self.stop_sweep()
        if record and not self.recording and self._link.rig is not None:
            self.start_recording(name or stamped(f"{through}-sweep".lstrip("-")), {**about, **(metadata or {})})
            self._ends_with_sweep = True
        self._points.begin_sweep(through)
        self._hand = hand
        if not through:
            self._swept = (self.now, None)
        self.note(BEGINS[through or "source"], kind="step")

    def sweep_button(self) -> None:
        """Confirm the current step of the guided sweep (large button or the rig's button)."""
        self._points.button()

    def redo_point(self) -> bool:
        """Discard the newest point of the guided sweep and measure it again; False if there is none.

        The recording gets a note, so that its points are those of the session.
        """
        withdrawn = self._points.redo()
        if withdrawn is None:
            return False
        self.note(withdrawn_note(withdrawn[1] - withdrawn[0]), kind="step")
        return True

    def hand_follows(self) -> bool:
        """Whether a simulated hand follows the guide."""
        return self._hand is not None

    def turn_throttle(self, opening: float | None) -> None:
        """Set the throttle of a simulated rig, 0 closed to 1 open; None lets the simulated hand follow the guide again.

        Raises InputError at a real rig.
        """
        simulation = self.simulation
        if simulation is None:
            raise InputError("this is a real rig", where="throttle", remedy="Turn the throttle by hand")
        if opening is not None:
            self._hand = None
            simulation.control("throttle", min(max(opening, 0.0), 1.0))
            return
        sweep = self._points.look().sweep
        if sweep is None or not self._points.sweeping:
            raise InputError("no sweep is running", where="throttle", remedy="Start a guided sweep")
        self._hand = operator_for(simulation, "" if sweep.of == "source" else sweep.of)

    def stop_sweep(self) -> None:
        """End the sweep, and the recording if the sweep began it; points and fit stay."""
        self._points.end_sweep()
        self._sweep_ended()

    def _sweep_ended(self) -> None:
        hand, self._hand = self._hand, None
        if hand is not None:
            hand.let_go()
        if self._swept is not None and self._swept[1] is None:
            self._swept = (self._swept[0], self.now)
        self.note("sweep ends", kind="step")
        if self._ends_with_sweep:
            self.stop_recording("sweep ended")

    # --- run --------------------------------------------------------------------------------------------------------

    def start_run(
        self, name: str = "", metadata: Mapping[str, Any] | None = None, *, record: bool = True, **parts: Any
    ) -> None:
        """Begin a run: foam output and alarms, in ``snapshot().run``; a current run is stopped first.

        ``parts`` are the optional arguments of ``run.run.Run`` (build, generator, resistance, blower, samples, load,
        tare ...). Without ``blower`` the curve of this session's sweep is used, if there is one. Records unless a
        recording is running or ``record`` is False. Raises as ``start_recording`` and ``Run``.
        """
        if parts.get("blower") is None:
            parts["blower"] = self._points.look().fit
        run = Run(**parts)
        self.stop_run()
        if self._points.sweeping:
            self.stop_sweep()
        if record and not self.recording and self._link.rig is not None:
            self.start_recording(name or stamped("run"), {"kind": "run", **build_metadata(parts), **(metadata or {})})
            self._ends_with_run = True
        self._running.start(run)
        self.note(BEGINS["run"], kind="step")

    def add_sample(self, weighing: Weighing, time: float = float("nan")) -> FoamSample:
        """Add a sample weighed during the run. ``time`` is the time of the full container (s of session time), default
        now. Raises InputError without a run or if the readings contradict each other; SampleQuestioned if they
        contradict the run and are not confirmed.
        """
        try:
            sample = self._running.add_sample(weighing, time)
        except SampleQuestioned:
            self.note(f"not used yet: {spoken_sample(weighing)}", kind="sample")
            raise
        self.note(f"foam {sample.density.value:.1f} kg/m3: {spoken_sample(weighing)}", kind="sample")
        ago = 0.0 if math.isnan(time) else self.now - time
        self._keeper.keep_sample(weighing, ago)
        return sample

    def correct_sample(
        self, number: int, weighing: Weighing, time: float = float("nan"), *, counts: bool = True
    ) -> FoamSample:
        """Correct a sample of the active run or of the last one, see ``Run.correct_sample``. A running recording gets a
        note. Raises as ``add_sample``; the sample then stays as it was.
        """
        sample = self._running.correct_sample(number, weighing, time, counts=counts)
        said = spoken_sample(weighing) if counts else "withdrawn, does not count"
        self.note(f"sample {number} corrected: {said}", kind="sample")
        return sample

    def stop_run(self) -> RunState | None:
        """End the run, and the recording if the run began it. Returns its last state, which stays in the snapshot, or
        None if none was running.
        """
        ended = self._running.stop()
        if ended is not None:
            self.note("run ends", kind="step")
            if self._ends_with_run:
                self.stop_recording("run ended")
        return ended

    # --- state ----------------------------------------------------------------------------------------------------

    def names(self) -> tuple[str, ...]:
        """Names of the series received so far."""
        return tuple(self._samples.rings)

    def window(self, name: str, seconds: float) -> SeriesWindow:
        """Copy of the newest ``seconds`` of one series; empty before its first sample."""
        ring = self._samples.rings.get(name)
        if ring is None:
            empty = np.empty(0)
            return SeriesWindow(name, "", 0, empty, empty, empty, np.empty(0, np.uint8))
        return ring.window(seconds)

    def series(self, name: str, seconds: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(time, value) of the newest ``seconds``, each (n,): session time in s, SI value with NaN at gaps."""
        copy = self.window(name, seconds)
        return copy.time, copy.value

    def budgets(self) -> dict[str, Budget]:
        """The uncertainty budget of each known figure. Some ms each: not for every frame."""
        return self._samples.budgets()

    def calibrations(self) -> dict[str, ChannelCalibration]:
        """Calibrated channels of this board, by kind ("pressure", "rotor" ...)."""
        return self._samples.calibrations()

    @property
    def spool(self) -> Spool:
        """The spool used for conversion; the spool as drawn before the first board description."""
        converter = self._samples.converter
        return Spool.default() if converter is None else converter.spool

    def pressure_sensor(self, kind: str) -> RatiometricPressure | None:
        """Sensor of the channel ``pressure`` or ``differential`` by the board's settings; None without one."""
        converter = self._samples.converter
        return None if converter is None else converter.description.pressure_sensor(kind)

    def findings(self) -> tuple[Finding, ...]:
        """Plausibility findings of the newest minute and of the sweep. Takes 1 to some 10 ms: not for every frame."""
        if self._findings is None:
            self._findings = PlausibilityMonitor()
        sensor = self.pressure_sensor("pressure")
        return self._findings.look(self._samples.rings, self.now, self._swept, self._points.look().points, sensor)

    def calibrating(self) -> CalibrationSession:
        """The guided calibrations of this session, see ``bench.calibration_session``."""
        return self._calibrating

    def _title(self) -> str:
        return session_title(self.snapshot())

    def _figures(self) -> Sequence[Row]:
        return session_figures(self.snapshot())

    def _observations(self) -> Observations:
        return session_observations(self.snapshot())

    def _picture(self) -> Picture:
        return session_picture(self.snapshot())

    def snapshot(self) -> Snapshot:
        """The full state for pages except traces. Cheap enough for each message to the pages."""
        self._pace.looked()
        points = self._points.look()
        rig = self._link.rig
        clock = None
        if rig is not None and rig.clock.known:
            fit = rig.clock.fit_of_this_second()
            clock = ClockState(fit.drift, fit.u_drift, fit.span, fit.frames)
        return Snapshot(
            time=self.now,
            folder=self.folder,
            link=self._link.state(),
            board=self._board,
            losses=self._link.losses(),
            latest=self._samples.latest(),
            recording=self._keeper.state(),
            last_recording=self._keeper.last,
            marks=self._log.marks,
            clock=clock,
            steady=points.steady,
            points=points.points,
            fit=points.fit,
            fit_refused=points.refused,
            fit_running=points.fitting,
            sweep=points.sweep,
            simulated=self.simulation is not None,
            converter_trouble=self._samples.trouble,
            run=self._running.state,
            through=points.through,
        )

    def command(self, name: str, **fields: Any) -> Ack:
        """Send a command of wire/messages.toml to the board and wait for its answer.

        Raises BoardRefused, PortSilent, PortLost, or InputError when there is no rig.
        """
        rig = self._link.rig
        if rig is None:
            raise InputError("no rig is connected", where=self.url or "no port", remedy=self._link.words)
        return rig.command(name, **fields)

    # --- called by the rig's live thread ----------------------------------------------------------------------------

    def _take(self, batch: MessageBatch) -> None:
        self._link.heard()
        tables = batch.tables
        self._link.health(tables)
        if batch.described_anew:
            self._board = board_state(batch.description, simulated=self.simulation is not None)
            self._samples.describe(batch.description)
        for record in tables.get("mark", ()):
            self._log.add_mark("button", f"button {int(record['number'])}")
            if not self._calibrating.button():
                self._points.button()
        found = self._samples.take(tables)
        if self._samples.slept:
            self._points.gap()
            self._running.gap()
            self.note(f"the computer slept for {self._samples.slept:.0f} s; the readings of this time are missing")
        if self._samples.converter is not None:
            self._calibrating.hear(self._samples.converter.signals, found)
        run = self._running.state
        # during a run readings are not source points: leaks and clogging would bias the curve
        if found and (run is None or not run.running) and self._points.feed(found):
            self._sweep_ended()
        elif self._hand is not None:
            self._hand.follow(self._points.look().sweep, self._points.time)
        for alarm in self._running.feed(found):
            self._log.alarm(alarm)
        self._keeper.hear(batch)
        self._link.handled()
        if self._link.rig is not None:
            self._link.rig.pause = self._pace.pause(batch.last_tick)

    def _event(self, event: LinkEvent) -> None:
        self._link.event(event)
        if event.kind == "other_board":
            self.note(event.words, kind="other board")
            return
        if event.kind in {"lost", "board_reset"}:
            self._samples.gap()
            self._points.gap()
            self._running.gap()
        if event.kind in {"back", "board_reset"}:
            self._keeper.port_is_back()
            self._samples.place_anew()
        self._log.add_mark("link", event.words)
        if event.kind == "board_reset":  # the reader writes the other events at their position in the bytes
            self._keeper.put(lambda writer: writer.port("board_reset", event.words))
