"""Content of the source page: live figures, fitted curve, charts, and the fields of its buttons."""

from __future__ import annotations

from typing import Any

from frothline.bench.library import OWN
from frothline.bench.playback_control import RECORDING, replayed, why_not_offered
from frothline.bench.snapshot import LIVE, Snapshot
from frothline.bench.sweep_control import SimulatedThrottle
from frothline.formatting import DASH, Shown, show_estimate
from frothline.sentence_units import in_units
from frothline.sweep.guide_state import is_guiding
from frothline.web import live_figures, plausibility
from frothline.web import trail as web_trail
from frothline.web.charts import pressure_flow, traces
from frothline.web.charts.decimate import DecimatedLine, min_max
from frothline.web.charts.pressure_flow import SourceDrawing
from frothline.web.elements import Node, block, button, in_reader_units, node
from frothline.web.form_fields import entry
from frothline.web.memo import Memo
from frothline.web.pages.source import labels, other_sweeps, source_forms
from frothline.web.pages.source.other_sweeps import Overlay
from frothline.web.services import Services
from frothline.web.texts import counted, put_figure, sentence
from frothline.web.viewer import GAP, NARROW, RESULTS, Viewer

FIGURES = (("line_pressure", "pressure"), ("standard_flow", "flow"), ("air_power", "power"))
NAME, WORDS = "name", "words"  # of the fields, as returned with the button

NOTED = ("mark", "note", "alarm")  # kinds of notes of the session that are marked on the trend


