"""The tour of a simulated rig: five steps from a sweep to an alarm, each with the page that has its button.

A step is done when the session shows its result, in any order and by any viewer. The tour is dismissed for one browser
tab; it never covers anything.
"""

from __future__ import annotations

from dataclasses import dataclass

from frothline.bench.playback_control import replayed
from frothline.bench.snapshot import Snapshot
from frothline.bench.workspace_state import WorkspaceState
from frothline.web.elements import Node, button, node
from frothline.web.pages import links
from frothline.web.viewer import Viewer

WISH = "tour"  # the viewer's setting; "off" when dismissed
RUN = "run"  # page of a run
BROKEN = "packing_blown"  # alarm of the last step


@dataclass(frozen=True)
class TourStep:
    """``words`` : what to do. ``page`` : the page that has its button. ``done`` : whether it is done."""

    words: str
    page: str
    done: bool


def steps(now: Snapshot, sheet: WorkspaceState) -> tuple[TourStep, ...]:
    """The steps with their state."""
    run = now.run
    alarms = () if run is None else run.log
    return (
        TourStep("Sweep the air source", "source", now.fit is not None and not now.fit_running),
        TourStep("Change the outlet", "generator", bool(sheet.altered)),
        TourStep("Make foam", RUN, run is not None),
        TourStep("Blow the packing out", RUN, any(alarm.code == BROKEN for alarm in alarms)),
        TourStep("Clear the fault", RUN, any(alarm.code == BROKEN and not alarm.active for alarm in alarms)),
    )


def pieces(now: Snapshot, sheet: WorkspaceState, viewer: Viewer) -> list[Node]:
    """The tour as a block; empty at a real rig, and for a viewer who has dismissed it."""
    if not now.simulated or replayed(now) or viewer.wish.get(WISH) == ("off",):
        return []
    found = steps(now, sheet)
    first = next((step for step in found if not step.done), None)
    paths = {link.key: link.path for link in links()}
    items = [
        node(
            "li",
            node("a", step.words, href=paths[step.page], data_page=step.page) if not step.done else step.words,
            value=str(number),
            data_is="done" if step.done else "next" if step is first else "later",
            aria_current="step" if step is first else None,
        )
        for number, step in enumerate(found, 1)
    ]
    end = "All five done." if first is None else _where(first, viewer.page)
    return [
        node(
            "div",
            node("b", "Try it"),
            node("ol", *items),
            node("p", end, role="status"),
            button("Dismiss", "", also=f"{WISH}:off"),
            class_="tour",
            role="region",
            aria_label="tour of the simulated rig",
        )
    ]


HERE = {
    "Sweep the air source": "Press “Guided sweep”. A simulated hand follows the guide; the slider lets you do it.",
    "Change the outlet": "Change the outlet bore and watch the operating point.",
    "Make foam": "Press “Make foam”.",
    "Blow the packing out": "Open “Try a fault (simulation)” and press “the packing has left through the outlet”.",
    "Clear the fault": "Press the same fault again.",
}


def _where(step: TourStep, page: str) -> str:
    return HERE[step.words] if step.page == page else f"Next: {step.words.lower()}, on the page “{step.page}”."
