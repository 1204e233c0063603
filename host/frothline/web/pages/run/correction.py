"""Block of the run page with the form that corrects a saved sample."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from frothline.bench.sample_correction import (
    ENTRIES,
    KINDS,
    TakenSample,
    drainage_figures,
    entry_texts,
    read_correction,
    wrong_entries,
)
from frothline.bench.sample_timer import DRAIN, Timing
from frothline.foam.drainage_curve import RATE_KIND
from frothline.formatting import show_estimate_in
from frothline.quantities import with_units
from frothline.units import SYSTEMS
from frothline.web import form_fields
from frothline.web.elements import Node, button, figure_cell, node, nodes, table
from frothline.web.pages.run import labels

CORRECTING = "correcting"  # viewer setting: key of the sample whose form is open


def correction_block(
    taken: Sequence[TakenSample],
    wish: Mapping[str, tuple[str, ...]],
    timing: Timing,
    now: float,
    questions: Mapping[str, str],
    system: str = "metric",
    *,
    family: str = "run",
    recording: str = "",
) -> list[Node | None]:
    """Buttons for all saved samples, the newest first, and the form of the chosen one.

    wish : the viewer's settings, with the texts typed so far
    family, recording : of the buttons, and the recording with the samples on the notebook page
    now : session time; for a recording s since it began, at its end
    timing : of the timer; the drained liquid of a sample that it still reads is not corrected here
    questions : the run's question about a correction, by "key/number of corrections"
    system : units of numbers without one
    """
    if not taken:
        return [None]
    chosen = next(iter(wish.get(CORRECTING, ())), "")
    buttons = [
        button(
            labels.correct_sample(len(taken) - place),
            "",
            also=f"{CORRECTING}:{one.key}",
            aria_pressed=str(one.key == chosen).lower(),
        )
        for place, one in enumerate(reversed(taken))
    ]
    number = next((place for place, one in enumerate(taken, 1) if one.key == chosen), 0)
    form = None
    if number:
        one = taken[number - 1]
        draining = timing.step == DRAIN and timing.filled == one.time
        form = _form(
            number,
            one,
            wish,
            now - one.time,
            draining=draining,
            question=questions.get(key_of(one), ""),
            system=system,
            ask=lambda verb: f"{family}:{verb}:{key_of(one)}" + (f"/{recording}" if recording else ""),
        )
    return [
        node("h3", labels.CORRECT_SAMPLES),
        node("div", *buttons, class_="choice", role="group", aria_label=labels.CORRECT_SAMPLES),
        form,
    ]


def key_of(taken: TakenSample) -> str:
    return f"{taken.key}/{taken.corrections}"


def setting_of(taken: TakenSample, name: str) -> str:
    """The viewer setting with the text typed in an entry; a saved correction begins with other ones."""
    return f"correct-{taken.key}-{taken.corrections}-{name}"


def _form(
    number: int,
    taken: TakenSample,
    wish: Mapping[str, tuple[str, ...]],
    elapsed: float,
    *,
    draining: bool,
    question: str,
    system: str,
    ask: Callable[[str], str],
) -> Node:
    saved = entry_texts(taken)
    names = [name for name in ENTRIES if name != "drained" or not draining]
    if taken.number and taken.at is None:  # its place in the recording was not written
        names = [name for name in names if name not in {"start", "end"}]
    typed = {
        name: next(iter(wish[setting_of(taken, name)]), "") if setting_of(taken, name) in wish else saved[name]
        for name in names
    }
    in_reader = with_units(typed, KINDS, system)
    wrong = wrong_entries(taken, in_reader, elapsed)

    def field(name: str) -> Node:
        changed = typed[name].strip() != saved[name]
        problem = wrong.get(name, "")
        return form_fields.entry(
            f"correct-{taken.key}-{taken.corrections}",
            name,
            ENTRIES[name],
            value=typed[name],
            hint=labels.CORRECTION_HINTS.get(name, ""),
            note=problem or (labels.was(saved[name]) if changed else ""),
            look="wrong" if problem else "changed" if changed else "",
            wish=setting_of(taken, name),
            measure=(KINDS[name], system) if name in KINDS else None,
        )

    return node(
        "div",
        node("h3", labels.correcting(number, taken.corrections)),
        node("p", labels.CORRECT_ABOUT, class_="small"),
        node("p", question, class_="missing", role="alert") if question else None,
        node("div", *(field(name) for name in names), class_="entries"),
        *([] if wrong or not typed.get("drained", "").strip() else _drainage(taken, in_reader, elapsed, system)),
        node(
            "div",
            button(labels.SAVE_CORRECTION, ask("correct"), look="main"),
            button(labels.USE_ANYWAY, ask("correct-anyway"), look="") if question else None,
            button(labels.WITHDRAW, ask("withdraw"), look="")
            if taken.counts
            else button(labels.COUNT_AGAIN, ask("count-again"), look=""),
            button(labels.CLOSE_CORRECTION, "", also=f"{CORRECTING}:"),
            class_="choice",
        ),
        class_="correction",
        data_form="correction",
        id=f"correction-{taken.key}",
    )


def _drainage(taken: TakenSample, typed: Mapping[str, str], elapsed: float, system: str) -> list[Node]:
    """The drainage curve of the readings as typed, or what it lacks."""
    curve, why = drainage_figures(read_correction(taken, typed, elapsed).weighing)
    if curve is None:
        return [node("p", why, class_="small", role="status")]
    rows: list[list[Node]] = [
        [label, figure_cell(show_estimate_in(estimate, unit, reason=labels.NO_DEPTH))]
        for label, estimate, unit in (
            (labels.QUARTER_TIME, curve.quarter, SYSTEMS[system]["time"]),
            (labels.HALF_TIME, curve.half, SYSTEMS[system]["time"]),
            (labels.DRAINAGE_RATE, curve.rate, SYSTEMS[system][RATE_KIND]),
        )
    ]
    return [table(labels.DRAINAGE_TABLE, (), rows, name="drainage"), *nodes("p", curve.words)]
