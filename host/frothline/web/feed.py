"""From the bench to one message for one viewer. No page framework is imported here.

A viewer tells what it shows (page, units, light or dark, width, which pictures it already has) and gets everything that
may have changed. Nothing is remembered about it between two messages, so a lost message heals with the next, a reload
costs nothing, and a viewer that stops asking costs nothing either.
"""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections.abc import Callable
from typing import Any

from frothline.bench import snapshot as bench
from frothline.bench.background import Background
from frothline.bench.calibration_session import CalibrationOverview
from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.bench.library import OWN, Library
from frothline.bench.run_control import RunControl
from frothline.bench.session_api import SessionApi
from frothline.bench.snapshot import Snapshot
from frothline.bench.sweep_control import SweepControl
from frothline.formatting import Shown, show_estimate
from frothline.sensors import Finding
from frothline.trials.notebook import season
from frothline.web import line_diagram, live_figures, plausibility, run_summary, side_view
from frothline.web import trail as web_trail
from frothline.web.charts import pressure_flow, traces
from frothline.web.charts.axis_reach import AxisReach
from frothline.web.charts.decimate import DecimatedLine, min_max
from frothline.web.charts.pressure_flow import SourceDrawing
from frothline.web.elements import block
from frothline.web.header import _trouble, say_link, say_recording
from frothline.web.live_figures import LineFault
from frothline.web.memo import Memo
from frothline.web.pages.bucket.content import BucketFeed
from frothline.web.pages.generator.content import GeneratorFeed
from frothline.web.pages.notebook import content as notebook_content
from frothline.web.pages.source import content as source_content
from frothline.web.pages.source import other_sweeps
from frothline.web.pages.source.content import fit_words
from frothline.web.pages.source.other_sweeps import Overlay
from frothline.web.pages.spool import calibration as spool_calibration
from frothline.web.pages.spool import tables as spool_tables
from frothline.web.pages.spool.tables import Budgets
from frothline.web.pages.sweep import content as sweep_content
from frothline.web.texts import put_figure
from frothline.web.viewer import GAP, NARROW, RESULTS, Viewer, _count

SNAPSHOT_AGE = 0.04  # s; viewers that ask within this time share one snapshot


DOUBTS_AGE = 4.0  # s between two looks at the budgets, which take a while


FINDINGS_AGE, KNOWN_AGE = 3.0, 1.5  # s, the same of what looks wrong and of the calibrations in use


FIGURES = (("line_pressure", "pressure"), ("standard_flow", "flow"), ("air_power", "power"))


