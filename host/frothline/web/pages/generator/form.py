"""Forms of the generator page: build sheet, air source, sweeps and size search."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from frothline.bench.chosen_sweeps import LIVE_SOURCE, NOTHING
from frothline.bench.workspace_state import WorkspaceState
from frothline.formatting import RATIO, unit_of
from frothline.generator.build import PARTS, entries
from frothline.generator.entry_words import in_reader_unit
from frothline.generator.prediction import unmeasured
from frothline.generator.sheet_form import entry_kind
from frothline.label_case import label_case
from frothline.quantities import also_in
from frothline.rounding import counted
from frothline.units import entry_unit
from frothline.web import form_fields
from frothline.web.elements import Node, button, node
from frothline.web.pages.generator import labels
from frothline.web.pages.generator.labels import (
    BRIEF,
    CHANGE_WORDS,
    DESK,
    FORM,
    SIZE,
    TITLES,
    WANTED_WORDS,
    as_words,
    example,
    figure_with_interval,
    name_of,
    sentences,
)


def sheet_block(desk: WorkspaceState, system: str = "metric") -> list[Node | None]:
    """The form of the build sheet: a group for each part in the order of the air, every entry with its problem.

    The page shows one open group at a time. The head of a group has its values, and says that it has a problem or was
    changed.
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
    trouble = node("p", sentences(loose), class_="trouble") if loose else None
    groups = [_group(desk, key, wrong, odd, system) for key in PARTS]
    return [trouble, node("div", *groups, data_form="sheet", data_change="sheet:edit")]


def _group(desk: WorkspaceState, part: str, wrong: Mapping[str, list[str]], odd: set[str], system: str) -> Node:
    fields = [_entry(desk, part, item, wrong, odd, system) for item in entries(part) if _belongs(desk, part, item)]
    title, about = TITLES[part]
    marks, look = [], ""
    if changed := sum(path.startswith(f"{part}.") for path in desk.altered):
        marks, look = [counted(changed, "change")], "changed"
    if bad := sum(path.startswith(f"{part}.") for path in wrong):
        marks.insert(0, counted(bad, "problem"))
        look = "odd" if all(path in odd for path in wrong if path.startswith(f"{part}.")) else "wrong"
    brief = ", ".join(filter(None, (_brief(desk, f"{part}.{name}", system) for name in BRIEF[part])))
    head = node(
        "summary",
        node("b", label_case(title)),
        node("span", brief, class_="brief"),
        node("span", ", ".join(marks), class_="marks") if marks else None,
    )
    inside = node("div", *fields, class_="entries", role="group", aria_label=f"{title}, {about}")
    return node("details", head, inside, class_="drawer", id=f"part-{part}", data_is=look)


def _brief(desk: WorkspaceState, path: str, system: str) -> str:
    """An entry next to the name of its group: as typed, or in the reader's unit."""
    typed = desk.values.get(path, "")
    kind = entry_kind(path)
    return (also_in(typed, kind, system).removeprefix("= ") if kind else "") or typed


def _entry(
    desk: WorkspaceState, part: str, item: Any, wrong: Mapping[str, list[str]], odd: set[str], system: str
) -> Node:
    path, about = f"{part}.{item.name}", item.metadata
    value = desk.values.get(path, "")
    same = "" if path in wrong and path not in odd else in_reader_unit(path, value, system)
    notes = [*([same] if same else []), *wrong.get(path, [])]
    if path in desk.altered:
        was = getattr(getattr(desk.built, part), item.name)
        notes.append(labels.was_built(as_words(path, was, system)))
    look = ("odd" if path in odd else "wrong") if path in wrong else "changed" if path in desk.altered else ""
    return form_fields.entry(
        FORM,
        path,
        name_of(about, item.name),
        value=value,
        choices=_words_for(about["words"], desk.values.get(path, "")) if about["kind"] == "word" else None,
        example=example(about["kind"], system),
        unit=entry_unit(figure, system).symbol if (figure := entry_kind(path)) else "",
        hint=str(about["about"]) if about["hinted"] else "",
        note=" ".join(notes),
        look=look,
        mode=form_fields.keyboard(about["kind"]),
    )


