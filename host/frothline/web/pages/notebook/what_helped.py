"""Blocks of the notebook page: which change helped, and the next trial.

Confounded factors come before the effects. Slow work runs in the folder's background thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from frothline.bench.background import BackgroundAnswer
from frothline.bench.library import OWN, FolderView, Library
from frothline.formatting import show_difference, show_estimate
from frothline.generator.drawing import draw
from frothline.generator.entry_words import entry_words, spoken
from frothline.report.svg_chart import intervals
from frothline.rounding import counted
from frothline.sentence_units import in_units
from frothline.trials.effect_statistics import Effect
from frothline.trials.figures import BY_NAME, PHOTO, unit_of
from frothline.trials.next_trial import NextTrial, next_of
from frothline.trials.which_helped import EffectsOfChanges, which_helped
from frothline.units import SYSTEMS
from frothline.web.elements import Node, button, drawing, node, nodes, table
from frothline.web.pages.notebook import labels

if TYPE_CHECKING:
    from frothline.generator.build import Build

RESPONSE = "response"
RESPONSES = ("density", "drainage", "output")
FEWEST = 3  # trials with a further figure before its effects are offered


def responses(seen: FolderView) -> tuple[str, ...]:
    """The figures whose effects are offered: those of photos where enough trials have them."""
    known = (name for name in PHOTO if sum(one.figure(name) is not None for one in seen.trials) >= FEWEST)
    return (*RESPONSES, *known)


# --- what helped ------------------------------------------------------------------------------------------------------


def ask_helped(shelf: Library, seen: FolderView, response: str) -> BackgroundAnswer:
    """Request the effects on a figure over all trials of the folder."""
    question = ("helped", seen.place, seen.look, response)
    return shelf.answers.look(question, partial(which_helped, seen.trials, response))


def helped(seen: FolderView, answer: BackgroundAnswer, response: str, system: str) -> list[Node | None]:
    """The block of effects: sentences in order, then each effect with its interval."""
    if not seen.trials:
        return []
    choice = [
        button(BY_NAME[name].label, "", also=f"{RESPONSE}:{name}", aria_pressed=str(name == response).lower())
        for name in responses(seen)
    ]
    top = [
        node("div", *choice, class_="choice", role="group", aria_label=labels.WHICH_FIGURE),
    ]
    if answer.working:
        return [*top, node("p", labels.CALCULATING)]
    if answer.trouble:
        return [*top, node("p", answer.trouble, class_="wrong")]
    found: EffectsOfChanges = answer.value
    unit = found.shown_unit(SYSTEMS[system])
    effects = sorted(found.report.effects, key=lambda item: item.p_value)
    shown = [show_difference(one.estimate, unit) for one in effects]
    rows: list[list[Node]] = [
        [
            *found.factor_shown(one, system),
            node("b", difference.value_and_unit),
            difference.under,
            _verdict(found, one),
        ]
        for one, difference in zip(effects, shown, strict=True)
    ]
    heads = (labels.CHANGE, labels.FROM_TO, labels.effect_by(found.label), labels.INTERVAL, "")
    bars = [(found.label_shown(one, system), *found.ends_shown(one, SYSTEMS[system])) for one in effects]
    chart = intervals(bars, unit=labels.change_of(found.label, unit.symbol), title=labels.EFFECTS_CHART) if bars else ""
    runs = (
        [
            node("p", labels.SEPARATING_RUNS),
            node("ul", *nodes("li", [in_units(one, system) for one in found.runs])),
        ]
        if found.runs
        else []
    )
    return [
        *top,
        node(
            "ul", *nodes("li", (_sentence(in_units(text, system)) for text in _beyond_the_table(found))), class_="said"
        ),
        *runs,
        node("figure", drawing(chart, labels.effects_about(found.label)), class_="effects") if chart else None,
        table(labels.effects_table(found.label, counted(len(found.trials), "trial")), heads, rows, name="effects")
        if rows
        else None,
    ]


def _beyond_the_table(found: EffectsOfChanges) -> list[str]:
    """Sentences besides the effects; the table and its chart replace the sentences of the effects."""
    begins = tuple(f"{effect.factor} from ".casefold() for effect in found.report.effects)
    return [text for text in found.words if not text.casefold().startswith(begins)] if begins else list(found.words)


def _verdict(found: EffectsOfChanges, effect: Effect) -> str:
    lower, upper = effect.estimate.lower, effect.estimate.upper
    if not (math.isfinite(lower) and math.isfinite(upper)):
        return labels.UNKNOWN
    if lower <= 0.0 <= upper:
        return labels.NOT_CLEAR
    return labels.OR_DRIFT if effect.factor in found.report.in_order else labels.CLEAR


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


# --- what next --------------------------------------------------------------------------------------------------------


def ask_next(shelf: Library, seen: FolderView) -> BackgroundAnswer | None:
    """Request the plan's next run; None without a plan."""
    if seen.plan is None:
        return None
    return shelf.answers.look(("next", seen.place, seen.look), partial(next_of, seen.plan, seen.trials))


