"""Results of the generator page: texts, tables and drawing of one evaluation. Pure functions."""

from __future__ import annotations

from typing import Any

from frothline.bench.workspace_state import WorkspaceState
from frothline.curve.operating_point import NoCrossing, OperatingPoint
from frothline.estimate import Estimate
from frothline.formatting import DASH, show_difference, show_estimate, unit_of
from frothline.generator.cautions import Caution
from frothline.generator.evaluation import Evaluation
from frothline.generator.prediction_result import Prediction
from frothline.generator.pressure_model import PressureShare
from frothline.rounding import rounded
from frothline.sentence_units import in_units
from frothline.units import STANDARD_GRAVITY
from frothline.web import side_view as web_side_view
from frothline.web.elements import Node, button, node, table
from frothline.web.pages.generator import labels
from frothline.web.pages.generator.handles import handle_marks
from frothline.web.pages.generator.labels import (
    entry_label,
    figure_with_interval,
    first_sentence,
    further_sentences,
    sentences,
    two_lines,
    why_no_answer,
)
from frothline.web.texts import put_figure

NOTHING_MUCH = 0.5  # Pa: a smaller pressure drop counts as 0


def head_block(desk: WorkspaceState, system: str) -> list[Node | None]:
    """Changed entries, their effect in one line, and the undo button; it stays visible above the form."""
    fatal, changed = sum(problem.fatal for problem in desk.problems), len(desk.altered)
    count = labels.changed_entries(changed, fatal)
    words = labels.saved_as(desk.file) if desk.file else labels.NOT_SAVED
    if desk.opened:
        words = labels.is_open(desk.opened)
    moves = (
        ""
        if fatal and not desk.ignored_entries
        else labels.CALCULATING
        if desk.working and changed
        else _moves(desk.answer, system)
    )
    back = button(labels.DISCARD, "sheet:undo", disabled=not changed and not desk.chosen["new_source"])
    return [
        node(
            "p",
            node("b", f"{desk.built.name}: {count}"),
            node("span", f" ({words})"),
            node("span", moves, class_="moves") if moves else None,
            role="status",
            class_="count",
        ),
        back,
    ]


def _moves(answer: Evaluation | None, system: str) -> str:
    """The change of the operating point in one line."""
    if answer is None or answer.change is None:
        return ""
    before, after = answer.change.before, answer.change.after
    if isinstance(after.point, NoCrossing):
        return in_units(sentences(after.point.words), system)
    pairs: tuple[tuple[str, str, Estimate | None, Estimate | None], ...] = (
        ("", "pressure", _meets(before, "pressure"), after.point.pressure),
        (labels.FLOW, "flow", _meets(before, "flow"), after.point.flow),
        (labels.FOAM, "foam_rate", before.foam_rate, after.foam_rate),
    )
    parts = []
    for label, quantity, old, new in pairs:
        here, there = (show_estimate(one, quantity, system) for one in (old, new))
        parts.append(f"{label} {here.value} → {there.value} {there.unit}".strip())
    return ", ".join(parts)


def _meets(prediction: Prediction, name: str) -> Estimate | None:
    return None if isinstance(prediction.point, NoCrossing) else getattr(prediction.point, name)


def figures(desk: WorkspaceState, system: str, *, replay: bool = False) -> tuple[dict[str, str], dict[str, str]]:
    """``(texts, states)`` of the three large figures and the sentence below."""
    answer = desk.answer
    texts: dict[str, str] = {}
    now = answer.now if answer is not None else None
    why = why_no_answer(desk, answer)
    point = now.point if now is not None and isinstance(now.point, OperatingPoint) else None
    put_figure(texts, "meet-pressure", show_estimate(point.pressure if point else None, "pressure", system, reason=why))
    put_figure(texts, "meet-flow", show_estimate(point.flow if point else None, "flow", system, reason=why))
    put_figure(
        texts, "meet-foam", show_estimate(now.foam_rate if now and point else None, "foam_rate", system, reason=why)
    )
    altered = answer is not None and answer.change is not None
    measured = answer is not None and answer.scaling is not None and not altered and bool(answer.given.wet)
    words, alarm = first_sentence(answer, now, replay=replay)
    texts["meet-words"] = words or f"{why[:1].upper()}{why[1:]}."
    texts["meet-rest"] = further_sentences(answer, now)
    states = {
        "meet": "changed" if altered else "measured" if measured else "predicted",
        "meet-words": "alarm" if alarm else "plain",
    }
    return texts, states


def side_view(desk: WorkspaceState, *, narrow: bool, system: str = "metric") -> list[Node | None]:
    """The drawing of the build in the form, or of the saved one while the form has errors."""
    answer, build = desk.answer, desk.build if desk.build is not None else desk.built
    now = answer.now if answer is not None else None
    return [
        web_side_view.side_view(
            build,
            narrow=narrow,
            over=handle_marks(build, web_side_view.NARROW if narrow else web_side_view.WIDE),
            shares=now.shares if now is not None else (),
            changed=answer.changed if answer is not None else (),
            system=system,
        )
    ]


