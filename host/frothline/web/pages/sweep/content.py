"""Content of the full-screen guide of a sweep, of an air source or through a generator. Pure functions."""

from __future__ import annotations

from typing import Any

from frothline.bench import snapshot as bench
from frothline.bench.playback_control import SWEEP, why_not_offered
from frothline.bench.snapshot import Snapshot
from frothline.formatting import DASH, show, unit_of
from frothline.rounding import decimals_for, rounded
from frothline.sweep.guide_state import SWEEP_NAMES, GuideState, is_guiding
from frothline.web import live_figures
from frothline.web.elements import Node, block, button, node
from frothline.web.pages.sweep import labels, sweep_chart
from frothline.web.services import Services
from frothline.web.texts import sentence
from frothline.web.viewer import Viewer


class GuideContent:
    """Fills in the full-screen guide, and on every page the line about a running sweep."""

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        say(now, viewer, message)
        if now.sweep is not None and (now.sweep.running or now.sweep.done):
            picture = sweep_chart.picture(now.sweep, now.fit, viewer.system, viewer.scheme)
            message["blocks"]["sweep-chart"] = block(picture, viewer.have.get("sweep-chart"))


def content(_: Services) -> GuideContent:
    return GuideContent()


def say(now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
    """Fill in texts, states, bar and tone of the guide, and the buttons that begin it."""
    sweep, texts, states = now.sweep, message["texts"], message["states"]
    texts["sweep-start"] = labels.GUIDED_SWEEP
    texts["sweep-line"] = ""
    refused = why_not_offered(now, SWEEP)
    texts["sweep-refused"] = sentence(refused)
    states["measures"] = "no" if refused else "yes"
    if sweep is None or not (sweep.running or sweep.done):
        states["sweep"] = "off"
        return
    states["sweep"] = "done" if sweep.done else sweep.phase
    message["bars"]["sweep"] = round(min(max(sweep.progress, 0.0), 1.0), 3)
    message["tones"]["steady"] = sweep.points
    texts["sweep-instruction"] = sweep.instruction
    texts["sweep-why"] = no_link if (no_link := _no_link(now)) else sweep.why
    texts["sweep-points"] = labels.points(sweep.points, sweep.wanted)
    texts["sweep-target"] = target_words(sweep, viewer.system)
    texts["sweep-missing"] = "; ".join(sweep.missing)
    states["sweep-redo"] = "yes" if sweep.can_redo else "no"
    texts["sweep-caution"] = sweep.caution
    end = labels.SHOW_CURVE if sweep.of == "source" else labels.SHOW_LINE
    texts["sweep-button"] = end if sweep.done else labels.BUTTONS.get(sweep.phase, labels.NEXT)
    texts["sweep-look"] = labels.CLOSE
    pressure = live_figures.figure(now, "line_pressure")
    shown = show(pressure.value, pressure.u, "pressure", viewer.system, reason=pressure.reason)
    texts["sweep-pressure"] = DASH if shown.value == DASH else f"{shown.value} {shown.unit}"
    if is_guiding(sweep):
        texts["sweep-start"] = labels.OPEN_GUIDE
        texts["sweep-line"] = f"{labels.running(SWEEP_NAMES[sweep.of])}, {texts['sweep-points']}: {sweep.instruction}"


def through_pieces(now: Snapshot) -> list[Node | None]:
    """The buttons that begin a sweep through the generator; during one, the link back to its guide."""
    sweep = now.sweep
    if refused := why_not_offered(now, SWEEP):
        return [node("p", sentence(refused))]
    if is_guiding(sweep):
        assert sweep is not None
        return [
            node("p", f"{labels.running(SWEEP_NAMES[sweep.of])}.", role="status", class_="sweep-line"),
            button(labels.OPEN_GUIDE, "", look="main", data_guide="yes"),
        ]
    return [
        node("p", labels.BEFORE),
        node(
            "div",
            button(labels.MEASURE_DRY, "through:start:dry", look="main", data_guide="yes"),
            button(labels.MEASURE_WET, "through:start:wet", look="main", data_guide="yes"),
            class_="row",
        ),
        node(
            "p",
            labels.DRY_AND_WET,
            class_="small",
        ),
    ]


def target_words(sweep: GuideState, system: str) -> str:
    """The target as text, "until about 16.3 kPa", rounded to what its band supports; empty without one."""
    if sweep.target is None:
        return ""
    unit = unit_of("pressure", system)
    low, high = sweep.target
    places = decimals_for(unit.factor * 2.0 * (high - low))
    return labels.until(f"{rounded(unit.from_si(0.5 * (low + high)), places)} {unit.symbol}")


def _no_link(now: Snapshot) -> str:
    return "" if now.link.state == bench.LIVE else live_figures.no_frames(now)
