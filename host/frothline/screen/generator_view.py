"""What the generator's page says: words, tables, drawing and picture of one answer. Pure functions; no page here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.bench.build import PARTS, entries
from frothline.bench.evaluation import Evaluation
from frothline.bench.generator import Share
from frothline.bench.sheet import write_value
from frothline.bench.whatif import Prediction, unmeasured
from frothline.curve.operating_point import NoCrossing, OperatingPoint
from frothline.estimate import Estimate
from frothline.formatting import DASH, RATIO, Shown, show_difference, show_estimate, show_estimate_in, unit_of
from frothline.rounding import rounded
from frothline.screen import fault_marks, forms
from frothline.screen.blocks import Node, button, node, table
from frothline.screen.sheet_desk import LIVE_SOURCE, NOTHING, DeskView

NOTHING_MUCH = 0.5  # Pa: an element that takes less takes nothing
FORM, DESK, SIZE = "sheet", "desk", "size"
TITLES = {
    "connection": ("connection", "where the air comes in"),
    "hose": ("hose", "from the spool to the generator"),
    "tube": ("diffusion tube", "with its holes"),
    "body": ("body", "the pipe the foam is made in"),
    "packing": ("packing", "what makes the bubbles small"),
    "outlet": ("outlet", "and the foam hose after it"),
    "reservoir": ("reservoir", "where the solution waits"),
    "solution": ("solution", "what is foamed"),
}
_EXAMPLES = {
    "bore": "38 mm, 1 1/2 in, 50x3.7",
    "length": "25 mm, 3/4 in",
    "mass": "120 g, 4 oz",
    "volume": "20 L, 5 gal",
    "flow": "4 L/min",
    "temperature": "18 °C, 65 °F",
    "dilution": "1+30, 1 in 31",
    "share": "0.95, 95 %",
    "list": "elbow, ball valve",
}
# Where the name of an entry alone would not do.
SHORT = {
    "hose.pitch": "ripple",
    "tube.length": "drilled length",
    "tube.hole": "hole diameter",
    "tube.under_liquid": "holes under liquid",
    "tube.depth": "depth of liquid",
    "packing.kind": "packing",
    "packing.wire": "wire or fibre",
    "outlet.length": "length of the cone",
    "outlet.hose": "foam hose",
    "reservoir.flow": "solution flow",
    "solution.temperature": "water temperature",
}
# Entries of which the name alone does not say what to write.
HINTED = {
    "connection.fittings",
    "tube.length",
    "tube.under_liquid",
    "tube.depth",
    "packing.voidage",
    "reservoir.filling",
    "reservoir.flow",
    "solution.dilution",
}
PACKING_NEEDS = {
    "beads": ("length", "bead", "voidage", "material"),
    "wire wool": ("length", "mass", "material", "wire"),
    "pad": ("length", "wire", "voidage", "material"),
    "screens": ("length", "wire", "opening", "layers"),
}
CHANGE_WORDS = (
    ("outlet.bore", "outlet bore"),
    ("tube.hole", "hole diameter"),
    ("tube.holes_per_row", "number of holes"),
    ("packing.length", "packing length"),
)
WANTED_WORDS = (("pressure", "pressure"), ("air_rate", "air rate (free air)"), ("air_to_solution", "air to solution"))
NO_SOURCE = "No air source is known yet: a guided sweep on the source page finds its curve, or choose a recorded sweep"
HOW_TO_MEASURE = (
    "Once it is swept dry and wet, what it asks for is measured. A sweep that was recorded by hand can be chosen here "
    "as well: ten openings of the bleed, each held for some five seconds."
)


# --- the form -------------------------------------------------------------------------------------------------------


def head_block(desk: DeskView, system: str) -> list[Node | None]:
    """What was changed, what it does in one line, and the way back; it stays in sight while one types below."""
    fatal, changed = sum(problem.fatal for problem in desk.problems), len(desk.altered)
    count = f"{changed} {'entry' if changed == 1 else 'entries'} changed" if changed else "as it was saved"
    if fatal:
        count += f", {fatal} {'needs' if fatal == 1 else 'need'} a look"
    words = f"saved as {desk.file}" if desk.file else "not saved yet"
    if desk.opened:
        words = f"{desk.opened} is in the form"
    moves = (
        ""
        if fatal and not desk.left_out
        else "working it out"
        if desk.working and changed
        else _moves(desk.answer, system)
    )
    back = button("Back to the sheet", "sheet:undo", disabled=not changed and not desk.chosen["new_source"])
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
    """From where to where, in one line."""
    if answer is None or answer.change is None:
        return ""
    before, after = answer.change.before, answer.change.after
    if isinstance(after.point, NoCrossing):
        return _sentences(after.point.words)
    pairs: tuple[tuple[str, str, Estimate | None, Estimate | None], ...] = (
        ("", "pressure", _meets(before, "pressure"), after.point.pressure),
        ("flow", "flow", _meets(before, "flow"), after.point.flow),
        ("foam", "foam_rate", before.foam_rate, after.foam_rate),
    )
    parts = []
    for label, quantity, old, new in pairs:
        here, there = (show_estimate(one, quantity, system) for one in (old, new))
        parts.append(f"{label} {here.value} → {there.value} {there.unit}".strip())
    return ", ".join(parts)


def _meets(prediction: Prediction, name: str) -> Estimate | None:
    return None if isinstance(prediction.point, NoCrossing) else getattr(prediction.point, name)


def sheet_block(desk: DeskView, *, narrow: bool, part: str) -> list[Node | None]:
    """The form of the build sheet: every entry, in the order of the air, with what is wrong with it at its place.

    On a narrow page one ``part`` at a time, chosen by a row of buttons.
    """
    wrong: dict[str, list[str]] = {}
    odd: set[str] = set()
    loose = []
    for problem in desk.problems:
        said = f"{problem.what}. {problem.remedy}"
        if "." in problem.path:
            wrong.setdefault(problem.path, []).append(f"{said[:1].upper()}{said[1:]}.".replace("..", "."))
            odd |= set() if problem.fatal else {problem.path}
        else:
            loose.append(said)
    shown = [part if part in PARTS else "tube"] if narrow else list(PARTS)
    groups = []
    for key in shown:
        fields = [_entry(desk, key, item, wrong, odd) for item in entries(key) if _belongs(desk, key, item.name)]
        groups.append(forms.group(*TITLES[key], fields, class_="wide" if key == "tube" else "", id=f"part-{key}"))
    chooser = None
    if narrow:
        marks = {path.partition(".")[0]: " ≠" for path in desk.altered} | {p.partition(".")[0]: " !" for p in wrong}
        choices = [
            button(
                TITLES[key][0] + marks.get(key, ""),
                "",
                also=f"part:{key}",
                aria_pressed="true" if key in shown else "false",
            )
            for key in PARTS
        ]
        chooser = node("div", *choices, class_="chooser", role="group", aria_label="part of the generator")
    trouble = node("p", _sentences(loose), class_="trouble") if loose else None
    return [chooser, trouble, node("div", *groups, class_="entries", data_form="sheet", data_change="sheet:edit")]


def _entry(desk: DeskView, part: str, item: Any, wrong: Mapping[str, list[str]], odd: set[str]) -> Node:
    path, about = f"{part}.{item.name}", item.metadata
    notes = list(wrong.get(path, []))
    if path in desk.altered:
        was = getattr(getattr(desk.built, part), item.name)
        notes.append(f"As built: {_as_words(was, about['kind'])}.")
    look = ("odd" if path in odd else "wrong") if path in wrong else "changed" if path in desk.altered else ""
    return forms.entry(
        FORM,
        path,
        SHORT.get(path, str(item.name).replace("_", " ")),
        value=desk.values.get(path, ""),
        choices=_words_for(about["words"], desk.values.get(path, "")) if about["kind"] == "word" else None,
        example=_EXAMPLES.get(about["kind"], ""),
        hint=str(about["about"]) if path in HINTED else "",
        note=" ".join(notes),
        look=look,
        mode="decimal" if about["kind"] == "count" else "text",
    )


def _words_for(known: Sequence[str], value: str) -> list[tuple[str, str]]:
    """What an entry can be, and what stands there although it cannot."""
    odd = [(value, value)] if value and value not in known else []
    return [("", "as usual"), *((word, word) for word in known), *odd]


def _belongs(desk: DeskView, part: str, name: str) -> bool:
    """Whether an entry has a meaning in this build, or stands in the sheet all the same."""
    path = f"{part}.{name}"
    if path in desk.values or path in desk.altered:
        return True
    if part == "packing" and name != "kind":
        return name in PACKING_NEEDS.get(desk.values.get("packing.kind", "none"), ())
    if path == "hose.pitch":
        return desk.values.get("hose.kind") == "corrugated"
    if path == "outlet.length":
        return desk.values.get("outlet.shape") == "cone"
    return True


def keep_block(desk: DeskView) -> list[Node | None]:
    """Saving the sheet, and taking another."""
    chosen = desk.file if desk.leaving is None else desk.leaving
    files = [(NOTHING, "a fresh sheet"), *((name, name.removesuffix(".toml")) for name in desk.files)]
    save = node(
        "div",
        forms.entry("keep", "name", "name of the build", value=desk.name),
        button("Save as built", "sheet:save", look=""),
        data_form="keep",
        class_="inline",
    )
    opened = node(
        "div",
        forms.entry(
            "open",
            "file",
            "another sheet",
            choices=files,
            value=chosen,
            hint=f"sheets lie in {desk.sheets}",
            note=desk.trouble.get("open", ""),
            look="wrong" if "open" in desk.trouble else "",
        ),
        button("Take it", "sheet:open", look=""),
        data_form="open",
        class_="inline",
    )
    if desk.leaving is None:
        return [save, opened]
    question = node(
        "div",
        node("p", "Changes in the form are not saved: with another sheet they would be lost.", role="alert"),
        button("Leave them, take it", "sheet:open:leave", look=""),
        button("Stay here", "sheet:stay", look=""),
        data_form="open",
        class_="inline question",
    )
    return [save, opened, question]


def source_block(desk: DeskView) -> list[Node | None]:
    """Which air source is reckoned with, and which other one is tried."""
    recorded = [(item.path, item.words) for item in desk.recorded if item.of_source]
    fields = (
        (
            "source",
            "air source",
            [(LIVE_SOURCE, "the one swept last"), *recorded],
            "a recorded sweep, or this session's",
        ),
        ("new_source", "what if it were", [(NOTHING, "the same source"), *recorded], "another source, by its sweep"),
    )
    return [_choices(desk, fields)]


def measured_block(desk: DeskView) -> list[Node | None]:
    """The recordings of this generator, dry and wet, to which its model is scaled; or how to make them."""
    fields = [
        (
            kind,
            f"measured {kind}",
            [
                (NOTHING, "not measured"),
                *([(LIVE_SOURCE, "the one swept just now")] if kind in desk.swept else []),
                *((item.path, item.words) for item in desk.recorded if item.through == kind or not item.kind),
            ],
            hint,
        )
        for kind, hint in (("dry", "without solution, nothing wet"), ("wet", "while it made foam"))
    ]
    chosen = desk.chosen["dry"] or desk.chosen["wet"]
    answer = desk.answer
    words = ""
    if answer is not None and answer.scaling is not None:
        words = _sentences(answer.scaling.words)
    elif answer is not None and answer.generator is not None and not chosen:
        words = _sentences((*unmeasured(answer.generator), HOW_TO_MEASURE))
    return [
        _choices(desk, fields),
        node("p", words or ("working it out" if chosen and desk.working else HOW_TO_MEASURE), class_="small"),
    ]


def _choices(desk: DeskView, fields: Sequence[tuple[str, str, Any, str]]) -> Node:
    return node(
        "div",
        *(
            forms.entry(
                DESK,
                key,
                label,
                choices=items,
                value=desk.chosen[key],
                hint=hint,
                note=desk.trouble.get(key, ""),
                look="wrong" if key in desk.trouble else "",
            )
            for key, label, items, hint in fields
        ),
        class_="entries two-wide",
        data_form="desk",
        data_change="sheet:choose",
    )


def _label(path: str) -> str:
    """An entry as the form calls it."""
    part, _, name = path.partition(".")
    return f"{TITLES[part][0]}, {SHORT.get(path, name.replace('_', ' '))}"


def _as_words(value: Any, kind: str) -> str:
    if value is None or value == ():
        return "nothing"
    return ", ".join(value) if isinstance(value, tuple) else write_value(value, kind)


# --- the answer -----------------------------------------------------------------------------------------------------


def figures(desk: DeskView, system: str) -> tuple[dict[str, str], dict[str, str]]:
    """``(texts, states)`` of the three large figures and the sentence under them."""
    answer = desk.answer
    texts: dict[str, str] = {}
    now = answer.now if answer is not None else None
    why = _why(desk, answer)
    point = now.point if now is not None and isinstance(now.point, OperatingPoint) else None
    _put(texts, "meet-pressure", show_estimate(point.pressure if point else None, "pressure", system, reason=why))
    _put(texts, "meet-flow", show_estimate(point.flow if point else None, "flow", system, reason=why))
    _put(texts, "meet-foam", show_estimate(now.foam_rate if now and point else None, "foam_rate", system, reason=why))
    altered = answer is not None and answer.change is not None
    measured = answer is not None and answer.scaling is not None and not altered and bool(answer.given.wet)
    words, alarm = _words(answer, now)
    texts["meet-words"] = words or f"{why[:1].upper()}{why[1:]}."
    texts["meet-rest"] = _rest(answer, now)
    states = {
        "meet": "changed" if altered else "measured" if measured else "predicted",
        "meet-words": "alarm" if alarm else "plain",
    }
    return texts, states


def side_view(desk: DeskView, *, narrow: bool) -> list[Node | None]:
    """The drawing of the build in the form, or of the saved one while that is not whole."""
    answer, build = desk.answer, desk.build if desk.build is not None else desk.built
    now = answer.now if answer is not None else None
    return [
        fault_marks.side_view(
            build,
            narrow=narrow,
            shares=now.shares if now is not None else (),
            changed=answer.changed if answer is not None else (),
        )
    ]


def verdict_block(desk: DeskView, system: str) -> list[Node | None]:
    """Figure by figure, as built and what if; and what each element takes."""
    answer = desk.answer
    if answer is None or answer.built is None:
        return [None]
    changed = answer.change is not None
    heads = ["", "as built", "what if", "moves by"] if changed else ["", "as built"]
    width = len(heads)
    rows = [row[:width] for row in comparison(answer, system)]
    elements = [row[: 3 if changed else 2] for row in element_rows(answer, system)]
    left = ", ".join(_label(path) for path in desk.left_out) if changed else ""
    return [
        node("p", f"Of the entries that can be; as it is built: {left}.", class_="small") if left else None,
        table("Where they meet", heads, rows, name="meet"),
        table("What each part takes", heads[:3], elements, name="shares") if elements else None,
    ]


def caution_block(desk: DeskView) -> list[Node | None]:
    """What can hurt somebody, stops first; judgement is said to be judgement."""
    found = desk.answer.cautions if desk.answer is not None else ()
    items = [
        node(
            "li",
            f"{one.words[:1].upper()}{one.words[1:]}. ",
            node("small", one.grounds),
            class_="stop" if one.stop else None,
        )
        for one in sorted(found, key=lambda one: not one.stop)
    ]
    local = node("li", "Local codes and licensed practice come first; nothing here replaces them.")
    return [node("ul", *items, local)]


def size_block(desk: DeskView, system: str) -> list[Node | None]:
    """The question asked backwards, and the sizes that were found, each with a button that puts it into the form."""
    form = node(
        "div",
        forms.entry(SIZE, "change", "which size of", choices=CHANGE_WORDS, value=CHANGE_WORDS[0][0]),
        forms.entry(SIZE, "wanted", "brings", choices=WANTED_WORDS, value="pressure"),
        forms.entry(
            SIZE,
            "value",
            "to",
            mode="decimal",
            hint=f"{unit_of('pressure', system).symbol}, {unit_of('flow', system).symbol} or a plain ratio",
        ),
        button("Find it", f"sheet:search:{system}", look=""),
        data_form="size",
        class_="inline",
    )
    found = desk.found
    if found is None:
        return [form]
    here = desk.build or desk.built
    kind = {"Pa": "pressure", "m³/s": "flow"}.get(found.unit, "")
    items = [
        node(
            "li",
            node("span", node("b", choice.words), " gives ", _said(choice.reached, kind, system)),
            node("span", "as it is") if choice.prediction.build == here else button("Try it", f"sheet:try:{number}"),
        )
        for number, choice in enumerate(found.choices)
    ]
    unit = unit_of(kind, system) if kind else RATIO
    low, high = (f"{unit.from_si(end):.3g}" for end in found.range)
    reach = f"All sizes together reach {low} to {high} {unit.symbol}".rstrip() + "."
    words = _sentences(found.words) or "The wanted figure lies within what this size gives."
    return [form, node("p", f"{words} {reach}", role="status"), node("ul", *items, class_="sizes")]


def _why(desk: DeskView, answer: Evaluation | None) -> str:
    if "answer" in desk.trouble:
        return desk.trouble["answer"]
    if answer is None or (desk.working and answer.built is None):
        return "working it out"
    if answer.given.source is None:
        return "no air source yet"
    if answer.built is not None:
        return "they do not meet"
    return "; ".join(answer.trouble) or "not known"


def _words(answer: Evaluation | None, now: Prediction | None) -> tuple[str, bool]:
    """The sentence that is read first, and whether it is an alarm."""
    if answer is None:
        return "", False
    if answer.given.source is None:
        return f"{NO_SOURCE}.", False
    if now is None:
        return _sentences(answer.trouble), bool(answer.trouble)
    if isinstance(now.point, NoCrossing):
        return _sentences(now.point.words), True
    told = answer.change.words if answer.change is not None else ()
    steady = {
        "stable": "The air settles there and stays.",
        "may hunt": "Pressure and flow may swing to and fro there.",
        "unstable": "The air does not stay there.",
    }[now.point.stability]
    return f"{_sentences(told)} {steady}".strip(), now.point.stability == "unstable"


def _rest(answer: Evaluation | None, now: Prediction | None) -> str:
    if answer is None or now is None:
        return ""
    # The first word of a meeting point says where it is, which the figures say already.
    said = now.words[1:] if isinstance(now.point, OperatingPoint) else ()
    return _sentences([*said, *answer.trouble])


def _sentences(words: Sequence[str]) -> str:
    return " ".join(f"{text[:1].upper()}{text[1:].rstrip('.')}." for text in words if text)


def comparison(answer: Evaluation, system: str) -> list[list[Node]]:
    """Rows of figure, as built, what if, change. The last two are empty where nothing was changed."""
    built = answer.built
    if built is None:
        return []
    after = answer.change.after if answer.change is not None else None
    rows: list[list[Node]] = []
    for label, quantity, pick in (
        ("pressure", "pressure", lambda p: p.point.pressure),
        ("flow, as air at 1.2 kg/m³", "flow", lambda p: p.point.flow),
        ("air, as free air", "flow", lambda p: p.air_rate),
        ("speed in the holes", "speed", lambda p: p.hole_velocity),
        ("foam", "foam_rate", lambda p: p.foam_rate),
        ("air to solution", "", lambda p: p.air_to_solution),
        ("margin to shut-off", "pressure", lambda p: p.point.margin),
    ):
        here = _cell(built, pick, quantity, system)
        there = "" if after is None else _cell(after, pick, quantity, system, "→ ")
        if here == DASH and there in {"", DASH}:
            continue
        rows.append([label, here, there, _moved(answer, label, quantity, system)])
    rows.append(["stays there", _stays(built), "" if after is None else f"→ {_stays(after)}", ""])
    return rows


def _cell(prediction: Prediction, pick: Any, quantity: str, system: str, before: str = "") -> Node:
    if isinstance(prediction.point, NoCrossing):
        return DASH
    estimate = pick(prediction)
    return DASH if estimate is None or not estimate.known else _said(estimate, quantity, system, before)


def _said(estimate: Estimate, quantity: str, system: str, before: str = "") -> Node:
    """A figure with its unit, and its interval on a line of its own."""
    return _two_lines(show_estimate_in(estimate, unit_of(quantity, system) if quantity else RATIO), before)


def _two_lines(shown: Shown, before: str = "") -> Node:
    value = node("b", f"{before}{shown.value_and_unit}")
    return node("span", value, node("small", shown.under), class_="two-lines")


def _moved(answer: Evaluation, label: str, quantity: str, system: str) -> Node:
    if answer.change is None:
        return ""
    change = {"pressure": answer.change.pressure_change, "flow, as air at 1.2 kg/m³": answer.change.flow_change}.get(
        label
    )
    return "" if change is None else _two_lines(show_difference(change, unit_of(quantity, system)))


def _stays(prediction: Prediction) -> str:
    if isinstance(prediction.point, NoCrossing):
        return "they do not meet"
    return {"stable": "yes", "may hunt": "it may hunt", "unstable": "no"}[prediction.point.stability]


def element_rows(answer: Evaluation, system: str) -> list[list[Node]]:
    """Rows of element, pressure, share: as built, and what if."""
    built = {share.key: share for share in answer.built.shares} if answer.built is not None else {}
    after = {share.key: share for share in answer.change.after.shares} if answer.change is not None else {}
    labels = {share.key: share.label for share in (*after.values(), *built.values())}
    rows: list[list[Node]] = []
    for key, label in labels.items():
        there: Node = _part(after[key], system, "→ ") if key in after else "→ gone" if after else ""
        rows.append([label, _part(built[key], system) if key in built else DASH, there])
    return rows


def _part(share: Share, system: str, before: str = "") -> Node:
    if share.pressure.value < NOTHING_MUCH:
        return f"{before}nothing"
    shown = show_estimate(share.pressure, "pressure", system)
    value = node("b", f"{before}{rounded(100 * share.share, 0)} %")
    return node("span", value, node("small", f"{shown.value} {shown.unit}, {shown.under}"), class_="two-lines")


def _put(texts: dict[str, str], key: str, shown: Shown) -> None:
    texts[key], texts[f"{key}-unit"], texts[f"{key}-under"] = shown.value, shown.unit, shown.under
