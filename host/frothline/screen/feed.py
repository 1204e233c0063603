"""From the bench to one message for one viewer. No page framework is imported here.

A viewer tells what it shows (page, units, light or dark, width, which pictures it already has) and gets everything that
may have changed. Nothing is remembered about it between two messages, so a lost message heals with the next, a reload
costs nothing, and a viewer that stops asking costs nothing either.
"""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from frothline.bench import state as bench
from frothline.bench.calibrating import Known
from frothline.bench.notebook import season
from frothline.bench.state import RecordingState, Snapshot
from frothline.formatting import Shown, running_time, show_estimate, size
from frothline.screen import (
    bench_view,
    bucket_view,
    calibration_view,
    fault_marks,
    figures,
    findings_view,
    guide_view,
    line,
    notebook_feed,
    overlay_view,
    source_words,
    spool_words,
)
from frothline.screen.axis_reach import AxisReach
from frothline.screen.bench_view import Bench, Fault
from frothline.screen.blocks import block
from frothline.screen.bucket_feed import BucketFeed
from frothline.screen.decimate import Line, min_max
from frothline.screen.figures import Source
from frothline.screen.generator_feed import GeneratorFeed, Kept
from frothline.screen.overlay_view import Overlay
from frothline.screen.palette import Scheme
from frothline.screen.run_desk import RunDesk
from frothline.screen.sheet_desk import Desk
from frothline.screen.shelf import OWN, Shelf
from frothline.screen.slow import Slow
from frothline.screen.spool_words import Doubts
from frothline.screen.sweep_desk import SweepDesk
from frothline.sensors import Finding
from frothline.units import SYSTEMS

SNAPSHOT_AGE = 0.04  # s; viewers that ask within this time share one snapshot
DOUBTS_AGE = 4.0  # s between two looks at the budgets, which take a while
FINDINGS_AGE, KNOWN_AGE = 3.0, 1.5  # s, the same of what looks wrong and of the calibrations in use
WINDOWS = (30, 120, 600)  # s, the stretches of time a reader may choose for the traces
GAP = 0.35  # s without a sample breaks a trace: three samples at the slowest rate, 10 Hz
MOST_COLUMNS = 400
NARROW = 180  # columns below which a page is a phone's: four pixels each, as in the style sheet
MOST_WISHES, LONGEST_WISH = 60, 300  # texts under one name, letters in one text
RESULTS = (("shut_off", "pressure"), ("free_delivery", "flow"), ("air_power", "power"))
FIGURES = (("line_pressure", "pressure"), ("standard_flow", "flow"), ("air_power", "power"))
LINK_LOOK = {bench.LIVE: "live", bench.OPENING: "waiting", bench.ENDED: "waiting", bench.QUIET: "waiting"}


@dataclass(frozen=True)
class Viewer:
    """What one page shows. Built from what the browser said, so nothing of it is believed unchecked."""

    page: str = "source"
    system: str = "metric"
    scheme: Scheme = "light"
    columns: int = 200
    seconds: int = 30
    touch: bool = False
    have: Mapping[str, str] = field(default_factory=dict)
    wish: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # what was chosen or typed, by its name
    seen: int = 0  # number of the last message that was drawn

    @classmethod
    def of(cls, said: Any) -> Viewer:
        """Whatever came from the page; what does not fit is replaced by what is usual."""
        if not isinstance(said, Mapping):
            return cls()
        have, wish = said.get("have"), said.get("wish")
        return cls(
            page=_one_of(said.get("page"), [part.key for part in line.PARTS]),
            system=_one_of(said.get("system"), list(SYSTEMS)),
            scheme=cast("Scheme", _one_of(said.get("scheme"), ["light", "dark"])),
            columns=_within(said.get("columns"), 40, MOST_COLUMNS, 200),
            seconds=_one_of(said.get("seconds"), list(WINDOWS)),
            touch=said.get("touch") is True,
            have={str(k): str(v) for k, v in have.items()} if isinstance(have, Mapping) else {},
            wish={str(k): _texts(v) for k, v in wish.items()} if isinstance(wish, Mapping) else {},
            seen=_within(said.get("seen"), 0, 2**53, 0),
        )