def _words_for(known: Sequence[str], value: str) -> list[tuple[str, str]]:
    """The allowed words of an entry, and the present text if it is not allowed."""
    odd = [(value, value)] if value and value not in known else []
    return [("", "default"), *((word, word) for word in known), *odd]


def _belongs(desk: WorkspaceState, part: str, item: Any) -> bool:
    """Whether an entry has an effect in this build or is written in the sheet."""
    path, only = f"{part}.{item.name}", item.metadata["only"]
    if only is None or path in desk.values or path in desk.altered:
        return True
    other, values = only
    default = next(one.default for one in entries(part) if one.name == other)
    return desk.values.get(f"{part}.{other}", default) in values


def briefs(desk: WorkspaceState) -> tuple[dict[str, str], dict[str, str]]:
    """``(texts, states)`` of the heads of the closed parts: which source, which build, which sweeps, which force."""
    names = {LIVE_SOURCE: labels.LATEST_SWEEP} | {item.path: item.words for item in desk.recorded}
    other = desk.chosen["new_source"]
    source = names.get(desk.chosen["source"], "")
    sweeps = [kind for kind in ("dry", "wet") if desk.chosen[kind]]
    texts = {
        "source-brief": labels.compared_with(source, names.get(other, other)) if other else source,
        "keep-brief": labels.UNSAVED if desk.altered else desk.file.removesuffix(".toml") or labels.NOT_SAVED,
        "measured-brief": labels.sweeps_measured(sweeps) if sweeps else labels.NOT_MEASURED,
    }
    trouble = {"source-brief": ("source", "new_source"), "keep-brief": ("open",), "measured-brief": ("dry", "wet")}
    states = {key: "wrong" if any(one in desk.trouble for one in names) else "" for key, names in trouble.items()}
    if desk.altered and not states["keep-brief"]:
        states["keep-brief"] = "changed"
    for key, look in states.items():
        if look == "wrong":
            texts[key] = labels.ONE_PROBLEM
    return texts, states


def keep_block(desk: WorkspaceState) -> list[Node | None]:
    """The block that saves the sheet and opens another one."""
    chosen = desk.file if desk.leaving is None else desk.leaving
    files = [(NOTHING, labels.NEW_BUILD), *((name, name.removesuffix(".toml")) for name in desk.files)]
    save = node(
        "div",
        form_fields.entry("keep", "name", labels.BUILD_NAME, value=desk.name),
        button(labels.SAVE_BUILD, "sheet:save", look=""),
        button(labels.PLAN_TRIAL, "sheet:plan", look=""),
        data_form="keep",
        class_="inline",
    )
    opened = node(
        "div",
        form_fields.entry(
            "open",
            "file",
            labels.OPEN_BUILD,
            choices=files,
            value=chosen,
            hint=labels.builds_in(desk.sheets),
            note=desk.trouble.get("open", ""),
            look="wrong" if "open" in desk.trouble else "",
        ),
        button(labels.OPEN, "sheet:open", look=""),
        data_form="open",
        class_="inline",
    )
    received = [_received(desk)] if desk.received else []
    if desk.leaving is None:
        return [save, opened, *received]
    question = node(
        "div",
        node("p", labels.LEAVE, role="alert"),
        button(labels.LEAVE_AND_OPEN, "sheet:open:leave", look=""),
        button(labels.CANCEL, "sheet:stay", look=""),
        data_form="open",
        class_="inline question",
    )
    return [save, opened, question, *received]


def _received(desk: WorkspaceState) -> Node:
    """The form that makes a build sheet of a generator that another builder passed on."""
    return node(
        "div",
        form_fields.entry("received", "received", labels.RECEIVED, choices=[(one, one) for one in desk.received]),
        form_fields.entry("received", "name", labels.RECEIVED_NAME, hint=labels.NAME_KEPT),
        button(labels.OWN, "sheet:own", look=""),
        node("p", labels.RECEIVED_ABOUT, class_="small"),
        data_form="received",
        class_="inline",
    )


