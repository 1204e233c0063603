"""Content of the full-screen guide of a sweep, of an air source or through a generator. Pure functions."""

from __future__ import annotations

from typing import Any

from frothline.bench import snapshot as bench
from frothline.bench.snapshot import Snapshot
from frothline.formatting import DASH, show, unit_of
from frothline.rounding import decimals_for, rounded
from frothline.sweep.guide_state import SWEEP_NAMES, is_guiding
from frothline.web import live_figures
from frothline.web.elements import Node, button, node
from frothline.web.services import Services
from frothline.web.viewer import Viewer

# Text of the large button for each instruction.
BUTTONS = {
    "close": "It is closed",
    "hold": "Settling",
    "steady": "Taken",
    "open": "It is open all the way",
    "open_fully": "It is open all the way",
    "go_back": "It is there",
    "full": "This is full air",
    "foam": "Foam comes evenly",
    "little": "It goes no further",
    "more": "This is full air",
    "full_again": "This is full air",
}


BEFORE = (
    "A bleed, an open branch with a valve, stands between air source and spool: open, it gives the generator less air; "
    "shut, all of it. Without one, turn the source itself down and up."
)


class GuideContent:
    """Fills in the full-screen guide, and on every page the line about a running sweep."""

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        say(now, viewer, message)


def content(_: Services) -> GuideContent:
    return GuideContent()


def say(now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
    """Fill in texts, states, bar and tone of the guide, and the buttons that begin it."""
    sweep, texts, states = now.sweep, message["texts"], message["states"]
    texts["sweep-start"] = "Guided sweep"
    texts["sweep-line"] = ""
    if sweep is None or not (sweep.running or sweep.done):
        states["sweep"] = "off"
        return
    states["sweep"] = "done" if sweep.done else sweep.phase
    message["bars"]["sweep"] = round(min(max(sweep.progress, 0.0), 1.0), 3)
    message["tones"]["steady"] = sweep.points
    texts["sweep-instruction"] = sweep.instruction
    texts["sweep-why"] = no_link if (no_link := _no_link(now)) else sweep.why
    texts["sweep-points"] = f"{sweep.points} of about {sweep.wanted} points"
    texts["sweep-missing"] = _gap(sweep.gap, viewer.system) or "; ".join(sweep.missing)
    texts["sweep-caution"] = sweep.caution
    end = "See the curve" if sweep.of == "source" else "See the line"
    texts["sweep-button"] = end if sweep.done else BUTTONS.get(sweep.phase, "Next")
    texts["sweep-look"] = "Look at the curve" if sweep.of == "source" else "Look at the page"
    pressure = live_figures.figure(now, "line_pressure")
    shown = show(pressure.value, pressure.u, "pressure", viewer.system, reason=pressure.reason)
    texts["sweep-pressure"] = DASH if shown.value == DASH else f"{shown.value} {shown.unit}"
    if is_guiding(sweep):
        texts["sweep-start"] = "Sweep in large type"
        texts["sweep-line"] = f"{SWEEP_NAMES[sweep.of]} is running, {texts['sweep-points']}: {sweep.instruction}"


def through_pieces(now: Snapshot) -> list[Node | None]:
    """The buttons that begin a sweep through the generator; during one, the link back to its guide."""
    sweep = now.sweep
    if is_guiding(sweep):
        assert sweep is not None
        return [
            node("p", f"{SWEEP_NAMES[sweep.of]} is running.", role="status", class_="sweep-line"),
            button("Sweep in large type", "", look="main", data_guide="yes"),
        ]
    return [
        node("p", BEFORE),
        node(
            "div",
            button("Sweep it dry", "through:start:dry", look="main", data_guide="yes"),
            button("Sweep it wet", "through:start:wet", look="main", data_guide="yes"),
            class_="row",
        ),
        node(
            "p",
            "Dry: the reservoir empty, nothing wet. Wet: while it makes foam. Some two minutes each; the model is then "
            "brought to what was measured.",
            class_="small",
        ),
    ]


def _gap(gap: tuple[float, float] | None, system: str) -> str:
    if gap is None:
        return ""
    unit = unit_of("pressure", system)
    places = decimals_for(unit.factor * (gap[1] - gap[0]) / 10)
    low, high = (rounded(unit.from_si(pressure), places) for pressure in gap)
    return f"points are missing between {low} and {high} {unit.symbol}"


def _no_link(now: Snapshot) -> str:
    return "" if now.link.state == bench.LIVE else live_figures.no_frames(now)
