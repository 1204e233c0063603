"""What the bucket's page says of the run, its alarms, its samples and the timer. Pure functions; no page here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import cast

from frothline.bench import state as bench
from frothline.bench.foam_windows import Range, Verdict, with_wanted
from frothline.bench.run_state import PRIMING, RunState
from frothline.bench.state import Snapshot
from frothline.bench.watch.alarm import ALARM, NOTICE, Alarm
from frothline.estimate import Estimate
from frothline.formatting import (
    DASH,
    PERCENT,
    RATIO,
    Shown,
    running_time,
    show_estimate,
    show_estimate_in,
    show_time,
    unit_of,
)
from frothline.screen import forms
from frothline.screen.bench_view import Fault, Place
from frothline.screen.blocks import Node, button, node, nodes, table
from frothline.screen.run_desk import Simulated, Taken
from frothline.screen.sample_timer import BUTTONS, DRAIN, FILLING, INSTRUCTIONS, LABELS, READINGS, READY, WEIGH, Timing

PHASES = {
    "waiting": "No air yet",
    "air alone": "Air alone, no foam yet",
    "priming": "Priming",
    "foaming": "Foaming",
    "thinning": "Thinning",
    "dry": "Dry",
    "unknown": "Running",
}
NO_RUN = "no run yet"
NO_FOAM = {"packing_blown", "joint_off_before", "joint_off_after", "source_off", "dry"}
# What the line says of an alarm whose place says the rest: the mark stands at that very joint.
ON_LINE = {"joint_off_before": "joint off", "joint_off_after": "joint off", "leak_before": "leak", "leak_after": "leak"}
# Where it stands, if not at the place of its kind: between source and spool, which is the source's no more.
STANDS_AT: Mapping[str, Place] = {"joint_off_before": "inlet", "leak_before": "inlet"}
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


def figures(run: RunState | None, system: str) -> dict[str, str]:
    """The three large figures, the phase and the clock of the run."""
    texts: dict[str, str] = {}
    for name, quantity in (("foam_rate", "foam_rate"), ("foam_total", "volume"), ("time_left", "time")):
        _put(texts, f"run-{name}", _figure(run, name, quantity, system))
    if run is not None and run.running and run.phase == PRIMING and texts["run-foam_total"] != DASH:
        texts["run-foam_total-under"] = f"a guess while it primes: {texts['run-foam_total-under']}"
    said = phase(run)
    texts["run-phase"] = f"{said[:1].upper()}{said[1:]}"
    texts["run-good"] = good_until(run, system)
    texts["run-clock"] = "" if run is None else running_time(run.elapsed)
    return texts


def phase(run: RunState | None) -> str:
    """How the run goes: the gravest alarm that lasts, for nothing goes well then; else what the watch says of it."""
    if run is None:
        return ""
    if not run.running:
        return "the run has ended"
    alarm = gravest(run)
    if alarm is not None and alarm.code == "pressure_off":
        return run.phase_words if run.phase_words.startswith("not monitoring") else f"not monitoring: {alarm.title}"
    return alarm.title if alarm is not None else run.phase_words or PHASES[run.phase]


def gravest(run: RunState | None) -> Alarm | None:
    """The gravest of the alarms that last; warnings and notices do not count."""
    lasting = run.alarms if run is not None and run.running else ()
    return next((alarm for alarm in lasting if alarm.severity == ALARM and alarm.active), None)


def sounding(run: RunState | None) -> list[str]:
    """A name for each alarm that lasts, by which a page knows which of them somebody has heard."""
    if run is None or not run.running:
        return []
    lasting = (alarm for alarm in run.alarms if alarm.severity == ALARM and alarm.active)
    return [f"{run.started:.1f}/{alarm.number}" for alarm in lasting]


def over_everything(now: Snapshot) -> dict[str, str]:
    """The gravest alarm as it stands over pages that cover the whole screen; empty without one."""
    alarm = gravest(now.run)
    if alarm is None and now.link.state == bench.LOST:
        return {"over-title": "cable out", "over-do": "Plug it in again, it goes on by itself."}
    return {"over-title": alarm.title if alarm else "", "over-do": alarm.do if alarm else ""}


def good_until(run: RunState | None, system: str) -> str:
    """How much foam was made before an alarm first spoilt it; empty while it is good."""
    alarm = None if run is None else run.spoilt
    if run is None or alarm is None:
        return ""
    at = f"“{alarm.title}” at {running_time(alarm.onset - run.started)}"
    shown = show_estimate(run.output.foam_good, "volume", system)
    if shown.value == DASH:
        return f"No good foam was made before {at}."
    return f"Good until {at}: {shown.value} {shown.unit} ({shown.under})."


def _figure(run: RunState | None, name: str, quantity: str, system: str) -> Shown:
    minutes = name == "time_left"
    if run is None:
        return Shown(DASH, "min" if minutes else unit_of(quantity, system).symbol, NO_RUN)
    estimate, why = getattr(run.output, name), run.output.why.get(name, "")
    if name in {"foam_rate", "time_left"} and (stopping := no_foam(run)):
        estimate, why = None, stopping
    if minutes and not (estimate is not None and estimate.value == 0.0 == estimate.upper):
        return show_time(estimate, reason=why)
    shown = _shown(estimate, quantity, system, why)
    return Shown(shown.value, "min", shown.under) if minutes else shown


def no_foam(run: RunState) -> str:
    """The alarm under which what the anemometer says is no foam any more; empty without one."""
    return next((alarm.title for alarm in run.alarms if run.running and alarm.code in NO_FOAM), "")


def _shown(estimate: Estimate | None, quantity: str, system: str, why: str = "") -> Shown:
    unit = {"1": RATIO, "%": PERCENT}.get(quantity) or unit_of(quantity, system)
    if estimate is not None and estimate.value == 0.0 == estimate.upper:
        return Shown("0", unit.symbol, "none left")
    known = estimate if estimate is not None and estimate.known else None
    return show_estimate_in(known, unit, reason=why)


def line_texts(run: RunState | None, system: str) -> dict[str, str]:
    """What stands at bucket and generator on the line; nothing without a run."""
    if run is None or not run.running:
        return {}
    foam, left = _figure(run, "foam_rate", "foam_rate", system), _figure(run, "solution_left", "volume", system)
    return {
        "line-foam": "" if foam.value == DASH else f"{foam.value} {foam.unit}",
        "line-solution": "" if left.value == DASH else f"{left.value} {left.unit} left",
    }


def faults(run: RunState | None) -> tuple[Fault, ...]:
    """The alarms of a run at their place on the line."""
    if run is None or not run.running:
        return ()
    return tuple(
        Fault(
            STANDS_AT.get(alarm.code, cast("Place", alarm.place)),
            ON_LINE.get(alarm.code, alarm.title),
            alarm=alarm.severity != NOTICE,
        )
        for alarm in run.alarms
    )


# --- the run --------------------------------------------------------------------------------------------------------


def alarm_block(run: RunState | None) -> list[Node | None]:
    """Those that last, the gravest first, in large type: what was seen, what it likely is, what to do."""
    if run is None or not run.running:
        return [None]
    return [
        node(
            "div",
            node("h2", alarm.title),
            node("p", node("b", "Do: "), alarm.do, class_="do"),
            node("p", node("b", "Seen: "), _sentence(alarm.seen), class_="seen"),
            node("p", node("b", "Likely: "), alarm.means, class_="seen"),
            class_=f"alarm {alarm.severity}",
            id=f"alarm-{alarm.number}",
        )
        for alarm in run.alarms
    ]


def run_block(run: RunState | None, simulated: Simulated | None, doing: str) -> list[Node | None]:
    """Start and stop."""
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
    """Everything else that is known of foam and solution, and what stands behind it."""
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
        node("ul", *nodes("li", [_sentence(text) for text in dict.fromkeys(said)]), class_="small") if said else None,
    ]


def log_block(run: RunState | None) -> list[Node | None]:
    """All alarms of the run, the newest first."""
    if run is None or not run.log:
        return [None]
    rows: list[list[Node]] = [
        [
            running_time(alarm.time - run.started),
            node("b", alarm.title),
            _sentence(alarm.seen),
            "lasts" if alarm.active else f"over after {running_time((alarm.ended or alarm.time) - alarm.time)}",
        ]
        for alarm in reversed(run.log)
    ]
    return [table("Alarms of this run", ("at", "what", "seen", ""), rows, name="log")]


def fault_block(simulated: Simulated | None) -> list[Node | None]:
    """Buttons that let things go wrong on a simulated line."""
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


# --- samples --------------------------------------------------------------------------------------------------------


def sample_block(timing: Timing, run: RunState | None) -> list[Node | None]:
    """The way to the timer."""
    going = timing.step != "off"
    words = "Go on with the sample" if going else "Take a sample"
    parts: list[Node | None] = [button(words, "bucket:begin", look="main", also="sample:large")]
    if run is None or not run.running:
        parts.append(
            node(
                "p",
                "Without a run nobody knows the air that went into the bucket: density and drainage will be known, the "
                "share of the air that was caught will not.",
                class_="small",
            )
        )
    return parts


def result_block(taken: Sequence[Taken], system: str, wanted: Range | None = None) -> list[Node | None]:
    """What samples have told, and the newest against its windows, with who says so.

    ``wanted`` : kg/m³ of foam that the builder's plan asks for, in place of what is usual
    """
    if not taken:
        return [None]
    heads = ["", *(f"sample {number}" for number in range(len(taken), 0, -1))][:5]
    newest = list(reversed(taken))[:4]
    rows: list[list[Node]] = []
    for name, title, quantity in (
        ("density", "foam density", "density"),
        ("expansion", "expansion ratio", "1"),
        ("gas_fraction", "gas in the foam", "%"),
        ("output", "output", "foam_rate"),
        ("capture", "share of the air caught", "%"),
        ("drainage", "a quarter drained after", "time"),
        ("drained_share", "drained after 5 min", "%"),
    ):
        cells: list[Node] = [_value(_sampled(item, name, quantity, system)) for item in newest]
        rows.append([title, *cells])
    sample = newest[0].sample
    verdicts: list[list[Node]] = [
        [
            verdict_words(verdict),
            _span(verdict, system),
            verdict.window.words,
            node("small", verdict.window.provenance),
        ]
        for verdict in with_wanted(sample.verdicts, sample.density, wanted)
    ]
    remarks = [_sentence(text) for text in newest[0].sample.remarks]
    kept = (
        f"Kept in {newest[0].kept}."
        if newest[0].kept
        else "Nothing was being recorded: it is kept for this session only."
    )
    return [
        table("Samples, the newest first", heads, rows, name="samples"),
        node("p", kept, class_="small"),
        node("ul", *nodes("li", remarks), class_="trouble") if remarks else None,
        table(
            "The newest against what is usual",
            ("it is", "window", "what for", "who says so"),
            verdicts,
            name="verdicts",
        ),
    ]


def _sampled(item: Taken, name: str, quantity: str, system: str) -> Shown:
    estimate: Estimate | None = getattr(item.sample, name)
    if name == "drainage" and estimate is not None and not estimate.known:
        return Shown(DASH, "", f"not reached in {running_time(estimate.lower)} min")
    why = {"output": "not timed", "capture": "no air flow known"}.get(name, "not read yet")
    return _shown(estimate, quantity, system, why)


def verdict_words(verdict: Verdict) -> Node:
    """Inside, outside or too near to tell, as words and never as colour alone."""
    words = {"inside": "inside", "below": "below it", "above": "above it", "open": "too near the edge to tell"}
    return node("span", words[verdict.state], class_=f"verdict-{verdict.state}")


def _span(verdict: Verdict, system: str) -> str:
    window = verdict.window
    if window.unit == "1":
        return f"{100 * window.low:.0f} to {100 * window.high:.0f} %"
    quantity = {"kg/m3": "density", "s": "time"}[window.unit]
    unit = unit_of(quantity, system)
    low = f"{unit.from_si(window.low):.3g}"
    return (
        f"{low} {unit.symbol} or more"
        if not isfinite(window.high)
        else (f"{low} to {unit.from_si(window.high):.3g} {unit.symbol}")
    )


def timer_block(timing: Timing, now: float, taken: Sequence[Taken], system: str) -> list[Node | None]:
    """One instruction in the largest type, one large button; the fields of the step between them."""
    if timing.step not in BUTTONS:
        return [None]
    top = node(
        "div",
        node("span", "foam sample", class_="points"),
        node(
            "div",
            button("Leave it running", "", also="sample:"),
            button("Done" if timing.step == DRAIN else "Give it up", "bucket:discard", also="sample:"),
            class_="choice",
        ),
        class_="top",
    )
    instruction, seconds, why = _step(timing, now, taken, system)
    long = len(instruction) > 14
    middle = node(
        "div",
        node("p", instruction, class_="instruction", data_long=long, role="status"),
        node("p", seconds, class_="seconds") if seconds else None,
        node("p", why, class_="why") if why else None,
        node("p", timing.question, class_="missing", role="alert") if timing.question else None,
        class_="middle",
    )
    fields = _fields(timing)
    return [
        top,
        middle,
        node(
            "div",
            node("div", *fields, class_="entries", data_many=len(fields) > 1) if fields else None,
            button(BUTTONS[timing.step], "bucket:press", look="large", data_focus=not fields),
            button("Use it as it is", "bucket:confirm") if timing.question else None,
            class_="asked" if fields else "asked bare",
            data_form="timer",
            id=f"timer-{timing.step}-{len(timing.drained)}",
        ),
    ]


def _step(timing: Timing, now: float, taken: Sequence[Taken], system: str) -> tuple[str, str, str]:
    if timing.step == READY:
        return INSTRUCTIONS[READY], "", "weigh it empty first; press the moment the foam runs into it"
    if timing.step == FILLING:
        return INSTRUCTIONS[FILLING], f"{max(now - (timing.under or now), 0.0):.1f} s", "press the moment it is full"
    since = now - (timing.filled if timing.filled is not None else now)
    if timing.step == WEIGH:
        if timing.question:
            return "check the sample", "", "not used yet: correct a figure and press Weighed, or use it as it is"
        took = f"filled in {timing.fill_time:.1f} s" if timing.fill_time is not None else ""
        return INSTRUCTIONS[WEIGH], "", f"level with the rim, outside wiped; {took}"
    at = timing.next_reading(now)
    sample = taken[-1].sample if taken else None
    told = ""
    if sample is not None:
        shown = show_estimate(sample.density, "density", system)
        told = f"{shown.value} {shown.unit} ({shown.under})"
    if at is None:
        return "all read", running_time(since), told
    wait = at - since
    when = f"at {at / 60:.0f} min"
    if wait > 5.0:
        return f"next reading {when}", f"in {running_time(wait)}", told
    return f"read it now, {when}", running_time(since), told


def _fields(timing: Timing) -> list[Node]:
    def field(name: str, example: str) -> Node:
        wrong = timing.wrong.get(name, "")
        return forms.entry(
            "timer",
            name,
            LABELS[name],
            value=getattr(timing, name),
            example=example,
            note=wrong or timing.taken_as(name),
            look="wrong" if wrong else "",
        )

    container = field("container", "L, or like 2 gal")
    empty, full = field("empty", "g, or like 2 lb"), field("full", "g, or like 2 lb")
    if timing.step == READY:
        return [container, empty]
    if timing.step == WEIGH:
        asked = [field("fill", "s, or: not timed")] if timing.question else []
        return [*asked, full, empty, container, field("depth", "mm, if you like")]
    if timing.step == DRAIN:
        done, wrong = len(timing.drained), timing.wrong.get("drained", "")
        return [
            forms.entry(
                f"timer{done}",
                "drained",
                f"drained in all, mL ({done} of {len(READINGS)} read)",
                value=timing.typed_drained,
                example="mL",
                note=wrong,
                look="wrong" if wrong else "",
                mode="decimal",
            )
        ]
    return []


def _value(shown: Shown) -> Node:
    return node("span", node("b", f"{shown.value} {shown.unit}".strip()), " ", node("small", shown.under))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}." if text else ""


def _put(texts: dict[str, str], key: str, shown: Shown) -> None:
    texts[key], texts[f"{key}-unit"], texts[f"{key}-under"] = shown.value, shown.unit, shown.under