class SourceContent:
    """Fills in the source page."""

    def __init__(self, services: Services) -> None:
        self._services = services
        self._kept = Memo()
        self._source = SourceDrawing()
        self._drawn_from: tuple[Any, Any] = ((), None)
        self._revision = 0

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        """Fill in figures, fit, fields, charts and the sweeps to compare with."""
        wrong = self._services.wrong(now)
        message["blocks"]["findings"] = block(
            in_reader_units(plausibility.pieces(wrong), viewer.system), viewer.have.get("findings")
        )
        self._keep_drawing(now)
        texts = message["texts"]
        for name, quantity in FIGURES:
            put_figure(texts, f"now-{name}", _live(now, name, quantity, viewer.system))
        why, replay = now.fit_refused or labels.MORE_POINTS, replayed(now)
        unknown = labels.NONE_IN_REPLAY if replay else labels.NOT_KNOWN
        for name, quantity in RESULTS:
            estimate = None if now.fit is None else getattr(now.fit, name)
            put_figure(texts, f"fit-{name}", show_estimate(estimate, quantity, viewer.system, reason=unknown))
            beyond = estimate is not None and estimate.known and estimate.extrapolated
            message["states"][f"fit-{name}"] = "predicted" if beyond else "measured"
        texts["fit-words"] = in_units(fit_words(now, why), viewer.system)
        texts["fit-standard"] = in_standard_air(now, viewer.system)
        running = now.recording is not None and not now.recording.ended
        texts["record-refused"] = sentence(why_not_offered(now, RECORDING))
        for key, pieces in (
            ("record-name", self._kept.once(("name", running), lambda: name_entry(running=running))),
            ("mark-words", self._kept.once("mark", mark_entry)),
            ("throttle", throttle_pieces(self._services.throttle.look() if now.simulated else None, now)),
        ):
            message["blocks"][key] = block(pieces, viewer.have.get(key))
        none = "" if replay else labels.NO_POINT
        texts["fit-points"] = sentence(counted(len(now.points), labels.POINT, none))
        hand, room = "touch" if viewer.touch else "pointer", "narrow" if viewer.columns < NARROW else "wide"
        look = f"{viewer.system}/{viewer.scheme}/{hand}/{room}"
        beside = self._overlay(now, viewer, message)
        if viewer.charts:
            self._plane(now, viewer, beside, f"{look}/{self._revision}/{beside.key}", message["figures"])
            self._traces(now, viewer, f"{look}/{viewer.seconds}", message["figures"])

    def _keep_drawing(self, now: Snapshot) -> None:
        """Draw points and curve again only when they have changed."""
        points, fit = self._drawn_from
        if now.fit is not fit or now.points != points:
            self._drawn_from = (now.points, now.fit)
            self._source = SourceDrawing(now.points, web_trail.curve(now))
            self._revision += 1

    def _overlay(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> Overlay:
        """The sweeps compared with the measured source, and whether each can drive the generator of the sheet."""
        known = self._services.calibrated.look()
        calibration = None if known is None else known.calibration
        stamp = "" if calibration is None else other_sweeps.stamp_of(calibration)
        wished = viewer.wish.get(other_sweeps.WISH, ())
        beside = other_sweeps.choose(
            self._services.library,
            wished,
            simulated=now.simulated,
            calibration=self._services.session.calibrating().for_recordings(),
            stamp=stamp,
        )
        desk = self._services.desk.look()
        generator = desk.answer.generator if desk.answer is not None else None
        verdict, name = other_sweeps.carried(self._services.library, beside, now.fit, generator, desk.result)
        offered = self._services.library.sweeps(simulated=now.simulated)
        body = other_sweeps.pieces(offered, beside, verdict, name, viewer.system)
        message["blocks"]["overlay"] = block(body, viewer.have.get("overlay"))
        newest = (beside.key, now.points[-1:], viewer.system)
        loaded = self._kept.once(
            ("filter", *newest), lambda: source_forms.filter_pieces(now.points, beside, viewer.system)
        )
        message["blocks"]["loaded-filter"] = block(loaded, viewer.have.get("loaded-filter"))
        groups = self._services.library.places[OWN].look().groups
        curve = now.fit is not None
        asked = ("forms", tuple(groups.items()), curve)
        forms = self._kept.once(asked, lambda: source_forms.form_pieces(groups, has_curve=curve))
        message["blocks"]["source-files"] = block(forms, viewer.have.get("source-files"))
        return beside

    def _plane(self, now: Snapshot, viewer: Viewer, beside: Overlay, key: str, into: dict[str, Any]) -> None:
        flow, pressure = self._kept.once(("reach", beside.key), beside.reach)
        live_flow, live_pressure = self._services.reach.look()
        reach = max(live_flow, flow), max(live_pressure, pressure)
        x, y = pressure_flow.plane_limits(self._source, *reach, viewer.system)
        live = self._services.live_dot(now, viewer)
        into["plane"] = {"key": key, "live": live, "ranges": {"xaxis": x, "yaxis": y}}
        if viewer.have.get("plane") != key:
            drawn = pressure_flow.plane(
                self._source,
                viewer.system,
                viewer.scheme,
                touch=viewer.touch,
                narrow=viewer.columns < NARROW,
                over=other_sweeps.traces(beside, viewer.system, viewer.scheme),
                empty="" if self._source.points or self._source.curve or beside.known else no_curve(now),
            )
            into["plane"]["figure"] = drawn.to_plotly_json()

    def _traces(self, now: Snapshot, viewer: Viewer, key: str, into: dict[str, Any]) -> None:
        lines: list[DecimatedLine] = []
        for name, _, _ in traces.TRACES:
            kept = self._services.session.window(name, viewer.seconds)
            lines.append(min_max(kept.time, kept.value, viewer.columns, first=kept.first, gap=GAP))
        empty = "" if any(len(line.time) for line in lines) else no_readings(now)
        key += f"/{empty}"
        notes = [(mark.time, mark.text or mark.kind) for mark in now.marks if mark.kind in NOTED]
        newest = max([now.time, *(float(line.time[-1]) for line in lines if len(line.time))])  # a fast simulation
        into["traces"] = {"key": key, "live": traces.traces_live(lines, newest, viewer.seconds, viewer.system, notes)}
        if viewer.have.get("traces") != key:
            drawn = traces.traces(viewer.system, viewer.scheme, viewer.seconds, touch=viewer.touch, empty=empty)
            into["traces"]["figure"] = drawn.to_plotly_json()


def content(services: Services) -> SourceContent:
    return SourceContent(services)


def no_curve(now: Snapshot) -> str:
    """Text of the empty chart: how to get a curve."""
    return labels.NO_CURVE_IN_REPLAY if replayed(now) else labels.NO_CURVE


def no_readings(now: Snapshot) -> str:
    """Why the trend is empty."""
    return labels.WAITING if now.link.state == LIVE else live_figures.no_frames(now)


def name_entry(*, running: bool) -> list[Node]:
    """The field for the recording's name; empty during a recording, whose file is already named."""
    return [] if running else [entry("record", NAME, labels.RECORDING_NAME, example=labels.RECORDING_EXAMPLE)]


def mark_entry() -> list[Node]:
    return [entry("mark", WORDS, labels.NOTE, example=labels.NOTE_EXAMPLE)]


def throttle_pieces(throttle: SimulatedThrottle | None, now: Snapshot) -> list[Node]:
    """The slider of a simulated rig's throttle, and who turns it; empty at a real rig."""
    if throttle is None:
        return []
    name = labels.BLEED if throttle.bleed else labels.THROTTLE
    percent = f"{100 * throttle.opening:.0f}"
    guided = is_guiding(now.sweep)
    if throttle.hand:
        words = labels.HAND_FOLLOWS
    elif guided:
        words = labels.YOU_TURN
    else:
        words = labels.move_slider(name)
    slider = node(
        "input",
        type="range",
        min="0",
        max="100",
        step="1",
        value=percent,
        name="opening",
        id="throttle-opening",
        aria_valuetext=f"{percent} % open",
    )
    give_back = button(labels.LET_HAND, "source:hand") if guided and not throttle.hand else None
    return [
        node(
            "div",
            node("label", labels.simulated(name), for_="throttle-opening"),
            slider,
            node("output", f"{percent} %", for_="throttle-opening"),
            give_back,
            node("p", words, class_="small"),
            class_="throttle",
            data_form="throttle",
            data_change="source:throttle",
        )
    ]


def in_standard_air(now: Snapshot, system: str) -> str:
    """Figures in air of 1.2 kg/m³ as text, comparable between days, or the reason why there are none."""
    standard = None if now.fit is None else now.fit.standard
    if standard is None:
        return ""
    if standard.why_not:
        return labels.standard_air_unknown(standard.why_not)
    shown = (
        (name, show_estimate(estimate, quantity, system))
        for name, estimate, quantity in (
            (labels.SHUT_OFF, standard.shut_off, "pressure"),
            (labels.FREE_DELIVERY, standard.free_delivery, "flow"),
            (labels.AIR_POWER, standard.air_power, "power"),
        )
    )
    words = ", ".join(f"{name} {one.value} {one.unit} ({one.under})" for name, one in shown if one.value != DASH)
    return labels.standard_air(standard.found_in, words)


def fit_words(now: Snapshot, why: str) -> str:
    if now.fit is None and now.fit_running:
        return labels.CALCULATING
    if now.fit is None:
        if replayed(now):
            return labels.NO_FIT_IN_REPLAY
        return labels.no_curve_yet(why) if now.points else labels.NO_FIT
    return ". ".join(text[:1].upper() + text[1:] for text in now.fit.advice)


def _live(now: Snapshot, name: str, quantity: str, system: str) -> Shown:
    return live_figures.figure(now, name).shown(quantity, system)