class Feed:
    """Messages for any number of viewers of one bench; safe to be called from several threads."""

    def __init__(self, session: SessionApi, *, clock: Callable[[], float] = time.monotonic) -> None:
        self.session = session
        self.desk = GeneratorWorkspace(session, season())
        self.runs = RunControl(session, self.desk)
        self.sweeps = SweepControl(session, self.desk)
        self._generator = GeneratorFeed(self.desk)
        self._bucket = BucketFeed(self.runs, self.desk)
        self.viewers = 0  # live loops, for the page that shows the health of the rig
        self._clock = clock
        self._lock = threading.Lock()
        self._snapshot: Snapshot | None = None
        self._taken = -1e9
        self._reach = AxisReach(2, clock)  # live flow and pressure
        self._calibration_changes = 0
        self._source = SourceDrawing()
        self._drawn_from: tuple[Any, Any] = ((), None)
        self._revision = 0
        self._frames: tuple[float, int] = (0.0, 0)
        self._rate = 0.0
        self._doubts: Background[Budgets] = Background(
            lambda: Budgets(session.budgets(), session.calibrations()), Budgets(), DOUBTS_AGE, clock=clock
        )
        self._findings: Background[tuple[Finding, ...]] = Background(session.findings, (), FINDINGS_AGE, clock=clock)
        self._shelf: Library | None = None
        self._kept = Memo()
        self._calibrated: Background[CalibrationOverview | None] = Background(
            session.calibrating().known, None, KNOWN_AGE, clock=clock
        )

    @property
    def shelf(self) -> Library:
        """The folders of recordings, known once the bench has been looked at."""
        if self._shelf is None:
            calibrating = self.session.calibrating()
            self._shelf = Library(self.snapshot().folder, season(), calibrating.for_recordings)
        return self._shelf

    def snapshot(self) -> Snapshot:
        """The state of the bench, at most 0.04 s old."""
        with self._lock:
            now = self._clock()
            if self._snapshot is None or now - self._taken > SNAPSHOT_AGE:
                self._snapshot = self.session.snapshot()
                self._taken = now
                self._look_at(self._snapshot)
                self.desk.notice(self._snapshot)
                self.runs.notice(self._snapshot)
            return self._snapshot

    def _look_at(self, now: Snapshot) -> None:
        changes = self.session.calibrating().changes
        if changes != self._calibration_changes:  # what was read with another calibration must not hold an axis open
            self._calibration_changes = changes
            self._reach.clear()
        self._reach.take([live_figures.figure(now, name).value for name in ("standard_flow", "line_pressure")])
        points, fit = self._drawn_from
        if now.fit is not fit or now.points != points:
            self._drawn_from = (now.points, now.fit)
            self._source = SourceDrawing(now.points, web_trail.curve(now))
            self._revision += 1
        since = now.time - self._frames[0]
        if since >= 1.0:
            self._rate = (now.link.frames - self._frames[1]) / since
            self._frames = (now.time, now.link.frames)

    def update(self, viewer: Viewer, number: int) -> dict[str, Any]:
        """One message: plain values that JSON can carry. ``number`` comes back from the page once it is
        drawn; 0 for a message that the page asked for.
        """
        now = self.snapshot()
        runs = now.run is not None and now.run.running  # its recording grows, and would be read again and again
        if viewer.page in ("generator", "bucket") and not runs:
            self.runs.see(self.shelf.places[OWN].look())
        wrong = self._findings.look() if now.link.state == bench.LIVE else ()
        found = live_figures.faults(now)
        found += plausibility.faults(wrong, found)
        of_run, alarms = self._bucket.everywhere(now, viewer)
        found += alarms
        texts, states = line_diagram.words(now, found, viewer.page, viewer.system, of_run)
        message: dict[str, Any] = {
            "number": number,
            "frames": now.link.frames,
            "bars": {"sweep": 0.0},
            "tones": {
                "steady": len(now.points),
                "alarm": _alarms(now, found),
                "lasting": run_summary.sounding(now.run),
            },
            "texts": texts,
            "states": states,
            "tables": {},
            "blocks": {},
            "figures": {},
        }
        say_link(now, texts, states)
        say_recording(now, texts, states)
        sweep_content.say(now, viewer, message)
        if viewer.page == "source":
            self._say_source(now, viewer, message)
            message["blocks"]["findings"] = block(plausibility.pieces(wrong), viewer.have.get("findings"))
        elif viewer.page == "generator":
            self._generator.say(viewer, message, self._live_dot(now, viewer), self._reach.look())
            message["blocks"]["through"] = block(sweep_content.through_pieces(now), viewer.have.get("through"))
            side_view.say(now.run, message)
        elif viewer.page == "bucket":
            self._bucket.say(now, viewer, message)
        elif viewer.page == "notebook":
            notebook_content.say(self.shelf, self._kept, now, viewer, message)
        elif viewer.page == "spool":
            message["tables"] = spool_tables.tables(now, viewer.system, self._doubts.look(), self._rate, self.viewers)
            known = self._calibrated.look()
            spool_calibration.say(self.session.calibrating(), known, viewer, message, dt.date.today())  # noqa: DTZ011
        return message

    def _say_source(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        texts = message["texts"]
        for name, quantity in FIGURES:
            put_figure(texts, f"now-{name}", _live(now, name, quantity, viewer.system))
        why = now.fit_refused or "more steady points are needed"
        for name, quantity in RESULTS:
            estimate = None if now.fit is None else getattr(now.fit, name)
            put_figure(texts, f"fit-{name}", show_estimate(estimate, quantity, viewer.system, reason="not known yet"))
            beyond = estimate is not None and estimate.known and estimate.extrapolated
            message["states"][f"fit-{name}"] = "predicted" if beyond else "measured"
        texts["fit-words"] = fit_words(now, why)
        texts["fit-standard"] = source_content.in_standard_air(now, viewer.system)
        running = now.recording is not None and not now.recording.ended
        for key, pieces in (
            ("record-name", source_content.name_entry(running=running)),
            ("mark-words", source_content.mark_entry()),
        ):
            message["blocks"][key] = block(pieces, viewer.have.get(key))
        texts["fit-points"] = _count(len(now.points), "steady point", "no steady point yet")
        hand, room = "touch" if viewer.touch else "pointer", "narrow" if viewer.columns < NARROW else "wide"
        look = f"{viewer.system}/{viewer.scheme}/{hand}/{room}"
        beside = self._overlay(now, viewer, message)
        self._plane(now, viewer, beside, f"{look}/{self._revision}/{beside.key}", message["figures"])
        self._traces(now, viewer, f"{look}/{viewer.seconds}", message["figures"])

    def _live_dot(self, now: Snapshot, viewer: Viewer) -> dict[str, Any]:
        flow = live_figures.figure(now, "standard_flow").value
        pressure = live_figures.figure(now, "line_pressure").value
        seconds = web_trail.TRAIL_SECONDS + 1.0
        trail = web_trail.trail(
            self.session.window("line_pressure", seconds), self.session.window("standard_flow", seconds), now.time
        )
        return pressure_flow.plane_live(*trail, flow, pressure, viewer.system)

    def _overlay(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> Overlay:
        """What stands beside the measured source, and whether any of them can carry the generator on the desk."""
        known = self._calibrated.look()
        calibration = None if known is None else known.calibration
        stamp = "" if calibration is None else other_sweeps.stamp_of(calibration)
        wished = viewer.wish.get(other_sweeps.WISH, ())
        beside = other_sweeps.choose(
            self.shelf,
            wished,
            simulated=now.simulated,
            calibration=self.session.calibrating().for_recordings(),
            stamp=stamp,
        )
        desk = self.desk.look()
        generator = desk.answer.generator if desk.answer is not None else None
        verdict, name = other_sweeps.carried(self.shelf, beside, now.fit, generator, desk.result)
        offered = self.shelf.sweeps(simulated=now.simulated)
        body = other_sweeps.pieces(offered, beside, verdict, name, viewer.system)
        message["blocks"]["overlay"] = block(body, viewer.have.get("overlay"))
        return beside

    def _plane(self, now: Snapshot, viewer: Viewer, beside: Overlay, key: str, into: dict[str, Any]) -> None:
        flow, pressure = self._kept.once(("reach", beside.key), beside.reach)
        live_flow, live_pressure = self._reach.look()
        reach = max(live_flow, flow), max(live_pressure, pressure)
        x, y = pressure_flow.plane_limits(self._source, *reach, viewer.system)
        live = self._live_dot(now, viewer)
        into["plane"] = {"key": key, "live": live, "ranges": {"xaxis": x, "yaxis": y}}
        if viewer.have.get("plane") != key:
            drawn = pressure_flow.plane(
                self._source,
                viewer.system,
                viewer.scheme,
                touch=viewer.touch,
                narrow=viewer.columns < NARROW,
                over=other_sweeps.traces(beside, viewer.system, viewer.scheme),
            )
            into["plane"]["figure"] = drawn.to_plotly_json()

    def _traces(self, now: Snapshot, viewer: Viewer, key: str, into: dict[str, Any]) -> None:
        lines: list[DecimatedLine] = []
        for name, _, _ in traces.TRACES:
            kept = self.session.window(name, viewer.seconds)
            lines.append(min_max(kept.time, kept.value, viewer.columns, first=kept.first, gap=GAP))
        into["traces"] = {"key": key, "live": traces.traces_live(lines, now.time, viewer.seconds, viewer.system)}
        if viewer.have.get("traces") != key:
            drawn = traces.traces(viewer.system, viewer.scheme, viewer.seconds, touch=viewer.touch)
            into["traces"]["figure"] = drawn.to_plotly_json()


def _alarms(now: Snapshot, found: tuple[LineFault, ...]) -> int:
    return sum(fault.alarm for fault in found) + (now.link.state == bench.LOST) + _trouble(now)


def _live(now: Snapshot, name: str, quantity: str, system: str) -> Shown:
    return live_figures.figure(now, name).shown(quantity, system)
