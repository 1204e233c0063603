"""Block of the notebook page with the plan as a form: reference build, targets, parts that may be changed, undo.

The typed texts are settings of the viewer until they are saved, so that a reload loses none; see ``trials.plan_edit``
for the entries.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from frothline.bench.library import OWN, FolderView
from frothline.generator.entry_words import entry_words, spoken
from frothline.rounding import counted
from frothline.trials.figures import BY_NAME
from frothline.trials.plan_edit import MOST_ROWS, in_reader_units, kinds_of, plan_problems, rows_of, sized_entries
from frothline.web import form_fields
from frothline.web.elements import Node, button, node
from frothline.web.pages.notebook import labels

NOTHING = "–"
Wishes = Mapping[str, tuple[str, ...]]


class MakesField(Protocol):
    """Makes the form field of an entry of the plan."""

    def __call__(self, name: str, label: str, **more: Any) -> Node: ...


def setting_of(seen: FolderView, name: str) -> str:
    """The viewer setting with the text typed in an entry; a saved plan begins with other ones."""
    return f"plan-{seen.plan_stamp}-{name}"


def typed_texts(seen: FolderView, wish: Wishes) -> dict[str, str]:
    """The entries of the plan with the texts typed since it was saved."""
    prefix = setting_of(seen, "")
    typed = {name: next(iter(values), "") for name, values in wish.items() if name.startswith(prefix)}
    return {**seen.plan_texts, **{name.removeprefix(prefix): text for name, text in typed.items()}}


def plan_state(seen: FolderView) -> str:
    """How much is in the plan, for its heading."""
    if seen.plan_problem:
        return labels.UNREADABLE
    if seen.plan is None:
        return labels.NONE_YET if seen.ready else ""
    targets, parts = counted(len(seen.plan.wishes), "target"), counted(len(seen.plan.factors), "part")
    return f"{targets}, {parts}"


def plan_form(seen: FolderView, wish: Wishes, system: str = "metric") -> list[Node | None]:
    """The plan as a form; ``system`` is that of numbers without a unit."""
    if not seen.ready:
        return []
    if seen.place != OWN:
        return [node("p", labels.NOT_OWN)]
    undo = button(labels.UNDO, "notebook:undo-plan", look="") if seen.plan_before else None
    if not seen.builds:
        return [
            node("p", labels.NO_BUILD, " ", node("a", labels.GENERATOR, href="/generator", data_page="generator")),
            undo,
        ]
    saved, typed = seen.plan_texts, typed_texts(seen, wish)
    changed = any(typed.get(name, "").strip() != saved.get(name, "").strip() for name in {*typed, *saved})
    wrong = plan_problems(in_reader_units(typed, system), seen.builds) if changed else {}

    kinds = kinds_of(typed)

    def field(name: str, label: str, **more: Any) -> Node:
        problem, odd = wrong.get(name, ""), typed.get(name, "").strip() != saved.get(name, "").strip()
        return form_fields.entry(
            f"plan-{seen.plan_stamp}",
            name,
            label,
            value=typed.get(name, ""),
            note=problem or (labels.NOT_SAVED if odd else ""),
            look="wrong" if problem else "changed" if odd else "",
            wish=setting_of(seen, name),
            measure=(kinds[name], system) if name in kinds and not name.startswith("between") else None,
            **more,
        )

    return [
        node("p", labels.PLAN_ABOUT, class_="small"),
        node(
            "div",
            node(
                "div",
                field("reference", labels.REFERENCE, choices=_references(seen, typed)),
                field(
                    "batches",
                    labels.BATCHES,
                    example="1",
                    mode=form_fields.keyboard("count"),
                ),
                class_="entries two-wide",
            ),
            *_targets(typed, field),
            *_parts(seen, typed, field, system),
            node(
                "div",
                button(labels.SAVE_PLAN, "notebook:plan", look="main", disabled=not changed),
                undo,
                class_="choice",
            ),
            class_="plan-form",
            data_form="plan",
            id=f"plan-{seen.plan_stamp}",
        ),
    ]


def _references(seen: FolderView, typed: Mapping[str, str]) -> list[tuple[str, str]]:
    chosen = typed.get("reference", "")
    missing = [(chosen, labels.missing(chosen))] if chosen and chosen not in seen.builds else []
    return [("", NOTHING), *missing, *((file, build.name or file) for file, build in seen.builds.items())]


def _targets(typed: Mapping[str, str], field: MakesField) -> list[Node]:
    figures = [("", NOTHING), *((name, one.label) for name, one in BY_NAME.items() if name != "water_temperature")]
    rows: list[Node] = [node("h3", labels.TARGETS)]
    for n in range(1, rows_of(typed, "figure") + 1):
        name = typed.get(f"figure-{n}", "")
        inside = [field(f"figure-{n}", labels.target_number(n), choices=figures)]
        if name in BY_NAME:
            example = labels.TIME_EXAMPLE if BY_NAME[name].quantity == "time" else ""
            inside += [field(f"least-{n}", labels.AT_LEAST, example=example), field(f"most-{n}", labels.AT_MOST)]
        rows.append(node("div", *inside, class_="entries plan-row"))
    return rows


def _parts(seen: FolderView, typed: Mapping[str, str], field: MakesField, system: str) -> list[Node]:
    build = seen.builds.get(typed.get("reference", "")) or next(iter(seen.builds.values()))
    named = sized_entries(build)
    named += [one for n in range(1, MOST_ROWS + 1) if (one := typed.get(f"part-{n}", "")) and one not in named]
    parts = [("", NOTHING), *((path, spoken(path)) for path in named)]
    rows: list[Node] = [node("h3", labels.PARTS)]
    for n in range(1, rows_of(typed, "part") + 1):
        path = typed.get(f"part-{n}", "")
        inside = [field(f"part-{n}", labels.part_number(n), choices=parts)]
        if path in sized_entries(build):
            part, _, name = path.partition(".")
            now = entry_words(path, getattr(getattr(build, part), name), system)
            inside += [
                field(f"low-{n}", labels.SMALLEST, example=now, hint=labels.size_now(now)),
                field(f"high-{n}", labels.LARGEST),
                field(f"between-{n}", labels.BETWEEN, hint=labels.BETWEEN_HINT),
            ]
        elif path:
            inside += [field(f"low-{n}", labels.SMALLEST), field(f"high-{n}", labels.LARGEST)]
        rows.append(node("div", *inside, class_="entries plan-row"))
    return rows