def source_block(desk: WorkspaceState) -> list[Node | None]:
    """The choice of the air source, and of another one to try."""
    recorded = [(item.path, item.words) for item in desk.recorded if item.of_source]
    fields = (
        (
            "source",
            labels.SOURCE_ENTRY,
            [(LIVE_SOURCE, labels.LATEST_SWEEP), *recorded],
            labels.SOURCE_HINT,
        ),
        ("new_source", labels.OTHER_ENTRY, [(NOTHING, labels.SAME_SOURCE), *recorded], labels.OTHER_HINT),
    )
    return [_choices(desk, fields)]


def measured_block(desk: WorkspaceState, *, replay: bool = False) -> list[Node | None]:
    """The recordings of this generator, dry and wet, to which its model is scaled, or how to make them."""
    fields = [
        (
            kind,
            labels.measured(kind),
            [
                (NOTHING, labels.NOT_MEASURED),
                *([(LIVE_SOURCE, labels.LATEST_SWEEP)] if kind in desk.swept else []),
                *((item.path, item.words) for item in desk.recorded if item.through in {kind, "file"} or not item.kind),
            ],
            hint,
        )
        for kind, hint in labels.SWEEP_HINTS.items()
    ]
    chosen = desk.chosen["dry"] or desk.chosen["wet"]
    answer = desk.answer
    how = labels.HOW_TO_MEASURE_IN_REPLAY if replay else labels.HOW_TO_MEASURE
    words = ""
    if answer is not None and answer.scaling is not None:
        words = sentences(answer.scaling.words)
    elif answer is not None and answer.generator is not None and not chosen:
        words = sentences((*unmeasured(answer.generator), how))
    return [
        _choices(desk, fields),
        node("p", words or (labels.CALCULATING if chosen and desk.working else how), class_="small"),
        _pass_on(desk) if chosen else None,
    ]


def _pass_on(desk: WorkspaceState) -> Node:
    """The form that saves the measured generator as one file."""
    return node(
        "div",
        node("h3", labels.HAND_ON),
        node("p", labels.HAND_ON_ABOUT, class_="small"),
        node(
            "div",
            form_fields.entry("pass-on", "name", labels.GENERATOR_NAME, value=desk.name),
            button(labels.SAVE_GENERATOR, "sheet:pass-on", look=""),
            class_="inline",
        ),
        data_form="pass-on",
    )


def _choices(desk: WorkspaceState, fields: Sequence[tuple[str, str, Any, str]]) -> Node:
    return node(
        "div",
        *(
            form_fields.entry(
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


def size_block(desk: WorkspaceState, system: str) -> list[Node | None]:
    """The size search and its results, each with a button that puts it into the form."""
    form = node(
        "div",
        form_fields.entry(SIZE, "change", labels.PART, choices=CHANGE_WORDS, value=CHANGE_WORDS[0][0]),
        form_fields.entry(SIZE, "wanted", labels.BRINGS, choices=WANTED_WORDS, value="pressure"),
        form_fields.entry(
            SIZE,
            "value",
            labels.TO,
            hint=labels.target_units(unit_of("pressure", system).symbol, unit_of("flow", system).symbol),
        ),
        button(labels.FIND, f"sheet:search:{system}", look=""),
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
            node("span", node("b", choice.words), labels.GIVES, figure_with_interval(choice.reached, kind, system)),
            node("span", labels.AS_BUILT)
            if choice.prediction.build == here
            else button(labels.TRY, f"sheet:try:{number}"),
        )
        for number, choice in enumerate(found.choices)
    ]
    unit = unit_of(kind, system) if kind else RATIO
    low, high = (f"{unit.from_si(end):.3g}" for end in found.range)
    reach = labels.sizes_reach(low, high, unit.symbol)
    words = sentences(found.words) or labels.TARGET_INSIDE
    return [form, node("p", f"{words} {reach}", role="status"), node("ul", *items, class_="sizes")]
