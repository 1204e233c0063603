"""Blocks of the bucket page for the run and its alarms. Pure functions."""

from __future__ import annotations

from frothline.bench.run_control import SimulatedFaults
from frothline.formatting import DASH, running_time, show_estimate
from frothline.run.state import RunState
from frothline.web.elements import Node, button, node, nodes, table
from frothline.web.pages.bucket.samples import _value
from frothline.web.run_summary import _figure
from frothline.web.texts import sentence

# name of the figure, its title, its quantity
MORE = (
    ("density", "foam density, in the bucket", "density"),
    ("density_in_line", "the same in the generator, at its pressure", "density"),
    ("expansion", "expansion ratio", "1"),
    ("capture", "share of the air caught", "%"),
    ("foam_left", "foam to go", "volume"),
    ("solution_left", "solution left", "volume"),
    ("solution_rate", "solution used, as it goes", "foam_rate"),
    ("air_used", "air used, as free air", "air_volume"),
)


def alarm_block(run: RunState | None) -> list[Node | None]:
    """Active alarms, the most severe first, in large type: observation, likely cause, action."""
    if run is None or not run.running:
        return [None]
    return [
        node(
            "div",
            node("h2", alarm.title),
            node("p", node("b", "Do: "), alarm.do, class_="do"),
            node("p", node("b", "Seen: "), sentence(alarm.seen), class_="seen"),
            node("p", node("b", "Likely: "), alarm.means, class_="seen"),
            class_=f"alarm {alarm.severity}",
            id=f"alarm-{alarm.number}",
        )
        for alarm in run.alarms
    ]


def run_block(run: RunState | None, simulated: SimulatedFaults | None, doing: str) -> list[Node | None]:
    """The block with the buttons that start and stop a run."""
    going = run is not None and run.running
    parts: list[Node | None] = []
    if going:
        parts.append(button("Stop the run", "bucket:stop", look="main stop"))
    elif simulated is not None and not simulated.foam:
        parts.append(button("Make foam (simulated)", "bucket:foam", look="main"))
        parts.append(
            node(
                "p",
                "There is only a throttle at the end of this simulated line. This puts the simulated generator there, "
                "with the same air source, and begins a run.",
                class_="small",
            )
        )
    else:
        parts.append(button("Start a run" if run is None else "Start another run", "bucket:start", look="main"))
    parts.append(node("p", doing, class_="small"))
    return parts


def more_block(run: RunState | None, system: str) -> list[Node | None]:
    """Details of foam and solution, with their sources."""
    if run is None:
        return [
            node(
                "p",
                "A run shows foam and solution as they go and watches over the line. It takes the generator from its "
                "sheet and the air source from its sweep; both may be missing, and it says what it cannot see then.",
                class_="small",
            )
        ]
    rows: list[list[Node]] = []
    for name, title, quantity in MORE:
        shown = _figure(run, name, quantity, system)
        if shown.value == DASH and not run.output.why.get(name):
            continue
        rows.append([title, _value(shown)])
    views = []
    for name, title in (("anemometer", "anemometer"), ("by_source", "source's curve"), ("by_build", "build sheet")):
        estimate = getattr(run.views, name)
        shown = show_estimate(estimate, "flow", system, reason="not known")
        views.append([title, _value(shown)])
    said = [*run.output.assumptions, *run.cannot_see]
    return [
        node(
            "div",
            table("Foam and solution", (), rows, name="more"),
            table("The flow, three times", (), views, name="views"),
            class_="two",
        ),
        node("ul", *nodes("li", [sentence(text) for text in dict.fromkeys(said)]), class_="small") if said else None,
    ]


def log_block(run: RunState | None) -> list[Node | None]:
    """The block with all alarms of the run, the newest first."""
    if run is None or not run.log:
        return [None]
    rows: list[list[Node]] = [
        [
            running_time(alarm.time - run.started),
            node("b", alarm.title),
            sentence(alarm.seen),
            "lasts" if alarm.active else f"over after {running_time((alarm.ended or alarm.time) - alarm.time)}",
        ]
        for alarm in reversed(run.log)
    ]
    return [table("Alarms of this run", ("at", "what", "seen", ""), rows, name="log")]


def fault_block(simulated: SimulatedFaults | None) -> list[Node | None]:
    """Buttons that start faults on a simulated line."""
    if simulated is None:
        return [None]
    items: list[Node] = []
    for name, words in simulated.faults.items():
        on = name in simulated.active
        ask = f"bucket:heal:{name}" if on else f"bucket:fault:{name}"
        items.append(button(words, ask, aria_pressed="true" if on else "false"))
    all_ = button("put everything right", "bucket:heal:all", look="", disabled=not simulated.active)
    refill = button("refill the reservoir", "bucket:refill", look="") if simulated.foam else None
    return [
        node("h2", "Let something go wrong (simulated)"),
        node(
            "p", "Press once to begin it, again to put it right. Watch the line at the top of the page.", class_="small"
        ),
        node("div", *items, all_, refill, class_="faults"),
    ]
