"""Services shared by the contents of all pages: session, newest snapshot, and background results."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any, Protocol

from frothline.bench import snapshot as bench
from frothline.bench.background import Background, in_thread
from frothline.bench.calibration_state import CalibrationOverview
from frothline.bench.closed_recordings import ClosedRecordings
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.library import OWN, Library
from frothline.bench.plan_control import PlanControl
from frothline.bench.playback_control import PlaybackControl
from frothline.bench.recorded_samples import RecordedSamples
from frothline.bench.run_control import RunControl
from frothline.bench.session_api import SessionApi
from frothline.bench.snapshot import Snapshot
from frothline.bench.sweep_control import SimulatedThrottle, SweepControl
from frothline.readings.applied_calibration import AUTO
from frothline.rig.playback import PlaybackState
from frothline.sensors.finding import Finding
from frothline.trials.notebook import season
from frothline.web import live_figures
from frothline.web import trail as web_trail
from frothline.web.charts import pressure_flow
from frothline.web.charts.axis_reach import AxisReach
from frothline.web.shared_edits import SharedEdits
from frothline.web.viewer import Viewer

SNAPSHOT_AGE = 0.02  # s; viewers within this time share one snapshot, those of the next turn do not
THROTTLE_AGE = 0.3  # s between two looks at the throttle of a simulated rig
FINDINGS_AGE, KNOWN_AGE = 3.0, 1.5  # s between two updates of the findings and of the calibrations in use


class PageContent(Protocol):
    """Interface that fills in one page. Called for each message, from any thread; must be fast, see ``Background``."""

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None: ...


class Services:
    """The services of one program; thread-safe.

    desk, runs, sweeps : generator, run and sweep of all pages
    reach : largest flow and pressure of the live axes
    findings : findings of the newest minute
    calibrated : the calibrations in use
    shared_edits : who changed the build sheet last
    throttle : the throttle of a simulated rig
    playback, played : control and state of a replayed recording
    viewers : open pages
    frame_rate : frames per s
    """

    def __init__(self, session: SessionApi, *, clock: Callable[[], float] = time.monotonic) -> None:
        self.session = session
        self.clock = clock
        self._season = season()
        self.desk = GeneratorWorkspace(session, self._season, start=in_thread)
        self.runs = RunControl(session, self.desk)
        self.sweeps = SweepControl(session, self.desk)
        self.viewers = 0
        self.frame_rate = 0.0
        self.reach = AxisReach(2, clock)  # live flow and pressure
        self.findings: Background[tuple[Finding, ...]] = Background(session.findings, (), FINDINGS_AGE, clock=clock)
        self.calibrated: Background[CalibrationOverview | None] = Background(
            session.calibrating().known, None, KNOWN_AGE, clock=clock
        )
        self.shared_edits = SharedEdits(clock)
        self.playback = PlaybackControl(session)
        self._closed = ClosedRecordings(self._calibration)
        self.played: Background[PlaybackState | None] = Background(self.playback.state, None, THROTTLE_AGE, clock=clock)
        self.throttle: Background[SimulatedThrottle | None] = Background(
            self.sweeps.throttle, None, THROTTLE_AGE, clock=clock
        )
        self._lock = threading.Lock()
        self._snapshot: Snapshot | None = None
        self._taken = -1e9
        self._calibration_changes = 0
        self._frames: tuple[float, int] = (0.0, 0)
        self._library: Library | None = None
        self._plans: PlanControl | None = None
        self._recorded_samples: RecordedSamples | None = None

    @property
    def library(self) -> Library:
        """The folders of recordings, known after the first snapshot."""
        if self._library is None:
            calibrating = self.session.calibrating()
            self._library = Library(self.snapshot().folder, self._season, calibrating.for_recordings)
        return self._library

    def _calibration(self) -> Any:
        """The calibration that the pages read a recording of this session with."""
        notebook = self.library.places[OWN].look().notebook
        return AUTO if notebook is None else notebook.calibration

    @property
    def plans(self) -> PlanControl:
        if self._plans is None:
            self._plans = PlanControl(self.library.places[OWN])
        return self._plans

    @property
    def recorded_samples(self) -> RecordedSamples:
        """Corrections of the samples of earlier recordings."""
        if self._recorded_samples is None:
            self._recorded_samples = RecordedSamples(self.library.places[OWN], self.runs.samples)
        return self._recorded_samples

    def snapshot(self) -> Snapshot:
        """The state of the session, at most ``SNAPSHOT_AGE`` old."""
        with self._lock:
            now = self.clock()
            if self._snapshot is None or now - self._taken > SNAPSHOT_AGE:
                self._snapshot = self.session.snapshot()
                self._taken = now
                self._look_at(self._snapshot)
                self.desk.notice(self._snapshot)
                self.runs.notice(self._snapshot)
                self._closed.notice(self._snapshot)
            return self._snapshot

    def _look_at(self, now: Snapshot) -> None:
        changes = self.session.calibrating().changes
        if changes != self._calibration_changes:  # readings of another calibration must not extend an axis
            self._calibration_changes = changes
            self.reach.clear()
        self.reach.take([live_figures.figure(now, name).value for name in ("standard_flow", "line_pressure")])
        since = now.time - self._frames[0]
        if since >= 1.0:
            self.frame_rate = (now.link.frames - self._frames[1]) / since
            self._frames = (now.time, now.link.frames)

    def wrong(self, now: Snapshot) -> tuple[Finding, ...]:
        """Findings of the newest minute; empty while no frames arrive."""
        return self.findings.look() if now.link.state == bench.LIVE else ()

    def live_dot(self, now: Snapshot, viewer: Viewer) -> dict[str, Any]:
        """The operating point now and its recent path, for a chart of pressure over flow."""
        flow = live_figures.figure(now, "standard_flow").value
        pressure = live_figures.figure(now, "line_pressure").value
        seconds = web_trail.TRAIL_SECONDS + 1.0
        trail = web_trail.trail(
            self.session.window("line_pressure", seconds), self.session.window("standard_flow", seconds), now.time
        )
        return pressure_flow.plane_live(*trail, flow, pressure, viewer.system)
