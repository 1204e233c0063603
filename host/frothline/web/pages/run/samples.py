"""Blocks of the run page for foam samples: timer, entries and results."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from frothline.bench.sample_correction import TakenSample
from frothline.bench.sample_timer import (
    BUTTONS,
    DRAIN,
    FILLING,
    INSTRUCTIONS,
    KINDS,
    LABELS,
    READINGS,
    READY,
    WEIGH,
    Timing,
)
from frothline.estimate import Estimate
from frothline.foam.target_windows import Range, WindowVerdict, with_wanted
from frothline.formatting import DASH, Shown, running_time, show_estimate, unit_of
from frothline.run.state import RunState
from frothline.web import form_fields
from frothline.web.elements import Node, button, figure_cell, node, nodes, table
from frothline.web.pages.run import labels
from frothline.web.run_summary import shown_figure
from frothline.web.texts import sentence


def sample_block(timing: Timing, run: RunState | None, refused: str = "") -> list[Node | None]:
    """The block with the button that opens the timer, or the reason why there is none."""
    if refused:
        return [node("p", refused)]
    going = timing.step != "off"
    words = labels.CONTINUE_SAMPLE if going else labels.TAKE_SAMPLE
    parts: list[Node | None] = [button(words, "run:begin", look="main", also="sample:large")]
    if run is None or not run.running:
        parts.append(node("p", labels.NO_RUN_SAMPLE, class_="small"))
    return parts


def result_block(taken: Sequence[TakenSample], system: str, wanted: Range | None = None) -> list[Node | None]:
    """Results of samples, and the newest one against its target windows with their sources.

    ``wanted`` : target foam density of the plan, kg/m³, in place of the usual range
    """
    if not taken:
        return [None]
    newest = list(reversed(taken))[:4]
    heads = ["", *(labels.sample_head(len(taken) - place, one.counts) for place, one in enumerate(newest))]
    rows: list[list[Node]] = []
    for name, title, quantity in labels.SAMPLE_ROWS:
        cells: list[Node] = [figure_cell(_sampled(item, name, quantity, system)) for item in newest]
        rows.append([title, *cells])
    judged = next((one for one in reversed(taken) if one.counts), None)
    verdicts: list[list[Node]] = [
        [
            verdict_words(verdict),
            _span(verdict, system),
            verdict.window.words,
            node("small", verdict.window.provenance),
        ]
        for verdict in ([] if judged is None else with_wanted(judged.sample.verdicts, judged.sample.density, wanted))
    ]
    remarks = [sentence(text) for text in (() if judged is None else judged.sample.remarks)]
    saved = labels.saved_in(newest[0].kept) if newest[0].kept else labels.NOT_RECORDED
    return [
        table(labels.SAMPLES_TABLE, heads, rows, name="samples"),
        node("p", saved, class_="small"),
        node("ul", *nodes("li", remarks), class_="trouble") if remarks else None,
        table(
            labels.LIMITS_TABLE,
            labels.LIMITS_HEADS,
            verdicts,
            name="verdicts",
        )
        if verdicts
        else None,
    ]


def _sampled(item: TakenSample, name: str, quantity: str, system: str) -> Shown:
    estimate: Estimate | None = getattr(item.sample, name)
    if name == "drainage" and estimate is not None and not estimate.known:
        return Shown(DASH, "", labels.not_reached(running_time(estimate.lower)))
    return shown_figure(estimate, quantity, system, labels.SAMPLE_WHY.get(name, labels.NOT_READ))


def verdict_words(verdict: WindowVerdict) -> Node:
    """The verdict as text (inside, outside, borderline), not by colour alone."""
    return node("span", labels.VERDICTS[verdict.state], class_=f"verdict-{verdict.state}")


def _span(verdict: WindowVerdict, system: str) -> str:
    window = verdict.window
    if window.unit == "1":
        return labels.between(f"{100 * window.low:.0f}", f"{100 * window.high:.0f}", "%")
    quantity = {"kg/m3": "density", "s": "time"}[window.unit]
    unit = unit_of(quantity, system)
    low = f"{unit.from_si(window.low):.3g}"
    return labels.between(low, f"{unit.from_si(window.high):.3g}" if isfinite(window.high) else "", unit.symbol)


def timer_block(timing: Timing, now: float, taken: Sequence[TakenSample], system: str) -> list[Node | None]:
    """The timer: an instruction in the largest type, the fields of the step, and a large button."""
    if timing.step not in BUTTONS:
        return [None]
    top = node(
        "div",
        node("span", labels.SAMPLE, class_="points"),
        node(
            "div",
            button(labels.MINIMISE, "", also="sample:"),
            button(labels.DONE if timing.step == DRAIN else labels.CANCEL, "run:discard", also="sample:"),
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
    fields = _fields(timing, system)
    return [
        top,
        middle,
        node(
            "div",
            node("div", *fields, class_="entries", data_many=len(fields) > 1) if fields else None,
            button(BUTTONS[timing.step], "run:press", look="large", data_focus=not fields),
            button(labels.USE_ANYWAY, "run:confirm") if timing.question else None,
            class_="asked" if fields else "asked bare",
            data_form="timer",
            id=f"timer-{timing.step}-{len(timing.drained)}",
        ),
    ]


def _step(timing: Timing, now: float, taken: Sequence[TakenSample], system: str) -> tuple[str, str, str]:
    if timing.step == READY:
        return INSTRUCTIONS[READY], "", labels.BEFORE
    if timing.step == FILLING:
        return INSTRUCTIONS[FILLING], f"{max(now - (timing.under or now), 0.0):.1f} s", labels.UNTIL
    since = now - (timing.filled if timing.filled is not None else now)
    if timing.step == WEIGH:
        if timing.question:
            return labels.CHECK, "", labels.CHECK_ABOUT
        took = "" if timing.fill_time is None else f"; {labels.filled_in(timing.fill_time)}"
        if timing.simulated:
            return INSTRUCTIONS[WEIGH], "", f"{labels.SIMULATED_BUCKET}{took}"
        return INSTRUCTIONS[WEIGH], "", f"{labels.LEVEL}{took}"
    at = timing.next_reading(now)
    sample = taken[-1].sample if taken else None
    shown_density = ""
    if sample is not None:
        shown = show_estimate(sample.density, "density", system)
        shown_density = f"{shown.value} {shown.unit} ({shown.under})"
    if at is None:
        return labels.ALL_READ, running_time(since), shown_density
    wait = at - since
    when = labels.at_minute(at / 60)
    if wait > 5.0:
        return labels.next_reading(when), labels.in_time(running_time(wait)), shown_density
    return labels.read_now(when), running_time(since), shown_density


def _fields(timing: Timing, system: str) -> list[Node]:
    def field(name: str, example: str = "") -> Node:
        kind, wrong = KINDS.get(name), timing.wrong.get(name, "")
        return form_fields.entry(
            "timer",
            name,
            LABELS[name],
            value=getattr(timing, name),
            example=example,
            note=wrong or timing.taken_as(name),
            look="wrong" if wrong else "",
            measure=None if kind is None else (kind, system),
        )

    container, empty, full = field("container"), field("empty"), field("full")
    if timing.step == READY:
        return [container, empty]
    if timing.step == WEIGH:
        asked = [field("fill", labels.FILL_EXAMPLE)] if timing.question else []
        return [*asked, full, empty, container, field("depth", labels.OPTIONAL)]
    if timing.step == DRAIN:
        done, wrong = len(timing.drained), timing.wrong.get("drained", "")
        return [
            form_fields.entry(
                f"timer{done}",
                "drained",
                labels.total_drained(done, len(READINGS)),
                value=timing.typed_drained,
                note=wrong,
                look="wrong" if wrong else "",
                mode="decimal",
                measure=("drained", system),
            )
        ]
    return []