class Feed:
    """Messages for any number of viewers of one bench; safe to be called from several threads."""

    def __init__(self, session: Bench, *, clock: Callable[[], float] = time.monotonic) -> None:
        self.session = session
        self.desk = Desk(session, season())
        self.runs = RunDesk(session, self.desk)
        self.sweeps = SweepDesk(session, self.desk)
        self._generator = GeneratorFeed(self.desk)
        self._bucket = BucketFeed(self.runs, self.desk)
        self.viewers = 0  # live loops, for the page that shows the health of the rig
        self._clock = clock
        self._lock = threading.Lock()
        self._snapshot: Snapshot | None = None
        self._taken = -1e9
        self._reach = AxisReach(2, clock)  # live flow and pressure
        self._calibration_changes = 0
        self._source = Source()
        self._drawn_from: tuple[Any, Any] = ((), None)
        self._revision = 0
        self._frames: tuple[float, int] = (0.0, 0)
        self._rate = 0.0
        self._doubts: Slow[Doubts] = Slow(
            lambda: Doubts(session.budgets(), session.calibrations()), Doubts(), DOUBTS_AGE, clock=clock
        )
        self._findings: Slow[tuple[Finding, ...]] = Slow(session.findings, (), FINDINGS_AGE, clock=clock)
        self._shelf: Shelf | None = None
        self._kept = Kept()
        self._calibrated: Slow[Known | None] = Slow(session.calibrating().known, None, KNOWN_AGE, clock=clock)

    @property
    def shelf(self) -> Shelf:
        """The folders of recordings, known once the bench has been looked at."""
        if self._shelf is None:
            calibrating = self.session.calibrating()
            self._shelf = Shelf(self.snapshot().folder, season(), calibrating.for_recordings)
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
        self._reach.take([bench_view.figure(now, name).value for name in ("standard_flow", "line_pressure")])
        points, fit = self._drawn_from
        if now.fit is not fit or now.points != points:
            self._drawn_from = (now.points, now.fit)
            self._source = Source(now.points, bench_view.curve(now))
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
        found = bench_view.faults(now)
        found += findings_view.faults(wrong, found)
        of_run, alarms = self._bucket.everywhere(now, viewer)
        found += alarms
        texts, states = line.words(now, found, viewer.page, viewer.system, of_run)
        message: dict[str, Any] = {
            "number": number,
            "frames": now.link.frames,
            "bars": {"sweep": 0.0},
            "tones": {
                "steady": len(now.points),
                "alarm": _alarms(now, found),
                "lasting": bucket_view.sounding(now.run),
            },
            "texts": texts,
            "states": states,
            "tables": {},
            "blocks": {},
            "figures": {},
        }
        _say_link(now, texts, states)
        _say_recording(now, texts, states)
        guide_view.say(now, viewer, message)
        if viewer.page == "source":
            self._say_source(now, viewer, message)
            message["blocks"]["findings"] = block(findings_view.pieces(wrong), viewer.have.get("findings"))
        elif viewer.page == "generator":
            self._generator.say(viewer, message, self._live_dot(now, viewer), self._reach.look())
            message["blocks"]["through"] = block(guide_view.through_pieces(now), viewer.have.get("through"))
            fault_marks.say(now.run, message)
        elif viewer.page == "bucket":
            self._bucket.say(now, viewer, message)
        elif viewer.page == "notebook":
            notebook_feed.say(self.shelf, self._kept, now, viewer, message)
        elif viewer.page == "spool":
            message["tables"] = spool_words.tables(now, viewer.system, self._doubts.look(), self._rate, self.viewers)
            known = self._calibrated.look()
            calibration_view.say(self.session.calibrating(), known, viewer, message, dt.date.today())  # noqa: DTZ011
        return message

    def _say_source(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        texts = message["texts"]
        for name, quantity in FIGURES:
            _put(texts, f"now-{name}", _live(now, name, quantity, viewer.system))
        why = now.fit_refused or "more steady points are needed"
        for name, quantity in RESULTS:
            estimate = None if now.fit is None else getattr(now.fit, name)
            _put(texts, f"fit-{name}", show_estimate(estimate, quantity, viewer.system, reason="not known yet"))
            beyond = estimate is not None and estimate.known and estimate.extrapolated
            message["states"][f"fit-{name}"] = "predicted" if beyond else "measured"
        texts["fit-words"] = _fit_words(now, why)
        texts["fit-standard"] = source_words.in_standard_air(now, viewer.system)
        running = now.recording is not None and not now.recording.ended
        for key, pieces in (
            ("record-name", source_words.name_entry(running=running)),
            ("mark-words", source_words.mark_entry()),
        ):
            message["blocks"][key] = block(pieces, viewer.have.get(key))
        texts["fit-points"] = _count(len(now.points), "steady point", "no steady point yet")
        hand, room = "touch" if viewer.touch else "pointer", "narrow" if viewer.columns < NARROW else "wide"
        look = f"{viewer.system}/{viewer.scheme}/{hand}/{room}"
        beside = self._overlay(now, viewer, message)
        self._plane(now, viewer, beside, f"{look}/{self._revision}/{beside.key}", message["figures"])
        self._traces(now, viewer, f"{look}/{viewer.seconds}", message["figures"])

    def _live_dot(self, now: Snapshot, viewer: Viewer) -> dict[str, Any]:
        flow = bench_view.figure(now, "standard_flow").value
        pressure = bench_view.figure(now, "line_pressure").value
        seconds = bench_view.TRAIL_SECONDS + 1.0
        trail = bench_view.trail(
            self.session.window("line_pressure", seconds), self.session.window("standard_flow", seconds), now.time
        )
        return figures.plane_live(*trail, flow, pressure, viewer.system)

    def _overlay(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> Overlay:
        """What stands beside the measured source, and whether any of them can carry the generator on the desk."""
        known = self._calibrated.look()
        calibration = None if known is None else known.calibration
        stamp = "" if calibration is None else overlay_view.stamp_of(calibration)
        wished = viewer.wish.get(overlay_view.WISH, ())
        beside = overlay_view.choose(
            self.shelf,
            wished,
            simulated=now.simulated,
            calibration=self.session.calibrating().for_recordings(),
            stamp=stamp,
        )
        desk = self.desk.look()
        generator = desk.answer.generator if desk.answer is not None else None
        verdict, name = overlay_view.carried(self.shelf, beside, now.fit, generator, desk.result)
        offered = self.shelf.sweeps(simulated=now.simulated)
        body = overlay_view.pieces(offered, beside, verdict, name, viewer.system)
        message["blocks"]["overlay"] = block(body, viewer.have.get("overlay"))
        return beside

    def _plane(self, now: Snapshot, viewer: Viewer, beside: Overlay, key: str, into: dict[str, Any]) -> None:
        flow, pressure = self._kept.once(("reach", beside.key), beside.reach)
        live_flow, live_pressure = self._reach.look()
        reach = max(live_flow, flow), max(live_pressure, pressure)
        x, y = figures.plane_limits(self._source, *reach, viewer.system)
        live = self._live_dot(now, viewer)
        into["plane"] = {"key": key, "live": live, "ranges": {"xaxis": x, "yaxis": y}}
        if viewer.have.get("plane") != key:
            drawn = figures.plane(
                self._source,
                viewer.system,
                viewer.scheme,
                touch=viewer.touch,
                narrow=viewer.columns < NARROW,
                over=overlay_view.traces(beside, viewer.system, viewer.scheme),
            )
            into["plane"]["figure"] = drawn.to_plotly_json()

    def _traces(self, now: Snapshot, viewer: Viewer, key: str, into: dict[str, Any]) -> None:
        lines: list[Line] = []
        for name, _, _ in figures.TRACES:
            kept = self.session.window(name, viewer.seconds)
            lines.append(min_max(kept.time, kept.value, viewer.columns, first=kept.first, gap=GAP))
        into["traces"] = {"key": key, "live": figures.traces_live(lines, now.time, viewer.seconds, viewer.system)}
        if viewer.have.get("traces") != key:
            drawn = figures.traces(viewer.system, viewer.scheme, viewer.seconds, touch=viewer.touch)
            into["traces"]["figure"] = drawn.to_plotly_json()


def _say_link(now: Snapshot, texts: dict[str, str], states: dict[str, str]) -> None:
    state = now.link.state
    port = f" on {now.link.port}" if now.link.port and not now.simulated else ""  # no port that could be looked at
    remedy = (now.link.error or {}).get("remedy", "")
    texts["link"] = {
        bench.LIVE: f"frames arrive{port}",
        bench.LOST: f"cable out{port}: plug it in again, it goes on by itself",
        bench.QUIET: f"silent{port}: the port is open but nothing comes",
    }.get(state, " ".join(filter(None, (now.link.words, remedy))))
    if now.link.other_board:
        texts["link"] = now.link.other_board[:1].upper() + now.link.other_board[1:]
    states["link"] = "lost" if now.link.other_board else LINK_LOOK.get(state, "lost")
    lost = [f"{count} {word}" for word, count in spool_words.losses(now) if count]
    texts["losses"] = ", ".join(lost) if lost else "nothing lost"
    states["losses"] = "some" if lost else "none"
    if now.converter_trouble:
        texts["link"] += f"; {now.converter_trouble}"
    texts["simulated"] = "simulated rig" if now.simulated else ""


def _say_recording(now: Snapshot, texts: dict[str, str], states: dict[str, str]) -> None:
    recording = now.recording
    running = recording is not None and not recording.ended
    states["recording"] = "trouble" if recording is not None and recording.trouble else "on" if running else "off"
    texts["record-button"] = "Stop recording" if running else "Start recording"
    texts["recording"] = "not recording" if recording is None else _recording_words(recording)
    if recording is not None:
        texts["recording-where"] = f"{recording.path} ({size(recording.bytes)})"
        texts["recording-about"] = "Being written to"
    elif now.last_recording is not None:
        texts["recording-where"], texts["recording-about"] = str(now.last_recording), "The last one lies in"
    else:
        texts["recording-where"], texts["recording-about"] = str(now.folder), "Recordings go to"


def _recording_words(recording: RecordingState) -> str:
    if recording.ended:
        return f"recording stopped: {recording.trouble or 'it was closed'}"
    if recording.trouble:
        kept = f"{size(recording.kept)} kept in memory, trying again every second"
        return f"recording interrupted, {kept}: {recording.trouble}"
    faults = recording.write_faults
    healed = f", continued after {faults} write error{'s' if faults != 1 else ''}" if faults else ""
    return f"recording {running_time(recording.running)}{healed}"


def _fit_words(now: Snapshot, why: str) -> str:
    if now.fit is None and now.fit_running:
        return "working on the curve"
    if now.fit is None:
        return f"No curve yet: {why}" if now.points else "A guided sweep finds its curve."
    return ". ".join(text[:1].upper() + text[1:] for text in now.fit.advice)


def _alarms(now: Snapshot, found: tuple[Fault, ...]) -> int:
    return sum(fault.alarm for fault in found) + (now.link.state == bench.LOST) + _trouble(now)


def _trouble(now: Snapshot) -> int:
    return int(now.recording is not None and bool(now.recording.trouble))


def _live(now: Snapshot, name: str, quantity: str, system: str) -> Shown:
    return bench_view.figure(now, name).shown(quantity, system)


def _put(texts: dict[str, str], key: str, shown: Shown) -> None:
    texts[key], texts[f"{key}-unit"], texts[f"{key}-under"] = shown.value, shown.unit, shown.under


def _count(count: int, word: str, none: str) -> str:
    return none if not count else f"1 {word}" if count == 1 else f"{count} {word}s"


def _one_of(said: Any, allowed: list[Any]) -> Any:
    return said if said in allowed else allowed[0]


def _texts(said: Any) -> tuple[str, ...]:
    return tuple(str(text)[:LONGEST_WISH] for text in said[:MOST_WISHES]) if isinstance(said, list) else ()


def _within(said: Any, low: int, high: int, usual: int) -> int:
    if isinstance(said, bool) or not isinstance(said, int | float) or said != said:  # noqa: PLR0124  NaN
        return usual
    return int(min(max(said, low), high))