def verdict_block(desk: WorkspaceState, system: str) -> list[Node | None]:
    """Tables of all figures, as built and changed, and of each element's pressure drop."""
    answer = desk.answer
    if answer is None or answer.built is None:
        return [None]
    changed = answer.change is not None
    heads = ["", labels.AS_BUILT, labels.WHAT_IF, labels.CHANGE] if changed else ["", labels.AS_BUILT]
    width = len(heads)
    rows = [row[:width] for row in comparison(answer, system)]
    elements = [row[: 3 if changed else 2] for row in element_rows(answer, system)]
    left = ", ".join(entry_label(path) for path in desk.ignored_entries) if changed else ""
    return [
        node("p", labels.ignored(left), class_="small") if left else None,
        table(labels.POINT_TABLE, heads, rows, name="meet"),
        table(labels.SHARES_TABLE, heads[:3], elements, name="shares") if elements else None,
    ]


def caution_block(desk: WorkspaceState) -> list[Node | None]:
    """Safety cautions that call for no stop, see ``stop_block``; a limit by judgement is marked as such."""
    local = node("li", labels.LOCAL_CODES)
    return [node("ul", *(_caution(one) for one in _cautions(desk) if not one.stop), local)]


def stop_block(desk: WorkspaceState) -> list[Node | None]:
    """The cautions that call for a stop, which are in sight without opening anything."""
    stops = [_caution(one) for one in _cautions(desk) if one.stop]
    return [node("ul", *stops) if stops else None]


def _cautions(desk: WorkspaceState) -> tuple[Caution, ...]:
    return desk.answer.cautions if desk.answer is not None else ()


def _caution(one: Caution) -> Node:
    words = f"{one.words[:1].upper()}{one.words[1:]}. "
    return node("li", words, node("small", one.grounds), class_="stop" if one.stop else None)


def safety_brief(desk: WorkspaceState, system: str) -> str:
    """The force on a cap at the largest pressure of the source, as a weight, for the head of the closed cautions."""
    load = desk.answer.cap_load if desk.answer is not None else None
    if load is None:
        return ""
    pressure, weight = unit_of("pressure", system), unit_of("mass", system)
    most = f"{pressure.from_si(load[0]):.3g} {pressure.symbol}"
    return labels.cap_force(most, f"{weight.from_si(load[1] / STANDARD_GRAVITY):.2g} {weight.symbol}")


def comparison(answer: Evaluation, system: str) -> list[list[Node]]:
    """Rows of figure, as built, what if, change. The last two are empty without a change."""
    built = answer.built
    if built is None:
        return []
    after = answer.change.after if answer.change is not None else None
    rows: list[list[Node]] = []
    for label, quantity, pick in (
        (labels.PRESSURE, "pressure", lambda p: p.point.pressure),
        (labels.STANDARD_FLOW, "flow", lambda p: p.point.flow),
        (labels.AIR_RATE, "flow", lambda p: p.air_rate),
        (labels.HOLE_SPEED, "speed", lambda p: p.hole_velocity),
        (labels.FOAM, "foam_rate", lambda p: p.foam_rate),
        (labels.AIR_TO_SOLUTION, "", lambda p: p.air_to_solution),
        (labels.MARGIN, "pressure", lambda p: p.point.margin),
    ):
        here = _cell(built, pick, quantity, system)
        there = "" if after is None else _cell(after, pick, quantity, system, "→ ")
        if here == DASH and there in {"", DASH}:
            continue
        rows.append([label, here, there, _moved(answer, label, quantity, system)])
    rows.append([labels.STABILITY, _stays(built), "" if after is None else f"→ {_stays(after)}", ""])
    return rows


def _cell(prediction: Prediction, pick: Any, quantity: str, system: str, before: str = "") -> Node:
    if isinstance(prediction.point, NoCrossing):
        return DASH
    estimate = pick(prediction)
    return DASH if estimate is None or not estimate.known else figure_with_interval(estimate, quantity, system, before)


def _moved(answer: Evaluation, label: str, quantity: str, system: str) -> Node:
    if answer.change is None:
        return ""
    change = {
        labels.PRESSURE: answer.change.pressure_change,
        labels.STANDARD_FLOW: answer.change.flow_change,
    }.get(label)
    return "" if change is None else two_lines(show_difference(change, unit_of(quantity, system)))


def _stays(prediction: Prediction) -> str:
    if isinstance(prediction.point, NoCrossing):
        return labels.NO_OPERATING_POINT
    return prediction.point.stability


def element_rows(answer: Evaluation, system: str) -> list[list[Node]]:
    """Rows of element, pressure, share: as built, and what if."""
    built = {share.key: share for share in answer.built.shares} if answer.built is not None else {}
    after = {share.key: share for share in answer.change.after.shares} if answer.change is not None else {}
    named = {share.key: share.label for share in (*after.values(), *built.values())}
    rows: list[list[Node]] = []
    for key, label in named.items():
        there: Node = _part(after[key], system, "→ ") if key in after else labels.REMOVED if after else ""
        rows.append([label, _part(built[key], system) if key in built else DASH, there])
    return rows


def _part(share: PressureShare, system: str, before: str = "") -> Node:
    if share.pressure.value < NOTHING_MUCH:
        return f"{before}{labels.NO_DROP}"
    shown = show_estimate(share.pressure, "pressure", system)
    value = node("b", f"{before}{rounded(100 * share.share, 0)} %")
    return node("span", value, node("small", f"{shown.value} {shown.unit}, {shown.under}"), class_="two-lines")