def ahead(seen: FolderView, answer: BackgroundAnswer | None, system: str) -> list[Node | None]:
    """The block of the next trial: reason, settings, and drawing of the build."""
    if seen.plan_problem:
        return [node("p", seen.plan_problem, class_="wrong")]
    if answer is None:
        if not seen.ready:
            return []
        return [node("p", labels.NO_PLAN, " ", node("a", labels.MAKE_PLAN, href="#part-plan"))]
    if answer.working:
        return [node("p", labels.CALCULATING)]
    if answer.trouble:
        return [node("p", answer.trouble, class_="wrong")]
    found: NextTrial = answer.value
    return [
        node("p", in_units(found.reason, system), class_="reason"),
        *_next_after(seen, found),
        _wishes(found, system) if found.plan.wishes else None,
        _settings(found, system) if found.build is not None and found.compared is not None else None,
        _first_runs(found, system) if found.runs else None,
        node(
            "details",
            node("summary", labels.excluded(counted(len(found.left_out), "trial"))),
            node("ul", *nodes("li", found.left_out)),
        )
        if found.left_out
        else None,
    ]


def _wishes(found: NextTrial, system: str) -> Node:
    parts = []
    for wish in found.plan.wishes:
        figure = BY_NAME[wish.response]
        unit = unit_of(figure, SYSTEMS[system])
        low = f"{unit.from_si(wish.low):.4g}" if wish.low > 0 else ""
        high = f"{unit.from_si(wish.high):.4g}" if math.isfinite(wish.high) else ""
        parts.append(labels.target(figure.label, low, high, unit.symbol))
    return node("p", node("b", labels.TARGET), "; ".join(parts), ".")


def _next_after(seen: FolderView, found: NextTrial) -> list[Node | None]:
    """Builds chosen by hand: which come after the next one, and the button that takes it out."""
    if not found.planned:
        return []
    later = ", ".join(one.name for one in found.planned[1:])
    own = seen.place == OWN
    return [
        node("p", labels.planned_after(later)) if later else None,
        button(labels.REMOVE, f"notebook:unplan:{found.planned[0].name}", look="") if own else None,
        button(labels.UNDO, "notebook:undo-plan", look="") if own and seen.plan_before else None,
    ]


def _settings(found: NextTrial, system: str) -> Node:
    """The settings of the next build against the trial compared with it, and what is expected."""
    assert found.compared is not None
    title = found.compared.title
    rows: list[list[Node]] = [
        [
            spoken(one.path),
            node("b", entry_words(one.path, one.after, system)),
            entry_words(one.path, one.before, system) if one.differs else labels.SAME,
        ]
        for one in found.changes
    ]
    expected: list[list[Node]] = []
    for name, estimate in found.proposal.expected.items() if found.proposal is not None else ():
        quantity = BY_NAME[name].quantity
        if quantity:
            shown = show_estimate(estimate, quantity, system)
            expected.append([BY_NAME[name].label, f"{shown.value} {shown.unit}", shown.under])
    return node(
        "details",
        node("summary", labels.SETTINGS_AND_EXPECTED if expected else labels.SETTINGS),
        table(labels.SETTINGS, labels.settings_heads(title), rows, name="settings") if rows else None,
        table(labels.EXPECTED, labels.EXPECTED_HEADS, expected, name="expected") if expected else None,
        _drawn(found.build, found.marked, title, system),
    )


def _drawn(build: Build | None, marked: Sequence[str], title: str, system: str) -> Node | None:
    if build is None:
        return None
    words = labels.next_view(title, ", ".join(marked))
    return node("figure", drawing(draw(build, changed=marked, system=system), words), class_="side-view predicted")


def helped_state(seen: FolderView, answer: BackgroundAnswer) -> str:
    """How many effects are clear, for the heading."""
    if not seen.trials or answer.working:
        return ""
    if answer.trouble:
        return labels.NOT_KNOWN
    effects = answer.value.report.effects
    clear = [one for one in effects if _verdict(answer.value, one) == labels.CLEAR]
    return labels.clear_effects(len(clear), counted(len(effects), "effect")) if effects else labels.NONE_SEPARATED


def next_state(seen: FolderView, answer: BackgroundAnswer | None) -> str:
    """State of the plan, for the heading."""
    if seen.plan_problem:
        return labels.PLAN_UNREADABLE
    if answer is None:
        return labels.NO_PLAN_YET if seen.ready else ""
    return "" if answer.working else labels.NOT_KNOWN if answer.trouble else ""


def _first_runs(found: NextTrial, system: str) -> Node:
    rows: list[list[Node]] = [
        [str(number), labels.batch(run.batch), found.plan.words(run.settings, system), run.why]
        for number, run in enumerate(found.runs, 1)
    ]
    return table(labels.FIRST_RUNS, labels.FIRST_RUNS_HEADS, rows, name="runs")
