"""Blocks of the bucket page for foam samples: timer, entries and results."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from frothline.bench.run_control import TakenSample
from frothline.bench.sample_timer import BUTTONS, DRAIN, FILLING, INSTRUCTIONS, LABELS, READINGS, READY, WEIGH, Timing
from frothline.estimate import Estimate
from frothline.foam.target_windows import Range, WindowVerdict, with_wanted
from frothline.formatting import DASH, Shown, running_time, show_estimate, unit_of
from frothline.run.state import RunState
from frothline.web import form_fields
from frothline.web.elements import Node, button, node, nodes, table
from frothline.web.run_summary import _shown
from frothline.web.texts import sentence


def sample_block(timing: Timing, run: RunState | None) -> list[Node | None]:
    """The block with the button that opens the timer."""
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


def result_block(taken: Sequence[TakenSample], system: str, wanted: Range | None = None) -> list[Node | None]:
    """Results of samples, and the newest one against its target windows with their sources.

    ``wanted`` : target foam density of the plan, kg/m³, in place of the usual range
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
    remarks = [sentence(text) for text in newest[0].sample.remarks]
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


def _sampled(item: TakenSample, name: str, quantity: str, system: str) -> Shown:
    estimate: Estimate | None = getattr(item.sample, name)
    if name == "drainage" and estimate is not None and not estimate.known:
        return Shown(DASH, "", f"not reached in {running_time(estimate.lower)} min")
    why = {"output": "not timed", "capture": "no air flow known"}.get(name, "not read yet")
    return _shown(estimate, quantity, system, why)


def verdict_words(verdict: WindowVerdict) -> Node:
    """The verdict as text (inside, outside, borderline), not by colour alone."""
    words = {"inside": "inside", "below": "below it", "above": "above it", "open": "too near the edge to tell"}
    return node("span", words[verdict.state], class_=f"verdict-{verdict.state}")


def _span(verdict: WindowVerdict, system: str) -> str:
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


def timer_block(timing: Timing, now: float, taken: Sequence[TakenSample], system: str) -> list[Node | None]:
    """The timer: an instruction in the largest type, the fields of the step, and a large button."""
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


def _step(timing: Timing, now: float, taken: Sequence[TakenSample], system: str) -> tuple[str, str, str]:
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
        return form_fields.entry(
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
            form_fields.entry(
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
